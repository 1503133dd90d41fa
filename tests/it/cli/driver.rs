//! The bench at the other end of the program's port: a simulated meter and an operator who
//! hears what the program says on standard output and presses Enter on its standard input.

use std::ffi::OsString;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use serde_json::Value;
use steadyohm::bench::{
    Bench, BenchSettings, FlexHabit, Hands, Happening, Lead, LeadFault, MeterSettings, Method,
    Opening, OperatorStyle,
};
use steadyohm::check::notice::{
    CheckResult, Notice, Phase, Proof, StepBegins, StepName, StepResult, Tick, Verdict, Wants,
};
use steadyohm::protocol::{Ask, Protocol, encode, find};
use steadyohm::reading::{Measured, Seconds, Stamp};
use steadyohm::source::Pseudo;
use tempfile::TempDir;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio::time::{sleep_until, timeout};

use super::{LIMIT, SEGMENTS, event, json, steadyohm};

/// How long a frame may wait for the program to read.
const PATIENCE: Duration = Duration::from_secs(5);

/// A program under way.
#[derive(Debug)]
pub(super) struct Program {
    process: u32,
    input: Option<ChildStdin>,
    lines: mpsc::Receiver<String>,
    errors: Option<JoinHandle<String>>,
    ending: Option<JoinHandle<ExitStatus>>,
}

impl Program {
    pub(super) fn start(mut command: Command) -> Self {
        let mut child = command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (told, lines) = mpsc::channel(256);
        let output = child.stdout.take().unwrap();
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                if told.blocking_send(line).is_err() {
                    return;
                }
            }
        });
        let mut errors = child.stderr.take().unwrap();
        let errors = std::thread::spawn(move || {
            let mut text = String::new();
            errors.read_to_string(&mut text).unwrap();
            text
        });
        Self {
            process: child.id(),
            input: child.stdin.take(),
            lines,
            errors: Some(errors),
            ending: Some(waited_for(child)),
        }
    }

    /// The next line it says; none once it has ended.
    pub(super) async fn line(&mut self) -> Option<String> {
        timeout(LIMIT, self.lines.recv())
            .await
            .expect("the program hangs")
    }

    /// The operator presses Enter.
    pub(super) fn enter(&mut self) {
        if let Some(input) = &mut self.input {
            // A program that has just ended takes no more keys.
            drop(input.write_all(b"\n"));
        }
    }

    /// Sends it a signal: `INT`, `TERM`, `KILL`.
    pub(super) fn signal(&self, name: &str) {
        let sent = Command::new("sh")
            .args(["-c", &format!("kill -{name} {}", self.process)])
            .status();
        assert!(sent.unwrap().success());
    }

    /// How it ended and what it complained of, once it says no more.
    pub(super) fn end(mut self) -> (ExitStatus, String) {
        self.input = None;
        let status = self.ending.take().unwrap().join().unwrap();
        (status, self.errors.take().unwrap().join().unwrap())
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        if let Some(ending) = self.ending.take()
            && !ending.is_finished()
        {
            self.signal("KILL");
        }
    }
}

fn waited_for(mut child: Child) -> JoinHandle<ExitStatus> {
    std::thread::spawn(move || child.wait().unwrap())
}

/// What a run is made of.
#[derive(Debug, Clone)]
pub(super) struct Scene {
    pub(super) bench: BenchSettings,
    pub(super) protocol: Arc<Protocol>,
    /// What `--protocol` is given.
    pub(super) named: String,
    /// Whether the meter is on the network.
    pub(super) socket: bool,
    /// Arguments besides where, format and folder.
    pub(super) arguments: Vec<String>,
    /// Nothing is sent after so many readings.
    pub(super) falls_silent_after: Option<u32>,
    /// The line is set to another speed than the meter's, so that its bytes make no sense.
    pub(super) wrong_speed: bool,
}

impl Scene {
    /// A fast meter and quick hands on a lead with this fault.
    pub(super) fn new(fault: LeadFault) -> Self {
        let moment = FlexHabit {
            open_chance: 1.0,
            opening: Opening::Moment(Seconds(0.08)),
            chatter: 0,
        };
        Self {
            bench: BenchSettings {
                lead: Lead {
                    habit: moment,
                    ..Lead::with_fault(fault)
                },
                meter: MeterSettings::handheld(50.0),
                operator: OperatorStyle::Follows(Method::EndToEnd),
                hands: Hands {
                    pace: 0.1,
                    ..Hands::default()
                },
                seed: 7,
            },
            protocol: find(SEGMENTS).unwrap(),
            named: SEGMENTS.to_owned(),
            socket: false,
            arguments: words("lead --json --readings --tick 0.12s --wait 2s"),
            falls_silent_after: None,
            wrong_speed: false,
        }
    }

    /// The same by the far-end short.
    pub(super) fn by_loop(mut self) -> Self {
        self.bench.operator = OperatorStyle::Follows(Method::Loop);
        self.with("--method loop")
    }

    /// With more arguments; of an option given twice the last would be refused, so an earlier
    /// one is taken out.
    pub(super) fn with(mut self, more: &str) -> Self {
        for word in words(more) {
            if let Some(place) = self.arguments.iter().position(|known| *known == word) {
                self.arguments.drain(place..=place + 1);
            }
        }
        self.arguments.extend(words(more));
        self
    }

    /// With a bench meter that speaks when asked.
    pub(super) fn polled(mut self) -> Self {
        "scpi-polled".clone_into(&mut self.named);
        self.protocol = find("scpi-polled").unwrap();
        self.bench.meter = MeterSettings::text_interface(50.0);
        self.with("--range 100M")
    }

    /// Runs to the end.
    pub(super) fn go(&self) -> Finished {
        self.go_with(|_, _, _| {})
    }

    /// Runs to the end; `meddle` sees each line before the operator hears it.
    pub(super) fn go_with(
        &self,
        meddle: impl FnMut(&Value, &mut AtBench, &Program),
    ) -> Finished {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(self.run(meddle))
    }

    async fn run(&self, mut meddle: impl FnMut(&Value, &mut AtBench, &Program)) -> Finished {
        let home = tempfile::tempdir().unwrap();
        let mut wire = Wire::new(self.socket, home.path()).await;
        let mut command = steadyohm(home.path());
        command.args(self.command_line(&wire.place));
        let program = Program::start(command);
        wire.accept().await;
        let at_bench = AtBench {
            bench: Bench::new(&self.bench),
            scene: self.clone(),
            wire,
            began: Instant::now(),
            readings: 0,
        };
        let ran = at_bench.attend(program, home, &mut meddle);
        timeout(LIMIT, ran).await.expect("the run hangs")
    }

    /// The arguments, for a port at this place.
    fn command_line(&self, place: &str) -> Vec<OsString> {
        let given = self.arguments.iter().map(OsString::from);
        let more = ["--from", place, "--protocol", &self.named];
        let mut line: Vec<OsString> = given.chain(more.map(OsString::from)).collect();
        if !self.arguments.iter().any(|word| word == "--record") {
            line.extend(["--record".into(), "kept".into()]);
        }
        line
    }
}

pub(super) fn words(text: &str) -> Vec<String> {
    text.split_whitespace().map(str::to_owned).collect()
}

/// A run that is over.
#[derive(Debug)]
pub(super) struct Finished {
    pub(super) lines: Vec<Value>,
    pub(super) status: ExitStatus,
    pub(super) complaint: String,
    /// All that the program sent to the meter.
    pub(super) sent: Vec<u8>,
    pub(super) home: TempDir,
}

impl Finished {
    /// The verdict, which is always the last line.
    pub(super) fn verdict(&self) -> &Value {
        let last = self.lines.last().unwrap_or_else(|| panic!("{self:?}"));
        assert_eq!(event(last), "verdict", "{self:?}");
        last
    }

    /// The table of the only recording.
    pub(super) fn table(&self) -> PathBuf {
        let folder = self.home.path().join("kept");
        let mut tables = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|end| end == "csv"));
        let table = tables.next().unwrap();
        assert_eq!(tables.next(), None);
        table
    }
}

/// Everything at the other end of the program's port.
#[derive(Debug)]
pub(super) struct AtBench {
    pub(super) bench: Bench,
    pub(super) wire: Wire,
    scene: Scene,
    began: Instant,
    readings: u32,
}

impl AtBench {
    async fn attend(
        mut self,
        mut program: Program,
        home: TempDir,
        meddle: &mut impl FnMut(&Value, &mut Self, &Program),
    ) -> Finished {
        let mut lines = Vec::new();
        loop {
            let due = self.began + Duration::from_micros(self.bench.next_at().micros());
            tokio::select! {
                biased;
                said = program.line() => {
                    let Some(text) = said else { break };
                    let line = json(&text);
                    meddle(&line, &mut self, &program);
                    self.hear(&line);
                    lines.push(line);
                }
                () = self.wire.listen() => {}
                () = sleep_until(due.into()), if self.wire.open => {
                    for happening in self.bench.advance(self.now()) {
                        match happening {
                            Happening::Reading { measured, .. } => self.send(&measured).await,
                            Happening::Confirm { .. } => program.enter(),
                        }
                    }
                }
            }
        }
        let (status, complaint) = program.end();
        self.wire.listen_to_the_end(&self.scene.protocol).await;
        Finished {
            lines,
            status,
            complaint,
            sent: self.wire.heard,
            home,
        }
    }

    fn now(&self) -> Stamp {
        Stamp::from_micros(u64::try_from(self.began.elapsed().as_micros()).unwrap())
    }

    fn hear(&mut self, line: &Value) {
        if event(line) == "opened" {
            if !self.wire.open && self.readings == 0 {
                // Nothing old waits for the program: the bench begins when it listens.
                self.began = Instant::now();
            }
            self.wire.open = true;
        }
        if let Some(notice) = notice(line) {
            self.bench.hear(self.now(), &notice);
        }
    }

    async fn send(&mut self, measured: &Measured) {
        if matches!(self.scene.protocol.ask(), Ask::Request(_))
            && !std::mem::take(&mut self.wire.asked)
        {
            return;
        }
        let silent = self
            .scene
            .falls_silent_after
            .is_some_and(|most| self.readings >= most);
        if !silent && let Ok(mut frame) = encode(&self.scene.protocol, measured) {
            if self.scene.wrong_speed {
                // Read at twice the speed, each bit is seen twice; the first four come first.
                for byte in &mut frame {
                    *byte = (0..4)
                        .map(|bit| ((*byte >> bit & 1) * 3) << (2 * bit))
                        .sum();
                }
            }
            self.readings += 1;
            self.wire.send(&frame).await;
        }
    }
}

/// The meter's end of the port.
#[derive(Debug)]
pub(super) struct Wire {
    /// As `--from` takes it.
    place: String,
    end: End,
    /// Whether the program has it open.
    open: bool,
    heard: Vec<u8>,
    /// Whether a reading has been asked for.
    asked: bool,
}

#[derive(Debug)]
enum End {
    Pseudo(Pseudo),
    Listener(TcpListener),
    Socket(TcpStream),
    Gone,
}

impl Wire {
    async fn new(socket: bool, home: &Path) -> Self {
        let (end, place) = if socket {
            let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
            let place = format!("tcp://{}", listener.local_addr().unwrap());
            (End::Listener(listener), place)
        } else {
            // By a name that can be pointed at another port, as the system's names by-id are.
            let link = home.join("meter");
            let pseudo = Pseudo::new().unwrap();
            std::os::unix::fs::symlink(pseudo.path(), &link).unwrap();
            (End::Pseudo(pseudo), link.to_str().unwrap().to_owned())
        };
        Self {
            place,
            end,
            open: false,
            heard: Vec::new(),
            asked: false,
        }
    }

    async fn accept(&mut self) {
        if let End::Listener(listener) = &self.end {
            let accepted = timeout(LIMIT, listener.accept()).await;
            self.end = End::Socket(accepted.expect("nobody connects").unwrap().0);
        }
    }

    /// Pulls the plug.
    pub(super) fn pull(&mut self) {
        self.end = End::Gone;
        self.open = false;
    }

    /// Plugs in again: another port behind the same name.
    pub(super) fn plug_in(&mut self) {
        let pseudo = Pseudo::new().unwrap();
        let next = format!("{}.next", self.place);
        std::os::unix::fs::symlink(pseudo.path(), &next).unwrap();
        std::fs::rename(next, &self.place).unwrap();
        self.end = End::Pseudo(pseudo);
    }

    async fn send(&mut self, frame: &[u8]) {
        match &mut self.end {
            End::Pseudo(pseudo) => {
                // A program that has just ended reads no more.
                drop(pseudo.write(frame, PATIENCE).await);
            }
            End::Socket(stream) => drop(stream.write_all(frame).await),
            End::Listener(_) | End::Gone => {}
        }
    }

    /// Takes what the program sends; waits for ever where nothing can come.
    async fn listen(&mut self) {
        let mut chunk = vec![0; 512];
        let count = match &mut self.end {
            End::Pseudo(pseudo) => {
                chunk = pseudo.read().await.unwrap_or_default();
                chunk.len()
            }
            End::Socket(stream) => stream.read(&mut chunk).await.unwrap_or(0),
            End::Listener(_) | End::Gone => std::future::pending().await,
        };
        if count == 0 {
            self.end = End::Gone;
        }
        self.heard.extend_from_slice(&chunk[..count]);
        self.asked |= self.heard.ends_with(b"READ?\n");
    }

    /// Takes what the program sent in parting.
    async fn listen_to_the_end(&mut self, protocol: &Protocol) {
        let Ask::Request(request) = protocol.ask() else {
            return;
        };
        let Some(last) = request.at_close.last() else {
            return;
        };
        while !self.heard.ends_with(last) && !matches!(self.end, End::Gone) {
            timeout(PATIENCE, self.listen())
                .await
                .expect("no parting words");
        }
    }
}

/// A line as the operator hears it; none if there is nothing to do about it.
fn notice(line: &Value) -> Option<Notice> {
    let text = |key: &str| line[key].as_str().unwrap();
    let number = |key: &str| u32::try_from(line[key].as_u64().unwrap()).unwrap();
    Some(match event(line) {
        "step" => Notice::Step(StepBegins {
            step: step(text("step")),
            wants: match text("wants") {
                "closed" => Wants::Closed,
                "open" => Wants::Open,
                other => panic!("{other}"),
            },
            prompt: text("prompt").to_owned(),
        }),
        "phase" => Notice::Phase {
            step: step(text("step")),
            phase: phase(text("phase")),
        },
        "tick" => Notice::Tick(Tick {
            step: step(text("step")),
            flex: number("flex"),
            of: number("of"),
        }),
        "step_done" => Notice::StepDone(StepResult {
            step: step(text("step")),
            verdict: Verdict::Retest,
            ohms: None,
            proof: Proof::Seen,
            coverage: 0.0,
            reasons: Vec::new(),
        }),
        "verdict" => Notice::Verdict(CheckResult {
            check: "lead",
            verdict: Verdict::Retest,
            reasons: Vec::new(),
            steps: Vec::new(),
            blind_spot: None,
            meter_heard: true,
        }),
        _ => return None,
    })
}

fn step(word: &str) -> StepName {
    ["tare", "probes", "tip", "sleeve", "loop", "isolation"]
        .into_iter()
        .find(|known| *known == word)
        .unwrap_or_else(|| panic!("{word} is no step"))
}

fn phase(word: &str) -> Phase {
    [
        Phase::Waiting,
        Phase::Settling,
        Phase::Still,
        Phase::Flexing,
        Phase::Lifting,
        Phase::Confirm,
    ]
    .into_iter()
    .find(|known| known.word() == word)
    .unwrap_or_else(|| panic!("{word} is no phase"))
}
