//! The invented house: founding, keys, house rules, water systems, tanks, and the adults that
//! lived there before the record began.

use super::calendar::{FIRST_DAY, TABLET_REVOKED, after_minutes, at, date_of, plus_days};
use super::chance::Chance;
use super::diary::Diary;
use super::note::{About, Handle, Known, Planned, Sending};
use super::people::{EVERYBODY, Signer, TRUSTEES, on_duty};
use super::stock::{STOCKS, Stock};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// The collection's name: plainly invented.
pub const COLLECTION_NAME: &str = "Invented Aquarium Nursery";
/// The log's origin; `example.org` belongs to nobody (RFC 2606).
pub const ORIGIN: &str = "records.example.org/invented-nursery";
/// The country whose zone the season uses.
pub const COUNTRY: &str = "PT";

/// A tank by its use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Tank {
    /// Adults of a species.
    Adults(Stock),
    /// Trays of cases, warm or cool.
    Trays(Water),
    /// Where suspect cases are held apart.
    Apart(Water),
    /// Where hatchlings live first.
    Nursery(Water),
    /// Where young grow up.
    Rearing(Water),
    /// Seen by visitors.
    Display,
    /// For arrivals.
    Quarantine,
}

/// A water system.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Water {
    /// About 24.7 °C: both sharks.
    Warm,
    /// About 21 °C: the skate.
    Cool,
    /// On its own.
    Quarantine,
}

/// An adult.
#[derive(Debug, Clone, PartialEq)]
pub struct Adult {
    /// Its subject.
    pub animal: Subject,
    /// Its label.
    pub label: String,
    /// Its species.
    pub stock: Stock,
    /// Whether it is a female.
    pub female: bool,
    /// When it came into the record.
    pub since: Instant,
}

/// What the rest of the season refers to.
pub struct House {
    species: BTreeMap<Stock, Subject>,
    systems: BTreeMap<Water, Subject>,
    tanks: BTreeMap<Tank, Subject>,
    /// The adults, in the order in which they came.
    pub adults: Vec<Adult>,
    seed: u64,
}

impl Stock {
    /// Its water.
    #[must_use]
    pub fn water(self) -> Water {
        if self.is_warm() { Water::Warm } else { Water::Cool }
    }
}

impl House {
    /// Founds the collection and sets the house up, all on the first day.
    #[must_use]
    pub fn set_up(seed: u64, diary: &mut Diary) -> Self {
        let mut house = Self { species: BTreeMap::new(), systems: BTreeMap::new(), tanks: BTreeMap::new(), adults: Vec::new(), seed };
        house.found(diary);
        house.enrol_everybody(diary);
        house_rules(diary);
        house.list_species(diary);
        house.set_up_tanks(diary);
        house.take_over_adults(diary);
        house
    }

    /// The species' subject.
    #[must_use]
    pub fn species(&self, stock: Stock) -> &Subject {
        &self.species[&stock]
    }

    /// The system's subject.
    #[must_use]
    pub fn system(&self, water: Water) -> &Subject {
        &self.systems[&water]
    }

    /// The tank's subject.
    #[must_use]
    pub fn tank(&self, tank: Tank) -> &Subject {
        &self.tanks[&tank]
    }

    /// Adults of a species and sex, that came before a moment.
    pub fn adults_of(&self, stock: Stock, female: bool, before: Instant) -> impl Iterator<Item = &Adult> {
        self.adults.iter().filter(move |adult| adult.stock == stock && adult.female == female && adult.since < before)
    }

    /// A person's pseudonym.
    #[must_use]
    pub fn person(&self, signer: Signer) -> String {
        person(self.seed, signer)
    }

    fn found(&self, diary: &mut Diary) {
        let note = Planned::about("collection.founded.v1", About::Subject(Subject::collection()), Signer::TrusteeOne, at(FIRST_DAY, 9, 0))
            .approved_by(&TRUSTEES[1..])
            .data(json!({
                "name": COLLECTION_NAME, "country": COUNTRY, "time_zone": super::calendar::ZONE.name(), "origin": ORIGIN,
                "root_threshold": 2, "simulated_clock": true,
                "remark": "Invented season, simulated clock. No such collection, people or animals exist."
            }))
            .gap("root_keys", Known::RootKeys)
            .gap("log_vkey", Known::LogKey)
            .sent(Sending::AtOnce);
        diary.add(note);
    }

    fn enrol_everybody(&self, diary: &mut Diary) {
        let staff = EVERYBODY.iter().filter(|signer| !TRUSTEES.contains(signer));
        for (row, signer) in staff.filter(|signer| !matches!(signer, Signer::KeeperTwoAgain | Signer::Trainee)).enumerate() {
            let minutes = 10 + 3 * i64::try_from(row).unwrap_or(0);
            self.enrol(*signer, after_minutes(at(FIRST_DAY, 9, 0), minutes), diary);
        }
        self.enrol(Signer::Trainee, at(plus_days(super::calendar::TRAINEE_FROM, -1), 10, 0), diary);
    }

    /// Enrols a key: registrars and curators by two trustees, all others by the registrar with the
    /// curator; the new key signs too, as proof that its holder has it (F10, F11).
    fn enrol(&self, signer: Signer, time: Instant, diary: &mut Diary) {
        let by_trustees = matches!(signer, Signer::Registrar | Signer::Curator);
        let author = if by_trustees { Signer::TrusteeOne } else { Signer::Registrar };
        let approvals = if by_trustees { vec![Signer::TrusteeTwo, signer] } else { vec![Signer::Curator, signer] };
        let note = Planned::about("key.enrolled.v1", About::KeyOf(signer), author, time)
            .approved_by(&approvals)
            .data(json!({"person": self.person(signer), "roles": signer.roles(), "device": signer.device()}))
            .gap("public_key", Known::PublicKeyOf(signer))
            .sent(Sending::AtOnce);
        diary.add(note);
    }

    /// Enrols the key of keeper two's new tablet.
    pub fn enrol_new_tablet(&self, diary: &mut Diary) {
        self.enrol(Signer::KeeperTwoAgain, at(TABLET_REVOKED, 11, 30), diary);
    }

    fn list_species(&mut self, diary: &mut Diary) {
        let mut chance = Chance::new(self.seed, "species");
        for (row, stock) in STOCKS.into_iter().enumerate() {
            let time = super::diary::slot(FIRST_DAY, 10, 40, row, 240);
            let subject = new_subject("species", &mut chance, time);
            diary.add(Planned::new("species.listed.v1", &subject, Signer::Curator, time).data(stock.listing()));
            self.species.insert(stock, subject);
        }
    }

    fn set_up_tanks(&mut self, diary: &mut Diary) {
        let mut chance = Chance::new(self.seed, "tanks");
        for (row, (water, label, kind, volume_l)) in SYSTEMS.into_iter().enumerate() {
            let time = super::diary::slot(FIRST_DAY, 11, 0, row, 90);
            let subject = new_subject("system", &mut chance, time);
            let data = json!({"label": label, "water": kind, "volume_l": volume_l});
            diary.add(Planned::new("system.set_up.v1", &subject, Signer::Curator, time).data(data));
            self.systems.insert(water, subject);
        }
        for (row, (tank, label, purpose, volume_l)) in tanks().into_iter().enumerate() {
            let time = super::diary::slot(FIRST_DAY, 11, 10, row, 90);
            let subject = new_subject("tank", &mut chance, time);
            let data = json!({"label": label, "purpose": purpose, "system": self.system(tank.water()), "volume_l": volume_l});
            diary.add(Planned::new("tank.set_up.v1", &subject, Signer::Curator, time).data(data));
            self.tanks.insert(tank, subject);
        }
    }

    fn take_over_adults(&mut self, diary: &mut Diary) {
        for (row, (stock, female, length_cm)) in ADULTS.into_iter().enumerate() {
            let time = super::diary::slot(FIRST_DAY, 13, 30, row, 150);
            let from = "in the collection before this record began";
            self.receive_adult(stock, female, length_cm, from, Tank::Adults(stock), time, diary);
        }
    }

    /// Receives an adult and gives it the next label of its species and sex.
    #[allow(clippy::too_many_arguments)]
    fn receive_adult(
        &mut self,
        stock: Stock,
        female: bool,
        length_cm: f64,
        from: &str,
        tank: Tank,
        time: Instant,
        diary: &mut Diary,
    ) -> Handle {
        let mut chance = Chance::new(self.seed, &format!("adult {}", self.adults.len()));
        let animal = new_subject("animal", &mut chance, time);
        let sex = if female { "female" } else { "male" };
        let number = self.adults.iter().filter(|adult| adult.stock == stock && adult.female == female).count() + 1;
        let label = format!("{}-{sex}-{number}", stock.word());
        let data = json!({
            "label": label, "species": self.species(stock), "sex": sex, "from": from, "state": "alive", "origin": "bred in care",
            "tank": self.tank(tank), "length_cm": length_cm, "dam": {"status": "unknown"}, "sire": {"status": "unknown"}
        });
        self.adults.push(Adult { animal: animal.clone(), label, stock, female, since: time });
        diary.add(Planned::new("animal.received.v1", &animal, on_duty(date_of(time)), time).data(data))
    }

    /// A third bamboo female arrives in March, stays in quarantine and then joins the others.
    pub fn an_arrival(&mut self, diary: &mut Diary) {
        let arrived = at(plus_days(FIRST_DAY, 168), 11, 20);
        self.receive_adult(Stock::Bamboo, true, 71.0, "collection N-7 (invented)", Tank::Quarantine, arrived, diary);
        let moved = at(plus_days(date_of(arrived), 45), 11, 0);
        let animal = self.adults[self.adults.len() - 1].animal.clone();
        let data = json!({
            "to_tank": self.tank(Tank::Adults(Stock::Bamboo)), "from_tank": self.tank(Tank::Quarantine),
            "remark": "Moved on the veterinarian's clearance."
        });
        diary.add(Planned::new("animal.moved.v1", &animal, Signer::Veterinarian, moved).data(data));
    }
}

impl Tank {
    /// The system whose water it has.
    #[must_use]
    pub fn water(self) -> Water {
        match self {
            Self::Adults(stock) => stock.water(),
            Self::Trays(water) | Self::Apart(water) | Self::Nursery(water) | Self::Rearing(water) => water,
            Self::Display => Water::Warm,
            Self::Quarantine => Water::Quarantine,
        }
    }
}

const SYSTEMS: [(Water, &str, &str, f64); 3] = [
    (Water::Warm, "Warm system", "tropical", 14_000.0),
    (Water::Cool, "Cool system", "temperate", 6_000.0),
    (Water::Quarantine, "Quarantine system", "tropical", 2_500.0),
];

fn tanks() -> [(Tank, &'static str, &'static str, f64); 13] {
    use Water::{Cool, Warm};
    [
        (Tank::Adults(Stock::Bamboo), "Bamboo adults", "adults", 3_500.0),
        (Tank::Adults(Stock::Epaulette), "Epaulette adults", "adults", 2_500.0),
        (Tank::Adults(Stock::Skate), "Skate adults", "adults", 4_000.0),
        (Tank::Trays(Warm), "Warm trays", "incubation", 300.0),
        (Tank::Trays(Cool), "Cool trays", "incubation", 200.0),
        (Tank::Apart(Warm), "Apart, warm", "holding", 60.0),
        (Tank::Apart(Cool), "Apart, cool", "holding", 60.0),
        (Tank::Nursery(Warm), "Nursery, warm", "nursery", 600.0),
        (Tank::Nursery(Cool), "Nursery, cool", "nursery", 500.0),
        (Tank::Rearing(Warm), "Rearing, warm", "rearing", 2_400.0),
        (Tank::Rearing(Cool), "Rearing, cool", "rearing", 1_500.0),
        (Tank::Display, "Touch-free display", "display", 5_000.0),
        (Tank::Quarantine, "Quarantine 1", "quarantine", 2_000.0),
    ]
}

/// Species, female, length in centimetres (skates: disc width). Invented.
const ADULTS: [(Stock, bool, f64); 9] = [
    (Stock::Bamboo, true, 78.0),
    (Stock::Bamboo, true, 74.5),
    (Stock::Bamboo, false, 76.0),
    (Stock::Epaulette, true, 68.0),
    (Stock::Epaulette, true, 71.5),
    (Stock::Epaulette, false, 70.0),
    (Stock::Skate, true, 45.0),
    (Stock::Skate, true, 47.5),
    (Stock::Skate, false, 43.0),
];

/// House rules, set by the curator with the registrar's approval, and changed once.
fn house_rules(diary: &mut Diary) {
    let rules = |time: Instant, data: Value| {
        Planned::about("policy.set.v1", About::Subject(Subject::collection()), Signer::Curator, time)
            .approved_by(&[Signer::Registrar])
            .data(data)
            .sent(Sending::AtOnce)
    };
    diary.add(rules(
        at(FIRST_DAY, 10, 15),
        json!({
            "candling_interval_days": 7, "rest_after_laying_days": 14, "look_again_after_hours": 48, "looks_before_loss_min": 2,
            "unseen_days_max": 28, "mass_loss_percent_max": 10, "opening_approval_roles": ["curator", "veterinarian"],
            "water_bands": [{"quantity": "temperature_c", "low": 19, "high": 23, "water": "temperate", "source": "the house's own rule, invented"}]
        }),
    ));
    diary.add(rules(
        at(plus_days(FIRST_DAY, 12), 10, 5),
        json!({
            "candling_interval_days_by_band": {"2": 10, "3": 10, "4": 14, "5": 10, "7": 4},
            "remark": "A case in the middle of its time needs fewer looks than a young or a late one."
        }),
    ));
}

/// Days until the next look at a case in that band, as the house rules say before the first look is due.
#[must_use]
pub fn interval_days(band: Option<u8>) -> i64 {
    match band {
        Some(2 | 3 | 5) => 10,
        Some(4) => 14,
        Some(7) => 4,
        _ => 7,
    }
}

/// A person's pseudonym under a seed.
#[must_use]
pub fn person(seed: u64, signer: Signer) -> String {
    let name = format!("person {}", signer.person_key().called());
    format!("person/{}", Chance::new(seed, &name).ulid(at(FIRST_DAY, 8, 0)))
}

/// A new subject of that noun.
///
/// # Panics
/// If the noun is none of F1's: a fault of this program.
#[must_use]
pub fn new_subject(noun: &str, chance: &mut Chance, time: Instant) -> Subject {
    let text = format!("{noun}/{}", chance.ulid(time));
    Subject::parse(&text).unwrap_or_else(|| panic!("{text} is no subject"))
}
