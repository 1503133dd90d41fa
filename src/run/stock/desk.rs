//! The desk at which a stock is run through: what lies on it, and what the operator wishes.

use std::sync::Arc;
use std::time::Instant;

use crate::check::Check;
use crate::check::lead::{Lead, LeadOptions};
use crate::check::notice::{CheckResult, Notice, Verdict};
use crate::check::stock::{Next, Row, Stock, StockCommand, Tags, TareKept, Turn, What};
use crate::keys::{self, KeyAction, ViewChange};
use crate::reading::Stamp;
use crate::run::keyboard::Pressed;
use crate::run::stock::{Batch, BatchError, Recordings};
use crate::run::{Keeping, RecorderError};
use crate::screen::{Stage, StockView};
use crate::session::{Command, Setup};
use crossterm::event::{KeyCode, KeyEvent};

/// What the operator wishes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wish {
    Quit,
    Stock(StockCommand),
    Enter,
}

/// What a press means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Meant {
    Wish(Wish),
    View(ViewChange),
}

/// The meter at the desk.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct AtMeter {
    /// Whether its port is open.
    pub(super) open: bool,
    /// Whether it ever gave a reading.
    pub(super) heard: bool,
}

/// A stock under way.
#[derive(Debug)]
pub(in crate::run) struct Desk {
    pub(super) stock: Stock,
    pub(super) stage: Stage,
    pub(super) tare: TareKept,
    /// When the lead under way began, RFC 3339.
    pub(super) started: String,
    pub(super) turn: Option<Turn>,
    /// What was last judged.
    pub(super) done: Option<(Row, CheckResult)>,
    /// What was last undone or left out.
    pub(super) changed: Option<Row>,
    /// Whether Enter alone was pressed where a tag is wanted.
    pub(super) entered: bool,
    /// Whether the probes were seen off the last lead.
    pub(super) lifted: bool,
    pub(super) meter: AtMeter,
    /// When the probes were last asked to be lifted off the last lead; none if no lead was
    /// touched yet.
    asked: Option<Stamp>,
    pub(super) verdict: Verdict,
    pub(super) reasons: Vec<String>,
    typed: String,
    /// Tags scanned before they were wanted, in order.
    ahead: Vec<String>,
    batch: Option<Batch>,
    recordings: Option<Recordings>,
    setup: Setup,
    link_began: Instant,
}

impl Desk {
    pub(super) fn new(
        stock: Stock,
        batch: Option<Batch>,
        recordings: Option<Recordings>,
        (setup, link_began): (Setup, Instant),
    ) -> Self {
        Self {
            stock,
            stage: Stage::Lift,
            tare: TareKept::default(),
            started: String::new(),
            turn: None,
            done: None,
            changed: None,
            entered: false,
            lifted: false,
            meter: AtMeter::default(),
            asked: None,
            verdict: Verdict::Retest,
            reasons: Vec::new(),
            typed: String::new(),
            ahead: Vec::new(),
            batch,
            recordings,
            setup,
            link_began,
        }
    }

    /// What the screen shows of it.
    pub(in crate::run) fn view(&self) -> StockView<'_> {
        StockView {
            stock: &self.stock,
            turn: self.turn.as_ref(),
            stage: self.stage,
            typed: &self.typed,
            ahead: &self.ahead,
            last: self.done.as_ref().map(|(row, _)| row),
        }
    }

    /// Whether a word of a lead's session is said otherwise, or was said before.
    pub(in crate::run) const fn keeps_to_itself(notice: &Notice) -> bool {
        matches!(notice, Notice::Verdict(_) | Notice::Opened(_))
    }

    /// The setup of a session on this desk, and when the link's clock started.
    pub(super) fn setup(&self, check: Option<Box<Lead>>) -> (Setup, Instant) {
        let setup = Setup {
            protocol: Arc::clone(&self.setup.protocol),
            source: self.setup.source.clone(),
            facts: self.setup.facts,
            check: check.map(|check| check as Box<dyn Check>),
            patience: self.setup.patience,
        };
        (setup, self.link_began)
    }

    /// Begins to keep a lead.
    pub(super) fn keeping(
        &self,
        tag: &str,
        options: &LeadOptions,
    ) -> Result<Keeping, RecorderError> {
        let begin = |kept: &Recordings| kept.begin(tag, options, &self.started);
        let keeping = self.recordings.as_ref().map(begin).transpose()?;
        Ok(keeping.unwrap_or_default())
    }

    /// Whether it is time to ask for the probes to be lifted, on the clock of the time between
    /// two leads.
    pub(super) fn wants_lift(&mut self, now: Stamp) -> bool {
        let wait = self.stock.plan().lead.pace.wait;
        let due = match self.asked {
            // Time began anew after the last lead.
            Some(asked) => asked > now || asked == Stamp::START || now.since(asked) >= wait,
            None => false,
        };
        let wants = due && !self.lifted && self.meter.open;
        if wants {
            self.asked = Some(now.max(Stamp::from_micros(1)));
        }
        wants
    }

    /// Adds a row to the table.
    pub(super) fn keep(&mut self, row: &Row) -> Result<(), BatchError> {
        self.batch.as_mut().map_or(Ok(()), |batch| batch.keep(row))
    }

    /// Where the table is.
    pub(super) fn table(&self) -> Option<String> {
        let batch = self.batch.as_ref()?;
        Some(batch.path().display().to_string())
    }

    /// A lead's turn has come.
    pub(super) fn begin(&mut self, turn: Turn) {
        self.turn = Some(turn);
        self.stage = Stage::Lead;
        self.asked = Some(Stamp::START);
        self.lifted = false;
        self.entered = false;
        self.started = jiff::Timestamp::now()
            .strftime("%Y-%m-%dT%H:%M:%SZ")
            .to_string();
    }

    /// A lead was judged.
    pub(super) fn judged(&mut self, row: Row, result: CheckResult) {
        self.done = Some((row, result));
    }

    /// No lead is under way any more.
    pub(super) fn leave(&mut self) {
        self.turn = None;
        self.entered = false;
        if self.stage != Stage::Paused {
            self.stage = Stage::Lift;
        }
    }

    /// The tag that comes next, where that is known.
    pub(super) fn coming(&self) -> Option<String> {
        match self.stock.next() {
            Next::Lead(turn) => Some(turn.tag),
            Next::Ask(_) => self.ahead.first().cloned(),
            Next::Over => None,
        }
    }

    /// A tag typed or scanned, if there is one.
    pub(super) fn take_tag(&mut self) -> Option<String> {
        (!self.ahead.is_empty()).then(|| self.ahead.remove(0))
    }

    /// Enter alone, between leads.
    pub(super) fn enter(&mut self) {
        match self.stage {
            Stage::Paused => self.pause(),
            _ => self.entered = self.stage == Stage::Tag,
        }
    }

    /// Stops asking, or goes on.
    pub(super) fn pause(&mut self) {
        self.stage = match self.stage {
            Stage::Paused => Stage::Lift,
            _ => Stage::Paused,
        };
    }

    /// Marks the run of what is about to be undone, so that the ledger does not count it.
    pub(super) fn mark_undone(&self) -> Result<(), RecorderError> {
        let (
            Some(recordings),
            Some(Row {
                what: What::Done(attempt),
                ..
            }),
        ) = (&self.recordings, self.stock.last())
        else {
            return Ok(());
        };
        let recording = attempt.kept.recording.as_deref();
        recording.map_or(Ok(()), |recording| recordings.undo(recording))
    }

    pub(super) fn undo(&mut self) -> Option<Row> {
        let row = self.stock.undo()?;
        if self.stock.plan().tags == Tags::Typed {
            self.ahead.insert(0, row.tag.clone());
        }
        self.done = None;
        Some(row)
    }

    pub(super) fn skip(&mut self) -> Option<Row> {
        let tag = match (&self.turn, self.stock.next()) {
            (Some(turn), _) => turn.tag.clone(),
            (None, Next::Lead(turn)) => turn.tag,
            (None, Next::Ask(_) | Next::Over) => return None,
        };
        Some(self.stock.skip(&tag))
    }

    /// The verdict on the whole.
    pub(super) fn conclude(&mut self, ended: Option<String>) {
        (self.verdict, self.reasons) = self.stock.verdict();
        if let Some(why) = ended {
            self.verdict = self.verdict.max(Verdict::Retest);
            self.reasons.push(why);
        }
    }

    /// What a press means: while tags are typed, letters are letters.
    pub(super) fn wish(&mut self, pressed: &Pressed) -> Option<Meant> {
        let typing = self.stock.plan().tags == Tags::Typed;
        match pressed {
            Pressed::Resized => None,
            Pressed::Line(line) => self.line(line, typing).map(Meant::Wish),
            Pressed::Key(key) if typing && self.types(key) => None,
            Pressed::Key(key) => match keys::action(key)? {
                KeyAction::View(change) => Some(Meant::View(change)),
                KeyAction::Stock(command) => Some(Meant::Wish(Wish::Stock(command))),
                KeyAction::Command(Command::Quit) => Some(Meant::Wish(Wish::Quit)),
                KeyAction::Command(Command::Confirm) => Some(Meant::Wish(Wish::Enter)),
            },
        }
    }

    /// A line of standard input: a tag, or a key's letter behind a colon.
    fn line(&mut self, line: &str, typing: bool) -> Option<Wish> {
        let text = line.trim();
        let word = text.strip_prefix(':');
        match word.or_else(|| (!typing).then_some(text)) {
            _ if text.is_empty() => return Some(Wish::Enter),
            Some("u") => return Some(Wish::Stock(StockCommand::Undo)),
            Some("p") => return Some(Wish::Stock(StockCommand::Pause)),
            Some("s") => return Some(Wish::Stock(StockCommand::Skip)),
            Some("q") => return Some(Wish::Quit),
            _ => {}
        }
        if typing && word.is_none() {
            self.scanned(text);
        }
        None
    }

    /// A tag waits for its turn, behind those that wait already. A reader that reads the same
    /// tag twice means one lead.
    fn scanned(&mut self, text: &str) {
        let known = |tag: &String| self.ahead.last() == Some(tag);
        if let Some(tag) = Tags::clean(text).filter(|tag| !known(tag)) {
            self.ahead.push(tag);
        }
    }

    /// Takes a key as part of a tag; false if it is none. A reader that types faster than
    /// anybody looks ends with Enter: a tag scanned too early waits for its turn.
    fn types(&mut self, key: &KeyEvent) -> bool {
        if let Some(character) = keys::typed(key) {
            if self.typed.chars().count() < Tags::LONGEST {
                self.typed.push(character);
            }
            return true;
        }
        match key.code {
            KeyCode::Backspace => self.typed.pop().is_some(),
            KeyCode::Esc => {
                if self.typed.is_empty() {
                    // The last one scanned was a mistake.
                    self.ahead.pop();
                }
                self.typed.clear();
                true
            }
            KeyCode::Enter if !self.typed.is_empty() => {
                let typed = std::mem::take(&mut self.typed);
                self.scanned(&typed);
                true
            }
            _ => false,
        }
    }

    /// The attempt last judged, with the tag it was of.
    pub(super) fn last(&self) -> Option<(&Row, &crate::check::stock::Attempt, &CheckResult)> {
        let (row, result) = self.done.as_ref()?;
        match &row.what {
            What::Done(attempt) => Some((row, attempt, result)),
            What::Skipped | What::Undone(_) => None,
        }
    }
}
