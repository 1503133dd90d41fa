//! `steadyohm ports`: the ports a meter may be on.

use std::io::{self, Write as _};
use std::path::Path;

use clap::Args;

use crate::cli::status::{Failure, Status};
use crate::source::{self, Holder, Port, PortKind, Where};

/// List serial ports and instrument nodes, likeliest first: what each says it is, who holds it,
/// and whom to ask for permission. No port is opened for this.
#[derive(Debug, Args)]
#[command(after_help = "Example:
  steadyohm ports

With --json, one line a port:
  {\"from\":..,\"description\":..,\"candidate\":true|false,\"held_by\":[{\"pid\":N,\"name\":..}],\
\"may_open\":true|false|null,\"group\":NAME|null}
Other users' programs are seen by root only: a port that nobody is seen to hold may be busy all \
the same.")]
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
            let holders = source::holders(&port.path);
            let holder =
                |holder: &Holder| serde_json::json!({"pid": holder.pid, "name": holder.name});
            let line = serde_json::json!({
                "from": place(port).to_string(),
                "description": port.description,
                "candidate": port.is_candidate(),
                "held_by": holders.iter().map(holder).collect::<Vec<_>>(),
                "may_open": source::may_open(&port.path),
                "group": source::group_of(&port.path),
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

/// A port, what it is, and what stands in the way of using it.
pub(super) fn line(port: &Port) -> String {
    let mut line = format!("{:<28} {}", place(port).to_string(), port.description);
    for obstacle in obstacles(&port.path) {
        line.push_str("; ");
        line.push_str(&obstacle);
    }
    line
}

/// What stands in the way of opening a port, as far as can be told without opening it.
fn obstacles(path: &Path) -> Vec<String> {
    let held = source::holders(path)
        .into_iter()
        .map(|holder| format!("busy: held by {} ({})", holder.pid, holder.name));
    let closed = (source::may_open(path) == Some(false)).then(|| {
        source::group_of(path).map_or_else(
            || "you have no permission to open it".to_owned(),
            |group| format!("you have no permission: it belongs to the group {group}"),
        )
    });
    held.chain(closed).collect()
}

#[cfg(test)]
mod tests {
    use super::obstacles;
    use crate::source::Pseudo;

    #[tokio::test]
    async fn a_port_that_is_held_says_by_whom() {
        let pseudo = Pseudo::new().unwrap();
        let obstacles = obstacles(pseudo.path());
        let own = format!("busy: held by {} (", std::process::id());
        assert!(
            obstacles.iter().any(|obstacle| obstacle.starts_with(&own)),
            "{obstacles:?}"
        );
    }
}
