//! What holds on every screen: it never fails, nothing is told by colour alone, no peak is
//! lost.

use proptest::prelude::*;
use ratatui::style::Color;
use steadyohm::check::notice::Verdict;
use steadyohm::keys::{KEYS, Key, KeyAction, ViewChange};
use steadyohm::reading::{Annunciator, Annunciators, Decimal, Magnitude, Measured, Quantity};
use steadyohm::screen::{Panel, Theme, View};
use steadyohm::session::{Command, Event};

use crate::screen::bench::{Run, blank, closed, over};
use crate::screen::states::{bending, breaking, judged};
use crate::screen::view;

fn any_measured() -> impl Strategy<Value = Measured> {
    let number = (any::<i64>(), any::<i8>())
        .prop_map(|(digits, exponent)| Magnitude::Number(Decimal { digits, exponent }));
    let magnitude = prop_oneof![
        4 => number,
        2 => Just(Magnitude::Over { beyond: None }),
        1 => Just(Magnitude::Blank),
        6 => (0_i64..500).prop_map(|digits| closed(digits).magnitude),
    ];
    let quantity = prop_oneof![
        9 => Just(Quantity::Resistance),
        1 => proptest::sample::select(Quantity::ALL.to_vec()),
    ];
    (quantity, magnitude, proptest::option::of(any::<i8>())).prop_map(
        |(quantity, magnitude, resolution)| Measured {
            quantity,
            magnitude,
            resolution,
            annunciators: Annunciators::NONE,
        },
    )
}

fn any_view() -> impl Strategy<Value = View> {
    let zoom = proptest::sample::select(View::ZOOMS.to_vec());
    (zoom, any::<[bool; 3]>(), 0_u16..100).prop_map(
        |(zoom, [muted, no_color, help], scrolled)| View {
            panel: if help { Panel::Help } else { Panel::Check },
            scrolled,
            zoom,
            muted,
            toneless: muted,
            theme: Theme::from_no_color(no_color),
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn drawing_never_fails(
        readings in proptest::collection::vec(any_measured(), 0..60),
        checked in any::<bool>(),
        stopped in any::<bool>(),
        view in any_view(),
        width in 0_u16..=200,
        height in 0_u16..=70,
    ) {
        let mut run = if checked { Run::lead(crate::simulated::lead_options()) } else { Run::watch() };
        run.read_all(readings);
        if stopped {
            run.command(Command::Quit);
        }
        let shown = run.screen(&view, width, height);
        prop_assert_eq!(shown.backend().buffer().area.width, width);
    }
}

#[test]
fn every_state_can_be_drawn_at_every_size() {
    let runs = [
        bending(),
        breaking(),
        judged(Verdict::Pass),
        judged(Verdict::Retest),
    ];
    for run in &runs {
        for width in (0..=200).step_by(13) {
            for height in (0..=70).step_by(3) {
                run.screen(&view(), width, height);
            }
        }
    }
}

/// Rows of the trace that hold a part of the line, from the top; the row of over-range is 0.
fn rows_with_a_line(text: &str) -> Vec<usize> {
    let rows = text
        .lines()
        .skip_while(|row| !row.contains("trace, last"))
        .skip(1);
    rows.take_while(|row| row.contains('┤'))
        .enumerate()
        .filter(|(_, row)| {
            row.chars()
                .any(|c| ('\u{2801}'..='\u{28ff}').contains(&c) || "▘▝▀".contains(c))
        })
        .map(|(index, _)| index)
        .collect()
}

#[test]
fn a_single_reading_shows_at_every_zoom() {
    for (spike, top_row) in [
        (None, false),
        (Some(closed(140)), false),
        (Some(over(-2)), true),
    ] {
        let mut run = Run::watch();
        run.read_all((0..2000).map(|_| closed(32)));
        run.read_all(spike);
        run.read_all((0..5).map(|_| closed(32)));
        for zoom in View::ZOOMS {
            for (width, height) in [(80, 24), (160, 50)] {
                let text = run.text(&View { zoom, ..view() }, width, height);
                let rows = rows_with_a_line(&text);
                assert_eq!(rows.len() > 1, spike.is_some(), "{zoom} {spike:?}\n{text}");
                assert_eq!(
                    rows.first() == Some(&0),
                    top_row,
                    "{zoom} {spike:?}\n{text}"
                );
            }
        }
    }
}

#[test]
fn a_blank_leaves_a_hole_and_nothing_at_the_top() {
    let mut run = Run::watch();
    run.read_all([closed(32), closed(32), blank(), closed(32)]);
    let rows = rows_with_a_line(&run.text(&view(), 80, 24));
    assert_eq!(rows.len(), 1, "{rows:?}");
}

#[test]
fn a_verdict_is_told_in_words_and_signs_without_colour() {
    let plain = View::new(Theme::from_no_color(true));
    for (verdict, told) in [
        (Verdict::Pass, "✓ lead PASS"),
        (Verdict::Fail, "✗ lead FAIL"),
        (Verdict::Retest, "↻ lead RETEST"),
    ] {
        let run = judged(verdict);
        for (width, height) in [(160, 50), (80, 24), (40, 12), (20, 4)] {
            let text = run.text(&plain, width, height);
            assert!(text.contains(told), "{verdict} at {width}x{height}\n{text}");
        }
    }
}

#[test]
fn without_colour_no_cell_has_one() {
    let help = |theme| View {
        panel: Panel::Help,
        ..View::new(theme)
    };
    let runs = [
        Run::watch(),
        bending(),
        breaking(),
        judged(Verdict::Pass),
        judged(Verdict::Fail),
    ];
    for run in &runs {
        for (no_color, wanted) in [(true, false), (false, true)] {
            let theme = Theme::from_no_color(no_color);
            for view in [View::new(theme), help(theme)] {
                let shown = run.screen(&view, 80, 24);
                let cells = &shown.backend().buffer().content;
                let coloured = cells
                    .iter()
                    .any(|cell| cell.fg != Color::Reset || cell.bg != Color::Reset);
                assert_eq!(coloured, wanted);
            }
        }
    }
}

#[test]
fn what_must_always_be_there_is() {
    for run in [bending(), breaking(), judged(Verdict::Pass), Run::watch()] {
        for (width, height) in [(160, 50), (80, 24)] {
            let text = run.text(&view(), width, height);
            assert!(text.contains("Unplug both ends"), "{text}");
            assert!(text.contains("? help"), "{text}");
            let known = run.session.meter().interval.is_some();
            assert_eq!(text.contains("Blind spot"), known, "{text}");
        }
    }
}

/// Whether a key does something in the help alone.
pub(super) fn in_the_help(key: &Key) -> bool {
    let [further, back] = [ViewChange::Further, ViewChange::Back].map(KeyAction::View);
    key.action == further || key.action == back
}

#[test]
fn all_of_the_help_is_reached_on_the_smallest_usual_screen() {
    let run = bending();
    let mut view = view();
    view.apply(ViewChange::Help);
    let whole = run.text(&view, 80, 50);
    let mut seen = String::new();
    for _ in 0..9 {
        seen.push_str(&run.text(&view, 80, 24));
        view.apply(ViewChange::Further);
    }
    let end = run.text(&view, 80, 24);
    assert!(end.contains("below it B break"), "{end}");
    assert!(!end.contains("more line"), "{end}");
    for line in whole.lines() {
        assert!(seen.contains(line.trim_end()), "{line}\n{seen}");
    }
    for _ in 0..9 {
        view.apply(ViewChange::Back);
    }
    assert!(run.text(&view, 80, 24).contains("this help, and back"));
}

#[test]
fn help_and_footer_print_from_the_table() {
    let mut view = view();
    let run = bending();
    let footer = run.text(&view, 160, 50);
    view.apply(ViewChange::Help);
    let help = run.text(&view, 160, 50);
    let of_a_stock = |key: &&Key| matches!(key.action, KeyAction::Stock(_));
    for key in KEYS.iter().filter(|key| !of_a_stock(key)) {
        assert!(help.contains(key.long), "{}\n{help}", key.name);
        let entry = format!("{} {}", key.name, key.short);
        let shown = if in_the_help(key) { &help } else { &footer };
        assert!(shown.contains(&entry), "{entry}\n{shown}");
    }
    view.apply(ViewChange::Mute);
    assert!(run.text(&view, 160, 50).contains("sound off"));
}

#[test]
fn reasons_that_do_not_fit_are_counted() {
    let text = judged(Verdict::Fail).text(&view(), 60, 13);
    assert!(text.contains("more lines"), "{text}");
}

#[test]
fn the_time_left_of_a_bend_runs_down() {
    let mut run = bending();
    let tick = |run: &Run| run.session.history().tick().unwrap().clone();
    let before = tick(&run);
    while tick(&run) == before {
        run.read(closed(32));
    }
    let bar = |run: &Run| {
        let text = run.text(&view(), 80, 24);
        let row = text.lines().find(|row| row.contains("s more")).unwrap();
        let [filled, empty] = ['█', '─'].map(|part| row.matches(part).count());
        (filled, filled + empty)
    };
    let step = run.session.check().unwrap().view().now.unwrap();
    let period = step.flexing().unwrap().pacing.period;
    let (first, room) = bar(&run);
    run.pass(300_000);
    let (later, _) = bar(&run);
    let gone = 0.3 / period.0 * f64::from(u16::try_from(room).unwrap());
    let seen = f64::from(u16::try_from(first - later).unwrap());
    assert!(
        (gone - seen).abs() <= 1.0,
        "{seen} cells gone, {gone:.1} expected"
    );
}

#[test]
fn every_trouble_is_told_in_its_own_sentence() {
    let mut run = bending();
    run.event(|at| Event::Opened {
        at,
        mid_stream: true,
        caution: Some("the port speaks at another rate".to_owned()),
    });
    let text = run.text(&view(), 160, 50);
    assert!(
        text.contains("note: the port speaks at another rate"),
        "{text}"
    );
    run.read(Measured {
        annunciators: Annunciators::NONE
            .with(Annunciator::Hold)
            .with(Annunciator::LowBattery),
        ..closed(32)
    });
    let text = run.text(&view(), 160, 50);
    for told in ["the meter shows HOLD", "the meter's battery is low"] {
        assert!(text.contains(told), "{told}\n{text}");
    }
    assert!(!text.contains("note:"), "heard over it\n{text}");
    run.read(closed(32));
    let text = run.text(&view(), 160, 50);
    assert!(!text.contains("HOLD or"), "gone with the trouble\n{text}");
}

#[test]
fn what_is_not_ohms_is_not_drawn_as_ohms() {
    let mut run = Run::watch();
    run.read_all((0..20).map(|_| Measured {
        quantity: Quantity::DirectVoltage,
        ..closed(32)
    }));
    let text = run.text(&view(), 80, 24);
    assert_eq!(rows_with_a_line(&text), Vec::<usize>::new(), "{text}");
    assert!(text.contains("the meter is on DC volts"), "{text}");
}
