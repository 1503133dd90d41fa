//! One lead of a stock: from its turn to its row.

use crate::check::lead::{Lead, LeadOptions};
use crate::check::stock::{Kept, Turn};
use crate::run::stock::desk::{Desk, Wish};
use crate::run::stock::{Came, line, words};
use crate::run::{Edges, Happened, Run, RunError};
use crate::session::{Command, Event};

impl Run {
    /// Checks one lead.
    pub(super) async fn one(
        &mut self,
        edges: &mut Edges,
        turn: Turn,
    ) -> Result<Came, RunError> {
        let Some(desk) = &mut self.desk else {
            return Ok(Came::Ended(None));
        };
        let options = desk.tare.options(&desk.stock.plan().lead);
        desk.begin(turn.clone());
        let check = Box::new(Lead::new(options.clone()));
        self.begin_session(Some(check));
        let keeping = self
            .desk
            .as_ref()
            .map(|desk| desk.keeping(&turn.tag, &options))
            .transpose()?;
        self.keeping.begin_next(keeping.unwrap_or_default());
        self.say_stock(words::lead, line::lead)?;
        if let Some(companion) = &edges.companion {
            let place = usize::try_from(turn.number.saturating_sub(1)).unwrap_or_default();
            companion.take_up(self.since, place).await;
        }
        let mut event = self.opened();
        loop {
            self.note_port(&event);
            let ended = matches!(event, Event::Ended { .. });
            if self.take(event, edges.companion.as_ref()).await?.is_some() {
                return self.judged(&turn, &options, ended);
            }
            event = loop {
                match self.next(edges).await? {
                    Happened::Stop => return Ok(self.abandon(Came::Ended(None))),
                    Happened::Nothing => {}
                    Happened::Command(command) => break self.command(command),
                    Happened::Event(event) => break event,
                    Happened::Pressed(pressed) => match self.wish(&pressed) {
                        Some(Wish::Quit) => return Ok(self.abandon(Came::Ended(None))),
                        Some(Wish::Stock(command)) => {
                            let came = self.abandon(Came::On);
                            self.obey(command)?;
                            return Ok(came);
                        }
                        Some(Wish::Enter) => {
                            break self.command(Command::Confirm);
                        }
                        None => {}
                    },
                }
            };
        }
    }

    /// The session of a lead is over.
    fn judged(
        &mut self,
        turn: &Turn,
        options: &LeadOptions,
        ended: bool,
    ) -> Result<Came, RunError> {
        let result = self.session.history().verdict().cloned();
        let well = self.session.watchdog().is_well();
        let heard = self.session.watchdog().heard() > 0;
        let recording = self.keeping.said().recording;
        let Some((desk, result)) = self.desk.as_mut().zip(result) else {
            return Ok(Came::Ended(None));
        };
        desk.meter.heard |= heard;
        if ended || !well {
            // What the meter did is no word about the lead: it comes again.
            let why = result.reasons.last().cloned().unwrap_or_default();
            desk.leave();
            return Ok(Came::Ended(Some(why)));
        }
        desk.tare.learn(options, &result);
        let kept = Kept {
            started: std::mem::take(&mut desk.started),
            recording,
        };
        let row = desk.stock.finish(&turn.tag, &result, kept);
        // Kept before it is told; a table that takes no more does not silence the verdict.
        let kept = desk.keep(&row);
        desk.judged(row, result);
        self.say_stock(words::lead_done, line::lead_done)?;
        kept?;
        self.desk_mut(Desk::leave);
        Ok(Came::On)
    }

    /// The lead under way is not judged, and comes again.
    fn abandon(&mut self, came: Came) -> Came {
        self.keeping.end(None, self.session.now());
        came
    }
}
