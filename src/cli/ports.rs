//! `steadyohm ports`: the ports a meter may be on.

use std::io::{self, Write as _};

use clap::Args;

use crate::cli::status::{Failure, Status};
use crate::source::{self, Port, PortKind, Where};

/// List serial ports and instrument nodes, likeliest first.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  steadyohm ports")]
pub(super) struct Arguments {
    /// Newline-delimited JSON on standard output.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Status, Failure> {
    let ports = source::ports()?;
    let mut out = io::stdout().lock();
    let written = ports.iter().try_for_each(|port| {
        if arguments.json {
            let line = serde_json::json!({
                "from": place(port).to_string(),
                "description": port.description,
                "candidate": port.is_candidate(),
            });
            writeln!(out, "{line}")
        } else {
            writeln!(out, "{}", line(port))
        }
    });
    let told = if ports.is_empty() && !arguments.json {
        written.and_then(|()| {
            writeln!(
                out,
                "no port found: plug the meter's cable in; a port made by other means still \
                 opens by its path with --from"
            )
        })
    } else {
        written
    };
    super::protocols::quietly(told)?;
    Ok(Status::Pass)
}

/// A port as `--from` takes it.
pub(super) fn place(port: &Port) -> Where {
    match port.kind {
        PortKind::Usbtmc => Where::Usbtmc(port.path.clone()),
        PortKind::UsbSerial | PortKind::BuiltIn => Where::Serial(port.path.clone()),
    }
}

/// A port and what it is.
pub(super) fn line(port: &Port) -> String {
    format!("{:<28} {}", place(port).to_string(), port.description)
}
