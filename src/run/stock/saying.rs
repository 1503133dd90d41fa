//! What a stock says, in the form of the run's voice.

use crate::run::stock::{Desk, line, words};
use crate::run::{Form, Run, RunError, quietly, voice};
use crate::session::Outcome;

impl Run {
    /// Says something about the stock, in plain words or as a line.
    pub(super) fn say_stock(
        &self,
        words: impl FnOnce(&Desk) -> Option<String>,
        line: impl FnOnce(&Desk) -> Option<String>,
    ) -> Result<(), RunError> {
        let said = self.desk.as_ref().and_then(|desk| match self.voice.form {
            Form::Screen => None,
            Form::Plain => words(desk),
            Form::Json => line(desk),
        });
        match said {
            Some(text) => quietly(voice::write_line(&text)),
            None => Ok(()),
        }
    }

    /// The last line: the verdict on the whole.
    pub(super) fn sum_up(&mut self, ended: Option<String>) -> Result<Outcome, RunError> {
        let Some(desk) = &mut self.desk else {
            return Ok(Outcome::NeverHeard);
        };
        desk.conclude(ended);
        let (verdict, meter_heard) = (desk.verdict, desk.meter.heard);
        let text = match self.voice.form {
            Form::Json => line::verdict(desk),
            Form::Screen | Form::Plain => words::verdict(desk),
        };
        quietly(voice::write_line(&text))?;
        Ok(Outcome::Judged {
            verdict,
            meter_heard,
        })
    }
}
