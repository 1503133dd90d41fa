//! What is printed of the work: what the operator typed, with the check or for the page.

use clap::Args;

use crate::check::meter::MeterFacts;
use crate::cli::report::find::Part;
use crate::cli::report::source::Source;
use crate::record::report::Subject;
use crate::signal::Accuracy;

/// What stands on the page; what was said with the check need not be said again.
#[derive(Debug, Args)]
#[command(next_help_heading = "On the page")]
pub(super) struct SubjectArguments {
    /// The job.
    #[arg(long, value_name = "TEXT")]
    pub(super) job: Option<String>,
    /// The instrument; without a recording, all checks of it in the ledger.
    #[arg(long, value_name = "TEXT")]
    pub(super) instrument: Option<String>,
    /// The batch; without a recording, the page of the whole batch.
    #[arg(long, value_name = "TEXT")]
    pub(super) batch: Option<String>,
    /// The lead's tag; without a recording, the newest run of it in the ledger.
    #[arg(long, value_name = "TEXT")]
    pub(super) tag: Option<String>,
    /// Who measured.
    #[arg(long, value_name = "TEXT")]
    by: Option<String>,
    /// Anything else. A note that was kept with the check is the workshop's own, and stays there.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

impl SubjectArguments {
    /// The subject of these parts; `length` is what the check was told of the lead.
    pub(super) fn subject(&self, parts: &[Part], length: Option<String>) -> Subject {
        let sources: Vec<&Source> = parts.iter().map(|part| &part.now).collect();
        let typed = |given: &Option<String>, kept: &dyn Fn(&Source) -> Option<String>| {
            given.clone().or_else(|| common(&sources, kept))
        };
        Subject {
            job: self.job.clone(),
            instrument: typed(&self.instrument, &|run| run.about().instrument),
            batch: typed(&self.batch, &|run| run.about().batch),
            lot: common(&sources, &|run| run.about().lot),
            tag: typed(&self.tag, &|run| run.about().tag),
            length,
            workshop: workshop(&sources),
            accuracy: common(&sources, &accuracy),
            measured_by: self.by.clone(),
            note: self.note.clone(),
        }
    }

    /// The subject of a batch.
    pub(super) fn of_batch(&self, batch: &str, lot: Option<String>) -> Subject {
        Subject {
            job: self.job.clone(),
            batch: Some(batch.to_owned()),
            lot,
            measured_by: self.by.clone(),
            note: self.note.clone(),
            ..Subject::default()
        }
    }
}

/// What all of them have alike.
fn common(sources: &[&Source], of: &dyn Fn(&Source) -> Option<String>) -> Option<String> {
    let first = of(sources.first()?)?;
    sources
        .iter()
        .all(|source| of(source).as_ref() == Some(&first))
        .then_some(first)
}

/// The temperature of the workshop, from the lowest to the highest.
fn workshop(sources: &[&Source]) -> Option<String> {
    let known = sources
        .iter()
        .filter_map(|run| run.about().temperature_c)
        .map(|degrees| (degrees, degrees));
    let (low, high) = known.reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))?;
    let (low, high) = (format!("{low:.1}"), format!("{high:.1}"));
    Some(if low == high {
        format!("{low} °C")
    } else {
        format!("{low} to {high} °C")
    })
}

/// The most ranges that are told.
const MOST_RANGES: usize = 3;

/// The meter's accuracy as it was stated.
fn accuracy(source: &Source) -> Option<String> {
    let facts = MeterFacts::from(&source.sidecar().meter);
    let all: Vec<String> = facts
        .accuracy
        .ranges()
        .map(|(full_scale, Accuracy { share, counts })| {
            let percent = (share * 1e5).round() / 1e3;
            let stated = format!("±({percent} % + {counts})");
            if full_scale.0.is_finite() {
                format!("{stated} to {full_scale}")
            } else {
                stated
            }
        })
        .collect();
    let mut told = all
        .iter()
        .take(MOST_RANGES)
        .cloned()
        .collect::<Vec<String>>()
        .join(", ");
    if all.is_empty() {
        return None;
    }
    if all.len() > MOST_RANGES {
        told.push_str(", ...");
    }
    if let Some(kept) = source.about().accuracy {
        told = format!("{told} ({})", kept.source);
    }
    Some(told)
}

/// The way the readings came, without the name of the port, the machine or the file: these are
/// the workshop's own.
pub(super) fn way(source: &str) -> String {
    let way = match source.split_once(':') {
        Some(("serial", _)) => "serial port",
        Some(("usbtmc", _)) => "USB",
        Some(("tcp", _)) => "network",
        _ if source == "-" => "standard input",
        _ if source.starts_with("/dev/") => "serial port",
        _ if source.contains('/') => "a file",
        _ => source,
    };
    way.to_owned()
}

#[cfg(test)]
mod tests {
    use super::way;

    #[test]
    fn no_name_of_a_port_or_a_machine_is_on_the_page() {
        for (source, told) in [
            ("serial:/dev/serial/by-id/usb-board_0042", "serial port"),
            ("/dev/ttyUSB0", "serial port"),
            ("tcp://bench-pc.shop:5025", "network"),
            ("usbtmc:/dev/usbtmc0", "USB"),
            ("-", "standard input"),
            ("/home/somebody/lead.csv", "a file"),
            ("the simulated bench", "the simulated bench"),
        ] {
            assert_eq!(way(source), told);
        }
    }
}
