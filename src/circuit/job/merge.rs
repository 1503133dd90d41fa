//! A job that names a layout: the layout's plan with the job's values in it.

use std::collections::BTreeSet;

use toml::Spanned;

use crate::circuit::job::{Fault, JobRefusal, Pickup, Plan, plain};
use crate::circuit::layout;

/// How far a pickup may be off what is typical of its layout, where nobody gave its value:
/// common practice, no source.
const TYPICAL_OFF: f64 = 0.3;

/// The short names of pickups and controls whose value is the layout's and not the job's.
pub(super) fn typical(plan: &Plan, whole: &Plan) -> BTreeSet<String> {
    if plan.layout.is_none() {
        return BTreeSet::new();
    }
    let pickups = plan.pickup.iter();
    let given = pickups.filter(|part| part.ohms.is_some() || part.coils.is_some());
    let controls = plan.control.iter().filter(|part| part.ohms.is_some());
    let given: BTreeSet<&String> = given
        .map(|part| part.id.get_ref())
        .chain(controls.map(|part| part.id.get_ref()))
        .collect();
    let pickups = whole.pickup.iter().map(|part| part.id.get_ref());
    pickups
        .chain(whole.control.iter().map(|part| part.id.get_ref()))
        .filter(|id| !given.contains(id))
        .cloned()
        .collect()
}

/// The plan with everything described.
pub(super) fn whole(plan: &Plan) -> Result<Plan, Fault> {
    let Some(name) = &plan.layout else {
        return Ok(plan.clone());
    };
    let Some(layout) = layout::find(name.get_ref()) else {
        let known: Vec<&str> = layout::LAYOUTS.iter().map(|layout| layout.id).collect();
        let (found, known) = (name.get_ref().clone(), known.join(", "));
        return Err(Fault::at(
            &name.span(),
            JobRefusal::NoLayout { found, known },
        ));
    };
    only_values(plan, layout.id)?;
    let mut whole = layout.plan().map_err(|_broken| {
        let why = "the built-in layout could not be read; please report it";
        Fault::at(&name.span(), JobRefusal::Incomplete(why))
    })?;
    whole.title.clone_from(&plan.title);
    whole.active = plan.active;
    whole.workshop.clone_from(&plan.workshop);
    guess(&mut whole, plan);
    for given in &plan.pickup {
        let place = part(&mut whole.pickup, |known| &known.id, ("pickup", &given.id))?;
        pickup(place, given)?;
    }
    for given in &plan.control {
        let place = part(
            &mut whole.control,
            |known| &known.id,
            ("control", &given.id),
        )?;
        if let Some(follows) = &given.follows {
            let why = "the layout says which controls share a shaft: leave out follows";
            return Err(Fault::at(&follows.span(), JobRefusal::Incomplete(why)));
        }
        take(&mut place.ohms, given.ohms.as_ref());
        take(&mut place.tolerance, given.tolerance.as_ref());
        take(&mut place.law, given.law.as_ref());
        take(&mut place.end_ohms, given.end_ohms.as_ref());
        take(&mut place.title, given.title.as_ref());
    }
    for given in &plan.capacitor {
        let place = part(
            &mut whole.capacitor,
            |known| &known.id,
            ("capacitor", &given.id),
        )?;
        take(&mut place.farads, given.farads.as_ref());
        take(&mut place.title, given.title.as_ref());
    }
    for given in &plan.resistor {
        let place = part(
            &mut whole.resistor,
            |known| &known.id,
            ("resistor", &given.id),
        )?;
        take(&mut place.ohms, given.ohms.as_ref());
        take(&mut place.tolerance, given.tolerance.as_ref());
        take(&mut place.title, given.title.as_ref());
    }
    Ok(whole)
}

/// Widens the pickups that nobody gave a value.
fn guess(whole: &mut Plan, plan: &Plan) {
    for pickup in &mut whole.pickup {
        let own = plan.pickup.iter().find(|given| given.id == pickup.id);
        if own.is_none_or(|own| own.ohms.is_none() && own.coils.is_none()) {
            pickup.tolerance = Some(plain(TYPICAL_OFF));
        }
    }
}

/// Refuses what a layout says already.
fn only_values(plan: &Plan, layout: &str) -> Result<(), Fault> {
    let switch = plan
        .switch
        .first()
        .map(|switch| (switch.id.span(), "[[switch]]"));
    let metal = plan
        .metal
        .first()
        .map(|metal| (metal.id.span(), "[[metal]]"));
    let jack = plan.jack.as_ref().map(|jack| (jack.span(), "[jack]"));
    let wiring = plan
        .wiring
        .as_ref()
        .map(|wiring| (wiring.span(), "[wiring]"));
    match switch.or(metal).or(jack).or(wiring) {
        None => Ok(()),
        Some((span, table)) => {
            let layout = layout.to_owned();
            Err(Fault::at(
                &span,
                JobRefusal::WiredByLayout { layout, table },
            ))
        }
    }
}

/// The layout's part of a short name.
fn part<'a, T>(
    parts: &'a mut [T],
    id: impl Fn(&T) -> &Spanned<String>,
    (kind, given): (&'static str, &Spanned<String>),
) -> Result<&'a mut T, Fault> {
    let known: Vec<String> = parts
        .iter()
        .map(|part| id(part).get_ref().clone())
        .collect();
    let found = parts.iter_mut().find(|part| id(part) == given);
    found.ok_or_else(|| {
        let known = if known.is_empty() {
            "none".to_owned()
        } else {
            known.join(", ")
        };
        let found = given.get_ref().clone();
        Fault::at(
            &given.span(),
            JobRefusal::NotInLayout { kind, found, known },
        )
    })
}

fn take<T: Clone>(place: &mut Option<T>, given: Option<&T>) {
    if let Some(given) = given {
        *place = Some(given.clone());
    }
}

fn pickup(place: &mut Pickup, given: &Pickup) -> Result<(), Fault> {
    take(&mut place.title, given.title.as_ref());
    take(&mut place.tolerance, given.tolerance.as_ref());
    take(&mut place.celsius, given.celsius.as_ref());
    let split = place.coils.is_some();
    match (&given.ohms, &given.coils) {
        (Some(ohms), None) if split => {
            // Its coils in series are what a pickup is sold by.
            let half = *ohms.get_ref() / 2.0;
            place.coils = Some(Spanned::new(ohms.span(), vec![half, half]));
        }
        (Some(ohms), None) => place.ohms = Some(ohms.clone()),
        (None, Some(coils)) if split => place.coils = Some(coils.clone()),
        (None, Some(coils)) => {
            let [one, other] = coils.get_ref().as_slice() else {
                let why = "coils are the ohms of two coils, such as [4000, 4000]";
                return Err(Fault::at(&coils.span(), JobRefusal::Incomplete(why)));
            };
            // The layout brings out two wires only.
            place.ohms = Some(Spanned::new(coils.span(), one + other));
        }
        (None, None) => {}
        (Some(_), Some(coils)) => {
            let why = "a pickup gives its ohms, or the ohms of its two coils, not both";
            return Err(Fault::at(&coils.span(), JobRefusal::Incomplete(why)));
        }
    }
    Ok(())
}

/// A plan of a layout with nothing given.
pub(super) fn named(layout: &str) -> Plan {
    Plan {
        schema: plain(super::SCHEMA),
        title: None,
        layout: Some(plain(layout.to_owned())),
        active: false,
        workshop: super::Workshop::default(),
        pickup: Vec::new(),
        control: Vec::new(),
        capacitor: Vec::new(),
        resistor: Vec::new(),
        switch: Vec::new(),
        jack: None,
        metal: Vec::new(),
        wiring: None,
    }
}
