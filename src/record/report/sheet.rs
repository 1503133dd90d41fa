//! What every page is: one HTML file with nothing outside it.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::record::report::drawing;

const STYLE: &str = include_str!("page.css");
/// What the pages of several pieces need besides.
const OF_SEVERAL: &str = include_str!("several.css");

/// The page may load nothing and run nothing (Content Security Policy Level 3).
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

/// A page with this title; `class` tells the style which kind of page it is.
pub(super) fn sheet(title: &str, class: Option<&str>, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style {
                    (PreEscaped(STYLE))
                    @if class.is_some() { (PreEscaped(OF_SEVERAL)) }
                }
            }
            body class=[class] {
                (drawing::patterns())
                p.hint {
                    "Print this page from the browser, to paper (A4 or Letter) or to a PDF file."
                }
                (body)
            }
        }
    };
    page.into_string()
}
