//! A check on the simulated bench in simulated time: real bytes of a real format through a
//! real session, with the operator hearing what it says.

use std::sync::Arc;

use steadyohm::bench::{
    Bench, BenchSettings, Hands, Happening, Lead as BenchLead, LeadFault, MeterSettings,
    OperatorStyle, Piece, Probes, Shorted,
};
use steadyohm::check::lead::{Lead, LeadOptions, Method};
use steadyohm::check::meter::MeterFacts;
use steadyohm::check::notice::{CheckResult, Notice, StepResult};
use steadyohm::circuit::lead::{Contact, LeadKind};
use steadyohm::protocol::{Item, Protocol, encode, find};
use steadyohm::reading::{Ohms, Seconds, Stamp};
use steadyohm::record::Entry;
use steadyohm::session::{Command, Effect, Event, Outcome, Session, Setup};

const fn contact(plug: usize, contact: usize) -> Contact {
    Contact { plug, contact }
}

/// The probes on both tips.
pub(crate) const TIPS: Probes = Probes::On(contact(0, 0), contact(1, 0));
/// The probes on both sleeves.
pub(crate) const SLEEVES: Probes = Probes::On(contact(0, 1), contact(1, 1));
/// The probes on tip and sleeve of the near plug.
pub(crate) const NEAR_END: Probes = Probes::On(contact(0, 0), contact(0, 1));

/// A shorting plug on the far end, or none.
pub(crate) fn far_short(on: bool) -> Shorted {
    if on { Shorted::of(&[1]) } else { Shorted::NONE }
}

/// A bench with a good lead and a usual meter.
pub(crate) fn bench_settings() -> BenchSettings {
    BenchSettings {
        piece: lead_with(LeadFault::Good).into(),
        meter: MeterSettings::default(),
        operator: OperatorStyle::default(),
        hands: Hands::default(),
        seed: 0,
    }
}

/// The lead on a bench.
pub(crate) fn lead_of(bench: &mut BenchSettings) -> &mut BenchLead {
    match &mut bench.piece {
        Piece::Lead(lead) => lead,
        Piece::Pot(pot) => panic!("no lead: {pot:?}"),
        Piece::Instrument(_) => panic!("an instrument is no lead"),
    }
}

/// The word of the fault on a bench.
pub(crate) fn fault_word(bench: &BenchSettings) -> String {
    let Piece::Lead(lead) = &bench.piece else {
        panic!("no lead")
    };
    lead.fault.word(&lead.kind)
}

/// A built-in kind of lead.
pub(crate) fn kind(id: &str) -> Arc<LeadKind> {
    Arc::new(LeadKind::find(id).unwrap())
}

/// The usual way with an instrument lead.
pub(crate) fn lead_options() -> LeadOptions {
    LeadOptions::of(kind("instrument"))
}

/// An instrument lead with a fault.
pub(crate) fn lead_with(fault: LeadFault) -> BenchLead {
    BenchLead::of(kind("instrument")).with_fault(fault)
}

/// What a run left behind.
#[derive(Debug, Clone)]
pub(crate) struct Ran {
    pub(crate) notices: Vec<Notice>,
    pub(crate) entries: Vec<Entry>,
    pub(crate) outcome: Outcome,
    pub(crate) took: Stamp,
}

impl Ran {
    /// The verdict, which is always the last notice.
    pub(crate) fn result(&self) -> &CheckResult {
        match self.notices.last() {
            Some(Notice::Verdict(result)) => result,
            other => panic!("the last notice is not a verdict: {other:?}"),
        }
    }

    pub(crate) fn step(&self, name: &str) -> &StepResult {
        self.result()
            .steps
            .iter()
            .find(|step| step.step == name)
            .unwrap()
    }

    /// What was said, without the readings.
    pub(crate) fn said(&self) -> Vec<Notice> {
        self.notices
            .iter()
            .filter(|n| !matches!(n, Notice::Reading(_)))
            .cloned()
            .collect()
    }
}

/// A bench and a check to be run together.
#[derive(Debug, Clone)]
pub(crate) struct Run {
    pub(crate) bench: BenchSettings,
    pub(crate) options: LeadOptions,
    pub(crate) protocol: Arc<Protocol>,
    pub(crate) range: Option<Ohms>,
    /// Whether readings go as bytes of the format; otherwise as the items it would give.
    pub(crate) bytes: bool,
}

impl Run {
    /// A handheld at this rate on an instrument lead with this fault.
    pub(crate) fn new(fault: LeadFault, rate: f64, seed: u64) -> Self {
        Self::of(&kind("instrument"), fault, rate, seed)
    }

    /// A handheld at this rate on a lead of a kind with this fault.
    pub(crate) fn of(kind: &Arc<LeadKind>, fault: LeadFault, rate: f64, seed: u64) -> Self {
        let lead = BenchLead::of(Arc::clone(kind)).with_fault(fault);
        let mut options = LeadOptions::of(Arc::clone(kind));
        if kind.limit.is_none() {
            // Three metres of the bench's core.
            options.conductor = Some(("3m".parse().unwrap(), "24AWG".parse().unwrap()));
        }
        Self {
            bench: BenchSettings {
                piece: lead.into(),
                meter: MeterSettings::handheld(rate),
                operator: OperatorStyle::Follows(Method::EndToEnd),
                hands: Hands::default(),
                seed,
            },
            options,
            protocol: find("lcd-segments-14").unwrap(),
            range: None,
            bytes: true,
        }
    }

    /// The same by the far-end short.
    pub(crate) fn by_loop(mut self) -> Self {
        self.bench.operator = OperatorStyle::Follows(Method::Loop);
        self.options.method = Method::Loop;
        self
    }

    pub(crate) fn setup(&self) -> Setup {
        Setup {
            protocol: Arc::clone(&self.protocol),
            source: "the simulated bench".to_owned(),
            facts: MeterFacts {
                interval: self.protocol.rate().map(|rate| Seconds(1.0 / rate)),
                aperture: self.protocol.aperture(),
                counts: self
                    .protocol
                    .counts()
                    .filter(|_| self.protocol.resolution_tells_range()),
                range: self.range,
                accuracy: steadyohm::signal::Accuracies::default(),
                tried: None,
            },
            check: Some(Box::new(Lead::new(self.options.clone()))),
            patience: Seconds(60.0),
        }
    }

    /// Runs to the verdict.
    pub(crate) fn go(&self) -> Ran {
        self.go_with(|_, _| {})
    }

    /// Runs to the verdict; `meddle` may change the bench before each event.
    pub(crate) fn go_with(&self, meddle: impl FnMut(Stamp, &mut Bench)) -> Ran {
        let mut session = Session::new(self.setup());
        let mut bench = Bench::new(&self.bench);
        let hour = Stamp::from_seconds(3_600.0);
        let driven = drive(
            (&mut session, &mut bench),
            hour,
            |_| false,
            meddle,
            |happening| event_of(&self.protocol, self.bytes, happening),
        );
        Ran {
            notices: driven.notices,
            entries: driven.entries,
            outcome: driven
                .outcome
                .unwrap_or_else(|| panic!("no verdict within an hour")),
            took: session.now(),
        }
    }
}

/// What a session said and kept while it was driven by a bench.
#[derive(Debug)]
pub(crate) struct Driven {
    pub(crate) notices: Vec<Notice>,
    pub(crate) entries: Vec<Entry>,
    /// How it ended; none if it was left before.
    pub(crate) outcome: Option<Outcome>,
}

/// Lets a session and a bench go on together, each hearing the other, until the session ends,
/// something is so, or the bench's time is up. `meddle` may change the bench before each event.
pub(crate) fn drive(
    (session, bench): (&mut Session, &mut Bench),
    limit: Stamp,
    is_so: impl Fn(&Session) -> bool,
    mut meddle: impl FnMut(Stamp, &mut Bench),
    event: impl Fn(Happening) -> Option<Event>,
) -> Driven {
    let mut driven = Driven {
        notices: Vec::new(),
        entries: Vec::new(),
        outcome: None,
    };
    let mut events = vec![Event::Opened {
        at: Stamp::START,
        mid_stream: true,
        caution: None,
    }];
    while bench.next_at() < limit {
        for event in std::mem::take(&mut events) {
            for effect in session.update(event) {
                match effect {
                    Effect::Emit(notice) => {
                        bench.hear(session.now(), &notice);
                        driven.notices.push(notice);
                    }
                    Effect::Record(entry) => driven.entries.push(entry),
                    Effect::Finish(outcome) => {
                        driven.outcome = Some(outcome);
                        return driven;
                    }
                    Effect::Send(_) | Effect::Cue(_) => {}
                }
            }
        }
        if is_so(session) {
            break;
        }
        let bench_due = bench.next_at();
        if let Some(due) = session.due().filter(|due| *due < bench_due) {
            events.push(Event::Tick { at: due });
        } else {
            meddle(bench_due, bench);
            events.extend(bench.advance(bench_due).into_iter().filter_map(&event));
        }
    }
    driven
}

/// What reaches a session of a happening: a reading as bytes of a format, or as the item they
/// would give.
pub(crate) fn event_of(
    protocol: &Protocol,
    bytes: bool,
    happening: Happening,
) -> Option<Event> {
    match happening {
        Happening::Confirm { at } => Some(Event::Command {
            at,
            command: Command::Confirm,
        }),
        Happening::Reading { at, measured } if bytes => {
            let chunk = encode(protocol, &measured).ok()?;
            Some(Event::Bytes { at, chunk })
        }
        Happening::Reading { at, measured } => Some(Event::Item {
            at,
            item: Item::Reading(measured),
        }),
    }
}
