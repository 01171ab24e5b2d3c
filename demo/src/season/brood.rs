//! A brood that cannot be told apart: young skates found in the trays, out of cases that nobody can
//! name. They are counted, fed, split, moved and put together again; one is told apart by a notch and
//! put back when it has grown out.

use super::calendar::{FIRST_DAY, at, date_of, plus_days};
use super::chance::Chance;
use super::diary::Diary;
use super::house::{House, Tank, Water, new_subject};
use super::note::Planned;
use super::people::{Signer, on_duty};
use super::stock::Stock;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};

/// The day on which they are found.
const FOUND_DAY: i64 = 232;
/// Days between feedings that are told; the skate's threshold is 14 days.
const FED_EVERY_DAYS: i64 = 12;
/// Days after the find: counted and sexed, split, one dies, one is told apart, put together, the
/// notch has grown out, and all that are left go to another collection.
const COUNTED: i64 = 40;
const SPLIT: i64 = 55;
const DIED: i64 = 66;
const TOLD_APART: i64 = 80;
const MERGED: i64 = 120;
const PUT_BACK: i64 = 160;
const SENT: i64 = 230;

/// Males, females, unknown.
type Counts = [u8; 3];

fn counts([males, females, unknown]: Counts) -> Value {
    json!({"males": males, "females": females, "unknown": unknown})
}

fn after(days: i64, hour: u32, minute: u32) -> Instant {
    at(plus_days(FIRST_DAY, FOUND_DAY + days), hour, minute)
}

fn noted(kind: &'static str, about: &Subject, time: Instant, data: Value) -> Planned {
    Planned::new(kind, about, on_duty(date_of(time)), time).data(data)
}

/// Their whole story.
pub fn keep(seed: u64, house: &House, diary: &mut Diary) {
    let mut chance = Chance::new(seed, "brood");
    let [brood, part] = [0, SPLIT].map(|days| new_subject("group", &mut chance, after(days, 8, 0)));
    let (nursery, rearing) = (house.tank(Tank::Nursery(Water::Cool)), house.tank(Tank::Rearing(Water::Cool)));
    let formed = json!({
        "label": "Tray brood", "species": house.species(Stock::Skate), "counts": counts([0, 0, 7]), "how_counted": "each lifted once into a second basket",
        "came": "hatched here, case unknown", "hatched_on_estimate": plus_days(FIRST_DAY, FOUND_DAY), "tank": nursery
    });
    diary.add(noted("group.formed.v1", &brood, after(0, 8, 0), formed));
    feed(&brood, 6..SENT, &mut chance, diary);
    diary.add(noted("group.counted.v1", &brood, after(COUNTED, 10, 0), json!({"counts": counts([2, 4, 1]), "full": true})));
    let split =
        json!({"into": part, "label": "Tray brood, part", "counts": counts([1, 2, 0]), "tank": rearing, "remaining": counts([1, 2, 1])});
    diary.add(noted("group.split.v1", &brood, after(SPLIT, 10, 0), split));
    feed(&part, SPLIT + 4..MERGED, &mut chance, diary);
    let died = json!({"counts": counts([0, 0, 1]), "how_known": "found dead", "apparent_cause": "not determined", "body": "frozen", "remaining": counts([1, 2, 0])});
    diary.add(noted("group.died.v1", &brood, after(DIED, 7, 40), died));
    let one = told_apart(&brood, &mut chance, diary);
    diary.add(noted("group.moved.v1", &brood, after(MERGED, 10, 0), json!({"from_tank": nursery, "to_tank": rearing})));
    diary.add(noted("animal.moved.v1", &one, after(MERGED, 10, 4), json!({"from_tank": nursery, "to_tank": rearing})));
    let merged = json!({"from_group": part, "counts": counts([1, 2, 0]), "remaining": counts([2, 3, 0])});
    diary.add(noted("group.merged.v1", &brood, after(MERGED, 10, 10), merged));
    let back = json!({"group": brood, "counted_as": "female", "reason": "the notch has grown out", "remaining": counts([2, 4, 0])});
    diary.add(noted("animal.grouped.v1", &one, after(PUT_BACK, 10, 0), back));
    let sent =
        json!({"counts": counts([2, 4, 0]), "to": "collection N-7 (invented)", "reason": "transfer", "remaining": counts([0, 0, 0])});
    diary.add(Planned::new("group.departed.v1", &brood, Signer::Curator, after(SENT, 9, 30)).data(sent));
}

fn feed(group: &Subject, days: std::ops::Range<i64>, chance: &mut Chance, diary: &mut Diary) {
    let step = usize::try_from(FED_EVERY_DAYS).unwrap_or(1);
    for day in days.step_by(step) {
        let data = json!({"offered": [{"food": "chopped prawn", "pieces": 12}], "eaten": chance.one_of(&["most", "all", "some"])});
        diary.add(noted("group.fed.v1", group, after(day, 14, 20), data));
    }
}

/// A female with a notch in her disc is known by herself for a while.
fn told_apart(brood: &Subject, chance: &mut Chance, diary: &mut Diary) -> Subject {
    let one = new_subject("animal", chance, after(TOLD_APART, 11, 0));
    let told = json!({"group": brood, "counted_as": "female", "label": "Notch", "sex": "female", "how_told": "a notch in the left disc, in photos since the find"});
    diary.add(noted("animal.told_apart.v1", &one, after(TOLD_APART, 11, 0), told));
    let ate = json!({"offered": [{"food": "chopped prawn", "pieces": 3}], "eaten": "all", "way": "tongs"});
    diary.add(noted("animal.fed.v1", &one, after(TOLD_APART, 14, 25), ate));
    one
}
