//! Which runs are meant, as options.

use clap::{Args, ValueEnum};
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::check::CHECKS;
use crate::record::ledger::{Filter, STOPPED, UNDONE};

/// The filter as options.
#[derive(Debug, Args)]
#[command(next_help_heading = "Which runs")]
pub(super) struct SelectArguments {
    /// Only this verdict.
    #[arg(long)]
    verdict: Option<VerdictArgument>,
    /// Only this check.
    #[arg(long, value_name = "CHECK", value_parser = kind)]
    kind: Option<String>,
    /// Only this instrument.
    #[arg(long, value_name = "NAME")]
    instrument: Option<String>,
    /// Only this supplier's lot.
    #[arg(long, value_name = "NAME")]
    lot: Option<String>,
    /// Only from this day on: 2026-01-31, or a time as in RFC 3339.
    #[arg(long, value_name = "DATE", value_parser = since)]
    since: Option<String>,
    /// Only up to this day, the day itself included; or before a time as in RFC 3339.
    #[arg(long, value_name = "DATE", value_parser = until)]
    until: Option<String>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum VerdictArgument {
    Pass,
    Fail,
    Retest,
    /// Ended by the operator before anything was decided.
    Stopped,
    /// Taken back in a stock.
    Undone,
}

impl SelectArguments {
    /// The filter meant, for any tag and batch.
    pub(super) fn filter(&self) -> Filter {
        let verdict = self.verdict.map(|verdict| match verdict {
            VerdictArgument::Pass => "pass",
            VerdictArgument::Fail => "fail",
            VerdictArgument::Retest => "retest",
            VerdictArgument::Stopped => STOPPED,
            VerdictArgument::Undone => UNDONE,
        });
        Filter {
            tag: None,
            verdict: verdict.map(str::to_owned),
            kind: self.kind.clone(),
            instrument: self.instrument.clone(),
            batch: None,
            lot: self.lot.clone(),
            since: self.since.clone(),
            until: self.until.clone(),
            not_undone: false,
        }
    }
}

fn kind(text: &str) -> Result<String, String> {
    if CHECKS.iter().any(|check| check.name == text) {
        return Ok(text.to_owned());
    }
    let known: Vec<&str> = CHECKS.iter().map(|check| check.name).collect();
    Err(format!(
        "there is no such check; there are: {}",
        known.join(", ")
    ))
}

pub(in crate::cli) fn since(text: &str) -> Result<String, String> {
    day(text, false)
}

fn until(text: &str) -> Result<String, String> {
    day(text, true)
}

/// The instant a text means, in the ledger's own form: a day is one on this wall's calendar,
/// from its first instant or up to its last.
fn day(text: &str, whole: bool) -> Result<String, String> {
    let refused = || format!("`{text}` is no date; write it like 2026-01-31");
    let instant = if let Ok(instant) = text.parse::<jiff::Timestamp>() {
        instant
    } else {
        let day: Date = text.parse().map_err(|_form| refused())?;
        let day = if whole {
            day.tomorrow().map_err(|_range| refused())?
        } else {
            day
        };
        day.to_zoned_datetime(TimeZone::system())
            .map_err(|_range| refused())?
            .timestamp()
    };
    Ok(instant.strftime("%Y-%m-%dT%H:%M:%SZ").to_string())
}
