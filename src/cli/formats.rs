//! Meter formats by ID or by file: the built-in library, the user's own folder, or a path.
#![expect(
    clippy::disallowed_methods,
    reason = "format files are opened here, at the edge"
)]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::cli::status::Failure;
use crate::protocol::{self, Protocol};

/// The format that `--protocol` names.
pub(super) fn load(named: &str) -> Result<Arc<Protocol>, Failure> {
    if is_path(named) {
        return read(Path::new(named)).map(Arc::new);
    }
    if let Some(own) = own_folder().map(|folder| folder.join(format!("{named}.toml")))
        && own.is_file()
    {
        return read(&own).map(Arc::new);
    }
    protocol::find(named).map_err(|unknown| {
        let nearest = match unknown.nearest.as_slice() {
            [] => String::new(),
            nearest => format!("; near it: {}", nearest.join(", ")),
        };
        Failure::Usage(format!(
            "there is no meter format `{named}`{nearest}; `steadyohm protocols` lists them all"
        ))
    })
}

/// Reads a text file.
pub(super) fn read_text(path: &Path) -> Result<String, Failure> {
    fs::read_to_string(path).map_err(|source| Failure::Read {
        path: path.to_path_buf(),
        source,
    })
}

/// Reads a format file.
pub(super) fn read(path: &Path) -> Result<Protocol, Failure> {
    let text = read_text(path)?;
    Ok(Protocol::from_text(&text, &path.display().to_string())?)
}

/// Every format there is: the user's own that can be read, then the built-in ones that are not
/// replaced by an own one of the same name.
pub(super) fn all() -> Vec<Arc<Protocol>> {
    let read = |path: &PathBuf| read(path).ok().map(Arc::new);
    let mut formats: Vec<Arc<Protocol>> = own_files().iter().filter_map(read).collect();
    for built_in in protocol::library() {
        if !formats.iter().any(|own| own.id() == built_in.id()) {
            formats.push(Arc::clone(built_in));
        }
    }
    formats
}

/// The formats in the user's own folder, by path.
pub(super) fn own_files() -> Vec<PathBuf> {
    let Some(entries) = own_folder().and_then(|folder| fs::read_dir(folder).ok()) else {
        return Vec::new();
    };
    let mut files: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        .collect();
    files.sort();
    files
}

/// Where the user's own formats are.
pub(super) fn own_folder() -> Option<PathBuf> {
    configuration_folder().map(|base| base.join("protocols"))
}

/// Where the user's own settings are.
pub(super) fn configuration_folder() -> Option<PathBuf> {
    base_folder("XDG_CONFIG_HOME", ".config")
}

/// Where recordings go unless told otherwise.
pub(super) fn recordings_folder() -> PathBuf {
    base_folder("XDG_DATA_HOME", ".local/share").map_or_else(
        || PathBuf::from("steadyohm-recordings"),
        |base| base.join("recordings"),
    )
}

/// Where the ledger is unless told otherwise: beside the folder of recordings.
pub(super) fn ledger_file() -> PathBuf {
    base_folder("XDG_DATA_HOME", ".local/share").map_or_else(
        || PathBuf::from("steadyohm-ledger.sqlite"),
        |base| base.join("ledger.sqlite"),
    )
}

/// The program's folder under one of the XDG base directories.
fn base_folder(variable: &str, under_home: &str) -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty());
    set(variable)
        .map(PathBuf::from)
        .or_else(|| set("HOME").map(|home| PathBuf::from(home).join(under_home)))
        .map(|base| base.join("steadyohm"))
}

fn is_path(named: &str) -> bool {
    named.contains('/')
        || Path::new(named)
            .extension()
            .is_some_and(|end| end.eq_ignore_ascii_case("toml"))
}
