//! `steadyohm watch --trial`: gaps of known length, and what of them the meter shows.
#![expect(
    clippy::print_stderr,
    reason = "where a trial is kept is told beside the output"
)]

use std::sync::{Arc, OnceLock};

use clap::Args;

use crate::check::trial::{self, MOST_LENGTHS, Trial, TrialOptions};
use crate::cli::meter::{self, MeterArguments, OutputArguments, Task};
use crate::cli::status::{Failure, Status};
use crate::cli::{input, status_of, trials};
use crate::reading::Seconds;
use crate::record::{CheckKept, TrialKept};

/// What the board does.
#[derive(Debug, Args)]
#[command(next_help_heading = "Trial of the meter")]
pub(super) struct TrialArguments {
    /// Try the meter: a board opens a closed loop for these times in milliseconds, in turn.
    #[arg(long, value_name = "MS[,MS...]", value_delimiter = ',', value_parser = length)]
    trial: Vec<Seconds>,
    /// Gaps of each length.
    #[arg(long, value_name = "N", default_value_t = 40, requires = "trial",
        value_parser = clap::value_parser!(u32).range(10..=1000))]
    gaps: u32,
    /// From the start of one gap to the start of the next; no simple multiple of the meter's
    /// interval.
    #[arg(long, value_name = "TIME", default_value = "1618ms", requires = "trial",
        value_parser = input::seconds)]
    every: Seconds,
}

impl TrialArguments {
    /// What the board does, if there is to be a trial.
    pub(super) fn options(&self) -> Result<Option<TrialOptions>, Failure> {
        /// Long enough to walk to the board and start it.
        const WAIT: Seconds = Seconds(300.0);
        if self.trial.is_empty() {
            return Ok(None);
        }
        let refuse = |why: &str| Err(Failure::Usage(format!("--trial: {why}")));
        if self.trial.len() > MOST_LENGTHS {
            return refuse("a dozen lengths at most");
        }
        let mut sorted = self.trial.clone();
        sorted.sort_by(|one, other| one.0.total_cmp(&other.0));
        if sorted.windows(2).any(|pair| pair.first() == pair.last()) {
            return refuse("the same length twice; raise --gaps for more gaps of one length");
        }
        let options = TrialOptions {
            lengths: self.trial.clone(),
            gaps: self.gaps,
            every: self.every,
            wait: WAIT,
        };
        if options.every.0 < 2.0 * options.longest().0 {
            return refuse(
                "the longest gap may take half of --every at most, else it could not be told \
                 from the long openings between the lengths",
            );
        }
        Ok(Some(options))
    }
}

/// Tries the meter, and keeps what was found.
pub(super) async fn run(
    meter: &MeterArguments,
    output: &OutputArguments,
    options: TrialOptions,
) -> Result<Status, Failure> {
    let findings = Arc::new(OnceLock::new());
    let task = Task {
        name: trial::NAME,
        kept: Some(CheckKept::Trial(TrialKept::from(&options))),
        check: Some(Box::new(Trial::new(options, Arc::clone(&findings)))),
    };
    let (outcome, met) = meter::run_and_tell(meter, output, task).await?;
    let status = status_of(&outcome);
    // A verdict made doubtful afterwards, as by a port that was lost meanwhile, is not kept.
    if let (Status::Pass, Some(found)) = (status, findings.get()) {
        match met {
            Some(met) => {
                let path = trials::keep(&met, found)?;
                eprintln!(
                    "kept in {}; from now on the checks of this meter reckon with it",
                    path.display()
                );
            }
            None => eprintln!("not kept: a recording is no meter"),
        }
    }
    Ok(status)
}

fn length(text: &str) -> Result<Seconds, String> {
    let trimmed = text.trim().trim_end_matches("ms").trim_end();
    trimmed
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite() && *value > 0.0 && *value <= 10_000.0)
        .map(|value| Seconds(value / 1e3))
        .ok_or_else(|| {
            format!("`{text}` is no length in milliseconds; write it like 5,10,20,50")
        })
}
