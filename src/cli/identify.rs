//! `steadyohm identify`: which meter stands there, and which format it speaks; also for every
//! command that reads a meter and was not told.
#![expect(
    clippy::print_stderr,
    reason = "what is being tried is told beside the output"
)]

use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::sync::Arc;
use std::time::Instant;

use clap::Args;

use crate::cli::meter::{self, LineArguments, MeterArguments};
use crate::cli::status::{Failure, Status};
use crate::cli::{formats, protocols};
use crate::protocol::{Identity, Parity, Protocol, SerialSettings, StopBits};
use crate::run::{Found, Progress, Search};
use crate::source::{Link, Where};

/// Find out which format the meter speaks, and at which settings.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm identify
  steadyohm identify --from /dev/ttyUSB0 --no-ask
  steadyohm identify --from /dev/ttyUSB0 --baud 2400 --json
  steadyohm identify --from - < captured.bin

It listens at the settings of every known format, the likeliest first. Only if nothing at all \
was heard, and unless --no-ask is given, it asks as the formats do whose meters have to be \
asked; what is sent is told before.

With --json, one line a format, the best first:
  {\"event\":\"candidate\",\"protocol\":..,\"frames\":..,\"readings\":..,\"garbled_bytes\":..,\
\"why\":[..]}
and a last line:
  {\"event\":\"identified\",\"outcome\":\"sure\"|\"not_sure\"|\"none\"|\"silent\",\
\"protocol\":ID|null,\"runner_up\":ID|null,\"line\":\"2400 8N1\"|null,\"baud\":N|null,\
\"asked\":true|false,\"heard_bytes\":N,\"text\":\"..\"}

Exit status: 0 sure, 2 wrong use, 3 not sure or none of them, 4 nothing heard or the port could \
not be used.")]
pub(super) struct Arguments {
    /// Where the bytes come from, as with every command; without it, the only candidate port.
    #[arg(long, value_name = "WHERE")]
    from: Option<Where>,
    /// Only listen, send nothing.
    #[arg(long)]
    no_ask: bool,
    /// Newline-delimited JSON on standard output.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    line: LineArguments,
}

pub(super) async fn run(arguments: &Arguments) -> Result<Status, Failure> {
    let place = match &arguments.from {
        Some(place) => place.clone(),
        None => meter::only_candidate()?,
    };
    let began = meter::clock();
    let mut found = search(&place, &arguments.line, arguments.no_ask, began).await?;
    // The meter is left alone again.
    drop(found.link.take());
    let answer = Answer::of(&place, &found);
    let told = if arguments.json {
        write_json(&found, &answer)
    } else {
        write_plain(&found, &answer)
    };
    protocols::quietly(told)?;
    Ok(match answer.outcome {
        "sure" => Status::Pass,
        "silent" => Status::Meter,
        _ => Status::Retest,
    })
}

/// What a run needs to know about a meter that was not named, and the port if it is open.
pub(super) async fn for_run(
    place: &Where,
    meter: &MeterArguments,
    began: Instant,
) -> Result<(Arc<Protocol>, SerialSettings, Option<Link>), Failure> {
    let found = search(place, &meter.line, meter.no_ask, began).await?;
    let answer = Answer::of(place, &found);
    match (&found.identification.outcome, answer.line) {
        (Identity::Right(protocol), line) => {
            eprintln!("steadyohm: {}", answer.text);
            let serial = line.unwrap_or_else(|| protocol.serial());
            Ok((Arc::clone(protocol), serial, found.link))
        }
        _ if answer.outcome == "silent" => Err(Failure::Silent(answer.text)),
        _ => Err(Failure::Usage(answer.text)),
    }
}

async fn search(
    place: &Where,
    line: &LineArguments,
    no_ask: bool,
    began: Instant,
) -> Result<Found, Failure> {
    let formats = formats::all();
    let search = Search {
        place,
        formats: &formats,
        began,
        may_ask: !no_ask,
        adjust: &|settings| line.over(settings),
    };
    let mut tell = |progress: &Progress<'_>| eprintln!("steadyohm: {}", told(place, progress));
    Ok(search.go(&mut tell).await?)
}

/// A place as it is called in a sentence.
fn name(place: &Where) -> String {
    match place {
        Where::StandardInput => "standard input".to_owned(),
        other => other.to_string(),
    }
}

/// What is being done, in a sentence.
fn told(place: &Where, progress: &Progress<'_>) -> String {
    match progress {
        Progress::Begins {
            settings,
            questions,
            at_most,
        } => {
            let mut text = format!("finding out which format is spoken at {}", name(place));
            let tries = match (place, *settings) {
                (Where::Serial(_), 1) => ": listening at one setting of the line",
                (Where::Serial(_), count) => {
                    // Writing to a string cannot fail.
                    let _written = write!(text, ": listening at up to {count} settings");
                    " of the line"
                }
                _ => "",
            };
            text.push_str(tries);
            if *questions > 0 {
                text.push_str(", and asking only if nothing is heard");
            }
            let _written = write!(text, "; {:.0} s at most", at_most.as_secs_f64().ceil());
            text
        }
        Progress::Asking {
            format,
            line,
            sends,
        } => {
            let sent: Vec<String> = sends
                .iter()
                .map(|bytes| format!("{:?}", String::from_utf8_lossy(bytes)))
                .collect();
            let at = line.map_or_else(String::new, |line| format!(" at {}", shown(line)));
            format!(
                "nothing heard; asking as {} does{at}: sending {}",
                format.id(),
                sent.join(", ")
            )
        }
    }
}

/// What was found, ready to be told.
struct Answer {
    outcome: &'static str,
    protocol: Option<String>,
    runner_up: Option<String>,
    /// The settings at which the meter is to be opened.
    line: Option<SerialSettings>,
    text: String,
}

impl Answer {
    fn of(place: &Where, found: &Found) -> Self {
        let place = name(place);
        let best = found.identification.ranking.first();
        let why = best.map_or_else(String::new, |best| best.why.join(", "));
        let (outcome, protocol, runner_up) = match &found.identification.outcome {
            Identity::Right(protocol) => ("sure", Some(protocol), None),
            Identity::NotSure { best, runner_up } => {
                ("not_sure", Some(best), runner_up.as_ref())
            }
            Identity::None if found.heard == 0 => ("silent", None, None),
            Identity::None => ("none", None, None),
        };
        // The format's own settings, at the speed that was heard.
        let line = found
            .line
            .zip(protocol)
            .map(|(heard, protocol)| SerialSettings {
                baud: heard.baud,
                ..protocol.serial()
            });
        let id =
            |protocol: Option<&Arc<Protocol>>| protocol.map(|format| format.id().to_owned());
        let (protocol, runner_up) = (id(protocol), id(runner_up));
        let at = line.map_or_else(String::new, |line| format!(" at {}", shown(line)));
        let named = protocol.as_deref().unwrap_or("none");
        let text = match (outcome, &runner_up) {
            ("sure", _) => format!("{place} speaks {named}{at}: {why}"),
            ("not_sure", Some(other)) => format!(
                "{place} speaks {named} or {other}{at}, and it is not clear which ({named}: \
                 {why}); name it with --protocol {named} or --protocol {other}"
            ),
            ("not_sure", None) => format!(
                "{place} perhaps speaks {named}{at}, but that is not sure ({why}); if you know \
                 it does, give --protocol {named}"
            ),
            ("none", _) => format!(
                "{place} gave {} bytes that are none of the known formats; name one with \
                 --protocol, set the speed with --baud, or describe the format in a file of \
                 your own (see `steadyohm protocols show number-lines`)",
                found.heard
            ),
            _ => format!(
                "nothing is heard at {place}: switch the meter on, switch its data output on \
                 (often a key held or pressed long), and check cable and port; an adapter \
                 powered by the modem lines may want --dtr and --rts the other way"
            ),
        };
        Self {
            outcome,
            protocol,
            runner_up,
            line,
            text,
        }
    }
}

fn write_plain(found: &Found, answer: &Answer) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(out, "{}", answer.text)?;
    let others = found.identification.ranking.iter();
    for score in others.filter(|score| score.frames > 0) {
        writeln!(out, "  {:<18} {}", score.id, score.why.join(", "))?;
    }
    Ok(())
}

fn write_json(found: &Found, answer: &Answer) -> io::Result<()> {
    let mut out = io::stdout().lock();
    for score in &found.identification.ranking {
        let line = serde_json::json!({
            "event": "candidate",
            "protocol": score.id,
            "frames": score.frames,
            "readings": score.readings,
            "garbled_bytes": score.garbled_bytes,
            "why": score.why,
        });
        writeln!(out, "{line}")?;
    }
    let line = serde_json::json!({
        "event": "identified",
        "outcome": answer.outcome,
        "protocol": answer.protocol,
        "runner_up": answer.runner_up,
        "line": answer.line.map(shown),
        "baud": answer.line.map(|line| line.baud),
        "asked": found.asked,
        "heard_bytes": found.heard,
        "text": answer.text,
    });
    writeln!(out, "{line}")
}

/// The trade's short form: `2400 7O1`.
fn shown(line: SerialSettings) -> String {
    let parity = match line.parity {
        Parity::None => 'N',
        Parity::Odd => 'O',
        Parity::Even => 'E',
    };
    let stop = match line.stop_bits {
        StopBits::One => 1,
        StopBits::Two => 2,
    };
    format!("{} {}{parity}{stop}", line.baud, line.data_bits)
}
