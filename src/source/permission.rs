//! Who may open a device's node, and how to become one of them.
#![expect(
    clippy::disallowed_methods,
    reason = "the system's groups stand in a file, and this is the edge that reads it"
)]

use std::os::unix::fs::MetadataExt as _;
use std::path::Path;

use super::SourceError;

/// The name of the group that owns what is at `path`, if both can be found out.
pub fn group_of(path: &Path) -> Option<String> {
    let owner = std::fs::metadata(path).ok()?.gid();
    let groups = std::fs::read_to_string("/etc/group").ok()?;
    group_named(&groups, owner).map(str::to_owned)
}

/// The refusal of `path`, with the way to come by the permission.
pub(super) fn refused(path: &Path) -> SourceError {
    let node = std::fs::metadata(path).ok();
    // Nobody should join root's own group.
    let group = node
        .as_ref()
        .filter(|node| node.gid() != 0)
        .and_then(|_| group_of(path));
    SourceError::NoPermission {
        path: path.to_owned(),
        remedy: remedy(node.map_or(0, |node| node.mode()), group.as_deref()),
    }
}

/// What opens a node of this mode and this group.
fn remedy(mode: u32, group: Option<&str>) -> String {
    match group {
        // A group that may not read and write helps nobody.
        Some(group) if mode & 0o060 == 0o060 => format!(
            "it belongs to the group {group}: run `sudo usermod -aG {group} $USER`, then log \
             out and in again"
        ),
        _ => "it is closed to every group: a udev rule with MODE=\"0660\", GROUP=\"dialout\" \
              opens it"
            .to_owned(),
    }
}

/// The name of a group in the text of the group file: `name:password:number:members`.
fn group_named(groups: &str, number: u32) -> Option<&str> {
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        let found = fields.nth(1)?.parse::<u32>().ok()?;
        (number == found).then_some(name)
    })
}

#[cfg(test)]
mod tests {
    use super::{group_named, remedy};

    #[test]
    fn a_group_is_found_by_its_number() {
        // The form of the file: group(5).
        let groups = "root:x:0:\n\n# note\nbad:x:many:\ndialout:x:20:ann,bo\nplugdev:x:46:\n";
        assert_eq!(group_named(groups, 20), Some("dialout"));
        assert_eq!(group_named(groups, 46), Some("plugdev"));
        assert_eq!(group_named(groups, 2), None);
    }

    #[test]
    fn only_a_group_that_may_read_and_write_is_advised() {
        let joins = |mode, group| remedy(mode, group).contains("usermod -aG dialout");
        assert!(joins(0o020_660, Some("dialout")));
        assert!(!joins(0o020_640, Some("dialout")));
        assert!(!joins(0o020_600, Some("dialout")));
        assert!(!joins(0o020_660, None));
        assert!(remedy(0o020_600, None).contains("udev rule"));
    }
}
