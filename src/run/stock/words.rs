//! A stock in plain words.

use crate::check::stock::{Next, Sampling, Tags, Turn, What};
use crate::run::plain::{indented, sign};
use crate::run::stock::Desk;
use crate::screen::Stage;

/// What is to be done.
pub(super) fn beforehand(desk: &Desk) -> String {
    let plan = desk.stock.plan();
    let sampling = plan.sampling.as_ref();
    let sample = sampling.map(Sampling::beforehand).unwrap_or_default();
    let keys = match plan.tags {
        Tags::Typed => "type or scan each tag; :u undo, :p pause, :s skip, :q stop",
        _ => "u undo, p pause, s skip, q stop, each with Enter",
    };
    let kept = match desk.table() {
        Some(path) => format!("kept in {path}"),
        None => "kept nowhere: --record off".to_owned(),
    };
    format!(
        "stock {}: {}\n     {kept}\n     {keys}{}",
        plan.name,
        desk.stock.tally().words().join("; "),
        indented(&sample)
    )
}

/// A lead's turn begins.
pub(super) fn lead(desk: &Desk) -> Option<String> {
    Some(format!("\n{}", named(desk.turn.as_ref()?)))
}

/// `lead A007, 7 of 80, attempt 2`.
fn named(turn: &Turn) -> String {
    let of = turn.of.map_or_else(String::new, |of| format!(" of {of}"));
    let attempt = match turn.attempt {
        1 => String::new(),
        more => format!(", attempt {more}"),
    };
    format!("lead {}, {}{of}{attempt}", turn.tag, turn.number)
}

/// A lead was judged.
pub(super) fn lead_done(desk: &Desk) -> Option<String> {
    let (row, attempt, result) = desk.last()?;
    let next = desk
        .coming()
        .map_or_else(String::new, |tag| format!("\n     next: {tag}"));
    let kept = attempt
        .kept
        .recording
        .as_ref()
        .map_or_else(String::new, |path| format!("\n     kept in {path}"));
    let stands = desk
        .stock
        .standing(&row.tag)
        .and_then(|lead| lead.verdict)
        .filter(|stands| *stands != result.verdict)
        .map_or_else(String::new, |stands| {
            format!(", and stands as {}", stands.word().to_uppercase())
        });
    Some(format!(
        "{} lead {}: {}{stands}{}{kept}\n     {}{next}",
        sign(result.verdict),
        row.tag,
        result.verdict.word().to_uppercase(),
        indented(std::slice::from_ref(&attempt.reasons)),
        desk.stock.tally().words().join("\n     "),
    ))
}

/// A tag is wanted.
pub(super) fn tag_wanted(desk: &Desk) -> String {
    match desk.stock.next() {
        Next::Ask(Some(again)) => format!(
            "\ntype or scan the next tag; Enter alone for {} again",
            again.tag
        ),
        _ => "\ntype or scan the next tag".to_owned(),
    }
}

/// Something was undone, left out, or paused.
pub(super) fn changed(desk: &Desk) -> Option<String> {
    Some(match &desk.changed {
        Some(row) => match row.what {
            What::Undone(_) => format!("undone: {}; it comes again", row.tag),
            What::Skipped | What::Done(_) => format!("left out: {}", row.tag),
        },
        None if desk.stage == Stage::Paused => {
            "paused: nothing is judged; p goes on".to_owned()
        }
        None => return None,
    })
}

/// The verdict on the whole.
pub(super) fn verdict(desk: &Desk) -> String {
    let kept = desk
        .table()
        .map_or_else(String::new, |path| format!("\n     kept in {path}"));
    format!(
        "\n{} stock {}: {}{}{kept}",
        sign(desk.verdict),
        desk.stock.plan().name,
        desk.verdict.word().to_uppercase(),
        indented(&desk.reasons)
    )
}
