//! When a case may hatch: a window from the temperatures that it really had and from its looks, or
//! the reason why there is none; and what was shown stays as it was shown.

use super::book::{Book, day, subject};
use super::runner::{World, check};
use selachron_record::domain::forecast::windows;
use selachron_record::domain::state::{EggForecast, HatchWindow, SpeciesRates, WindowStanding};
use selachron_schemas::names::Subject;
use selachron_schemas::time::whole_days;
use std::fmt::Write as _;

/// 140.3 ± 4.6 d, n 7, 24.4-25.5 °C (Payne 2012 Zoo Biol 31:718, *H. ocellatum*).
pub(super) const PAYNE: &str = r#"{"temperature_c": 24.95, "temperature_c_low": 24.4, "temperature_c_high": 25.5, "days": 140.3, "sd_days": 4.6,
    "cases": 7, "source": "Payne 2012 Zoo Biol 31:718-724", "confidence": "abstract"}"#;

/// 242 d at 14 °C, 190 d at 17 °C (Pretorius & Griffiths 2013, *H. pictus*).
const PICTUS: &str = r#"{"temperature_c": 14, "days": 242, "source": "Pretorius & Griffiths 2013", "confidence": "abstract"},
    {"temperature_c": 17, "days": 190, "source": "Pretorius & Griffiths 2013", "confidence": "abstract"}"#;

pub(super) fn id(noun: &str, name: &str) -> Subject {
    Subject::parse(&subject(noun, name)).expect("a subject")
}

/// A species with points, its cases' find on day 0, and daily readings of the tanks.
pub(super) struct Story(pub(super) String);

impl Story {
    pub(super) fn new(points: &str) -> Self {
        Self::listing(&format!(r#""incubation_points": [{points}]"#))
    }

    /// A species whose listing has these members besides its names.
    pub(super) fn listing(members: &str) -> Self {
        let listed =
            format!(r#"{{"scientific_name": "Inventus thermophilus", "common_name": "warm shark", "length_basis": "total", {members}}}"#);
        Self(String::new()).line(0, &format!("by curator about species W species.listed {listed}"))
    }

    pub(super) fn line(mut self, day: i64, note: &str) -> Self {
        writeln!(self.0, "day {day} {} -> recorded", note.split_whitespace().collect::<Vec<_>>().join(" ")).expect("text grows");
        self
    }

    fn tagged(mut self, tag: &str, day: i64, note: &str) -> Self {
        write!(self.0, "[{tag}] ").expect("text grows");
        self.line(day, note)
    }

    /// Laid between day -1 and day 0, found on day 0 and taken to the incubation tank.
    pub(super) fn egg(self, name: &str) -> Self {
        let data = format!(
            r#"{{"label": "{name}", "species": "@species W", "from_tank": "@tank Adults", "laid": "single", "case": "whole", "yolk": "seen", "to_tank": "@tank Inc"}}"#
        );
        self.line(0, &format!("after -1 about egg {name} egg.collected {data}"))
    }

    pub(super) fn read(self, day: i64, tank: &str, temperature_c: f64) -> Self {
        self.line(day, &format!(r#"about tank {tank} water.measured {{"temperature_c": {temperature_c}, "instrument": "probe 1"}}"#))
    }

    pub(super) fn reads(self, days: std::ops::RangeInclusive<i64>, tank: &str, temperature_c: f64) -> Self {
        days.fold(self, |story, day| story.read(day, tank, temperature_c))
    }

    pub(super) fn tell(&self) -> World {
        check(&self.0)
    }
}

fn asked(world: &World, name: &str, at: i64) -> EggForecast {
    let egg = id("egg", name);
    let one = world.projections.at(day(at), u64::MAX, |view| view.egg_forecast(&egg)).expect("a case");
    let all = world.projections.at(day(at), u64::MAX, windows);
    assert!(all.get(&egg).is_none_or(|other| *other == one), "alone and among all it is told alike");
    one
}

fn days_to(day_number: chrono::NaiveDate) -> i64 {
    whole_days(day(0).day("Australia/Brisbane".parse().expect("a zone")), day_number)
}

fn expected(forecast: &EggForecast) -> HatchWindow {
    forecast.expected.unwrap_or_else(|| panic!("no window: {:?}", forecast.no_forecast))
}

fn flags(forecast: &EggForecast) -> Vec<&'static str> {
    forecast.flags.iter().map(|flag| flag.flag).collect()
}

#[test]
fn a_window_comes_from_the_temperatures_a_case_had() {
    let story = Story::new(PAYNE).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=100, "Inc", 25.0);
    let found = asked(&story.tell(), "A1", 100);
    let window = expected(&found);
    assert!((138..=141).contains(&days_to(window.p50)), "{window:?}");
    // Single: 15 % between cases.
    assert!((106..=113).contains(&days_to(window.p05)) && (174..=182).contains(&days_to(window.p95)), "{window:?}");
    assert_eq!(found.standing, WindowStanding::Before);
    let rate = found.rate.as_ref().expect("a rate");
    assert_eq!((rate.grade, rate.from, rate.n, rate.n_own, rate.cv), ("single", "published", 7, 0, 0.15));
    let temperature = found.temperature.as_ref().expect("temperatures");
    assert_eq!((temperature.mean_c, temperature.gaps.len()), (25.0, 0));
    assert!(temperature.readings > 100 && flags(&found).is_empty(), "{found:?}");
    assert!((0.65..0.78).contains(&found.fraction.expect("a fraction").p50));
}

#[test]
fn two_temperatures_follow_a_move_to_another_tank() {
    let story = Story::new(PICTUS).egg("A1").reads(-1..=0, "Adults", 16.0).reads(0..=60, "Inc", 14.0);
    let story = story.line(60, "egg A1 moved to Nur from Inc").reads(60..=100, "Nur", 17.0);
    let found = asked(&story.tell(), "A1", 100);
    // 60 d at 14 °C of 242, then 190 d at 17 °C: 60 + (1 - 60/242) * 190 = 203 days.
    assert!((201..=204).contains(&days_to(expected(&found).p50)), "{:?}", expected(&found));
    let rate = found.rate.as_ref().expect("a rate");
    assert_eq!((rate.grade, rate.q10), ("fitted", Some(2.24)), "Pretorius & Griffiths 2013: Q10 2.240");
    let waters = &found.temperature.as_ref().expect("temperatures").waters;
    assert_eq!(waters.iter().map(|water| water.tank.clone()).collect::<Vec<_>>(), ["Adults", "Inc", "Nur"].map(|tank| id("tank", tank)));
}

#[test]
fn looks_and_open_slits_are_evidence() {
    let bare = Story::new(PAYNE).egg("A1").egg("A2").reads(-1..=0, "Adults", 25.0).reads(0..=100, "Inc", 25.0);
    let story =
        bare.line(30, "egg A2 candled band 3 moving").line(37, "egg A2 candled band 3 moving").line(44, "egg A2 candled band 3 moving");
    let story = story.line(70, "egg A2 candled band 5 moving slits").line(90, "egg A2 candled band 6 moving");
    let world = story.tell();
    let (bare, seen) = (asked(&world, "A1", 100), asked(&world, "A2", 100));
    assert!(expected(&seen).p50 < expected(&bare).p50, "it develops quickly");
    let width = |window: HatchWindow| whole_days(window.p05, window.p95);
    assert!(width(expected(&seen)) * 3 < width(expected(&bare)) * 2, "{seen:?} against {bare:?}");
    let what: Vec<&str> = seen.evidence.iter().map(|used| used.what.as_str()).collect();
    assert_eq!(
        what,
        ["band 3", "band 3", "slits not seen open", "band 5", "slits open", "band 6", "still in its case"],
        "the middle one of three alike adds nothing"
    );
    assert!(seen.window.expect("a window").p05 >= expected(&seen).p05, "it still waited on day 90");
}

/// 125 d at 27 °C and 100 d at 31 °C as a straight line: T0 11.0 °C, K 2000 d °C (DOMAIN section 3:
/// arithmetic of the summary of Wheeler 2021).
const LINE: &str = r#""incubation_thermal_sum": {"t0_c": 11, "k_degree_days": 2000, "temperature_c_low": LOW, "temperature_c_high": 31,
    "source": "Wheeler 2021 by its summary: arithmetic only"}"#;

#[test]
fn a_stated_thermal_sum_is_told_beside_the_others() {
    let listed = |low: &str| format!(r#""incubation_points": [{PAYNE}], {}"#, LINE.replace("LOW", low));
    let story = Story::listing(&listed("24")).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=60, "Inc", 25.0);
    let world = story.tell();
    let found = asked(&world, "A1", 60);
    assert_eq!(found.rate.as_ref().map(|rate| rate.from), Some("published"), "the points are what is used");
    let beside = found.by_thermal_sum.as_ref().expect("a window beside it");
    assert_eq!((beside.rate.from, beside.rate.t0_c, beside.rate.k_degree_days), ("published thermal sum", Some(11.0), Some(2000.0)));
    // 2000/(25 - 11) = 142.9 days, counted from the night before the find.
    assert!((141..=143).contains(&days_to(beside.expected.expect("a window").p50)), "{beside:?}");
    let rates = world.projections.at(day(60), u64::MAX, |view| view.species_rates(&id("species", "W"))).expect("rates");
    assert_eq!(rates.thermal_sum.and_then(|told| told.rate).map(|rate| rate.from), Some("published thermal sum"));
    assert_eq!(rates.tried, ["published", "published thermal sum"]);
    let warmer = Story::listing(&listed("26")).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=60, "Inc", 25.0).tell();
    let beside = asked(&warmer, "A1", 60).by_thermal_sum.expect("told all the same");
    assert_eq!((beside.expected, beside.no_forecast.map(|none| none.reason)), (None, Some("outside range")), "no word beyond its source");
    let alone = Story::listing(&LINE.replace("LOW", "24")).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=60, "Inc", 25.0);
    let found = asked(&alone.tell(), "A1", 60);
    assert_eq!(
        (found.rate.map(|rate| rate.from), found.by_thermal_sum),
        (Some("published thermal sum"), None),
        "used where there is no other"
    );
}

/// Own incubations of water that swings count at the temperature that their rate adds up to, not at
/// the mean (STATISTICS 3.7). Truth: 125 d at 27 °C, Q10 1.747. A wave between 17 and 33 °C with the
/// mean 25 °C has the mean rate of 25.59 °C: sinh(8b)/(8b) = 1.0335 with b = ln(1.747)/10.
#[test]
fn own_incubations_count_at_the_temperature_that_their_rate_adds_up_to() {
    let mut story = Story::listing(r#""first_embryo_seen_day": 30"#).reads(-1..=0, "Adults", 25.0);
    for name in ["A1", "A2", "A3", "B1", "B2", "B3"] {
        story = story.egg(name);
    }
    for name in ["B1", "B2", "B3"] {
        story = story.line(0, &format!("egg {name} moved to Nur from Inc"));
    }
    const WAVE_C: [f64; 8] = [25.0, 29.0, 33.0, 29.0, 25.0, 21.0, 17.0, 21.0];
    for (day, temperature_c) in (0..=136_i64).zip(WAVE_C.into_iter().cycle()) {
        story = story.read(day, "Inc", temperature_c).read(day, "Nur", 27.0);
    }
    for (name, day) in [("B1", 124), ("B2", 125), ("B3", 126), ("A1", 134), ("A2", 135), ("A3", 136)] {
        story = story.line(day, &format!("egg {name} hatched young Y{name} alive"));
    }
    let world = story.tell();
    let rates = world.projections.at(day(137), u64::MAX, |view| view.species_rates(&id("species", "W"))).expect("rates");
    let wave = rates.own_incubations.iter().find(|own| own.egg == id("egg", "A2")).expect("an own incubation");
    assert!((wave.temperature_c - 25.0).abs() < 0.1 && (wave.effective_c - 25.59).abs() < 0.12, "{wave:?}");
    let steady = rates.own_incubations.iter().find(|own| own.egg == id("egg", "B2")).expect("an own incubation");
    assert!((steady.temperature_c - steady.effective_c).abs() < 0.05, "{steady:?}");
    let own = rates.own.rate.expect("a rate");
    let q10 = own.q10.expect("two temperatures");
    // At the means it would be 1.48, with the 25.0 °C taken for what the cases felt.
    assert!((q10 - 1.747).abs() < 0.12 && own.n == 6, "{own:?}");
}

#[test]
fn past_its_window_it_says_so() {
    let story = Story::new(PAYNE).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=190, "Inc", 25.0);
    let world = story.line(186, "egg A1 candled band 7 moving").tell();
    assert_eq!(asked(&world, "A1", 140).standing, WindowStanding::Open);
    let late = asked(&world, "A1", 190);
    assert_eq!(late.standing, WindowStanding::Past);
    assert!(late.probability_past.expect("a probability") > 0.95);
    let brisbane = "Australia/Brisbane".parse().expect("a zone");
    assert!(late.window.expect("room is left").p05 >= day(186).day(brisbane), "it was in its case on day 186");
}

#[test]
fn without_a_forecast_the_reason_is_told() {
    let why = |world: &World, at| asked(world, "A1", at).no_forecast.expect("no forecast").reason;
    let nothing = Story::new(r#"{"days": 120, "sd_days": 10, "source": "Rossi 2015, temperature not stated", "confidence": "abstract"}"#);
    assert_eq!(why(&nothing.egg("A1").reads(0..=9, "Inc", 25.0).tell(), 9), "no data");
    assert_eq!(why(&Story::new(PAYNE).egg("A1").tell(), 9), "no readings");
    let cold = Story::new(PAYNE).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=40, "Inc", 21.0).tell();
    assert_eq!(why(&cold, 40), "outside range");
    let cooled = Story::new(PAYNE).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=93, "Inc", 25.0).reads(94..=101, "Inc", 20.0).tell();
    assert!(why(&cooled, 97).starts_with("outside range"));
    let doubtful = PICTUS.replace("190", "125").replace("242", "266");
    let doubtful = Story::new(&doubtful).egg("A1").reads(-1..=40, "Inc", 15.0).tell();
    assert_eq!(why(&doubtful, 40), "implausible", "266 and 125 d: Q10 12.4");
    let empty = Story(Story::new(PAYNE).egg("A1").0.replace(r#""yolk": "seen""#, r#""yolk": "not seen""#));
    assert_eq!(why(&empty.reads(-1..=40, "Inc", 25.0).tell(), 40), "no yolk");
    let gone = Story::new(PAYNE).egg("A1").reads(-1..=40, "Inc", 25.0).line(20, "egg A1 hatched young Y1 alive").tell();
    assert_eq!(why(&gone, 40), "not incubating");
    assert_eq!(asked(&gone, "A1", 10).no_forecast, None, "on day 10 it was");
}

fn house(by: &str) -> EggForecast {
    let listed = r#"{"scientific_name": "Inventus domesticus", "common_name": "house shark", "length_basis": "total",
        "incubation": {"grade": "house", "days_low": 110, "days_high": 130, "temperature_c_low": 24, "temperature_c_high": 27, "source": "ten seasons here"}}"#;
    let mut story = Story(String::new()).line(0, &format!("by {by} about species W species.listed {listed}"));
    story = story.egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=40, "Inc", 26.0);
    asked(&story.tell(), "A1", 40)
}

#[test]
fn the_house_entry_wants_a_curator_who_stands_for_it() {
    let found = house("curator");
    assert_eq!(found.rate.as_ref().expect("a rate").grade, "house");
    assert!((118..=121).contains(&days_to(expected(&found).p50)));
    let none = house("keeper").no_forecast.expect("none");
    assert_eq!(none.reason, "no data");
    assert!(none.says.contains("not signed by a curator"), "{}", none.says);
}

#[test]
fn what_is_wrong_with_readings_and_moves_is_named_and_not_used() {
    let story = Story::new(PAYNE).egg("A1").reads(-40..=-36, "Inc", 20.0).reads(-1..=0, "Adults", 25.0);
    let story = story.reads(0..=20, "Inc", 25.0).read(21, "Inc", 4.4).reads(22..=30, "Inc", 25.0).reads(36..=60, "Inc", 25.2);
    let story = story.line(50, "egg A1 moved to Nur from Inc");
    let text = format!("{}day 50 egg A1 moved to Inc from Inc -> recorded, discrepancy: moved from a tank it was not in\n", story.0);
    let world = check(&text);
    let found = asked(&world, "A1", 60);
    let told = flags(&found);
    for wanted in ["readings before the water existed", "readings far off", "moved twice at one time", "gaps in the readings"] {
        assert!(told.contains(&wanted), "{wanted} is missing among {told:?}");
    }
    let temperature = found.temperature.as_ref().expect("temperatures");
    assert!(temperature.mean_c >= 25.0, "neither 20.0 nor 4.4 °C (40 °F, it seems) was used: {}", temperature.mean_c);
    assert_eq!(temperature.gaps.len(), 2, "a day that was left out, and six without readings");
    assert!(temperature.if_gaps_warm.expect("bounds").p50 <= temperature.if_gaps_cold.expect("bounds").p50);
}

#[test]
fn own_incubations_refine_and_are_shown_apart() {
    let mut story = Story::new(PAYNE).reads(-1..=0, "Adults", 25.0).reads(0..=150, "Inc", 25.0);
    let hatched = [118, 120, 121, 122, 119, 120];
    for (number, day) in hatched.into_iter().enumerate() {
        story = story.egg(&format!("H{number}")).line(day, &format!("egg H{number} hatched young Y{number} alive"));
    }
    let story = story.egg("L1").line(100, "egg L1 candled band 7 moving slits").line(110, "with curator,vet egg L1 opened");
    let world = story.line(111, "egg L1 hatched young YL alive").egg("A1").tell();
    let rates =
        |at| -> SpeciesRates { world.projections.at(day(at), u64::MAX, |view| view.species_rates(&id("species", "W"))).expect("rates") };
    let late = rates(150);
    let days = |rate: &selachron_record::domain::state::RateOrReason| rate.rate.as_ref().map(|rate| (rate.days, rate.n, rate.n_own));
    assert_eq!(days(&late.published), Some((140.3, 7, 0)));
    let (own, n, n_own) = days(&late.own).expect("own");
    assert!((120.0..121.0).contains(&own) && n == 6 && n_own == 6, "{own} {n} {n_own}");
    let (both, n, n_own) = days(&late.both).expect("both");
    assert!((128.0..134.0).contains(&both) && n == 13 && n_own == 6, "{both} {n} {n_own}");
    assert_eq!(late.own_left_out.iter().map(|out| (out.why, out.n)).collect::<Vec<_>>(), [("hatched after an opening", 1)]);
    assert_eq!(days(&rates(100).own), None, "on day 100 nothing had hatched");
    let (early, found) = (asked(&world, "A1", 100), asked(&world, "A1", 150));
    assert_eq!((early.rate.expect("a rate").from, found.rate.as_ref().expect("a rate").from), ("published", "published and own"));
}

#[test]
fn what_was_shown_on_a_day_stays_as_it_was_shown() {
    let story = Story::new(PAYNE).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=149, "Inc", 25.0);
    let story = story.tagged("seen", 120, "egg A1 candled band 6 moving").tagged(
        "warm",
        150,
        r#"about tank Inc water.measured {"temperature_c": 25.4, "instrument": "probe 1"}"#,
    );
    let size = format!("{}[open] day 151 with curator,vet egg A1 opened -> recorded\n", story.0);
    let shown = |world: &World, size: u64| {
        let found = world.projections.at(day(151), size, |view| view.egg_forecast(&id("egg", "A1")));
        serde_json::to_string(&found).expect("JSON")
    };
    let before = check(&size);
    let at_opening = before.size_at("open");
    let first = shown(&before, at_opening);
    assert!(first.contains("\"expected\"") && first.contains("\"p95\""), "{first}");
    // Later: the hatch, a look that was put right, a reading taken back, other house rules, and a
    // late note of colder water.
    let later = format!(
        "{size}day 152 egg A1 hatched young Y1 alive -> recorded\n\
         day 153 correct seen data egg A1 candled band 5 moving -> recorded\n\
         day 153 retract warm -> recorded\n\
         day 154 by curator with registrar policy {{\"temperature_gap_hours_max\": 12}} -> recorded\n\
         day 60 arrives 155 about tank Inc water.measured {{\"temperature_c\": 24.5, \"instrument\": \"probe 1\"}} -> recorded\n"
    );
    let after = check(&later);
    assert_eq!(shown(&after, at_opening), first, "byte for byte what was shown");
    assert_ne!(shown(&after, u64::MAX), first, "what is known now differs");
    let rebuilt: &Book = &after.book;
    let again = rebuilt.learned().at(day(151), at_opening, |view| view.egg_forecast(&id("egg", "A1")));
    assert_eq!(serde_json::to_string(&again).expect("JSON"), first, "and rebuilt from the notes");
}
