//! The options of every command that reads a meter, and the live run they mean.
#![expect(clippy::disallowed_methods, reason = "a run's clock starts here")]

mod line;

pub(super) use line::LineArguments;

use std::io::{self, IsTerminal as _};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use clap::Args;

use crate::check::Check;
use crate::check::meter::{MeterFacts, Tried};
use crate::cli::hearing::HearingArguments;
use crate::cli::keep::KeepArguments;
use crate::cli::status::Failure;
use crate::cli::{formats, identify, input, keep, ports, replay, trials};
use crate::protocol::Protocol;
use crate::reading::{Ohms, Seconds};
use crate::record::{CheckKept, MeterKept, Sidecar};
use crate::run::{self, Companion, Form, Keeping, Plan, Recorder, Voice};
use crate::session::{Outcome, Setup};
use crate::signal::Accuracies;
use crate::source::{self, LinkSettings, Where};

const FROM: &str = "Where the bytes come from: serial:/dev/ttyUSB0, a bare device path, \
usbtmc:/dev/usbtmc0, tcp://HOST:PORT, - for standard input, or a recording's path. Without it \
the only candidate port is used";

/// Where the readings come from.
#[derive(Debug, Args)]
#[command(next_help_heading = "Meter")]
pub(super) struct MeterArguments {
    /// Where the bytes come from; without it, the only candidate port.
    #[arg(long, value_name = "WHERE", help = FROM)]
    pub(super) from: Option<Where>,
    /// The meter's format: an ID of `steadyohm protocols`, or a TOML file of your own; without
    /// it the meter is listened to until its format is known.
    #[arg(long, value_name = "ID|FILE")]
    pub(super) protocol: Option<String>,
    /// Without --protocol: only listen, send nothing to a silent meter.
    #[arg(long, conflicts_with = "protocol")]
    pub(super) no_ask: bool,
    /// The ohms range the meter is set to, where its frames do not tell: 4k, 40M.
    #[arg(long, value_name = "OHMS", value_parser = input::ohms)]
    pub(super) range: Option<Ohms>,
    /// How long the meter may be unusable before the check ends in retest.
    #[arg(long, value_name = "TIME", default_value = "60s", value_parser = input::seconds)]
    pub(super) patience: Seconds,
    #[command(flatten)]
    pub(super) line: LineArguments,
}

/// How the run speaks and where it is kept.
#[derive(Debug, Args)]
#[command(next_help_heading = "Output")]
pub(super) struct OutputArguments {
    /// Newline-delimited JSON on standard output, and nothing else there.
    #[arg(long, conflicts_with = "plain")]
    json: bool,
    /// Lines of plain words instead of the screen.
    #[arg(long)]
    plain: bool,
    #[command(flatten)]
    pub(super) detail: DetailArguments,
    #[command(flatten)]
    pub(super) keep: KeepArguments,
}

/// What else is heard and kept.
#[derive(Debug, Args)]
pub(super) struct DetailArguments {
    /// Tell every reading (with --json or --plain).
    #[arg(long)]
    readings: bool,
    /// Nothing is heard; the same as --sound off.
    #[arg(long)]
    quiet: bool,
    #[command(flatten)]
    hearing: HearingArguments,
    /// The folder for the recording, or `off`.
    #[arg(long, value_name = "DIR|off")]
    pub(super) record: Option<PathBuf>,
}

impl OutputArguments {
    /// The voice: the screen on a terminal, unless told otherwise.
    pub(super) fn voice(&self) -> Voice {
        let form = if self.json {
            Form::Json
        } else if self.plain || !(io::stdout().is_terminal() && io::stdin().is_terminal()) {
            Form::Plain
        } else {
            Form::Screen
        };
        Voice {
            form,
            readings: self.detail.readings,
            hearing: self.detail.hearing.meant(self.detail.quiet),
        }
    }

    /// The voice of a command that has no screen.
    pub(super) fn voice_without_screen(&self) -> Voice {
        let form = if self.json { Form::Json } else { Form::Plain };
        Voice {
            form,
            ..self.voice()
        }
    }
}

/// A check and how it is kept.
pub(super) struct Task {
    /// The command's name, which names the recording.
    pub(super) name: &'static str,
    /// The check; none to watch.
    pub(super) check: Option<Box<dyn Check>>,
    /// The check as the sidecar keeps it.
    pub(super) kept: Option<CheckKept>,
}

/// What a run is built from.
pub(super) struct Bench {
    /// The open port.
    pub(super) link: source::Link,
    /// The place as the user wrote it.
    pub(super) place: String,
    /// When the clock started.
    pub(super) began: Instant,
    /// The simulated bench, if there is one.
    pub(super) companion: Option<Companion>,
    /// Whether standard input is free for the operator's Enter.
    pub(super) input_is_free: bool,
    /// What a trial of this meter found.
    pub(super) tried: Option<Tried>,
}

/// Runs a task on the meter that the options name.
pub(super) async fn run(
    meter: &MeterArguments,
    output: &OutputArguments,
    task: Task,
) -> Result<Outcome, Failure> {
    let (outcome, _) = run_and_tell(meter, output, task).await?;
    Ok(outcome)
}

/// The same, and which meter it was; none for a recording.
pub(super) async fn run_and_tell(
    meter: &MeterArguments,
    output: &OutputArguments,
    task: Task,
) -> Result<(Outcome, Option<trials::Met>), Failure> {
    let place = place_of(meter)?;
    if let Where::Recording(path) = &place {
        return Ok((replay::with_task(path, meter, output, task)?, None));
    }
    let (bench, protocol) = open(&place, meter).await?;
    let met = trials::Met {
        protocol: protocol.id().to_owned(),
        place,
    };
    let outcome = on_bench(bench, protocol, meter, output, task).await?;
    Ok((outcome, Some(met)))
}

/// Where the meter is.
pub(super) fn place_of(meter: &MeterArguments) -> Result<Where, Failure> {
    match &meter.from {
        Some(place) => Ok(place.clone()),
        None => only_candidate(),
    }
}

/// Opens the meter's port, finding out its format if that is not given.
pub(super) async fn open(
    place: &Where,
    meter: &MeterArguments,
) -> Result<(Bench, Arc<Protocol>), Failure> {
    let mut began = Instant::now();
    let (protocol, serial, link) = match &meter.protocol {
        Some(named) => {
            let protocol = formats::load(named)?;
            let serial = protocol.serial();
            (protocol, serial, None)
        }
        None => identify::for_run(place, meter, began).await?,
    };
    let link = if let Some(link) = link {
        link
    } else {
        began = Instant::now();
        let serial = meter.line.over(serial);
        source::open(place, LinkSettings::new(serial, began)).await?
    };
    let bench = Bench {
        link,
        place: place.to_string(),
        began,
        companion: None,
        input_is_free: *place != Where::StandardInput,
        tried: trials::of(protocol.id(), place)?,
    };
    Ok((bench, protocol))
}

/// Runs a task on an open port.
pub(super) async fn on_bench(
    bench: Bench,
    protocol: Arc<Protocol>,
    meter: &MeterArguments,
    output: &OutputArguments,
    task: Task,
) -> Result<Outcome, Failure> {
    let facts = facts_of(&bench, &protocol, meter, output)?;
    let ledger = output.ledger(task.check.is_some())?;
    let voice = voice_on(&bench, output);
    let sidecar = sidecar(&bench, (&protocol, &facts), (meter, output), task.kept)?;
    let recorder = recorder(output, task.name, &sidecar)?;
    let setup = Setup {
        protocol,
        source: bench.place,
        facts,
        check: task.check,
        patience: meter.patience,
    };
    let plan = Plan {
        setup,
        link: bench.link,
        began: bench.began,
        voice,
        keeping: Keeping::new(sidecar, recorder, ledger),
        enter_from_input: bench.input_is_free,
        companion: bench.companion,
    };
    Ok(run::live(plan).await?)
}

/// What is known of the meter on a bench.
pub(super) fn facts_of(
    bench: &Bench,
    protocol: &Protocol,
    meter: &MeterArguments,
    output: &OutputArguments,
) -> Result<MeterFacts, Failure> {
    Ok(MeterFacts {
        tried: bench.tried,
        accuracy: output.keep.accuracies()?,
        ..facts(protocol, meter.range)
    })
}

/// How a run on a bench speaks.
pub(super) fn voice_on(bench: &Bench, output: &OutputArguments) -> Voice {
    // The screen's keys would be read from the same input as the meter's bytes.
    if bench.input_is_free {
        output.voice()
    } else {
        output.voice_without_screen()
    }
}

/// What is kept beside a recording made on a bench.
pub(super) fn sidecar(
    bench: &Bench,
    (protocol, facts): (&Protocol, &MeterFacts),
    (meter, output): (&MeterArguments, &OutputArguments),
    check: Option<CheckKept>,
) -> Result<Sidecar, Failure> {
    Ok(Sidecar {
        layout: Sidecar::LAYOUT,
        began: jiff::Timestamp::now()
            .strftime("%Y-%m-%dT%H:%M:%SZ")
            .to_string(),
        source: bench.place.clone(),
        protocol: protocol.id().to_owned(),
        made_by: bench
            .companion
            .is_some()
            .then(|| "the simulated bench; all invented".to_owned()),
        meter: MeterKept::from(facts),
        patience_s: meter.patience.0,
        run: Some(output.keep.run(check.as_ref())?),
        check,
        verdict: None,
    })
}

/// The folder for recordings; none if they are off.
pub(super) fn record_folder(output: &OutputArguments) -> Option<PathBuf> {
    match &output.detail.record {
        Some(folder) if keep::is_off(folder) => None,
        Some(folder) => Some(folder.clone()),
        None => Some(formats::recordings_folder()),
    }
}

/// What a format and the operator state about the meter.
pub(super) fn facts(protocol: &Protocol, range: Option<Ohms>) -> MeterFacts {
    MeterFacts {
        interval: protocol.rate().map(|rate| Seconds(1.0 / rate)),
        aperture: protocol.aperture(),
        counts: protocol
            .counts()
            .filter(|_| protocol.resolution_tells_range()),
        range,
        accuracy: Accuracies::default(),
        tried: None,
    }
}

fn recorder(
    output: &OutputArguments,
    name: &str,
    sidecar: &Sidecar,
) -> Result<Option<Recorder>, Failure> {
    let Some(folder) = record_folder(output) else {
        return Ok(None);
    };
    let stamp = jiff::ZonedDateTime::now().strftime("%Y%m%d-%H%M%S");
    Ok(Some(Recorder::begin(
        &folder,
        &format!("{stamp}-{name}"),
        sidecar,
    )?))
}

/// The only port that may have a meter on it.
pub(super) fn only_candidate() -> Result<Where, Failure> {
    only_of(&source::ports()?)
}

fn only_of(ports: &[source::Port]) -> Result<Where, Failure> {
    let candidates: Vec<&source::Port> =
        ports.iter().filter(|port| port.is_candidate()).collect();
    match candidates.as_slice() {
        [port] => Ok(ports::place(port)),
        [] => Err(Failure::NoPort),
        several => {
            let list: Vec<String> = several.iter().map(|port| ports::line(port)).collect();
            Err(Failure::Usage(format!(
                "which port is the meter on? give --from with one of:\n  {}",
                list.join("\n  ")
            )))
        }
    }
}

/// The start of a run's clock.
pub(super) fn clock() -> Instant {
    Instant::now()
}

impl MeterArguments {
    /// What the demo's meter is known to be: a meter that does not tell its range is on the
    /// bench's highest.
    pub(super) fn for_demo(protocol: &Protocol) -> Self {
        Self {
            from: None,
            protocol: None,
            no_ask: false,
            range: protocol.counts().is_none().then_some(Ohms(100e6)),
            patience: Seconds(60.0),
            line: LineArguments::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::status::Status;
    use crate::source::{Port, PortKind};

    #[test]
    fn the_only_candidate_is_taken_and_nothing_else_is() {
        let port = |path: &str, kind| Port {
            path: PathBuf::from(path),
            kind,
            description: "a port".to_owned(),
        };
        let built_in = port("/dev/ttyS0", PortKind::BuiltIn);
        let one = port("/dev/ttyUSB0", PortKind::UsbSerial);
        let other = port("/dev/usbtmc0", PortKind::Usbtmc);
        let only = only_of(&[built_in.clone(), one.clone()]).unwrap();
        assert_eq!(only, Where::Serial(one.path.clone()));
        let none = only_of(&[built_in]).unwrap_err();
        assert_eq!(none.status(), Status::Meter);
        assert!(none.to_string().contains("plug the meter's cable in"));
        let several = only_of(&[one, other]).unwrap_err();
        assert_eq!(several.status(), Status::Usage);
        assert!(several.to_string().contains("/dev/usbtmc0"));
    }
}
