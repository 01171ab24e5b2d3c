//! What the tables for the readers say where it is easy to say something else: losses that were lifted,
//! parents that were caught, animals that are elsewhere, cases that stood somewhere else since, cases that
//! were never taken in.

use super::anew::{issue, kept};
use super::{Told, YEAR, cell, table};
use selachron_schemas::time::Instant;
use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};

/// Rows of a table, each with its cells by the names of the columns.
pub(super) fn rows(report: &Value, part: &str, id: &str) -> Vec<Map<String, Value>> {
    let table = table(report, part, id);
    let names = || table["columns"].as_array().into_iter().flatten().filter_map(|column| column["name"].as_str());
    let row = |row: &Value| {
        let cells = row["cells"].as_array().into_iter().flatten().cloned();
        names().map(str::to_owned).zip(cells).collect()
    };
    table["rows"].as_array().into_iter().flatten().map(row).collect()
}

#[test]
fn losses_of_years_side_by_side_are_asked_as_they_stand_there() {
    let mut told = Told::new();
    let egg = told.egg.clone();
    told.world.set_clock(Instant::parse("2025-12-20T12:00:00Z").expect("a time"));
    told.world.record(Who::Keeper, "egg.lost.v1", &egg, &json!({"apparent_cause": "embryo died", "band_last_seen": 5}));
    told.world.set_clock(Instant::parse("2026-01-10T12:00:00Z").expect("a time"));
    told.world.record(Who::Keeper, "egg.candled.v1", &egg, &json!({"seen_into": true, "band": 5, "movement": "moving"}));
    told.world.pass_days(1);
    let now = ("as_of", "2026-01-11T12:00:00Z");
    let report = told.report(&[now]);
    let line = &report["curator"]["years"][0];
    assert_eq!((&report["losses"]["cases"], &line["lost"]), (&json!(2), &json!(1)), "one was lost at the end of the year and lives");
    let ask = |cell: &str| told.world.read(&format!("{YEAR}/cells"), &[("cell", cell), now]);
    assert_eq!((&ask("losses/cases")["value"], &ask("losses_now/cases")["value"]), (&json!([2.0]), &json!([1.0])));
    for cause in line["lost_by_cause"].as_array().expect("causes") {
        let explained = ask(&format!("losses_now/cases_by_cause/{}", cause["name"].as_str().expect("a name")));
        assert_eq!(explained["value"][0].as_f64(), cause["count"].as_f64(), "{cause}");
    }
    assert_eq!(ask("losses_now/cases_by_cause/no yolk")["value"], json!([0.0]), "nobody stands behind a nought, and it can be asked");
    // In the report of the year after each year links to its own.
    let page = told.world.client().get_text("/v1/reports/annual/2026", &[("format", "html")], "text/html").expect("a page");
    let cell = "/v1/reports/annual/2025/cells?cell=losses_now/cases_by_cause/trapped%20at%20hatching&";
    assert!(page.contains(cell) && !page.contains("figures/loss-timing?from=2025"), "the line's own year, and no other figure");
}

#[test]
fn bands_stand_under_their_own_heading() {
    let mut told = Told::new();
    let egg = told.egg.clone();
    told.world.record(Who::Keeper, "egg.lost.v1", &egg, &json!({"apparent_cause": "embryo died", "band_last_seen": 5}));
    told.world.pass_days(1);
    let page = told.world.client().get_text(YEAR, &[("format", "html")], "text/html").expect("a page");
    let bands = page.split("Embryos that died, by the band last seen").nth(1).expect("the table");
    let head = bands.split("</thead>").next().expect("a head");
    assert!(head.contains("Band last seen") && !head.contains("Apparent cause"), "{head}");
}

/// Animals received, and cases laid by known parents.
pub(super) struct Breeding {
    pub world: World,
    pub species: String,
    pub adults: String,
    pub trays: String,
}

impl Breeding {
    pub fn new() -> Self {
        let mut world = World::new();
        let species = world.species("Inventus exemplaris", "invented shark");
        let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
        Self { world, species, adults, trays }
    }

    pub fn arrives(&mut self, label: &str, sex: &str, origin: &str, more: Value) -> String {
        let animal = self.world.subject("animal");
        let mut data = json!({"label": label, "species": self.species, "sex": sex, "from": "another house", "state": "alive",
            "origin": origin, "tank": self.adults});
        data.as_object_mut().expect("an object").extend(more.as_object().cloned().unwrap_or_default());
        self.world.record(Who::Keeper, "animal.received.v1", &animal, &data);
        animal
    }

    fn searched(&mut self) {
        let tank = self.adults.clone();
        self.world.record(Who::Keeper, "tank.searched.v1", &tank, &json!({"eggs_found": 0, "whole_tank": true}));
        self.world.pass_days(1);
    }

    pub fn laid(&mut self, label: &str, dam: &str, sire: &str, taken: bool) -> String {
        let known = |animal: &str| json!({"status": "known", "animals": [{"animal": animal}], "basis": "seen"});
        let egg = self.world.subject("egg");
        let mut data = json!({"label": label, "species": self.species, "from_tank": self.adults, "laid": "single", "case": "whole", "yolk": "seen",
            "dam": known(dam), "sire": known(sire)});
        if taken {
            data["to_tank"] = json!(self.trays);
        }
        self.world.record(Who::Keeper, "egg.collected.v1", &egg, &data);
        egg
    }

    fn hatches(&mut self, egg: &str, label: &str) -> String {
        let young = self.world.subject("animal");
        let data =
            json!({"how_known": "found hatched", "young": [{"animal": young, "state": "alive", "label": label, "tank": self.trays}]});
        self.world.record(Who::Keeper, "egg.hatched.v1", egg, &data);
        young
    }
}

#[test]
fn two_that_were_caught_may_have_mated_before() {
    let mut house = Breeding::new();
    let wild = (house.arrives("WF", "female", "wild", json!({})), house.arrives("WM", "male", "wild", json!({})));
    let bred = house.arrives("BM", "male", "bred in care", json!({}));
    house.world.pass_days(10);
    let early = house.laid("E-0", &wild.0, &bred, true);
    house.searched();
    let eggs = [house.laid("E-1", &wild.0, &wild.1, true), house.laid("E-2", &wild.0, &bred, true)];
    house.world.pass_days(100);
    house.hatches(&early, "Y-0");
    let sire = house.hatches(&eggs[1], "Y-2");
    house.hatches(&eggs[0], "Y-1");
    house.world.pass_days(100);
    house.searched();
    let next = house.laid("E-3", &wild.0, &sire, true);
    house.world.pass_days(20);
    house.hatches(&next, "Y-3");
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    let told = ["Y-0", "Y-1", "Y-2", "Y-3"].map(|young| cell(table(&report, "studbook", "living"), young, "mated_in_care").clone());
    assert_eq!(
        told,
        ["unknown", "unknown", "yes, by the sender's word", "yes"],
        "laid nobody knows since when; of two wild ones; of one bred in care; of one that hatched here"
    );
    let hatched = cell(table(&report, "studbook", "living"), "Y-3", "hatched_on").as_str().expect("days");
    let days: Vec<chrono::NaiveDate> = hatched.split(" to ").map(|day| day.parse().expect("a day")).collect();
    assert_eq!((days[1] - days[0]).num_days(), 20, "from the day on which the case was found to that on which it was found hatched");
}

#[test]
fn founders_have_no_parents_and_whoever_is_elsewhere_is_named() {
    let mut house = Breeding::new();
    let dam = house.arrives("WF", "female", "wild", json!({}));
    let known = json!({"status": "known", "animals": [{"animal": dam}], "basis": "the sender's papers"});
    house.arrives("BF", "female", "bred in care", json!({"dam": known}));
    let lent = house.arrives("LF", "female", "wild", json!({}));
    let counts = |males: u64, females: u64, unknown: u64| json!({"males": males, "females": females, "unknown": unknown});
    let form = |house: &mut Breeding, label: &str, came: &str| {
        let group = house.world.subject("group");
        let mut data = json!({"label": label, "species": house.species, "counts": counts(0, 0, 3), "how_counted": "by photo", "came": came,
            "tank": house.trays});
        if came == "received" {
            data["sender"] = json!("another house");
        }
        house.world.record(Who::Keeper, "group.formed.v1", &group, &data);
        group
    };
    let (brood, own) = (form(&mut house, "Brood", "received"), form(&mut house, "Own", "hatched here, case unknown"));
    for (group, label) in [(&brood, "AF"), (&own, "OF")] {
        house.world.pass_days(1);
        let animal = house.world.subject("animal");
        let data = json!({"group": group, "counted_as": "unknown", "label": label, "sex": "female", "how_told": "by its pattern"});
        house.world.record(Who::Keeper, "animal.told_apart.v1", &animal, &data);
    }
    let loan = house.world.subject("loan");
    let agreed = json!({"label": "L-1", "direction": "out", "partner": "another house", "which": [lent]});
    house.world.say_with(Who::Curator, "loan.agreed.v1", &loan, &agreed, &Map::new(), &[Who::Registrar]).recorded().expect("two persons");
    house.world.record(Who::Keeper, "animal.departed.v1", &lent, &json!({"to": "another house", "reason": "loan", "alive": "alive"}));
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    let founders: Vec<(Value, Value)> =
        rows(&report, "studbook", "founders").iter().map(|row| (row["animal"].clone(), row["origin"].clone())).collect();
    let wanted = [("WF", "wild"), ("LF", "wild"), ("AF", "out of group Brood")].map(|(label, origin)| (json!(label), json!(origin)));
    assert_eq!(founders, wanted, "one with a dam is none, nor one that hatched here");
    let living: Vec<Value> = rows(&report, "studbook", "living").iter().map(|row| row["animal"].clone()).collect();
    assert_eq!(living, ["WF", "BF", "AF", "OF"]);
    assert_eq!(
        table(&report, "studbook", "living")["footnotes"],
        json!([
            "Ours that are lent out, and in no row: LF.",
            "In groups that cannot be told apart, and in no row (males.females.unknown): Brood (0.0.2), Own (0.0.2)."
        ])
    );
}

#[test]
fn cases_left_with_the_adults_and_young_of_no_case_stand_above_the_balance() {
    let mut house = Breeding::new();
    let (dam, sire) = (house.arrives("WF", "female", "wild", json!({})), house.arrives("WM", "male", "wild", json!({})));
    house.laid("E-1", &dam, &sire, false);
    let empty = house.laid("E-2", &dam, &sire, false);
    house.laid("E-3", &dam, &sire, true);
    house.world.pass_days(100);
    house.world.record(Who::Keeper, "egg.hatched.v1", &empty, &json!({"how_known": "found hatched", "young": []}));
    let group = house.world.subject("group");
    let formed = json!({"label": "Unseen", "species": house.species, "counts": {"males": 0, "females": 0, "unknown": 2}, "how_counted": "by photo",
        "came": "hatched here, case unknown", "tank": house.adults});
    house.world.record(Who::Keeper, "group.formed.v1", &group, &formed);
    house.world.pass_days(1);
    let apart = house.world.subject("animal");
    let data = json!({"group": group, "counted_as": "unknown", "label": "Y-1", "sex": "female", "how_told": "by its pattern"});
    house.world.record(Who::Keeper, "animal.told_apart.v1", &apart, &data);
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    super::parts::fits(&report);
    let line = &report["ledger"]["total"];
    let told = ["collected", "young_not_found", "end", "left_with_adults", "found_empty_with_adults", "young_case_unknown"];
    assert_eq!(told.map(|name| line[name].as_i64()), [3, 1, 2, 1, 1, 2].map(Some), "one of the two young was told apart since: {line}");
    assert_eq!(report["completeness"]["failing"], json!([]));
    let left = house.world.read(&format!("{YEAR}/cells"), &[("cell", "ledger/all species/left_with_adults")]);
    assert_eq!((&left["value"], &left["rests_on"][0]["label"]), (&json!([1.0]), &json!("E-1")));
    let page = house.world.client().get_text(YEAR, &[("format", "html")], "text/html").expect("a page");
    for row in [
        "found here",
        "of the end: left in the adults",
        "of those collected: found empty in the adults",
        "young that hatched here, case unknown",
    ] {
        assert!(page.contains(row), "{row}");
    }
    super::given::every_number_is_given(&house.world, &[2025]);
}

/// A case counts where it stood around a change, wherever it is since.
#[test]
fn before_and_after_a_tanks_change_is_told_of_those_that_stood_in_it() {
    let mut house = Breeding::new();
    let (dam, sire) = (house.arrives("WF", "female", "wild", json!({})), house.arrives("WM", "male", "wild", json!({})));
    let (trays, second) = (house.trays.clone(), house.world.tank("Second", "incubation"));
    let moved = house.laid("E-1", &dam, &sire, true);
    house.world.pass_days(5);
    house.world.record(Who::Keeper, "tank.light_set.v1", &trays, &json!({"light": "dim", "day_length_hours": 12}));
    house.world.pass_days(5);
    house.world.record(Who::Keeper, "egg.moved.v1", &moved, &json!({"to_tank": second, "from_tank": trays}));
    let late = house.laid("E-2", &dam, &sire, false);
    house.world.record(Who::Keeper, "egg.moved.v1", &late, &json!({"to_tank": second}));
    house.laid("E-3", &dam, &sire, true);
    house.world.pass_days(200);
    house.world.record(Who::Keeper, "egg.moved.v1", &late, &json!({"to_tank": trays, "from_tank": second}));
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    let sides: Vec<(Value, Value)> =
        rows(&report, "curator", "changes").iter().map(|row| (row["side"].clone(), row["cases"].clone())).collect();
    assert_eq!(sides, [(json!("before"), json!(1)), (json!("from then on"), json!(1))], "E-1 has left it, E-2 came too late");
}

#[test]
fn whoever_decided_is_named_and_a_copy_checked_afterwards_is_told() {
    let mut house = Breeding::new();
    let animal = house.arrives("WF", "female", "wild", json!({}));
    let died = json!({"how_known": "by a veterinarian's decision", "apparent_cause": "illness", "body": "sent"});
    house.world.record(Who::Veterinarian, "animal.died.v1", &animal, &died);
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    let veterinarian = json!(house.world.staff.veterinarian.person);
    assert_eq!(cell(table(&report, "authority", "put_down"), "WF", "decided_by"), &veterinarian);
    house.world.set_clock(Instant::parse("2026-01-10T12:00:00Z").expect("a time"));
    let checkpoint = house.world.client().look().expect("a checkpoint").checkpoint;
    let root = selachron_schemas::encoding::base64(&checkpoint.root);
    let copy = json!({"where": "safe in the other town", "size": checkpoint.size, "root": root, "how": "bundle verified"});
    house.world.record(Who::Curator, "copy.verified.v1", "collection", &copy);
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[("as_of", "2026-01-10T13:00:00Z")]);
    assert_eq!(cell(table(&report, "authority", "copies"), "2026-01-10", "place"), "safe in the other town");
}

#[test]
fn what_is_new_in_the_studbook_and_what_is_withdrawn_is_told_cell_by_cell() {
    let mut told = Told::new();
    let species = told.world.read("/v1/species", &[])["items"][0]["id"].clone();
    let (text, _) = kept(&told, "report.json");
    issue(&mut told, &text);
    told.world.pass_days(1);
    let animal = told.world.subject("animal");
    let data = json!({"label": "N-1", "species": species, "sex": "female", "from": "another house", "state": "alive", "origin": "wild"});
    told.world.record(Who::Keeper, "animal.received.v1", &animal, &data);
    let gone = told.world.read("/v1/animals/M-1", &[])["item"].clone();
    let id = gone["id"].as_str().expect("an animal").to_owned();
    let back = json!({"target": gone["came"]["event"], "reason": "it never arrived"});
    told.world.record(Who::Curator, "record.retracted.v1", &id, &back);
    told.world.pass_ms(60_000);
    let report = told.report(&[("as_of", "2025-12-31")]);
    let changes = rows(&report, "studbook", "studbook_changes");
    let of = |change: &str| changes.iter().filter(|row| row["change"] == change).collect::<Vec<_>>();
    let (new, withdrawn) = (of("new"), of("withdrawn"));
    let sex = |rows: &[&Map<String, Value>], side: &str| rows.iter().find(|row| row["column"] == "sex").map(|row| row[side].clone());
    assert_eq!((sex(&new, "new"), sex(&withdrawn, "old")), (Some(json!("female")), Some(json!("male"))), "{changes:?}");
    assert!(new.iter().all(|row| row["old"].is_null() && !row["new"].is_null()), "{new:?}");
    assert!(withdrawn.iter().all(|row| row["new"].is_null() && !row["old"].is_null()), "{withdrawn:?}");
    assert!(table(&report, "studbook", "studbook_changes")["footnotes"].to_string().contains("/v1/exports/studbook?since="));
}

/// Of a water that was outside its band over the end of a year each year counts its own hours.
#[test]
fn hours_outside_a_band_are_those_of_the_months() {
    let mut house = Breeding::new();
    let (system, trays) = (house.world.subject("system"), house.trays.clone());
    house.world.record(Who::Keeper, "system.set_up.v1", &system, &json!({"label": "Warm", "water": "tropical"}));
    house.world.record(Who::Keeper, "tank.joined.v1", &trays, &json!({"system": system}));
    for (time, temperature_c) in [("2025-12-30T12:00:00Z", 25.0), ("2025-12-31T12:00:00Z", 29.5), ("2026-01-02T06:00:00Z", 25.0)] {
        house.world.set_clock(Instant::parse(time).expect("a time"));
        let read = json!({"instrument": "probe 3", "temperature_c": temperature_c, "temperature_scale": "ITS-90"});
        house.world.record(Who::Keeper, "water.measured.v1", &system, &read);
    }
    house.world.pass_days(1);
    let hours = |year: i32| {
        let report = house.world.read(&format!("/v1/reports/annual/{year}"), &[]);
        let of = |row: &Map<String, Value>| (row["quantity"] == "temperature_c").then(|| row["hours"].clone());
        rows(&report, "curator", "water_episodes").iter().filter_map(of).collect::<Vec<_>>()
    };
    assert_eq!(
        (hours(2025), hours(2026)),
        (vec![json!(12.0)], vec![json!(30.0)]),
        "noon to midnight, and midnight to six on the second day"
    );
}
