//! Invented cases and animals for the tests of figures and reports.

use super::annual::material::{Identity, Material, Parts, Population, Year};
use super::annual::profile::ProfileUsed;
use super::annual::restatements::nothing;
use super::annual::shape::{Collection, Writer};
use crate::domain::discrepancy::{Discrepancy, Settled, Weight};
use crate::domain::state::{
    Animal, AnimalFate, AnimalOrigin, Egg, EggFate, EggOrigin, EventId, LifeState, Look, Moment, Movement, Opening, Sex, Species, System,
    WaterReading, YolkLook, Young,
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
        label: format!("E-{number}"),
        species: Some(subject("species", 1)),
        origin: EggOrigin::Collected { from_tank: None, laid: "unknown".to_owned(), pair_mate: None },
        clutch: Some(subject("clutch", number / 2)),
        taken_in: Some(came),
        yolk: YolkLook::Seen,
        ..Egg::bare(&subject("egg", number), came)
    }
}

/// The same after a look that saw this band and movement.
pub fn looked(mut egg: Egg, band: u8, movement: Movement) -> Egg {
    let when = Moment { event: EventId(egg.came.event.0 + 1), ..egg.came };
    let look = Look {
        when,
        method: None,
        seen_into: true,
        band: Some(band),
        movement: Some(movement),
        heartbeat: None,
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
        species: Some(subject("species", 1)),
        origin: AnimalOrigin::Hatched {
            egg: subject("egg", number),
            alive: true,
            after_opening: None,
            how_known: "found hatched".to_owned(),
            still_closed: None,
        },
        last_seen_alive: Some(at(seen, 1000 * number + 1)),
        ..Animal::bare(&subject("animal", number), came)
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

/// The cases and animals as they stood at that moment: what came or ended later is not known yet.
pub fn rewound(eggs: &[Egg], animals: &[Animal], to: Instant) -> Population {
    let still = |end: Option<Moment>| end.is_none_or(|end| end.time > to);
    let mut then = Population {
        eggs: eggs.iter().filter(|egg| egg.came.time <= to).cloned().collect(),
        animals: animals.iter().filter(|animal| animal.came.time <= to).cloned().collect(),
        ..Population::default()
    };
    then.eggs.iter_mut().filter(|egg| still(egg.fate.when())).for_each(|egg| egg.fate = EggFate::Open);
    then.animals.iter_mut().filter(|animal| still(animal.fate.when())).for_each(|animal| animal.fate = AnimalFate::Present);
    then
}

/// A species of that number and names.
pub fn species(number: u64, scientific: &str, common: &str) -> Species {
    Species {
        id: subject("species", number),
        scientific_name: scientific.to_owned(),
        common_name: common.to_owned(),
        length_basis: "total".to_owned(),
        case_shape: None,
        embryos_per_case_max: None,
        incubation: None,
        incubation_points: Vec::new(),
        incubation_thermal_sum: None,
        slits_open_fraction: None,
        band_fraction: std::collections::BTreeMap::new(),
        not_seen_to_eat_days: None,
        first_embryo_seen_day: None,
        listed: at("2024-01-01", 1),
        legal_status: Vec::new(),
        discrepancies: Vec::new(),
    }
}

/// A reading at nine on that day.
pub fn reading(on: &str, temperature_c: f64, ph: f64) -> WaterReading {
    let value = serde_json::json!({
        "temperature_c": temperature_c, "temperature_scale": "ITS-90", "ph": ph, "ph_scale": "NBS", "salinity_psu": 34.2, "instrument": "probe 3"
    });
    let mut reading: WaterReading = serde_json::from_value(value).expect("a reading");
    reading.when = Some(at(on, 7));
    reading
}

/// The invented collection, on a simulated clock.
pub fn identity() -> Identity {
    let collection = Collection {
        name: "Invented Aquarium".to_owned(),
        country: "AU".to_owned(),
        time_zone: ZONE.name().to_owned(),
        origin: "records.example.org/nursery".to_owned(),
        log_vkey: "records.example.org/nursery+00000000+AQ==".to_owned(),
        log_key_fingerprint: "00112233445566778899aabbccddeeff".to_owned(),
    };
    let root = "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=".to_owned();
    let profile = ProfileUsed::default();
    Identity { collection, known_at: 4321, root, withheld: 0, simulated_clock: true, profile, refused_writes: None, release: None }
}

/// What a report of that year is made of, as of the last millisecond of that day.
pub fn material(year: i32, as_of: &str, eggs: &[Egg], animals: &[Animal]) -> Material {
    let days = Year::of(year.into(), ZONE).expect("a year");
    let as_of = Instant::end_of_day(day(as_of), ZONE);
    Material {
        twelve: year.into(),
        zone: ZONE,
        as_of,
        before: rewound(eggs, animals, days.eve()),
        closing: rewound(eggs, animals, days.until(as_of)),
        now: rewound(eggs, animals, as_of),
        species: vec![
            species(1, "Chiloscyllium punctatum", "brownbanded bamboo shark"),
            species(2, "Hemiscyllium ocellatum", "epaulette shark"),
        ],
        systems: Vec::new(),
        tanks: Vec::new(),
        readings: Vec::new(),
        discrepancies: Vec::new(),
        suspected: Vec::new(),
        writers: Vec::new(),
        unseen_days_max: 14,
        parts: Parts { restatements: nothing(), ..Parts::default() },
    }
}

/// A year with a little of everything.
pub fn season(as_of: &str) -> Material {
    let mut material = material(2025, as_of, &season_eggs(), &season_animals());
    let label = |label: &str| label.to_owned();
    material.systems = vec![System {
        id: subject("system", 1),
        label: label("S1"),
        water: label("tropical"),
        volume_l: Some(2000.0),
        set_up: at("2024-01-01", 2),
        tanks: Vec::new(),
        last_reading: None,
        care: Default::default(),
        discrepancies: Vec::new(),
    }];
    let days = ["2025-02-01", "2025-03-01", "2025-04-01", "2025-12-31", "2026-01-01"];
    material.readings =
        days.iter().zip([24.1, 24.4, 25.0, 24.6, 30.0]).map(|(on, t)| (subject("system", 1), reading(on, t, 8.1))).collect();
    let odd = |number: u128, weight, says: &str| Discrepancy {
        id: format!("{number:032x}"),
        kind: "fed after death",
        weight,
        subjects: vec![subject("animal", 3)],
        events: vec![EventId(number)],
        says: says.to_owned(),
        since: Instant::parse("2025-12-20T09:00:00Z").expect("a time"),
        open: number != 3,
        standing: if number == 3 { Settled::Meant } else { Settled::Open },
        asked: None,
        said: Vec::new(),
        suspected: Vec::new(),
    };
    material.discrepancies = vec![
        odd(1, Weight::WhenConvenient, "J-3 was fed two days after it was found dead."),
        odd(2, Weight::NeedsAPersonToday, "E-4 was opened & nobody approved it <yet>."),
        odd(3, Weight::NeedsAPersonToday, "Explained already."),
    ];
    let writer = |number: u64, role: &str, notes_of_year| Writer {
        person: format!("person/{}", ulid::Ulid(u128::from(number))),
        roles: vec![role.to_owned()],
        notes_of_year,
        notes: notes_of_year + 12,
    };
    material.suspected = vec![EventId(2)];
    material.writers = vec![writer(1, "curator", 41), writer(2, "keeper", 2310)];
    material
}

fn season_eggs() -> Vec<Egg> {
    let mut eggs: Vec<Egg> = (1..=6).map(|n| hatched(egg(n, "2024-10-01"), "2025-02-20")).collect();
    eggs.push(lost(egg(7, "2024-10-02"), "2024-12-01", "no yolk"));
    eggs.push(lost(egg(8, "2024-10-02"), "2025-01-15", "embryo died"));
    eggs.extend((9..=20).map(|n| hatched(looked(egg(n, "2025-03-10"), 4, Movement::Moving), "2025-08-02")));
    for (number, cause) in
        (21..).zip(["not determined", "no yolk", "no yolk", "yolk broken", "embryo died", "embryo died", "trapped at hatching"])
    {
        eggs.push(lost(looked(egg(number, "2025-03-15"), 2, Movement::Moving), "2025-06-01", cause));
    }
    eggs.extend((30..=33).map(|n| looked(egg(n, "2025-10-05"), 3, Movement::Moving)));
    for egg in eggs.iter_mut().filter(|egg| [19, 20].contains(&(egg.came.event.0 / 100))) {
        let when = at("2025-08-02", 5000);
        if let EggFate::Hatched { after_opening, .. } = &mut egg.fate {
            *after_opening = Some(when.event);
        }
        let word = |word: &str| word.to_owned();
        let (extent, outcome, left) = (word("end slit widened"), word("hatched"), word("open in the water"));
        let (criteria_met, approved_by, authorised_by) = (Vec::new(), Vec::new(), Vec::new());
        let (urgent_reason, signatures_missing) = (None, Vec::new());
        egg.openings.push(Opening {
            when,
            extent,
            known_dead: false,
            outcome,
            left,
            urgent_reason,
            criteria_met,
            approved_by,
            signatures_missing,
            authorised_by,
        });
    }
    eggs.iter_mut().filter(|egg| egg.came.event.0 % 3 == 0).for_each(|egg| egg.species = Some(subject("species", 2)));
    eggs
}

fn season_animals() -> Vec<Animal> {
    let mut animals: Vec<Animal> = (1..=6).map(|n| young(n, "2025-02-20", "2025-12-30")).collect();
    animals.extend((9..=20).map(|n| young(n, "2025-08-02", "2025-12-30")));
    animals[1] = died(animals[1].clone(), "2025-02-20");
    animals[2] = died(animals[2].clone(), "2025-03-15");
    animals[8] = died(animals[8].clone(), "2025-09-10");
    animals[9] = departed(animals[9].clone(), "2025-11-01", LifeState::Alive);
    animals[10].last_seen_alive = Some(at("2025-10-01", 77));
    animals[3].sex = Sex::Female;
    for animal in animals.iter_mut().filter(|animal| [19, 20].contains(&(animal.came.event.0 / 1000))) {
        if let AnimalOrigin::Hatched { after_opening, .. } = &mut animal.origin {
            *after_opening = Some(EventId(5000));
        }
    }
    animals.push(Animal { sex: Sex::Male, ..received(40, "2024-05-01", Some("2024-01-01"), "2025-12-30") });
    animals.push(Animal { sex: Sex::Female, ..received(41, "2025-05-01", None, "2025-12-30") });
    animals
}
