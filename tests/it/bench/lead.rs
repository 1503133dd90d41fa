//! The lead against the wire tables, and what each fault reads on a handheld.

use steadyohm::bench::{
    BenchSettings, Handling, Lead, LeadFault, MeterSettings, Method, Probes, Ranging,
};
use steadyohm::check::notice::Phase;
use steadyohm::reading::{Measured, Ohms};

use super::{Room, is_over, median};

/// Ohms per kilometre and the worked values: resistivity of IEC 60028, diameters of ASTM B258
/// (from memory), worked out by hand to four digits.
#[test]
fn copper_is_as_the_wire_tables_say() {
    for (gauge, per_kilometre, metres, one_way, in_series) in [
        (24, 84.21, 3.0, 0.2526, 0.5053),
        (24, 84.21, 6.0, 0.5053, 1.011),
        (22, 52.96, 3.0, 0.1589, 0.3178),
        (26, 133.9, 3.0, 0.4017, 0.8034),
        (28, 212.9, 4.5, 0.9581, 1.916),
        (20, 33.31, 6.0, 0.1998, 0.3997),
        (18, 20.95, 6.0, 0.1257, 0.2514),
        (30, 338.5, 1.0, 0.3385, 0.6771),
    ] {
        let lead = Lead {
            metres,
            core_per_metre: per_kilometre / 1000.0,
            sleeve_per_metre: per_kilometre / 1000.0,
            contact: Ohms(0.0),
            probe_leads: Ohms(0.0),
            ..crate::simulated::lead_with(LeadFault::Good)
        };
        let reads = |probes, far_short| {
            let handling = Handling {
                probes,
                shorted: crate::simulated::far_short(far_short),
                acting: false,
            };
            lead.resistance(handling).0
        };
        for (got, expected) in [
            (reads(crate::simulated::TIPS, false), one_way),
            (reads(crate::simulated::SLEEVES, false), one_way),
            (reads(crate::simulated::NEAR_END, true), in_series),
        ] {
            let off: f64 = got / expected - 1.0;
            // Both sides are rounded to four digits.
            assert!(
                off.abs() < 6e-4,
                "AWG {gauge}, {metres} m: {got}, not {expected}"
            );
        }
        assert!(reads(crate::simulated::NEAR_END, false).is_infinite());
        assert!(reads(Probes::Apart, true).is_infinite());
    }
}

#[test]
fn each_contact_on_the_way_adds_its_own() {
    let lead = Lead {
        metres: 10.0,
        core_per_metre: 0.1,
        sleeve_per_metre: 0.02,
        contact: Ohms(0.03),
        probe_leads: Ohms(0.4),
        ..crate::simulated::lead_with(LeadFault::Good)
    };
    for (probes, far_short, expected) in [
        (Probes::Together, false, 0.4),
        (crate::simulated::TIPS, false, 0.4 + 0.06 + 1.0),
        (crate::simulated::SLEEVES, false, 0.4 + 0.06 + 0.2),
        (
            crate::simulated::NEAR_END,
            true,
            0.4 + 0.06 + 1.0 + 0.2 + 0.06,
        ),
    ] {
        let handling = Handling {
            probes,
            shorted: crate::simulated::far_short(far_short),
            acting: false,
        };
        let got = lead.resistance(handling).0;
        assert!((got - expected).abs() < 1e-12, "{probes:?}: {got}");
    }
    let touching = Lead {
        fault: LeadFault::TouchWhenFlexed(0, 1),
        ..lead
    };
    let handling = Handling {
        probes: crate::simulated::NEAR_END,
        shorted: crate::simulated::far_short(true),
        acting: true,
    };
    // 0.3 ohm beside the 1.26 ohm round the loop.
    let expected = 0.46 + 0.3 * 1.26 / 1.56;
    assert!((touching.resistance(handling).0 - expected).abs() < 1e-12);
}

#[test]
fn fault_words_read_back() {
    let kind = crate::simulated::kind("instrument");
    for fault in LeadFault::all(&kind) {
        assert_eq!(LeadFault::from_word(&fault.word(&kind), &kind), Some(fault));
    }
    assert_eq!(LeadFault::from_word("tip_open", &kind), None);
}

/// What was shown at rest and in each bend.
struct Seen {
    rest: Vec<Measured>,
    bends: Vec<Vec<Measured>>,
}

impl Seen {
    /// How many bends showed over-range.
    fn opened(&self) -> usize {
        self.bends
            .iter()
            .filter(|bend| bend.iter().any(is_over))
            .count()
    }

    /// How many bends showed a number on this side of a limit.
    fn crossed(&self, limit: f64, above: bool) -> usize {
        let beyond = |measured: &Measured| {
            measured
                .number()
                .is_some_and(|ohms| (ohms > limit) == above)
        };
        self.bends
            .iter()
            .filter(|bend| bend.iter().any(beyond))
            .count()
    }

    fn rests_at(&self, ohms: f64) {
        // A count of 0.1 ohm or of a thousandth, whichever is more.
        let off = (median(&self.rest) - ohms).abs();
        assert!(
            off <= (0.001 * ohms).max(0.1),
            "{} not {ohms}",
            median(&self.rest)
        );
    }

    fn rests_open(&self) {
        assert!(self.rest.len() > 3 && self.rest.iter().all(is_over));
    }
}

const BENDS: u32 = 10;

fn measure(room: &mut Room, step: &'static str) -> Seen {
    room.step(step);
    // Six ranges down at three readings a second, after the hands.
    room.wait(4.5);
    room.phase(step, Phase::Still);
    let rest = room.wait(4.0);
    room.phase(step, Phase::Flexing);
    let bends = room.flex(step, BENDS, 1.5);
    if step != "loop" {
        room.phase(step, Phase::Lifting);
        room.wait(2.0);
    }
    Seen { rest, bends }
}

fn end_to_end(fault: LeadFault) -> [Seen; 3] {
    let mut room = Room::with_fault(fault, Method::EndToEnd);
    ["tip", "sleeve", "isolation"].map(|step| measure(&mut room, step))
}

fn opens_often(seen: &Seen) -> bool {
    // At 0.8 a bend, fewer than four of ten come once in 1000 runs (binomial: 0.000 86).
    (4..=10).contains(&seen.opened())
}

#[test]
fn a_good_lead_reads_its_copper_and_stays_put() {
    let [tip, sleeve, isolation] = end_to_end(LeadFault::Good);
    // 0.25 of probe leads, 0.02 of contacts, three metres of copper.
    tip.rests_at(0.25 + 0.02 + 0.2526);
    sleeve.rests_at(0.25 + 0.02 + 0.126);
    isolation.rests_open();
    for seen in [&tip, &sleeve] {
        assert_eq!(seen.opened(), 0);
        assert_eq!(seen.crossed(1.5, true), 0);
    }
    assert_eq!(
        isolation.crossed(f64::INFINITY, false),
        0,
        "no number at all"
    );
}

#[test]
fn an_opening_conductor_reads_well_at_rest() {
    let [tip, sleeve, isolation] = end_to_end(LeadFault::OpensWhenFlexed(0));
    tip.rests_at(0.52);
    assert!(opens_often(&tip), "{}", tip.opened());
    assert_eq!(sleeve.opened(), 0);
    isolation.rests_open();

    let [tip, sleeve, _] = end_to_end(LeadFault::OpensWhenFlexed(1));
    sleeve.rests_at(0.40);
    assert!(opens_often(&sleeve), "{}", sleeve.opened());
    assert_eq!(tip.opened(), 0);
}

#[test]
fn a_parted_conductor_is_open_at_rest() {
    let [tip, sleeve, _] = end_to_end(LeadFault::Open(0));
    tip.rests_open();
    sleeve.rests_at(0.40);
    let [tip, sleeve, _] = end_to_end(LeadFault::Open(1));
    sleeve.rests_open();
    tip.rests_at(0.52);
}

#[test]
fn a_touch_shows_in_isolation_only() {
    let [tip, sleeve, isolation] = end_to_end(LeadFault::TouchWhenFlexed(0, 1));
    assert_eq!(tip.opened() + sleeve.opened(), 0);
    isolation.rests_open();
    // Choosing its range, the meter is still blank on its way down when the bend is let go.
    let touched = isolation
        .bends
        .iter()
        .filter(|bend| !bend.iter().all(is_over))
        .count();
    assert!((4..=10).contains(&touched), "{touched}");

    // Fixed on its highest range, it shows the touch as next to nothing.
    let mut room = Room::new(&BenchSettings {
        piece: crate::simulated::lead_with(LeadFault::TouchWhenFlexed(0, 1)).into(),
        meter: MeterSettings {
            ranging: Ranging::Fixed(5),
            ..MeterSettings::default()
        },
        ..crate::simulated::bench_settings()
    });
    let isolation = measure(&mut room, "isolation");
    isolation.rests_open();
    let touched = isolation.crossed(1e6, false);
    assert!((4..=10).contains(&touched), "{touched}");

    let [_, _, isolation] = end_to_end(LeadFault::Short(0, 1));
    isolation.rests_at(0.25 + 0.02 + 0.3);
}

#[test]
fn a_bad_joint_reads_high_and_a_little_higher_when_bent() {
    let [tip, sleeve, _] = end_to_end(LeadFault::HighResistanceJoint(0));
    tip.rests_at(8.52);
    sleeve.rests_at(0.40);
    assert_eq!(tip.opened(), 0);
    assert_eq!(tip.crossed(9.8, true), 10, "each bend reaches 10.0 ohm");
    assert_eq!(tip.crossed(10.5, true), 0);
}

#[test]
fn moisture_leaks_some_megohms() {
    let [tip, _, isolation] = end_to_end(LeadFault::Leakage(0, 1));
    tip.rests_at(0.52);
    isolation.rests_at(3e6);
    assert_eq!(isolation.opened(), 0);
}

#[test]
fn a_bad_probe_lead_shows_when_it_alone_is_bent() {
    let mut room = Room::with_fault(LeadFault::ProbeLeadOpensWhenFlexed, Method::EndToEnd);
    let seen = measure(&mut room, "probes");
    seen.rests_at(0.25);
    assert!(opens_often(&seen), "{}", seen.opened());
    let mut room = Room::with_fault(LeadFault::OpensWhenFlexed(0), Method::EndToEnd);
    let seen = measure(&mut room, "probes");
    assert_eq!(seen.opened(), 0, "the lead itself lies still");
}

#[test]
fn the_loop_is_closed_and_then_pulled_open() {
    let mut room = Room::with_fault(LeadFault::Good, Method::Loop);
    let closed = measure(&mut room, "loop");
    // Probe leads, two contacts at the near plug, both conductors, two at the far plug.
    closed.rests_at(0.25 + 0.02 + 0.2526 + 0.126 + 0.02);
    assert_eq!(closed.opened(), 0);
    let open = measure(&mut room, "isolation");
    open.rests_open();

    // With a short inside the plug the reading never leaves the ohms: the probes stay on.
    let mut room = Room::with_fault(LeadFault::Short(0, 1), Method::Loop);
    let _closed = measure(&mut room, "loop");
    room.step("isolation");
    let pulled = room.wait(6.0);
    assert!(pulled.iter().all(|measured| measured.number().is_some()));
    let last = &pulled[pulled.len() - 6..];
    assert!((median(last) - 0.57).abs() <= 0.1);
}
