//! Readings a second through a replay of a million: `cargo bench --bench figures -- replay`.
#![expect(
    clippy::disallowed_types,
    reason = "a recording is made for the measurement"
)]

use std::fs::File;
use std::io::BufWriter;
use std::process::{Command, Stdio};
use std::time::Instant;

use steadyohm::check::lead::LeadOptions;
use steadyohm::check::meter::MeterFacts;
use steadyohm::protocol::Item;
use steadyohm::reading::{Annunciators, Decimal, Magnitude, Measured, Quantity, Stamp};
use steadyohm::record::{CheckKept, Entry, LeadKept, Mark, MeterKept, Sidecar, TableWriter};

const READINGS: u32 = 1_000_000;

pub(crate) fn measure() {
    let folder = tempfile::tempdir().unwrap();
    for check in [
        None,
        Some(CheckKept::Lead(LeadKept::from(&LeadOptions::of(
            std::sync::Arc::new(
                steadyohm::circuit::lead::LeadKind::find("instrument").unwrap(),
            ),
        )))),
    ] {
        let what = if check.is_some() { "lead" } else { "watch" };
        let path = folder.path().join(what).with_extension("csv");
        let mut table = TableWriter::new(BufWriter::new(File::create(&path).unwrap())).unwrap();
        let opened = Mark::Opened { mid_stream: false };
        table
            .write(&Entry::Mark {
                at: Stamp::START,
                mark: opened,
            })
            .unwrap();
        for number in 0..READINGS {
            let at = Stamp::from_micros(u64::from(number) * 10_000);
            table
                .write(&Entry::Item {
                    at,
                    item: Item::Reading(reading(number)),
                })
                .unwrap();
        }
        table.flush().unwrap();
        let sidecar = Sidecar {
            layout: Sidecar::LAYOUT,
            began: "2026-01-01T00:00:00Z".to_owned(),
            source: "made for the measurement".to_owned(),
            protocol: "number-lines".to_owned(),
            made_by: None,
            meter: MeterKept::from(&MeterFacts::default()),
            // Long enough that nothing ends before the recording does.
            patience_s: 1e6,
            check,
            verdict: None,
            run: None,
        };
        let text = serde_json::to_string(&sidecar).unwrap();
        std::fs::write(path.with_extension("json"), text).unwrap();
        let began = Instant::now();
        let status = Command::new(crate::program())
            .args(["replay", "--json"])
            .arg(&path)
            .stdout(Stdio::null())
            .status()
            .unwrap();
        let took = began.elapsed().as_secs_f64();
        let rate = f64::from(READINGS) / took;
        println!("replay of a {what}, {READINGS} readings: {rate:.0} readings/s ({status})");
    }
}

/// A volt-meter's worth of readings: a lead check waits for ohms all through it, and judges
/// nothing early.
fn reading(number: u32) -> Measured {
    let digits = 40 + i64::from(number % 7);
    Measured {
        quantity: Quantity::DirectVoltage,
        magnitude: Magnitude::Number(Decimal {
            digits,
            exponent: -2,
        }),
        resolution: Some(-2),
        annunciators: Annunciators::NONE,
    }
}
