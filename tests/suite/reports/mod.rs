//! The annual report for each of its readers, through the real client and the real service: what each part
//! says and from which notes, any twelve months, profiles, and whether a report is still what its notes
//! give. All of it is invented.

mod anew;

mod parts;

mod months;

mod restated;

mod odd;

mod readers;

mod counted;

pub(crate) mod given;

use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};

/// The report of the year that the world begins in.
const YEAR: &str = "/v1/reports/annual/2025";

/// A nursery in which something has happened for every reader.
struct Told {
    world: World,
    dam: String,
    egg: String,
}

impl Told {
    fn new() -> Self {
        let mut world = World::new();
        let species = world.species("Inventus exemplaris", "invented shark");
        let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
        let arrive = |world: &mut World, label: &str, sex: &str, origin: &str| {
            let animal = world.subject("animal");
            let data = json!({"label": label, "species": species, "sex": sex, "from": "another house", "state": "alive", "origin": origin, "tank": adults});
            world.record(Who::Keeper, "animal.received.v1", &animal, &data);
            animal
        };
        let (dam, sire) = (arrive(&mut world, "F-1", "female", "wild"), arrive(&mut world, "M-1", "male", "bred in care"));
        let lost = arrive(&mut world, "M-2", "male", "unknown");
        let place = world.subject("place");
        world.record(Who::Keeper, "place.set_up.v1", &place, &json!({"label": "A-01", "tank": trays, "order": 1, "cases_max": 2}));
        let mut told = Self { world, dam, egg: String::new() };
        told.breed(&sire, (&species, &adults, &trays));
        told.house(&lost, &species, &adults);
        told
    }

    fn breed(&mut self, sire: &str, (species, adults, trays): (&str, &str, &str)) {
        let parents = (
            json!({"status": "known", "animals": [{"animal": self.dam}], "basis": "seen laying"}),
            json!({"status": "known", "animals": [{"animal": sire}], "basis": "the only male"}),
        );
        let advice = json!({"advice": "breed with the one named", "programme": "an invented programme", "partner": sire});
        self.world.record(Who::Curator, "breeding.advised.v1", &self.dam.clone(), &advice);
        let mut eggs = Vec::new();
        for label in ["E-1", "E-2", "E-3", "E-4"] {
            self.world.pass_days(7);
            let egg = self.world.subject("egg");
            let data = json!({"label": label, "species": species, "from_tank": adults, "laid": "single", "case": "whole", "yolk": "seen",
                "to_tank": trays, "dam": parents.0, "sire": parents.1});
            self.world.record(Who::Keeper, "egg.collected.v1", &egg, &data);
            eggs.push(egg);
        }
        let rule = json!({"candling_interval_days": 5});
        let told = self.world.say_with(Who::Curator, "policy.set.v1", "collection", &rule, &Map::new(), &[Who::Registrar]);
        told.recorded().expect("two persons");
        self.world.pass_days(100);
        for (egg, alive) in [(&eggs[0], true), (&eggs[1], false)] {
            let young = self.world.subject("animal");
            let state = if alive { "alive" } else { "dead" };
            let data = json!({"how_known": "found hatched", "young": [{"animal": young, "state": state}]});
            self.world.record(Who::Keeper, "egg.hatched.v1", egg, &data);
            if alive {
                self.world.pass_days(2);
                let died = json!({"how_known": "found dead", "apparent_cause": "never ate", "body": "fixed"});
                self.world.record(Who::Keeper, "animal.died.v1", &young, &died);
            }
        }
        let curator = self.world.staff.curator.person.clone();
        let down = json!({"decided_by": [curator], "reason": "programme advice", "alive": "yes"});
        self.world.record(Who::Curator, "egg.put_down.v1", &eggs[2], &down);
        self.egg = eggs[3].clone();
    }

    fn house(&mut self, lost: &str, species: &str, adults: &str) {
        let about = |noun: &str, world: &mut World| world.subject(noun);
        let world = &mut self.world;
        world.record(Who::Keeper, "animal.escaped.v1", lost, &json!({"how": "over the edge", "into": "the building"}));
        let incident = about("incident", world);
        let opened = json!({"label": "power", "what": "power failure", "summary": "no current for two hours", "about": [adults]});
        world.record(Who::Keeper, "incident.opened.v1", &incident, &opened);
        let quarantine = json!({"reason": "arrival", "conditions": "own water, own nets", "planned_days": 30});
        world.record(Who::Keeper, "quarantine.started.v1", adults, &quarantine);
        let loan = about("loan", world);
        let agreed =
            json!({"label": "loan 1", "direction": "out", "partner": "another house", "which": [self.dam], "young_belong_to": "shared"});
        world.say_with(Who::Curator, "loan.agreed.v1", &loan, &agreed, &Map::new(), &[Who::Registrar]).recorded().expect("two persons");
        let permit = about("document", world);
        let paper = json!({"label": "P-1", "what": "movement", "number": "invented 7", "authority": "an invented authority",
            "valid_from": "2025-01-01", "valid_until": "2025-09-30", "specimens": 5});
        world.record(Who::Registrar, "permit.recorded.v1", &permit, &paper);
        world.record(Who::Registrar, "permit.used.v1", &permit, &json!({"for_what": "the loan", "which": [self.dam], "specimens": 1}));
        let group = about("group", world);
        let formed = json!({"label": "Brood", "species": species, "counts": {"males": 0, "females": 0, "unknown": 5},
            "how_counted": "each lifted once into a second basket", "came": "received", "sender": "another house", "tank": adults});
        world.record(Who::Keeper, "group.formed.v1", &group, &formed);
        let sample = about("sample", world);
        let taken =
            json!({"label": "S-1", "what": "fin clip", "of": [self.dam], "kept": "in ethanol", "licence_reference": "an invented licence"});
        world.record(Who::Veterinarian, "sample.taken.v1", &sample, &taken);
        let round = about("round", world);
        let egg = self.egg.clone();
        world.record(Who::Keeper, "round.opened.v1", &round, &json!({"label": "Mon", "what": "candling", "eggs": [egg]}));
        world.pass_ms(60_000);
        let closed = json!({"not_looked_at": [{"which": egg, "reason": "no time"}]});
        world.record(Who::Keeper, "round.closed.v1", &round, &closed);
        let checkpoint = world.client().look().expect("a checkpoint").checkpoint;
        let root = selachron_schemas::encoding::base64(&checkpoint.root);
        let copy = json!({"where": "safe in the other town", "size": checkpoint.size, "root": root, "how": "bundle verified"});
        world.record(Who::Curator, "copy.verified.v1", "collection", &copy);
    }

    fn report(&self, query: &[(&str, &str)]) -> Value {
        self.world.read(YEAR, query)
    }

    /// The report's own bytes.
    fn text(&self, query: &[(&str, &str)]) -> String {
        self.world.client().get_text(YEAR, query, "application/json").expect("a report")
    }
}

/// A table of a part.
#[track_caller]
fn table<'r>(report: &'r Value, part: &str, id: &str) -> &'r Value {
    let tables = report[part]["tables"].as_array().unwrap_or_else(|| panic!("no part {part}"));
    tables.iter().find(|table| table["id"] == id).unwrap_or_else(|| panic!("no table {id} in {part}"))
}

/// A cell of the only row whose first cell is that.
#[track_caller]
fn cell<'r>(table: &'r Value, row: &str, column: &str) -> &'r Value {
    let columns = table["columns"].as_array().expect("columns");
    let at = columns.iter().position(|one| one["name"] == column).unwrap_or_else(|| panic!("no column {column}: {columns:?}"));
    let rows = table["rows"].as_array().expect("rows");
    let found: Vec<&Value> = rows.iter().filter(|one| one["cells"][0] == row).collect();
    assert_eq!(found.len(), 1, "rows {row}: {rows:?}");
    &found[0]["cells"][at]
}
