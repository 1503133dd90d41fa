//! What was expected as a band, and what was measured as a mark on it.

use maud::{Markup, html};

use crate::reading::Ohms;
use crate::record::report::drawing::{mm, point};
use crate::record::report::input::{Expected, MeasuredValue};
use crate::record::report::text;

const WIDTH: f64 = 56.0;
const HEIGHT: f64 = 9.2;
/// The bar from left to right, and from top to bottom.
const LEFT: f64 = 3.0;
const RIGHT: f64 = 53.0;
const TOP: f64 = 3.4;
const BOTTOM: f64 = 5.8;

/// An axis: where a resistance stands, 0 to 1.
struct Axis {
    place: Box<dyn Fn(f64) -> f64>,
    /// Where the expected begins and ends.
    pass: [f64; 2],
    /// What is neither right nor a fault.
    between: Option<[f64; 2]>,
    /// What is written below it.
    labels: Vec<Ohms>,
    nominal: Option<Ohms>,
}

impl Axis {
    fn of(expected: &Expected) -> Option<Self> {
        let sound = |low: Ohms, high: Ohms| low.0.is_finite() && high.0.is_finite();
        match *expected {
            Expected::AtMost { pass, fail } if sound(pass, fail) && pass.0 > 0.0 => {
                let end = 1.5 * fail.0.max(pass.0);
                Some(Self {
                    place: Box::new(move |ohms| ohms / end),
                    pass: [0.0, pass.0],
                    between: Some([pass.0, fail.0]),
                    labels: vec![Ohms(0.0), pass, fail],
                    nominal: None,
                })
            }
            Expected::AtLeast { pass, fail } if sound(pass, fail) && fail.0 > 0.0 => {
                let low = fail.0.min(pass.0) / 100.0;
                let span = (pass.0 * 10.0 / low).ln();
                Some(Self {
                    place: Box::new(move |ohms| (ohms / low).max(1e-9).ln() / span),
                    pass: [pass.0, f64::INFINITY],
                    between: Some([fail.0, pass.0]),
                    labels: vec![fail, pass],
                    nominal: None,
                })
            }
            Expected::Between { low, nominal, high } if sound(low, high) && low < high => {
                let width = high.0 - low.0;
                let from = (low.0 - width).max(0.0);
                let span = high.0 + width - from;
                Some(Self {
                    place: Box::new(move |ohms| (ohms - from) / span),
                    pass: [low.0, high.0],
                    between: None,
                    labels: vec![low, high],
                    nominal: Some(nominal),
                })
            }
            _ => None,
        }
    }

    /// Millimetres from the left; what lies outside stands at the end.
    fn x(&self, ohms: f64) -> f64 {
        let share = (self.place)(ohms);
        let share = if share.is_nan() {
            0.0
        } else {
            share.clamp(0.0, 1.0)
        };
        LEFT + share * (RIGHT - LEFT)
    }

    /// Whether a value lies on the axis.
    fn shows(&self, ohms: f64) -> bool {
        (0.0..=1.0).contains(&(self.place)(ohms))
    }
}

/// The band; none where only a word is known. What was measured before a repair is a hollow
/// mark, what was measured last a full one.
pub(in crate::record::report) fn band(
    expected: &Expected,
    before: Option<MeasuredValue>,
    measured: MeasuredValue,
) -> Option<Markup> {
    let axis = Axis::of(expected)?;
    let [pass_from, pass_to] = axis.pass.map(|ohms| axis.x(ohms));
    let between = axis.between.map(|ends| ends.map(|ohms| axis.x(ohms)));
    Some(html! {
        svg.band viewBox={"0 0 " (mm(WIDTH)) " " (mm(HEIGHT))} role="img"
            aria-label={"expected " (text::expected(expected))} {
            (zone([LEFT, RIGHT], "url(#dense)"))
            @if let Some(ends) = between {
                (zone(ends, "#fff"))
                (zone(ends, "url(#sparse)"))
            }
            (zone([pass_from, pass_to], "#fff"))
            path d={"M" (point(pass_from, TOP)) "H" (mm(pass_to)) "V" (mm(BOTTOM)) "H"
                (mm(pass_from)) "Z"} fill="none" stroke="#000" stroke-width="0.4" {}
            @if let Some(nominal) = axis.nominal {
                path d={"M" (point(axis.x(nominal.0), TOP)) "V" (mm(BOTTOM))}
                    stroke="#000" stroke-width="0.3" {}
            }
            @for label in labels(&axis) {
                (label)
            }
            @if let Some(before) = before {
                (mark(&axis, before, "#fff", 2.0))
            }
            (mark(&axis, measured, "#000", 1.0))
        }
    })
}

fn zone([from, to]: [f64; 2], fill: &str) -> Markup {
    html! {
        rect x=(mm(from)) y=(mm(TOP)) width=(mm((to - from).max(0.0))) height=(mm(BOTTOM - TOP))
            fill=(fill) {}
    }
}

/// The ends of the zones, written below; one that would cover its neighbour is left out, since
/// the table says it too.
fn labels(axis: &Axis) -> Vec<Markup> {
    const APART: f64 = 13.0;
    let mut last = f64::NEG_INFINITY;
    let mut drawn = Vec::new();
    for label in &axis.labels {
        let x = axis.x(label.0);
        if x - last < APART && label.0 > 0.0 && last > LEFT {
            continue;
        }
        last = x;
        drawn.push(html! {
            text x=(mm(x)) y=(mm(HEIGHT - 0.6)) font-size="2.3" text-anchor="middle" {
                (text::ohms(*label))
            }
        });
    }
    drawn
}

/// What was measured: a mark above its place, an arrow where it lies beyond.
fn mark(axis: &Axis, measured: MeasuredValue, fill: &str, half: f64) -> Markup {
    let (x, open_ended) = match measured {
        MeasuredValue::Value(ohms) => (axis.x(ohms.0), !axis.shows(ohms.0)),
        MeasuredValue::MoreThan(Some(range)) => (axis.x(range.0), true),
        MeasuredValue::MoreThan(None) | MeasuredValue::Nothing => return html! {},
    };
    let back = matches!(measured, MeasuredValue::Value(ohms) if axis.x(ohms.0) <= LEFT);
    let middle = TOP / 2.0 - 0.2;
    html! {
        path d={"M" (point(x, BOTTOM)) "V" (mm(TOP)) "L" (point(x - half, TOP - 2.2 * half.sqrt())) "H" (mm(x + half))
            "L" (point(x, TOP))} fill=(fill) stroke="#000" stroke-width="0.35" {}
        @if open_ended {
            @let (tip, end) = if back { (x - half - 1.6, x - half - 0.2) } else { (x + half + 1.6, x + half + 0.2) };
            path d={"M" (point(end, middle)) "H" (mm(tip)) "M" (point(end.midpoint(tip), middle - 0.6))
                "L" (point(tip, middle)) "L" (point(end.midpoint(tip), middle + 0.6))}
                fill="none" stroke="#000" stroke-width="0.35" {}
        }
    }
}
