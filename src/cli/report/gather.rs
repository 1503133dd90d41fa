//! A recording replayed for what its page shows.

use std::path::Path;

use crate::check::Check;
use crate::check::lead::LeadOptions;
use crate::check::pot::{PotOptions, Swept};
use crate::check::rewire::StateLine;
use crate::circuit::diagnosis::Seen;
use crate::cli::ledger::files;
use crate::cli::replay::{self, Kept};
use crate::cli::status::Failure;
use crate::reading::{Ohms, Seconds, Stamp};
use crate::record::report::{
    Expected, MeasuredValue, MeterLine, RunReport, Section, StateRow, States, Transcript,
    control_cautions, control_sections, control_unchecked, lead_cautions, lead_unchecked,
};
use crate::record::{CheckKept, RewireKept, Sidecar, VerdictKept};
use crate::session::{Effect, Event, Session, Setup, events};

/// A run as its page shows it.
pub(super) struct Gathered {
    /// The run.
    pub(super) run: RunReport,
    /// Length and conductor, if they were given to the check.
    pub(super) length: Option<String>,
}

/// Reads and replays a recording.
pub(super) fn read(path: &Path) -> Result<Gathered, Failure> {
    let kept = Kept::read(path, None)?;
    let sidecar = kept.sidecar;
    let Some(check) = &sidecar.check else {
        return Err(Failure::Usage(format!(
            "{}: a watch has no verdict to report: give the recording of a check",
            path.display()
        )));
    };
    let options = Options::of(check, path)?;
    let format = format!("{} ({})", kept.protocol.title(), kept.protocol.id());
    let setup = Setup {
        protocol: kept.protocol,
        source: sidecar.source.clone(),
        facts: kept.facts,
        check: Some(replay::check(check)?),
        patience: Seconds(sidecar.patience_s),
    };
    let session = Session::new(setup).doubting(kept.doubt);
    let (transcript, session) = replayed(session, events(kept.readings));
    let interval = session.meter().interval;
    let view = session.check().map(Check::view);
    let swept = view
        .and_then(|view| view.track)
        .map_or_else(Vec::new, |track| track.swept);
    let Some(result) = transcript.verdict() else {
        return Err(Failure::Usage(format!(
            "{}: the replay came to no verdict; `steadyohm replay` shows why",
            path.display()
        )));
    };
    let run = RunReport {
        check: result.check.to_owned(),
        date: date(&sidecar.began),
        recording: name(path),
        made_by: sidecar.made_by.clone(),
        meter: MeterLine {
            format,
            source: sidecar.source.clone(),
            interval,
            documented: kept.facts.interval,
        },
        verdict: result.verdict,
        reasons: result.reasons.clone(),
        sections: sections(&transcript, &session, &options, &swept),
        blind_spot: result.blind_spot,
        cautions: missing(path, &sidecar)
            .into_iter()
            .chain(cautions(&sidecar, &options, &transcript))
            .collect(),
        unchecked: match &options {
            Options::Lead(options) => lead_unchecked(options, result),
            Options::Pot(options) => control_unchecked(options, result, &swept),
            Options::Rewire => result.not_covered.iter().cloned().collect(),
        },
    };
    Ok(Gathered {
        run,
        length: options.length(),
    })
}

/// What a page needs to know of how a check was asked for.
enum Options {
    Lead(LeadOptions),
    Pot(PotOptions),
    Rewire,
}

impl Options {
    /// Of a kept check; a sentence for what has no page.
    fn of(check: &CheckKept, path: &Path) -> Result<Self, Failure> {
        match check {
            CheckKept::Lead(lead) => Ok(Self::Lead(lead.options().map_err(Failure::Usage)?)),
            CheckKept::Pot(pot) => Ok(Self::Pot(pot.options().map_err(Failure::Usage)?)),
            CheckKept::Rewire(_) => Ok(Self::Rewire),
            CheckKept::Trial(_) => Err(Failure::Usage(format!(
                "{}: a trial of the meter is no work to hand over: give the recording of a \
                 check",
                path.display()
            ))),
        }
    }

    /// Length and conductor of a lead, if they were given.
    fn length(&self) -> Option<String> {
        let Self::Lead(LeadOptions {
            conductor: Some((length, gauge)),
            ..
        }) = self
        else {
            return None;
        };
        Some(format!("{length}, {gauge}"))
    }
}

/// Every notice at its own time: each deadline is fired when it is due, which changes nothing
/// but that its time is known.
fn replayed(mut session: Session, events: Vec<Event>) -> (Transcript, Session) {
    let mut transcript = Transcript::default();
    let mut last = Stamp::START;
    for event in events {
        last = event.at().max(last);
        while let Some(due) = session.due().filter(|due| *due < last) {
            take(&mut session, Event::Tick { at: due }, &mut transcript);
        }
        take(&mut session, event, &mut transcript);
    }
    take(&mut session, Event::Ended { at: last }, &mut transcript);
    (transcript, session)
}

/// The parts of the page: a rewire has its states against their bands first, a control its
/// track last.
fn sections(
    transcript: &Transcript,
    session: &Session,
    options: &Options,
    swept: &[Swept<'_>],
) -> Vec<Section> {
    let mut sections = transcript.sections(session.meter().interval);
    if let Options::Pot(options) = options {
        return control_sections(sections, options, swept);
    }
    let states = session
        .check()
        .and_then(Check::rewire)
        .map_or(Vec::new(), |view| {
            view.states.iter().map(state_row).collect()
        });
    if !states.is_empty()
        && let Some(first) = sections.first_mut()
    {
        let steps = transcript.verdict().map_or(&[][..], |result| &result.steps);
        let rows = states.into_iter().zip(steps).map(|(row, step)| StateRow {
            proof: Some(step.proof),
            reasons: step.reasons.clone(),
            ..row
        });
        *first = Section::States(States {
            title: "Expected and measured".to_owned(),
            rows: rows.collect(),
        });
    }
    sections
}

fn state_row(state: &StateLine) -> StateRow {
    StateRow {
        name: state.name.clone(),
        expected: if state.band.most.is_finite() {
            Expected::Between {
                low: Ohms(state.band.least.max(0.0)),
                nominal: Ohms(state.ohms),
                high: Ohms(state.band.most),
            }
        } else {
            Expected::Word(state.band.to_string())
        },
        measured: match state.seen.map(|seen| seen.seen) {
            Some(Seen::Ohms(ohms)) => MeasuredValue::Value(Ohms(ohms)),
            Some(Seen::Over { beyond }) => MeasuredValue::MoreThan(beyond.map(Ohms)),
            None => MeasuredValue::Nothing,
        },
        verdict: state.verdict,
        proof: None,
        coverage: None,
        reasons: Vec::new(),
    }
}

fn take(session: &mut Session, event: Event, transcript: &mut Transcript) {
    for effect in session.update(event) {
        if let Effect::Emit(notice) = effect {
            transcript.hear(session.now(), &notice);
        }
    }
    if let Some(check) = session.check() {
        transcript.look(&check.view());
    }
}

/// That the recording is not whole, if it is not.
fn missing(path: &Path, sidecar: &Sidecar) -> Option<String> {
    let missing = files::missing(path, Some(sidecar))?;
    Some(format!(
        "The recording is not whole: {missing}. This page is of what is left."
    ))
}

/// What the reader must know, the gravest first.
fn cautions(sidecar: &Sidecar, options: &Options, transcript: &Transcript) -> Vec<String> {
    let mut cautions = Vec::new();
    let Some(result) = transcript.verdict() else {
        return cautions;
    };
    match &sidecar.verdict {
        Some(kept) if *kept != VerdictKept::from(result) => cautions.push(format!(
            "Judged anew by this version of the program; on the day the verdict was {}.",
            kept.verdict
        )),
        None => cautions.push(
            "The recording keeps no verdict of its day: the run was broken off, and this is what \
             was read until then."
                .to_owned(),
        ),
        Some(_) => {}
    }
    cautions.extend(
        transcript
            .troubles()
            .map(|text| format!("During the run: {text}")),
    );
    match options {
        Options::Lead(options) => cautions.extend(lead_cautions(options, result)),
        Options::Pot(_) => cautions.extend(control_cautions(result)),
        Options::Rewire => {}
    }
    if let Some(CheckKept::Rewire(rewire)) = &sidecar.check {
        cautions.extend(rewire_cautions(rewire));
    }
    cautions
}

/// What a rewire's reader must know.
fn rewire_cautions(rewire: &RewireKept) -> Vec<String> {
    let Ok(options) = rewire.options() else {
        return Vec::new();
    };
    let mut cautions = Vec::new();
    if options.job.circuit().active() {
        cautions.push(
            "An active circuit, measured with its battery out: the jack shows its electronics, so \
             selector, controls and pickups were not judged there."
                .to_owned(),
        );
    }
    if let Some(origin) = rewire.own_table() {
        cautions.push(format!(
            "The chances of faults are those of the table {origin} and not the built-in ones."
        ));
    }
    cautions
}

/// The date on this machine's clock, with its distance from universal time; as kept, if it is
/// no date.
pub(super) fn date(began: &str) -> String {
    let Ok(moment) = began.parse::<jiff::Timestamp>() else {
        return began.to_owned();
    };
    moment
        .to_zoned_datetime(jiff::tz::TimeZone::system())
        .strftime("%Y-%m-%d %H:%M UTC%:z")
        .to_string()
}

fn name(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}
