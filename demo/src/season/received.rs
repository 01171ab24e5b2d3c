//! Four epaulette cases come from another collection, some weeks old. The young of these and of
//! the first skates are old enough by the end to be followed for a year.

use super::calendar::{FIRST_DAY, after_days, at, date_of, plus_days, text};
use super::chance::Chance;
use super::diary::{Diary, slot};
use super::house::{House, Tank, new_subject};
use super::incubating::{Look, Watch, band_of};
use super::laying::{Case, Fate, laid};
use super::note::Planned;
use super::people::on_duty;
use super::stock::Stock;
use selachron_schemas::time::Instant;
use serde_json::json;

const FATES: [Fate; 4] = [Fate::Hatches, Fate::Hatches, Fate::CloudyOnArrival, Fate::Hatches];

/// The cases received, in the order of the box.
#[must_use]
pub fn receive(seed: u64, house: &House, diary: &mut Diary) -> Vec<Case> {
    let mut chance = Chance::new(seed, "received");
    let date = plus_days(FIRST_DAY, 9);
    let laid_about = at(plus_days(date, -57), 3, 0);
    let cases = FATES.into_iter().enumerate();
    let received: Vec<Case> =
        cases.map(|(row, fate)| receive_one(house, diary, &mut chance, (row, fate), laid_about, slot(date, 11, 0, row, 240))).collect();
    let clutch = new_subject("clutch", &mut chance, at(date, 11, 30));
    let eggs: Vec<_> = received.iter().take(2).map(|case| &case.egg).collect();
    let data = json!({"label": "N4, first pair", "eggs": eggs, "basis": "received together"});
    diary.add(Planned::new("clutch.formed.v1", &clutch, on_duty(date), at(date, 11, 30)).data(data));
    received
}

fn receive_one(
    house: &House,
    diary: &mut Diary,
    chance: &mut Chance,
    (row, fate): (usize, Fate),
    laid_about: Instant,
    time: Instant,
) -> Case {
    let egg = new_subject("egg", chance, time);
    let label = format!("epaulette-N4-{}", row + 1);
    let dead = fate == Fate::CloudyOnArrival;
    let data = json!({
        "label": label, "species": house.species(Stock::Epaulette), "from": "collection N-4 (invented)",
        "state": if dead { "could not tell" } else { "alive" }, "laid_on_estimate": text(laid_about)[..10].to_owned(),
        "estimate_basis": "sender's card: found within two days of laying", "case": "whole", "yolk": "seen",
        "dam": {"status": "unknown"}, "sire": {"status": "unknown"}, "to_tank": house.tank(Tank::Trays(Stock::Epaulette.water()))
    });
    let note = diary.add(Planned::new("egg.received.v1", &egg, on_duty(date_of(time)), time).data(data));
    let incubation_days = chance.near(140.3, 4.6);
    let laid_on = after_days(laid_about, chance.between(-1.0, 1.0));
    Case { egg, label, stock: Stock::Epaulette, row: laid() + row, laid: laid_on, found: time, incubation_days, fate, note }
}

impl Watch<'_> {
    /// The first look, when the box is opened.
    pub fn look_on_arrival(&mut self) {
        let date = date_of(self.case.found);
        let dead = self.case.fate == Fate::CloudyOnArrival;
        let band = Some(band_of(self.fraction(self.case.found)));
        let time = self.case.found.plus_ms(90_000);
        let (movement, findings) = if dead { ("still", vec!["cloudy"]) } else { ("moving", Vec::new()) };
        let look = Look { date, time, band, movement, findings, prompted: false };
        self.look(on_duty(date), look);
    }
}
