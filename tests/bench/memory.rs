//! Resident memory of `watch` after a thousand and after a million readings:
//! `cargo bench --bench figures -- memory`.

use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Command, Stdio};

pub(crate) fn measure() {
    let mut child = Command::new(crate::program())
        .args([
            "watch",
            "--json",
            "--readings",
            "--record",
            "off",
            "--protocol",
        ])
        .args(["number-lines", "--from", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map_while(Result::ok);
    let mut sent = 0_u32;
    for goal in [1_000_u32, 100_000, 1_000_000] {
        while sent < goal {
            // In portions that no pipe can be full of.
            let portion = (goal - sent).min(500);
            for number in 0..portion {
                let value = 0.4 + f64::from((sent + number) % 7) / 100.0;
                writeln!(input, "{value:.2} ohm").unwrap();
            }
            input.flush().unwrap();
            sent += portion;
            for _ in 0..portion {
                lines.find(|line| line.contains("\"reading\"")).unwrap();
            }
        }
        let resident = crate::resident_kilobytes(child.id());
        println!("watch after {goal} readings: {resident} kB resident");
    }
    drop(input);
    crate::end(child);
}
