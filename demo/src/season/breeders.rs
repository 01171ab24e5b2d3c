//! Adults: mating and laying that were seen, advice, examinations, a treatment that the veterinarian
//! ordered, a loan, an escape, and the newcomer in quarantine.

use super::calendar::{FIRST_DAY, after_minutes, at, date_of, plus_days, text};
use super::chance::Chance;
use super::diary::{Diary, slot};
use super::house::{Adult, House, Tank, new_subject};
use super::note::{Known, Planned};
use super::people::{Signer, on_duty};
use super::stock::Stock;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};

/// Days after the first day on which signs of mating are seen: species, and the sign.
const MATINGS: [(i64, Stock, &str); 5] = [
    (6, Stock::Bamboo, "following and biting"),
    (41, Stock::Epaulette, "mating marks"),
    (113, Stock::Bamboo, "copulation"),
    (142, Stock::Skate, "swollen claspers"),
    (190, Stock::Epaulette, "following and biting"),
];

/// The first day on which the male that goes on loan is away, and the day on which he is back.
pub const LOAN_DAYS: (i64, i64) = (405, 495);

/// All of it.
pub fn watch(seed: u64, house: &House, diary: &mut Diary) {
    let mut chance = Chance::new(seed, "breeders");
    mating_and_laying(house, diary);
    examinations(house, diary);
    treatment(house, diary);
    escape(house, diary);
    advice(house, diary);
    loan(house, &mut chance, diary);
    newcomer(house, &mut chance, diary);
}

fn first_of(house: &House, stock: Stock, female: bool) -> Option<&Adult> {
    house.adults_of(stock, female, Instant::END).next()
}

fn on(days: i64, hour: u32, minute: u32) -> Instant {
    at(plus_days(FIRST_DAY, days), hour, minute)
}

/// A note by whoever is on duty.
fn seen(kind: &'static str, about: &Subject, time: Instant, data: Value) -> Planned {
    Planned::new(kind, about, on_duty(date_of(time)), time).data(data)
}

fn mating_and_laying(house: &House, diary: &mut Diary) {
    for (days, stock, sign) in MATINGS {
        let (Some(female), Some(male)) = (first_of(house, stock, true), first_of(house, stock, false)) else { continue };
        let by_male = sign == "swollen claspers";
        let (about, partner) = if by_male { (male, None) } else { (female, Some(&male.animal)) };
        let data = json!({"sign": sign, "partner": partner, "certainty": if sign == "copulation" { "sure" } else { "likely" }});
        diary.add(seen("mating.observed.v1", &about.animal, on(days, 16, 35), data));
    }
    // The skates' pairs are seen laid; the bamboos' only once.
    for (days, stock) in [(4, Stock::Skate), (8, Stock::Skate), (20, Stock::Bamboo)] {
        let Some(female) = first_of(house, stock, true) else { continue };
        let data = json!({"seen": "case hanging", "laid": "pair", "tank": house.tank(Tank::Adults(stock))});
        diary.add(seen("laying.observed.v1", &female.animal, on(days, 7, 50), data));
    }
}

/// Once a year the veterinarian looks at each adult; on the next day each is told by its pattern.
fn examinations(house: &House, diary: &mut Diary) {
    for (row, adult) in house.adults.iter().filter(|adult| date_of(adult.since) == FIRST_DAY).enumerate() {
        let time = slot(plus_days(FIRST_DAY, 70), 10, 0, row, 600);
        let data = json!({"by": ["eye", "hand"], "body_condition": "good"});
        diary.add(Planned::new("animal.examined.v1", &adult.animal, Signer::Veterinarian, time).data(data));
        let told = json!({"what": "given", "type": "natural pattern", "place_on_body": "whole body"});
        diary.add(seen("animal.identified.v1", &adult.animal, slot(plus_days(FIRST_DAY, 71), 10, 0, row, 300), told));
    }
}

/// A graze on a fin: examined, treated as ordered in writing, seen to be well again.
fn treatment(house: &House, diary: &mut Diary) {
    let Some(shark) = house.adults_of(Stock::Bamboo, true, Instant::END).nth(1) else { return };
    let odd = json!({"state": "not as usual", "signs": ["wound or mark"], "tank": house.tank(Tank::Adults(Stock::Bamboo))});
    diary.add(seen("animal.observed.v1", &shark.animal, on(222, 7, 45), odd));
    let examined = json!({
        "by": ["eye"], "findings": ["graze on the right pectoral fin"], "body_condition": "good",
        "treatment_order": "as on the written order of this day, kept by the veterinarian"
    });
    let order = diary.add(Planned::new("animal.examined.v1", &shark.animal, Signer::Veterinarian, on(222, 12, 10)).data(examined));
    for days in 223..226 {
        let given = json!({"order": "the veterinarian's written order", "given": "as ordered"});
        diary.add(seen("animal.treated.v1", &shark.animal, on(days, 9, 15), given).gap("ordered_in", Known::IdOf(order)));
    }
    diary.add(seen("animal.observed.v1", &shark.animal, on(236, 7, 45), json!({"state": "as usual"})));
}

/// A male climbs out over the edge one night and is found on the floor, well, half an hour after he
/// was seen to be gone.
fn escape(house: &House, diary: &mut Diary) {
    let Some(shark) = house.adults_of(Stock::Epaulette, true, Instant::END).nth(1) else { return };
    let gone = on(313, 7, 20);
    let data = json!({"how": "over the edge", "into": "the building", "last_seen_alive": text(on(312, 17, 10)), "reported_to": "curator"});
    diary.add(seen("animal.escaped.v1", &shark.animal, gone, data).after(on(312, 17, 10)));
    let found = json!({"where": "in the wet channel beside the tank", "to_tank": house.tank(Tank::Adults(Stock::Epaulette))});
    diary.add(seen("animal.recaptured.v1", &shark.animal, after_minutes(gone, 28), found));
}

fn advice(house: &House, diary: &mut Diary) {
    let (Some(female), Some(male)) = (first_of(house, Stock::Epaulette, true), first_of(house, Stock::Epaulette, false)) else { return };
    let data = json!({"advice": "breed with the one named", "programme": "programme P-2 (invented)", "partner": male.animal,
        "valid_until": plus_days(FIRST_DAY, 400)});
    diary.add(Planned::new("breeding.advised.v1", &female.animal, Signer::Curator, on(30, 11, 40)).data(data));
    let together = json!({"to_tank": house.tank(Tank::Adults(Stock::Epaulette)), "together_with": [male.animal], "purpose": "breeding", "went": "quiet"});
    diary.add(seen("animal.introduced.v1", &female.animal, on(33, 10, 20), together));
}

/// He is lent to the collection that sent the first cases, and comes back.
fn loan(house: &House, chance: &mut Chance, diary: &mut Diary) {
    let Some(male) = first_of(house, Stock::Epaulette, false) else { return };
    let (away, back) = LOAN_DAYS;
    let loan = new_subject("loan", chance, on(away - 9, 11, 0));
    let agreed = json!({"label": "L-1", "direction": "out", "partner": "collection N-4 (invented)", "which": [male.animal],
        "until": plus_days(FIRST_DAY, back + 10), "young_belong_to": "shared"});
    diary.add(Planned::new("loan.agreed.v1", &loan, Signer::Curator, on(away - 9, 11, 0)).data(agreed));
    let returned =
        json!({"from": "collection N-4 (invented)", "reason": "end of a loan", "to_tank": house.tank(Tank::Adults(Stock::Epaulette))});
    diary.add(seen("animal.returned.v1", &male.animal, on(back, 12, 30), returned));
    diary.add(Planned::new("loan.ended.v1", &loan, Signer::Curator, on(back, 15, 0)).data(json!({"how": "returned"})));
    let ate = json!({"offered": [{"food": "squid", "amount_g": 40}], "eaten": "some", "way": "tongs"});
    diary.add(seen("animal.fed.v1", &male.animal, on(back + 2, 13, 50), ate));
}

/// The third bamboo female: her box and its papers, quarantine with a sample, and clearance.
fn newcomer(house: &House, chance: &mut Chance, diary: &mut Diary) {
    let Some(female) = house.adults.last() else { return };
    let (animal, arrived) = (&female.animal, female.since);
    let day = |days, hour, minute| at(plus_days(date_of(arrived), days), hour, minute);
    let document = new_subject("document", chance, after_minutes(arrived, 20));
    let file: String = (0..4).map(|_| format!("{:016x}", chance.bits())).collect();
    let paper = json!({"label": "HC-3", "title": "health certificate of the sender", "file_sha256": file, "media_type": "application/pdf", "about": [animal]});
    diary.add(Planned::new("document.attached.v1", &document, Signer::Curator, after_minutes(arrived, 20)).data(paper));
    let box_ = new_subject("consignment", chance, after_minutes(arrived, 30));
    let opened = json!({
        "label": "B-3", "where": "here", "from": "collection N-7 (invented)", "carrier": "carrier C-1 (invented)", "opened_at": text(arrived),
        "items": [{"which": animal, "state": "alive"}], "temperature_c": 24.1, "oxygen": "oxygen in the bag",
        "papers": [{"paper": "health certificate", "document": document}]
    });
    diary.add(seen("consignment.received.v1", &box_, after_minutes(arrived, 30), opened));
    let started = json!({"reason": "arrival", "conditions": "own nets, last in the round", "planned_days": 45, "tests_wanted": ["skin and gills for parasites"]});
    diary.add(Planned::new("quarantine.started.v1", animal, Signer::Veterinarian, after_minutes(arrived, 40)).data(started));
    let sample = new_subject("sample", chance, day(20, 10, 0));
    let vet = |kind, about: &Subject, time, data: Value| Planned::new(kind, about, Signer::Veterinarian, time).data(data);
    let taken = json!({"label": "S-1", "what": "scrape", "of": [animal], "licence_reference": "licence V-1 (invented)", "kept": "cold"});
    diary.add(vet("sample.taken.v1", &sample, day(20, 10, 0), taken));
    let tests = json!(["skin and gills for parasites"]);
    diary.add(vet("sample.sent.v1", &sample, day(20, 15, 0), json!({"to": "laboratory L-2 (invented)", "tests_wanted": tests})));
    let result =
        json!({"by": "laboratory L-2 (invented)", "results": [{"test": "skin and gills for parasites", "result": "nothing found"}]});
    diary.add(vet("sample.reported.v1", &sample, day(31, 9, 0), result));
    let basis = json!({"basis": "45 days without a sign, and the sample", "tests": [{"test": "skin and gills for parasites", "result": "nothing found", "sample": sample}]});
    diary.add(vet("quarantine.cleared.v1", animal, day(45, 10, 20), basis));
}
