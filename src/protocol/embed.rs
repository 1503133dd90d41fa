//! Build step: lists `protocols/` into one table, so that a new format is only a new file.
#![expect(
    clippy::disallowed_methods,
    reason = "the build step is where the built-in format files are opened"
)]

use std::env;
use std::error::Error;
use std::fmt::Write as _;
use std::fs;
use std::io::{self, Write as _};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join("protocols");
    let mut files = Vec::new();
    for entry in fs::read_dir(&folder)? {
        let path = entry?.path();
        if path
            .extension()
            .is_some_and(|extension| extension == "toml")
        {
            files.push(path);
        }
    }
    files.sort();
    let mut table = String::from("&[\n");
    for path in &files {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        writeln!(
            table,
            "    ({:?}, include_str!({:?})),",
            format!("protocols/{name}"),
            path.display().to_string()
        )?;
    }
    table.push_str("]\n");
    let out = PathBuf::from(env::var("OUT_DIR")?).join("protocols.rs");
    // Written only on change, so that an untouched folder rebuilds nothing.
    if fs::read_to_string(&out).ok().as_deref() != Some(table.as_str()) {
        fs::write(&out, table)?;
    }
    writeln!(io::stdout(), "cargo::rerun-if-changed=protocols")?;
    writeln!(
        io::stdout(),
        "cargo::rerun-if-changed=src/protocol/embed.rs"
    )?;
    Ok(())
}
