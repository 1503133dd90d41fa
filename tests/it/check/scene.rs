//! Readings chosen by hand, one every tenth of a second, from what the check is doing: for the
//! cases that no simulated bench would produce on purpose.

use steadyohm::check::lead::{Lead, LeadOptions};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{Notice, Phase, StepName};
use steadyohm::protocol::{Garble, Item, find};
use steadyohm::reading::{
    Annunciator, Annunciators, Decimal, Magnitude, Measured, Ohms, Quantity, Seconds, Stamp,
};
use steadyohm::session::{Command, Effect, Event, Outcome, Session, Setup};

use crate::simulated::Ran;

/// What is going on when the next reading is due.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scene {
    pub(crate) step: &'static str,
    pub(crate) phase: Phase,
    /// The number of the last tick of this go; 0 before the first.
    pub(crate) flex: u32,
    /// Readings since the last tick.
    pub(crate) since_tick: u32,
    /// Readings since the phase began.
    pub(crate) in_phase: u32,
    /// Times flexing has begun in this step.
    pub(crate) goes: u32,
}

/// What happens next.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Next {
    Reads(Measured),
    Nothing,
    Garbled,
    Enter,
    Lost,
    Back,
}

/// A number on the 400.0 ohm range.
pub(crate) fn ohms(value: f64) -> Next {
    #[expect(clippy::cast_possible_truncation, reason = "a few thousand counts")]
    let digits = (value * 10.0).round() as i64;
    Next::Reads(measured(
        Magnitude::Number(Decimal {
            digits,
            exponent: -1,
        }),
        Some(-1),
    ))
}

/// Over-range on the highest range, 40 megohm.
pub(crate) fn over() -> Next {
    over_on(Some(Decimal {
        digits: 4000,
        exponent: 4,
    }))
}

/// Over-range on a range of this full scale.
pub(crate) fn over_on(beyond: Option<Decimal>) -> Next {
    Next::Reads(measured(
        Magnitude::Over { beyond },
        beyond.map(|b| b.exponent),
    ))
}

pub(crate) fn measured(magnitude: Magnitude, resolution: Option<i8>) -> Measured {
    Measured {
        quantity: Quantity::Resistance,
        magnitude,
        resolution,
        annunciators: Annunciators::NONE.with(Annunciator::AutoRange),
    }
}

/// A sound lead in good hands: closed where closed is wanted, over-range otherwise.
pub(crate) fn sound(scene: &Scene) -> Next {
    match (scene.step, scene.phase) {
        ("isolation", Phase::Confirm) if scene.in_phase >= 3 => Next::Enter,
        (_, Phase::Lifting) | ("isolation", _) => over(),
        _ => ohms(0.4),
    }
}

/// A blanked display.
pub(crate) fn blank() -> Next {
    Next::Reads(measured(Magnitude::Blank, None))
}

/// The time from one reading to the next.
const INTERVAL: Seconds = Seconds(0.1);

pub(crate) fn facts() -> MeterFacts {
    MeterFacts {
        counts: Some(4000),
        ..MeterFacts::default()
    }
}

/// Runs a lead check on readings chosen by `next`.
#[expect(
    clippy::large_types_passed_by_value,
    reason = "a test says what it means once, where it calls"
)]
pub(crate) fn play(
    options: LeadOptions,
    facts: MeterFacts,
    mut next: impl FnMut(&Scene) -> Next,
) -> Ran {
    let setup = Setup {
        protocol: find("lcd-segments-14").unwrap(),
        source: "chosen by hand".to_owned(),
        facts,
        check: Some(Box::new(Lead::new(options))),
        patience: Seconds(20.0),
    };
    let mut player = Player {
        session: Session::new(setup),
        scene: START,
        ran: nothing_yet(),
    };
    let mut at = Stamp::START;
    let mut event = Event::Opened {
        at,
        mid_stream: false,
        caution: None,
    };
    while at < Stamp::from_seconds(1_000.0) {
        if player.give(event) {
            return player.ran;
        }
        at = at + INTERVAL;
        event = match next(&player.scene) {
            Next::Reads(measured) => Event::Item {
                at,
                item: Item::Reading(measured),
            },
            Next::Garbled => Event::Item {
                at,
                item: Item::Garbled {
                    bytes: vec![0x2a; 3],
                    why: Garble::OutOfStep,
                },
            },
            Next::Nothing => Event::Tick { at },
            Next::Enter => Event::Command {
                at,
                command: Command::Confirm,
            },
            Next::Lost => Event::Lost {
                at,
                why: "unplugged".to_owned(),
            },
            Next::Back => Event::Opened {
                at,
                mid_stream: true,
                caution: None,
            },
        };
        player.scene.in_phase += 1;
        player.scene.since_tick += 1;
    }
    panic!(
        "no verdict; the last words were {:?}",
        player.ran.said().last()
    );
}

struct Player {
    session: Session,
    scene: Scene,
    ran: Ran,
}

const START: Scene = Scene {
    step: "",
    phase: Phase::Waiting,
    flex: 0,
    since_tick: 0,
    in_phase: 0,
    goes: 0,
};

fn nothing_yet() -> Ran {
    Ran {
        notices: Vec::new(),
        entries: Vec::new(),
        outcome: Outcome::Watched,
        took: Stamp::START,
    }
}

impl Player {
    /// Gives an event, and all that is due before it; whether that was the end.
    fn give(&mut self, event: Event) -> bool {
        while let Some(due) = self.session.due().filter(|due| *due <= event.at()) {
            if self.update(Event::Tick { at: due }) {
                return true;
            }
        }
        self.update(event)
    }

    fn update(&mut self, event: Event) -> bool {
        for effect in self.session.update(event) {
            match effect {
                Effect::Emit(notice) => {
                    note(&mut self.scene, &notice);
                    self.ran.notices.push(notice);
                }
                Effect::Record(entry) => self.ran.entries.push(entry),
                Effect::Finish(outcome) => {
                    self.ran.outcome = outcome;
                    self.ran.took = self.session.now();
                    return true;
                }
                Effect::Send(_) | Effect::Cue(_) => {}
            }
        }
        false
    }
}

fn note(scene: &mut Scene, notice: &Notice) {
    match notice {
        Notice::Step(begins) if begins.step != scene.step => {
            (scene.step, scene.goes, scene.flex) = (known(&begins.step), 0, 0);
        }
        Notice::Phase { phase, .. } => {
            if *phase == Phase::Flexing {
                (scene.goes, scene.flex) = (scene.goes + 1, 0);
            }
            (scene.phase, scene.in_phase) = (*phase, 0);
        }
        Notice::Tick(tick) => (scene.flex, scene.since_tick) = (tick.flex, 0),
        _ => {}
    }
}

/// The default options without the half minute of waiting.
pub(crate) fn brisk() -> LeadOptions {
    let mut options = crate::simulated::lead_options();
    options.pace.wait = Seconds(3.0);
    options
}

/// Tare given in ohms, as an option.
pub(crate) fn tared(ohms: f64) -> LeadOptions {
    LeadOptions {
        tare: steadyohm::check::lead::Tare::Given(Ohms(ohms)),
        ..brisk()
    }
}

/// A name of the check's own, so that scenes can be told apart by a pattern.
fn known(step: &StepName) -> &'static str {
    [
        "tare",
        "probes",
        "tip",
        "sleeve",
        "loop",
        "isolation",
        "tip-to-sleeve",
    ]
    .into_iter()
    .find(|name| *step == *name)
    .unwrap_or_else(|| panic!("{step} is no step of this check"))
}
