//! Two pickups on a selector and one volume control full up, by parallel resistances written
//! out by hand: small enough to integrate over every part.

use steadyohm::circuit::diagnosis::{Case, Meter, Observation, Priors, Seen};
use steadyohm::circuit::{
    Ailment, Cause, Effort, Forecast, Forecasts, Hypothesis, Measurement, Place, Spread, State,
};

/// Neck, bridge and volume control in ohms.
const NOMINAL: [f64; 3] = [5700.0, 8000.0, 500_000.0];
/// How far each may be off.
pub(crate) const MOST: [f64; 3] = [0.05, 0.05, 0.2];
/// Selector at neck, both and bridge; the neck pickup at its own wires.
pub(crate) const NECK: usize = 0;
pub(crate) const BOTH: usize = 1;
pub(crate) const BRIDGE: usize = 2;
pub(crate) const NECK_WIRES: usize = 3;

/// One way to be wired, with what is in place of each part: its resistance as a function of its
/// nominal one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wiring {
    pub(crate) name: &'static str,
    pub(crate) place: Place,
    pub(crate) ailment: Ailment,
    /// Ohms in series with the neck pickup, bridge pickup; infinite for open.
    pub(crate) series: [f64; 2],
    /// Neck pickup's value as a part of its nominal one.
    pub(crate) neck: f64,
    /// Ohms across the jack; infinite for none.
    pub(crate) across: f64,
}

const SOUND: Wiring = Wiring {
    name: "nothing is wrong",
    place: Place::Joint,
    ailment: Ailment::Open,
    series: [0.0, 0.0],
    neck: 1.0,
    across: f64::INFINITY,
};

/// The first is sound.
pub(crate) const WIRINGS: [Wiring; 6] = [
    SOUND,
    Wiring {
        name: "the neck pickup's joint at the selector is open",
        series: [f64::INFINITY, 0.0],
        ..SOUND
    },
    Wiring {
        name: "the bridge pickup's joint at the selector is open",
        series: [0.0, f64::INFINITY],
        ..SOUND
    },
    Wiring {
        name: "the neck pickup's joint is 2 kilohms",
        ailment: Ailment::HighResistance,
        series: [2000.0, 0.0],
        ..SOUND
    },
    Wiring {
        name: "the neck pickup is one of 6.3 kilohms",
        place: Place::Pickup,
        ailment: Ailment::WrongValue,
        neck: 6300.0 / 5700.0,
        ..SOUND
    },
    Wiring {
        name: "the jack is shorted",
        place: Place::Jack,
        ailment: Ailment::Short,
        across: 0.0,
        ..SOUND
    },
];

fn parallel(all: &[f64]) -> f64 {
    if all.contains(&0.0) {
        return 0.0;
    }
    1.0 / all.iter().map(|ohms| 1.0 / ohms).sum::<f64>()
}

/// What a wiring reads at a measurement with its parts off by these ratios.
pub(crate) fn ohms(wiring: &Wiring, measurement: usize, off: [f64; 3]) -> f64 {
    let [neck, bridge, volume] = NOMINAL;
    let [off_neck, off_bridge, off_volume] = off;
    let coil = neck * wiring.neck * (1.0 + off_neck);
    let [series_neck, series_bridge] = wiring.series;
    let neck = coil + series_neck;
    let bridge = bridge * (1.0 + off_bridge) + series_bridge;
    let volume = volume * (1.0 + off_volume);
    match measurement {
        NECK => parallel(&[neck, volume, wiring.across]),
        BOTH => parallel(&[neck, bridge, volume, wiring.across]),
        BRIDGE => parallel(&[bridge, volume, wiring.across]),
        _ => coil,
    }
}

/// The forecast of a wiring, its slopes by central differences.
fn forecast(wiring: &Wiring, measurement: usize) -> Forecast {
    const STEP: f64 = 1e-5;
    let slope = |part: usize| {
        let at = |step: f64| {
            let mut off = [0.0; 3];
            if let Some(one) = off.get_mut(part) {
                *one = step;
            }
            ohms(wiring, measurement, off)
        };
        (at(STEP) - at(-STEP)) / (2.0 * STEP)
    };
    Forecast {
        ohms: ohms(wiring, measurement, [0.0; 3]),
        gradient: (0..3).map(slope).collect(),
    }
}

pub(crate) fn table() -> Forecasts {
    table_of(&WIRINGS)
}

pub(crate) fn table_of(wirings: &[Wiring]) -> Forecasts {
    let names = [
        ("at the jack, selector at neck", Effort::Outside),
        ("at the jack, selector at middle", Effort::Outside),
        ("at the jack, selector at bridge", Effort::Outside),
        ("the neck pickup at its own wires", Effort::Unsoldered),
    ];
    let parts = ["the neck pickup", "the bridge pickup", "the volume control"];
    let hypotheses = wirings
        .iter()
        .enumerate()
        .map(|(index, wiring)| Hypothesis {
            name: wiring.name.to_owned(),
            causes: (index > 0)
                .then(|| Cause {
                    place: wiring.place,
                    ailment: wiring.ailment,
                    part: wiring.name.to_owned(),
                    share: 1.0,
                })
                .into_iter()
                .collect(),
            own: Vec::new(),
        });
    Forecasts {
        spreads: parts
            .iter()
            .zip(MOST)
            .map(|(name, most)| Spread {
                name: (*name).to_owned(),
                most,
                typical: false,
            })
            .collect(),
        measurements: names
            .iter()
            .map(|(name, effort)| Measurement {
                name: (*name).to_owned(),
                state: State::default(),
                between: [0, 1],
                effort: *effort,
            })
            .collect(),
        hypotheses: hypotheses.collect(),
        rows: wirings
            .iter()
            .map(|wiring| (0..names.len()).map(|at| forecast(wiring, at)).collect())
            .collect(),
    }
}

/// A meter coarse enough for a grid over the parts to be fine against it.
pub(crate) fn coarse() -> Meter {
    Meter {
        accuracy: 0.03,
        ..Meter::default()
    }
}

pub(crate) fn priors() -> &'static Priors {
    Priors::built_in().unwrap()
}

/// A case with these numbers read, at a resolution of 1 ohm.
pub(crate) fn case_of<'a>(
    table: &'a Forecasts,
    meter: Meter,
    readings: &[(usize, Seen)],
) -> Case<'a> {
    let mut case = Case::new(table, priors(), meter);
    for (measurement, seen) in readings {
        case.evidence.take(*measurement, observed(*seen));
    }
    case
}

pub(crate) fn observed(seen: Seen) -> Observation {
    Observation {
        resolution: 1.0,
        ..Observation::once(seen)
    }
}
