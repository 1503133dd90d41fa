//! The equations: against laws that hold for every network, and against themselves built anew.

use proptest::prelude::*;
use steadyohm::circuit::network::{Branch, Edit, Network, NetworkError};

fn network(terminals: usize, branches: &[(usize, usize, f64)]) -> Network {
    let branches = branches
        .iter()
        .map(|&(from, to, ohms)| Branch { from, to, ohms });
    Network::new(terminals, branches.collect()).unwrap()
}

/// Ohms of every kind: joints, windings, tracks, opens and joined ends.
fn ohms() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => 0.01..0.1_f64,
        4 => 1e3..2e4_f64,
        4 => 1e5..1e6_f64,
        1 => Just(f64::INFINITY),
    ]
}

fn any_network() -> impl Strategy<Value = Network> {
    (2_usize..14).prop_flat_map(|terminals| {
        let branch = (0..terminals, 0..terminals, ohms());
        let branches = proptest::collection::vec(branch, 1..26);
        branches.prop_map(move |branches| network(terminals, &branches))
    })
}

fn any_edit() -> impl Strategy<Value = Edit> {
    let size = prop_oneof![2 => Just(f64::INFINITY), 3 => ohms()];
    prop_oneof![
        (0_usize..26, size).prop_map(|(branch, ohms)| Edit::Set { branch, ohms }),
        (0_usize..14, 0_usize..14).prop_map(|(from, to)| Edit::Bridge {
            from,
            to,
            ohms: 0.05
        }),
    ]
}

#[track_caller]
fn same(found: f64, wanted: f64, part: f64) {
    assert_eq!(
        found.is_infinite(),
        wanted.is_infinite(),
        "{found} for {wanted}"
    );
    if wanted.is_finite() {
        let off = (found - wanted).abs();
        assert!(
            off <= part * wanted.abs() + 1e-12,
            "{found} is not {wanted}: off by {off:e}"
        );
    }
}

#[test]
fn series_parallel_and_bridge() {
    // Ohm's and Kirchhoff's laws, by hand.
    let series = network(3, &[(0, 1, 100.0), (1, 2, 50.0)]);
    same(series.resistance(0, 2), 150.0, 1e-15);
    let parallel = network(2, &[(0, 1, 5700.0), (0, 1, 8000.0)]);
    same(parallel.resistance(0, 1), 5700.0 * 8000.0 / 13700.0, 1e-15);
    // An unbalanced bridge; 1 to 5 ohm round the ring and across: 1.4 ohm by delta and star.
    let bridge = network(
        4,
        &[
            (0, 1, 1.0),
            (0, 2, 1.0),
            (1, 3, 2.0),
            (2, 3, 1.0),
            (1, 2, 1.0),
        ],
    );
    // Delta 0-1-2 of three 1 ohm is a star of 1/3 each: 1/3 + (7/3 x 4/3)/(11/3).
    same(
        bridge.resistance(0, 3),
        1.0 / 3.0 + (7.0 / 3.0 * 4.0 / 3.0) / (11.0 / 3.0),
        1e-15,
    );
}

#[test]
fn a_cube_of_one_ohm_edges() {
    // The resistances of a cube of 1 ohm edges: 7/12, 3/4 and 5/6 ohm (a puzzle of the
    // textbooks, from memory).
    let mut edges = Vec::new();
    for corner in 0..8_usize {
        for axis in [1, 2, 4] {
            if corner & axis == 0 {
                edges.push((corner, corner | axis, 1.0));
            }
        }
    }
    let cube = network(8, &edges);
    same(cube.resistance(0, 1), 7.0 / 12.0, 1e-14);
    same(cube.resistance(0, 3), 3.0 / 4.0, 1e-14);
    same(cube.resistance(0, 7), 5.0 / 6.0, 1e-14);
}

#[test]
fn opens_islands_and_joined_ends() {
    let islands = network(4, &[(0, 1, 10.0), (2, 3, 10.0)]);
    assert!(islands.resistance(0, 3).is_infinite());
    same(islands.resistance(2, 3), 10.0, 0.0);
    same(islands.resistance(1, 1), 0.0, 0.0);
    assert!(islands.resistance(0, 9).is_infinite());
    let open = network(3, &[(0, 1, f64::INFINITY), (1, 2, 5.0)]);
    assert!(open.resistance(0, 2).is_infinite());
    // Two zeros side by side, and a loop of zeros.
    let joined = network(
        4,
        &[
            (0, 1, 0.0),
            (0, 1, 0.0),
            (1, 2, 0.0),
            (2, 0, 0.0),
            (2, 3, 7.0),
        ],
    );
    same(joined.resistance(0, 2), 0.0, 0.0);
    same(joined.resistance(0, 3), 7.0, 0.0);
    let alone = network(2, &[]);
    assert!(alone.resistance(0, 1).is_infinite());
}

#[test]
fn what_is_no_network_is_refused() {
    let branch = |to, ohms| vec![Branch { from: 0, to, ohms }];
    assert_eq!(
        Network::new(2, branch(2, 1.0)).unwrap_err().to_string(),
        "branch 0 ends at terminal 2, and there are 2"
    );
    for ohms in [-1.0, f64::NAN, f64::NEG_INFINITY] {
        let refused = Network::new(2, branch(1, ohms)).unwrap_err();
        assert!(matches!(
            refused,
            NetworkError::NotAResistance { branch: 0, .. }
        ));
    }
}

#[test]
fn an_opened_joint_beside_half_a_megohm_keeps_its_digits() {
    // 20 milliohm across 500 kilohm: opening it must leave 500 kilohm, to the last digits,
    // where a node matrix would have lost them.
    let joint = network(3, &[(0, 1, 0.02), (0, 1, 5e5), (1, 2, 8e3)]);
    let solved = joint.solve();
    let port = solved.port(0, 2).unwrap();
    let opened = solved.thing(Edit::Set {
        branch: 0,
        ohms: f64::INFINITY,
    });
    same(
        solved.response([0, 2], Some(&port), &[&opened]).ohms,
        508e3,
        1e-14,
    );
}

/// What currents would change: their squares add up to the ohms (energy).
fn energy(network: &Network, currents: &[f64]) -> f64 {
    let lost = network
        .branches()
        .iter()
        .zip(currents)
        .map(|(branch, amperes)| {
            if branch.ohms.is_finite() {
                branch.ohms * amperes * amperes
            } else {
                0.0
            }
        });
    lost.sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn it_does_not_matter_which_probe_is_where(network in any_network()) {
        let last = network.terminals() - 1;
        let there = network.resistance(0, last);
        prop_assert!(!there.is_nan() && there >= 0.0);
        same(network.resistance(last, 0), there, 1e-12);
        // Reciprocity: a volt in branch 0 drives through branch 1 what a volt in branch 1
        // drives through branch 0; seen by opening both in either order.
        let solved = network.solve();
        let open = |branch| solved.thing(Edit::Set { branch, ohms: 3.0 });
        let (one, other) = (open(0), open(1));
        let port = solved.port(0, last);
        let forth = solved.response([0, last], port.as_ref(), &[&one, &other]).ohms;
        let back = solved.response([0, last], port.as_ref(), &[&other, &one]).ohms;
        same(forth, back, 1e-6);
    }

    /// Rayleigh: raising one resistance never lowers that between two terminals.
    #[test]
    fn more_resistance_never_reads_less(
        network in any_network(), branch in 0_usize..26, more in 1.0..1e6_f64,
    ) {
        let last = network.terminals() - 1;
        let Some(now) = network.branches().get(branch).map(|branch| branch.ohms) else {
            return Ok(());
        };
        let before = network.resistance(0, last);
        for ohms in [now + more, f64::INFINITY] {
            let after = network.edited(&[Edit::Set { branch, ohms }]).resistance(0, last);
            prop_assert!(after >= before * (1.0 - 1e-12), "{after} after {before}");
        }
    }

    /// Steps on one factorisation against a network built anew.
    #[test]
    fn faults_step_to_what_a_fresh_solution_finds(
        network in any_network(), edits in proptest::collection::vec(any_edit(), 0..4),
    ) {
        let solved = network.solve();
        let things: Vec<_> = edits.iter().map(|edit| solved.thing(*edit)).collect();
        let things: Vec<_> = things.iter().collect();
        let edited = network.edited(&edits);
        for from in 0..network.terminals() {
            let ends = [from, network.terminals() - 1];
            let port = solved.port(ends[0], ends[1]);
            let found = solved.response(ends, port.as_ref(), &things);
            same(found.ohms, edited.resistance(ends[0], ends[1]), 1e-6);
            prop_assert!(found.currents.iter().chain(&found.own).all(|at| at.is_finite()));
            if found.ohms.is_finite() {
                // Through the branches as they are, and through the edits' own.
                let fresh = edited.solve().port(ends[0], ends[1]).unwrap();
                for (at, wanted) in found.currents.iter().zip(fresh.currents()) {
                    prop_assert!((at - wanted).abs() < 1e-6, "{at} A for {wanted} A");
                }
            }
        }
    }

    /// Tellegen: the power into a port is the power lost in the branches, and the square of a
    /// branch's current is the slope of the port's ohms in that branch's (Cohn).
    #[test]
    fn currents_are_slopes(network in any_network(), branch in 0_usize..26) {
        let last = network.terminals() - 1;
        let solved = network.solve();
        let (Some(port), Some(found)) = (solved.port(0, last), network.branches().get(branch))
        else {
            return Ok(());
        };
        same(energy(&network, port.currents()), port.ohms(), 1e-9);
        if found.ohms.is_finite() {
            let step = 1e-5 * found.ohms;
            let at = |ohms| network.edited(&[Edit::Set { branch, ohms }]).resistance(0, last);
            let slope = (at(found.ohms + step) - at(found.ohms - step)) / (2.0 * step);
            let square = port.currents()[branch].powi(2);
            let noise = 1e-10 * port.ohms() / step;
            prop_assert!((slope - square).abs() < 1e-5 + noise, "{slope} for {square}");
        }
    }
}
