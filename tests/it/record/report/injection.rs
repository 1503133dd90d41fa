//! Any text stays text: in HTML by an HTML5 parser, in Markdown by a `CommonMark` parser, in
//! the label by an XML parser. The page must be built alike whatever the text.

use std::sync::LazyLock;

use proptest::prelude::*;
use pulldown_cmark::{Event, Options, Parser, Tag};
use scraper::{Html, Selector};
use steadyohm::record::report::{ReportInput, html, label, markdown};

use super::sample::{compared, single};

/// What has meant something to a browser, a Markdown reader or an XML reader.
pub(super) const SPITEFUL: &[&str] = &[
    "<script>alert(1)</script>",
    "\"><script>alert(1)</script>",
    "' onmouseover='alert(1)",
    "\" onload=\"alert(1)",
    "</title><script>alert(1)</script>",
    "</style><script>alert(1)</script>",
    "<!-- ",
    "--> <![CDATA[ x ]]>",
    "<img src=x onerror=alert(1)>",
    "</svg><svg onload=alert(1)>",
    "</text></svg><b>",
    "&lt;script&gt;&amp;&#60;b&#62;",
    "<?xml version=\"1.0\"?><!DOCTYPE x [<!ENTITY y \"z\">]>",
    "{{7*7}} ${7*7} %s %n",
    "javascript:alert(1)",
    "https://example.org www.example.org a@example.org <https://example.org>",
    "[text](https://example.org) ![text](https://example.org)",
    "| a | b |\n|---|---|\n# heading",
    "`code` *emphasis* __strong__ ~~gone~~ \\",
    "1. one",
    "1)",
    "- [x] done",
    "> quoted",
    "    four spaces",
    "---",
    "[^1]: note",
    "line\r\nafter\u{2028}line\u{85}end",
    "\u{0}\u{1B}[31m\u{7F}\u{FFFE}\u{FDD0}",
    "\u{202E}ssap\u{2066}",
    "'; DROP TABLE runs; --",
];

/// Elements with their attributes' names, in order, without the texts of the drawings, of which
/// some are left out where they have no room.
pub(super) fn skeleton(page: &str) -> Vec<String> {
    let parsed = Html::parse_document(page);
    assert!(parsed.errors.is_empty(), "{:?}", parsed.errors);
    parsed
        .select(&Selector::parse("*").unwrap())
        .filter(|element| element.value().name() != "text")
        .map(|element| {
            let mut names: Vec<&str> = element.value().attrs().map(|(name, _)| name).collect();
            names.sort_unstable();
            format!("{}[{}]", element.value().name(), names.join(" "))
        })
        .collect()
}

/// The pages of a plain text.
static PLAIN: LazyLock<[Vec<String>; 2]> =
    LazyLock::new(|| [single("x"), compared("x")].map(|input| skeleton(&html(&input))));

fn stays_text_in_html(text: &str) {
    let [alone, of_two] = &*PLAIN;
    assert_eq!(&skeleton(&html(&single(text))), alone);
    assert_eq!(&skeleton(&html(&compared(text))), of_two);
}

fn stays_text_in_markdown(input: &ReportInput) {
    means_nothing(&markdown(input));
}

/// Nothing in a Markdown text but headings, lists and tables.
pub(super) fn means_nothing(text: &str) {
    for event in Parser::new_ext(text, Options::all()) {
        let meant = match &event {
            Event::Start(tag) => !matches!(
                tag,
                Tag::Heading { .. }
                    | Tag::List(None)
                    | Tag::Item
                    | Tag::Paragraph
                    | Tag::Table(_)
                    | Tag::TableHead
                    | Tag::TableRow
                    | Tag::TableCell
            ),
            Event::End(_) | Event::Text(_) | Event::SoftBreak => false,
            _ => true,
        };
        assert!(!meant, "{event:?} in\n{text}");
    }
}

fn stays_text_on_the_label(input: &ReportInput) {
    let label = label(input);
    let tree = roxmltree::Document::parse(&label).unwrap();
    let names: Vec<&str> = tree
        .descendants()
        .filter(roxmltree::Node::is_element)
        .map(|node| node.tag_name().name())
        .collect();
    assert_eq!(
        names,
        [
            "svg", "title", "rect", "g", "path", "path", "text", "text", "text", "text", "text"
        ]
        .get(..names.len())
        .unwrap()
    );
    assert!(names.len() >= 10, "{names:?}");
}

#[test]
fn spiteful_texts_stay_text() {
    for text in SPITEFUL {
        stays_text_in_html(text);
        stays_text_in_markdown(&single(text));
        stays_text_in_markdown(&compared(text));
        stays_text_on_the_label(&single(text));
    }
}

/// The check above must be able to fail.
#[test]
fn an_element_that_slipped_in_would_be_seen() {
    let page = html(&single("x"));
    let slipped = page.replacen("<bdi>x</bdi>", "<bdi><b>x</b></bdi>", 1);
    assert_ne!(page, slipped);
    assert_ne!(skeleton(&page), skeleton(&slipped));
}

/// The text of the heading, and what a Markdown reader makes of it.
fn headings(input: &ReportInput) -> [String; 2] {
    let page = Html::parse_document(&html(input));
    let heading = Selector::parse("h1").unwrap();
    let on_page = page.select(&heading).next().unwrap().text().collect();
    let text = markdown(input);
    let mut in_markdown = String::new();
    for event in Parser::new(&text) {
        match event {
            Event::Text(part) => in_markdown.push_str(&part),
            Event::End(pulldown_cmark::TagEnd::Heading(_)) => break,
            _ => {}
        }
    }
    [on_page, in_markdown]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_text_stays_text(text in any::<String>()) {
        prop_assume!(!text.trim().is_empty());
        stays_text_in_html(&text);
        stays_text_in_markdown(&compared(&text));
        stays_text_on_the_label(&single(&text));
    }

    /// A text of plain characters is shown to the letter.
    #[test]
    fn a_plain_text_is_shown_as_it_was_typed(text in "[!-~]([ -~äßΩ✓]{0,40}[!-~])?") {
        // Several spaces in a row are one to a Markdown reader, as on paper.
        let single_spaced = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let [on_page, in_markdown] = headings(&single(&single_spaced));
        let wanted = format!("Lead check: {single_spaced}");
        prop_assert_eq!(on_page, wanted.clone());
        prop_assert_eq!(in_markdown, wanted);
    }
}
