//! From the last byte of a frame written to the pseudo-terminal to the JSON line, over 10,000
//! frames: `cargo bench --bench figures -- latency`.

use std::io::{BufRead as _, BufReader};
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use hdrhistogram::Histogram;
use steadyohm::protocol::find;
use steadyohm::source::Pseudo;

const FRAMES: usize = 10_000;
const GAP: Duration = Duration::from_millis(3);

pub(crate) fn measure() {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(async {
        let mut pseudo = Pseudo::new().unwrap();
        let mut child = Command::new(crate::program())
            .args(["watch", "--json", "--readings", "--record", "off", "--protocol"])
            .args(["lcd-segments-14", "--from"])
            .arg(pseudo.path())
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let (arrived, arrivals) = mpsc::channel();
        let reader = std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                if line.contains("\"reading\"") && arrived.send(Instant::now()).is_err() {
                    break;
                }
            }
        });
        let protocol = find("lcd-segments-14").unwrap();
        let frame = &protocol.examples().first().unwrap().bytes;
        let mut histogram = Histogram::<u64>::new(3).unwrap();
        // The first frames find the program still starting.
        for warm_up in 0..FRAMES + 200 {
            pseudo.write(frame, Duration::from_secs(1)).await.unwrap();
            let written = Instant::now();
            let line = arrivals.recv_timeout(Duration::from_secs(5)).unwrap();
            if warm_up >= 200 {
                let micros = line.saturating_duration_since(written).as_micros();
                histogram.record(u64::try_from(micros).unwrap().max(1)).unwrap();
            }
            tokio::time::sleep(GAP).await;
        }
        println!(
            "latency, last byte to JSON line, {FRAMES} frames: p50 {} µs, p99 {} µs, longest {} µs",
            histogram.value_at_quantile(0.5),
            histogram.value_at_quantile(0.99),
            histogram.max()
        );
        crate::end(child);
        reader.join().unwrap();
    });
}
