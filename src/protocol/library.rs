//! The built-in formats: one for each file of `protocols/`.

use std::sync::{Arc, LazyLock};

use thiserror::Error;

use crate::protocol::model::Protocol;

/// File name and text of each built-in format, made by the build step.
const FILES: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/protocols.rs"));

// A built-in file that is refused is missing here; a test loads every file of `protocols/`.
static LIBRARY: LazyLock<Vec<Arc<Protocol>>> = LazyLock::new(|| {
    FILES
        .iter()
        .filter_map(|(name, text)| Protocol::from_text(text, name).ok())
        .map(Arc::new)
        .collect()
});

/// No built-in format has this name.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("there is no format {id:?}; {}", self.hint())]
pub struct Unknown {
    /// The name asked for.
    pub id: String,
    /// The names most like it, the nearest first.
    pub nearest: Vec<String>,
}

impl Unknown {
    fn hint(&self) -> String {
        if self.nearest.is_empty() {
            let ids: Vec<&str> = library().iter().map(|protocol| protocol.id()).collect();
            format!("the built-in formats are {}", ids.join(", "))
        } else {
            format!("did you mean {}?", self.nearest.join(" or "))
        }
    }
}

/// All built-in formats, by name.
pub fn library() -> &'static [Arc<Protocol>] {
    &LIBRARY
}

/// The file name and text of every built-in format.
pub const fn built_in_files() -> &'static [(&'static str, &'static str)] {
    FILES
}

/// The built-in format of a name.
pub fn find(id: &str) -> Result<Arc<Protocol>, Unknown> {
    let known = library().iter().find(|protocol| protocol.id() == id);
    known.cloned().ok_or_else(|| {
        let mut near: Vec<(usize, &str)> = library()
            .iter()
            .map(|protocol| (edits(id, protocol.id()), protocol.id()))
            .filter(|(edits, known)| *edits <= known.len() / 2)
            .collect();
        near.sort_unstable();
        Unknown {
            id: id.to_owned(),
            nearest: near
                .into_iter()
                .take(3)
                .map(|(_, known)| known.to_owned())
                .collect(),
        }
    })
}

/// The Levenshtein distance of two names: insertions, deletions and replacements.
fn edits(from: &str, to: &str) -> usize {
    let target: Vec<char> = to.chars().collect();
    let mut row: Vec<usize> = (0..=target.len()).collect();
    for (index, left) in from.chars().enumerate() {
        let mut next = vec![index + 1];
        let pairs = row.iter().zip(row.iter().skip(1)).zip(&target);
        let mut last = index + 1;
        for ((diagonal, above), right) in pairs {
            let replaced = diagonal + usize::from(left != *right);
            last = replaced.min(above + 1).min(last + 1);
            next.push(last);
        }
        row = next;
    }
    row.last().copied().unwrap_or_default()
}
