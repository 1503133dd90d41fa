//! What the ledger makes of recordings that were cut, of runs that were stopped, and of digits.

use std::fs;
use std::path::Path;

use steadyohm::bench::LeadFault;

use super::{lead, ledger, runs, says_all};
use crate::cli::driver::Scene;
use crate::cli::{event, json, ran_in};

const OWN: [&str; 2] = ["--ledger", "own.sqlite"];

/// The table of the only recording, by its ledger.
fn table(home: &Path) -> std::path::PathBuf {
    let kept = runs(home, "own.sqlite");
    let line = kept.values().next().unwrap();
    home.join(line["recording"].as_str().unwrap())
}

#[test]
fn a_recording_that_was_cut_is_seen() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    lead(home, &["--json", "--record", "kept", OWN[0], OWN[1]]);
    let table = table(home);
    let check = || ledger(home, &["check", OWN[0], OWN[1]]);
    assert_eq!(check().status, Some(0), "{:?}", check());
    let whole = fs::read(&table).unwrap();
    let raw = fs::read(table.with_extension("bin")).unwrap();

    let cut = |told: &[&str]| {
        let ran = check();
        assert_eq!(ran.status, Some(1), "{ran:?}");
        let name = table.file_name().unwrap().to_str().unwrap();
        says_all(&ran.said, &[name, "from a copy"]);
        says_all(&ran.said, told);
        let page = ran_in(home, &["report", table.to_str().unwrap()], "").said;
        says_all(&page, &["The recording is not whole"]);
        let rebuilt = ledger(home, &["rebuild", OWN[0], OWN[1]]);
        says_all(&rebuilt.complaint, told);
    };
    fs::write(&table, &whole[..whole.len() / 2]).unwrap();
    cut(&["rows are left"]);
    // The last row alone, cut in its middle.
    fs::write(&table, &whole[..whole.len() - 3]).unwrap();
    cut(&["rows are left"]);
    fs::write(&table, &whole).unwrap();
    fs::write(table.with_extension("bin"), &raw[..raw.len() - 1]).unwrap();
    cut(&["raw bytes beside it are left"]);
    fs::write(table.with_extension("bin"), &raw).unwrap();
    assert_eq!(check().status, Some(0), "{:?}", check());
}

/// Older recordings do not say how much was kept: they end with the mark of an end.
#[test]
fn an_older_recording_that_was_cut_is_seen_by_its_end() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    fs::create_dir(home.join("kept")).unwrap();
    for ending in ["csv", "json"] {
        let golden = format!(
            "{}/recordings/lead-good.{ending}",
            env!("CARGO_MANIFEST_DIR")
        );
        fs::copy(golden, home.join("kept/lead").with_extension(ending)).unwrap();
    }
    ledger(home, &["rebuild", OWN[0], OWN[1], "--from", "kept"]);
    let check = || ledger(home, &["check", OWN[0], OWN[1], "--from", "kept"]);
    assert_eq!(check().status, Some(0), "{:?}", check());
    let table = home.join("kept/lead.csv");
    let whole = fs::read(&table).unwrap();
    fs::write(&table, &whole[..2_000]).unwrap();
    let ran = check();
    assert_eq!(ran.status, Some(1), "{ran:?}");
    says_all(&ran.said, &["the row at which the run ended is not in it"]);
}

#[test]
fn a_run_that_the_operator_stopped_is_no_retest() {
    let scene = Scene::new(LeadFault::Good).with("--tag L-1 --batch spring");
    let mut done = false;
    let finished = scene.go_with(|line, _, program| {
        if event(line) == "step_done" && !done {
            done = true;
            program.signal("INT");
        }
    });
    assert_eq!(finished.verdict()["verdict"], "retest", "{finished:?}");
    let home = finished.home.path();
    let list = ledger(home, &["list", "--verdict", "stopped"]).said;
    says_all(&list, &["STOPPED", "L-1"]);
    let run = runs(home, super::DEFAULT).into_keys().next().unwrap();
    says_all(
        &ledger(home, &["show", &run]).said,
        &["STOPPED (on the day: retest)"],
    );
    let batch = ledger(home, &["batch", "spring"]).said;
    says_all(&batch, &["1 stopped by the operator", "Left out"]);
    assert!(!batch.contains("100.0 %"), "{batch}");
    let figures = ledger(home, &["batch", "spring", "--json"]).lines();
    assert_eq!(figures[0]["all"]["runs"], 0);
    assert_eq!(figures[0]["stopped"], 1);
    assert_eq!(ledger(home, &["check"]).status, Some(0));
    // Its recording alone says the same.
    let ran = ran_in(
        home,
        &["ledger", "rebuild", OWN[0], OWN[1], "--from", "kept"],
        "",
    );
    assert_eq!(ran.status, Some(0), "{ran:?}");
    let rebuilt = runs(home, "own.sqlite");
    assert!(rebuilt.values().all(|line| line["verdict"] == "stopped"));
}

/// Two runs of a lead, read in tenths of an ohm.
fn history(first: f64, last: f64) -> String {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    fs::create_dir(home.join("kept")).unwrap();
    let golden = concat!(env!("CARGO_MANIFEST_DIR"), "/recordings/lead-good.json");
    let text = fs::read_to_string(golden).unwrap();
    for (year, ohms) in [(2025, first), (2026, last)] {
        let mut sidecar = json(&text);
        sidecar["began"] = format!("{year}-03-01T10:00:00Z").into();
        sidecar["check"]["tare_by_touch"] = true.into();
        sidecar["run"] = serde_json::json!({
            "id": format!("0{:x}000000-0000-7000-8000-000000000000", year - 2016),
            "about": {"tag": "L-9", "temperature_c": 21.0},
            "found": {"took_s": 9.0, "findings": [], "steps": [
                {"step": "tip", "verdict": "pass", "ohms": ohms, "proof": "seen",
                 "coverage": 1.0, "reasons": [], "resolution_ohms": 0.1}]},
        });
        let path = home.join(format!("kept/{year}.json"));
        fs::write(&path, sidecar.to_string()).unwrap();
        fs::write(path.with_extension("csv"), "").unwrap();
    }
    ledger(home, &["rebuild", OWN[0], OWN[1], "--from", "kept"]);
    ledger(home, &["history", "L-9", OWN[0], OWN[1]]).said
}

#[test]
fn a_history_is_no_finer_than_the_meter() {
    let said = history(0.4, 0.4);
    says_all(
        &said,
        &[
            "from 0.4 Ω",
            "to 0.4 Ω",
            "no difference within the last digit",
        ],
    );
    assert!(!said.contains(" %)"), "{said}");
    // One digit is what rounding may do.
    says_all(&history(0.4, 0.5), &["no difference within the last digit"]);
    let said = history(0.4, 0.8);
    says_all(
        &said,
        &["from 0.4 Ω", "to 0.8 Ω", "+0.4 Ω (+100 %), at 20 °C"],
    );
}

/// The resistance's last digit is taken from the readings themselves.
#[test]
fn the_last_digit_is_kept_with_the_step() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    lead(home, &["--json", "--record", "kept", OWN[0], OWN[1]]);
    let sidecar = fs::read_to_string(table(home).with_extension("json")).unwrap();
    let sidecar = json(&sidecar);
    let steps = sidecar["run"]["found"]["steps"].as_array().unwrap();
    let digits: Vec<f64> = steps
        .iter()
        .filter_map(|step| step["resolution_ohms"].as_f64())
        .collect();
    assert!(
        digits.iter().all(|digit| (digit - 0.01).abs() < 1e-9),
        "{steps:?}"
    );
    assert_eq!(
        digits.is_empty(),
        steps.iter().all(|step| step["ohms"].is_null())
    );
}
