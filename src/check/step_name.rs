//! The name of a step, as the command contract writes it.
//!
//! The names of a built-in check are few, but a job's own terminals name steps too: a name is
//! shared text, cheap to pass along with every tick.

use std::fmt;
use std::ops::Deref;
use std::sync::Arc;

/// The name of a step: `tip`, `sleeve`, `isolation`.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StepName(Arc<str>);

impl StepName {
    /// The name as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl Deref for StepName {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl From<&str> for StepName {
    fn from(name: &str) -> Self {
        Self(Arc::from(name))
    }
}

impl From<String> for StepName {
    fn from(name: String) -> Self {
        Self(Arc::from(name))
    }
}

impl PartialEq<str> for StepName {
    fn eq(&self, other: &str) -> bool {
        &*self.0 == other
    }
}

impl PartialEq<&str> for StepName {
    fn eq(&self, other: &&str) -> bool {
        &*self.0 == *other
    }
}

impl fmt::Debug for StepName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.0, f)
    }
}

impl fmt::Display for StepName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}
