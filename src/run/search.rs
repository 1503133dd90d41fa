//! Finding out what meter stands at a place: listening first, asking only where nothing was
//! heard.
//!
//! A serial line is opened anew at each setting, so what was heard is not kept: a live meter
//! goes on talking. Input that cannot be had again is handed over with every byte of it.

mod ask;
mod listen;

use std::sync::Arc;
use std::time::{Duration, Instant};

use ask::{QUESTIONS, Question, SPEEDS_ASKED};
use listen::{INPUT_LONGEST, LONGEST, Patience, listen};

use crate::protocol::{
    Ask, Identification, Identifier, Identity, Protocol, SerialSettings, settings_to_try,
};
use crate::source::{self, Link, LinkSettings, PortEvent, SourceError, Stamped, Where};

/// How long a line may be silent before the next setting is tried: two readings a second are
/// the slowest that are found for certain.
const SILENT: Duration = Duration::from_millis(1_200);

/// The same where the modem lines are left alone: there, opening the port restarts many a
/// board, which is silent for a second or two.
const SILENT_BOARD: Duration = Duration::from_millis(2_500);

/// How many of the settings with the modem lines left alone are given that time.
const BOARDS: usize = 2;

/// How long parting words may take.
const PARTING: Duration = Duration::from_millis(500);

/// What is to be found out, and how.
#[expect(
    missing_debug_implementations,
    reason = "it borrows a function, which has nothing to show"
)]
pub struct Search<'s> {
    /// The place.
    pub place: &'s Where,
    /// The formats to choose from.
    pub formats: &'s [Arc<Protocol>],
    /// The start of the clock.
    pub began: Instant,
    /// Whether a silent meter may be asked.
    pub may_ask: bool,
    /// The user's own settings of the line over those to be tried.
    pub adjust: &'s (dyn Fn(SerialSettings) -> SerialSettings + Sync),
}

/// What is being done.
#[derive(Debug, Clone)]
pub enum Progress<'p> {
    /// The search begins: so many settings to listen at, and the longest it can take.
    Begins {
        /// Settings of the line to listen at.
        settings: usize,
        /// Questions that may be sent.
        questions: usize,
        /// The longest it can take.
        at_most: Duration,
    },
    /// Something is about to be sent.
    Asking {
        /// The format whose question it is.
        format: &'p Protocol,
        /// How the line is set, where there is one.
        line: Option<SerialSettings>,
        /// What is sent, in order.
        sends: Vec<&'p [u8]>,
    },
}

/// What was found.
#[derive(Debug)]
pub struct Found {
    /// What the bytes say.
    pub identification: Identification,
    /// How many bytes were heard there.
    pub heard: u64,
    /// How the line was set then, where there is one.
    pub line: Option<SerialSettings>,
    /// Whether the meter was asked.
    pub asked: bool,
    /// The open port, where it is not to be opened again: at its first event, with whatever
    /// cannot be had again.
    pub link: Option<Link>,
}

impl Search<'_> {
    /// Searches. Only a place that cannot be opened is an error.
    pub async fn go(&self, tell: &mut dyn FnMut(&Progress<'_>)) -> Result<Found, SourceError> {
        let lines = self.lines();
        let questions = self.questions();
        let waits = || questions.iter().map(Question::longest);
        // One that is answered is asked again.
        let again = waits().max().unwrap_or_default();
        let again = again.saturating_mul(u32::try_from(QUESTIONS - 1).unwrap_or(u32::MAX));
        let asked = waits().sum::<Duration>() + again;
        // A port that cannot be opened is told in its own words, before any of listening.
        let link = self
            .open(lines.first().copied().unwrap_or_default())
            .await?;
        tell(&Progress::Begins {
            settings: lines.len(),
            questions: questions.len(),
            at_most: asked + self.longest(&lines),
        });
        match self.place {
            Where::Serial(_) => self.serial(link, (&lines, &questions), tell).await,
            Where::StandardInput => Ok(self.input(link).await),
            Where::Tcp { .. } | Where::Usbtmc(_) | Where::Recording(_) => {
                Ok(self.kept(link, &questions, tell).await)
            }
        }
    }

    /// Whether the port stays open from the search into the run.
    const fn keeps_port(&self) -> bool {
        !matches!(self.place, Where::Serial(_))
    }

    fn longest(&self, lines: &[SerialSettings]) -> Duration {
        match self.place {
            Where::StandardInput => INPUT_LONGEST,
            Where::Usbtmc(_) => Duration::ZERO,
            _ => lines.iter().map(|line| settling(line) + LONGEST).sum(),
        }
    }

    /// The settings to listen at.
    fn lines(&self) -> Vec<SerialSettings> {
        if self.keeps_port() {
            return vec![SerialSettings::default()];
        }
        let mut lines: Vec<SerialSettings> = Vec::new();
        for line in settings_to_try(self.formats).into_iter().map(self.adjust) {
            let settle_ms = 0;
            let known = |known: &SerialSettings| {
                SerialSettings {
                    settle_ms,
                    ..*known
                } == SerialSettings { settle_ms, ..line }
            };
            if !lines.iter().any(known) {
                lines.push(line);
            }
        }
        lines
    }

    /// The questions that may be sent, each at its settings.
    fn questions(&self) -> Vec<Question<'_>> {
        let mut questions: Vec<Question<'_>> = Vec::new();
        if !self.may_ask || matches!(self.place, Where::StandardInput) {
            return questions;
        }
        for round in 0..SPEEDS_ASKED {
            for format in self.formats {
                let Ask::Request(request) = format.ask() else {
                    continue;
                };
                // An instrument's node is read only after a query of the standard's form.
                let unheard =
                    matches!(self.place, Where::Usbtmc(_)) && !request.ask.contains(&b'?');
                let baud = match format.bauds().get(round) {
                    Some(baud) => *baud,
                    None if round == 0 => format.serial().baud,
                    None => continue,
                };
                let line = SerialSettings {
                    baud,
                    ..format.serial()
                };
                let line = (!self.keeps_port()).then(|| (self.adjust)(line));
                let question = Question {
                    format,
                    request,
                    line,
                };
                let known = questions.iter_mut().find(|known| known.is_like(&question));
                match known {
                    _ if unheard => {}
                    None => questions.push(question),
                    // The form of the reply tells such formats apart; the meter is left as
                    // it is as far as that goes.
                    Some(known) if request.at_open.len() < known.request.at_open.len() => {
                        *known = question;
                    }
                    Some(_) => {}
                }
            }
        }
        questions
    }

    async fn open(&self, line: SerialSettings) -> Result<Link, SourceError> {
        source::open(self.place, LinkSettings::new(line, self.began)).await
    }

    /// A serial line, open at the first setting: every setting in turn, then the questions.
    async fn serial(
        &self,
        link: Link,
        (lines, questions): (&[SerialSettings], &[Question<'_>]),
        tell: &mut dyn FnMut(&Progress<'_>),
    ) -> Result<Found, SourceError> {
        let fresh = Identifier::new(self.formats);
        let mut best: Option<Found> = None;
        let mut boards = 0;
        let mut opened = Some(link);
        for line in lines {
            let silent = if line.dtr.is_none() && boards < BOARDS {
                boards += 1;
                SILENT_BOARD
            } else {
                SILENT
            };
            let mut link = match opened.take() {
                Some(link) => link,
                None => self.open(*line).await?,
            };
            let heard = listen(&mut link, fresh.clone(), &Patience::line(silent)).await;
            link.close(PARTING).await;
            let found = heard.found(Some(*line), false);
            let settled = found.is_settled();
            keep_better(&mut best, found);
            if settled {
                break;
            }
        }
        if best.as_ref().is_none_or(|found| found.heard == 0) {
            for question in questions {
                let mut link = self.open(question.line.unwrap_or_default()).await?;
                let answer = question.put(&mut link, self.formats, tell).await;
                link.close(PARTING).await;
                let Some(heard) = answer else {
                    break;
                };
                let found = heard.found(question.line, true);
                let settled = found.is_settled();
                keep_better(&mut best, found);
                if settled {
                    break;
                }
            }
        }
        Ok(best.unwrap_or_else(|| self.silence()))
    }

    /// Input that comes once.
    async fn input(&self, mut link: Link) -> Found {
        let fresh = Identifier::at_start(self.formats);
        let mut heard = listen(&mut link, fresh, &Patience::INPUT).await;
        let events = std::mem::take(&mut heard.events);
        let mut found = heard.found(None, false);
        found.link = Some(link.replaying(events));
        found
    }

    /// A port that stays open: a socket, an instrument's node.
    async fn kept(
        &self,
        mut link: Link,
        questions: &[Question<'_>],
        tell: &mut dyn FnMut(&Progress<'_>),
    ) -> Found {
        let mut best = self.silence();
        let mut opened = Vec::new();
        if !matches!(self.place, Where::Usbtmc(_)) {
            let fresh = Identifier::new(self.formats);
            let heard = listen(&mut link, fresh, &Patience::line(SILENT_BOARD)).await;
            opened.extend(heard.events.iter().filter(|one| is_opened(one)).cloned());
            best = heard.found(None, false);
        }
        if best.heard == 0 {
            for question in questions {
                let Some(heard) = question.put(&mut link, self.formats, tell).await else {
                    break;
                };
                opened.extend(heard.events.iter().filter(|one| is_opened(one)).cloned());
                let found = heard.found(None, true);
                let settled = found.is_settled();
                let mut kept = Some(best);
                keep_better(&mut kept, found);
                best = kept.unwrap_or_else(|| self.silence());
                if settled {
                    break;
                }
            }
        }
        opened.truncate(1);
        best.link = Some(link.replaying(opened));
        best
    }

    fn silence(&self) -> Found {
        Found {
            identification: Identifier::new(self.formats).verdict(),
            heard: 0,
            line: None,
            asked: false,
            link: None,
        }
    }
}

impl Found {
    /// Whether no other setting can say it better.
    fn is_settled(&self) -> bool {
        let best = self.identification.ranking.first();
        match &self.identification.outcome {
            Identity::Right(_) => true,
            // At another speed the same line would be nothing but damage.
            Identity::NotSure { .. } => {
                best.is_some_and(|best| best.frames >= 3 && best.garbled_bytes == 0)
            }
            Identity::None => false,
        }
    }

    /// How much was found out.
    fn rank(&self) -> (u8, u32, u64) {
        let frames = self
            .identification
            .ranking
            .first()
            .map_or(0, |best| best.frames);
        let outcome = match &self.identification.outcome {
            Identity::Right(_) => 2,
            Identity::NotSure { .. } => 1,
            Identity::None => 0,
        };
        (outcome, frames, self.heard)
    }
}

fn keep_better(best: &mut Option<Found>, found: Found) {
    if best
        .as_ref()
        .is_none_or(|known| found.rank() > known.rank())
    {
        *best = Some(found);
    }
}

const fn is_opened(stamped: &Stamped) -> bool {
    matches!(stamped.event, PortEvent::Opened { .. })
}

fn settling(line: &SerialSettings) -> Duration {
    Duration::from_millis(line.settle_ms.into())
}
