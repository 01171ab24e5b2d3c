//! Rounds and duty: the walk, feeding by the tank, the water, and handing over.
//!
//! A real nursery walks every day. To keep the season short one walk in eight weeks is told here, and
//! one hand-over in five.

use super::calendar::{FIRST_DAY, LAST_DAY, at, days, plus_days};
use super::chance::{Chance, rounded};
use super::diary::{Diary, slot};
use super::house::{House, Tank, Water, new_subject};
use super::note::Planned;
use super::people::{Signer, on_duty, second};
use super::stock::{STOCKS, Stock};
use chrono::{Datelike as _, NaiveDate, Weekday};
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

/// Days between two walks that are told.
const WALKED_EVERY_DAYS: i64 = 56;
/// Weeks between two hand-overs that are told.
const HANDED_OVER_EVERY_WEEKS: u32 = 5;
/// Days between two deliveries of food.
const DELIVERED_EVERY_DAYS: i64 = 120;

/// A batch of food, and until when it is good.
struct Batch {
    food: Subject,
    from: NaiveDate,
}

/// Rounds, food and hand-overs of the whole season.
pub fn work(seed: u64, house: &House, diary: &mut Diary) {
    let mut chance = Chance::new(seed, "daily");
    let batches = deliveries(&mut chance, diary);
    // A Monday, on which the water of the cool system is read as well.
    let mut date = plus_days(FIRST_DAY, 13);
    while date < LAST_DAY {
        walk(house, date, &mut chance, diary);
        feed_by_tank(house, date, &batches, &mut chance, diary);
        water_round(house, date, &mut chance, diary);
        date = plus_days(date, WALKED_EVERY_DAYS);
    }
    diets(house, diary);
    hand_over(house, diary);
}

/// A round as it was opened, what was done in it, and as it was closed.
fn round(
    what: &str,
    label: String,
    tanks: &[&Subject],
    clock: [(u32, u32); 2],
    (date, chance): (NaiveDate, &mut Chance),
    diary: &mut Diary,
    left: Value,
) {
    let [opened, closed] = clock.map(|(hour, minute)| at(date, hour, minute));
    let id = new_subject("round", chance, opened);
    let data = json!({"label": label, "what": what, "tanks": tanks});
    diary.add(Planned::new("round.opened.v1", &id, on_duty(date), opened).data(data));
    diary.add(Planned::new("round.closed.v1", &id, on_duty(date), closed).data(json!({"not_looked_at": left})));
}

fn walk(house: &House, date: NaiveDate, chance: &mut Chance, diary: &mut Diary) {
    let warm = [Tank::Trays(Water::Warm), Tank::Apart(Water::Warm), Tank::Nursery(Water::Warm), Tank::Rearing(Water::Warm), Tank::Display];
    let cool = [Tank::Trays(Water::Cool), Tank::Nursery(Water::Cool), Tank::Rearing(Water::Cool)];
    let adults = STOCKS.map(Tank::Adults);
    let all: Vec<Tank> = warm.into_iter().chain(cool).chain(adults).collect();
    // Whoever chases visitors away from the glass does not look into the display that morning.
    let left_out = chance.happens(0.4).then_some(Tank::Display);
    for (row, tank) in all.iter().enumerate().filter(|(_, tank)| Some(**tank) != left_out) {
        let well = !chance.happens(0.06);
        let data = if well { json!({"all_well": true}) } else { json!({"all_well": false, "findings": ["fouled"]}) };
        diary.add(Planned::new("tank.checked.v1", house.tank(*tank), on_duty(date), slot(date, 7, 12, row, 60)).data(data));
    }
    let left: Vec<Value> = left_out.iter().map(|tank| json!({"which": house.tank(*tank), "reason": "could not be reached"})).collect();
    let tanks: Vec<&Subject> = all.iter().map(|tank| house.tank(*tank)).collect();
    round("daily walk", format!("walk {date}"), &tanks, [(7, 10), (7, 30)], (date, chance), diary, json!(left));
}

fn deliveries(chance: &mut Chance, diary: &mut Diary) -> Vec<Batch> {
    let mut batches = Vec::new();
    let mut date = plus_days(FIRST_DAY, 2);
    while date < LAST_DAY {
        let time = at(date, 10, 50);
        let food = new_subject("food", chance, time);
        let data = json!({
            "label": format!("squid {date}"), "food": "squid", "supplier": "supplier S-1 (invented)", "mass_kg": 20, "state": "frozen",
            "best_before": plus_days(date, 365), "temperature_c": rounded(chance.between(-22.0, -18.5), 1), "accepted": true
        });
        diary.add(Planned::new("food.received.v1", &food, on_duty(date), time).data(data));
        batches.push(Batch { food, from: date });
        date = plus_days(date, DELIVERED_EVERY_DAYS);
    }
    batches
}

/// The display is fed as one tank, out of the newest batch.
fn feed_by_tank(house: &House, date: NaiveDate, batches: &[Batch], chance: &mut Chance, diary: &mut Diary) {
    let display = house.tank(Tank::Display);
    let batch = batches.iter().rev().find(|batch| batch.from < date).map(|batch| &batch.food);
    let offered = batch
        .map_or_else(|| json!({"food": "squid", "amount_g": 60}), |batch| json!({"food": "squid", "amount_g": 60, "from_batch": batch}));
    let data = json!({"offered": [offered], "eaten": chance.one_of(&["all", "most"]), "leftovers_removed": true, "way": "scattered"});
    diary.add(Planned::new("tank.fed.v1", display, on_duty(date), at(date, 15, 45)).data(data));
    round("feeding", format!("feeding {date}"), &[display], [(15, 40), (15, 50)], (date, chance), diary, json!([]));
}

/// The reading of the cool system on that Monday stands for both tanks of the round.
fn water_round(house: &House, date: NaiveDate, chance: &mut Chance, diary: &mut Diary) {
    let tanks = [house.tank(Tank::Trays(Water::Cool)), house.tank(Tank::Nursery(Water::Cool))];
    round("water", format!("water {date}"), &tanks, [(8, 40), (8, 55)], (date, chance), diary, json!([]));
}

/// What adults are given, from the first day on, and more of it while they lay.
fn diets(house: &House, diary: &mut Diary) {
    for (row, stock) in STOCKS.into_iter().enumerate() {
        let tank = house.tank(Tank::Adults(stock));
        let usual = json!({"foods": [{"food": "squid", "body_mass_percent": 1.5}, {"food": "mackerel", "body_mass_percent": 1}], "times_a_week": 3});
        diary.add(Planned::new("diet.set.v1", tank, Signer::Curator, slot(FIRST_DAY, 14, 30, row, 60)).data(usual));
        if stock != Stock::Skate {
            let more = json!({"foods": [{"food": "squid", "body_mass_percent": 2}, {"food": "mussel", "body_mass_percent": 1}], "times_a_week": 4,
                "reason": "laying is expected"});
            let date = plus_days(FIRST_DAY, 100);
            diary.add(Planned::new("diet.set.v1", tank, Signer::Curator, slot(date, 14, 30, row, 60)).data(more));
        }
    }
}

/// On Thursday evenings keeper one hands over to keeper two.
fn hand_over(house: &House, diary: &mut Diary) {
    let thursdays =
        days().skip(2).filter(|date| date.weekday() == Weekday::Thu && date.iso_week().week().is_multiple_of(HANDED_OVER_EVERY_WEEKS));
    for date in thursdays {
        let (from, to) = (on_duty(date), house.person(second(date)));
        let matters = json!([{"words": "Look at the cases held apart first.", "about": house.tank(Tank::Apart(Water::Warm))}]);
        diary.add(
            Planned::new("duty.handed_over.v1", &Subject::collection(), from, at(date, 17, 0)).data(json!({"to": to, "matters": matters})),
        );
    }
}
