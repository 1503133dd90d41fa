//! The steps of a lead check, derived from what the lead is made of.
//!
//! *End to end* measures every conductor, then every two nets that must be apart. Closed steps
//! come first, though mixing them in would save a move now and then: they need no key, and a
//! bad lead shows itself before anybody has to press one. *Far-end short* joins the contacts
//! of the far plugs; pulled off, it leaves conductors that were just seen to be touched.
//!
//! Within that, each next step is the one for which the fewest probes move. What no step can
//! see is found by putting every single fault into the lead and reading the steps.

use crate::check::lead::Method;
use crate::check::notice::{StepName, Wants};
use crate::check::step::Reach;
use crate::circuit::lead::{Contact, HIGH, LeadKind, Wired, WiringFault, faults};
use crate::reading::Ohms;

/// One thing to be measured on a lead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeadStep {
    /// Its name.
    pub name: StepName,
    /// What it wants.
    pub wants: Wants,
    /// What the probes rest on.
    pub probes: [Contact; 2],
    /// The ends that wear a shorting plug.
    pub shorted: Vec<usize>,
    /// The ends whose shorting plug is pulled off to reach it.
    pub pulled: Vec<usize>,
    /// How it comes to be on the work.
    pub reach: Reach,
    /// The conductors in series, by number; none between nets that are apart.
    pub path: Vec<usize>,
    /// The nets that are wanted apart.
    pub apart: Option<(usize, usize)>,
    /// Whether the lead is bent while it is watched. A loop whose conductors were all bent
    /// before is only read: it is there to prove contact for what follows.
    pub bent: bool,
}

/// The steps and what they cannot see.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Derived {
    /// In order.
    pub steps: Vec<LeadStep>,
    /// Single faults that would pass.
    pub not_covered: Vec<WiringFault>,
}

impl Derived {
    /// What the steps cannot see, in words: one sentence at most.
    pub fn gaps(&self, kind: &LeadKind) -> Option<String> {
        if self.not_covered.is_empty() {
            return None;
        }
        let words: Vec<String> = self
            .not_covered
            .iter()
            .map(|fault| fault.words(kind))
            .collect();
        Some(format!(
            "this method cannot see: {}; the end-to-end method tells",
            words.join("; ")
        ))
    }

    /// The step of a name.
    pub fn find(&self, name: &str) -> Option<&LeadStep> {
        self.steps.iter().find(|step| step.name == *name)
    }
}

/// The steps for a kind of lead by a method.
pub fn derive(kind: &LeadKind, method: Method) -> Derived {
    let steps = match method {
        Method::EndToEnd => {
            let mut steps = Vec::new();
            append_nearest(
                &mut steps,
                closed_steps(kind).map(|step| vec![step]).collect(),
            );
            append_nearest(&mut steps, isolations(kind, &kind.apart()));
            steps
        }
        Method::Loop => by_loops(kind),
    };
    let not_covered = faults(kind)
        .into_iter()
        .filter(|fault| !steps.iter().any(|step| shows(kind, step, &[*fault])))
        .collect();
    Derived { steps, not_covered }
}

/// The step of a name, be it derived or asked for to tell crossed conductors from parted ones.
pub fn find_step(kind: &LeadKind, method: Method, name: &StepName) -> Option<LeadStep> {
    let wires = kind.conductors.len();
    derive(kind, method).find(name).cloned().or_else(|| {
        (0..wires)
            .flat_map(|first| (0..wires).map(move |second| (first, second)))
            .filter_map(|(first, second)| crossing(kind, first, second))
            .find(|step| step.name == *name)
    })
}

/// The step that tells crossed conductors from two parted ones: from the near end of the
/// first to the far end of the second.
pub(super) fn crossing(kind: &LeadKind, first: usize, second: usize) -> Option<LeadStep> {
    let (a, b) = (kind.conductors.get(first)?, kind.conductors.get(second)?);
    // Wherever of the two plugs they are crossed, the first then ends where the second should.
    (a.from.plug == b.from.plug || a.to.plug == b.to.plug).then(|| LeadStep {
        name: format!("{}-to-{}", a.name, b.name).into(),
        wants: Wants::Closed,
        probes: [a.from, b.to],
        shorted: Vec::new(),
        pulled: Vec::new(),
        reach: Reach::Touch,
        path: vec![first],
        apart: None,
        bent: false,
    })
}

/// Whether a step reads otherwise than it wants on a lead with these faults and perfect
/// conductors.
pub fn shows(kind: &LeadKind, step: &LeadStep, faults: &[WiringFault]) -> bool {
    let read = read(kind, step, faults).0;
    if step.wants == Wants::Open {
        read.is_finite()
    } else {
        read > HIGH.0 / 2.0
    }
}

fn read(kind: &LeadKind, step: &LeadStep, faults: &[WiringFault]) -> Ohms {
    let mut wired = Wired::new(kind, &[], faults);
    for plug in &step.shorted {
        wired.short(*plug, Ohms(0.0));
    }
    let [a, b] = step.probes;
    wired.between(a, b)
}

/// How many probes move from one pair of contacts to another; either probe may go to either.
pub fn moves(from: [Contact; 2], to: [Contact; 2]) -> usize {
    to.iter().filter(|contact| !from.contains(contact)).count()
}

fn closed_steps(kind: &LeadKind) -> impl Iterator<Item = LeadStep> + '_ {
    (0..kind.conductors.len()).filter_map(|number| closed(kind, number))
}

fn closed(kind: &LeadKind, number: usize) -> Option<LeadStep> {
    let conductor = kind.conductors.get(number)?;
    Some(LeadStep {
        name: conductor.name.as_str().into(),
        wants: Wants::Closed,
        probes: [conductor.from, conductor.to],
        shorted: Vec::new(),
        pulled: Vec::new(),
        reach: Reach::Touch,
        path: vec![number],
        apart: None,
        bent: true,
    })
}

/// The name of a step on two nets: the bare word where there is only one such pair.
fn name(kind: &LeadKind, word: &str, (a, b): (usize, usize)) -> StepName {
    if kind.apart().len() == 1 {
        word.into()
    } else {
        format!("{word}-{}-{}", kind.net_name(a), kind.net_name(b)).into()
    }
}

/// One isolation step for each pair, in each of the places where it can be measured.
fn isolations(kind: &LeadKind, pairs: &[(usize, usize)]) -> Vec<Vec<LeadStep>> {
    let step = |pair, probes| LeadStep {
        name: name(kind, "isolation", pair),
        wants: Wants::Open,
        probes,
        shorted: Vec::new(),
        pulled: Vec::new(),
        reach: Reach::Confirm,
        path: Vec::new(),
        apart: Some(pair),
        bent: true,
    };
    pairs
        .iter()
        .map(|pair| {
            let (a, b) = *pair;
            let at = |plug| Some([kind.on_plug(a, plug)?, kind.on_plug(b, plug)?]);
            let mut places: Vec<LeadStep> = (0..kind.plugs.len())
                .filter_map(at)
                .map(|probes| step(*pair, probes))
                .collect();
            if places.is_empty() {
                let any = |net| kind.contacts().find(|c| kind.net_of(*c) == Some(net));
                places.extend(any(a).zip(any(b)).map(|(a, b)| step(*pair, [a, b])));
            }
            places
        })
        .collect()
}

/// Appends one of each group, always the one with the fewest moves; of several, the first.
fn append_nearest(steps: &mut Vec<LeadStep>, mut groups: Vec<Vec<LeadStep>>) {
    while !groups.is_empty() {
        let from = steps.last().map(|step| step.probes);
        let nearest = groups
            .iter()
            .enumerate()
            .flat_map(|(group, places)| places.iter().map(move |step| (group, step)))
            .min_by_key(|(_, step)| from.map_or(0, |from| moves(from, step.probes)))
            .map(|(group, step)| (group, step.clone()));
        match nearest {
            Some((group, step)) => {
                steps.push(step);
                groups.remove(group);
            }
            // Only groups without a place are left.
            None => groups.clear(),
        }
    }
}

fn by_loops(kind: &LeadKind) -> Vec<LeadStep> {
    let mut loops: Vec<Vec<LeadStep>> = Vec::new();
    let mut others = Vec::new();
    for pair in kind.apart() {
        match round(kind, pair) {
            Some(step) => loops.push(vec![step]),
            None => others.push(pair),
        }
    }
    let mut rounds = Vec::new();
    append_nearest(&mut rounds, loops);
    let mut steps = Vec::new();
    let mut bent: Vec<usize> = Vec::new();
    for mut step in rounds {
        step.bent = step.path.iter().any(|wire| !bent.contains(wire));
        bent.extend(&step.path);
        let pulled = step.apart.map(|pair| LeadStep {
            name: name(kind, "isolation", pair),
            wants: Wants::Open,
            shorted: Vec::new(),
            pulled: step.shorted.clone(),
            reach: Reach::PullShort,
            path: Vec::new(),
            bent: true,
            ..step.clone()
        });
        step.apart = None;
        steps.push(step);
        steps.extend(pulled);
    }
    // What no loop reaches is measured end to end.
    let rest: Vec<Vec<LeadStep>> = closed_steps(kind)
        .filter(|step| step.path.iter().any(|wire| !bent.contains(wire)))
        .map(|step| vec![step])
        .collect();
    append_nearest(&mut steps, rest);
    append_nearest(&mut steps, isolations(kind, &others));
    steps
}

/// The loop through shorting plugs between two nets of the near plug; none if there is none.
fn round(kind: &LeadKind, pair: (usize, usize)) -> Option<LeadStep> {
    let probes = [kind.on_plug(pair.0, 0)?, kind.on_plug(pair.1, 0)?];
    let shorted = shorting_plugs(kind, pair)?;
    let mut step = LeadStep {
        name: name(kind, "loop", pair),
        wants: Wants::Closed,
        probes,
        shorted,
        pulled: Vec::new(),
        reach: Reach::Touch,
        path: Vec::new(),
        apart: Some(pair),
        bent: true,
    };
    step.path = (0..kind.conductors.len())
        .filter(|wire| shows(kind, &step, &[WiringFault::Open(*wire)]))
        .collect();
    Some(step)
}

/// The fewest far plugs which, with a shorting plug on each, join two nets.
fn shorting_plugs(kind: &LeadKind, (from, to): (usize, usize)) -> Option<Vec<usize>> {
    let mut ways: Vec<(usize, Vec<usize>)> = vec![(from, Vec::new())];
    let mut reached = vec![from];
    let mut next = 0;
    while let Some((net, plugs)) = ways.get(next).cloned() {
        next += 1;
        for plug in 1..kind.plugs.len() {
            if plugs.contains(&plug) || kind.on_plug(net, plug).is_none() {
                continue;
            }
            for contact in kind.contacts_of(plug) {
                let Some(other) = kind.net_of(contact).filter(|net| !reached.contains(net))
                else {
                    continue;
                };
                let mut way = plugs.clone();
                way.push(plug);
                if other == to {
                    return Some(way);
                }
                reached.push(other);
                ways.push((other, way));
            }
        }
    }
    None
}
