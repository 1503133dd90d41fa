//! The simulated bench: meter arithmetic, the chance of catching a gap, what each fault
//! reads, and that slicing the time changes nothing.

mod lead;
mod meter;
mod operator;

use steadyohm::bench::{
    Bench, BenchSettings, Hands, Happening, LeadFault, MeterSettings, Method, OperatorStyle,
};
use steadyohm::check::notice::{Notice, Phase, StepBegins, Tick, Wants};
use steadyohm::reading::{Magnitude, Measured, Seconds, Stamp};

/// A bench and a program that speaks to it by hand.
struct Room {
    bench: Bench,
    at: Stamp,
    confirms: usize,
}

impl Room {
    fn new(settings: &BenchSettings) -> Self {
        Self {
            bench: Bench::new(settings),
            at: Stamp::START,
            confirms: 0,
        }
    }

    fn with_fault(fault: LeadFault, method: Method) -> Self {
        Self::new(&BenchSettings {
            piece: crate::simulated::lead_with(fault).into(),
            operator: OperatorStyle::Follows(method),
            hands: Hands {
                pace: 0.5,
                ..Hands::default()
            },
            seed: 7,
            ..crate::simulated::bench_settings()
        })
    }

    fn say(&mut self, notice: &Notice) {
        self.bench.hear(self.at, notice);
    }

    fn step(&mut self, step: &str) {
        let wants = if step == "isolation" {
            Wants::Open
        } else {
            Wants::Closed
        };
        let prompt = String::new();
        self.say(&Notice::Step(StepBegins {
            step: step.into(),
            wants,
            prompt,
        }));
    }

    fn phase(&mut self, step: &str, phase: Phase) {
        self.say(&Notice::Phase {
            step: step.into(),
            phase,
        });
    }

    /// Lets time pass; returns what the meter showed.
    fn wait(&mut self, seconds: f64) -> Vec<Measured> {
        let until = self.at + Seconds(seconds);
        let mut shown = Vec::new();
        while self.bench.next_at() <= until {
            for happening in self.bench.advance(self.bench.next_at()) {
                assert!(self.at <= happening.at(), "time runs backward");
                self.at = happening.at();
                match happening {
                    Happening::Reading { measured, .. } => shown.push(measured),
                    Happening::Confirm { .. } => self.confirms += 1,
                }
            }
        }
        self.at = until;
        shown
    }

    /// Bends in time with ticks; returns what the meter showed from each tick to the next.
    fn flex(&mut self, step: &str, of: u32, period: f64) -> Vec<Vec<Measured>> {
        (1..=of)
            .map(|flex| {
                self.say(&Notice::Tick(Tick {
                    step: step.into(),
                    flex,
                    of,
                }));
                self.wait(period)
            })
            .collect()
    }
}

/// The median of the numbers, in ohms.
fn median(shown: &[Measured]) -> f64 {
    let mut numbers: Vec<f64> = shown.iter().filter_map(Measured::number).collect();
    numbers.sort_by(f64::total_cmp);
    // Not-a-number fails every comparison.
    numbers.get(numbers.len() / 2).copied().unwrap_or(f64::NAN)
}

fn is_over(measured: &Measured) -> bool {
    matches!(measured.magnitude, Magnitude::Over { .. })
}

/// A number of readings, for arithmetic.
fn count(readings: usize) -> f64 {
    f64::from(u32::try_from(readings).unwrap_or(u32::MAX))
}

/// A meter without noise or jitter.
fn exact(settings: MeterSettings) -> MeterSettings {
    MeterSettings {
        noise: 0.0,
        jitter: 0.0,
        ..settings
    }
}
