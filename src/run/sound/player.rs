//! The players a system may have: general ones, found once, each with what it wants to be
//! given. No system library is linked; a player is a program beside this one.

use std::env;
use std::ffi::OsStr;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::process::Stdio;

use tokio::process::Command;

/// A player as it is called.
#[derive(Debug, Clone, Copy)]
struct Known {
    /// The program.
    name: &'static str,
    /// What stands before the file's name; none if it is of no use for files.
    file: Option<&'static [&'static str]>,
    /// What makes it take 16-bit samples of one channel, 44 100 a second, low byte first, from
    /// its standard input, with as little of them in store as will do; none if it cannot.
    stream: Option<&'static [&'static str]>,
}

/// Every player known, the best first: those of a sound server mix with what else is heard.
/// The options are from the programs' own help texts.
const KNOWN: [Known; 6] = [
    Known {
        name: "pw-play",
        file: Some(&[]),
        stream: None,
    },
    Known {
        name: "paplay",
        file: Some(&[]),
        stream: None,
    },
    Known {
        name: "pacat",
        file: None,
        stream: Some(&[
            "--playback",
            "--raw",
            "--format=s16le",
            "--rate=44100",
            "--channels=1",
            "--latency-msec=50",
        ]),
    },
    Known {
        name: "afplay",
        file: Some(&[]),
        stream: None,
    },
    Known {
        name: "aplay",
        file: Some(&["-q"]),
        stream: Some(&[
            "-q",
            "-t",
            "raw",
            "-f",
            "S16_LE",
            "-c",
            "1",
            "-r",
            "44100",
            "--buffer-time=100000",
        ]),
    },
    Known {
        name: "play",
        file: Some(&["-q"]),
        stream: Some(&[
            "-q", "-t", "raw", "-r", "44100", "-e", "signed", "-b", "16", "-c", "1", "-L", "-",
        ]),
    },
];

/// A player that is there.
#[derive(Debug, Clone)]
pub(super) struct Player {
    /// Its name, for a sentence.
    pub(super) name: &'static str,
    program: PathBuf,
    arguments: &'static [&'static str],
}

impl Player {
    /// Those that play a file, the best first.
    pub(super) fn for_files() -> Vec<Self> {
        found(env::var_os("PATH").as_deref(), |known| known.file)
    }

    /// Those that play what they read from standard input, the best first.
    pub(super) fn for_streams() -> Vec<Self> {
        found(env::var_os("PATH").as_deref(), |known| known.stream)
    }

    /// The names of all that could play a stream, for a sentence.
    pub(super) fn stream_names() -> String {
        names(|known| known.stream.is_some())
    }

    /// The names of all that could play a file, for a sentence.
    pub(super) fn file_names() -> String {
        names(|known| known.file.is_some())
    }

    /// The command; what the player has to say would spoil the screen.
    pub(super) fn command(&self) -> Command {
        let mut command = Command::new(&self.program);
        command
            .args(self.arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .kill_on_drop(true);
        command
    }
}

fn names(wanted: impl Fn(&Known) -> bool) -> String {
    let names: Vec<&str> = KNOWN
        .iter()
        .filter(|known| wanted(known))
        .map(|known| known.name)
        .collect();
    names.join(", ")
}

fn found(
    path: Option<&OsStr>,
    wanted: impl Fn(&Known) -> Option<&'static [&'static str]>,
) -> Vec<Player> {
    let folders: Vec<PathBuf> = path
        .map(|path| env::split_paths(path).collect())
        .unwrap_or_default();
    let player = |known: &Known| {
        Some(Player {
            name: known.name,
            arguments: wanted(known)?,
            program: folders
                .iter()
                // A relative folder would mean another one at each place.
                .filter(|folder| folder.is_absolute())
                .map(|folder| folder.join(known.name))
                .find(|program| is_executable(program))?,
        })
    };
    KNOWN.iter().filter_map(player).collect()
}

fn is_executable(program: &Path) -> bool {
    const ANYBODY: u32 = 0o111;
    program
        .metadata()
        .is_ok_and(|about| about.is_file() && about.permissions().mode() & ANYBODY != 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn players_are_found_in_their_order_and_only_if_they_can_run() {
        let folders = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
        let put = |folder: usize, name: &str, mode: u32| {
            let program = folders[folder].path().join(name);
            fs::write(&program, "#!/bin/sh\n").unwrap();
            fs::set_permissions(&program, fs::Permissions::from_mode(mode)).unwrap();
            program
        };
        put(0, "paplay", 0o644);
        let second = put(1, "aplay", 0o755);
        let first = put(1, "paplay", 0o755);
        fs::create_dir(folders[0].path().join("pw-play")).unwrap();
        let path = env::join_paths(folders.iter().map(tempfile::TempDir::path)).unwrap();
        let files = found(Some(&path), |known| known.file);
        let programs: Vec<_> = files.iter().map(|player| &player.program).collect();
        assert_eq!(programs, [&first, &second]);
        let streams = found(Some(&path), |known| known.stream);
        assert_eq!(streams.len(), 1);
        assert_eq!(streams[0].program, second);
        assert!(found(None, |known| known.file).is_empty());
        assert!(found(Some(OsStr::new("")), |known| known.file).is_empty());
    }

    #[test]
    fn every_player_is_of_some_use() {
        assert!(
            KNOWN
                .iter()
                .all(|known| known.file.or(known.stream).is_some())
        );
        assert_eq!(Player::stream_names(), "pacat, aplay, play");
    }
}
