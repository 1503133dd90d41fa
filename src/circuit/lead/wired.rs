//! A lead as it is wired: its conductors, its faults, and what is plugged onto its ends.

use super::{Contact, LeadKind, WiringFault};
use crate::circuit::network::{Branch, Network};
use crate::reading::Ohms;

/// What conductors read that touch each other.
pub const JOINED: Ohms = Ohms(0.3);
/// What a bad joint adds.
pub const HIGH: Ohms = Ohms(8.0);

/// A lead, wired.
#[derive(Debug, Clone, PartialEq)]
pub struct Wired<'a> {
    kind: &'a LeadKind,
    branches: Vec<Branch>,
}

impl<'a> Wired<'a> {
    /// The lead with a resistance for each of its conductors (those not given are zero) and
    /// with faults.
    pub fn new(kind: &'a LeadKind, conductors: &[Ohms], faults: &[WiringFault]) -> Self {
        let mut wired = Self {
            kind,
            branches: Vec::new(),
        };
        for (number, conductor) in kind.conductors.iter().enumerate() {
            let copper = conductors.get(number).map_or(0.0, |ohms| ohms.0);
            let (mut ohms, mut ends) = (copper, [conductor.from, conductor.to]);
            for fault in faults {
                match *fault {
                    WiringFault::Open(at) if at == number => ohms = f64::INFINITY,
                    WiringFault::HighResistance(at) if at == number => ohms += HIGH.0,
                    WiringFault::Crossed(a, b) => {
                        for end in &mut ends {
                            *end = if *end == a {
                                b
                            } else if *end == b {
                                a
                            } else {
                                *end
                            };
                        }
                    }
                    _ => {}
                }
            }
            let [from, to] = ends;
            wired.join(from, to, Ohms(ohms));
        }
        for fault in faults {
            if let WiringFault::Joined(a, b) = *fault {
                wired.join(a, b, JOINED);
            }
        }
        wired
    }

    /// Something between two contacts.
    pub fn join(&mut self, a: Contact, b: Contact, ohms: Ohms) {
        if let Some((from, to)) = self.number(a).zip(self.number(b)) {
            let ohms = ohms.0;
            self.branches.push(Branch { from, to, ohms });
        }
    }

    /// A shorting plug on one of the ends: it joins all of its contacts, each to the next
    /// through `ohms`.
    pub fn short(&mut self, plug: usize, ohms: Ohms) {
        let contacts: Vec<Contact> = self.kind.contacts_of(plug).collect();
        for (a, b) in contacts.iter().zip(contacts.iter().skip(1)) {
            self.join(*a, *b, ohms);
        }
    }

    /// What a perfect ohmmeter reads between two contacts; infinite where nothing conducts.
    pub fn between(&self, a: Contact, b: Contact) -> Ohms {
        let read = || {
            let (from, to) = self.number(a).zip(self.number(b))?;
            let network =
                Network::new(self.kind.contacts().count(), self.branches.clone()).ok()?;
            Some(network.resistance(from, to))
        };
        Ohms(read().unwrap_or(f64::INFINITY))
    }

    fn number(&self, contact: Contact) -> Option<usize> {
        self.kind.contacts().position(|known| known == contact)
    }
}
