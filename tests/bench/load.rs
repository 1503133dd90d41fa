//! Processor share of `watch` at 60 readings a second, with JSON lines and with the screen:
//! `cargo bench --bench figures -- load`.

use std::io::Read as _;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use portable_pty::{CommandBuilder, PtySize, native_pty_system};
use steadyohm::protocol::find;
use steadyohm::source::Pseudo;

const RATE: f64 = 60.0;
const LENGTH: Duration = Duration::from_secs(20);

pub(crate) fn measure() {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(async {
        let pseudo = Pseudo::new().unwrap();
        let child = Command::new(crate::program())
            .args([
                "watch",
                "--json",
                "--readings",
                "--record",
                "off",
                "--protocol",
            ])
            .args(["lcd-segments-14", "--from"])
            .arg(pseudo.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        let share = feed(pseudo, child.id()).await;
        println!("watch --json at {RATE} readings/s: {share:.2} % of one core");
        crate::end(child);

        let pseudo = Pseudo::new().unwrap();
        let size = PtySize {
            rows: 24,
            cols: 80,
            pixel_width: 0,
            pixel_height: 0,
        };
        let pair = native_pty_system().openpty(size).unwrap();
        let mut command = CommandBuilder::new(crate::program());
        command.args([
            "watch",
            "--record",
            "off",
            "--quiet",
            "--protocol",
            "lcd-segments-14",
        ]);
        command.arg("--from");
        command.arg(pseudo.path());
        command.env("TERM", "xterm-256color");
        let mut child = pair.slave.spawn_command(command).unwrap();
        let mut screen = pair.master.try_clone_reader().unwrap();
        let drain = std::thread::spawn(move || {
            let mut chunk = [0_u8; 8192];
            while screen.read(&mut chunk).is_ok_and(|count| count > 0) {}
        });
        drop(pair.slave);
        let share = feed(pseudo, child.process_id().unwrap()).await;
        println!("watch on an 80x24 screen at {RATE} readings/s: {share:.2} % of one core");
        child.kill().unwrap();
        child.wait().unwrap();
        drop(pair.master);
        drain.join().unwrap();
    });
}

/// Feeds readings for the length of the measurement; gives the share of one core used in it.
async fn feed(mut pseudo: Pseudo, pid: u32) -> f64 {
    let protocol = find("lcd-segments-14").unwrap();
    let frames: Vec<&[u8]> = protocol
        .examples()
        .iter()
        .filter(|example| example.reads.iter().all(Option::is_some))
        .map(|example| example.bytes.as_slice())
        .collect();
    let mut beat = tokio::time::interval(Duration::from_secs_f64(1.0 / RATE));
    let (mut began, mut before) = (Instant::now(), ticks(pid));
    for (number, frame) in frames.iter().cycle().enumerate() {
        beat.tick().await;
        pseudo.write(frame, Duration::from_secs(1)).await.unwrap();
        // The first two seconds are the start of the program.
        if number == 120 {
            (began, before) = (Instant::now(), ticks(pid));
        }
        if number > 120 && began.elapsed() >= LENGTH {
            break;
        }
    }
    // The kernel counts in hundredths of a second.
    let used = f64::from(ticks(pid) - before) / 100.0;
    used / began.elapsed().as_secs_f64() * 100.0
}

/// Processor time of a process, in hundredths of a second.
fn ticks(pid: u32) -> u32 {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap();
    let after_name = stat.rsplit(')').next().unwrap();
    let fields: Vec<&str> = after_name.split_whitespace().collect();
    let field = |index: usize| fields.get(index).unwrap().parse::<u32>().unwrap();
    field(11) + field(12)
}
