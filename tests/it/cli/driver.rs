//! The bench at the other end of the program's port: a simulated meter and an operator who
//! hears what the program says on standard output and presses Enter on its standard input.

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitStatus;
use std::sync::Arc;
use std::time::{Duration, Instant};

use serde_json::Value;
use steadyohm::bench::{
    Bench, BenchSettings, Crate, FlexHabit, Hands, Happening, Lead, LeadFault, MeterSettings,
    Method, Opening, OperatorStyle,
};
use steadyohm::protocol::{Ask, Protocol, encode, find};
use steadyohm::reading::{Measured, Seconds, Stamp};
use tempfile::TempDir;
use tokio::time::{sleep_until, timeout};

use super::hearing::notice;
use super::program::Program;
use super::wire::Wire;
use super::{LIMIT, SEGMENTS, event, json, steadyohm};

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
    /// Where the program finds other programs; none for where this one does.
    pub(super) path: Option<OsString>,
    /// The line is set to another speed than the meter's, so that its bytes make no sense.
    pub(super) wrong_speed: bool,
    /// What trials of meters have found before.
    pub(super) trials: Option<String>,
    /// The leads of a stock, taken up as they are asked for.
    pub(super) leads: Option<Crate>,
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
                piece: Lead {
                    habit: moment,
                    ..crate::simulated::lead_with(fault)
                }
                .into(),
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
            path: None,
            wrong_speed: false,
            trials: None,
            leads: None,
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

    /// Runs to the end, which takes so many seconds at most.
    pub(super) fn go_within(&self, seconds: u64) -> Finished {
        self.run_within(Duration::from_secs(seconds), |_, _, _| {})
    }

    /// Runs to the end; `meddle` sees each line before the operator hears it.
    pub(super) fn go_with(
        &self,
        meddle: impl FnMut(&Value, &mut AtBench, &Program),
    ) -> Finished {
        self.run_within(LIMIT, meddle)
    }

    fn run_within(
        &self,
        limit: Duration,
        meddle: impl FnMut(&Value, &mut AtBench, &Program),
    ) -> Finished {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(self.run(limit, meddle))
    }

    async fn run(
        &self,
        limit: Duration,
        mut meddle: impl FnMut(&Value, &mut AtBench, &Program),
    ) -> Finished {
        let home = tempfile::tempdir().unwrap();
        if let Some(trials) = &self.trials {
            let folder = home.path().join(".config/steadyohm");
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(folder.join("trials.toml"), trials).unwrap();
        }
        let mut wire = Wire::new(self.socket, home.path()).await;
        let mut command = steadyohm(home.path());
        command.args(self.command_line(&wire.place));
        if let Some(path) = &self.path {
            command.env("PATH", path);
        }
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
        timeout(limit, ran).await.expect("the run hangs")
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
        if event(line) == "lead"
            && let Some(leads) = &self.scene.leads
        {
            let number = usize::try_from(line["number"].as_u64().unwrap()).unwrap();
            self.bench
                .take_up(self.now(), leads.get(number - 1).unwrap().clone());
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
                        .map(|bit| (((*byte >> bit) & 1) * 3) << (2 * bit))
                        .sum();
                }
            }
            self.readings += 1;
            self.wire.send(&frame).await;
        }
    }
}
