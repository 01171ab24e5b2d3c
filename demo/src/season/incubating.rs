//! What people see of a case from its first look to its end. The looks follow the house rules;
//! what the torch shows follows the case's true age and fate.

use super::calendar::{CHILL_DAY, TRAINEE_FROM, TRAINEE_UNTIL, after_days, at, date_of, days_between, plus_days};
use super::chance::{Chance, rounded};
use super::diary::{Diary, slot};
use super::house::{House, Tank, interval_days};
use super::laying::{Case, Fate};
use super::note::{Handle, Planned};
use super::people::{Signer, on_duty, second};
use super::stock::Stock;
use chrono::{Datelike as _, NaiveDate, Weekday};
use selachron_schemas::time::Instant;
use serde_json::{Map, Value, json};

/// Days that a new case is left in peace, as the house rules say.
const REST_DAYS: i64 = 14;

/// What one look shows.
pub struct Look {
    /// The day.
    pub date: NaiveDate,
    /// The moment.
    pub time: Instant,
    /// The band, where the light showed the inside.
    pub band: Option<u8>,
    /// `moving`, `still`, `could not tell`.
    pub movement: &'static str,
    /// Odd things seen.
    pub findings: Vec<&'static str>,
    /// Whether a suspicion was the reason for it.
    pub prompted: bool,
}

/// A case under the keepers' eyes.
pub struct Watch<'a> {
    /// The case and the truth about it.
    pub case: &'a Case,
    /// The house.
    pub house: &'a House,
    /// Where notes go.
    pub diary: &'a mut Diary,
    /// This case's own stream.
    pub chance: Chance,
    /// The band of the last look that could see in.
    pub band: Option<u8>,
    /// The day of the last look.
    pub looked: Option<NaiveDate>,
    /// Who looked last.
    pub looker: Signer,
    slits_noted: bool,
    air_inside: bool,
    /// Scheduled looks, with what they showed.
    pub looks: Vec<(Handle, Option<u8>)>,
}

impl<'a> Watch<'a> {
    /// Begins to watch a case.
    #[must_use]
    pub fn new(seed: u64, case: &'a Case, house: &'a House, diary: &'a mut Diary) -> Self {
        let chance = Chance::new(seed, &format!("case {}", case.label));
        Self {
            case,
            house,
            diary,
            chance,
            band: None,
            looked: None,
            looker: Signer::KeeperOne,
            slits_noted: false,
            air_inside: false,
            looks: Vec::new(),
        }
    }

    /// When the case would hatch.
    #[must_use]
    pub fn hatch_time(&self) -> Instant {
        after_days(self.case.laid, self.case.incubation_days)
    }

    /// The fraction of its time that has passed.
    #[must_use]
    pub fn fraction(&self, time: Instant) -> f64 {
        days_between(self.case.laid, time) / self.case.incubation_days
    }

    /// The moment at which the case is due within a day's round.
    #[must_use]
    pub fn round_time(&self, date: NaiveDate) -> Instant {
        slot(date, 9, 0, self.case.row, 95)
    }

    /// Looks on schedule until the day on which something else happens. The case grows until
    /// `dead_from`.
    pub fn look_until(&mut self, end: NaiveDate, dead_from: Option<Instant>) {
        loop {
            let date = self.next_look();
            if self.is_chill_look_due(date, end) {
                self.look_after_chill();
                continue;
            }
            if date >= end || dead_from.is_some_and(|dead| self.round_time(date) >= dead) {
                return;
            }
            self.scheduled_look(date);
        }
    }

    /// Whether the day after the chill comes before the next look and before the end.
    fn is_chill_look_due(&self, next: NaiveDate, end: NaiveDate) -> bool {
        let after = plus_days(CHILL_DAY, 1);
        was_chilled(self.case) && self.looked.is_some_and(|looked| looked < after) && next > after && end > after
    }

    fn look_after_chill(&mut self) {
        let date = plus_days(CHILL_DAY, 1);
        let time = self.round_time(date);
        let band = self.band_at(time);
        let movement = if band <= 1 { "could not tell" } else { "moving" };
        self.look(on_duty(date), Look { date, time, band: Some(band), movement, findings: Vec::new(), prompted: true });
    }

    /// The day of the next look by the house rules.
    #[must_use]
    pub fn next_look(&self) -> NaiveDate {
        match self.looked {
            None => plus_days(date_of(self.case.found), REST_DAYS),
            Some(date) => plus_days(date, interval_days(self.band)),
        }
    }

    fn scheduled_look(&mut self, date: NaiveDate) {
        let time = self.round_time(date);
        let band = self.band_at(time);
        let dark = self.chance.happens(self.case.stock.dark_share());
        let movement = self.movement(band);
        let look = Look { date, time, band: (!dark).then_some(band), movement, findings: self.findings(time), prompted: false };
        let suspicious = !dark && band >= 4 && movement == "still";
        let fouled = look.findings.contains(&"fouled");
        self.look(self.observer(date), look);
        if fouled {
            self.wipe(time);
        }
        if suspicious {
            self.false_alarm(date);
        }
    }

    /// Wiped softly, under water; nothing is done to a case that is clean.
    fn wipe(&mut self, looked: Instant) {
        let data = json!({"done": ["wiped"]});
        let note = Planned::new("egg.tended.v1", &self.case.egg, on_duty(date_of(looked)), looked.plus_ms(45_000));
        self.diary.add(note.data(data));
    }

    /// The trainee does the Tuesdays, with a keeper beside.
    fn observer(&self, date: NaiveDate) -> Signer {
        let learning = (TRAINEE_FROM..=TRAINEE_UNTIL).contains(&date) && date.weekday() == Weekday::Tue;
        if learning { Signer::Trainee } else { on_duty(date) }
    }

    /// Writes a look down.
    pub fn look(&mut self, who: Signer, look: Look) -> Handle {
        let mut data = Map::new();
        data.insert("seen_into".to_owned(), json!(look.band.is_some()));
        if let Some(band) = look.band {
            data.insert("band".to_owned(), json!(band));
            data.insert("movement".to_owned(), json!(look.movement));
            self.landmarks(band, look.time, &mut data);
            self.band = Some(band);
        }
        if !look.findings.is_empty() {
            data.insert("findings".to_owned(), json!(look.findings));
        }
        if look.prompted {
            data.insert("prompted".to_owned(), json!(true));
        }
        self.looked = Some(look.date);
        self.looker = who;
        let note = Planned::new("egg.candled.v1", &self.case.egg, who, look.time).data(Value::Object(data));
        let handle = self.diary.observe(note.in_round(format!("candling {}", look.date)));
        self.looks.push((handle, look.band));
        handle
    }

    /// Eye and yolk, where they can be seen (bands 3 and later, DOMAIN's landmarks).
    fn landmarks(&mut self, band: u8, time: Instant, data: &mut Map<String, Value>) {
        let eye = match band {
            3 => Some("unpigmented"),
            4 => Some("dark rim"),
            5 => Some("pigmented"),
            _ => None,
        };
        if let Some(eye) = eye.filter(|_| self.chance.happens(0.4)) {
            data.insert("eye".to_owned(), json!(eye));
        }
        if band >= 5 && self.chance.happens(0.5) {
            let left = (0.78 * (1.0 - self.fraction(time)) / 0.40).clamp(0.01, 0.9);
            data.insert("yolk_fraction".to_owned(), json!(rounded(left, 2)));
        }
    }

    /// The band that a growing case shows; nothing grows in some.
    fn band_at(&self, time: Instant) -> u8 {
        match self.case.fate {
            Fate::NoYolk => 0,
            Fate::NothingGrows | Fate::Sampled | Fate::YolkBreaks | Fate::Damaged => 1,
            _ => band_of(self.fraction(time)),
        }
    }

    fn movement(&mut self, band: u8) -> &'static str {
        let draw = self.chance.unit();
        match band {
            0 | 1 => "could not tell",
            2 if draw < 0.5 => "could not tell",
            3 if draw < 0.12 => "could not tell",
            4.. if draw < 0.02 => "still",
            _ => "moving",
        }
    }

    fn findings(&mut self, time: Instant) -> Vec<&'static str> {
        let mut findings = Vec::new();
        let lives = !matches!(self.case.fate, Fate::NoYolk | Fate::NothingGrows | Fate::Sampled | Fate::YolkBreaks | Fate::Damaged);
        if lives && !self.slits_noted && self.fraction(time) > self.case.stock.slits_open_fraction() {
            self.slits_noted = true;
            findings.push("slits open");
        }
        if std::mem::take(&mut self.air_inside) {
            findings.push("air let out");
        } else if self.chance.happens(0.02) {
            self.air_inside = true;
            findings.push("air inside");
        }
        for (finding, probability) in [("small animals", 0.06), ("fouled", 0.03)] {
            if self.chance.happens(probability) {
                findings.push(finding);
            }
        }
        findings
    }

    /// A living embryo lay still: the case is held apart at once, looked at again by another
    /// person after the policy's two days, seen moving, and put back.
    fn false_alarm(&mut self, date: NaiveDate) {
        self.hold_apart(date, "no movement seen");
        let again = plus_days(date, 2);
        if self.hatch_time() < at(plus_days(again, 1), 12, 0) {
            return;
        }
        let time = self.second_look_time(again);
        let band = Some(self.band_at(time));
        let look = Look { date: again, time, band, movement: "moving", findings: Vec::new(), prompted: true };
        self.look(self.another(again), look);
        let water = self.case.stock.water();
        let data = json!({
            "to_tank": self.house.tank(Tank::Trays(water)), "from_tank": self.house.tank(Tank::Apart(water)),
            "place_note": format!("tray {}, place {}", self.case.row / 10 + 1, self.case.row % 10 + 1)
        });
        self.diary.add(Planned::new("egg.moved.v1", &self.case.egg, self.looker, time.plus_ms(120_000)).data(data));
    }

    /// Sets the case apart right after the look that raised the suspicion.
    pub fn hold_apart(&mut self, date: NaiveDate, reason: &str) {
        let time = self.round_time(date).plus_ms(60_000);
        let apart = self.house.tank(Tank::Apart(self.case.stock.water()));
        let data = json!({"reason": reason, "to_tank": apart});
        self.diary.add(Planned::new("egg.held_apart.v1", &self.case.egg, on_duty(date), time).data(data));
    }

    /// Somebody other than who looked last.
    #[must_use]
    pub fn another(&self, date: NaiveDate) -> Signer {
        if on_duty(date).person_key() == self.looker.person_key() { second(date) } else { on_duty(date) }
    }

    /// The second look comes in the afternoon: more than the policy's 48 hours after the first.
    #[must_use]
    pub fn second_look_time(&self, date: NaiveDate) -> Instant {
        slot(date, 14, 0, self.case.row, 95)
    }
}

/// The band that fits a fraction of incubation, within the typical fractions of the house's own
/// table of bands (neighbouring bands overlap there; here each has one edge).
#[must_use]
pub fn band_of(fraction: f64) -> u8 {
    const EDGES: [f64; 6] = [0.12, 0.23, 0.38, 0.61, 0.77, 0.91];
    1 + u8::try_from(EDGES.iter().filter(|edge| fraction >= **edge).count()).unwrap_or(0)
}

/// The moment in the chill at which weak embryos die.
#[must_use]
pub fn chill_time() -> Instant {
    at(CHILL_DAY, 6, 30)
}

/// Whether a case lay in the warm system during the chill.
#[must_use]
pub fn was_chilled(case: &Case) -> bool {
    case.stock != Stock::Skate && case.found < chill_time()
}
