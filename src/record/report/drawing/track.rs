//! A control's track from end to end: how much of it was seen, how noisy it is, what is wrong.

use maud::{Markup, html};

use crate::record::report::drawing::{float, mm, point};
use crate::record::report::input::{Track, TrackBin, TrackFault};
use crate::record::report::text;

const WIDTH: f64 = 186.0;
const HEIGHT: f64 = 21.0;
const LEFT: f64 = 18.0;
const RIGHT: f64 = 184.0;
/// Faults stand above, noise grows from the base line, what was seen lies below it.
const FAULTS: f64 = 3.0;
const LIMIT: f64 = 9.0;
const BASE: f64 = 14.0;
const SEEN: f64 = 16.0;

/// The strip.
pub(in crate::record::report) fn track(track: &Track) -> Markup {
    let width = (RIGHT - LEFT) / float(track.bins.len()).max(1.0);
    let placed = || {
        let left = |index: usize| LEFT + float(index) * width;
        track
            .bins
            .iter()
            .enumerate()
            .map(move |(index, bin)| (left(index), bin))
    };
    html! {
        svg.track viewBox={"0 0 " (mm(WIDTH)) " " (mm(HEIGHT))} role="img"
            aria-label={(text::percent(track.coverage())) " of the track seen"} {
            text x="0" y=(mm(FAULTS + 0.6)) font-size="2.4" { "fault" }
            text x="0" y=(mm(LIMIT + 0.8)) font-size="2.4" { (text::ohms(track.noise_limit)) }
            text x="0" y=(mm(BASE)) font-size="2.4" { "noise" }
            text x="0" y=(mm(SEEN + 1.4)) font-size="2.4" { "seen" }
            path d={"M" (point(LEFT, LIMIT)) "H" (mm(RIGHT))} stroke="#000" stroke-width="0.2"
                stroke-dasharray="1 0.8" {}
            path d={"M" (point(LEFT, BASE)) "H" (mm(RIGHT))} stroke="#000" stroke-width="0.2" {}
            path d=(placed().map(|(x, bin)| noise(track, x, width, bin)).collect::<String>())
                fill="#333" {}
            path d=(placed().filter(|(_, bin)| bin.readings > 0)
                .map(|(x, _)| bar(x, width, SEEN, 1.6)).collect::<String>()) fill="#000" {}
            path d=(placed().filter(|(_, bin)| bin.readings == 0)
                .map(|(x, _)| bar(x, width, SEEN, 1.6)).collect::<String>())
                fill="url(#sparse)" stroke="#555" stroke-width="0.1" {}
            @for (x, bin) in placed() {
                @if let Some(fault) = bin.fault { (mark(x + width / 2.0, fault)) }
            }
            text x=(mm(LEFT)) y=(mm(HEIGHT - 0.5)) font-size="2.4" { (text::clean(&track.ends[0])) }
            text x=(mm(RIGHT)) y=(mm(HEIGHT - 0.5)) font-size="2.4" text-anchor="end" {
                (text::clean(&track.ends[1]))
            }
        }
    }
}

/// A bar of noise; the limit stands at a fixed height, and twice of it at the top.
fn noise(track: &Track, x: f64, width: f64, bin: &TrackBin) -> String {
    let Some(noise) = bin.noise.filter(|noise| noise.0 > 0.0) else {
        return String::new();
    };
    let share = noise.0 / track.noise_limit.0;
    let share = if share.is_nan() {
        2.0
    } else {
        share.clamp(0.0, 2.0)
    };
    let height = (share * (BASE - LIMIT)).min(BASE - FAULTS - 1.0);
    bar(x, width, BASE - height, height)
}

fn bar(x: f64, width: f64, top: f64, height: f64) -> String {
    format!(
        "M{}h{}v{}h{}z",
        point(x, top),
        mm(width),
        mm(height),
        mm(-width)
    )
}

/// A cross for an opening that came again, a hollow ring for one that did not, a wave for noise.
fn mark(x: f64, fault: TrackFault) -> Markup {
    let drawn = match fault {
        TrackFault::Again => format!("M{}l2 2m0 -2l-2 2", point(x - 1.0, FAULTS - 1.0)),
        TrackFault::Once => format!("M{}a0.9 0.9 0 1 0 0.01 0z", point(x, FAULTS - 0.9)),
        // A level line for what does not change, a step for what jumps.
        TrackFault::Dead => format!("M{}h2", point(x - 1.0, FAULTS)),
        TrackFault::Jump => format!("M{}h1v-1.6h1", point(x - 1.0, FAULTS + 0.8)),
        TrackFault::Noisy => format!("M{}l0.6 -1.2l0.7 1.8l0.7 -1.2", point(x - 1.0, FAULTS)),
    };
    html! { path d=(drawn) fill="none" stroke="#000" stroke-width="0.4" {} }
}
