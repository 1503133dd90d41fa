//! A session that is fed readings made up for the test, and its screen.

use std::sync::Arc;

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use steadyohm::check::Check;
use steadyohm::check::lead::{Lead, LeadOptions};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::Phase;
use steadyohm::protocol::{Item, Protocol, find};
use steadyohm::reading::{
    Annunciators, Decimal, Magnitude, Measured, Quantity, Seconds, Stamp,
};
use steadyohm::screen::{View, draw};
use steadyohm::session::{Command, Event, Session, Setup};

/// Any format will do: items are fed, not bytes.
fn any_protocol() -> Arc<Protocol> {
    find("lcd-segments-14").unwrap()
}

/// Time between the readings made up here, in microseconds: about three a second.
const INTERVAL: u64 = 340_000;

/// A reading in hundredths of an ohm, on a range that ends at 600 Ω.
pub(super) fn closed(hundredths: i64) -> Measured {
    Measured {
        quantity: Quantity::Resistance,
        magnitude: Magnitude::Number(Decimal {
            digits: hundredths,
            exponent: -2,
        }),
        resolution: Some(-2),
        annunciators: Annunciators::NONE,
    }
}

/// Over-range on the range whose last digit weighs ten to the `digit`.
pub(super) fn over(digit: i8) -> Measured {
    Measured {
        magnitude: Magnitude::Over { beyond: None },
        resolution: Some(digit),
        ..closed(0)
    }
}

/// No value.
pub(super) fn blank() -> Measured {
    Measured {
        magnitude: Magnitude::Blank,
        ..closed(0)
    }
}

/// A session and its clock.
#[derive(Debug)]
pub(super) struct Run {
    pub(super) session: Session,
    now: u64,
}

impl Run {
    /// A lead under check.
    pub(super) fn lead(options: LeadOptions) -> Self {
        Self::of(Some(Box::new(Lead::new(options))))
    }

    /// No check.
    pub(super) fn watch() -> Self {
        Self::of(None)
    }

    /// Any check.
    pub(super) fn of(check: Option<Box<dyn Check>>) -> Self {
        let mut run = Self {
            session: Session::new(Setup {
                protocol: any_protocol(),
                source: "serial:/dev/ttyUSB0".to_owned(),
                facts: MeterFacts {
                    interval: Some(Seconds(0.34)),
                    aperture: None,
                    counts: Some(60_000),
                    range: None,
                    accuracy: steadyohm::signal::Accuracies::default(),
                    tried: None,
                },
                check,
                patience: Seconds(60.0),
            }),
            now: 400_000,
        };
        run.session.update(Event::Opened {
            at: run.now(),
            mid_stream: true,
            caution: None,
        });
        run
    }

    pub(super) fn now(&self) -> Stamp {
        Stamp::from_micros(self.now)
    }

    /// Lets time pass, in microseconds, with nothing read.
    pub(super) fn pass(&mut self, micros: u64) {
        self.now += micros;
        self.session.update(Event::Tick { at: self.now() });
    }

    /// One reading, an interval after the last.
    pub(super) fn read(&mut self, measured: Measured) {
        self.now += INTERVAL;
        self.session.update(Event::Item {
            at: self.now(),
            item: Item::Reading(measured),
        });
    }

    /// Readings, an interval apart.
    pub(super) fn read_all(&mut self, readings: impl IntoIterator<Item = Measured>) {
        for measured in readings {
            self.read(measured);
        }
    }

    /// The same reading over and over until the step is in this phase.
    #[track_caller]
    pub(super) fn until(&mut self, phase: Phase, measured: Measured) {
        for _ in 0..200 {
            if self.phase() == Some(phase) {
                return;
            }
            self.read(measured);
        }
        panic!("{phase} never came; {:?} is", self.phase());
    }

    fn phase(&self) -> Option<Phase> {
        Some(self.session.check()?.view().now?.phase())
    }

    /// One step of a good lead, from contact to the probes lifted.
    #[track_caller]
    pub(super) fn closed_step(&mut self, hundredths: i64) {
        self.until(Phase::Flexing, closed(hundredths));
        self.until(Phase::Lifting, closed(hundredths));
        self.read_all([over(4), over(4)]);
    }

    /// The readings of a good lead with a little noise, hundredths of an ohm.
    pub(super) fn noisy(count: usize) -> impl Iterator<Item = Measured> {
        [32, 32, 33, 31, 32, 34, 32, 31]
            .into_iter()
            .cycle()
            .take(count)
            .map(closed)
    }

    pub(super) fn command(&mut self, command: Command) {
        self.session.update(Event::Command {
            at: self.now(),
            command,
        });
    }

    /// Any event at the present time.
    pub(super) fn event(&mut self, event: impl FnOnce(Stamp) -> Event) {
        self.session.update(event(self.now()));
    }

    /// What is on the screen.
    pub(super) fn screen(&self, view: &View, width: u16, height: u16) -> Terminal<TestBackend> {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        let draw =
            |frame: &mut ratatui::Frame<'_>| draw(frame, &self.session, view, self.now());
        terminal.draw(draw).unwrap();
        terminal
    }

    /// What is on the screen as text, row by row.
    pub(super) fn text(&self, view: &View, width: u16, height: u16) -> String {
        let terminal = self.screen(view, width, height);
        let buffer = terminal.backend().buffer();
        let rows = buffer.content.chunks(usize::from(width.max(1)));
        rows.map(|row| {
            row.iter()
                .map(ratatui::buffer::Cell::symbol)
                .collect::<String>()
                + "\n"
        })
        .collect()
    }
}
