//! How resistances are spread, as bars.

use maud::{Markup, html};

use crate::reading::Ohms;
use crate::record::ledger::Histogram;
use crate::record::report::text;

const WIDTH: f64 = 90.0;
const LEFT: f64 = 22.0;
const RIGHT: f64 = 80.0;
const BAR: f64 = 3.4;

/// The drawing of one step's resistances; its height in millimetres stands beside it.
pub(super) fn bars(histogram: &Histogram) -> Markup {
    let most = histogram.bars.iter().map(|bar| bar.pieces).max();
    let most = float(most.unwrap_or(0).max(1));
    let height = height(histogram);
    html! {
        svg.bars viewBox={"0 0 " (WIDTH) " " (format!("{height:.1}"))} role="img"
            aria-label={"how the resistances of " (text::clean(&histogram.step)) " are spread"} {
            @for (number, bar) in histogram.bars.iter().enumerate() {
                @let top = BAR * float(u64::try_from(number).unwrap_or(0));
                @let width = (RIGHT - LEFT) * float(bar.pieces) / most;
                text x=(LEFT - 1.5) y=(format!("{:.2}", top + 2.4)) font-size="2.4"
                    text-anchor="end" { "from " (text::ohms(Ohms(bar.from_ohms))) }
                rect x=(LEFT) y=(format!("{:.2}", top + 0.4)) width=(format!("{width:.2}"))
                    height=(format!("{:.2}", BAR - 0.8)) fill="#777" {}
                @if bar.pieces > 0 {
                    text x=(format!("{:.2}", LEFT + width + 1.2))
                        y=(format!("{:.2}", top + 2.4)) font-size="2.4" { (bar.pieces) }
                }
            }
            path d={"M" (LEFT) " 0V" (format!("{height:.1}"))} stroke="#111" stroke-width="0.2" {}
        }
    }
}

/// The height of the drawing in millimetres.
pub(super) fn height(histogram: &Histogram) -> f64 {
    BAR * float(u64::try_from(histogram.bars.len()).unwrap_or(0)) + 0.4
}

/// A count as a length.
fn float(count: u64) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
