//! A crate of leads with known faults, so that a whole stock can be run through.

use std::sync::Arc;

use super::chance::Chance;
use super::lead::{DAMP, FlexHabit, Lead, LeadFault, Opening};
use crate::circuit::lead::LeadKind;
use crate::reading::Ohms;

/// What a crate is to be.
#[derive(Debug, Clone, PartialEq)]
pub struct CrateOrder {
    /// What kind its leads are of.
    pub kind: Arc<LeadKind>,
    /// How many.
    pub count: u32,
    /// The share of faulty ones, 0 to 1.
    pub faulty: f64,
    /// How a flexing fault behaves.
    pub habit: FlexHabit,
    /// Everything left to chance follows from this.
    pub seed: u64,
}

impl CrateOrder {
    /// A quarter of them faulty; flexing faults open at most bends, while they are held.
    pub fn of(kind: Arc<LeadKind>, count: u32, seed: u64) -> Self {
        Self {
            kind,
            count,
            faulty: 0.25,
            habit: FlexHabit {
                open_chance: 0.6,
                opening: Opening::WhileHeld,
                chatter: 0,
            },
            seed,
        }
    }
}

/// Leads by their place in a crate.
#[derive(Debug, Clone, PartialEq)]
pub struct Crate(Vec<Lead>);

impl Crate {
    /// Fills a crate: sound leads of three metres, and among them every fault their kind
    /// can have, one after the other. The probe leads are sound throughout.
    pub fn fill(order: &CrateOrder) -> Self {
        let mut chance = Chance::new(order.seed, 5);
        let faults: Vec<LeadFault> = LeadFault::all(&order.kind)
            .into_iter()
            .filter(|fault| {
                match fault {
                    LeadFault::Good | LeadFault::ProbeLeadOpensWhenFlexed => false,
                    // What damp conducts is allowed in some kinds.
                    LeadFault::Leakage(..) => order.kind.isolation > DAMP,
                    _ => true,
                }
            })
            .collect();
        let first = chance.between(0.0, 1e6).to_bits();
        let first = usize::try_from(first % 1_000).unwrap_or_default();
        let mut turn = faults.iter().cycle().skip(first);
        let leads = (0..order.count).map(|_| {
            let faulty = chance.happens(order.faulty);
            let fault = if faulty { turn.next().copied() } else { None };
            Lead {
                metres: 3.0,
                contact: Ohms(chance.between(0.005, 0.02)),
                habit: order.habit,
                ..Lead::of(Arc::clone(&order.kind)).with_fault(fault.unwrap_or(LeadFault::Good))
            }
        });
        Self(leads.collect())
    }

    /// How many leads it holds.
    pub const fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether it holds none.
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The lead at a place, from 0.
    pub fn get(&self, place: usize) -> Option<&Lead> {
        self.0.get(place)
    }

    /// The leads in order.
    pub fn iter(&self) -> impl Iterator<Item = &Lead> {
        self.0.iter()
    }
}
