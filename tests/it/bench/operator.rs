//! The operator: follows words, holds bends, keeps to a plan; and slicing changes nothing.

use proptest::prelude::*;
use steadyohm::bench::{
    Bench, BenchSettings, FlexHabit, Hands, Happening, Lead, LeadFault, MeterSettings, Method,
    Opening, OperatorStyle, Ranging, TimedPlan,
};
use steadyohm::check::lead::{LeadStep, derive};
use steadyohm::check::notice::{Notice, Phase, StepBegins, Tick, Wants};
use steadyohm::reading::{Measured, Seconds, Stamp};

use super::{Room, count, is_over, median};

/// What is measured on an instrument lead.
fn steps(method: Method) -> Vec<LeadStep> {
    derive(&crate::simulated::kind("instrument"), method).steps
}

fn flexing(opening: Opening, rate: f64, seed: u64) -> BenchSettings {
    BenchSettings {
        piece: Lead {
            habit: FlexHabit {
                open_chance: 1.0,
                opening,
                chatter: 0,
            },
            ..crate::simulated::lead_with(LeadFault::OpensWhenFlexed(0))
        }
        .into(),
        meter: MeterSettings {
            ranging: Ranging::Fixed(0),
            ..MeterSettings::handheld(rate)
        },
        seed,
        ..crate::simulated::bench_settings()
    }
}

/// A bend held for two intervals and an aperture has a whole aperture inside it; the hands
/// need 0.25 s of the period to get there.
#[test]
fn a_fault_open_while_held_shows_over_range_in_each_bend() {
    for (rate, seed) in [(3.0, 1), (10.0, 2), (40.0, 3)] {
        let settings = flexing(Opening::WhileHeld, rate, seed);
        let meter = settings.meter;
        let period = 2.0 * meter.interval().0 + meter.aperture().0 + 0.25;
        let mut room = Room::new(&settings);
        room.step("tip");
        room.wait(2.0);
        for (index, bend) in room.flex("tip", 60, period).iter().enumerate() {
            assert!(bend.iter().any(is_over), "{rate}/s: bend {index}");
        }
        room.phase("tip", Phase::Settling);
        room.wait(2.0);
        let after = room.wait(2.0);
        assert!((median(&after) - 0.52).abs() <= 0.1, "let go, it closes");
    }
}

/// p(d) = (d + a (1 - 2 f)) / T for openings at a random phase, within 4.5 standard
/// deviations.
#[test]
fn momentary_openings_come_at_every_phase() {
    for (rate, gap, seed) in [(3.0, 0.1, 4), (10.0, 0.01, 5)] {
        let settings = flexing(Opening::Moment(Seconds(gap)), rate, seed);
        let (interval, aperture) = (settings.meter.interval().0, settings.meter.aperture().0);
        let mut room = Room::new(&settings);
        room.step("tip");
        room.wait(2.0);
        let bends = 3_000;
        let threshold = 3.0;
        let raised = |measured: &Measured| {
            is_over(measured) || measured.number().is_some_and(|ohms| threshold <= ohms)
        };
        let hits = (0..bends)
            .filter(|_| {
                // A check ticks when a reading comes; the opening must not keep its beat.
                let to_reading = room.bench.next_at().since(room.at);
                room.wait(to_reading.0);
                room.flex("tip", 1, 1.0).iter().flatten().any(raised)
            })
            .count();
        let (rest, clip) = (0.5226, 440.0);
        let fraction = (threshold - 0.05 - rest) / (clip - rest);
        let p = (gap + aperture * (1.0 - 2.0 * fraction)) / interval;
        let share = count(hits) / f64::from(bends);
        let allowed = 4.5 * (p * (1.0 - p) / f64::from(bends)).sqrt();
        assert!(
            (share - p).abs() < allowed,
            "{rate}/s: {share} seen, {p} due"
        );
    }
}

#[test]
fn openings_longer_than_the_beat_run_into_each_other() {
    let mut room = Room::new(&flexing(Opening::Moment(Seconds(2.0)), 40.0, 13));
    room.step("tip");
    room.wait(2.0);
    let bends = room.flex("tip", 6, 1.0);
    assert!(bends[0].iter().any(|shown| !is_over(shown)));
    assert!(bends[1..].iter().flatten().all(is_over));
    room.phase("tip", Phase::Still);
    let after = room.wait(3.0);
    assert!(is_over(&after[0]) && !is_over(&after[after.len() - 1]));
}

#[test]
fn the_chance_to_open_is_kept() {
    let mut settings = flexing(Opening::WhileHeld, 3.0, 6);
    crate::simulated::lead_of(&mut settings).habit.open_chance = 0.3;
    let mut room = Room::new(&settings);
    room.step("tip");
    room.wait(2.0);
    let bends = 1_000;
    let opened = room
        .flex("tip", bends, 1.5)
        .iter()
        // The way out of the bend before reaches into the first reading.
        .filter(|bend| bend.iter().skip(2).any(is_over))
        .count();
    let opened = count(opened);
    let allowed = 4.5 * (f64::from(bends) * 0.3 * 0.7).sqrt();
    assert!((opened - 300.0).abs() < allowed, "{opened} of {bends}");
}

#[test]
fn chatter_makes_and_parts_within_the_first_milliseconds() {
    let mut settings = flexing(Opening::WhileHeld, 2_000.0, 8);
    crate::simulated::lead_of(&mut settings).habit.chatter = 3;
    let mut room = Room::new(&settings);
    room.step("tip");
    room.wait(2.0);
    let bends = room.flex("tip", 5, 1.0);
    for bend in &bends[1..] {
        let shown: Vec<bool> = bend.iter().map(is_over).collect();
        let parted = shown.windows(2).filter(|pair| !pair[0] && pair[1]).count();
        assert!(parted >= 3, "{parted} times parted");
    }
}

#[test]
fn enter_is_pressed_once_and_after_the_touch() {
    let mut room = Room::with_fault(LeadFault::Short(0, 1), Method::EndToEnd);
    room.step("isolation");
    room.phase("isolation", Phase::Confirm);
    let mut first_number = None;
    let mut confirmed = None;
    while room.bench.next_at() < Stamp::from_seconds(5.0) {
        for happening in room.bench.advance(room.bench.next_at()) {
            match happening {
                Happening::Reading { at, measured } if !is_over(&measured) => {
                    first_number = first_number.or(Some(at));
                }
                Happening::Reading { .. } => {}
                Happening::Confirm { at } => {
                    assert_eq!(confirmed.replace(at), None, "pressed twice");
                }
            }
        }
    }
    let (touched, confirmed) = (first_number.unwrap(), confirmed.unwrap());
    // The first reading with contact ends up to an interval after the touch; the pace is
    // half: 0.2 to 0.45 s for each deed.
    assert!(touched <= confirmed + Seconds(0.34));
    assert!((0.4..0.91).contains(&confirmed.seconds()), "{confirmed:?}");
}

#[test]
fn a_slip_lifts_the_probe_for_half_a_second() {
    let mut settings = flexing(Opening::WhileHeld, 40.0, 9);
    crate::simulated::lead_of(&mut settings).fault = LeadFault::Good;
    settings.hands.slips_at = Some(3);
    let mut room = Room::new(&settings);
    room.step("tip");
    room.wait(2.0);
    let over: Vec<usize> = room
        .flex("tip", 6, 1.0)
        .iter()
        .map(|bend| bend.iter().filter(|measured| is_over(measured)).count())
        .collect();
    // Half a second at forty a second, give or take the readings at its ends.
    assert!((18..=21).contains(&over[2]), "{over:?}");
    assert_eq!(over.iter().sum::<usize>(), over[2]);
}

#[test]
fn asked_again_the_operator_touches_afresh() {
    let mut settings = flexing(Opening::WhileHeld, 40.0, 10);
    crate::simulated::lead_of(&mut settings).fault = LeadFault::Good;
    let mut room = Room::new(&settings);
    room.step("tip");
    room.phase("tip", Phase::Waiting);
    let touched = room.wait(2.0);
    let changes = |shown: &[Measured]| {
        let open: Vec<bool> = shown.iter().map(is_over).collect();
        open.windows(2).filter(|pair| pair[0] != pair[1]).count()
    };
    assert_eq!(changes(&touched), 1, "one touch answers both");
    room.phase("tip", Phase::Waiting);
    assert_eq!(changes(&room.wait(3.0)), 2, "off and on");
    room.step("tip");
    assert_eq!(changes(&room.wait(3.0)), 2, "off and on");
    room.phase("tip", Phase::Lifting);
    let lifted = room.wait(2.0);
    assert!(!is_over(&lifted[0]) && is_over(&lifted[lifted.len() - 1]));
}

#[test]
fn a_slow_start_comes_later_by_that_much() {
    let first_touch = |slow_start| {
        let mut settings = flexing(Opening::WhileHeld, 100.0, 11);
        settings.hands.slow_start = Seconds(slow_start);
        let mut room = Room::new(&settings);
        room.step("tip");
        let touch = room.wait(8.0).iter().position(|shown| !is_over(shown));
        count(touch.unwrap())
    };
    let later = first_touch(5.0) - first_touch(0.0);
    // Five seconds at a hundred a second; the jitter of 2 % averages out.
    assert!((later - 500.0).abs() < 10.0, "{later}");
}

/// Runs of closed (true) and open readings, with their lengths.
fn runs(shown: &[Measured]) -> Vec<(bool, usize)> {
    let mut runs: Vec<(bool, usize)> = Vec::new();
    for measured in shown {
        let closed = measured.number().is_some();
        match runs.last_mut() {
            Some((last, length)) if *last == closed => *length += 1,
            _ => runs.push((closed, 1)),
        }
    }
    runs
}

#[test]
fn a_timed_plan_goes_through_the_lead_and_begins_again() {
    let meter = MeterSettings {
        ranging: Ranging::Fixed(0),
        ..MeterSettings::handheld(10.0)
    };
    for (method, touches) in [(Method::EndToEnd, 2), (Method::Loop, 1)] {
        let plan = TimedPlan::for_meter(steps(method), meter.interval(), meter.aperture(), 10);
        let mut room = Room::new(&BenchSettings {
            meter,
            operator: OperatorStyle::Timed(plan.clone()),
            ..crate::simulated::bench_settings()
        });
        let shown = room.wait(3.0 * plan.length().0);
        let closed: Vec<usize> = runs(&shown)
            .into_iter()
            .filter_map(|(closed, length)| closed.then_some(length))
            .collect();
        assert_eq!(closed.len(), 3 * touches, "{closed:?}");
        let needed = (plan.rest.0 + f64::from(plan.flexes) * plan.tick.0) * 10.0;
        assert!(
            closed.iter().all(|length| count(*length) > needed),
            "{closed:?}"
        );
        assert_eq!(room.confirms, 0);

        // Whatever was going on, the plan starts from its beginning.
        room.wait(plan.lead_in.0 + 2.0);
        let at = room.at;
        room.bench.begin_again(at);
        // The first aperture still reaches back to the touch before.
        let again = runs(&room.wait(plan.length().0)[1..]);
        assert!(!again[0].0, "in the air first");
        let due = plan.lead_in.0 * 10.0;
        assert!((count(again[0].1) - due).abs() <= 2.0, "{again:?}");
        assert!(count(again[1].1) > needed);
    }
}

#[test]
fn a_timed_plan_bends_the_fault_open() {
    let settings = flexing(Opening::WhileHeld, 10.0, 12);
    let meter = settings.meter;
    let plan = TimedPlan {
        tare: true,
        probes: true,
        ..TimedPlan::for_meter(
            steps(Method::EndToEnd),
            meter.interval(),
            meter.aperture(),
            10,
        )
    };
    let mut room = Room::new(&BenchSettings {
        operator: OperatorStyle::Timed(plan.clone()),
        ..settings
    });
    let shown = room.wait(plan.length().0);
    let runs = runs(&shown);
    let closed = runs.iter().filter(|run| run.0).count();
    // Tare, probes and sleeve in one piece each; the tip in one more than there are bends.
    let bends = plan.flexes + plan.margin;
    assert_eq!(closed, 3 + bends as usize + 1, "{runs:?}");
}

/// A whole check, end to end, in words at fixed times.
fn words() -> Vec<(Stamp, Notice)> {
    let mut words = Vec::new();
    let mut at = 0.3;
    for step in ["probes", "tip", "sleeve", "isolation"] {
        let begins = StepBegins {
            step: step.into(),
            wants: Wants::Closed,
            prompt: String::new(),
        };
        words.push((at, Notice::Step(begins)));
        let mut phase = |at, phase| {
            words.push((
                at,
                Notice::Phase {
                    step: step.into(),
                    phase,
                },
            ));
        };
        phase(at, Phase::Waiting);
        if step == "isolation" {
            phase(at + 0.1, Phase::Confirm);
        }
        phase(at + 2.0, Phase::Still);
        phase(at + 2.5, Phase::Flexing);
        at += 3.0;
        for flex in 1..=4 {
            words.push((
                at,
                Notice::Tick(Tick {
                    step: step.into(),
                    flex,
                    of: 4,
                }),
            ));
            at += 0.8;
        }
        words.push((
            at,
            Notice::Phase {
                step: step.into(),
                phase: Phase::Lifting,
            },
        ));
        at += 1.5;
    }
    words
        .into_iter()
        .map(|(at, notice)| (Stamp::from_seconds(at), notice))
        .collect()
}

fn happenings(settings: &BenchSettings, cuts: &[u64]) -> Vec<Happening> {
    let mut cuts: Vec<Stamp> = cuts.iter().copied().map(Stamp::from_micros).collect();
    cuts.sort_unstable();
    let mut bench = Bench::new(settings);
    let mut all = Vec::new();
    let mut cuts = cuts.into_iter().peekable();
    for (at, notice) in words() {
        while let Some(cut) = cuts.next_if(|cut| *cut <= at) {
            all.extend(bench.advance(cut));
        }
        bench.hear(at, &notice);
    }
    for cut in cuts {
        all.extend(bench.advance(cut));
    }
    all.extend(bench.advance(Stamp::from_seconds(40.0)));
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn slicing_the_time_changes_nothing(
        seed in any::<u64>(),
        fault in 0..LeadFault::all(&crate::simulated::kind("instrument")).len(),
        moment in proptest::option::of(0.001..0.5_f64),
        timed in any::<bool>(),
        cuts in proptest::collection::vec(0_u64..40_000_000, 0..60),
    ) {
        let opening = moment.map_or(Opening::WhileHeld, |gap| Opening::Moment(Seconds(gap)));
        let meter = MeterSettings::handheld(10.0);
        let all = LeadFault::all(&crate::simulated::kind("instrument"));
        let plan = TimedPlan::for_meter(steps(Method::Loop), meter.interval(), meter.aperture(), 5);
        let settings = BenchSettings {
            piece: Lead {
                habit: FlexHabit { opening, chatter: 2, ..FlexHabit::default() },
                ..crate::simulated::lead_with(all[fault])
            }
            .into(),
            meter,
            operator: if timed {
                OperatorStyle::Timed(plan.clone())
            } else {
                OperatorStyle::default()
            },
            hands: Hands { slips_at: Some(6), ..Hands::default() },
            seed,
        };
        let whole = happenings(&settings, &[]);
        prop_assert!(whole.len() > 300);
        prop_assert!(whole.windows(2).all(|pair| pair[0].at() <= pair[1].at()));
        prop_assert_eq!(whole, happenings(&settings, &cuts));
    }

    /// What is due next is exactly what comes next.
    #[test]
    fn the_next_time_is_the_next_happening(seed in any::<u64>()) {
        let mut bench = Bench::new(&BenchSettings { seed, ..crate::simulated::bench_settings() });
        for (at, notice) in words() {
            while bench.next_at() <= at {
                let due = bench.next_at();
                let just_before = Stamp::from_micros(due.micros() - 1);
                prop_assert_eq!(bench.advance(just_before), Vec::new());
                let came = bench.advance(due);
                prop_assert!(!came.is_empty());
                prop_assert!(came.iter().all(|happening| happening.at() == due));
            }
            bench.hear(at, &notice);
        }
    }
}
