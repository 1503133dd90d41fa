//! How the leads of a stock are told apart: counted, listed, or typed and scanned.

use std::fmt;
use std::str::FromStr;

/// The tags of a stock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Tags {
    /// Counted up: `A001`, `A002`, ...
    Counter {
        /// What stands before the number.
        prefix: String,
        /// The first number.
        first: u32,
        /// The last number; none if it goes on.
        last: Option<u32>,
        /// Digits, filled up with zeros.
        width: usize,
    },
    /// These, in order.
    List(Vec<String>),
    /// Each is typed, or scanned, when its turn has come.
    Typed,
}

/// Tags that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TagsError {
    /// No form that is known.
    #[error(
        "the tags {0:?} could not be read; write them like 1..80, A001..A080, A001.. (goes on), \
         blue,red,green or typed"
    )]
    Form(String),
    /// Counted down, or too far.
    #[error(
        "{0:?} counts no leads, or too many: the last number must not be below the first, nor a \
         million above it"
    )]
    Uncountable(String),
    /// The same tag for two leads.
    #[error("the tag {0:?} stands twice: each lead needs one of its own")]
    Twice(String),
}

impl Tags {
    /// The longest tag, in characters.
    pub const LONGEST: usize = 40;

    /// A tag as typed or scanned, made fit to be kept; none if nothing is left of it.
    pub fn clean(typed: &str) -> Option<String> {
        let tag: String = typed
            .chars()
            .filter(|character| !character.is_control())
            .take(Self::LONGEST)
            .collect();
        let tag = tag.trim();
        (!tag.is_empty()).then(|| tag.to_owned())
    }

    /// These tags, each for one lead.
    pub fn list(tags: &[String]) -> Result<Self, TagsError> {
        let clean: Vec<String> = tags.iter().filter_map(|tag| Self::clean(tag)).collect();
        let mut sorted = clean.clone();
        sorted.sort();
        let mut pairs = sorted.iter().zip(sorted.iter().skip(1));
        match pairs.find(|(a, b)| a == b) {
            Some((twice, _)) => Err(TagsError::Twice(twice.clone())),
            None if clean.is_empty() => Err(TagsError::Form(tags.join(","))),
            None => Ok(Self::List(clean)),
        }
    }

    /// How many there are; none if that is open.
    pub fn count(&self) -> Option<u32> {
        match self {
            Self::Counter { first, last, .. } => {
                Some(last.as_ref()?.saturating_sub(*first) + 1)
            }
            Self::List(tags) => u32::try_from(tags.len()).ok(),
            Self::Typed => None,
        }
    }

    /// Whether there is no end to them.
    pub fn is_open(&self) -> bool {
        self.count().is_none()
    }

    /// The tag at a place, from 0.
    pub fn get(&self, place: u32) -> Option<String> {
        match self {
            Self::Counter {
                prefix,
                first,
                last,
                width,
            } => {
                let number = first.checked_add(place)?;
                let within = last.is_none_or(|last| number <= last);
                within.then(|| format!("{prefix}{number:0width$}"))
            }
            Self::List(tags) => tags.get(usize::try_from(place).ok()?).cloned(),
            Self::Typed => None,
        }
    }

    fn counter(text: &str, from: &str, to: &str) -> Result<Self, TagsError> {
        let form = || TagsError::Form(text.to_owned());
        let prefix = from.trim_end_matches(|c: char| c.is_ascii_digit());
        let digits = from.strip_prefix(prefix).unwrap_or_default();
        let first: u32 = digits.parse().map_err(|_not_a_number| form())?;
        let last = match to {
            "" => None,
            to => {
                let digits = to.strip_prefix(prefix).unwrap_or(to);
                Some(digits.parse::<u32>().map_err(|_not_a_number| form())?)
            }
        };
        if last.is_some_and(|last| last < first || last - first >= 1_000_000) {
            return Err(TagsError::Uncountable(text.to_owned()));
        }
        Ok(Self::Counter {
            prefix: Self::clean(prefix).unwrap_or_default(),
            first,
            last,
            width: if digits.starts_with('0') {
                digits.len()
            } else {
                1
            },
        })
    }
}

impl FromStr for Tags {
    type Err = TagsError;

    /// Reads `1..80`, `A001..A080`, `A001..`, `blue,red` and `typed`.
    fn from_str(text: &str) -> Result<Self, TagsError> {
        let text = text.trim();
        if text == "typed" {
            return Ok(Self::Typed);
        }
        if let Some((from, to)) = text.split_once("..") {
            return Self::counter(text, from.trim(), to.trim());
        }
        let tags: Vec<String> = text.split(',').map(str::to_owned).collect();
        match tags.len() {
            0 | 1 => Err(TagsError::Form(text.to_owned())),
            _ => Self::list(&tags),
        }
    }
}

impl fmt::Display for Tags {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Typed => f.write_str("typed"),
            Self::List(tags) => f.write_str(&tags.join(",")),
            Self::Counter {
                prefix,
                first,
                last,
                width,
            } => {
                write!(f, "{prefix}{first:0width$}..")?;
                match last {
                    Some(last) => write!(f, "{prefix}{last:0width$}"),
                    None => Ok(()),
                }
            }
        }
    }
}
