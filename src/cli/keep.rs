//! The options of every check about what it was made on and where its line is kept.
#![expect(
    clippy::disallowed_methods,
    reason = "the accuracy file is opened here, at the edge"
)]

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;
use uuid::Uuid;

use crate::circuit::Celsius;
use crate::cli::meter::OutputArguments;
use crate::cli::status::Failure;
use crate::cli::{formats, meter};
use crate::reading::Ohms;
use crate::record::ledger::LedgerError;
use crate::record::{About, AccuracyKept, CheckKept, RunId, RunKept};
use crate::run::{LedgerFile, LedgerFileError};
use crate::signal::{Accuracies, Accuracy};

/// What the run was made on, and its line in the ledger.
#[derive(Debug, Args)]
#[command(next_help_heading = "Ledger")]
pub(super) struct KeepArguments {
    /// The tag on the lead or the instrument: `ledger history` finds it by this.
    #[arg(long, value_name = "NAME", value_parser = name)]
    tag: Option<String>,
    /// The ledger's file, or `off`; without it the one in the user's data folder, unless
    /// --record is off.
    #[arg(long, value_name = "FILE|off")]
    pub(super) ledger: Option<PathBuf>,
    #[command(flatten)]
    about: AboutArguments,
}

/// What else the run was made on.
#[derive(Debug, Args)]
struct AboutArguments {
    /// The instrument's name: `report NAME` puts all its checks on one page. A rewire has that of
    /// its job.
    #[arg(long, value_name = "NAME", value_parser = name)]
    instrument: Option<String>,
    /// The batch: `ledger batch` sums it up.
    #[arg(long, value_name = "NAME", value_parser = name)]
    batch: Option<String>,
    /// The supplier's lot.
    #[arg(long, value_name = "NAME", value_parser = name)]
    lot: Option<String>,
    /// Anything else to be kept with the run.
    #[arg(long, value_name = "TEXT", value_parser = note)]
    note: Option<String>,
    /// The temperature of the workshop in degrees Celsius: 21.5, 68F.
    #[arg(long, value_name = "C", value_parser = temperature, allow_negative_numbers = true)]
    temperature: Option<f64>,
    /// The meter's stated accuracy: a TOML file with its ranges, or 0.8%+3 for all of them. A
    /// reading closer to a limit than it may be off is neither pass nor fail.
    #[arg(long, value_name = "FILE|PERCENT+COUNTS")]
    accuracy: Option<String>,
}

impl AboutArguments {
    /// The accuracy as a file states it; none if it was given in short, or not at all.
    fn accuracy(&self) -> Result<Option<AccuracyKept>, Failure> {
        match &self.accuracy {
            Some(text) if text.parse::<Accuracy>().is_err() => {
                accuracy(Path::new(text)).map(Some)
            }
            _ => Ok(None),
        }
    }
}

impl KeepArguments {
    /// The temperature of the workshop; copper is reckoned at 20 °C if it was not given.
    pub(super) fn temperature(&self) -> Celsius {
        self.about.temperature.map_or(Celsius::REFERENCE, Celsius)
    }

    /// What the meter's maker states.
    pub(super) fn accuracies(&self) -> Result<Accuracies, Failure> {
        let short = self.about.accuracy.as_ref();
        if let Some(accuracy) = short.and_then(|text| text.parse().ok()) {
            return Ok(Accuracies::everywhere(accuracy));
        }
        let kept = self.about.accuracy()?;
        let ranges = kept.iter().flat_map(|kept| &kept.ranges);
        Ok(Accuracies::of(ranges.map(|range| {
            let accuracy = Accuracy {
                share: range.percent / 100.0,
                counts: range.counts,
            };
            (Ohms(range.up_to_ohms), accuracy)
        })))
    }

    /// The run as its sidecar begins: a new identity, and what was said of it; of a rewire also
    /// what its job says.
    pub(super) fn run(&self, check: Option<&CheckKept>) -> Result<RunKept, Failure> {
        let about = &self.about;
        let job = match check {
            Some(CheckKept::Rewire(rewire)) => Some(rewire),
            _ => None,
        };
        let of_job = || job?.instrument().and_then(|text| name(&text).ok());
        Ok(RunKept {
            id: RunId::new(Uuid::now_v7()),
            about: About {
                tag: self.tag.clone(),
                instrument: about.instrument.clone().or_else(of_job),
                batch: about.batch.clone(),
                lot: about.lot.clone(),
                note: about.note.clone(),
                temperature_c: about.temperature.or_else(|| job?.workshop()),
                accuracy: about.accuracy()?,
            },
            found: None,
            recorded: None,
            undone: false,
        })
    }

    /// Refuses all of it where nothing is kept.
    pub(super) fn refuse(&self, what: &str) -> Result<(), Failure> {
        let ledger = self.ledger.as_ref().is_some_and(|file| !is_off(file));
        match self
            .said_of_the_work()
            .or_else(|| ledger.then_some("--ledger"))
        {
            None => Ok(()),
            Some(option) => Err(Failure::Usage(format!(
                "{what} is not kept: leave {option} out; the run that made the recording is in \
                 the ledger"
            ))),
        }
    }

    /// The first option that says something of the work, if one was given.
    fn said_of_the_work(&self) -> Option<&'static str> {
        let about = &self.about;
        let options = [
            ("--tag", &self.tag),
            ("--instrument", &about.instrument),
            ("--batch", &about.batch),
            ("--lot", &about.lot),
            ("--note", &about.note),
        ];
        let given = options.into_iter().find(|(_, given)| given.is_some())?;
        Some(given.0)
    }
}

impl OutputArguments {
    /// As a demo has it: nothing is left behind unless it is asked for.
    pub(super) fn leave_nothing(&mut self) -> Result<(), Failure> {
        if let (None, Some(option)) = (&self.keep.ledger, self.keep.said_of_the_work()) {
            return Err(Failure::Usage(format!(
                "a demo leaves nothing behind: give --ledger FILE as well, or leave {option} out"
            )));
        }
        self.detail.record.get_or_insert_with(|| OFF.into());
        self.keep.ledger.get_or_insert_with(|| OFF.into());
        Ok(())
    }

    /// The ledger that the run goes to, which is opened once to see that it can be.
    ///
    /// A line in the ledger points to a recording and comes back from it; without a recording
    /// there is a line only where a ledger was asked for by name.
    pub(super) fn ledger(&self, judges: bool) -> Result<Option<LedgerFile>, Failure> {
        let recorded = meter::record_folder(self).is_some();
        let file = match &self.keep.ledger {
            Some(file) if is_off(file) => return Ok(None),
            Some(_) if !judges => {
                return Err(Failure::Usage(
                    "a watch judges nothing, so there is nothing to keep in a ledger: leave \
                     --ledger out"
                        .to_owned(),
                ));
            }
            Some(file) => file.clone(),
            None if judges && recorded => formats::ledger_file(),
            None => return Ok(None),
        };
        let ledger = LedgerFile::at(file);
        match ledger.to_write() {
            // Whoever is writing now will have ended long before this run does.
            Err(LedgerFileError::Ledger {
                source: LedgerError::Busy(_),
                ..
            }) => {}
            tried => drop(tried?),
        }
        Ok(Some(ledger))
    }
}

/// The word for no recording, and for no ledger.
const OFF: &str = "off";

pub(super) fn is_off(path: &Path) -> bool {
    path.as_os_str() == OFF
}

fn accuracy(path: &Path) -> Result<AccuracyKept, Failure> {
    let text = fs::read_to_string(path).map_err(|source| Failure::Read {
        path: path.to_path_buf(),
        source,
    })?;
    AccuracyKept::from_text(&text)
        .map_err(|error| Failure::Usage(format!("{}: {error}", path.display())))
}

/// The longest name, in characters: it is to fit on a tag and in a line.
const LONGEST_NAME: usize = 80;
/// The longest note, in characters.
const LONGEST_NOTE: usize = 2_000;

/// A name: one line of printable text.
pub(super) fn name(text: &str) -> Result<String, String> {
    let name = text.trim();
    if name.is_empty() {
        return Err("a name has at least one letter or digit".to_owned());
    }
    if name.chars().any(char::is_control) {
        return Err("a name is one line of letters, digits and signs".to_owned());
    }
    if name.chars().count() > LONGEST_NAME {
        return Err(format!("a name has at most {LONGEST_NAME} characters"));
    }
    Ok(name.to_owned())
}

fn note(text: &str) -> Result<String, String> {
    if text.chars().count() > LONGEST_NOTE {
        return Err(format!("a note has at most {LONGEST_NOTE} characters"));
    }
    Ok(text.trim().to_owned())
}

/// Degrees Celsius, or Fahrenheit with an F; a place where somebody holds probes.
pub(super) fn temperature(text: &str) -> Result<f64, String> {
    let trimmed = text.trim();
    let body = trimmed
        .trim_end_matches(['C', 'c', 'F', 'f'])
        .trim_end_matches('°')
        .trim_end();
    let degrees = body
        .parse::<f64>()
        .ok()
        .filter(|degrees| degrees.is_finite());
    let celsius = match trimmed.chars().next_back() {
        Some('F' | 'f') => degrees.map(|degrees| (degrees - 32.0) / 1.8),
        _ => degrees,
    };
    celsius
        .filter(|celsius| (-40.0..=60.0).contains(celsius))
        .ok_or_else(|| {
            format!("`{text}` is no temperature of a workshop; write it like 21.5 or 70F")
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperatures_are_read_as_people_type_them() {
        for (text, celsius) in [("21.5", 21.5), ("-3", -3.0), ("20C", 20.0), ("20 °C", 20.0)] {
            assert_eq!(temperature(text), Ok(celsius), "{text}");
        }
        // The fixed points of the Fahrenheit scale's definition: 32 °F is 0 °C; 68 °F is 20 °C.
        assert_eq!(temperature("32F"), Ok(0.0));
        assert!((temperature("68 °F").unwrap() - 20.0).abs() < 1e-9);
        for bad in ["", "C", "warm", "nan", "300", "-80", "20CF5"] {
            assert!(temperature(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn names_are_one_line() {
        assert_eq!(name("  L-014 "), Ok("L-014".to_owned()));
        assert_eq!(
            name("'); DROP TABLE run;--"),
            Ok("'); DROP TABLE run;--".to_owned())
        );
        for bad in ["", "  ", "a\nb", "\u{1b}[2J"] {
            assert!(name(bad).is_err(), "{bad:?}");
        }
        assert!(name(&"x".repeat(81)).is_err());
    }
}
