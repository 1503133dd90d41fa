//! Kinds of leads: what their steps can see is tried with every single and every double fault.

use std::fmt::Write as _;

use proptest::prelude::*;
use steadyohm::check::lead::{Lead, LeadOptions, LeadStep, Method, derive, moves, shows};
use steadyohm::check::notice::Wants;
use steadyohm::check::step::Reach;
use steadyohm::circuit::lead::{LeadKind, Wired, WiringFault, faults};

const METHODS: [Method; 2] = [Method::EndToEnd, Method::Loop];

fn built_in() -> Vec<LeadKind> {
    LeadKind::built_in()
        .map(|id| LeadKind::find(id).unwrap())
        .collect()
}

/// What conducts to what, of all contacts, with nothing plugged on.
fn connections(kind: &LeadKind, faults: &[WiringFault]) -> Vec<bool> {
    let wired = Wired::new(kind, &[], faults);
    let contacts: Vec<_> = kind.contacts().collect();
    contacts
        .iter()
        .flat_map(|a| contacts.iter().map(|b| wired.between(*a, *b).0.is_finite()))
        .collect()
}

fn shown(kind: &LeadKind, steps: &[LeadStep], faults: &[WiringFault]) -> bool {
    steps.iter().any(|step| shows(kind, step, faults))
}

#[test]
fn a_sound_lead_shows_nothing() {
    for kind in built_in() {
        for method in METHODS {
            let derived = derive(&kind, method);
            assert!(!shown(&kind, &derived.steps, &[]), "{} {method:?}", kind.id);
        }
    }
}

/// Each single fault is found, or named as not covered: nothing end to end, crossed wires by
/// the far-end short, which joins them.
#[test]
fn every_single_fault_is_found_or_named() {
    for kind in built_in() {
        for method in METHODS {
            let derived = derive(&kind, method);
            let mut unseen = Vec::new();
            for fault in faults(&kind) {
                if !shown(&kind, &derived.steps, &[fault]) {
                    unseen.push(fault);
                }
            }
            assert_eq!(unseen, derived.not_covered, "{} {method:?}", kind.id);
            let gaps = derived.gaps(&kind);
            match method {
                Method::EndToEnd => assert_eq!((unseen.len(), gaps), (0, None), "{}", kind.id),
                Method::Loop => {
                    let crossed =
                        |fault: &WiringFault| matches!(fault, WiringFault::Crossed(..));
                    assert!(
                        !unseen.is_empty() && unseen.iter().all(crossed),
                        "{}",
                        kind.id
                    );
                    for fault in &unseen {
                        assert!(gaps.as_ref().unwrap().contains(&fault.words(&kind)));
                    }
                }
            }
        }
    }
}

/// A fault that comes only while the lead is bent is looked for while it is bent: of the steps
/// that show it, one at least is watched under bending.
#[test]
fn every_fault_covered_at_rest_is_covered_while_bent() {
    for kind in built_in() {
        for method in METHODS {
            let derived = derive(&kind, method);
            let bent: Vec<LeadStep> =
                derived.steps.iter().filter(|s| s.bent).cloned().collect();
            // Wires do not change places when bent.
            let comes_and_goes =
                |fault: &WiringFault| !matches!(fault, WiringFault::Crossed(..));
            for fault in faults(&kind).into_iter().filter(comes_and_goes) {
                assert_eq!(
                    shown(&kind, &bent, &[fault]),
                    shown(&kind, &derived.steps, &[fault]),
                    "{} {method:?}: {}",
                    kind.id,
                    fault.words(&kind)
                );
            }
        }
    }
}

/// Two faults together never hide each other, unless they undo each other: wires crossed at
/// both ends make a lead that is wired as a sound one is.
#[test]
fn no_second_fault_hides_a_covered_one() {
    let mut tried = 0;
    for kind in built_in() {
        let all = faults(&kind);
        let sound = connections(&kind, &[]);
        for method in METHODS {
            let derived = derive(&kind, method);
            for (number, first) in all.iter().enumerate() {
                for second in all.iter().skip(number + 1) {
                    tried += 1;
                    let both = [*first, *second];
                    if shown(&kind, &derived.steps, &both) {
                        continue;
                    }
                    let undone = connections(&kind, &both) == sound;
                    let named = both.iter().all(|one| derived.not_covered.contains(one));
                    assert!(
                        undone || named,
                        "{} {method:?}: {} hides {}",
                        kind.id,
                        first.words(&kind),
                        second.words(&kind)
                    );
                }
            }
        }
    }
    assert!(tried > 700, "{tried} pairs");
}

fn total_moves(steps: &[LeadStep]) -> usize {
    steps
        .iter()
        .zip(steps.iter().skip(1))
        .map(|(from, to)| moves(from.probes, to.probes))
        .sum()
}

fn orders(count: usize) -> Vec<Vec<usize>> {
    if count == 0 {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for order in orders(count - 1) {
        for at in 0..count {
            let mut longer = order.clone();
            longer.insert(at, count - 1);
            all.push(longer);
        }
    }
    all
}

/// Of all orders with the closed steps first, and all ends an isolation can be measured at,
/// none moves fewer probes.
#[test]
fn no_other_order_moves_fewer_probes() {
    for kind in built_in() {
        let steps = derive(&kind, Method::EndToEnd).steps;
        let closed: Vec<&LeadStep> =
            steps.iter().filter(|s| s.wants == Wants::Closed).collect();
        let open: Vec<&LeadStep> = steps.iter().filter(|s| s.wants == Wants::Open).collect();
        let mut fewest = usize::MAX;
        for first in orders(closed.len()) {
            for then in orders(open.len()) {
                let places = kind.plugs.len().pow(u32::try_from(open.len()).unwrap());
                for choice in 0..places {
                    let mut choice = choice;
                    let mut order: Vec<LeadStep> =
                        first.iter().map(|at| closed[*at].clone()).collect();
                    let mut possible = true;
                    for at in &then {
                        let mut step = open[*at].clone();
                        let plug = choice % kind.plugs.len();
                        choice /= kind.plugs.len();
                        let (a, b) = step.apart.unwrap();
                        match (kind.on_plug(a, plug), kind.on_plug(b, plug)) {
                            (Some(a), Some(b)) => step.probes = [a, b],
                            _ => possible = false,
                        }
                        order.push(step);
                    }
                    if possible {
                        fewest = fewest.min(total_moves(&order));
                    }
                }
            }
        }
        assert_eq!(total_moves(&steps), fewest, "{}", kind.id);
    }
}

/// A shielded lead never serves as a speaker lead: said before anything is measured.
#[test]
fn a_kinds_caution_comes_first() {
    let speaker = std::sync::Arc::new(LeadKind::find("speaker").unwrap());
    let caution = speaker.caution.clone().unwrap();
    assert!(caution.contains("never serves as a speaker lead"));
    let check = Lead::new(LeadOptions::of(speaker));
    let told: Vec<bool> = check
        .plans()
        .iter()
        .map(|plan| plan.prompt.contains(&caution))
        .collect();
    assert_eq!(told, [true, false, false]);
}

/// By the far-end short every isolation is reached from a loop that was just seen closed, and
/// nobody has to press a key.
#[test]
fn the_far_end_short_proves_every_contact() {
    for kind in built_in() {
        let steps = derive(&kind, Method::Loop).steps;
        for pair in steps.windows(2) {
            if pair[1].wants == Wants::Open {
                assert_eq!(pair[1].reach, Reach::PullShort);
                assert_eq!(
                    (pair[0].wants, pair[0].probes),
                    (Wants::Closed, pair[1].probes)
                );
                assert_eq!(pair[0].shorted, pair[1].pulled);
            }
        }
        let open = steps
            .iter()
            .filter(|step| step.wants == Wants::Open)
            .count();
        assert_eq!(open, kind.apart().len());
    }
}

/// Terminals by name, which must be joined and which apart: an adapter of a user's own.
const ADAPTER: &str = r#"
title = "adapter from a five-contact socket to three plugs"
isolation_ohms = 20e6
limit_ohms = 1.0
contacts_ohms = 0.5

[[plug]]
name = "socket"
contacts = ["1", "2", "3", "4", "shell"]

[[plug]]
name = "left"
contacts = ["tip", "sleeve"]

[[plug]]
name = "right"
contacts = ["tip", "sleeve"]

[[conductor]]
name = "left"
from = "socket.2"
to = "left.tip"

[[conductor]]
name = "right"
from = "socket.3"
to = "right.tip"

[[conductor]]
name = "left-ground"
from = "socket.1"
to = "left.sleeve"

[[conductor]]
name = "right-ground"
from = "socket.1"
to = "right.sleeve"
"#;

#[test]
fn an_adapter_is_a_description_too() {
    let kind = LeadKind::from_text(ADAPTER, "adapter.toml").unwrap();
    // 1, 2, 3, 4 and the shell: five nets, ten pairs.
    assert_eq!((kind.nets(), kind.apart().len()), (5, 10));
    let derived = derive(&kind, Method::EndToEnd);
    assert_eq!(derived.steps.len(), 4 + 10);
    assert_eq!(derived.not_covered, []);
    // Contact 4 and the shell go nowhere: no loop reaches them, so they are probed by word.
    let by_loop = derive(&kind, Method::Loop);
    let by_word = by_loop
        .steps
        .iter()
        .filter(|step| step.reach == Reach::Confirm);
    assert_eq!(by_word.count(), 7);
}

/// What is said of the adapter with one thing changed.
fn refused(from: &str, to: &str) -> String {
    assert!(ADAPTER.contains(from), "{from}");
    LeadKind::from_text(&ADAPTER.replacen(from, to, 1), "adapter.toml")
        .unwrap_err()
        .to_string()
}

#[test]
fn a_description_is_refused_with_its_line() {
    for (from, to, line, words) in [
        (
            "socket.2",
            "socket.9",
            21,
            "there is no contact \"socket.9\"; there are \"socket.1\"",
        ),
        (
            "title =",
            "titel =",
            2,
            "unknown field `titel`, expected one of `title`",
        ),
        (
            "20e6",
            "200",
            3,
            "isolation_ohms must be 100.0 kΩ or more, not 200",
        ),
        (
            "left.tip\"",
            "socket.4\"",
            22,
            "a conductor joins two plugs",
        ),
        (
            "name = \"right-ground\"",
            "name = \"left\"",
            35,
            "no other conductor's",
        ),
        (
            "name = \"left-ground\"",
            "name = \"loop-ground\"",
            30,
            "names a step",
        ),
        (
            "\"tip\", \"sleeve\"",
            "\"tip\", \"tip\"",
            13,
            "1 to 64 different words",
        ),
        ("name = \"right\"", "name = \"left\"", 16, "no other plug's"),
        (
            "limit_ohms = 1.0",
            "limit_ohms = \"1\"",
            4,
            "invalid type: string",
        ),
    ] {
        let said = refused(from, to);
        let place = format!("adapter.toml, line {line}: ");
        assert!(said.starts_with(&place) && said.contains(words), "{said}");
    }
}

/// The description of a lead with plugs of so many contacts and with wires between any two.
fn description(sizes: &[usize], wires: &[(usize, usize)]) -> String {
    let mut text = String::from(
        "title = \"x\"\nisolation_ohms = 2e7\nlimit_ohms = 2.0\ncontacts_ohms = 0.5\n",
    );
    let mut contacts = Vec::new();
    for (plug, size) in sizes.iter().enumerate() {
        let names: Vec<String> = (0..*size).map(|at| format!("\"c{at}\"")).collect();
        let names = names.join(", ");
        writeln!(text, "[[plug]]\nname = \"p{plug}\"\ncontacts = [{names}]").unwrap();
        contacts.extend((0..*size).map(|at| (plug, at)));
    }
    for (number, (a, b)) in wires.iter().enumerate() {
        let end = |at: &usize| *contacts.iter().cycle().nth(*at).unwrap();
        let (from, to) = (end(a), end(b));
        if from.0 != to.0 {
            writeln!(
                text,
                "[[conductor]]\nname = \"w{number}\"\nfrom = \"p{}.c{}\"\nto = \"p{}.c{}\"",
                from.0, from.1, to.0, to.1
            )
            .unwrap();
        }
    }
    text
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever a lead is made of: one closed step a conductor end to end, one open step a
    /// pair of nets, no name twice, and nothing shows on a sound lead.
    #[test]
    fn any_description_has_its_steps(
        sizes in proptest::collection::vec(1_usize..5, 2..4),
        wires in proptest::collection::vec((0_usize..20, 0_usize..20), 1..8),
    ) {
        let text = description(&sizes, &wires);
        let Ok(kind) = LeadKind::from_text(&text, "any") else {
            // No two contacts of different plugs were joined.
            prop_assert!(!text.contains("[[conductor]]"));
            return Ok(());
        };
        for method in METHODS {
            let derived = derive(&kind, method);
            let open = derived.steps.iter().filter(|step| step.wants == Wants::Open);
            prop_assert_eq!(open.count(), kind.apart().len());
            if method == Method::EndToEnd {
                let closed = derived.steps.iter().filter(|s| s.wants == Wants::Closed);
                prop_assert_eq!(closed.count(), kind.conductors.len());
            }
            let mut names: Vec<&str> = derived.steps.iter().map(|s| s.name.as_str()).collect();
            names.sort_unstable();
            names.dedup();
            prop_assert_eq!(names.len(), derived.steps.len());
            prop_assert!(!shown(&kind, &derived.steps, &[]));
        }
    }
}
