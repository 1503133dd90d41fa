//! The description of a kind of lead as it is written: TOML, strict, judged once.

use serde::Deserialize;
use thiserror::Error;
use toml::Spanned;

use super::{Conductor, Contact, LeadKind, Plug, Sign};
use crate::protocol::line_of;
use crate::reading::Ohms;

/// A description could not be taken.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{origin}, line {line}: {message}")]
pub struct LeadKindError {
    /// The file.
    pub origin: String,
    /// The line, from 1.
    pub line: usize,
    /// What is wrong, and what is allowed there.
    pub message: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    title: String,
    caution: Option<String>,
    isolation_ohms: Spanned<f64>,
    limit_ohms: Option<Spanned<f64>>,
    contacts_ohms: Spanned<f64>,
    plug: Spanned<Vec<PlugWritten>>,
    conductor: Spanned<Vec<ConductorWritten>>,
    #[serde(default)]
    sign: Vec<SignWritten>,
    /// Pairs of nets that are neither to be joined nor apart.
    #[serde(default)]
    not_judged: Vec<Spanned<[String; 2]>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlugWritten {
    name: Spanned<String>,
    contacts: Spanned<Vec<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ConductorWritten {
    name: Spanned<String>,
    from: Spanned<String>,
    to: Spanned<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct SignWritten {
    joined: Spanned<[String; 2]>,
    means: String,
}

/// Where in the text something is wrong, and what.
struct Fault(usize, String);

impl Fault {
    fn at<T>(what: &Spanned<T>, message: impl Into<String>) -> Self {
        Self(what.span().start, message.into())
    }
}

/// More contacts than any plug has.
const MOST_CONTACTS: usize = 64;

pub(super) fn read(text: &str, id: &str) -> Result<LeadKind, LeadKindError> {
    let refuse = |offset: usize, message: String| LeadKindError {
        origin: id.to_owned(),
        line: line_of(text, offset),
        message,
    };
    let document: Document = toml::from_str(text).map_err(|error| {
        let offset = error.span().map_or(0, |span| span.start);
        refuse(offset, error.message().to_owned())
    })?;
    let mut kind =
        judge(&document, id).map_err(|Fault(offset, message)| refuse(offset, message))?;
    text.clone_into(&mut kind.text);
    Ok(kind)
}

fn judge(document: &Document, id: &str) -> Result<LeadKind, Fault> {
    let plugs = plugs(&document.plug)?;
    let conductors = conductors(&document.conductor, &plugs)?;
    let nets = nets(&plugs, &conductors);
    let net_names = net_names(&plugs, &conductors, &nets);
    let least = |value: &Spanned<f64>, what: &str, least: f64| {
        let ohms = *value.get_ref();
        if ohms.is_finite() && ohms >= least {
            Ok(Ohms(ohms))
        } else {
            let wanted = Ohms(least);
            Err(Fault::at(
                value,
                format!("{what} must be {wanted} or more, not {ohms}"),
            ))
        }
    };
    let mut kind = LeadKind {
        id: id.to_owned(),
        text: String::new(),
        title: document.title.clone(),
        caution: document.caution.clone(),
        isolation: least(&document.isolation_ohms, "isolation_ohms", 100e3)?,
        limit: document
            .limit_ohms
            .as_ref()
            .map(|limit| least(limit, "limit_ohms", 0.001))
            .transpose()?,
        contacts_allowed: least(&document.contacts_ohms, "contacts_ohms", 0.0)?,
        plugs,
        conductors,
        signs: Vec::new(),
        nets,
        net_names,
        unjudged: Vec::new(),
    };
    for sign in &document.sign {
        let joined = pair(&sign.joined, &kind)?;
        let means = sign.means.clone();
        kind.signs.push(Sign { joined, means });
    }
    for written in &document.not_judged {
        let pair = pair(written, &kind)?;
        kind.unjudged.push(pair);
    }
    Ok(kind)
}

fn plugs(written: &Spanned<Vec<PlugWritten>>) -> Result<Vec<Plug>, Fault> {
    let mut plugs: Vec<Plug> = Vec::new();
    for plug in written.get_ref() {
        let name = plug.name.get_ref();
        if name.is_empty()
            || name.contains('.')
            || plugs.iter().any(|known| known.name == *name)
        {
            let message = format!(
                "the plug's name {name:?} must be words without a dot, and no other plug's"
            );
            return Err(Fault::at(&plug.name, message));
        }
        let contacts = plug.contacts.get_ref();
        let twice = contacts
            .iter()
            .enumerate()
            .any(|(at, name)| contacts.iter().take(at).any(|before| before == name));
        if contacts.is_empty()
            || contacts.len() > MOST_CONTACTS
            || twice
            || contacts
                .iter()
                .any(|name| name.is_empty() || name.contains('.'))
        {
            let message = format!(
                "the contacts of {name:?} must be 1 to {MOST_CONTACTS} different words without a \
                 dot, such as [\"tip\", \"sleeve\"]"
            );
            return Err(Fault::at(&plug.contacts, message));
        }
        plugs.push(Plug {
            name: name.clone(),
            contacts: contacts.clone(),
        });
    }
    if plugs.len() < 2 {
        return Err(Fault::at(written, "a lead has two plugs at least"));
    }
    Ok(plugs)
}

fn conductors(
    written: &Spanned<Vec<ConductorWritten>>,
    plugs: &[Plug],
) -> Result<Vec<Conductor>, Fault> {
    let mut conductors: Vec<Conductor> = Vec::new();
    for conductor in written.get_ref() {
        let name = conductor.name.get_ref();
        let taken = ["tare", "probes", "loop", "isolation"]
            .iter()
            .any(|word| name.starts_with(word))
            || name.contains("-to-")
            || conductors.iter().any(|known| known.name == *name);
        let lower = name
            .bytes()
            .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-');
        if name.is_empty() || taken || !lower {
            let message = format!(
                "the conductor's name {name:?} names a step: lower-case words joined by hyphens, \
                 no other conductor's, beginning with none of tare, probes, loop, \
                 isolation, and without -to- in it"
            );
            return Err(Fault::at(&conductor.name, message));
        }
        let from = contact(&conductor.from, plugs)?;
        let to = contact(&conductor.to, plugs)?;
        if from.plug == to.plug {
            let message = "a conductor joins two plugs; write contacts of different ones";
            return Err(Fault::at(&conductor.to, message));
        }
        conductors.push(Conductor {
            name: name.clone(),
            from,
            to,
        });
    }
    if conductors.is_empty() {
        return Err(Fault::at(written, "a lead has one conductor at least"));
    }
    Ok(conductors)
}

fn contact(written: &Spanned<String>, plugs: &[Plug]) -> Result<Contact, Fault> {
    let text = written.get_ref();
    let found = text.split_once('.').and_then(|(plug, contact)| {
        let at = plugs.iter().position(|known| known.name == plug)?;
        let contacts = &plugs.get(at)?.contacts;
        let contact = contacts.iter().position(|known| known == contact)?;
        Some(Contact { plug: at, contact })
    });
    found.ok_or_else(|| {
        let all: Vec<String> = plugs
            .iter()
            .flat_map(|plug| {
                let name = &plug.name;
                plug.contacts.iter().map(move |c| format!("\"{name}.{c}\""))
            })
            .collect();
        Fault::at(
            written,
            format!("there is no contact {text:?}; there are {}", all.join(", ")),
        )
    })
}

/// Joins contacts by conductors; numbers the nets in the order of their first contact.
fn nets(plugs: &[Plug], conductors: &[Conductor]) -> Vec<Vec<usize>> {
    let mut mark: Vec<Vec<usize>> = Vec::new();
    let mut next = 0;
    for plug in plugs {
        mark.push((next..next + plug.contacts.len()).collect());
        next += plug.contacts.len();
    }
    let of = |mark: &[Vec<usize>], c: Contact| {
        mark.get(c.plug)
            .and_then(|plug| plug.get(c.contact))
            .copied()
    };
    for conductor in conductors {
        if let Some((a, b)) = of(&mark, conductor.from).zip(of(&mark, conductor.to)) {
            let (low, high) = (a.min(b), a.max(b));
            for value in mark.iter_mut().flatten().filter(|value| **value == high) {
                *value = low;
            }
        }
    }
    let mut seen: Vec<usize> = Vec::new();
    for value in mark.iter_mut().flatten() {
        let number = seen.iter().position(|known| known == value);
        *value = number.unwrap_or_else(|| {
            seen.push(*value);
            seen.len() - 1
        });
    }
    mark
}

fn net_names(plugs: &[Plug], conductors: &[Conductor], nets: &[Vec<usize>]) -> Vec<String> {
    let count = nets.iter().flatten().max().map_or(0, |most| most + 1);
    let net_of = |c: Contact| nets.get(c.plug).and_then(|plug| plug.get(c.contact));
    (0..count)
        .map(|net| {
            let near = nets
                .first()
                .and_then(|near| near.iter().position(|of| *of == net))
                .and_then(|at| plugs.first()?.contacts.get(at));
            let wire = conductors
                .iter()
                .find(|conductor| net_of(conductor.from) == Some(&net))
                .map(|conductor| &conductor.name);
            let bare = || {
                let (plug, contacts) =
                    nets.iter().enumerate().find_map(|(plug, contacts)| {
                        Some((plug, contacts.iter().position(|of| *of == net)?))
                    })?;
                let plug = plugs.get(plug)?;
                Some(format!("{}-{}", plug.name, plug.contacts.get(contacts)?))
            };
            near.or(wire)
                .cloned()
                .or_else(bare)
                .unwrap_or_default()
                .replace(' ', "-")
        })
        .collect()
}

/// Two nets by name; the lower number first.
fn pair(written: &Spanned<[String; 2]>, kind: &LeadKind) -> Result<(usize, usize), Fault> {
    let find = |name: &str| kind.net_names.iter().position(|known| known == name);
    let [a, b] = written.get_ref();
    match find(a).zip(find(b)) {
        Some((a, b)) if a != b => Ok((a.min(b), a.max(b))),
        _ => Err(Fault::at(
            written,
            format!(
                "{a:?} and {b:?} must be two different of {}",
                kind.net_names.join(", ")
            ),
        )),
    }
}
