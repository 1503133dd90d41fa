//! Drawings of the page, as SVG inside the HTML. Lengths are in millimetres of paper.
//!
//! No meaning rests on colour: zones differ in hatching, verdicts and faults in shape.

mod band;
mod scale;
mod sign;
mod trace;
mod track;

pub(super) use band::band;
pub(super) use sign::{sign, sign_shape};
pub(super) use trace::trace;
pub(super) use track::track;

use maud::{Markup, html};

/// The hatchings that every drawing of the page uses, once a page.
pub(super) fn patterns() -> Markup {
    html! {
        svg.patterns width="0" height="0" aria-hidden="true" {
            defs {
                pattern #sparse width="1.6" height="1.6" patternUnits="userSpaceOnUse"
                    patternTransform="rotate(45)" {
                    path d="M0 0V1.6" stroke="#555" stroke-width="0.25" {}
                }
                pattern #dense width="0.8" height="0.8" patternUnits="userSpaceOnUse"
                    patternTransform="rotate(-45)" {
                    path d="M0 0V0.8" stroke="#333" stroke-width="0.3" {}
                }
            }
        }
    }
}

/// A length with at most two decimals.
fn mm(length: f64) -> String {
    let text = format!("{length:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// A point of a path.
fn point(x: f64, y: f64) -> String {
    format!("{} {}", mm(x), mm(y))
}

/// A number of things as a length.
fn float(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
