//! Stories of the house, told through the real client to the real service: tanks and water,
//! adults, people and their rounds, what comes and goes, permits, who shared water, groups,
//! the stock list of a year, and what loans do to it.

mod water;

mod readings;

mod trays;

mod adults;

mod work;

mod rounds;

mod movement;

mod permits;

mod exposure;

mod groups;

mod stock;

mod lent;

use selachron_schemas::time::{HOUR_MS, Instant};
use selachron_tests::fixture::envelope;
use selachron_tests::world::{Who, World};
use serde_json::{Value, json};

/// A nursery with a species, adults' tank, incubation and nursery tanks.
struct House {
    world: World,
    species: String,
    adults: String,
    trays: String,
    nursery: String,
}

impl House {
    fn open() -> Self {
        let mut world = World::new();
        let species = world.species("Inventus exemplaris", "invented shark");
        let (adults, trays, nursery) =
            (world.tank("Adults", "adults"), world.tank("Trays", "incubation"), world.tank("Nursery", "nursery"));
        Self { world, species, adults, trays, nursery }
    }

    /// Records a note, and says what is odd about it.
    #[track_caller]
    fn odd(&mut self, who: Who, kind: &str, subject: &str, data: &Value) -> Vec<String> {
        let recorded = self.world.record(who, &format!("{kind}.v1"), subject, data);
        self.kinds(&recorded.discrepancies)
    }

    /// The same by the keeper, and nothing must be odd.
    #[track_caller]
    fn note(&mut self, kind: &str, subject: &str, data: &Value) {
        assert_eq!(self.odd(Who::Keeper, kind, subject, data), [""; 0], "{kind}");
    }

    /// A note of something that happened earlier, so many hours ago.
    #[track_caller]
    fn earlier(&mut self, hours: i64, kind: &str, subject: &str, data: &Value) {
        let time = self.world.now().plus_ms(-hours * HOUR_MS);
        let body = self.world.hand(Who::Keeper).body(&format!("{kind}.v1"), subject, time, data);
        let sent = envelope(&body, &[self.world.hand(Who::Keeper)]);
        self.world.post(&sent).recorded().unwrap_or_else(|fault| panic!("{kind}: {fault}"));
    }

    /// Kinds of discrepancies with these ids, sorted. The list holds each that an answer names.
    #[track_caller]
    fn kinds(&self, ids: &[Value]) -> Vec<String> {
        let all = self.world.read("/v1/discrepancies", &[("limit", "1000")]);
        let items = all["items"].as_array().expect("items");
        let kind = |id: &Value| items.iter().find(|item| &item["id"] == id).expect("a later read says the same")["kind"].clone();
        let mut kinds: Vec<String> = ids.iter().map(|id| kind(id).as_str().expect("a kind").to_owned()).collect();
        kinds.sort();
        kinds
    }

    /// All that is at odds now.
    fn all_odd(&self) -> Vec<String> {
        let all = self.world.read("/v1/discrepancies", &[("limit", "1000")]);
        all["items"].as_array().into_iter().flatten().map(|item| item["kind"].as_str().unwrap_or_default().to_owned()).collect()
    }

    fn item(&self, path: &str) -> Value {
        self.world.read(path, &[])["item"].clone()
    }

    fn due(&self) -> Vec<(String, String)> {
        let due = self.world.read("/v1/due", &[]);
        let text = |item: &Value, name: &str| item[name].as_str().unwrap_or_default().to_owned();
        due["items"].as_array().into_iter().flatten().map(|item| (text(item, "what"), text(item, "label"))).collect()
    }

    fn fresh(&mut self, noun: &str) -> String {
        self.world.subject(noun)
    }

    fn animal(&mut self, label: &str, tank: &str) -> String {
        let animal = self.fresh("animal");
        let data = json!({"label": label, "species": self.species, "sex": "female", "from": "another house", "state": "alive",
            "origin": "bred in care", "tank": tank});
        self.note("animal.received", &animal, &data);
        animal
    }

    fn egg(&mut self, label: &str) -> String {
        let (species, adults, trays) = (self.species.clone(), self.adults.clone(), self.trays.clone());
        self.world.egg(label, &species, &adults, Some(&trays))
    }

    fn now(&self) -> Instant {
        self.world.now()
    }

    /// The kinds in a history, in order.
    fn history(&self, path: &str) -> Vec<String> {
        let history = self.world.read(&format!("{path}/history"), &[]);
        history["notes"].as_array().into_iter().flatten().map(|note| note["kind"].as_str().unwrap_or_default().to_owned()).collect()
    }
}
