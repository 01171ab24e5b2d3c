//! The house itself: instruments and their calibrations, light, places, changes of water, the heater
//! that fails and is replaced, and a spare vat that is taken out of use.

use super::calendar::{CHILL_DAY, FIRST_DAY, LAST_DAY, at, plus_days};
use super::chance::Chance;
use super::diary::{Diary, slot};
use super::house::{House, Tank, Water, new_subject};
use super::note::{Planned, Sending};
use super::people::{Signer, on_duty};
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

/// Days between two calibrations, and the interval that the house sets.
const CALIBRATED_EVERY_DAYS: i64 = 84;
const CALIBRATION_INTERVAL_DAYS: i64 = 90;
/// Days between two changes of water; a real nursery may change some every week.
const WATER_CHANGED_EVERY_DAYS: i64 = 42;

/// An instrument: what stands on it, what it measures, and against what it is checked.
const INSTRUMENTS: [(&str, &[&str], &str, &str); 3] = [
    ("probe 3", &["temperature"], "temperature", "reference thermometer of the house"),
    ("hand probe 2", &["temperature", "salinity", "oxygen"], "salinity", "standard sea water, a sealed ampoule"),
    ("test kit 4", &["pH", "ammonia", "nitrite", "nitrate"], "pH", "two buffers"),
];

/// All of it.
pub fn look_after(seed: u64, house: &House, diary: &mut Diary) {
    let mut chance = Chance::new(seed, "plant");
    instruments(&mut chance, diary);
    lights_and_places(house, &mut chance, diary);
    spare_vat(house, &mut chance, diary);
    let mut date = plus_days(FIRST_DAY, 9);
    while date < LAST_DAY {
        change_water(house, date, diary);
        date = plus_days(date, WATER_CHANGED_EVERY_DAYS);
    }
    the_chill(house, &mut chance, diary);
}

fn instruments(chance: &mut Chance, diary: &mut Diary) {
    for (row, (label, measures, quantity, standard)) in INSTRUMENTS.into_iter().enumerate() {
        let time = slot(FIRST_DAY, 12, 0, row, 120);
        let instrument = new_subject("instrument", chance, time);
        let data = json!({"label": label, "measures": measures, "calibration_interval_days": CALIBRATION_INTERVAL_DAYS});
        diary.add(Planned::new("instrument.installed.v1", &instrument, Signer::Curator, time).data(data));
        let mut date = plus_days(FIRST_DAY, CALIBRATED_EVERY_DAYS);
        while date <= LAST_DAY {
            let result = chance.one_of(&["within limits", "within limits", "adjusted"]);
            let data = json!({"quantity": quantity, "standard": standard, "result": result});
            diary.add(Planned::new("instrument.calibrated.v1", &instrument, on_duty(date), slot(date, 12, 5, row, 300)).data(data));
            date = plus_days(date, CALIBRATED_EVERY_DAYS);
        }
    }
    let time = at(FIRST_DAY, 12, 20);
    let old = new_subject("instrument", chance, time);
    diary.add(
        Planned::new("instrument.installed.v1", &old, Signer::Curator, time)
            .data(json!({"label": "hand probe 1", "measures": ["temperature"]})),
    );
    let date = plus_days(FIRST_DAY, 51);
    let data = json!({"reason": "reads 0.8 °C high and cannot be adjusted"});
    diary.add(Planned::new("instrument.retired.v1", &old, on_duty(date), at(date, 12, 30)).data(data));
}

fn lights_and_places(house: &House, chance: &mut Chance, diary: &mut Diary) {
    let tanks = [(Tank::Trays(Water::Warm), "dim"), (Tank::Trays(Water::Cool), "dim"), (Tank::Nursery(Water::Warm), "moderate")];
    for (row, (tank, light)) in tanks.into_iter().enumerate() {
        let data = json!({"light": light, "day_length_hours": 12, "fade_minutes": 30});
        diary.add(Planned::new("tank.light_set.v1", house.tank(tank), Signer::Curator, slot(FIRST_DAY, 12, 30, row, 60)).data(data));
    }
    for order in 1..=4_usize {
        let time = slot(FIRST_DAY, 12, 40, order, 60);
        let place = new_subject("place", chance, time);
        let data = json!({"label": format!("W{order}"), "tank": house.tank(Tank::Trays(Water::Warm)), "order": order, "row": "front", "cases_max": 10});
        diary.add(Planned::new("place.set_up.v1", &place, Signer::Curator, time).data(data));
    }
}

/// A vat stands by for a year and is never used.
fn spare_vat(house: &House, chance: &mut Chance, diary: &mut Diary) {
    let told = |days, kind, data: Value, vat: &Subject, diary: &mut Diary| {
        let date = plus_days(FIRST_DAY, days);
        diary.add(Planned::new(kind, vat, Signer::Curator, at(date, 15, 40)).data(data));
    };
    let vat = new_subject("tank", chance, at(plus_days(FIRST_DAY, 20), 15, 40));
    told(20, "tank.set_up.v1", json!({"label": "Spare vat", "purpose": "holding", "volume_l": 300}), &vat, diary);
    told(21, "tank.joined.v1", json!({"system": house.system(Water::Warm), "reason": "filled from the warm system"}), &vat, diary);
    told(395, "tank.retired.v1", json!({"reason": "leaks at the drain"}), &vat, diary);
}

fn change_water(house: &House, date: NaiveDate, diary: &mut Diary) {
    for (row, water) in [Water::Warm, Water::Cool].into_iter().enumerate() {
        let data = json!({"volume_percent": 10, "source": "mixed sea water", "reason": "routine"});
        diary.add(Planned::new("system.water_changed.v1", house.system(water), on_duty(date), slot(date, 11, 30, row, 900)).data(data));
    }
}

/// The heater's failure as the house tells it: fault, incident, repair, what was learned.
fn the_chill(house: &House, chance: &mut Chance, diary: &mut Diary) {
    let (who, warm) = (on_duty(CHILL_DAY), house.system(Water::Warm));
    let clock = |hour, minute| at(CHILL_DAY, hour, minute);
    let faulted =
        json!({"equipment": "heater", "effects": ["temperature drifting"], "remark": "Cold to the hand; curator and veterinarian called."});
    diary.add(Planned::new("equipment.faulted.v1", warm, who, clock(7, 31)).data(faulted));
    let incident = new_subject("incident", chance, clock(7, 40));
    let opened = json!({
        "label": "Chill", "what": "temperature", "summary": "Heater of the warm system failed in the night; 19.6 °C in the trays.", "about": [warm],
        "reported_to": "curator and veterinarian"
    });
    diary.add(Planned::new("incident.opened.v1", &incident, who, clock(7, 40)).data(opened));
    let restored = json!({"equipment": "heater", "done": "replaced"});
    diary.add(Planned::new("equipment.restored.v1", warm, who, clock(13, 10)).data(restored));
    let noted = json!({"words": "Spare heater in, warmed by less than 1 °C an hour.", "about": [warm]});
    diary.add(Planned::new("incident.noted.v1", &incident, who, clock(13, 20)).data(noted));
    let closed = json!({
        "outcome": "Every case of the system looked at on the day after and again two days later; losses are noted case by case.",
        "cause": "a burnt contact", "prevention": "a second heater and an alarm that calls the house"
    });
    let time = at(plus_days(CHILL_DAY, 6), 16, 0);
    diary.add(Planned::new("incident.closed.v1", &incident, Signer::Curator, time).data(closed).sent(Sending::AtOnce));
}
