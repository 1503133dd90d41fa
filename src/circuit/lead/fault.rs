//! What can be wrong with a lead's wiring.

use super::{Contact, LeadKind};

/// One thing wrong with the wiring, there all the time or only while the lead is bent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum WiringFault {
    /// A conductor, by number, is parted.
    Open(usize),
    /// A conductor, by number, or one of its joints has ohms it should not have.
    HighResistance(usize),
    /// Two contacts of one plug, of different nets, are joined.
    Joined(Contact, Contact),
    /// The wires on two contacts of one plug are exchanged.
    Crossed(Contact, Contact),
}

impl WiringFault {
    /// The fault in plain words.
    pub fn words(&self, kind: &LeadKind) -> String {
        let wire = |number: usize| {
            kind.conductors
                .get(number)
                .map_or("", |conductor| conductor.name.as_str())
        };
        let at = |a: Contact, b: Contact| {
            format!(
                "{} and {} at {}",
                kind.contact_name(a),
                kind.contact_name(b),
                kind.plug_name(a.plug)
            )
        };
        match *self {
            Self::Open(number) => format!("{} open", wire(number)),
            Self::HighResistance(number) => format!("{} of high resistance", wire(number)),
            Self::Joined(a, b) => format!("{} joined", at(a, b)),
            Self::Crossed(a, b) => format!("{} crossed", at(a, b)),
        }
    }
}

/// Every single fault of a kind: each conductor open and of high resistance, each two contacts
/// of a plug joined, each two crossed.
pub fn faults(kind: &LeadKind) -> Vec<WiringFault> {
    let wires = 0..kind.conductors.len();
    let mut all: Vec<WiringFault> = wires
        .clone()
        .map(WiringFault::Open)
        .chain(wires.map(WiringFault::HighResistance))
        .collect();
    for plug in 0..kind.plugs.len() {
        let contacts: Vec<Contact> = kind.contacts_of(plug).collect();
        for (number, a) in contacts.iter().enumerate() {
            for b in contacts.iter().skip(number + 1) {
                if kind.net_of(*a) == kind.net_of(*b) {
                    continue;
                }
                all.push(WiringFault::Joined(*a, *b));
                // Contacts that nothing is soldered to exchange nothing.
                if wired(kind, *a) || wired(kind, *b) {
                    all.push(WiringFault::Crossed(*a, *b));
                }
            }
        }
    }
    all
}

/// Whether a conductor ends at a contact.
fn wired(kind: &LeadKind, contact: Contact) -> bool {
    kind.conductors
        .iter()
        .any(|conductor| [conductor.from, conductor.to].contains(&contact))
}
