//! Where a run on a page comes from, and whether two of them are the same work.

use std::path::{Path, PathBuf};

use crate::cli::ledger::out;
use crate::cli::replay;
use crate::cli::status::Failure;
use crate::record::ledger::RunLine;
use crate::record::{About, CheckKept, Sidecar};

/// Where a run comes from.
#[derive(Debug)]
pub(super) enum Source {
    /// A recording's table.
    File {
        path: PathBuf,
        /// What stands beside it.
        sidecar: Box<Sidecar>,
    },
    /// A line of the ledger.
    Kept {
        line: Box<RunLine>,
        sidecar: Box<Sidecar>,
    },
}

impl Source {
    pub(super) fn sidecar(&self) -> &Sidecar {
        match self {
            Self::File { sidecar, .. } | Self::Kept { sidecar, .. } => sidecar,
        }
    }

    /// What the operator said of the run.
    pub(super) fn about(&self) -> About {
        let run = self.sidecar().run.as_ref();
        run.map_or_else(About::default, |run| run.about.clone())
    }

    pub(super) fn of_file(path: &Path) -> Result<Self, Failure> {
        path.metadata().map_err(|source| Failure::Read {
            path: path.to_path_buf(),
            source,
        })?;
        Ok(Self::File {
            path: path.to_path_buf(),
            sidecar: Box::new(replay::sidecar(path)?),
        })
    }

    /// Whether two runs are the same work at different times: the same check, of the same tag.
    /// An instrument has several controls: without tags nothing tells that two runs were of one.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        let is_control = matches!(self.sidecar().check, Some(CheckKept::Pot(_)));
        let tag = self.about().tag;
        self.has_check_of(other) && tag == other.about().tag && (tag.is_some() || !is_control)
    }

    /// Whether two recordings given as before and after can be: the same check, and where both
    /// have a tag the same one; controls that should be of other values are others.
    pub(super) fn may_follow(&self, before: &Self) -> bool {
        let is_control = matches!(self.sidecar().check, Some(CheckKept::Pot(_)));
        let others = match (self.about().tag, before.about().tag) {
            (Some(tag), Some(earlier)) => tag != earlier,
            _ => is_control && self.sidecar().check != before.sidecar().check,
        };
        self.has_check_of(before) && !others
    }

    /// Why two things of one check are not before and after, if it is their tags.
    pub(super) fn is_another_than(&self, before: &Self) -> Option<String> {
        let tags = self.about().tag.zip(before.about().tag);
        let (tag, earlier) = tags.filter(|(tag, earlier)| tag != earlier)?;
        self.has_check_of(before).then(|| {
            format!(
                "The tags differ, {} and {}: these are two pieces of work side by side, not one \
                 before and after.",
                out::harmless(&earlier),
                out::harmless(&tag)
            )
        })
    }

    fn has_check_of(&self, other: &Self) -> bool {
        let check = |source: &Self| source.sidecar().check.as_ref().map(std::mem::discriminant);
        check(self) == check(other)
    }
}
