//! What a control's check says to the person at the bench.

use crate::check::pot::stage::{Kind, Stage};
use crate::circuit::control::{Law, Lug, Wiring};
use crate::reading::Ohms;
use crate::signal::sweep::{Direction, Pass, Zone};

/// Which gang, in words before a sentence.
fn gang(stage: &Stage) -> String {
    stage
        .gang
        .map_or_else(String::new, |gang| format!("Gang {gang}: "))
}

/// What a step asks for first.
pub(super) fn ask(stage: &Stage, passes: usize, wiring: Option<Wiring>) -> String {
    let who = gang(stage);
    match stage.kind {
        Kind::Total => format!(
            "{who}put the probes on the two outer lugs, the control turned to a stop. Hold still."
        ),
        Kind::Law => format!(
            "{who}one probe on the wiper (middle lug), one on the lug it reaches when turned \
             down. Turn all the way down, then press Enter."
        ),
        Kind::Sweep(lug) => format!(
            "{who}one probe on the wiper (middle lug), one on the lug it reaches when turned {}. \
             Turn all the way down and wait a second. Then slowly up to the stop, wait, slowly \
             down, wait: {passes} times.",
            match lug {
                Lug::Low => "down",
                Lug::High => "up",
            }
        ),
        Kind::Jack => format!(
            "Probes on tip and sleeve of a known-good lead in the output jack; one pickup \
             selected, {} Turn the volume to zero and wait a second, in which a tone control's \
             capacitor charges. Then slowly up to the stop, wait, slowly down, wait: {passes} \
             times.",
            match wiring {
                Some(Wiring::Independent) => "the other volumes at zero.",
                _ => "the other pickup switched out.",
            }
        ),
    }
}

/// What to do next while turning.
pub(super) fn onward(up: usize, down: usize, needed: usize) -> String {
    let way = if up <= down { "up" } else { "down" };
    format!(
        "{} of {needed} up, {} of {needed} down: slowly {way} to the stop, and wait a second.",
        up.min(needed),
        down.min(needed)
    )
}

/// Parts of the track without a reading.
pub(super) fn not_read(unread: &[Zone]) -> String {
    let width: f64 = unread.iter().map(Zone::width).sum();
    let where_from = unread
        .first()
        .map_or_else(String::new, |zone| format!(", first at {}", zone.words()));
    format!(
        "{:.0} % of the track was not read twice{where_from}",
        100.0 * width
    )
}

/// Once more, slower.
pub(super) fn slower(why: &str) -> String {
    format!("{why}: once more up and down, slower.")
}

/// A second go after something was seen once.
pub(super) fn second_go(what: &str, passes: usize) -> String {
    format!(
        "{what}. Probes steady; the same again, slowly, {passes} times up and down: what comes \
         again is a fault."
    )
}

/// The range is too low for the control.
pub(super) fn range_too_low(ends: Ohms, shows: Ohms) -> String {
    format!(
        "the meter's range ends at {ends}, and the control reads up to {shows}: set the range \
         that shows it, turn all the way down and begin again"
    )
}

/// The range is too coarse to judge by.
pub(super) fn range_too_coarse(step: Ohms, total: Ohms) -> String {
    format!(
        "the last digit is worth {step}, too coarse for 1 % of {total}: set the lowest range \
         that shows the whole control"
    )
}

/// What the passes could not have shown.
pub(super) fn blind(passes: &[Pass]) -> String {
    let each: Vec<String> = passes
        .iter()
        .map(|pass| {
            let zone = |part: Option<f64>| {
                part.map_or_else(
                    || "none".to_owned(),
                    |part| format!("{:.1} %", 100.0 * part),
                )
            };
            format!(
                "{} in {} {} ({} where fastest)",
                pass.direction.words(),
                pass.duration(),
                zone(pass.smallest_zone()),
                zone(pass.sure_zone())
            )
        })
        .collect();
    format!(
        "the smallest zone each pass could have shown, in parts of the track: {}",
        each.join(", ")
    )
}

/// What is tried before a control is replaced.
pub(super) const CLEAN_FIRST: &str = "before replacing it: contact cleaner into the control, turn \
it fully twenty times, sweep again and compare the two recordings (replay --compare); what stays \
at its place is wear";

/// A place on the track in parts of the turn, where the law is known.
pub(super) fn in_turn(zone: &Zone, law: Option<Law>) -> String {
    law.filter(|law| *law != Law::Linear)
        .map_or_else(String::new, |law| {
            format!(
                " of its resistance, {:.0} to {:.0} % of its turn",
                100.0 * law.turn(zone.from),
                100.0 * law.turn(zone.to)
            )
        })
}

/// How many passes each way.
pub(super) fn counted<'a>(passes: impl IntoIterator<Item = &'a Pass>) -> (usize, usize) {
    passes
        .into_iter()
        .fold((0, 0), |(up, down), pass| match pass.direction {
            Direction::Up => (up + 1, down),
            Direction::Down => (up, down + 1),
        })
}
