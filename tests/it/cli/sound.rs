//! Tones through stand-in players: what they are given, and what becomes of a run whose player
//! fails, hangs or is missing.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs;
use std::os::unix::fs::{PermissionsExt as _, symlink};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};
use std::time::Instant;

use steadyohm::bench::LeadFault;
use tempfile::TempDir;

use super::driver::Scene;
use super::program::Program;
use super::stage::Late;
use super::{LIMIT, event, of_event, ran, steadyohm};

/// A player that keeps what it is given and notes its name.
pub(super) const KEEPS: &str = r#"for last; do :; done
name=${last##*/}
cp "$last" "$KEPT/$name"
echo "${name%.wav}" >> "$KEPT/order""#;

/// Stand-ins for a system's players, alone on the path but for what they need themselves.
#[derive(Debug)]
pub(super) struct StandIn {
    folder: TempDir,
}

impl StandIn {
    /// With these names and what each does.
    pub(super) fn new(players: &[(&str, &str)]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        for needed in ["cp", "head", "sleep"] {
            let there = std::env::split_paths(&std::env::var_os("PATH").unwrap())
                .map(|folder| folder.join(needed))
                .find(|program| program.exists())
                .unwrap();
            symlink(there, folder.path().join(needed)).unwrap();
        }
        let kept = folder.path().join("kept");
        fs::create_dir(&kept).unwrap();
        for (name, does) in players {
            let program = folder.path().join(name);
            let text = format!("#!/bin/sh\nKEPT='{}'\n{does}\n", kept.display());
            fs::write(&program, text).unwrap();
            fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).unwrap();
        }
        Self { folder }
    }

    pub(super) fn path(&self) -> OsString {
        self.folder.path().into()
    }

    fn kept(&self, name: &str) -> PathBuf {
        self.folder.path().join("kept").join(name)
    }

    /// What was played, in order.
    pub(super) fn played(&self) -> Vec<String> {
        self.lines("order")
    }

    fn lines(&self, name: &str) -> Vec<String> {
        let text = fs::read_to_string(self.kept(name)).unwrap_or_default();
        text.lines().map(str::to_owned).collect()
    }

    /// Whether any process that noted itself is still there.
    fn is_left_behind(&self) -> bool {
        self.lines("processes").iter().any(|process| {
            let asked = std::process::Command::new("sh")
                .args(["-c", &format!("kill -0 {process} 2>/dev/null")])
                .status();
            asked.unwrap().success()
        })
    }

    fn scene(&self, fault: LeadFault) -> Scene {
        Scene {
            path: Some(self.path()),
            ..Scene::new(fault).with("--sound tones")
        }
    }
}

/// How often each tune was played.
fn tally(played: &[String]) -> BTreeMap<&str, usize> {
    let mut tally = BTreeMap::new();
    for name in played {
        *tally.entry(name.as_str()).or_default() += 1;
    }
    tally
}

#[test]
fn each_cue_of_a_run_has_its_tune() {
    let player = StandIn::new(&[("pw-play", KEEPS)]);
    let scene = player
        .scene(LeadFault::OpensWhenFlexed(0))
        .with("--tick 0.4s");
    let mut most = 0;
    let run = scene.go_with(|line, _, program| {
        if event(line) == "tick" {
            most = program.children().1.max(most);
        }
    });
    assert_eq!(run.complaint, "");
    assert!(
        most <= 1,
        "players that have ended are reaped, {most} were not"
    );
    let played = player.played();
    let tally = tally(&played);
    let told = |event| of_event(&run.lines, event).len();
    assert_eq!(
        played.first().map(String::as_str),
        Some("ask"),
        "{played:?}"
    );
    // The verdict is heard to its end, and is the last.
    assert_eq!(run.verdict()["verdict"], "fail");
    assert_eq!(
        played.last().map(String::as_str),
        Some("fail"),
        "{played:?}"
    );
    assert_eq!(tally["fail"], 1);
    assert!((1..=told("break")).contains(&tally["break"]), "{tally:?}");
    assert!(tally["ask"] <= told("step"), "{tally:?}");
    assert!(tally["step-done"] <= told("step_done"), "{tally:?}");
    // A tick that would come late is let go; most come in time.
    let ticks = told("tick");
    assert!(
        (ticks / 2..=ticks).contains(&tally["tick"]),
        "{tally:?} of {ticks}"
    );
    // Reference: hound reads them.
    let mut lengths = BTreeMap::new();
    for name in tally.keys() {
        let mut reader = hound::WavReader::open(player.kept(&format!("{name}.wav"))).unwrap();
        let spec = reader.spec();
        assert_eq!((spec.channels, spec.bits_per_sample), (1, 16), "{name}");
        assert_eq!(spec.sample_rate, 44_100, "{name}");
        let samples: Vec<i16> = reader.samples().map(Result::unwrap).collect();
        assert!(samples.iter().any(|sample| sample.unsigned_abs() > 10_000));
        lengths.insert(*name, samples.len());
    }
    assert!(lengths["tick"] < lengths["break"] && lengths["break"] < lengths["fail"]);
}

/// The tunes are in a folder of the run's own, and it is gone when the run is.
#[test]
fn nothing_is_left_of_the_tunes() {
    let player = StandIn::new(&[(
        "paplay",
        &format!("{KEEPS}\necho \"$last\" >> \"$KEPT/full\""),
    )]);
    let run = player.scene(LeadFault::Short(0, 1)).go();
    assert_eq!(run.verdict()["verdict"], "fail");
    let full = player.lines("full");
    assert!(!full.is_empty());
    for file in full {
        let folder = PathBuf::from(&file).parent().unwrap().to_owned();
        assert!(!folder.exists(), "{file}");
    }
}

#[test]
fn a_player_that_fails_gives_way_to_the_next() {
    let player = StandIn::new(&[
        ("pw-play", "echo failed >> \"$KEPT/tried\"; exit 1"),
        ("play", KEEPS),
    ]);
    let run = player.scene(LeadFault::Short(0, 1)).go();
    assert_eq!(run.complaint, "");
    assert_eq!(player.lines("tried").len(), 1, "it is not tried again");
    // What the first did not play, the second did.
    let played = player.played();
    assert_eq!(played.first().map(String::as_str), Some("ask"));
    assert_eq!(played.last().map(String::as_str), Some("fail"));
}

#[test]
fn when_every_player_fails_it_is_told_once() {
    let player = StandIn::new(&[("paplay", "exit 7"), ("aplay", "kill -9 $$")]);
    let run = player.scene(LeadFault::Short(0, 1)).go();
    assert_eq!(run.verdict()["verdict"], "fail");
    assert_eq!(
        run.complaint,
        "steadyohm: tones cannot be played: paplay: exit status: 7; aplay: signal: 9 (SIGKILL); \
         nothing is heard instead, since there is no terminal to ring\n"
    );
}

#[test]
fn a_player_that_hangs_holds_nothing_up() {
    let player = StandIn::new(&[("aplay", "echo $$ >> \"$KEPT/processes\"; exec sleep 600")]);
    let run = player.scene(LeadFault::Short(0, 1)).go();
    assert_eq!(run.verdict()["verdict"], "fail");
    assert!(
        run.complaint.contains("aplay: it does not end"),
        "{}",
        run.complaint
    );
    assert_eq!(run.complaint.lines().count(), 1, "{}", run.complaint);
    // One at a time, and none is left.
    assert_eq!(player.lines("processes").len(), 1);
    assert!(!player.is_left_behind());
}

#[test]
fn a_missing_player_is_told_to_who_asked_for_tones() {
    let player = StandIn::new(&[]);
    let run = player.scene(LeadFault::Short(0, 1)).go();
    assert_eq!(run.verdict()["verdict"], "fail");
    assert_eq!(
        run.complaint,
        "steadyohm: tones cannot be played: no player is on this system's PATH (one of pw-play, \
         paplay, afplay, aplay, play); nothing is heard instead, since there is no terminal to \
         ring\n"
    );
}

#[test]
fn nothing_is_played_where_nothing_is_to_be_heard() {
    // Without a terminal, auto plays nothing either.
    let heard = ["--quiet", "--sound off", "--sound bell", "--sound auto"];
    let playing = heard.map(|heard| {
        let player = StandIn::new(&[("pw-play", KEEPS), ("aplay", KEEPS), ("pacat", KEEPS)]);
        let scene = Scene {
            path: Some(player.path()),
            ..Scene::new(LeadFault::Short(0, 1)).with(heard)
        };
        (heard, player, Late::begin(scene))
    });
    for (heard, player, run) in &playing {
        assert_eq!(run.get().complaint, "", "{heard}");
        assert_eq!(player.played(), [""; 0], "{heard}");
    }
}

#[test]
fn quiet_and_loud_at_once_are_refused() {
    for loud in ["--sound=tones", "--continuity-tone"] {
        let ran = ran(&["lead", "--quiet", loud]);
        assert_eq!(ran.status, Some(2), "{ran:?}");
        assert!(ran.complaint.contains("--quiet"), "{ran:?}");
    }
}

/// A player of samples: keeps the first tenth of a second, then hangs; whoever reads the pipe
/// sees it come and go.
const STREAMS: &str = r#"exec 9> "$KEPT/alive"
echo "$*" > "$KEPT/arguments"
echo $$ >> "$KEPT/processes"
head -c 8820 > "$KEPT/samples"
echo ready >&9
exec sleep 600"#;

/// What a player of samples is seen to do: true when it is ready, false when it has gone.
fn watched(player: &StandIn) -> Receiver<bool> {
    use std::io::{BufRead as _, BufReader};
    let alive = player.kept("alive");
    let made = std::process::Command::new("mkfifo").arg(&alive).status();
    assert!(made.unwrap().success());
    let (tell, told) = channel();
    std::thread::spawn(move || {
        // Each opening waits for a player, each reading for its end.
        while let Ok(pipe) = fs::OpenOptions::new().read(true).open(&alive) {
            for _ready in BufReader::new(pipe).lines().map_while(Result::ok) {
                if tell.send(true).is_err() {
                    return;
                }
            }
            if tell.send(false).is_err() {
                return;
            }
        }
    });
    told
}

fn humming(player: &StandIn) -> (Program, TempDir) {
    let home = tempfile::tempdir().unwrap();
    let mut command = steadyohm(home.path());
    command.env("PATH", player.path());
    let line = "watch --json --readings --record off --protocol number-lines --from - \
                --continuity-tone --sound bell";
    command.args(line.split_whitespace());
    (Program::start(command), home)
}

#[tokio::test]
async fn the_continuity_tone_follows_the_reading() {
    let player = StandIn::new(&[("pacat", STREAMS)]);
    let seen = watched(&player);
    let next = || seen.recv_timeout(LIMIT).expect("it never came");
    let (program, _home) = humming(&player);
    let mut stops = Vec::new();
    for (closed, open) in [("0.5\n", "OL\n"), ("9.9\n", "10.1\n")] {
        program.feed(closed);
        assert!(next(), "it sounds");
        // Still closed: it goes on, with the same player.
        program.feed("1.5\n");
        let opened = Instant::now();
        program.feed(open);
        assert!(!next(), "it stops");
        stops.push(opened.elapsed());
    }
    // One open reading was enough each time; how long a stop takes is told by the quickest,
    // since the other may have waited for this machine.
    let quickest = stops.iter().min().unwrap();
    assert!(quickest.as_millis() < 100, "{stops:?}");
    program.feed("0.5\n");
    assert!(next(), "it sounds");
    let (status, complaint) = program.end();
    assert!(status.success(), "{status:?}");
    assert_eq!(complaint, "");
    assert!(!next(), "it ends with the run");
    assert_eq!(player.lines("processes").len(), 3);
    assert!(!player.is_left_behind());
    let arguments = fs::read_to_string(player.kept("arguments")).unwrap();
    assert!(
        arguments.contains("--format=s16le --rate=44100 --channels=1"),
        "{arguments}"
    );
    let bytes = fs::read(player.kept("samples")).unwrap();
    let samples: Vec<i16> = bytes
        .chunks_exact(2)
        .map(|pair| i16::from_le_bytes([pair[0], pair[1]]))
        .collect();
    assert_eq!(samples.len(), 4410);
    assert_eq!(samples[0], 0, "it swells up");
    // 587 Hz for a tenth of a second: 58 or 59 times upwards through zero.
    let risings = samples
        .windows(2)
        .filter(|pair| pair[0] <= 0 && pair[1] > 0);
    assert!((58..=60).contains(&risings.count()));
}

#[test]
fn a_continuity_tone_that_cannot_be_is_told() {
    let playing = [
        (
            &[("paplay", KEEPS)] as &[_],
            "no player that reads samples from its standard input is on this system's PATH (one \
             of pacat, aplay, play)",
        ),
        (
            &[("aplay", "exit 1"), ("play", "exit 2")],
            "no player plays (aplay: exit status: 1; play: exit status: 2)",
        ),
    ]
    .map(|(players, told)| {
        let player = StandIn::new(players);
        let scene = Scene {
            path: Some(player.path()),
            ..Scene::new(LeadFault::Short(0, 1)).with("--sound bell --continuity-tone=20")
        };
        (player, Late::begin(scene), told)
    });
    for (_, run, told) in &playing {
        let run = run.get();
        assert_eq!(run.verdict()["verdict"], "fail");
        assert_eq!(
            run.complaint,
            format!("steadyohm: no continuity tone: {told}\n")
        );
    }
}
