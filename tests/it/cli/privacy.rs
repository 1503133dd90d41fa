//! What the program leaves behind: nothing but what was typed and measured, readable by whom the
//! user lets read.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::ledger::READINGS;
use super::{LIMIT, Ran, ran_in};

/// Names that this machine and its user might have.
const USER: &str = "quartzfinch";
const MACHINE: &str = "mossy-anvil";

/// A check kept where it goes by itself, by a user with these names and this mask for new files.
fn kept(folder: &Path, mask: &str) -> PathBuf {
    let home = folder.join(USER);
    fs::create_dir(&home).unwrap();
    let line = "lead --json --from - --protocol number-lines --tick 0.12s --tag L-1";
    let mut command = Command::new("sh");
    command
        .args(["-c", &format!("umask {mask}; exec \"$0\" \"$@\"")])
        .arg(env!("CARGO_BIN_EXE_steadyohm"))
        .args(line.split(' '))
        .env("HOME", &home)
        .envs([("USER", USER), ("LOGNAME", USER), ("HOSTNAME", MACHINE)])
        .env_remove("XDG_DATA_HOME")
        .env_remove("XDG_CONFIG_HOME")
        .current_dir(&home);
    let output = assert_cmd::Command::from(command)
        .timeout(LIMIT)
        .write_stdin(READINGS)
        .output()
        .unwrap();
    let ran = Ran::of(output);
    assert_eq!((ran.status, &*ran.complaint), (Some(3), ""), "{ran:?}");
    let page = ran_in(&home, &["report", "L-1", "--out", "page.html"], "");
    assert_eq!(page.status, Some(0), "{page:?}");
    home
}

/// Every file below a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .flat_map(|path| {
            if path.is_dir() {
                files(&path)
            } else {
                vec![path]
            }
        })
        .collect()
}

fn holds(bytes: &[u8], word: &str) -> bool {
    bytes
        .windows(word.len())
        .any(|part| part == word.as_bytes())
}

/// The machine's own name, as the system tells it.
fn host() -> String {
    let name = fs::read_to_string("/proc/sys/kernel/hostname").unwrap_or_default();
    name.trim().to_owned()
}

#[test]
fn no_file_names_the_user_the_machine_or_a_folder() {
    let folder = tempfile::tempdir().unwrap();
    let home = kept(folder.path(), "022");
    let files = files(&home);
    let endings: Vec<&str> = files
        .iter()
        .filter_map(|path| path.extension()?.to_str())
        .collect();
    for ending in ["csv", "json", "bin", "sqlite", "html"] {
        assert!(endings.contains(&ending), "{ending} is not among {files:?}");
    }
    let host = host();
    for file in &files {
        let bytes = fs::read(file).unwrap();
        for name in [USER, MACHINE, folder.path().to_str().unwrap()] {
            assert!(!holds(&bytes, name), "{} holds {name}", file.display());
        }
        // A machine of one or two letters has them in any text.
        assert!(
            host.len() < 6 || !holds(&bytes, &host),
            "{} holds {host}",
            file.display()
        );
    }
    // What was typed is there, so that what is not there would have been found.
    let ledger = fs::read(home.join(".local/share/steadyohm/ledger.sqlite")).unwrap();
    assert!(holds(&ledger, "L-1") && holds(&ledger, "number-lines"));
}

#[test]
fn files_are_as_the_user_has_new_files() {
    for (mask, bits) in [("077", 0o077), ("027", 0o027), ("022", 0o022)] {
        let folder = tempfile::tempdir().unwrap();
        let home = kept(folder.path(), mask);
        let data = home.join(".local/share/steadyohm");
        let files = files(&data);
        assert!(files.len() >= 4, "{files:?}");
        for file in files {
            let mode = fs::metadata(&file).unwrap().permissions().mode() & 0o777;
            assert_eq!(
                mode,
                0o666 & !bits,
                "{}: {mode:o} with {mask}",
                file.display()
            );
        }
        let mode = fs::metadata(&data).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode, 0o777 & !bits, "{mode:o} with {mask}");
    }
}
