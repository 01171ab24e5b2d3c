//! Readings of water: a probe every morning in the warm system, a keeper's hand probe in the
//! cool one, tests of what cannot be probed, and one night in which a heater fails.

use super::calendar::{CHILL_DAY, at, days, plus_days};
use super::chance::{Chance, rounded};
use super::diary::Diary;
use super::house::{House, Water};
use super::note::{Planned, Sending};
use super::people::{Signer, on_duty};
use chrono::{Datelike as _, NaiveDate, Weekday};
use serde_json::json;

/// All readings of the season.
pub fn read(seed: u64, house: &House, diary: &mut Diary) {
    let mut chance = Chance::new(seed, "water");
    let mut drift = 0.0;
    for date in days().skip(1) {
        drift = 0.8 * drift + chance.near(0.0, 0.05);
        if date != CHILL_DAY {
            probe_warm(house, date, rounded(24.7 + drift, 1), diary);
        }
        match date.weekday() {
            Weekday::Mon => hand_probe_cool(house, date, &mut chance, diary),
            Weekday::Wed if date.iso_week().week() % 2 == 1 => test_warm(house, date, &mut chance, diary),
            _ => {}
        }
    }
    the_chill(house, diary);
}

fn probe_warm(house: &House, date: NaiveDate, temperature_c: f64, diary: &mut Diary) {
    let data = json!({"temperature_c": temperature_c, "instrument": "probe 3", "point": "sump"});
    diary.add(Planned::new("water.measured.v1", house.system(Water::Warm), Signer::Probe, at(date, 6, 30)).data(data));
}

fn hand_probe_cool(house: &House, date: NaiveDate, chance: &mut Chance, diary: &mut Diary) {
    let data = json!({
        "temperature_c": rounded(chance.near(21.0, 0.2), 1), "salinity_psu": rounded(chance.near(34.2, 0.3), 1),
        "oxygen_percent": rounded(chance.near(97.0, 1.0), 0), "pressure_hpa": rounded(chance.near(1015.0, 6.0), 0),
        "instrument": "hand probe 2", "point": "return"
    });
    diary.observe(Planned::new("water.measured.v1", house.system(Water::Cool), on_duty(date), at(date, 8, 45)).data(data));
}

fn test_warm(house: &House, date: NaiveDate, chance: &mut Chance, diary: &mut Diary) {
    let data = json!({
        "salinity_psu": rounded(chance.near(34.5, 0.3), 1), "ph": rounded(chance.near(8.10, 0.04), 2), "ph_scale": "NBS",
        "ammonia_total_mg_l_n": rounded(chance.between(0.01, 0.05), 3), "nitrite_mg_l_n": rounded(chance.between(0.005, 0.03), 3),
        "nitrate_mg_l_n": rounded(chance.between(3.0, 6.0), 1), "instrument": "test kit 4", "point": "sump"
    });
    diary.observe(Planned::new("water.measured.v1", house.system(Water::Warm), on_duty(date), at(date, 8, 50)).data(data));
}

/// The heater of the warm system fails during the night; it is replaced the next afternoon.
fn the_chill(house: &House, diary: &mut Diary) {
    let readings = [(0, 2, 22.6), (0, 6, 19.9), (0, 10, 19.4), (0, 14, 20.3), (0, 18, 22.1), (1, 0, 23.9)];
    for (day, hour, temperature_c) in readings {
        let time = at(plus_days(CHILL_DAY, day), hour, 35);
        let data = json!({"temperature_c": temperature_c, "instrument": "probe 3", "point": "sump"});
        diary.add(Planned::new("water.measured.v1", house.system(Water::Warm), Signer::Probe, time).data(data).sent(Sending::AtOnce));
    }
    let remark = "Heater found cold at the morning walk; curator and veterinarian called. Replaced at 13:10, warmed slowly.";
    let data = json!({"temperature_c": 19.6, "instrument": "hand probe 2", "point": "warm trays", "remark": remark});
    let note = Planned::new("water.measured.v1", house.system(Water::Warm), on_duty(CHILL_DAY), at(CHILL_DAY, 7, 30)).data(data);
    diary.add(note.late(410, "the water came first"));
}
