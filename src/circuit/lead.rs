//! What a lead is made of: plugs, their contacts, and the conductors between them.
//!
//! Every kind of lead is such a description, the built-in ones too: see `lead/kinds`. From it
//! follows what must be connected (contacts of one net) and what must be apart (contacts of
//! two), and with that every step and every fault.

mod document;
mod fault;
mod wired;

pub use document::LeadKindError;
pub use fault::{WiringFault, faults};
pub use wired::{HIGH, JOINED, Wired};

use crate::reading::Ohms;

/// A contact of a plug: both numbers count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Contact {
    /// Which plug.
    pub plug: usize,
    /// Which of its contacts.
    pub contact: usize,
}

/// One end of a lead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plug {
    /// Its name, for prompts.
    pub name: String,
    /// The names of its contacts, from the tip back.
    pub contacts: Vec<String>,
}

/// What joins two contacts of different plugs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conductor {
    /// Its name, which names the step.
    pub name: String,
    /// One end.
    pub from: Contact,
    /// The other.
    pub to: Contact,
}

/// A sign that two nets joined to each other may have a cause that is no fault of the wire.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sign {
    /// The nets, by number.
    pub joined: (usize, usize),
    /// What it means.
    pub means: String,
}

/// What kind of lead it is.
#[derive(Debug, Clone, PartialEq)]
pub struct LeadKind {
    /// The word for it: the file's name.
    pub id: String,
    /// The description as written.
    pub text: String,
    /// What it is, in plain words.
    pub title: String,
    /// What the person at the bench must know.
    pub caution: Option<String>,
    /// Its ends; the first is the near one.
    pub plugs: Vec<Plug>,
    /// Its conductors, in the order they are measured.
    pub conductors: Vec<Conductor>,
    /// The least that contacts of two nets must read.
    pub isolation: Ohms,
    /// The most that a conductor may read where length and gauge are not given; none if they
    /// must be.
    pub limit: Option<Ohms>,
    /// What contacts and joints of one conductor may read above its copper.
    pub contacts_allowed: Ohms,
    /// Signs worth a word.
    pub signs: Vec<Sign>,
    /// The number of the net of each contact of each plug.
    nets: Vec<Vec<usize>>,
    /// The names of the nets.
    net_names: Vec<String>,
    /// Pairs of nets that are neither to be joined nor to be apart.
    unjudged: Vec<(usize, usize)>,
}

/// The built-in kinds, in the order they are listed.
const BUILT_IN: &[(&str, &str)] = &[
    ("instrument", include_str!("lead/kinds/instrument.toml")),
    ("patch", include_str!("lead/kinds/patch.toml")),
    ("balanced", include_str!("lead/kinds/balanced.toml")),
    ("speaker", include_str!("lead/kinds/speaker.toml")),
    ("insert", include_str!("lead/kinds/insert.toml")),
];

impl LeadKind {
    /// The IDs of the built-in kinds.
    pub fn built_in() -> impl Iterator<Item = &'static str> {
        BUILT_IN.iter().map(|(id, _)| *id)
    }

    /// A built-in kind; none if there is none of this ID.
    pub fn find(id: &str) -> Option<Self> {
        let (id, text) = BUILT_IN.iter().find(|(known, _)| *known == id)?;
        // A test reads every one of them.
        Self::from_text(text, id).ok()
    }

    /// Reads a description; `id` names the kind, and the text in errors.
    pub fn from_text(text: &str, id: &str) -> Result<Self, LeadKindError> {
        document::read(text, id)
    }

    /// How many nets there are.
    pub fn nets(&self) -> usize {
        self.net_names.len()
    }

    /// The net a contact belongs to.
    pub fn net_of(&self, contact: Contact) -> Option<usize> {
        self.nets.get(contact.plug)?.get(contact.contact).copied()
    }

    /// The name of a net: that of its contact on the near plug, or of its first conductor.
    pub fn net_name(&self, net: usize) -> &str {
        self.net_names.get(net).map_or("", String::as_str)
    }

    /// The contacts of a plug, in order.
    pub fn contacts_of(&self, plug: usize) -> impl Iterator<Item = Contact> + '_ {
        let count = self.plugs.get(plug).map_or(0, |plug| plug.contacts.len());
        (0..count).map(move |contact| Contact { plug, contact })
    }

    /// Every contact, plug by plug.
    pub fn contacts(&self) -> impl Iterator<Item = Contact> + '_ {
        (0..self.plugs.len()).flat_map(|plug| self.contacts_of(plug))
    }

    /// The contact of a net on a plug; none if it has none there.
    pub fn on_plug(&self, net: usize, plug: usize) -> Option<Contact> {
        self.contacts_of(plug)
            .find(|contact| self.net_of(*contact) == Some(net))
    }

    /// The pairs of nets that must be apart, in order.
    pub fn apart(&self) -> Vec<(usize, usize)> {
        let count = self.nets();
        (0..count)
            .flat_map(|a| (a + 1..count).map(move |b| (a, b)))
            .filter(|pair| !self.unjudged.contains(pair))
            .collect()
    }

    /// The plug's name; empty for one that is none.
    pub fn plug_name(&self, plug: usize) -> &str {
        self.plugs.get(plug).map_or("", |plug| &plug.name)
    }

    /// The contact's name, without its plug.
    pub fn contact_name(&self, contact: Contact) -> &str {
        self.plugs
            .get(contact.plug)
            .and_then(|plug| plug.contacts.get(contact.contact))
            .map_or("", String::as_str)
    }

    /// What is worth saying when two nets are joined.
    pub fn sign_of(&self, a: usize, b: usize) -> Option<&str> {
        self.signs
            .iter()
            .find(|sign| sign.joined == (a.min(b), a.max(b)))
            .map(|sign| sign.means.as_str())
    }

    /// Whether every plug has the same contacts, so that its name need not be said.
    pub fn is_straight(&self) -> bool {
        self.plugs.len() == 2
            && self
                .plugs
                .first()
                .zip(self.plugs.last())
                .is_some_and(|(near, far)| near.contacts == far.contacts)
    }
}
