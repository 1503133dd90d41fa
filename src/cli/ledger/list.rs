//! `steadyohm ledger list`: runs, the newest first.

use clap::Args;

use crate::cli::ledger::out::{self, FormArguments, Lines as _, harmless};
use crate::cli::ledger::select::SelectArguments;
use crate::cli::status::{Failure, Status};
use crate::record::ledger::{Filter, RunLine};
use crate::run::LedgerFile;

/// List runs, the newest first.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm ledger list --tag L-014
  steadyohm ledger list --verdict fail --since 2026-01-01 --until 2026-03-31
  steadyohm ledger list --all --csv > runs.csv")]
pub(super) struct Arguments {
    /// Only this tag.
    #[arg(long, value_name = "NAME")]
    tag: Option<String>,
    /// Only this batch.
    #[arg(long, value_name = "NAME")]
    batch: Option<String>,
    #[command(flatten)]
    select: SelectArguments,
    /// At most so many.
    #[arg(long, value_name = "N", default_value_t = 40)]
    limit: u32,
    /// All of them.
    #[arg(long, conflicts_with = "limit")]
    all: bool,
    #[command(flatten)]
    form: FormArguments,
}

pub(super) fn run(file: &LedgerFile, arguments: &Arguments) -> Result<Status, Failure> {
    let ledger = file.to_read()?;
    let filter = Filter {
        tag: arguments.tag.clone(),
        batch: arguments.batch.clone(),
        ..arguments.select.filter()
    };
    let most = (!arguments.all).then_some(arguments.limit);
    let lines = ledger
        .list(&filter, most)
        .map_err(|error| file.failed(error))?;
    if arguments.form.json {
        out::json(&lines)?;
    } else if arguments.form.csv {
        out::csv(&lines)?;
    } else {
        let count = ledger.count(&filter).map_err(|error| file.failed(error))?;
        let mut text = out::columns(&lines.iter().map(cells).collect::<Vec<_>>());
        let shown = u64::try_from(lines.len()).unwrap_or(u64::MAX);
        if count == 0 {
            text.push_str("no such run\n");
        } else if count > shown {
            text.line(format_args!(
                "the newest {shown} of {count}; --all lists them all"
            ));
        }
        if count > 0 {
            text.push_str(NEXT);
        }
        out::write(&text)?;
    }
    Ok(Status::Pass)
}

/// What can be asked next.
const NEXT: &str = "`steadyohm ledger show RUN` tells all of one, `ledger history TAG` how a lead \
                    changed, `report TAG` makes its page\n";

/// A run in cells.
pub(in crate::cli) fn cells(line: &RunLine) -> Vec<String> {
    let text = |text: &Option<String>| text.as_deref().map_or_else(String::new, harmless);
    let mut about = String::new();
    for (name, value) in [
        ("instrument", &line.instrument),
        ("batch", &line.batch),
        ("lot", &line.lot),
    ] {
        if let Some(value) = value {
            about = format!("{about}  {name} {}", harmless(value));
        }
    }
    if line.made_by.is_some() {
        about.push_str("  (no real meter)");
    }
    vec![
        out::local(&line.began),
        harmless(&line.verdict).to_uppercase(),
        text(&line.tag),
        harmless(&line.kind),
        out::short(line.id),
        about.trim().to_owned(),
    ]
}
