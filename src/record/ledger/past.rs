//! Runs with their steps and findings, for whoever looks back over several.

use std::collections::HashMap;

use rusqlite::params_from_iter;

use crate::record::ledger::error::Doing;
use crate::record::ledger::line::COLUMNS;
use crate::record::ledger::{Filter, Ledger, LedgerError, RunLine};
use crate::record::{RunId, StepKept};

/// A run looked back at.
#[derive(Debug, Clone, PartialEq)]
pub struct Past {
    /// Its line.
    pub line: RunLine,
    /// Its steps, without the reasons.
    pub steps: Vec<StepKept>,
    /// What was seen on the way.
    pub seen: Vec<Seen>,
}

/// What was seen in a step; none of its times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// Which kind.
    pub what: String,
    /// The step; none for a trouble with the meter.
    pub step: Option<String>,
}

impl Ledger {
    /// The runs that pass the filter with their steps and findings, the oldest first.
    pub fn pasts(&self, filter: &Filter) -> Result<Vec<Past>, LedgerError> {
        let asking = |error| LedgerError::of(Doing::Ask, error);
        let mut pasts: Vec<Past> = self
            .list(filter, None)?
            .into_iter()
            .rev()
            .map(|line| Past {
                line,
                steps: Vec::new(),
                seen: Vec::new(),
            })
            .collect();
        // They stand in the order of time, which need not be that of their identities.
        let places: HashMap<RunId, usize> = (0..)
            .zip(&pasts)
            .map(|(place, past)| (past.line.id, place))
            .collect();
        for (id, step) in self.steps(filter).map_err(asking)? {
            if let Some(past) = of(&mut pasts, &places, id) {
                past.steps.push(step);
            }
        }
        for (id, seen) in self.seen(filter).map_err(asking)? {
            if let Some(past) = of(&mut pasts, &places, id) {
                past.seen.push(seen);
            }
        }
        Ok(pasts)
    }

    fn steps(&self, filter: &Filter) -> rusqlite::Result<Vec<(RunId, StepKept)>> {
        let (clause, values) = filter.sql();
        let sql = format!(
            "SELECT run.id AS id, step.step, step.verdict, ohms, proof, coverage, \
             finding, resolution_ohms \
             FROM (SELECT {COLUMNS} FROM run {clause}) AS run JOIN step ON step.run = run.id \
             ORDER BY run.id, position"
        );
        let mut statement = self.connection.prepare(&sql)?;
        let rows = statement.query_map(params_from_iter(values), |row| {
            let step = StepKept {
                step: row.get(1)?,
                verdict: row.get(2)?,
                ohms: row.get(3)?,
                proof: row.get(4)?,
                coverage: row.get(5)?,
                reasons: Vec::new(),
                finding: row.get(6)?,
                resolution_ohms: row.get(7)?,
            };
            Ok((super::line::read_id(row)?, step))
        })?;
        rows.collect()
    }

    fn seen(&self, filter: &Filter) -> rusqlite::Result<Vec<(RunId, Seen)>> {
        let (clause, values) = filter.sql();
        let sql = format!(
            "SELECT run.id AS id, what, finding.step \
             FROM (SELECT {COLUMNS} FROM run {clause}) AS run \
             JOIN finding ON finding.run = run.id ORDER BY run.id, position"
        );
        let mut statement = self.connection.prepare(&sql)?;
        let rows = statement.query_map(params_from_iter(values), |row| {
            let seen = Seen {
                what: row.get(1)?,
                step: row.get(2)?,
            };
            Ok((super::line::read_id(row)?, seen))
        })?;
        rows.collect()
    }
}

/// The run of this identity.
fn of<'p>(
    pasts: &'p mut [Past],
    places: &HashMap<RunId, usize>,
    id: RunId,
) -> Option<&'p mut Past> {
    pasts.get_mut(*places.get(&id)?)
}
