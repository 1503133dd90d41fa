//! Two recordings of one control, before and after cleaning.

use std::path::Path;

use crate::check::pot::{Pot, headline as of_analysis};
use crate::cli::replay::Kept;
use crate::cli::status::Failure;
use crate::reading::Seconds;
use crate::record::CheckKept;
use crate::session::{Session, Setup, events};
use crate::signal::sweep::{Analysis, Grade};

/// What a recording of a control came to.
pub(super) struct Came {
    name: String,
    words: String,
    residual: Option<f64>,
    bad: usize,
}

/// Replays a recording in silence.
pub(super) fn headline(path: &Path) -> Result<Came, Failure> {
    let kept = Kept::read(path, None)?;
    let Some(CheckKept::Pot(pot)) = &kept.sidecar.check else {
        return Err(Failure::Usage(format!(
            "{}: no recording of a control; --compare sets two sweeps of one control side by side",
            path.display()
        )));
    };
    let check = Pot::new(pot.options().map_err(Failure::Usage)?);
    let mut session = Session::new(Setup {
        protocol: kept.protocol,
        source: kept.sidecar.source,
        facts: kept.facts,
        check: Some(Box::new(check)),
        patience: Seconds(kept.sidecar.patience_s),
    });
    for event in events(kept.readings) {
        // Nothing is done about it: only what it comes to is wanted.
        drop(session.update(event));
    }
    let view = session.check().and_then(|check| check.view().track);
    let analysis = view.and_then(|track| track.analysis);
    Ok(Came {
        name: path.display().to_string(),
        words: analysis.map_or_else(|| "no sweep".to_owned(), of_analysis),
        residual: analysis.and_then(Analysis::residual),
        bad: analysis.map_or(0, |analysis| {
            let findings = analysis.findings.iter();
            findings
                .filter(|finding| finding.grade == Grade::Bad)
                .count()
        }),
    })
}

/// Both side by side, and which way it went.
pub(super) fn sentence(before: &Came, after: &Came) -> String {
    /// A change of the residual below this is none, in parts of the total.
    const SAME: f64 = 0.002;
    let change = match (before.residual, after.residual) {
        (Some(was), Some(is)) if after.bad < before.bad || is < was - SAME => {
            "less than before"
        }
        (Some(was), Some(is)) if after.bad > before.bad || is > was + SAME => {
            "more than before"
        }
        (Some(_), Some(_)) => "no change: what stays at its place is wear",
        _ => "the two cannot be compared",
    };
    format!(
        "before ({}): {}; after ({}): {}: {change}",
        before.name, before.words, after.name, after.words
    )
}
