//! `steadyohm replay`: a recording again, to the same events and the same verdict.
#![expect(
    clippy::disallowed_methods,
    reason = "a recording's files are opened here, at the edge"
)]
#![expect(
    clippy::print_stderr,
    reason = "damaged rows are told beside the output"
)]

mod compare;

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use crate::check::Check;
use crate::check::lead::Lead;
use crate::check::meter::MeterFacts;
use crate::check::pot::Pot;
use crate::check::rewire::Rewire;
use crate::check::trial::{Trial, TrialOptions};
use crate::cli::meter::{self, MeterArguments, OutputArguments, Task};
use crate::cli::status::{Failure, Status};
use crate::cli::{formats, status_of};
use crate::protocol::{Ask, Protocol, library};
use crate::reading::Seconds;
use crate::record::{CheckKept, RawChunk, Row, Sidecar, read_raw, read_table};
use crate::run;
use crate::session::{Outcome, Recording, Session, Setup};

/// Replay a recording: the same events and the same verdict as the run that made it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm replay recordings/lead-good.csv
  steadyohm replay recordings/lead-good.csv --protocol mine.toml   (reads the raw bytes anew)
  steadyohm replay after.csv --compare before.csv   (a control before and after cleaning)")]
pub(super) struct Arguments {
    /// The recording's table, NAME.csv.
    recording: PathBuf,
    /// Understand the raw bytes anew with this format: an ID or a TOML file.
    #[arg(long, value_name = "ID|FILE")]
    protocol: Option<String>,
    /// Another recording of the same control, made before: what has changed is told at the end.
    #[arg(long, value_name = "OTHER.csv")]
    compare: Option<PathBuf>,
    #[command(flatten)]
    output: OutputArguments,
}

pub(super) fn run(arguments: &Arguments) -> Result<Status, Failure> {
    let path = &arguments.recording;
    if arguments.output.detail.record.is_some() {
        return Err(Failure::Usage(
            "a replay keeps no recording: it is one already; leave --record out".to_owned(),
        ));
    }
    arguments.output.keep.refuse("a replay")?;
    let before = arguments
        .compare
        .as_deref()
        .map(compare::headline)
        .transpose()?;
    let kept = Kept::read(path, arguments.protocol.as_deref())?;
    let sidecar = kept.sidecar;
    let setup = Setup {
        protocol: kept.protocol,
        source: sidecar.source,
        facts: kept.facts,
        check: sidecar.check.as_ref().map(check).transpose()?,
        patience: Seconds(sidecar.patience_s),
    };
    let voice = arguments.output.voice_without_screen();
    let session = Session::new(setup).doubting(kept.doubt);
    let outcome = run::replay(session, kept.readings, voice, path.to_str())?;
    if let Some(before) = before {
        eprintln!("{}", compare::sentence(&before, &compare::headline(path)?));
    }
    Ok(status_of(&outcome))
}

/// Runs a task of the user's own on a recording's readings.
pub(super) fn with_task(
    path: &Path,
    meter: &MeterArguments,
    output: &OutputArguments,
    task: Task,
) -> Result<Outcome, Failure> {
    output.keep.refuse("a check of a recording")?;
    let kept = Kept::read(path, meter.protocol.as_deref())?;
    let setup = Setup {
        protocol: kept.protocol,
        source: path.display().to_string(),
        facts: MeterFacts {
            range: meter.range.or(kept.facts.range),
            accuracy: output.keep.accuracies()?.or(kept.facts.accuracy),
            ..kept.facts
        },
        check: task.check,
        patience: meter.patience,
    };
    let session = Session::new(setup).doubting(kept.doubt);
    let voice = output.voice_without_screen();
    Ok(run::replay(session, kept.readings, voice, path.to_str())?)
}

/// What a recording gives to a session.
pub(super) struct Kept {
    pub(super) sidecar: Sidecar,
    pub(super) protocol: Arc<Protocol>,
    pub(super) facts: MeterFacts,
    pub(super) readings: Recording,
    pub(super) doubt: Option<String>,
}

impl Kept {
    /// The readings as they were understood; or the raw bytes, to be understood anew with the
    /// format named. Then what is stated of the meter is the new format's too, but for the
    /// range, which the operator stated.
    pub(super) fn read(path: &Path, named: Option<&str>) -> Result<Self, Failure> {
        let (rows, doubt) = rows(path)?;
        let sidecar = sidecar(path)?;
        let facts = MeterFacts::from(&sidecar.meter);
        let (protocol, facts, readings) = match named {
            Some(named) => {
                let protocol = formats::load(named)?;
                let facts = MeterFacts {
                    tried: facts.tried,
                    ..meter::facts(&protocol, facts.range)
                };
                (protocol, facts, Recording::Raw(chunks(path)?, rows))
            }
            None => (format_of(&sidecar)?, facts, Recording::Rows(rows)),
        };
        Ok(Self {
            sidecar,
            protocol,
            facts,
            readings,
            doubt,
        })
    }
}

/// The raw bytes beside a recording's table.
fn chunks(path: &Path) -> Result<Vec<RawChunk>, Failure> {
    let raw = path.with_extension("bin");
    read_raw(&read_beside(&raw)?).map_err(|source| Failure::Recording { path: raw, source })
}

/// The rows that can be read, and the doubt that is left if some cannot.
fn rows(path: &Path) -> Result<(Vec<Row>, Option<String>), Failure> {
    let (rows, damage) = read_table(&read(path)?).map_err(|source| Failure::Recording {
        path: path.to_path_buf(),
        source,
    })?;
    for torn in &damage {
        eprintln!(
            "steadyohm: {} row {}: {}; this row is left out, the rest is read",
            path.display(),
            torn.row,
            torn.why
        );
    }
    let doubt = (!damage.is_empty()).then(|| {
        format!(
            "{} rows of the recording are damaged: what they held was not seen",
            damage.len()
        )
    });
    Ok((rows, doubt))
}

pub(super) fn sidecar(path: &Path) -> Result<Sidecar, Failure> {
    let beside = path.with_extension("json");
    let text = read_beside(&beside)?;
    let sidecar: Sidecar = serde_json::from_slice(&text).map_err(|error| {
        Failure::Usage(format!(
            "{}: this does not describe a recording ({error}); it should be the NAME.json that \
             the run wrote beside NAME.csv",
            beside.display()
        ))
    })?;
    if sidecar.layout > Sidecar::LAYOUT {
        return Err(Failure::Usage(format!(
            "{}: written by a newer version of this program; update it to replay this",
            beside.display()
        )));
    }
    Ok(sidecar)
}

/// The recording's format. Its readings need none any more, so a format that is gone since, or
/// was a file, is no obstacle: another stands in under its name.
fn format_of(sidecar: &Sidecar) -> Result<Arc<Protocol>, Failure> {
    let any = || library().iter().find(|any| *any.ask() == Ask::Listen);
    formats::load(&sidecar.protocol).or_else(|gone| {
        any()
            .map(|any| Arc::new(any.named(&sidecar.protocol)))
            .ok_or(gone)
    })
}

pub(super) fn check(kept: &CheckKept) -> Result<Box<dyn Check>, Failure> {
    match kept {
        CheckKept::Lead(lead) => {
            let options = lead.options().map_err(Failure::Usage)?;
            Ok(Box::new(Lead::new(options)))
        }
        CheckKept::Pot(pot) => {
            let options = pot.options().map_err(Failure::Usage)?;
            Ok(Box::new(Pot::new(options)))
        }
        CheckKept::Rewire(rewire) => {
            let options = rewire.options().map_err(Failure::Usage)?;
            Ok(Box::new(Rewire::new(options)))
        }
        CheckKept::Trial(trial) => {
            // Nothing is kept of a replay.
            let findings = Arc::default();
            Ok(Box::new(Trial::new(TrialOptions::from(trial), findings)))
        }
    }
}

/// Reads a file that belongs to a recording's table.
fn read_beside(path: &Path) -> Result<Vec<u8>, Failure> {
    read(path).map_err(|failure| match failure {
        Failure::Read { source, .. } if source.kind() == ErrorKind::NotFound => {
            Failure::Usage(format!(
                "{} is missing: a recording is NAME.csv with NAME.json and NAME.bin beside it; \
                 keep the three together",
                path.display()
            ))
        }
        other => other,
    })
}

fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    fs::read(path).map_err(|source| Failure::Read {
        path: path.to_path_buf(),
        source,
    })
}
