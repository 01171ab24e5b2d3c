//! Published and hand-made cohorts.

use super::*;
use crate::domain::state::{Animal, Egg, EggFate, EggOrigin, EventId, LifeState, Movement, ParentStatus, YolkLook};
use crate::report::invented::{ZONE, at, day, departed, died, egg, hatched, looked, lost, received, subject, young};
use selachron_statistics::Row;

fn all(eggs: &[Egg]) -> HatchRates {
    hatch_rates(eggs, &Cohort::default(), ZONE, false)
}

fn named<'a>(rates: &'a [Rate], name: &str) -> &'a Rate {
    rates.iter().find(|rate| rate.name == name).expect("a rate of that name")
}

/// Payne 2012 Zoo Biol 31:718, *H. ocellatum*: 56 cases, 27 hatched, 48.2 %. Wilson's limits by the
/// formula of Newcombe 1998 Stat Med 17:857, computed by another program.
#[test]
fn payne_2012() {
    let mut eggs: Vec<Egg> = (0..27).map(|n| hatched(egg(n, "2011-03-01"), "2011-07-20")).collect();
    eggs.extend((27..56).map(|n| lost(egg(n, "2011-03-01"), "2011-05-01", "not determined")));
    let rates = all(&eggs);
    let collected = named(&rates.collected, "collected");
    assert_eq!((collected.x, collected.n, collected.open), (27, 56, 0));
    assert_eq!(collected.estimate, Some(0.4821));
    assert_eq!(collected.wilson_95, Some([0.3567, 0.6099]));
    assert_eq!((rates.behind.eggs, rates.behind.clutches), (56, 28));
}

/// Harahush 2007 J Fish Biol 71:1007, *C. punctatum*: 692 cases of 6 females, 228 viable, which we
/// read as "embryo seen"; 148 hatched is derived by us from the printed 21.4 %.
#[test]
fn harahush_2007() {
    let case = |n: u64| egg(n, "2005-06-01");
    let seen = |n: u64| looked(case(n), 4, Movement::Moving);
    let mut eggs: Vec<Egg> = (0..148).map(|n| hatched(seen(n), "2005-11-01")).collect();
    eggs.extend((148..228).map(|n| lost(seen(n), "2005-09-01", "embryo died")));
    eggs.extend((228..692).map(|n| lost(looked(case(n), 1, Movement::CouldNotTell), "2005-09-01", "yolk, no embryo ever seen")));
    let rates = all(&eggs);
    let (collected, seen) = (named(&rates.collected, "collected"), named(&rates.collected, "embryo seen"));
    assert_eq!((collected.x, collected.n, collected.estimate), (148, 692, Some(0.2139)));
    assert_eq!((seen.x, seen.n, seen.could_not_be_judged, seen.estimate), (148, 228, 0, Some(0.6491)));
    // The interval of 148 of 692 is W2 of the project's table of check values: .1849 to .2460.
    assert_eq!(collected.wilson_95, Some([0.1849, 0.246]));
}

#[test]
fn while_a_case_is_open_there_are_bounds_and_no_estimate() {
    let eggs = [hatched(egg(1, "2025-03-01"), "2025-07-01"), lost(egg(2, "2025-03-01"), "2025-05-01", "yolk broken"), egg(3, "2025-03-01")];
    let rates = all(&eggs);
    let rate = named(&rates.collected, "collected");
    assert_eq!((rate.x, rate.n, rate.open), (1, 3, 1));
    assert_eq!((rate.estimate, rate.wilson_95, rate.bounds), (None, None, Some([0.3333, 0.6667])));
    assert_eq!(rate.absent.as_ref().map(|absent| absent.why.as_str()), Some("cases open"));
}

#[test]
fn a_case_that_left_before_its_end_widens_the_bounds_and_is_not_counted() {
    let mut sent = egg(3, "2025-03-01");
    let when = at("2025-04-01", 5);
    sent.fate = EggFate::Removed { when, reason: "sent out".to_owned(), to: "elsewhere".to_owned(), alive: LifeState::Alive };
    let eggs = [hatched(egg(1, "2025-03-01"), "2025-07-01"), lost(egg(2, "2025-03-01"), "2025-05-01", "yolk broken"), sent];
    let rates = all(&eggs);
    let rate = named(&rates.collected, "collected");
    assert_eq!((rate.x, rate.n, rate.open, rate.end_not_known), (1, 2, 0, 1));
    assert_eq!((rate.estimate, rate.bounds), (Some(0.5), Some([0.3333, 0.6667])));
}

#[test]
fn cases_that_could_not_be_judged_are_a_number_of_their_own() {
    let mut dark = lost(egg(1, "2025-03-01"), "2025-05-01", "not determined");
    dark.yolk = YolkLook::CouldNotSee;
    let still = lost(looked(egg(2, "2025-03-01"), 5, Movement::Still), "2025-05-01", "embryo died");
    let rates = all(&[dark, still]);
    let (yolk, embryo) = (named(&rates.collected, "with yolk"), named(&rates.collected, "embryo seen"));
    assert_eq!((yolk.n, yolk.could_not_be_judged), (1, 1));
    assert_eq!((embryo.n, embryo.could_not_be_judged), (0, 2), "never seen into, and seen but never moving");
    assert_eq!(embryo.absent.as_ref().map(|absent| absent.why.as_str()), Some("no cases"));
}

#[test]
fn openings_and_received_cases_stand_apart() {
    let mut opened = hatched(egg(1, "2025-03-01"), "2025-07-01");
    if let EggFate::Hatched { after_opening, .. } = &mut opened.fate {
        *after_opening = Some(EventId(7));
    }
    let from_elsewhere = |number, state| {
        let mut egg = egg(number, "2025-03-01");
        egg.origin = EggOrigin::Received { from: "another collection".to_owned(), state };
        egg
    };
    let mut dead = from_elsewhere(3, LifeState::Dead);
    dead.fate = EggFate::DeadOnArrival { when: dead.came };
    let rates = all(&[opened, hatched(from_elsewhere(2, LifeState::Alive), "2025-07-01"), dead]);
    let rate = named(&rates.collected, "collected");
    assert_eq!((rate.n, rate.unaided, rate.after_opening), (1, 0, 1));
    assert_eq!((named(&rates.received, "received").n, rates.dead_on_arrival), (1, 1));
}

#[test]
fn the_days_and_the_dam_asked_for_are_those_counted() {
    let with_dam = |number: u64, status| {
        let mut egg = hatched(egg(number, "2025-12-31"), "2026-03-01");
        egg.dam.status = status;
        egg.dam.animals = serde_json::from_value(serde_json::json!([{ "animal": subject("animal", 1) }])).expect("a candidate");
        egg
    };
    let eggs = [with_dam(1, ParentStatus::Known), with_dam(2, ParentStatus::Candidates), hatched(egg(3, "2026-01-01"), "2026-04-01")];
    let year = Cohort::between(day("2025-01-01"), day("2025-12-31"));
    assert_eq!(named(&hatch_rates(&eggs, &year, ZONE, false).collected, "collected").n, 2);
    let hers = hatch_rates(&eggs, &Cohort { dam: Some(subject("animal", 1)), ..year }, ZONE, false);
    assert_eq!((named(&hers.collected, "collected").n, hers.behind.dam_only_a_candidate), (1, 1));
}

#[test]
fn explained_figures_name_every_case_and_its_notes() {
    let eggs = [hatched(looked(egg(1, "2025-03-01"), 4, Movement::Moving), "2025-07-01"), egg(2, "2025-03-01")];
    let rates = hatch_rates(&eggs, &Cohort::default(), ZONE, true);
    for rate in &rates.collected {
        let cases = rate.cases.as_ref().expect("asked for");
        assert_eq!(cases.len() as u64, rate.n + rate.could_not_be_judged + rate.end_not_known, "{}", rate.name);
    }
    let seen = named(&rates.collected, "embryo seen").cases.as_ref().expect("asked for");
    assert_eq!(seen[0].events, [100, 101, 109].map(|note| ulid::Ulid(note).to_string()));
}

#[test]
fn fates_add_up_to_the_cases() {
    let eggs = [
        hatched(egg(1, "2025-03-01"), "2025-07-01"),
        lost(egg(2, "2025-03-01"), "2025-05-01", "no yolk"),
        lost(egg(3, "2025-03-01"), "2025-05-01", "not determined"),
        egg(4, "2025-03-01"),
    ];
    let fates = fates(&eggs, &Cohort::default(), ZONE);
    let sum = fates.hatched_unaided + fates.hatched_after_opening + fates.lost + fates.dead_on_arrival;
    assert_eq!(sum + fates.removed + fates.young_not_found + fates.open, fates.cases);
    let causes: Vec<&str> = fates.lost_by_cause.iter().map(|count| count.name.as_str()).collect();
    assert_eq!(causes, ["not determined", "no yolk"], "in the order of the list, not of the alphabet");
}

fn reared(animals: &[Animal], as_of: &str) -> Rearing {
    let watch = Watch { as_of: at(as_of, 0).time, zone: ZONE, unseen_days_max: 14 };
    rearing(animals, &[], &Cohort::default(), watch, true)
}

/// Miller 1997, aml (Embury 1977), 23 cases: values of R 4.2.2 survival 3.5.3, as in
/// `tests/reference/km_aml.expected.json`, to the four decimals of a report.
#[test]
fn the_curve_agrees_with_r_on_aml() {
    let died = [9, 13, 18, 23, 31, 34, 48, 5, 5, 8, 8, 12, 23, 27, 30, 33, 43, 45];
    let censored = [13, 28, 45, 161, 16];
    let rows = died.iter().map(|days| Row::event_at(f64::from(*days)));
    let rows: Vec<Row> = rows.chain(censored.iter().map(|days| Row::censored_at(f64::from(*days)))).collect();
    let curve = rearing::curve(&rows, &[23, 30, 48, 365]).expect("sound rows");
    assert_eq!((curve.n, curve.deaths), (23, 18));
    let told: Vec<_> = curve.points.iter().map(|point| (point.survival, point.loglog_95, point.at_risk)).collect();
    assert_eq!(told[0], (Some(0.5466), Some([0.3193, 0.7264]), 13));
    assert_eq!(told[1], (Some(0.4417), Some([0.2274, 0.6371]), 9));
    assert_eq!(told[2], (Some(0.0828), Some([0.007, 0.2868]), 2));
    assert_eq!(told[3], (None, None, 0));
    assert_eq!(curve.points[3].absent.as_ref().map(|absent| absent.why.as_str()), Some("not reached"));
}

#[test]
fn a_death_on_the_hatch_day_counts_at_day_0() {
    let animals = [died(young(1, "2025-03-01", "2025-03-01"), "2025-03-01"), young(2, "2025-03-01", "2025-04-30")];
    let found = reared(&animals, "2025-04-30");
    assert_eq!(found.curve.pieces[0].survival, 0.5);
    assert_eq!((found.curve.points[0].survival, found.curve.points[0].at_risk), (Some(0.5), 1));
}

#[test]
fn whoever_is_not_known_dead_is_censored_when_last_seen_alive() {
    let animals = [young(1, "2025-03-01", "2025-03-11"), died(young(2, "2025-03-01", "2025-03-20"), "2025-03-21")];
    let found = reared(&animals, "2025-12-31");
    assert_eq!(found.curve.censored, [rearing::DayCount { days: 10, count: 1 }]);
    assert_eq!(found.beside.unseen, 1, "not seen since 11 March");
    assert_eq!(found.curve.points[0].survival, Some(0.0), "the only one at risk on day 20 died");
    assert_eq!(found.curve.points[0].absent.as_ref().map(|absent| absent.why.as_str()), Some("survival is 0"));
}

#[test]
fn departures_are_censored_and_arrivals_enter_late() {
    let animals = [
        departed(young(1, "2025-03-01", "2025-03-11"), "2025-03-11", LifeState::Alive),
        departed(young(2, "2025-03-01", "2025-03-11"), "2025-03-12", LifeState::Dead),
        received(3, "2025-03-21", Some("2025-03-01"), "2025-05-01"),
        received(4, "2025-03-21", None, "2025-05-01"),
        received(5, "2025-03-21", Some("2025-03-01"), "2025-03-21"),
        received(6, "2025-03-21", Some("2025-04-01"), "2025-05-01"),
    ];
    let found = reared(&animals, "2025-05-02");
    assert_eq!((found.curve.n, found.curve.deaths, found.entered_late), (3, 1, 1));
    let beside = &found.beside;
    assert_eq!((beside.hatch_day_not_known, beside.no_time_at_risk, beside.days_at_odds), (1, 1, 1));
    assert_eq!(found.cases.as_ref().map(Vec::len), Some(6), "nobody disappears");
}

#[test]
fn a_collapsed_product_is_refused_with_its_reason() {
    // The only young then watched dies, and another enters later: survival would stay 0 for ever.
    let animals = [died(young(1, "2025-03-01", "2025-03-01"), "2025-03-05"), received(2, "2025-04-01", Some("2025-03-01"), "2025-06-01")];
    let found = reared(&animals, "2025-06-02");
    assert!(found.curve.pieces.is_empty());
    assert_eq!(found.curve.absent.as_ref().map(|absent| absent.why.as_str()), Some("not estimable"));
    assert!(found.curve.points.iter().all(|point| point.survival.is_none() && point.absent.is_some()));
}

#[test]
fn without_young_there_are_reasons_instead_of_numbers() {
    let found = reared(&[], "2025-06-02");
    assert_eq!(found.curve.absent.as_ref().map(|absent| absent.why.as_str()), Some("no cases"));
    assert!(found.curve.points.iter().all(|point| point.absent.is_some()));
}

#[test]
fn survival_without_a_death_has_no_interval_but_a_lower_limit() {
    let found = reared(&[young(1, "2025-03-01", "2025-04-30"), young(2, "2025-03-01", "2025-04-30")], "2025-04-30");
    let point = &found.curve.points[0];
    assert_eq!((point.survival, point.loglog_95), (Some(1.0), None));
    assert_eq!(point.absent.as_ref().map(|absent| absent.why.as_str()), Some("no events"));
    // Clopper and Pearson for 2 of 2: 0.025^(1/2) = 0.1581.
    assert_eq!(point.no_event_lower, Some(0.1581));
}
