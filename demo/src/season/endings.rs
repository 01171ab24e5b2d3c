//! How cases end: by hatching, by loss, by leaving, or opened by a person.

use super::calendar::{CHILL_DAY, after_days, after_minutes, at, date_of, plus_days, text};
use super::house::{Tank, new_subject};
use super::incubating::{Look, Watch, chill_time};
use super::laying::Fate;
use super::note::{Known, Planned, Sending};
use super::people::{Signer, on_duty, second};
use super::stock::Stock;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};

/// An animal that came out of a case alive.
#[derive(Debug, Clone, PartialEq)]
pub struct Hatchling {
    /// Its subject.
    pub animal: Subject,
    /// Its label: the case's and a letter.
    pub label: String,
    /// Its species.
    pub stock: Stock,
    /// When it was found.
    pub hatched: Instant,
    /// Whether a person had opened its case.
    pub after_opening: bool,
    /// Its sex as told when it hatched.
    pub sex: &'static str,
}

/// A young as the hatching note lists it.
struct Out {
    letter: char,
    alive: bool,
    sex: &'static str,
}

impl Watch<'_> {
    /// The case's whole story; the young that came out alive.
    pub fn follow(&mut self) -> Vec<Hatchling> {
        match self.case.fate {
            Fate::Hatches => self.hatch(&[true]),
            Fate::Twins => self.hatch(&[true, true]),
            Fate::HatchesDead => self.hatch(&[false]),
            Fate::OpenedByTheRules => self.opened_by_the_rules(),
            Fate::OpenedAlone => self.opened_alone(),
            fate => {
                self.end_without_young(fate);
                Vec::new()
            }
        }
    }

    fn end_without_young(&mut self, fate: Fate) {
        match fate {
            Fate::NoYolk => self.no_yolk(),
            Fate::NothingGrows => self.nothing_grows(),
            Fate::Sampled => self.sampled(),
            Fate::YolkBreaks => self.yolk_breaks(),
            Fate::Damaged => self.damaged(),
            Fate::Drilled => self.drilled(),
            Fate::Dies(fraction) => self.dies(fraction, false),
            Fate::DiesAndIsExamined(fraction) => self.dies(fraction, true),
            Fate::Chilled => self.chilled(),
            Fate::Trapped => self.trapped(),
            Fate::SentOut(fraction) => self.sent_out(fraction),
            Fate::CloudyOnArrival => self.cloudy_on_arrival(),
            _ => {}
        }
    }

    fn hatch(&mut self, alive: &[bool]) -> Vec<Hatchling> {
        let found = self.morning_after(self.hatch_time());
        self.look_until(date_of(found), None);
        self.found_hatched(found, alive)
    }

    /// Young are found on the morning walk after the night in which they came.
    fn morning_after(&self, time: Instant) -> Instant {
        let row = i64::try_from(self.case.row % 30).unwrap_or(0);
        let morning = |date: NaiveDate| at(date, 7, 35).plus_ms(row * 61_000);
        let today = morning(date_of(time));
        if time < today { today } else { morning(plus_days(date_of(time), 1)) }
    }

    fn found_hatched(&mut self, found: Instant, alive: &[bool]) -> Vec<Hatchling> {
        let evening_before = at(plus_days(date_of(found), -1), 17, 30);
        let (young, hatchlings) = self.young(found, alive, false);
        let data = json!({"how_known": "found hatched", "young": young});
        let note = Planned::new("egg.hatched.v1", &self.case.egg, on_duty(date_of(found)), found).after(evening_before);
        self.diary.add(note.data(data));
        hatchlings
    }

    fn young(&mut self, time: Instant, alive: &[bool], after_opening: bool) -> (Vec<Value>, Vec<Hatchling>) {
        let (mut listed, mut hatchlings) = (Vec::new(), Vec::new());
        for (letter, alive) in ('a'..).zip(alive) {
            let sex = self.chance.one_of(&["male", "female", "female", "male", "unknown"]);
            let out = Out { letter, alive: *alive, sex };
            let animal = new_subject("animal", &mut self.chance, time);
            listed.push(self.young_data(&animal, &out));
            if *alive {
                let label = format!("{}{letter}", self.case.label);
                hatchlings.push(Hatchling { animal, label, stock: self.case.stock, hatched: time, after_opening, sex });
            }
        }
        (listed, hatchlings)
    }

    fn young_data(&mut self, animal: &Subject, out: &Out) -> Value {
        let mut data = json!({
            "animal": animal, "state": if out.alive { "alive" } else { "dead" }, "label": format!("{}{}", self.case.label, out.letter),
            "sex": out.sex
        });
        if out.alive {
            data["tank"] = json!(self.house.tank(Tank::Nursery(self.case.stock.water())));
        }
        data
    }

    /// No yolk at the first look; another person looks three days later.
    fn no_yolk(&mut self) {
        let first = self.next_look();
        self.see_at(first, on_duty(first), Some(0), "could not tell", &[]);
        let again = plus_days(first, 3);
        self.see_again(again, Some(0), "could not tell", &[]);
        self.lose(self.second_look_time(again), self.looker, json!({"apparent_cause": "no yolk", "band_last_seen": 0}));
    }

    /// Past the day by which an embryo should be seen the case is held apart and looked at by
    /// others; it is lost only when it clouds.
    fn nothing_grows(&mut self) {
        let clouded = self.watch_nothing_grow();
        if self.case.row.is_multiple_of(6) {
            return self.put_down(plus_days(clouded, 2));
        }
        self.see_again(plus_days(clouded, 2), Some(1), "could not tell", &["cloudy", "smell"]);
        let cause = json!({"apparent_cause": "yolk, no embryo ever seen", "band_last_seen": 1});
        self.lose(self.second_look_time(plus_days(clouded, 2)), self.looker, cause);
    }

    /// Looks until the case, held apart by then, is seen cloudy; the day of that.
    fn watch_nothing_grow(&mut self) -> NaiveDate {
        let by = self.case.stock.first_embryo_day();
        self.look_until(plus_days(date_of(self.case.laid), by), None);
        let suspect = self.next_look();
        self.see_at(suspect, on_duty(suspect), Some(1), "could not tell", &[]);
        self.hold_apart(suspect, "no embryo seen in time");
        if self.case.row.is_multiple_of(4) {
            self.look_with_ultrasound(plus_days(suspect, 1));
        }
        self.see_again(plus_days(suspect, 2), Some(1), "could not tell", &[]);
        let days = self.chance.whole(7, 24);
        self.look_until(plus_days(suspect, days), None);
        let clouded = self.next_look();
        self.see_at(clouded, on_duty(clouded), Some(1), "could not tell", &["cloudy"]);
        clouded
    }

    /// The curator decides, by her own signature.
    fn put_down(&mut self, date: NaiveDate) {
        let data = json!({
            "decided_by": [self.house.person(Signer::Curator)], "reason": "no embryo", "alive": "not known", "band_last_seen": 1,
            "authority": "the house's own rule for cases in which nothing is seen to grow"
        });
        self.diary.add(Planned::new("egg.put_down.v1", &self.case.egg, Signer::Curator, at(date, 15, 30)).data(data));
    }

    fn look_with_ultrasound(&mut self, date: NaiveDate) {
        let data = json!({"method": "ultrasound", "seen_into": true, "movement": "could not tell", "heartbeat": "not seen"});
        let time = self.second_look_time(date);
        self.diary.add(Planned::new("egg.examined.v1", &self.case.egg, Signer::Veterinarian, time).data(data));
    }

    fn sampled(&mut self) {
        let clouded = self.watch_nothing_grow();
        let time = at(plus_days(clouded, 2), 10, 40);
        let data = json!({"reason": "sampled", "to": "laboratory L-2 (invented)", "alive": "not known", "remark": "Nothing seen to grow; asked for by the veterinarian."});
        self.diary.add(Planned::new("egg.removed.v1", &self.case.egg, Signer::Veterinarian, time).data(data).decided());
    }

    /// Cloudy when the box was opened; another person looks two days later.
    fn cloudy_on_arrival(&mut self) {
        let again = plus_days(date_of(self.case.found), 2);
        self.hold_apart(plus_days(again, -1), "cloudy");
        self.see_again(again, Some(3), "still", &["cloudy", "smell"]);
        self.lose(self.second_look_time(again), self.looker, json!({"apparent_cause": "cloudy or decomposed", "band_last_seen": 3}));
    }

    fn yolk_breaks(&mut self) {
        self.look_until(plus_days(date_of(self.case.found), 20), None);
        let broken = self.next_look();
        self.see_at(broken, on_duty(broken), Some(1), "could not tell", &["yolk broken"]);
        self.hold_apart(broken, "other");
        let again = plus_days(broken, 2);
        self.see_again(again, Some(1), "could not tell", &["yolk broken", "cloudy"]);
        self.lose(self.second_look_time(again), self.looker, json!({"apparent_cause": "yolk broken", "band_last_seen": 1}));
    }

    fn damaged(&mut self) {
        let first = plus_days(date_of(self.case.found), 1);
        self.see_at(first, on_duty(first), Some(1), "could not tell", &["damaged"]);
        self.hold_apart(first, "damaged");
        let again = plus_days(first, 2);
        self.see_again(again, Some(1), "could not tell", &["damaged", "cloudy"]);
        self.lose(self.second_look_time(again), self.looker, json!({"apparent_cause": "case damaged", "band_last_seen": 1}));
    }

    /// Lost on the first look: plainly empty, with a photo.
    fn drilled(&mut self) {
        let photo: String = (0..4).map(|_| format!("{:016x}", self.chance.bits())).collect();
        let data = json!({"apparent_cause": "eaten or drilled", "plainly_dead": true, "photo_sha256": photo, "remark": "A round hole, and nothing inside."});
        let time = after_minutes(self.case.found, 12);
        self.lose(time, on_duty(date_of(time)), data);
    }

    fn dies(&mut self, fraction: f64, examined: bool) {
        let dead_from = after_days(self.case.laid, fraction * self.case.incubation_days);
        self.look_until(date_of(self.hatch_time()), Some(dead_from));
        let suspect = self.next_look();
        let cloudy = self.chance.happens(0.35);
        let band = self.band.or(Some(2));
        let findings: &[&str] = if cloudy { &["cloudy"] } else { &[] };
        self.see_at(suspect, on_duty(suspect), band, "still", findings);
        self.hold_apart(suspect, if cloudy { "cloudy" } else { "no movement seen" });
        let again = plus_days(suspect, 2);
        self.see_again(again, band, "still", &["cloudy", "smell"]);
        let time = self.second_look_time(again);
        if examined {
            self.examine(time, band);
        }
        let cause = if cloudy { "cloudy or decomposed" } else { "embryo died" };
        let who = if examined { Signer::Veterinarian } else { self.looker };
        self.lose(time.plus_ms(600_000), who, json!({"apparent_cause": cause, "band_last_seen": band}));
    }

    /// The veterinarian looks into a case that is known to be dead: an examination.
    fn examine(&mut self, time: Instant, band: Option<u8>) {
        let data = json!({
            "extent": "window", "known_dead": true, "steps": ["embryo seen, no movement, tissue soft"], "left": "embryo out", "outcome": "found dead",
            "remark": format!("Band {} at the last look; no cause to be seen from outside.", band.unwrap_or(0))
        });
        let note = Planned::new("egg.opened.v1", &self.case.egg, Signer::Veterinarian, time.plus_ms(300_000));
        self.diary.add(note.approved_by(&[on_duty(date_of(time))]).data(data));
    }

    /// Dead in the chill; seen on the day after, when every case in the warm system is looked at.
    fn chilled(&mut self) {
        self.look_until(CHILL_DAY, Some(chill_time()));
        let (first, again) = (plus_days(CHILL_DAY, 1), plus_days(CHILL_DAY, 3));
        let band = self.band.or(Some(2));
        self.see_again(first, band, "still", &[]);
        let apart = self.house.tank(Tank::Apart(self.case.stock.water()));
        let data = json!({"reason": "no movement seen", "to_tank": apart, "remark": "After the chill."});
        self.diary
            .add(Planned::new("egg.held_apart.v1", &self.case.egg, self.looker, self.second_look_time(first).plus_ms(90_000)).data(data));
        self.see_again(again, band, "still", &["cloudy"]);
        let data =
            json!({"apparent_cause": "water or equipment incident", "band_last_seen": band, "remark": "Heater failure of 18 January."});
        self.lose(self.second_look_time(again), self.looker, data);
    }

    /// Half out and still: looked at again all the same, then lost.
    fn trapped(&mut self) {
        let found = date_of(self.morning_after(self.hatch_time()));
        self.look_until(found, None);
        self.see_at(found, on_duty(found), Some(7), "still", &["slits open"]);
        self.hold_apart(found, "no movement seen");
        let again = plus_days(found, 2);
        self.see_again(again, Some(7), "still", &["smell"]);
        let data =
            json!({"apparent_cause": "trapped at hatching", "band_last_seen": 7, "remark": "Half out when it was found, on both looks."});
        self.lose(self.second_look_time(again), self.looker, data);
    }

    fn sent_out(&mut self, fraction: f64) {
        let date = date_of(after_days(self.case.laid, fraction * self.case.incubation_days));
        self.look_until(date, None);
        let time = at(date, 14, 0).plus_ms(i64::try_from(self.case.row).unwrap_or(0) * 180_000);
        let data = json!({"reason": "sent out", "to": "collection N-4 (invented)", "alive": "alive"});
        self.diary.add(Planned::new("egg.removed.v1", &self.case.egg, Signer::Curator, time).data(data).decided());
    }

    /// Past the window, moving, no external yolk: opened with every signature and left to come
    /// by itself.
    fn opened_by_the_rules(&mut self) -> Vec<Hatchling> {
        let opened = plus_days(date_of(self.case.laid), 178);
        self.look_until(opened, None);
        self.see_at(opened, on_duty(opened), Some(7), "moving", &["slits open"]);
        self.left_and_then_authorised(opened);
        let note = Planned::new("egg.opened.v1", &self.case.egg, on_duty(opened), at(opened, 14, 20));
        let approvals = [Signer::Curator, Signer::Veterinarian];
        self.diary.add(note.approved_by(&approvals).data(opening_by_the_rules()).decided());
        let found = self.morning_after(self.hatch_time());
        let mut hatchlings = self.found_hatched(found, &[true]);
        hatchlings.iter_mut().for_each(|young| young.after_opening = true);
        hatchlings
    }

    /// The day before it is left, as a choice; then an opening is authorised for two days, and withdrawn
    /// when it is not needed any more.
    fn left_and_then_authorised(&mut self, opened: NaiveDate) {
        let (egg, house) = (&self.case.egg, self.house);
        let decision = |kind, time| Planned::new(kind, egg, Signer::Curator, time).sent(Sending::AtOnce);
        let left = json!({"reasons": ["moving and well"], "decided_by": [house.person(Signer::Curator)]});
        self.diary.add(decision("opening.left.v1", at(plus_days(opened, -1), 16, 10)).data(left));
        let persons: Vec<String> = [on_duty(opened), second(opened)].map(|keeper| house.person(keeper)).to_vec();
        let authorised = json!({
            "criteria": ["band 7 on repeated looks", "no external yolk seen", "moving on repeated looks", "two people present"], "persons": persons,
            "from": text(at(opened, 10, 0)), "to": text(at(plus_days(opened, 2), 18, 0)), "extents": ["end slit widened"],
            "reasons_against": ["moving and well"]
        });
        let note = decision("opening.authorised.v1", at(opened, 10, 0)).approved_by(&[Signer::Veterinarian]);
        let authorised = self.diary.add(note.data(authorised));
        let withdrawn = json!({"reason": "the slit is wide enough; nothing more is to be done"});
        let note = decision("opening.withdrawn.v1", at(plus_days(opened, 1), 9, 30)).gap("authorisation", Known::IdOf(authorised));
        self.diary.add(note.data(withdrawn));
    }

    /// The case is torn at the end of its time; one keeper opens it alone, and nobody signs
    /// afterwards: the record keeps the opening and shows what is missing.
    fn opened_alone(&mut self) -> Vec<Hatchling> {
        let date = date_of(after_days(self.case.laid, 0.98 * self.case.incubation_days));
        self.look_until(date, None);
        self.see_at(date, on_duty(date), Some(7), "moving", &["damaged", "slits open"]);
        let time = at(date, 11, 50);
        let data = json!({
            "extent": "end slit widened", "known_dead": false, "steps": ["case torn along one side", "young moving, no external yolk seen"],
            "left": "embryo out", "outcome": "hatched", "urgent_reason": "case torn or crushed"
        });
        self.diary.add(Planned::new("egg.opened.v1", &self.case.egg, on_duty(date), time).data(data));
        let (young, hatchlings) = self.young(after_minutes(time, 6), &[true], true);
        let data = json!({"how_known": "seen to hatch", "young": young});
        self.diary.add(Planned::new("egg.hatched.v1", &self.case.egg, on_duty(date), after_minutes(time, 6)).data(data));
        hatchlings
    }

    fn see_at(&mut self, date: NaiveDate, who: Signer, band: Option<u8>, movement: &'static str, findings: &[&'static str]) {
        let look = Look { date, time: self.round_time(date), band, movement, findings: findings.to_vec(), prompted: false };
        self.look(who, look);
    }

    /// Another person's look, because of a suspicion.
    fn see_again(&mut self, date: NaiveDate, band: Option<u8>, movement: &'static str, findings: &[&'static str]) {
        let look = Look { date, time: self.second_look_time(date), band, movement, findings: findings.to_vec(), prompted: true };
        self.look(self.another(date), look);
    }

    fn lose(&mut self, looked: Instant, who: Signer, data: Value) {
        self.diary.add(Planned::new("egg.lost.v1", &self.case.egg, who, looked.plus_ms(150_000)).data(data));
    }
}

fn opening_by_the_rules() -> Value {
    json!({
        "extent": "end slit widened", "known_dead": false,
        "steps": ["under water: gills moving, no external yolk seen", "slit wider: young turned towards it and was left in peace"],
        "stopped_because": "the young can come by itself", "left": "open in the water", "outcome": "left to hatch",
        "criteria_met": [
            "past the upper end of the window at the temperatures it had", "band 7 on repeated looks", "no external yolk seen",
            "moving on repeated looks", "two people present"
        ]
    })
}
