//! Each part of a job judged by itself: names, values, positions.

use std::collections::BTreeSet;
use std::ops::Range;

use toml::Spanned;

use crate::circuit::job::{Fault, JobRefusal, Pickup, Plan, SwitchText};

/// Judges every part of a plan that describes everything.
pub(super) fn parts(plan: &Plan) -> Result<(), Fault> {
    names(plan)?;
    within(
        plan.workshop.celsius.as_ref(),
        "celsius",
        "-40 to 85",
        (-40.0, 85.0),
    )?;
    if plan.pickup.is_empty() {
        return Err(whole("a job needs at least one [[pickup]]"));
    }
    for pickup in &plan.pickup {
        self::pickup(pickup)?;
    }
    controls(plan)?;
    for capacitor in &plan.capacitor {
        within(
            capacitor.farads.as_ref(),
            "farads",
            "1e-12 to 1e-3",
            (1e-12, 1e-3),
        )?;
    }
    for resistor in &plan.resistor {
        needed(
            resistor.ohms.as_ref(),
            &resistor.id,
            "a resistor needs its ohms",
        )?;
        within(
            resistor.ohms.as_ref(),
            "ohms",
            "0.1 to 100000000",
            (0.1, 1e8),
        )?;
        tolerance(resistor.tolerance.as_ref())?;
    }
    plan.switch.iter().try_for_each(switch)
}

/// Judges every control.
fn controls(plan: &Plan) -> Result<(), Fault> {
    for control in &plan.control {
        needed(
            control.ohms.as_ref(),
            &control.id,
            "a control needs its ohms",
        )?;
        within(
            control.ohms.as_ref(),
            "ohms",
            "100 to 10000000",
            (100.0, 1e7),
        )?;
        tolerance(control.tolerance.as_ref())?;
        within(
            control.end_ohms.as_ref(),
            "end_ohms",
            "0.001 to 50",
            (0.001, 50.0),
        )?;
        if let Some(shaft) = &control.follows {
            let other = plan.control.iter().find(|other| other.id == *shaft);
            let own =
                other.is_some_and(|other| other.follows.is_none() && other.id != control.id);
            if !own {
                let refusal = JobRefusal::NoShaft(shaft.get_ref().clone());
                return Err(Fault::at(&shaft.span(), refusal));
            }
        }
    }
    Ok(())
}

fn whole(why: &'static str) -> Fault {
    Fault::at(&(0..0), JobRefusal::Incomplete(why))
}

fn needed<T>(value: Option<&T>, id: &Spanned<String>, why: &'static str) -> Result<(), Fault> {
    match value {
        Some(_) => Ok(()),
        None => Err(Fault::at(&id.span(), JobRefusal::Incomplete(why))),
    }
}

fn within(
    value: Option<&Spanned<f64>>,
    key: &'static str,
    allowed: &'static str,
    (least, most): (f64, f64),
) -> Result<(), Fault> {
    let Some(value) = value else { return Ok(()) };
    number(
        *value.get_ref(),
        &value.span(),
        (key, allowed),
        (least, most),
    )
}

fn number(
    value: f64,
    span: &Range<usize>,
    (key, allowed): (&'static str, &'static str),
    (least, most): (f64, f64),
) -> Result<(), Fault> {
    if value >= least && value <= most {
        return Ok(());
    }
    Err(Fault::at(
        span,
        JobRefusal::Number {
            key,
            allowed,
            found: value.to_string(),
        },
    ))
}

fn tolerance(value: Option<&Spanned<f64>>) -> Result<(), Fault> {
    within(
        value,
        "tolerance",
        "a part from 0 to 0.5, such as 0.1 for ten per cent",
        (0.0, 0.5),
    )
}

fn pickup(pickup: &Pickup) -> Result<(), Fault> {
    const WINDING: (&str, &str) = ("ohms", "1 to 1000000");
    tolerance(pickup.tolerance.as_ref())?;
    within(
        pickup.celsius.as_ref(),
        "celsius",
        "-40 to 85",
        (-40.0, 85.0),
    )?;
    match (&pickup.ohms, &pickup.coils) {
        (Some(ohms), None) => number(*ohms.get_ref(), &ohms.span(), WINDING, (1.0, 1e6)),
        (None, Some(coils)) => {
            if coils.get_ref().len() != 2 {
                let why = "coils are the ohms of two coils, such as [4000, 4000]";
                return Err(Fault::at(&coils.span(), JobRefusal::Incomplete(why)));
            }
            let mut each = coils.get_ref().iter();
            each.try_for_each(|ohms| number(*ohms, &coils.span(), WINDING, (1.0, 1e6)))
        }
        _ => {
            let why = "a pickup gives its ohms, or the ohms of its two coils, not both";
            Err(Fault::at(&pickup.id.span(), JobRefusal::Incomplete(why)))
        }
    }
}

fn switch(switch: &SwitchText) -> Result<(), Fault> {
    if switch.terminals.is_empty() || switch.positions.is_empty() {
        let why = "a switch needs at least one lug and one position";
        return Err(Fault::at(&switch.id.span(), JobRefusal::Incomplete(why)));
    }
    let mut lugs = BTreeSet::new();
    for lug in &switch.terminals {
        name(lug)?;
        if !lugs.insert(lug.get_ref().as_str()) {
            return Err(Fault::at(
                &lug.span(),
                JobRefusal::Taken(lug.get_ref().clone()),
            ));
        }
    }
    let mut called = BTreeSet::new();
    for position in &switch.positions {
        if !called.insert(position.name.get_ref().as_str()) {
            let taken = JobRefusal::Taken(position.name.get_ref().clone());
            return Err(Fault::at(&position.name.span(), taken));
        }
        for pair in &position.closes {
            let [one, other] = pair.get_ref();
            if one == other {
                return Err(Fault::at(&pair.span(), JobRefusal::ToItself(one.clone())));
            }
            let missing = [one, other]
                .into_iter()
                .find(|lug| !lugs.contains(lug.as_str()));
            if let Some(missing) = missing {
                let known: Vec<&str> = lugs.iter().copied().collect();
                let hint = format!("the lugs of this switch are {}", known.join(", "));
                let refusal = JobRefusal::NoTerminal {
                    found: missing.clone(),
                    hint,
                };
                return Err(Fault::at(&pair.span(), refusal));
            }
        }
    }
    Ok(())
}

/// A short name: lower-case letters, digits, hyphens and underscores.
fn name(name: &Spanned<String>) -> Result<(), Fault> {
    let text = name.get_ref();
    let fits = |byte: u8| {
        byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-' || byte == b'_'
    };
    if text.is_empty() || text.len() > 40 || !text.bytes().all(fits) {
        return Err(Fault::at(&name.span(), JobRefusal::Name(text.clone())));
    }
    Ok(())
}

fn names(plan: &Plan) -> Result<(), Fault> {
    let wired = plan
        .wiring
        .iter()
        .flat_map(|wiring| &wiring.get_ref().terminals);
    let ids = plan.pickup.iter().map(|part| &part.id);
    let ids = ids.chain(plan.control.iter().map(|part| &part.id));
    let ids = ids.chain(plan.capacitor.iter().map(|part| &part.id));
    let ids = ids.chain(plan.resistor.iter().map(|part| &part.id));
    let ids = ids.chain(plan.switch.iter().map(|part| &part.id));
    let ids = ids
        .chain(plan.metal.iter().map(|part| &part.id))
        .chain(wired);
    let mut taken = BTreeSet::from(["ground", "jack"]);
    for id in ids {
        name(id)?;
        if !taken.insert(id.get_ref().as_str()) {
            return Err(Fault::at(
                &id.span(),
                JobRefusal::Taken(id.get_ref().clone()),
            ));
        }
    }
    Ok(())
}
