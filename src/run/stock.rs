//! A whole stock on one open link: lead after lead, each with its own session, recording and
//! verdict, and between them the hand that lays one aside and takes up the next.
//!
//! Between leads a watching session is fed, so that the meter is asked and heard all the time,
//! and the next lead begins only when the probes were seen off the last one.
#![expect(clippy::disallowed_methods, reason = "each lead's clock starts here")]

mod batch;
mod desk;
mod line;
mod one;
mod recordings;
mod saying;
mod words;

pub use batch::{Batch, BatchError};
pub(super) use desk::Desk;
use desk::Wish;
pub use recordings::Recordings;

use std::time::Instant;

use crate::check::lead::Lead;
use crate::check::notice::{Notice, Phase};
use crate::check::stock::{Lifted, Next, Stock, StockCommand, Turn};
use crate::run::keyboard::{Pressed, dismisses};
use crate::run::{Edges, Happened, PARTING, Plan, Run, RunError, stamp_since};
use crate::screen::Stage;
use crate::session::{Command, Cue, Effect, Event, Outcome, Session, Setup};

/// A stock, ready to be run through.
#[derive(Debug)]
pub struct StockRun {
    /// The link, the voice and the bench; its session watches between leads.
    pub plan: Plan,
    /// The stock, with what was done before.
    pub stock: Stock,
    /// The table it is kept in.
    pub batch: Option<Batch>,
    /// Where the leads' recordings go.
    pub recordings: Option<Recordings>,
}

/// What came of the time between two leads.
enum Between {
    Turn(Turn),
    Over,
    Ended(Option<String>),
}

/// What came of a lead.
enum Came {
    /// It was judged, or left for what the operator wished.
    On,
    /// The run ends here; why, unless the operator wished it.
    Ended(Option<String>),
}

/// Runs a stock through until all is done, or until stopped.
pub async fn stock(run: StockRun) -> Result<Outcome, RunError> {
    let setup = Setup {
        check: None,
        source: run.plan.setup.source.clone(),
        protocol: std::sync::Arc::clone(&run.plan.setup.protocol),
        facts: run.plan.setup.facts,
        patience: run.plan.setup.patience,
    };
    let link_began = run.plan.began;
    let (mut at_bench, mut edges) = Run::begin(run.plan)?;
    let desk = Desk::new(run.stock, run.batch, run.recordings, (setup, link_began));
    at_bench.desk = Some(Box::new(desk));
    let outcome = at_bench.through(&mut edges).await;
    for bytes in at_bench.session.part() {
        drop(at_bench.outgoing.try_send(bytes));
    }
    edges.link.close(PARTING).await;
    at_bench.terminal = None;
    let told = outcome.and_then(|ended| at_bench.sum_up(ended));
    at_bench.leave();
    told
}

impl Run {
    /// Lead after lead; gives why it ended early, if it did and nobody wished it.
    async fn through(&mut self, edges: &mut Edges) -> Result<Option<String>, RunError> {
        self.say_stock(
            |desk| Some(words::beforehand(desk)),
            |desk| Some(line::beforehand(desk)),
        )?;
        loop {
            let turn = match self.between(edges).await? {
                Between::Turn(turn) => turn,
                Between::Over => {
                    self.desk_mut(|desk| desk.stage = Stage::Over);
                    if self.terminal.is_none() || self.is_left(edges).await? {
                        return Ok(None);
                    }
                    continue;
                }
                Between::Ended(why) => return Ok(why),
            };
            if let Came::Ended(why) = self.one(edges, turn).await? {
                return Ok(why);
            }
        }
    }

    /// The finished stock stays on the screen until a key dismisses it, or undoes the last: then
    /// it goes on.
    async fn is_left(&mut self, edges: &mut Edges) -> Result<bool, RunError> {
        let shown = Instant::now();
        self.draw()?;
        loop {
            match self.next(edges).await? {
                Happened::Stop => return Ok(true),
                Happened::Nothing | Happened::Command(_) => {}
                Happened::Event(event) => {
                    self.idle(event, &mut Lifted::default())?;
                }
                Happened::Pressed(pressed) => match self.wish(&pressed) {
                    Some(Wish::Quit) => return Ok(true),
                    Some(Wish::Enter) if dismisses(Command::Confirm, shown.elapsed()) => {
                        return Ok(true);
                    }
                    Some(Wish::Stock(StockCommand::Undo)) => {
                        self.obey(StockCommand::Undo)?;
                        return Ok(false);
                    }
                    _ => {}
                },
            }
        }
    }

    /// Waits until the next lead can begin.
    async fn between(&mut self, edges: &mut Edges) -> Result<Between, RunError> {
        self.begin_session(None);
        let mut lifted = Lifted::default();
        self.draw()?;
        loop {
            if let Some(between) = self.ready()? {
                return Ok(between);
            }
            self.ask_to_lift(edges).await?;
            match self.next(edges).await? {
                Happened::Stop => return Ok(Between::Ended(None)),
                Happened::Nothing | Happened::Command(_) => {}
                Happened::Pressed(pressed) => {
                    let wish = self.wish(&pressed);
                    match wish {
                        Some(Wish::Quit) => return Ok(Between::Ended(None)),
                        Some(Wish::Stock(command)) => self.obey(command)?,
                        Some(Wish::Enter) => self.desk_mut(Desk::enter),
                        None => {}
                    }
                }
                Happened::Event(event) => {
                    if let Some(why) = self.idle(event, &mut lifted)? {
                        return Ok(Between::Ended(Some(why)));
                    }
                }
            }
        }
    }

    /// Asks for the probes to be lifted off the last lead: at once, and again in time.
    async fn ask_to_lift(&mut self, edges: &Edges) -> Result<(), RunError> {
        let now = self.now();
        let wants = self.desk.as_mut().is_some_and(|desk| desk.wants_lift(now));
        if !wants {
            return Ok(());
        }
        let notice = Notice::Phase {
            step: "next".into(),
            phase: Phase::Lifting,
        };
        if let Some(companion) = &edges.companion {
            companion.hear(self.of_link(now), &notice).await;
        }
        super::quietly(self.voice.say(&notice, None))
    }

    /// What comes next, once the desk is ready for it.
    fn ready(&mut self) -> Result<Option<Between>, RunError> {
        let Some(desk) = &mut self.desk else {
            return Ok(Some(Between::Over));
        };
        if desk.stage == Stage::Paused {
            return Ok(None);
        }
        let next = desk.stock.next();
        if next == Next::Over {
            return Ok(Some(Between::Over));
        }
        if !desk.meter.open || !desk.lifted {
            desk.stage = if desk.meter.open {
                Stage::Lift
            } else {
                Stage::Lost
            };
            return Ok(None);
        }
        let turn = match next {
            Next::Lead(turn) => Some(turn),
            Next::Ask(again) => match desk.take_tag() {
                Some(tag) => Some(desk.stock.turn(&tag)),
                None if std::mem::take(&mut desk.entered) => again,
                None => None,
            },
            Next::Over => None,
        };
        match turn {
            Some(turn) => Ok(Some(Between::Turn(turn))),
            None if desk.stage == Stage::Tag => Ok(None),
            None => {
                desk.stage = Stage::Tag;
                self.cue(Cue::Ask);
                self.say_stock(
                    |desk| Some(words::tag_wanted(desk)),
                    |desk| Some(line::tag_wanted(desk)),
                )?;
                Ok(None)
            }
        }
    }

    /// Feeds the session that watches between leads; gives why the input is over, if it is.
    fn idle(&mut self, event: Event, lifted: &mut Lifted) -> Result<Option<String>, RunError> {
        self.note_port(&event);
        for effect in self.session.update(event) {
            match effect {
                Effect::Send(bytes) => drop(self.outgoing.try_send(bytes)),
                Effect::Emit(Notice::Reading(reading)) => {
                    // A number that HOLD keeps says nothing of the probes.
                    let off = self.session.watchdog().is_well() && lifted.reading(&reading);
                    self.desk_mut(|desk| {
                        desk.meter.heard = true;
                        desk.lifted |= off;
                    });
                }
                Effect::Emit(notice @ (Notice::Trouble { .. } | Notice::Opened(_))) => {
                    super::quietly(self.voice.say(&notice, None))?;
                }
                Effect::Cue(cue) => self.cue(cue),
                Effect::Emit(_) | Effect::Record(_) => {}
                Effect::Finish(_) => {
                    return Ok(Some("the input ended before the stock was done".to_owned()));
                }
            }
        }
        Ok(None)
    }

    /// Does what the operator wishes of the stock.
    fn obey(&mut self, command: StockCommand) -> Result<(), RunError> {
        let Some(desk) = &mut self.desk else {
            return Ok(());
        };
        let row = match command {
            StockCommand::Pause => {
                desk.pause();
                None
            }
            StockCommand::Undo => {
                if let Err(error) = desk.mark_undone() {
                    self.keeping.trouble(error.into());
                }
                desk.undo()
            }
            StockCommand::Skip => desk.skip(),
        };
        if let Some(row) = &row {
            desk.keep(row)?;
        }
        desk.changed = row;
        desk.leave();
        self.say_stock(words::changed, line::changed)
    }

    /// A fresh session, with the clock starting now.
    fn begin_session(&mut self, check: Option<Box<Lead>>) {
        let Some(desk) = &self.desk else { return };
        let (setup, link_began) = desk.setup(check);
        self.session = Session::new(setup).following(&mut self.session);
        self.began = Instant::now();
        self.since = stamp_since(link_began);
        if !desk.meter.open || self.session.check().is_some() {
            return;
        }
        let opened = self.opened();
        for effect in self.session.update(opened) {
            if let Effect::Send(bytes) = effect {
                drop(self.outgoing.try_send(bytes));
            }
        }
    }

    fn opened(&self) -> Event {
        Event::Opened {
            at: self.now(),
            mid_stream: true,
            caution: None,
        }
    }

    fn note_port(&mut self, event: &Event) {
        let open = match event {
            Event::Opened { .. } => true,
            Event::Lost { .. } | Event::Ended { .. } => false,
            _ => return,
        };
        self.desk_mut(|desk| desk.meter.open = open);
    }

    fn wish(&mut self, pressed: &Pressed) -> Option<Wish> {
        self.dirty = true;
        let wish = self.desk.as_mut()?.wish(pressed);
        match wish? {
            desk::Meant::Wish(wish) => Some(wish),
            desk::Meant::View(change) => {
                self.view.apply(change);
                None
            }
        }
    }

    fn desk_mut(&mut self, change: impl FnOnce(&mut Desk)) {
        if let Some(desk) = &mut self.desk {
            change(desk);
        }
        self.dirty = true;
    }
}
