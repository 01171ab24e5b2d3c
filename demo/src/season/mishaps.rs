//! What is not where it should be for a night, whose young it may be, and what becomes of bodies.

use super::calendar::{LAST_DAY, at, date_of, plus_days, text};
use super::chance::Chance;
use super::diary::{Diary, slot};
use super::endings::Hatchling;
use super::house::House;
use super::note::{About, Handle, Planned};
use super::people::{Signer, on_duty};
use super::rearing::{Lot, Nursling};
use super::stock::Stock;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};

/// A case has slipped behind its tray in the evening and is found in the morning, between two looks.
pub fn case_mislaid(looks: &[(Handle, Option<u8>)], diary: &mut Diary) {
    let Some((handle, _)) = looks.get(2) else { return };
    let look = diary.note(*handle);
    let (about, date) = (look.about.clone(), plus_days(date_of(look.time), 1));
    let noted = |kind, time, data: Value| Planned::about(kind, about.clone(), on_duty(date_of(time)), time).data(data);
    diary.add(noted("egg.missing.v1", at(date, 17, 5), json!({"noticed_at": "the daily look", "searched": ["the tank"]})));
    diary.add(noted("egg.found.v1", at(plus_days(date, 1), 7, 50), json!({"where": "behind the tray"})));
}

/// A young is not seen at a full count and is behind the filter the next morning; and of another the
/// possible fathers are named.
pub fn young_not_found(young: &[Nursling<'_>], told: &Subject, house: &House, diary: &mut Diary) {
    let living = |nursling: &&Nursling<'_>| nursling.lot == Lot::Lives && nursling.young.animal != *told;
    let mut living = young.iter().filter(living).map(|nursling| nursling.young);
    if let Some(lost) = living.next() {
        let date = plus_days(date_of(lost.hatched), 120);
        let data =
            json!({"noticed_at": "a full count", "last_seen_alive": text(at(date, 14, 0)), "searched": ["the tank", "filter and sump"]});
        let noted = |kind, time, data: Value| Planned::new(kind, &lost.animal, on_duty(date_of(time)), time).data(data);
        diary.add(noted("animal.missing.v1", at(date, 16, 30), data).after(at(date, 14, 0)));
        diary.add(noted("animal.found.v1", at(plus_days(date, 1), 8, 10), json!({"where": "behind the filter"})));
    }
    if let Some(other) = living.find(|young| young.stock == Stock::Bamboo) {
        claim_fathers(other, house, diary);
    }
}

fn claim_fathers(young: &Hatchling, house: &House, diary: &mut Diary) {
    let time = at(plus_days(date_of(young.hatched), 100), 11, 10);
    let males: Vec<Value> = house.adults_of(young.stock, false, time).map(|male| json!({"animal": male.animal})).collect();
    let sire = json!({"status": "candidates", "animals": males, "basis": "shared the tank; stored sperm cannot be excluded"});
    let note = Planned::new("animal.parentage_claimed.v1", &young.animal, Signer::Curator, time);
    diary.add(note.data(json!({"sire": sire, "basis": "shared the water"})));
}

/// Each body is frozen; where the cause is not known the veterinarian looks for it; then it is
/// disposed of.
pub fn afterwards(seed: u64, diary: &mut Diary) {
    let mut chance = Chance::new(seed, "afterwards");
    let death = |note: &Planned| match &note.about {
        About::Subject(animal) if note.kind == "animal.died.v1" => {
            Some((animal.clone(), note.time, note.data["apparent_cause"] == json!("not determined")))
        }
        _ => None,
    };
    let deaths: Vec<(Subject, Instant, bool)> = diary.notes().filter_map(death).collect();
    for (row, (animal, died, unknown)) in deaths.iter().enumerate() {
        body(animal, *died, row, diary);
        if *unknown {
            post_mortem(animal, *died, row, &mut chance, diary);
        }
    }
}

fn body(animal: &Subject, died: Instant, row: usize, diary: &mut Diary) {
    let date = date_of(died);
    let kept = json!({"how": "frozen", "where": "freezer 1"});
    diary.add(Planned::new("carcass.kept.v1", animal, on_duty(date), slot(date, 11, 0, row, 60)).data(kept));
    let later = plus_days(date, 60);
    if later < LAST_DAY {
        let gone = json!({"how": "licensed carrier", "to": "carrier R-1 (invented)"});
        diary.add(Planned::new("carcass.disposed.v1", animal, Signer::Curator, slot(later, 11, 0, row, 60)).data(gone));
    }
}

fn post_mortem(animal: &Subject, died: Instant, row: usize, chance: &mut Chance, diary: &mut Diary) {
    let by_vet = |days, data: Value| {
        let time = slot(plus_days(date_of(died), days), 15, 0, row, 120);
        Planned::new("necropsy.reported.v1", animal, Signer::Veterinarian, time).data(data)
    };
    diary.add(by_vet(1, json!({"state": "asked"})));
    let (days, finding) = (chance.whole(6, 12), chance.one_of(&["nothing that explains the death", "stomach empty, liver pale"]));
    if plus_days(date_of(died), days) < LAST_DAY {
        diary.add(by_vet(days, json!({"state": "reported", "by": "veterinarian", "findings": [finding]})));
    }
}
