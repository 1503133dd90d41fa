//! The sign of a verdict, drawn, so that it needs no font: a tick in a ring, a cross in a
//! square, an arrow that turns round. The outlines alone tell them apart.

use maud::{Markup, html};

use crate::check::notice::Verdict;

/// Outline and inner stroke in a square of ten by ten.
pub(in crate::record::report) const fn sign_shape(verdict: Verdict) -> [&'static str; 2] {
    match verdict {
        Verdict::Pass => [
            "M5 0.5A4.5 4.5 0 1 1 5 9.5A4.5 4.5 0 1 1 5 0.5Z",
            "M2.7 5.2L4.4 6.9L7.4 3.2",
        ],
        Verdict::Fail => ["M0.8 0.8H9.2V9.2H0.8Z", "M3 3L7 7M7 3L3 7"],
        Verdict::Retest => ["M8.9 5.6A4 4 0 1 1 7.4 2.2", "M7.9 0.2V2.7H5.4"],
    }
}

/// The sign as a drawing of its own. Its word stands beside it, so it needs no other telling.
pub(in crate::record::report) fn sign(verdict: Verdict) -> Markup {
    let [outline, inner] = sign_shape(verdict);
    html! {
        svg.sign viewBox="0 0 10 10" aria-hidden="true" {
            path d=(outline) fill="none" stroke="#000" stroke-width="0.7" {}
            path d=(inner) fill="none" stroke="#000" stroke-width="1.1" {}
        }
    }
}
