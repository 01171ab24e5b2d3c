//! What others take away, through the real client and the real service: the studbook, plain tables, all
//! notes, the lists of a year. Labels that a spreadsheet would reckon with, an animal without a species
//! and parents of every state are among what is exported.

mod broken;

mod forms;

mod governed;

mod restored;

mod since;

use selachron_cli::bundle::unpack;
use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

/// What a parent rests on is free text, and this one names a tank and a person, both invented.
pub const BASIS: &str = "seen laying in @Trays by Ada Erfunden";

/// A nursery in which everything that an export must be able to say has happened. It is invented.
pub struct Exported {
    /// The world it lives in.
    pub world: World,
    /// A male and a female of whom both parents are unknown.
    pub parents: [String; 2],
    /// Hatched from their case: the dam is known, the sire one of two.
    pub hatched: String,
    /// Its mother alone made it.
    pub parthenote: String,
    /// From the wild.
    pub wild: String,
    /// Its case was noted by a note that was withdrawn: nobody says what species it is.
    pub without_species: String,
}

impl Exported {
    /// Tells it.
    pub fn told() -> Self {
        let mut world = World::new();
        let species = world.species("Inventus exemplaris", "invented shark");
        let (adults, trays) = (world.tank("Adults", "adults"), world.tank("@Trays", "incubation"));
        let system = world.subject("system");
        world.record(Who::Keeper, "system.set_up.v1", &system, &json!({"label": "S-1", "water": "tropical"}));
        world.record(
            Who::Keeper,
            "water.measured.v1",
            &system,
            &json!({"temperature_c": 24.5, "instrument": "=probe", "salinity_psu": 34.0}),
        );
        let arrive = |world: &mut World, label: &str, sex: &str, origin: &str| {
            let animal = world.subject("animal");
            let data = json!({"label": label, "species": species, "sex": sex, "from": "another house", "state": "alive", "origin": origin, "tank": adults});
            world.record(Who::Keeper, "animal.received.v1", &animal, &data);
            animal
        };
        let male = arrive(&mut world, "=M+1", "male", "bred in care");
        let female = arrive(&mut world, "F 1, \"the\" dam", "female", "bred in care");
        let second = arrive(&mut world, "-M2", "male", "unknown");
        let wild = arrive(&mut world, "'W", "female", "wild");
        let mut hatched = Vec::new();
        for (label, dam, sire) in [
            (
                "A-1",
                json!({"status": "known", "animals": [{"animal": female}], "basis": BASIS}),
                json!({"status": "candidates", "animals": [{"animal": male, "weight": 0.75}, {"animal": second}]}),
            ),
            ("A-2", json!({"status": "known", "animals": [{"animal": female}], "basis": BASIS}), json!({"status": "none"})),
            ("A-3", json!({"status": "unknown"}), json!({"status": "unknown"})),
        ] {
            hatched.push(Self::hatch(&mut world, label, (&species, &adults, &trays), &dam, &sire));
        }
        let [hatched, parthenote, without_species] = hatched.try_into().expect("three young");
        Self::live(&mut world, &hatched, &second);
        let about = world.read("/v1/eggs/A-3/history", &[]);
        let collected = about["notes"].as_array().into_iter().flatten().find(|note| note["kind"] == "egg.collected.v1").expect("a find");
        let (id, egg) = (collected["id"].clone(), collected["subject"].as_str().expect("a case").to_owned());
        world.record(Who::Keeper, "record.retracted.v1", &egg, &json!({"target": id, "reason": "another case was meant"}));
        Self { world, parents: [male, female], hatched, parthenote, wild, without_species }
    }

    fn hatch(world: &mut World, label: &str, (species, adults, trays): (&str, &str, &str), dam: &Value, sire: &Value) -> String {
        let (egg, animal) = (world.subject("egg"), world.subject("animal"));
        let data = json!({
            "label": label, "species": species, "from_tank": adults, "laid": "single", "case": "whole", "yolk": "seen", "to_tank": trays,
            "dam": dam, "sire": sire,
        });
        world.record(Who::Keeper, "egg.collected.v1", &egg, &data);
        world.pass_days(20);
        let look = json!({"seen_into": true, "band": 3, "movement": "moving", "findings": ["cloudy"]});
        world.record(Who::Keeper, "egg.candled.v1", &egg, &look);
        world.pass_days(100);
        let young = json!({"animal": animal, "state": "alive", "length_cm": 14.5, "mass_g": 12.25, "tank": trays});
        world.record(Who::Keeper, "egg.hatched.v1", &egg, &json!({"how_known": "found hatched", "young": [young]}));
        animal
    }

    /// Another young of a species of its own, out of a case that was found just before and never looked at.
    pub fn young(&mut self, label: &str, hatch: (&str, &Map<String, Value>), dam: &Value) -> String {
        let (species, tank) = (self.world.species(&format!("Inventus {label}"), label), self.world.tank(label, "adults"));
        let (egg, animal) = (self.world.subject("egg"), self.world.subject("animal"));
        let found =
            json!({"label": label, "species": species, "from_tank": tank, "laid": "single", "case": "whole", "yolk": "seen", "dam": dam});
        self.world.record(Who::Keeper, "egg.collected.v1", &egg, &found);
        self.world.pass_days(5);
        let hatched = json!({"how_known": hatch.0, "young": [{"animal": animal, "state": "alive"}]});
        let outcome = self.world.say_with(Who::Keeper, "egg.hatched.v1", &egg, &hatched, hatch.1, &[]);
        outcome.recorded().unwrap_or_else(|fault| panic!("{}: {fault}", hatch.0));
        animal
    }

    /// A permit that the registrar records, used once by the curator and once by the keeper.
    pub fn trade(&mut self) {
        let permit = self.world.subject("document");
        let told = json!({"label": "E-1", "what": "export", "number": "INV-1", "authority": "an invented authority"});
        self.world.record(Who::Registrar, "permit.recorded.v1", &permit, &told);
        for (who, source, which) in [(Who::Curator, "C", &self.parents[0]), (Who::Keeper, "W", &self.hatched)] {
            let used = json!({"for_what": "=to a third house", "which": [which], "term": "LIV", "source": source});
            self.world.record(who, "permit.used.v1", &permit, &used);
        }
    }

    /// The first young is fed, marked and dies; the second male is sent away.
    fn live(world: &mut World, young: &str, male: &str) {
        let fed = json!({"offered": [{"food": "shrimp", "amount_g": 0.5}, {"food": "squid", "amount_g": 0.25}], "eaten": "most"});
        world.record(Who::Keeper, "animal.fed.v1", young, &fed);
        let mark = json!({"what": "given", "type": "implanted tag", "number": "900 1", "label": "+tag"});
        world.record(Who::Keeper, "animal.identified.v1", young, &mark);
        world.pass_days(3);
        let died = json!({"how_known": "found dead", "apparent_cause": "not determined", "body": "fixed"});
        world.record(Who::Keeper, "animal.died.v1", young, &died);
        let left = json!({"reason": "transfer", "to": "a third house", "alive": "alive"});
        world.record(Who::Curator, "animal.departed.v1", male, &left);
    }

    /// An export's text.
    #[track_caller]
    pub fn text(&self, path: &str, query: &[(&str, &str)]) -> String {
        self.world.client().get_text(path, query, "*/*").unwrap_or_else(|fault| panic!("{path}: {fault}"))
    }

    /// An export that is a tar, unpacked.
    #[track_caller]
    pub fn folder(&self, path: &str, name: &str) -> PathBuf {
        let folder = self.world.scratch().join(name);
        let stream = self.world.client().get_stream(path, "application/x-tar").unwrap_or_else(|fault| panic!("{path}: {fault}"));
        unpack(stream, &folder).unwrap_or_else(|fault| panic!("{path}: {fault}"));
        folder
    }
}

/// The rows of a CSV file by column.
pub fn rows(csv: &[u8]) -> Vec<Value> {
    let mut reader = csv::Reader::from_reader(csv);
    let header = reader.headers().expect("a header").clone();
    let row = |row: csv::StringRecord| header.iter().map(str::to_owned).zip(row.iter().map(Value::from)).collect();
    reader.records().map(|record| Value::Object(row(record.expect("a row of as many cells")))).collect()
}

/// The rows of a file of a folder.
pub fn rows_of(folder: &Path, name: &str) -> Vec<Value> {
    rows(&std::fs::read(folder.join(name)).unwrap_or_else(|error| panic!("{name}: {error}")))
}

/// The row of that animal.
#[track_caller]
pub fn row_of<'r>(rows: &'r [Value], animal: &str) -> &'r Value {
    rows.iter().find(|row| row["animal"] == animal).unwrap_or_else(|| panic!("no row of {animal}"))
}
