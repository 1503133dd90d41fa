//! The steps of a control's check, in order.

use crate::check::notice::{StepName, Wants};
use crate::check::pot::options::{Gangs, Place, PotOptions};
use crate::circuit::control::Lug;

/// What a step measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// From outer lug to outer lug, at rest.
    Total,
    /// Wiper to one lug, turned.
    Sweep(Lug),
    /// At the jack, turned.
    Jack,
    /// The wiper at marks the operator confirms.
    Law,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Stage {
    pub(super) name: StepName,
    pub(super) kind: Kind,
    /// The gang, from 1; none where there is one only.
    pub(super) gang: Option<u32>,
}

impl Stage {
    /// What it wants to see.
    pub(super) const fn wants(&self) -> Wants {
        match self.kind {
            Kind::Total | Kind::Law => Wants::Value,
            Kind::Sweep(_) | Kind::Jack => Wants::Sweep,
        }
    }
}

/// The steps these options ask for.
pub(super) fn stages(options: &PotOptions) -> Vec<Stage> {
    let Place::Bench(plan) = options.place else {
        return vec![Stage {
            name: "sweep".into(),
            kind: Kind::Jack,
            gang: None,
        }];
    };
    let gangs: &[Option<u32>] = match plan.gangs {
        Gangs::One => &[None],
        Gangs::Two => &[Some(1), Some(2)],
    };
    let mut stages = Vec::new();
    for gang in gangs.iter().copied() {
        let mut add = |name: &str, kind: Kind| {
            let name = gang.map_or_else(|| name.to_owned(), |gang| format!("{name}-{gang}"));
            stages.push(Stage {
                name: name.into(),
                kind,
                gang,
            });
        };
        add("total", Kind::Total);
        // The marks come first: with the law known, places are told in parts of the turn.
        if plan.law_marks {
            add("law", Kind::Law);
        }
        add("sweep", Kind::Sweep(Lug::Low));
        if plan.both_ends {
            add("other-end", Kind::Sweep(Lug::High));
        }
    }
    stages
}
