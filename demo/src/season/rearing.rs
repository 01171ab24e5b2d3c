//! Young and adults: what they are offered and eat, how they grow, where they go, how they leave.
//!
//! A real nursery writes down every feeding. To keep the season short an established animal has
//! one feeding note in 26 days here; the house rules count it as unseen after 28.

use super::calendar::{LAST_DAY, after_days, at, date_of, plus_days, text};
use super::chance::{Chance, rounded};
use super::diary::{Diary, slot};
use super::endings::Hatchling;
use super::house::{Adult, House, Tank, new_subject};
use super::note::{Handle, Planned};
use super::people::{Signer, on_duty};
use super::stock::Stock;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};

/// Days between feeding notes of an animal that eats.
const FED_EVERY_DAYS: i64 = 26;
/// Days between offers until it eats.
const OFFERED_EVERY_DAYS: i64 = 4;
/// Ages in days at which young are measured.
const MEASURED_AT_DAYS: [i64; 6] = [7, 30, 75, 160, 250, 340];

/// The age in days at which those of unknown sex are sexed.
const SEXED_AT_DAYS: i64 = 200;

/// What becomes of a young.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lot {
    /// Alive at the end of the season.
    Lives,
    /// Never seen to eat; dies at that age in days.
    NeverEats(i64),
    /// Dies at that age in days, of that apparent cause.
    Dies(i64, &'static str),
    /// Goes to another collection at that age in days.
    Transferred(i64),
}

/// The lots that are given out; all other young live.
const LOTS: [Lot; 9] = [
    Lot::Transferred(230),
    Lot::Transferred(205),
    Lot::Transferred(205),
    Lot::Dies(171, "injury"),
    Lot::Dies(118, "jumped out"),
    Lot::Dies(52, "not determined"),
    Lot::NeverEats(28),
    Lot::NeverEats(24),
    Lot::Dies(5, "not determined"),
];

/// The one whose journey is told.
const SENT_IN_A_BOX: Lot = LOTS[0];

/// Gives each young its lot: those that take long first, among the young that hatched early
/// enough. `told` is the one whose history is told; it lives.
#[must_use]
pub fn lots(seed: u64, young: &[Hatchling], told: &Subject) -> Vec<Lot> {
    let mut chance = Chance::new(seed, "lots");
    let mut order: Vec<usize> = (0..young.len()).filter(|at| &young[*at].animal != told).collect();
    chance.shuffle(&mut order);
    let mut lots = vec![Lot::Lives; young.len()];
    for lot in LOTS {
        let in_time = |at: &usize| plus_days(date_of(young[*at].hatched), lot.age_days() + 3) < LAST_DAY;
        if let Some(place) = order.iter().position(in_time) {
            lots[order.remove(place)] = lot;
        }
    }
    lots
}

impl Lot {
    fn age_days(self) -> i64 {
        match self {
            Self::Lives => 0,
            Self::NeverEats(days) | Self::Dies(days, _) | Self::Transferred(days) => days,
        }
    }
}

/// A young under the keepers' eyes.
pub struct Nursling<'a> {
    /// The young.
    pub young: &'a Hatchling,
    /// Its place in the round.
    pub row: usize,
    /// What becomes of it.
    pub lot: Lot,
    /// The house.
    pub house: &'a House,
    /// Its own stream.
    pub chance: Chance,
    /// Notes on its measures.
    pub measures: Vec<Handle>,
    /// Notes on its feeding.
    pub feeds: Vec<Handle>,
}

impl<'a> Nursling<'a> {
    /// Begins to watch a young.
    #[must_use]
    pub fn new(seed: u64, young: &'a Hatchling, row: usize, lot: Lot, house: &'a House) -> Self {
        let chance = Chance::new(seed, &format!("young {}", young.label));
        Self { young, row, lot, house, chance, measures: Vec::new(), feeds: Vec::new() }
    }

    /// The young's whole story.
    pub fn follow(&mut self, diary: &mut Diary) {
        self.feed(diary);
        self.measure(diary);
        self.move_on(diary);
        self.sex(diary);
        self.leave(diary);
    }

    fn day(&self, age_days: i64) -> NaiveDate {
        plus_days(date_of(self.young.hatched), age_days)
    }

    /// The first day on which nothing more is noted of it.
    fn until(&self) -> NaiveDate {
        if self.lot == Lot::Lives { LAST_DAY } else { self.day(self.lot.age_days()) }
    }

    fn feed(&mut self, diary: &mut Diary) {
        let first_meal = match (self.lot, self.young.stock) {
            (Lot::NeverEats(_), _) => i64::MAX,
            (_, Stock::Skate) => self.chance.whole(5, 9),
            _ => self.chance.whole(9, 19),
        };
        let mut age = 4;
        while self.day(age) < self.until() {
            let eaten = self.eaten(age, first_meal);
            self.offer(age, eaten, diary);
            age += if eaten_well(eaten) && age > 28 { FED_EVERY_DAYS } else { OFFERED_EVERY_DAYS };
        }
    }

    fn eaten(&mut self, age: i64, first_meal: i64) -> &'static str {
        if age < first_meal {
            return self.chance.one_of(&["none", "none", "none", "not seen", "spat out"]);
        }
        if age - first_meal < OFFERED_EVERY_DAYS {
            return "some";
        }
        self.chance.one_of(&["all", "all", "all", "most", "most", "some", "all", "most", "all", "none"])
    }

    fn offer(&mut self, age: i64, eaten: &str, diary: &mut Diary) {
        let date = self.day(age);
        let mass_g = self.young.stock.mass_g(self.young.stock.length_cm(days(age)));
        let amount_g = rounded(mass_g * self.chance.between(0.02, 0.04), 1);
        let food =
            self.chance.one_of(if age < 40 { &["chopped prawn", "krill", "brine shrimp"] } else { &["prawn", "squid strips", "sand eel"] });
        let mut data = json!({"offered": [{"food": food, "amount_g": amount_g}], "eaten": eaten, "way": "tongs"});
        if self.chance.happens(0.2) {
            data["batch"] = json!(format!("{food}, lot {}", self.chance.whole(11, 48)));
        }
        let time = slot(date, 14, 30, self.row, 55);
        let note = Planned::new("animal.fed.v1", &self.young.animal, on_duty(date), time).data(data);
        self.feeds.push(diary.observe(note.in_round(format!("feeding {date}"))));
    }

    fn measure(&mut self, diary: &mut Diary) {
        let thin = matches!(self.lot, Lot::NeverEats(_));
        for age in MEASURED_AT_DAYS.into_iter().chain(thin.then_some(20)) {
            if self.day(age) < self.until() {
                let data = self.measured(age, thin);
                let time = slot(self.day(age), 16, 0, self.row, 70);
                let note = Planned::new("animal.measured.v1", &self.young.animal, on_duty(self.day(age)), time);
                self.measures.push(diary.add(note.data(data)));
            }
        }
    }

    fn measured(&mut self, age: i64, thin: bool) -> Value {
        let stock = self.young.stock;
        let length_cm = stock.length_cm(if thin { 0.0 } else { days(age) }) * self.chance.between(0.98, 1.02);
        // A young that does not eat lives on its internal yolk and then on itself.
        let lean = if thin { 1.0 - 0.012 * days(age) } else { 1.0 };
        let mass_g = stock.mass_g(length_cm) * lean;
        let yolk = match age {
            7 => json!("seen"),
            20 | 30 => json!("used up"),
            _ => Value::Null,
        };
        json!({
            "length_cm": rounded(length_cm, 1), "length_basis": stock.length_basis(), "length_how": "measured",
            "mass_g": rounded(mass_g, 1), "mass_how": "in water", "internal_yolk": yolk
        })
    }

    /// From the nursery to the rearing tank at two months; some sharks to the display later.
    fn move_on(&mut self, diary: &mut Diary) {
        let water = self.young.stock.water();
        let on_show = self.young.stock.is_warm() && self.row.is_multiple_of(4);
        let steps = [(62, Tank::Nursery(water), Tank::Rearing(water)), (255, Tank::Rearing(water), Tank::Display)];
        for (age, from, to) in steps.into_iter().take(if on_show { 2 } else { 1 }) {
            if self.day(age) < self.until() {
                let data = json!({"to_tank": self.house.tank(to), "from_tank": self.house.tank(from)});
                let time = slot(self.day(age), 10, 30, self.row, 45);
                diary.add(Planned::new("animal.moved.v1", &self.young.animal, on_duty(self.day(age)), time).data(data));
            }
        }
    }

    /// Claspers show by then, where there are any.
    fn sex(&mut self, diary: &mut Diary) {
        let date = self.day(SEXED_AT_DAYS);
        if self.young.sex != "unknown" || date >= self.until() {
            return;
        }
        let male = self.chance.happens(0.5);
        let how = if male { "claspers seen" } else { "no claspers at an age that shows them" };
        let data = json!({"sex": if male { "male" } else { "female" }, "how": how});
        diary.add(Planned::new("animal.sexed.v1", &self.young.animal, on_duty(date), slot(date, 16, 0, self.row, 70)).data(data));
    }

    fn leave(&mut self, diary: &mut Diary) {
        let date = self.until();
        match self.lot {
            Lot::Lives => {}
            Lot::NeverEats(_) => self.die(date, "never ate", diary),
            Lot::Dies(_, cause) => self.die(date, cause, diary),
            Lot::Transferred(_) => {
                let data = json!({"to": "collection N-7 (invented)", "reason": "transfer", "alive": "alive"});
                let time = slot(date, 9, 40, self.row, 60);
                diary.add(Planned::new("animal.departed.v1", &self.young.animal, Signer::Curator, time).data(data).decided());
                if self.lot == SENT_IN_A_BOX {
                    self.send(time, diary);
                }
            }
        }
    }

    /// One travels in a box of its own, under papers that curator and veterinarian signed the day before,
    /// and arrives the next day.
    fn send(&mut self, left: Instant, diary: &mut Diary) {
        let sent = left.plus_ms(-600_000);
        let consignment = new_subject("consignment", &mut self.chance, sent);
        let (next, animal) = (plus_days(date_of(left), 1), &self.young.animal);
        let data = json!({
            "label": "B-4", "to": "collection N-7 (invented)", "carrier": "carrier C-1 (invented)", "reason": "transfer",
            "items": [{"which": animal, "alive": "alive"}], "temperature_c": 24.4, "water_l": 18, "oxygen": "oxygen in the bag",
            "expected_at": text(at(next, 12, 0))
        });
        let signed = at(plus_days(date_of(left), -1), 15, 0);
        let papers = json!({
            "label": "B-4", "to": "collection N-7 (invented)", "items": [animal], "from": text(signed), "until": text(at(next, 18, 0)),
            "papers": [{"paper": "health certificate", "number": "INV-4"}]
        });
        let decided = Planned::new("consignment.authorised.v1", &consignment, Signer::Curator, signed).approved_by(&[Signer::Veterinarian]);
        diary.add(decided.data(papers));
        diary.add(Planned::new("consignment.sent.v1", &consignment, Signer::Curator, sent).data(data));
        let arrived = json!({"where": "there", "opened_at": text(at(next, 10, 30)), "items": [{"which": animal, "state": "alive"}]});
        diary.add(Planned::new("consignment.received.v1", &consignment, Signer::Curator, at(next, 14, 0)).data(arrived));
    }

    fn die(&mut self, date: NaiveDate, cause: &str, diary: &mut Diary) {
        let time = slot(date, 7, 40, self.row, 30);
        diary.add(death(&self.young.animal, time, cause));
    }
}

/// A death found on the morning walk.
fn death(animal: &Subject, time: Instant, cause: &str) -> Planned {
    let date = date_of(time);
    let evening_before = at(plus_days(date, -1), 17, 20);
    let data = json!({
        "how_known": "found dead", "last_seen_alive": text(evening_before), "apparent_cause": cause, "body": "kept cold",
        "reported_to": "veterinarian"
    });
    Planned::new("animal.died.v1", animal, on_duty(date), time).after(evening_before).data(data)
}

/// Feeds and watches the adults; one dies in autumn and one goes on loan.
pub fn keep_adults(seed: u64, house: &House, diary: &mut Diary) {
    for (row, adult) in house.adults.iter().enumerate() {
        let mut chance = Chance::new(seed, &format!("keeping {}", adult.label));
        let until = leave(house, adult, row, diary);
        let mut date = plus_days(date_of(adult.since), 2 + i64::try_from(row).unwrap_or(0));
        while date < until {
            feed_adult(adult, row, date, &mut chance, diary);
            date = plus_days(date, FED_EVERY_DAYS + chance.whole(0, 2));
        }
    }
}

fn feed_adult(adult: &Adult, row: usize, date: NaiveDate, chance: &mut Chance, diary: &mut Diary) {
    let food = chance.one_of(&["squid", "mackerel", "prawn", "mussel"]);
    let eaten = chance.one_of(&["all", "all", "most", "some", "all"]);
    let data = json!({"offered": [{"food": food, "amount_g": rounded(chance.between(30.0, 70.0), 0)}], "eaten": eaten, "way": "tongs"});
    let note = Planned::new("animal.fed.v1", &adult.animal, on_duty(date), slot(date, 13, 40, row, 150)).data(data);
    diary.observe(note.in_round(format!("feeding {date}")));
}

/// The day from which nothing more is noted of an adult.
fn leave(house: &House, adult: &Adult, row: usize, diary: &mut Diary) -> NaiveDate {
    let first_of = |stock, female| house.adults_of(stock, female, Instant::END).next().map(|adult| &adult.animal);
    if first_of(Stock::Skate, true) == Some(&adult.animal) {
        let time = after_days(at(super::calendar::FIRST_DAY, 7, 45), 358.0);
        diary.add(death(&adult.animal, time, "not determined"));
        return date_of(time);
    }
    if first_of(Stock::Epaulette, false) == Some(&adult.animal) {
        let date = plus_days(super::calendar::FIRST_DAY, super::breeders::LOAN_DAYS.0);
        let data = json!({"to": "collection N-4 (invented)", "reason": "loan", "alive": "alive", "remark": "A loan: he is still ours."});
        diary.add(Planned::new("animal.departed.v1", &adult.animal, Signer::Curator, slot(date, 10, 10, row, 60)).data(data).decided());
        return date;
    }
    LAST_DAY
}

fn eaten_well(eaten: &str) -> bool {
    matches!(eaten, "all" | "most" | "some")
}

#[allow(clippy::cast_precision_loss)]
fn days(age: i64) -> f64 {
    age as f64
}
