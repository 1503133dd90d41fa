//! `steadyohm ledger batch`: what a batch came to.

use clap::Args;
use serde::Serialize;

use crate::check::lead;
use crate::cli::input;
use crate::cli::ledger::out::{self, Lines as _, harmless};
use crate::cli::ledger::select::SelectArguments;
use crate::cli::status::{Failure, Status};
use crate::reading::Ohms;
use crate::record::ledger::{BatchFigures, Cause, Filter, Group, Histogram};
use crate::run::LedgerFile;
use crate::signal::{DRAWN_BLINDLY, Noun};

/// Sum up a batch: yield, causes, resistances, by check, length and lot.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm ledger batch spring-stock
  steadyohm ledger batch spring-stock --lot A77 --lot-size 200

A piece is what carries one tag; runs without a tag count as pieces of their own.")]
pub(super) struct Arguments {
    /// The batch; without it, all runs that the filters let through.
    batch: Option<String>,
    /// How many pieces the whole lot has, those checked included: what is proved of it is then
    /// said in numbers.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    lot_size: Option<u32>,
    /// How sure the bound on the bad ones is, in percent.
    #[arg(long, value_name = "PERCENT", default_value = "95", value_parser = input::percent)]
    confidence: f64,
    #[command(flatten)]
    select: SelectArguments,
    /// One JSON object.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(file: &LedgerFile, arguments: &Arguments) -> Result<Status, Failure> {
    let ledger = file.to_read()?;
    let filter = Filter {
        batch: arguments.batch.clone(),
        ..arguments.select.filter()
    };
    let pasts = ledger.pasts(&filter).map_err(|error| file.failed(error))?;
    let figures = BatchFigures::of(&pasts);
    let asked = Asked {
        lot_size: arguments.lot_size,
        confidence: arguments.confidence,
    };
    let proof = Proof::of(&figures, &asked)?;
    if arguments.json {
        out::json(&[Answer { figures, proof }])?;
    } else if pasts.is_empty() {
        out::write("no such run\n")?;
    } else {
        out::write(&text(&figures, proof.as_ref()))?;
    }
    Ok(Status::Pass)
}

/// The answer as JSON.
#[derive(Debug, Serialize)]
struct Answer {
    #[serde(flatten)]
    figures: BatchFigures,
    proof: Option<Proof>,
}

/// What is to be proved.
pub(in crate::cli) struct Asked {
    /// The size of the whole lot, if it is known.
    pub(in crate::cli) lot_size: Option<u32>,
    /// How sure the bound is, 0 to 1.
    pub(in crate::cli) confidence: f64,
}

/// What the pieces checked prove about the others.
#[derive(Debug, Serialize)]
pub(in crate::cli) struct Proof {
    tested: u32,
    failed: u32,
    undecided: u64,
    confidence: f64,
    /// The one-sided bound on the share of bad ones.
    share_at_most: f64,
    /// The two-sided interval for it.
    interval: [f64; 2],
    /// The most bad ones in a lot of the size given, those tested included.
    most_in_lot: Option<u32>,
    /// The same in words.
    pub(in crate::cli) sentences: Vec<String>,
}

impl Proof {
    /// None for simulated runs, which prove nothing, and without a decided piece.
    pub(in crate::cli) fn of(
        figures: &BatchFigures,
        asked: &Asked,
    ) -> Result<Option<Self>, Failure> {
        let tested = figures.all.tested().filter(|tested| tested.tested() > 0);
        let Some(tested) = tested.filter(|_| figures.invented == 0) else {
            return Ok(None);
        };
        let leads = figures
            .groups
            .iter()
            .all(|g| g.kind.as_deref() == Some(lead::NAME));
        let noun = if leads { Noun::LEAD } else { PIECE };
        let confidence = asked.confidence;
        let mut sentences = match asked.lot_size {
            None => vec![
                tested.sentence(noun, confidence),
                tested.interval_sentence(noun, confidence),
            ],
            Some(size) => vec![tested.sentence_in_lot(noun, size, confidence).ok_or_else(|| {
                Failure::Usage(format!(
                    "{} are checked already: --lot-size is the size of the whole lot, those \
                     included",
                    tested.tested()
                ))
            })?],
        };
        sentences.push(DRAWN_BLINDLY.to_owned());
        let undecided = figures.all.undecided;
        if undecided > 0 {
            sentences.push(format!(
                "{undecided} undecided (retest) are not counted: decide them, or the bound is \
                 too good."
            ));
        }
        let interval = tested.interval(confidence);
        Ok(Some(Self {
            tested: tested.tested(),
            failed: tested.failed(),
            undecided,
            confidence,
            share_at_most: tested.upper(confidence),
            interval: [interval.low, interval.high],
            most_in_lot: asked
                .lot_size
                .and_then(|size| tested.most_in_lot(size, confidence)),
            sentences,
        }))
    }
}

/// What is checked, if it is not all leads.
const PIECE: Noun = Noun {
    one: "piece",
    many: "pieces",
};

fn text(figures: &BatchFigures, proof: Option<&Proof>) -> String {
    let all = &figures.all;
    let mut text = out::columns(&[
        cells("pieces", &all.pieces.to_string()),
        cells(
            "passed at the first go",
            &out::share(
                all.passed_first,
                all.pieces,
                all.share_of_pieces(all.passed_first),
            ),
        ),
        cells(
            "pass as they stand now",
            &out::share(
                all.passed_last,
                all.pieces,
                all.share_of_pieces(all.passed_last),
            ),
        ),
        cells(
            "fail as they stand now",
            &out::share(
                all.failed_last,
                all.pieces,
                all.share_of_pieces(all.failed_last),
            ),
        ),
        cells(
            "runs that ended in retest",
            &out::share(all.retests, all.runs, all.retest_rate()),
        ),
    ]);
    if figures.invented > 0 {
        text.line(format_args!(
            "{} of the runs were made without a real meter: they prove nothing about any lead",
            figures.invented
        ));
    }
    if let Some(sentence) = figures.left_out() {
        text.push_str(&out::wrapped(&sentence, "", out::width()));
    }
    for sentence in proof.iter().flat_map(|proof| &proof.sentences) {
        text.push_str(&out::wrapped(sentence, "", out::width()));
    }
    text.push_str(&causes(&figures.causes));
    for histogram in &figures.histograms {
        text.push_str(&bars(histogram));
    }
    if figures.groups.len() > 1 {
        text.push_str(&groups(&figures.groups));
    }
    text
}

fn cells(name: &str, value: &str) -> Vec<String> {
    vec![name.to_owned(), value.to_owned()]
}

/// The longest bar, in characters.
const LONGEST: usize = 40;

/// A bar for so many of at most so many.
fn bar(some: u64, most: u64) -> String {
    let longest = u64::try_from(LONGEST).unwrap_or(0);
    let length = (some * longest).div_ceil(most.max(1));
    "█".repeat(usize::try_from(length).unwrap_or(LONGEST).min(LONGEST))
}

fn causes(causes: &[Cause]) -> String {
    let (Some(first), Some(last)) = (causes.first(), causes.last()) else {
        return String::new();
    };
    let rows: Vec<Vec<String>> = causes
        .iter()
        .map(|cause| {
            vec![
                format!("  {}", harmless(&cause.seen)),
                format!("{:>4}", cause.runs),
                format!("{:>3} %", (100 * cause.up_to_here) / last.up_to_here.max(1)),
                bar(cause.runs, first.runs),
            ]
        })
        .collect();
    format!(
        "\nwhat did not pass, by cause: runs, and the share of all causes up to there\n{}",
        out::columns(&rows)
    )
}

fn bars(histogram: &Histogram) -> String {
    let most = histogram
        .bars
        .iter()
        .map(|bar| bar.pieces)
        .max()
        .unwrap_or(0);
    let rows: Vec<Vec<String>> = histogram
        .bars
        .iter()
        .map(|each| {
            vec![
                format!("  from {}", Ohms(each.from_ohms)),
                format!("{:>4}", each.pieces),
                bar(each.pieces, most),
            ]
        })
        .collect();
    format!(
        "\n{} {}, resistance at rest (median {})\n{}",
        harmless(&histogram.kind),
        harmless(&histogram.step),
        Ohms(histogram.median_ohms),
        out::columns(&rows)
    )
}

fn groups(groups: &[Group]) -> String {
    let mut rows = vec![
        [
            "  check",
            "length",
            "lot",
            "pieces",
            "passed first",
            "pass now",
            "retests",
        ]
        .map(str::to_owned)
        .to_vec(),
    ];
    for group in groups {
        let lot = group
            .lot
            .as_deref()
            .map_or_else(|| "-".to_owned(), harmless);
        let length = group
            .length_m
            .map_or_else(|| "-".to_owned(), |length| format!("{length} m"));
        rows.push(vec![
            format!("  {}", harmless(group.kind.as_deref().unwrap_or_default())),
            length,
            lot,
            group.pieces.to_string(),
            percent(group.share_of_pieces(group.passed_first)),
            percent(group.share_of_pieces(group.passed_last)),
            percent(group.retest_rate()),
        ]);
    }
    format!("\nby check, length and lot\n{}", out::columns(&rows))
}

fn percent(share: Option<f64>) -> String {
    share.map_or_else(|| "-".to_owned(), |share| format!("{:.1} %", 100.0 * share))
}
