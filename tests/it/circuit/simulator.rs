//! The equations against a general-purpose circuit simulator and against exact fractions:
//! answers kept in `golden.txt`, made by `golden.py` beside it, and the simulator itself where
//! it is installed.
#![expect(
    clippy::disallowed_methods,
    clippy::indexing_slicing,
    reason = "the kept answers and the simulator's are files of a known form"
)]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Command;

use steadyohm::circuit::network::{Branch, Network};
use steadyohm::circuit::{Job, LAYOUTS};

/// The greatest relative difference from the simulator.
const CLOSE: f64 = 1e-9;
/// The greatest relative difference from the exact answers, on all networks.
const EXACT: f64 = 1e-13;

/// One line: `name | from | to | a b ohms; a b ohms; ... | answer | exact answer`.
struct Row {
    name: String,
    from: usize,
    to: usize,
    branches: Vec<Branch>,
    answer: f64,
    exact: f64,
}

fn row(line: &str) -> Row {
    let cells: Vec<&str> = line.split(" | ").collect();
    let branches = cells[3].split("; ").map(|text| {
        let parts: Vec<&str> = text.split(' ').collect();
        let (from, to) = (parts[0].parse().unwrap(), parts[1].parse().unwrap());
        Branch {
            from,
            to,
            ohms: parts[2].parse().unwrap(),
        }
    });
    let number = |at: usize| cells.get(at).map_or(f64::NAN, |text| text.parse().unwrap());
    Row {
        name: cells[0].to_owned(),
        from: cells[1].parse().unwrap(),
        to: cells[2].parse().unwrap(),
        branches: branches.collect(),
        answer: number(4),
        exact: number(5),
    }
}

fn golden() -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/circuit/golden.txt");
    let text = fs::read_to_string(path).unwrap();
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .map(row)
        .collect()
}

fn solved(row: &Row) -> f64 {
    let ends = row.branches.iter().map(|branch| branch.from.max(branch.to));
    let terminals = ends.chain([row.from, row.to]).max().unwrap() + 1;
    let network = Network::new(terminals, row.branches.clone()).unwrap();
    network.resistance(row.from, row.to)
}

#[track_caller]
fn agree(name: &str, found: f64, answer: f64, within: f64) {
    let off = if answer.is_infinite() && found.is_infinite() {
        0.0
    } else {
        ((found - answer) / answer).abs()
    };
    assert!(off < within, "{name}: {found} for {answer}, off by {off:e}");
}

/// The network of every layout in every state as lines without an answer.
fn layout_lines() -> String {
    let mut lines = String::new();
    for layout in LAYOUTS {
        let job = Job::from_text(layout.text, layout.id).unwrap();
        let circuit = job.circuit();
        let [tip, sleeve] = circuit.jack();
        for state in circuit.states() {
            let network = circuit.network(&state);
            let closed = network
                .branches()
                .iter()
                .filter(|branch| branch.ohms.is_finite());
            let branches: Vec<String> = closed
                .map(|branch| format!("{} {} {}", branch.from, branch.to, branch.ohms))
                .collect();
            let branches = branches.join("; ");
            for (end, from) in [("tip", Some(tip)), ("ring", circuit.ring())] {
                let Some(from) = from else { continue };
                let set = circuit.describe(&state);
                let name = format!("{}: {end}: {set}", layout.id);
                writeln!(lines, "{name} | {from} | {sleeve} | {branches}").unwrap();
            }
        }
    }
    lines
}

/// What `golden.py` is given.
#[test]
fn layout_networks() {
    insta::assert_snapshot!(layout_lines());
}

#[test]
fn the_kept_answers() {
    let rows = golden();
    for row in &rows {
        agree(&row.name, solved(row), row.answer, CLOSE);
        agree(&row.name, solved(row), row.exact, EXACT);
    }
    let random = rows
        .iter()
        .filter(|row| row.name.starts_with("random"))
        .count();
    assert!(random >= 200, "only {random} random networks");
    // Every layout in every state is among them, as it is now.
    for line in layout_lines().lines() {
        let wanted = row(line);
        let kept = rows.iter().find(|row| row.name == wanted.name);
        let kept = kept.unwrap_or_else(|| panic!("no kept answer for {}", wanted.name));
        assert_eq!(
            kept.branches, wanted.branches,
            "{} has changed",
            wanted.name
        );
    }
}

/// The simulator itself, where it is installed; the kept answers stand for it elsewhere.
#[test]
fn the_simulator_where_it_is_installed() {
    if Command::new("ngspice").arg("--version").output().is_err() {
        return;
    }
    let rows: Vec<Row> = golden()
        .into_iter()
        .filter(|row| row.answer.is_finite())
        .collect();
    let mut deck = String::from("networks, each with 1 A from one probe to the other\n");
    for (number, row) in rows.iter().enumerate() {
        let node = |end: usize| {
            if end == row.to {
                "0".to_owned()
            } else {
                format!("n{number}_{end}")
            }
        };
        writeln!(deck, "i{number} 0 {} 1", node(row.from)).unwrap();
        let joined = joined(row);
        for (at, branch) in row.branches.iter().enumerate() {
            if branch.from == branch.to || !joined.contains(&branch.from) {
                continue;
            }
            let (from, to) = (node(branch.from), node(branch.to));
            let part = format!("{number}_{at}");
            if branch.ohms < 10.0 {
                // A joint as a law of its current keeps digits that its siemens would cost.
                writeln!(deck, "v{part} {from} m{part} 0").unwrap();
                writeln!(deck, "h{part} m{part} {to} v{part} {:e}", branch.ohms).unwrap();
            } else {
                writeln!(deck, "r{part} {from} {to} {:e}", branch.ohms).unwrap();
            }
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let raw = folder.path().join("answers.raw");
    let control = "set filetype=ascii\nop\nwrite answers.raw all\nquit";
    write!(deck, ".control\n{control}\n.endc\n.end\n").unwrap();
    fs::write(folder.path().join("deck.cir"), deck).unwrap();
    let run = Command::new("ngspice")
        .args(["-b", "deck.cir"])
        .current_dir(folder.path())
        .output()
        .unwrap();
    let answers = fs::read_to_string(raw)
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&run.stderr)));
    let volts = volts(&answers);
    for (number, row) in rows.iter().enumerate() {
        let answer = volts[&format!("v(n{number}_{})", row.from)];
        agree(&row.name, solved(row), answer, CLOSE);
    }
}

/// The terminals that a path joins to the first probe: the simulator knows no islands.
fn joined(row: &Row) -> std::collections::BTreeSet<usize> {
    let mut joined = std::collections::BTreeSet::from([row.from]);
    loop {
        let before = joined.len();
        for branch in &row.branches {
            if joined.contains(&branch.from) || joined.contains(&branch.to) {
                joined.extend([branch.from, branch.to]);
            }
        }
        if joined.len() == before {
            return joined;
        }
    }
}

/// Names and values of a raw file in ASCII.
fn volts(raw: &str) -> std::collections::BTreeMap<String, f64> {
    let (head, values) = raw.split_once("Values:\n").unwrap();
    let (_, variables) = head.split_once("Variables:\n").unwrap();
    let names = variables
        .lines()
        .filter_map(|line| line.split_whitespace().nth(1));
    let values = values.lines().filter(|line| !line.trim().is_empty());
    let values = values.map(|line| line.split_whitespace().last().unwrap().parse().unwrap());
    names.map(str::to_owned).zip(values).collect()
}
