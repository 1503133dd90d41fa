//! What a row foresees for a measurement not yet taken, given the readings so far.

use crate::circuit::diagnosis::case::Case;
use crate::circuit::diagnosis::evidence::Seen;
use crate::circuit::diagnosis::joint::{Item, Solved};
use crate::circuit::diagnosis::likelihood::{Likelihood, log_stray};
use crate::circuit::diagnosis::normal::{log_above, log_density, log_sum};

/// The step of the trapezoid rule over a normal curve, in deviations: half of one leaves an
/// error far below what is asked.
const STEP: f64 = 0.5;

/// What might come of a measurement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Outcome {
    /// A number of ohms.
    Ohms(f64),
    /// Beyond the meter's highest range.
    Over,
    /// It will not stand still.
    Unsteady,
}

/// One way the reading may come out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Shape {
    /// No path.
    Open,
    /// A number about a mean, in ohms and ohms squared.
    About { mean: f64, variance: f64 },
}

/// All ways the reading may come out under one row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Outlook {
    /// The chance that it moves.
    pub(super) unsteady: f64,
    /// Shapes with their weights, which with the strays add up to 1.
    pub(super) shapes: Vec<(f64, Shape)>,
    stray: f64,
    top: f64,
}

/// What a row has learnt of its parts from the readings.
#[derive(Debug)]
pub(super) struct Learnt<'a> {
    case: &'a Case<'a>,
    row: usize,
    items: Vec<Item>,
    solved: Option<Solved>,
}

impl<'a> Learnt<'a> {
    pub(super) fn of(case: &'a Case<'a>, row: usize, likelihood: &Likelihood) -> Self {
        let items = Item::all_of(case, row, &likelihood.sound);
        let solved = Solved::of(&items.iter().collect::<Vec<_>>());
        Self {
            case,
            row,
            items,
            solved,
        }
    }

    pub(super) fn outlook(&self, measurement: usize) -> Outlook {
        let judging = &self.case.priors.judging;
        let shows = self.case.shows(self.row, measurement);
        let held = self.shape(self.case.holding(self.row), measurement);
        let shapes = if shows {
            let rest = 1.0 - judging.stray - judging.caught;
            vec![
                (rest, held),
                (judging.caught, self.shape(self.row, measurement)),
            ]
        } else {
            vec![(1.0 - judging.stray, held)]
        };
        Outlook {
            unsteady: if shows {
                judging.unsteady_faulty
            } else {
                judging.unsteady_sound
            },
            shapes,
            stray: judging.stray,
            top: self.case.meter.top,
        }
    }

    fn shape(&self, row: usize, measurement: usize) -> Shape {
        let forecast = self.case.forecast(row, measurement);
        let Some(ohms) = forecast
            .map(|found| found.ohms)
            .filter(|ohms| ohms.is_finite())
        else {
            return Shape::Open;
        };
        let weighed = self.case.weighed(row, measurement);
        let items: Vec<&Item> = self.items.iter().collect();
        let (mean, spread) = match &self.solved {
            Some(solved) => solved.given(&items, ohms, &weighed),
            None => (ohms, weighed.iter().map(|one| one * one).sum()),
        };
        Shape::About {
            mean,
            variance: spread + self.case.bend(&weighed) + self.case.meter.variance(ohms, 0.0),
        }
    }
}

impl Shape {
    fn log_over(self, top: f64) -> f64 {
        match self {
            Self::Open => 0.0,
            Self::About { mean, variance } => log_above((top - mean) / variance.sqrt()),
        }
    }

    fn log_number(self, ohms: f64) -> f64 {
        match self {
            Self::Open => f64::NEG_INFINITY,
            Self::About { mean, variance } => log_density(ohms, mean, variance),
        }
    }

    /// Whether the meter would show both alike.
    fn alike(self, other: Self, top: f64) -> bool {
        match (self, other) {
            (Self::Open, Self::Open) => true,
            (
                Self::About { mean, variance },
                Self::About {
                    mean: second,
                    variance: spread,
                },
            ) => {
                (mean - second).abs() < 0.1 * variance.min(spread).sqrt()
                    && (variance / spread).ln().abs() < 0.1
            }
            (Self::Open, about) | (about, Self::Open) => about.log_over(top) > -1e-6,
        }
    }
}

impl Outlook {
    /// The logarithm of the chance, or density, of an outcome.
    pub(super) fn log(&self, outcome: Outcome) -> f64 {
        let shapes = self.shapes.iter().copied();
        let steady = (1.0 - self.unsteady).ln();
        match outcome {
            Outcome::Unsteady => self.unsteady.ln(),
            Outcome::Over => {
                let stray = self.stray.ln() + log_stray(Seen::Over { beyond: None });
                let own = shapes.map(|(weight, shape)| weight.ln() + shape.log_over(self.top));
                steady + log_sum(own.chain([stray]))
            }
            Outcome::Ohms(ohms) => {
                let stray = self.stray.ln() + log_stray(Seen::Ohms(ohms));
                let own = shapes.map(|(weight, shape)| weight.ln() + shape.log_number(ohms));
                steady + log_sum(own.chain([stray]))
            }
        }
    }

    /// Outcomes that stand for all, with their weights, by the trapezoid rule over each shape;
    /// strays, which tell next to nothing, are left out but for over-range.
    pub(super) fn outcomes(&self) -> Vec<(f64, Outcome)> {
        let mut all = vec![
            (self.unsteady, Outcome::Unsteady),
            (self.log(Outcome::Over).exp(), Outcome::Over),
        ];
        for (weight, shape) in &self.shapes {
            let Shape::About { mean, variance } = shape else {
                continue;
            };
            let deviation = variance.sqrt();
            let steps = (-9..=9).map(|step| STEP * f64::from(step));
            all.extend(steps.filter_map(|step| {
                let ohms = mean + step * deviation;
                let share = STEP * log_density(step, 0.0, 1.0).exp();
                let below = ohms <= self.top;
                below.then(|| {
                    let weight = (1.0 - self.unsteady) * weight * share;
                    (weight, Outcome::Ohms(ohms))
                })
            }));
        }
        all
    }

    /// Whether the meter would hardly tell both apart.
    pub(super) fn alike(&self, other: &Self) -> bool {
        (self.unsteady - other.unsteady).abs() < f64::EPSILON
            && self.shapes.len() == other.shapes.len()
            && self
                .shapes
                .iter()
                .zip(&other.shapes)
                .all(|((_, left), (_, right))| left.alike(*right, self.top))
    }
}
