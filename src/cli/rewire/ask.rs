//! `steadyohm rewire new`: a few questions, and the job file they make.

use std::fs::OpenOptions;
use std::io::{self, BufRead as _, Write as _};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::circuit::control::Control;
use crate::circuit::job::{ControlText, Pickup, Plan, plain};
use crate::circuit::{FREE_FORM, LAYOUTS, Layout};
use crate::cli::input;
use crate::cli::rewire::{judged, told};
use crate::cli::status::{Failure, Status};
use crate::reading::Ohms;

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
    // Before anything is asked: a job that is there already holds somebody's work.
    if let Some(path) = arguments.out.as_deref().filter(|path| path.exists()) {
        let shown = path.display();
        return Err(Failure::Usage(format!(
            "{shown} is there already and is not written over: give another name with --out, or \
             move it away first"
        )));
    }
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
    let job = judged(&text, "the answers")?;
    let done = written(arguments.out.as_deref(), &text)?;
    let unknown: Vec<&str> = job.circuit().typical().collect();
    if !unknown.is_empty() {
        next(&format!(
            "typical values are taken for {}: no reading fails by them alone; give the ohms in \
             the file once you know them",
            unknown.join(", ")
        ));
    }
    Ok(done)
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
    let active = "Is there a battery in it, for a circuit before the jack? yes or no";
    plan.active = until(active, "no", |said| match said {
        "yes" | "y" => Ok(true),
        "no" | "n" => Ok(false),
        _ => Err(format!("{said:?} is neither yes nor no")),
    })?
    .unwrap_or(false);
    let celsius = "Workshop temperature in °C (Enter to leave out)";
    plan.workshop.celsius = until(celsius, "", self::celsius)?.map(plain);
    for pickup in &known.pickup {
        plan.pickup.extend(pickup_asked(pickup)?);
    }
    for control in &known.control {
        let (Some(ohms), None) = (&control.ohms, &control.follows) else {
            continue;
        };
        let question = format!("{}, ohms", control.id.get_ref());
        let said = until(&question, &typical(&[*ohms.get_ref()]), |said| {
            within(said, CONTROL)
        })?;
        plan.control.extend(said.map(|ohms| ControlText {
            id: plain(control.id.get_ref().clone()),
            title: None,
            ohms: Some(plain(ohms)),
            tolerance: None,
            law: None,
            end_ohms: None,
            follows: None,
        }));
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
        let question = format!("{id} pickup, ohms of each coil");
        let said = until(&question, &typical(coils.get_ref()), two)?;
        own.coils = said.map(plain);
    } else {
        let usual = pickup
            .ohms
            .as_ref()
            .map_or_else(String::new, |ohms| typical(&[*ohms.get_ref()]));
        let question = format!("{id} pickup, ohms");
        let said = until(&question, &usual, |said| within(said, PICKUP))?;
        own.ohms = said.map(plain);
    }
    Ok((own.ohms.is_some() || own.coils.is_some()).then_some(own))
}

/// What a job takes as a winding and as a control, in ohms.
const PICKUP: (f64, f64) = (1.0, 1e6);
const CONTROL: (f64, f64) = (100.0, 1e7);

/// What Enter takes.
fn typical(ohms: &[f64]) -> String {
    let each: Vec<String> = ohms.iter().map(f64::to_string).collect();
    format!("Enter: not known, typical {}", each.join(", "))
}

fn two(said: &str) -> Result<Vec<f64>, String> {
    let coils: Result<Vec<f64>, String> =
        said.split(',').map(|one| within(one, PICKUP)).collect();
    coils.and_then(|coils| match coils.len() {
        2 => Ok(coils),
        _ => Err("two coils are written like 4000, 4000".to_owned()),
    })
}

fn celsius(said: &str) -> Result<f64, String> {
    let digits = said.trim_end_matches(['°', 'C', 'c']).trim_end();
    let number = digits.parse::<f64>().ok();
    number
        .filter(|celsius| (-40.0..=85.0).contains(celsius))
        .ok_or_else(|| {
            format!("{said:?} is no temperature from -40 to 85 °C; write it like 21")
        })
}

/// Ohms as people write them, plain or as on a control: 8200, 8.2k, 8k2.
fn within(said: &str, (least, most): (f64, f64)) -> Result<f64, String> {
    let plainly = input::ohms(said).ok();
    let read = plainly.or_else(|| said.parse::<Control>().ok().map(|marked| marked.nominal));
    let ohms = read.map(|ohms| ohms.0);
    ohms.filter(|ohms| (least..=most).contains(ohms))
        .ok_or_else(|| {
            let (least, most) = (Ohms(least), Ohms(most));
            format!(
                "{said:?} is no value from {least} to {most}; write it like 7800, 7.8k or 7k8"
            )
        })
}

/// Asks until the answer can be read, and says what is wrong with one that cannot; nothing if
/// Enter was pressed.
fn until<T>(
    question: &str,
    usual: &str,
    read: impl Fn(&str) -> Result<T, String>,
) -> Result<Option<T>, Failure> {
    loop {
        let said = answer_or_none(question, usual)?;
        let Some(said) = said else { return Ok(None) };
        match read(&said) {
            Ok(value) => return Ok(Some(value)),
            Err(why) => next(&why),
        }
    }
}

/// One answer; what is usual if nothing is said.
fn answer(question: &str, usual: &str) -> Result<String, Failure> {
    Ok(answer_or_none(question, usual)?.unwrap_or_else(|| usual.to_owned()))
}

/// One answer; none if nothing is said.
fn answer_or_none(question: &str, usual: &str) -> Result<Option<String>, Failure> {
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
    Ok(Some(said.to_owned()).filter(|said| !said.is_empty()))
}

/// A word on what to do next, beside the answers.
fn next(text: &str) {
    // Nobody listening any more takes nothing from the file.
    drop(writeln!(io::stderr().lock(), "{text}"));
}
