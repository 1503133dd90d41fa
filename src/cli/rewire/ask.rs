//! `steadyohm rewire new`: a few questions, and the job file they make.

use std::fs::OpenOptions;
use std::io::{self, BufRead as _, Write as _};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::circuit::job::{ControlText, Pickup, Plan, plain};
use crate::circuit::{FREE_FORM, LAYOUTS, Layout};
use crate::cli::rewire::{judged, told};
use crate::cli::status::{Failure, Status};

/// What is asked for where no layout is.
const FREE: &str = "free";

/// What the job is of and where it goes.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm rewire new --layout one-pickup --out guitar.toml
  steadyohm rewire new --layout free --out guitar.toml    # parts and wires of your own")]
pub(super) struct Arguments {
    /// The layout, one of `steadyohm rewire layouts`, or `free`: a job with its own parts and
    /// wires, to be changed by hand; asked for if it is not given.
    #[arg(long, value_name = "NAME")]
    layout: Option<String>,
    /// The file to write; without it the job goes to standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments) -> Result<Status, Failure> {
    let name = if let Some(name) = &arguments.layout {
        name.clone()
    } else {
        let names: Vec<&str> = LAYOUTS.iter().map(|layout| layout.id).collect();
        let question = format!("Layout, one of {}, or free for any other", names.join(", "));
        answer(&question, "two-pickups-three-way")?
    };
    if name == FREE {
        return written(arguments.out.as_deref(), FREE_FORM);
    }
    let layout = LAYOUTS.iter().find(|layout| layout.id == name);
    let Some(layout) = layout else {
        return Err(Failure::Usage(format!(
            "there is no layout {name:?}; `steadyohm rewire layouts` lists them, and `free` is \
             for any other"
        )));
    };
    let text = asked(layout)?
        .to_text()
        .map_err(|error| Failure::Usage(error.to_string()))?;
    judged(&text, "the answers")?;
    written(arguments.out.as_deref(), &text)
}

/// The text in its file, or on standard output.
fn written(out: Option<&Path>, text: &str) -> Result<Status, Failure> {
    let Some(path) = out else {
        return told(io::stdout().lock().write_all(text.as_bytes()));
    };
    let unwritten = |source| Failure::Write {
        path: path.to_path_buf(),
        source,
    };
    // A job that is there already holds somebody's work.
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .map_err(unwritten)?;
    file.write_all(text.as_bytes()).map_err(unwritten)?;
    let shown = path.display();
    next(&format!(
        "{shown} is written; look at its states with: steadyohm rewire {shown} --plan"
    ));
    Ok(Status::Pass)
}

/// The plan that the answers make: what is taken as the layout has it is left out.
fn asked(layout: &Layout) -> Result<Plan, Failure> {
    let known = layout
        .plan()
        .map_err(|error| Failure::Usage(error.to_string()))?;
    let mut plan = Plan::named(layout.id);
    let title = answer("What the instrument is called (Enter to leave out)", "")?;
    plan.title = Some(title).filter(|title| !title.is_empty());
    let active = answer(
        "Is there a battery in it, for a circuit before the jack? yes or no",
        "no",
    )?;
    plan.active = matches!(active.as_str(), "yes" | "y");
    let celsius = answer("Workshop temperature in °C (Enter to leave out)", "")?;
    if !celsius.is_empty() {
        plan.workshop.celsius = Some(plain(number(&celsius)?));
    }
    for pickup in &known.pickup {
        plan.pickup.extend(pickup_asked(pickup)?);
    }
    for control in &known.control {
        let (Some(ohms), None) = (&control.ohms, &control.follows) else {
            continue;
        };
        let usual = ohms.get_ref().to_string();
        let said = answer(&format!("{}, ohms", control.id.get_ref()), &usual)?;
        if said != usual {
            plan.control.push(ControlText {
                id: plain(control.id.get_ref().clone()),
                title: None,
                ohms: Some(plain(number(&said)?)),
                tolerance: None,
                law: None,
                end_ohms: None,
                follows: None,
            });
        }
    }
    Ok(plan)
}

fn pickup_asked(pickup: &Pickup) -> Result<Option<Pickup>, Failure> {
    let id = pickup.id.get_ref();
    let mut own = Pickup {
        id: plain(id.clone()),
        title: None,
        ohms: None,
        coils: None,
        tolerance: None,
        celsius: None,
    };
    if let Some(coils) = &pickup.coils {
        let each: Vec<String> = coils.get_ref().iter().map(f64::to_string).collect();
        let usual = each.join(", ");
        let said = answer(&format!("{id} pickup, ohms of each coil"), &usual)?;
        if said == usual {
            return Ok(None);
        }
        let coils: Result<Vec<f64>, Failure> = said.split(',').map(number).collect();
        own.coils = Some(plain(coils?));
    } else {
        let usual = pickup
            .ohms
            .as_ref()
            .map_or(String::new(), |ohms| ohms.get_ref().to_string());
        let said = answer(&format!("{id} pickup, ohms"), &usual)?;
        if said == usual {
            return Ok(None);
        }
        own.ohms = Some(plain(number(&said)?));
    }
    Ok(Some(own))
}

fn number(text: &str) -> Result<f64, Failure> {
    let trimmed = text.trim();
    trimmed
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite())
        .ok_or_else(|| Failure::Usage(format!("{trimmed:?} is no number; write it like 7800")))
}

/// One answer; what is usual if nothing is said.
fn answer(question: &str, usual: &str) -> Result<String, Failure> {
    let failed = |source| Failure::Read {
        path: "standard input".into(),
        source,
    };
    let mut err = io::stderr().lock();
    let brackets = if usual.is_empty() {
        String::new()
    } else {
        format!(" [{usual}]")
    };
    write!(err, "{question}{brackets}: ").map_err(failed)?;
    err.flush().map_err(failed)?;
    let mut line = String::new();
    io::stdin().lock().read_line(&mut line).map_err(failed)?;
    let said = line.trim();
    Ok(if said.is_empty() { usual } else { said }.to_owned())
}

/// A word on what to do next, beside the answers.
fn next(text: &str) {
    // Nobody listening any more takes nothing from the file.
    drop(writeln!(io::stderr().lock(), "{text}"));
}
