//! Who holds a port, and whether this user may open it: found out without opening it, since
//! opening moves the modem lines and restarts many a board.
#![expect(
    clippy::disallowed_methods,
    reason = "the system tells of its processes in files, read at this edge"
)]

use std::os::unix::fs::MetadataExt as _;
use std::path::Path;

/// A process that has a port open.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Holder {
    /// Its number.
    pub pid: u32,
    /// Its name, as far as it is told.
    pub name: String,
}

/// Who has this port open, as far as this user is told: the files of other users' processes
/// are told to root only, so an empty list does not prove a port free.
pub fn holders(port: &Path) -> Vec<Holder> {
    let Ok(port) = std::fs::canonicalize(port) else {
        return Vec::new();
    };
    let Ok(processes) = std::fs::read_dir("/proc") else {
        return Vec::new();
    };
    let mut holders: Vec<Holder> = processes
        .flatten()
        .filter_map(|process| {
            let pid = process.file_name().to_str()?.parse().ok()?;
            let files = std::fs::read_dir(process.path().join("fd")).ok()?;
            let holds = files
                .flatten()
                .any(|file| std::fs::read_link(file.path()).is_ok_and(|open| open == port));
            let name = std::fs::read_to_string(process.path().join("comm"));
            holds.then(|| Holder {
                pid,
                name: printable(&name.unwrap_or_default()),
            })
        })
        .collect();
    holders.sort();
    holders
}

/// A process names itself, so its name may hold anything.
fn printable(name: &str) -> String {
    name.trim().chars().filter(|c| !c.is_control()).collect()
}

/// Whether this user may read and write what is at `path`, by its mode; `None` if it cannot be
/// found out. Access lists beyond the mode are not seen.
pub fn may_open(path: &Path) -> Option<bool> {
    let node = std::fs::metadata(path).ok()?;
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let own = Own::read(&status)?;
    Some(own.may(node.mode(), node.uid(), node.gid()))
}

/// The user and groups of this process.
#[derive(Debug, PartialEq, Eq)]
struct Own {
    user: u32,
    groups: Vec<u32>,
}

impl Own {
    /// From the text of a process's status: the second number of `Uid` and `Gid` is the
    /// effective one (proc(5)).
    fn read(status: &str) -> Option<Self> {
        let field = |name: &str| {
            let line = status.lines().find_map(|line| line.strip_prefix(name))?;
            Some(
                line.split_whitespace()
                    .filter_map(|number| number.parse::<u32>().ok()),
            )
        };
        let user = field("Uid:")?.nth(1)?;
        let mut groups: Vec<u32> = field("Groups:")?.collect();
        groups.push(field("Gid:")?.nth(1)?);
        Some(Self { user, groups })
    }

    /// Whether the mode of a node with this owner and group lets this process read and write.
    fn may(&self, mode: u32, owner: u32, group: u32) -> bool {
        let bits = if self.user == 0 {
            return true;
        } else if self.user == owner {
            mode >> 6
        } else if self.groups.contains(&group) {
            mode >> 3
        } else {
            mode
        };
        bits & 0o6 == 0o6
    }
}

#[cfg(test)]
mod tests {
    use super::Own;

    #[test]
    fn the_mode_says_who_may_open() {
        // The form of the file: proc(5).
        let status = "Name:\tx\nUid:\t1000\t1000\t1000\t1000\nGid:\t1000\t1000\t1000\t1000\n\
                      Groups:\t20 46 \n";
        let own = Own::read(status).unwrap();
        assert_eq!(
            (own.user, own.groups.as_slice()),
            (1000, [20, 46, 1000].as_slice())
        );
        assert!(own.may(0o020_660, 0, 20));
        assert!(!own.may(0o020_660, 0, 5));
        assert!(!own.may(0o020_640, 0, 20));
        assert!(own.may(0o020_600, 1000, 0));
        assert!(own.may(0o020_666, 0, 0));
        let root = Own {
            user: 0,
            groups: Vec::new(),
        };
        assert!(root.may(0o020_000, 1, 1));
    }
}
