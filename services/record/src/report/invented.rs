//! Invented cases and animals for the tests of figures and reports.

use crate::domain::state::{
    Animal, AnimalFate, AnimalOrigin, Egg, EggFate, EggOrigin, EventId, LaidBasis, LaidWindow, LifeState, Look, Moment, Movement,
    Parentage, Sex, YolkLook, Young,
};
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;

/// The zone of the invented collection.
pub const ZONE: chrono_tz::Tz = chrono_tz::Australia::Brisbane;

/// A subject of that noun and number.
pub fn subject(noun: &str, number: u64) -> Subject {
    Subject::parse(&format!("{noun}/{}", ulid::Ulid(u128::from(number)))).expect("a subject")
}

/// A day, `2025-03-01`.
pub fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// Nine in the morning of that day, told by the note of that number.
pub fn at(day_text: &str, note: u64) -> Moment {
    let time = Instant::start_of_day(day(day_text), ZONE).plus_ms(9 * selachron_schemas::time::HOUR_MS);
    Moment { time, timeafter: None, event: EventId(u128::from(note)) }
}

/// A case found on that day, with yolk, whose fate is open. Its notes have the numbers 100 × its own.
pub fn egg(number: u64, came: &str) -> Egg {
    let came = at(came, 100 * number);
    Egg {
        id: subject("egg", number),
        label: format!("E-{number}"),
        species: Some(subject("species", 1)),
        came,
        origin: EggOrigin::Collected { from_tank: None, laid: "unknown".to_owned(), pair_mate: None },
        laid_window: LaidWindow {
            not_before: None,
            not_after: came.time,
            basis: LaidBasis::NotKnown,
            estimate: None,
            estimate_basis: None,
        },
        clutch: Some(subject("clutch", number / 2)),
        dam: Parentage::default(),
        sire: Parentage::default(),
        place: None,
        taken_in: Some(came),
        looks: Vec::new(),
        yolk: YolkLook::Seen,
        embryo_seen_alive: None,
        last_seen_alive: None,
        band: None,
        slits_open: None,
        held_apart: None,
        openings: Vec::new(),
        fate: EggFate::Open,
        discrepancies: Vec::new(),
    }
}

/// The same after a look that saw this band and movement.
pub fn looked(mut egg: Egg, band: u8, movement: Movement) -> Egg {
    let when = Moment { event: EventId(egg.came.event.0 + 1), ..egg.came };
    let look = Look {
        when,
        seen_into: true,
        band: Some(band),
        movement: Some(movement),
        yolk_fraction: None,
        findings: Vec::new(),
        eye: None,
        prompted: false,
        person: None,
    };
    egg.embryo_seen_alive = look.is_alive().then_some(when);
    egg.looks.push(look);
    egg
}

/// The same, hatched on that day.
pub fn hatched(mut egg: Egg, on: &str) -> Egg {
    let when = at(on, event_number(&egg) + 9);
    let young = vec![Young { animal: subject("animal", event_number(&egg)), alive: true, event: when.event }];
    egg.embryo_seen_alive = egg.embryo_seen_alive.or(Some(when));
    egg.fate = EggFate::Hatched { when, how_known: "found hatched".to_owned(), after_opening: None, young };
    egg
}

/// The same, lost on that day.
pub fn lost(mut egg: Egg, on: &str, cause: &str) -> Egg {
    let when = at(on, event_number(&egg) + 9);
    egg.fate = EggFate::Lost { when, apparent_cause: cause.to_owned(), band_last_seen: None, young: Vec::new() };
    egg
}

fn event_number(egg: &Egg) -> u64 {
    u64::try_from(egg.came.event.0).expect("a small number")
}

/// A young that hatched on that day out of the case of that number, last seen alive on another.
pub fn young(number: u64, hatched: &str, seen: &str) -> Animal {
    let came = at(hatched, 1000 * number);
    Animal {
        id: subject("animal", number),
        label: None,
        species: Some(subject("species", 1)),
        sex: Sex::Unknown,
        came,
        origin: AnimalOrigin::Hatched { egg: subject("egg", number), alive: true, after_opening: None },
        dam: Parentage::default(),
        sire: Parentage::default(),
        place: None,
        feeds: 0,
        first_eaten: None,
        last_eaten: None,
        internal_yolk_used_up: None,
        measures: Vec::new(),
        last_seen_alive: Some(at(seen, 1000 * number + 1)),
        fate: AnimalFate::Present,
        discrepancies: Vec::new(),
    }
}

/// An animal that came from elsewhere on that day.
pub fn received(number: u64, came: &str, hatched_on_estimate: Option<&str>, seen: &str) -> Animal {
    let origin = AnimalOrigin::Received {
        from: "another collection".to_owned(),
        state: LifeState::Alive,
        origin: "bred in care".to_owned(),
        hatched_on_estimate: hatched_on_estimate.map(day),
    };
    Animal { origin, ..young(number, came, seen) }
}

/// The same, died on that day.
pub fn died(mut animal: Animal, on: &str) -> Animal {
    let note = u64::try_from(animal.came.event.0).expect("a small number") + 2;
    let (how_known, apparent_cause) = ("found dead".to_owned(), "not determined".to_owned());
    animal.fate = AnimalFate::Died { when: at(on, note), how_known, said_last_seen_alive: None, apparent_cause };
    animal
}

/// The same, departed on that day.
pub fn departed(mut animal: Animal, on: &str, alive: LifeState) -> Animal {
    let note = u64::try_from(animal.came.event.0).expect("a small number") + 2;
    let (to, reason) = ("another collection".to_owned(), "transfer".to_owned());
    animal.fate = AnimalFate::Departed { when: at(on, note), to, reason, alive };
    animal
}
