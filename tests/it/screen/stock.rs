//! A stock on the screen: in a lead, between leads, at its end; at two sizes and at any.

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use steadyohm::check::notice::{CheckResult, Verdict};
use steadyohm::check::stock::{Kept, Next, Stock, Turn};
use steadyohm::keys::{KEYS, ViewChange};
use steadyohm::screen::{Stage, StockView, View, draw_stock};

use crate::screen::bench::{Run, over};
use crate::screen::properties::in_the_help;
use crate::screen::states::{bending, judged};
use crate::screen::{SIZES, view};
use crate::stock::plan;

fn result(verdict: Verdict, findings: &[&str]) -> CheckResult {
    CheckResult {
        check: "lead",
        verdict,
        reasons: vec!["tip: closed at 0.180 Ω, at most 2.000 Ω wanted".to_owned()],
        findings: findings.iter().map(|&finding| finding.to_owned()).collect(),
        not_covered: None,
        steps: Vec::new(),
        blind_spot: None,
        meter_heard: true,
    }
}

/// A stock of nine with some of each verdict.
fn some_done(tags: &str) -> Stock {
    let mut stock = Stock::new(plan(tags));
    for (tag, verdict, findings) in [
        ("A1", Verdict::Pass, &[][..]),
        ("A2", Verdict::Fail, &["tip opens when bent"]),
        ("A3", Verdict::Retest, &["leakage between tip and sleeve"]),
        ("A4", Verdict::Fail, &["tip opens when bent", "sleeve open"]),
    ] {
        stock.finish(tag, &result(verdict, findings), Kept::default());
    }
    stock
}

fn shown(run: &Run, stock: &StockView<'_>, size: (u16, u16)) -> String {
    shown_as(&view(), run, stock, size)
}

fn shown_as(
    view: &View,
    run: &Run,
    stock: &StockView<'_>,
    (width, height): (u16, u16),
) -> String {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal
        .draw(|frame| draw_stock(frame, (&run.session, stock), view, run.now()))
        .unwrap();
    terminal.backend().to_string()
}

/// Its name, session and stock, the lead under way, where it is, what is typed.
type State = (&'static str, Run, Stock, Option<Turn>, Stage, &'static str);

/// The states of a stock, each with its session.
fn states() -> Vec<State> {
    let between = || {
        let mut run = Run::watch();
        run.read_all([over(4), over(4)]);
        run
    };
    let counted = some_done("A1..A9");
    let Next::Lead(turn) = counted.next() else {
        panic!("a lead is left");
    };
    let mut done = Stock::new(plan("A1..A1"));
    done.finish("A1", &result(Verdict::Pass, &[]), Kept::default());
    let typed = some_done("typed");
    vec![
        (
            "lead",
            bending(),
            counted.clone(),
            Some(turn),
            Stage::Lead,
            "",
        ),
        (
            "lift",
            judged(Verdict::Pass),
            counted.clone(),
            None,
            Stage::Lift,
            "",
        ),
        ("tag", between(), typed, None, Stage::Tag, "40063"),
        (
            "paused",
            between(),
            counted.clone(),
            None,
            Stage::Paused,
            "",
        ),
        ("lost", between(), counted, None, Stage::Lost, ""),
        ("over", between(), done, None, Stage::Over, ""),
    ]
}

#[test]
fn each_state_of_a_stock_is_shown() {
    for (name, run, stock, turn, stage, typed) in states() {
        let view = StockView {
            stock: &stock,
            turn: turn.as_ref(),
            stage,
            typed,
            ahead: &[],
            last: None,
        };
        for size in SIZES {
            let (width, height) = size;
            insta::with_settings!({snapshot_path => "../snapshots"}, {
                insta::assert_snapshot!(
                    format!("{name}_{width}x{height}"),
                    shown(&run, &view, size)
                );
            });
        }
        for width in 1..90 {
            for height in [1, 2, 5, 11, 24, 40] {
                shown(&run, &view, (width, height));
            }
        }
    }
}

#[test]
fn help_and_footer_of_a_stock_have_its_keys() {
    let (_, run, stock, turn, stage, _) = states().remove(0);
    let stock = StockView {
        stock: &stock,
        turn: turn.as_ref(),
        stage,
        typed: "",
        ahead: &[],
        last: None,
    };
    let mut view = view();
    let footer = shown_as(&view, &run, &stock, (160, 50));
    view.apply(ViewChange::Help);
    let help = shown_as(&view, &run, &stock, (160, 50));
    for key in KEYS {
        assert!(help.contains(key.long), "{}\n{help}", key.name);
        let entry = format!("{} {}", key.name, key.short);
        let shown = if in_the_help(key) { &help } else { &footer };
        assert!(shown.contains(&entry), "{entry}\n{shown}");
    }
}

#[test]
fn a_small_screen_still_tells_the_lead_and_the_next() {
    let (_, run, stock, turn, stage, _) = states().remove(0);
    let view = StockView {
        stock: &stock,
        turn: turn.as_ref(),
        stage,
        typed: "",
        ahead: &[],
        last: None,
    };
    let text = shown(&run, &view, (40, 10));
    assert!(text.contains("now A5"), "{text}");
    assert!(text.contains("next A6"), "{text}");
    assert!(text.contains("5 left"), "{text}");
}
