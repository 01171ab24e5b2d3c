//! Windows of development: the check values of the papers, the laws of the grid, and how often the
//! truth falls into its window.

#[path = "../../benches/development/season.rs"]
mod season;

use season::{Chance, Coverage, RIGHT, Season, bands, log};
use selachron_statistics::development::{
    Case, Development, Grade, Law, Look, NoForecast, Point, Settings, Sighting, Stay, Track, develop, effective_c,
};
use selachron_statistics::incubation::{Between, Incubation, Rate, TemperatureLog, TemperatureReading, two_point};

use crate::support::assert_near;

fn point(temperature_c: f64, days: f64) -> Point {
    Point { temperature_c, low_c: None, high_c: None, days, sd_days: None, n: None }
}

/// Payne 2012 (Zoo Biol 31:718): 140.3 ± 4.6 d, n 7, 24.4-25.5 °C.
fn payne() -> Point {
    Point { low_c: Some(24.4), high_c: Some(25.5), sd_days: Some(4.6), n: Some(7), ..point(24.95, 140.3) }
}

fn steady(temperature_c: f64, days: usize) -> TemperatureLog {
    log(&vec![temperature_c; days + 1])
}

/// *H. ocellatum*, 125 d at 27 °C and 100 d at 31 °C (Wheeler 2021, Sci Rep 11:454, by its
/// summary: arithmetic only): Q10 1.747; from 27 °C 140.1 d at 24.95 °C, while 140.3 were seen
/// (Payne 2012); as a straight line T0 11.0 °C, K 2000 d °C, 143.4 d.
#[test]
fn two_temperatures_of_one_species() {
    let law = Law::of(&[point(27.0, 125.0), point(31.0, 100.0)]).expect("a law");
    assert_eq!(law.grade, Grade::Fitted);
    assert_near(law.q10().expect("two temperatures"), 1.747, 5e-4);
    assert_near(law.days_at(24.95), 140.1, 0.05);
    let egg = |temperature_c, days| Incubation { temperature_c, days };
    let line = two_point(egg(27.0, 125.0), egg(31.0, 100.0)).expect("two means");
    assert_near(line.T0.expect("one"), 11.0, 1e-9);
    assert_near(line.K.expect("one"), 2000.0, 1e-9);
    assert_near(2000.0 / (24.95 - 11.0), 143.4, 0.05);
}

/// The same: 60 d at 27 °C, then 31 °C: 0.480 done, 52.0 d more. *H. pictus*, 242 d at 14 °C and
/// 190 d at 17 °C (Pretorius & Griffiths 2013, Afr Zool 48(1)): Q10 2.240, T0 3.04 °C, K 2653.
#[test]
fn a_change_of_water_and_a_cold_species() {
    let law = Law::of(&[point(27.0, 125.0), point(31.0, 100.0)]).expect("a law");
    let rate = law.rates()[1].0;
    let moved = TemperatureLog::new(
        [(0.0, 27.0), (60.0, 27.0), (60.0 + 1e-9, 31.0), (200.0, 31.0)]
            .map(|(day, temperature_c)| TemperatureReading { day, temperature_c })
            .to_vec(),
    );
    let moved = moved.expect("readings");
    assert_near(moved.progress(rate, 0.0, 60.0, Between::Linear).expect("a sum"), 0.480, 5e-4);
    assert_near(moved.day_reaching(rate, 0.0, 1.0, Between::Linear).expect("a rate").expect("a day") - 60.0, 52.0, 0.05);

    let pictus = Law::of(&[point(14.0, 242.0), point(17.0, 190.0)]).expect("a law");
    assert_near(pictus.q10().expect("two temperatures"), 2.240, 5e-4);
    let egg = |temperature_c, days| Incubation { temperature_c, days };
    let line = two_point(egg(14.0, 242.0), egg(17.0, 190.0)).expect("two means");
    assert_near(line.T0.expect("one"), 3.04, 5e-3);
    assert_near(line.K.expect("one"), 2653.0, 0.5);
    assert_eq!(Rate::Q10 { reference_c: 14.0, reference_days: 242.0, q10: 1.0 }.at(20.0), 1.0 / 242.0);
}

/// *P. pantherinum*, 266 d at 14 °C and 125 d at 17 °C (Pretorius & Griffiths 2013): Q10 12.4.
#[test]
fn what_is_hardly_believed_gives_no_window() {
    let found = Law::of(&[point(14.0, 266.0), point(17.0, 125.0)]);
    let Err(NoForecast::Implausible { q10 }) = found else { panic!("{found:?}") };
    assert_near(q10, 12.4, 0.05);
    assert_eq!(Law::of(&[]), Err(NoForecast::NoData));
}

#[test]
fn grades_have_their_floors() {
    let single = Law::of(&[payne()]).expect("a law");
    assert_eq!((single.grade, single.cv, single.low_c, single.high_c, single.n), (Grade::Single, 0.15, 24.4, 25.5, 7));
    assert_eq!(single.q10(), None);
    let fitted = season::law();
    assert_eq!((fitted.grade, fitted.cv, fitted.low_c, fitted.high_c), (Grade::Fitted, 0.05, 24.4, 31.5));
    let house = Law::from_range(Grade::House, (100.0, 121.0), (22.0, 26.0)).expect("a law");
    assert_near(house.reference_days, 110.0, 1e-9);
    assert_eq!(house.cv, 0.10);
    let wide = Law::from_range(Grade::House, (80.0, 180.0), (22.0, 26.0)).expect("a law");
    assert!(wide.cv > 0.24, "{}", wide.cv);
    let upside_down = Law::from_range(Grade::House, (121.0, 100.0), (22.0, 26.0));
    assert!(matches!(upside_down, Err(NoForecast::Unusable { field: "days_high", .. })), "{upside_down:?}");
    let fahrenheit = Law::of(&[point(77.0, 140.0)]);
    assert!(matches!(fahrenheit, Err(NoForecast::Unusable { field: "temperature_c", .. })), "{fahrenheit:?}");
}

fn asked(
    law: &Law,
    water: TemperatureLog,
    laid: (f64, f64),
    now_day: f64,
    looks: &[Look],
    waiting: bool,
) -> Result<Development, NoForecast> {
    let track = Track::new(water, law, Settings::default());
    let stays = [Stay { from_day: laid.0, track: &track }];
    let case =
        Case { stays: &stays, begun_from_day: laid.0, begun_to_day: laid.1, now_day, looks, waiting_day: waiting.then_some(now_day) };
    develop(law, &bands(), &case)
}

/// At steady temperature the median is that of the law, and the ends are those of a log-normal.
#[test]
fn steady_water_gives_the_law_back() {
    let law = Law::of(&[payne()]).expect("a law");
    let found = asked(&law, steady(25.0, 50), (0.0, 0.0), 50.0, &[], false).expect("a window");
    assert_near(found.expected.p50_day, 140.3, 0.2);
    let end = |z: f64| 140.3 * libm::exp(z * law.sigma());
    assert_near(found.expected.p05_day, end(-1.644_85), 0.3);
    assert_near(found.expected.p95_day, end(1.644_85), 0.3);
    assert_eq!(found.window, Some(found.expected));
    assert_near(found.fraction.p50, 50.0 / 140.3, 2e-3);
    assert!(found.probability_past < 1e-6 && found.agreement > 0.999);
}

/// A look with a band narrows the window and moves it towards what was seen; waiting cuts it off.
#[test]
fn looks_and_waiting_narrow_the_window() {
    let law = Law::of(&[payne()]).expect("a law");
    let bare = asked(&law, steady(25.0, 100), (0.0, 7.0), 100.0, &[], false).expect("a window");
    // Band 5 (0.60-0.80) is index 4 here; at day 100 the law expects 0.71 less the laying.
    let early = asked(&law, steady(25.0, 100), (0.0, 7.0), 100.0, &[Look { day: 100.0, saw: Sighting::Band(6) }], false);
    let early = early.expect("a window");
    assert!(early.expected.p50_day < bare.expected.p50_day - 10.0, "{early:?} against {bare:?}");
    let width = |found: &Development| found.expected.p95_day - found.expected.p05_day;
    assert!(width(&early) < width(&bare));
    let open = Look { day: 20.0, saw: Sighting::Slits { open: true, at: 0.32, sd: 0.08 } };
    let opened = asked(&law, steady(25.0, 100), (0.0, 7.0), 100.0, &[open], false).expect("a window");
    assert!(opened.expected.p50_day < bare.expected.p50_day, "open early is a quick one");
    let closed = Look { day: 60.0, saw: Sighting::Slits { open: false, at: 0.32, sd: 0.08 } };
    let slow = asked(&law, steady(25.0, 100), (0.0, 7.0), 100.0, &[closed], false).expect("a window");
    assert!(slow.expected.p50_day > bare.expected.p50_day, "closed late is a slow one");

    let late = asked(&law, steady(25.0, 200), (0.0, 0.0), 160.0, &[], true).expect("a window");
    let window = late.window.expect("there is room");
    assert!(window.p05_day >= 160.0 && late.expected.p50_day < 145.0);
    assert!(late.probability_past > 0.75, "{}", late.probability_past);
    assert_eq!(asked(&law, steady(25.0, 900), (0.0, 0.0), 800.0, &[], true).expect("a window").window, None);
}

/// Wider laying, wider window.
#[test]
fn uncertain_laying_is_carried_through() {
    let law = season::law();
    let width = |laid: (f64, f64)| {
        let found = asked(&law, steady(27.0, 60), laid, 60.0, &[], false).expect("a window");
        found.expected.p95_day - found.expected.p05_day
    };
    assert!(width((0.0, 40.0)) > width((19.0, 21.0)) + 10.0);
}

#[test]
fn temperatures_that_the_law_does_not_know_give_no_window() {
    let law = Law::of(&[payne()]).expect("a law");
    let cold = asked(&law, steady(22.0, 50), (0.0, 0.0), 50.0, &[], false);
    assert!(matches!(cold, Err(NoForecast::OutsideRange { outside_percent, .. }) if outside_percent == 100.0), "{cold:?}");
    let mut read = vec![25.0; 200];
    read.extend([28.0; 9]);
    let now = asked(&law, log(&read), (0.0, 0.0), 208.0, &[], false);
    assert!(matches!(now, Err(NoForecast::OutsideRangeAhead { ahead_c, .. }) if ahead_c > 27.0), "{now:?}");
    let nothing = Case { stays: &[], begun_from_day: 0.0, begun_to_day: 1.0, now_day: 9.0, looks: &[], waiting_day: None };
    assert_eq!(develop(&law, &bands(), &nothing), Err(NoForecast::NoReadings));
}

/// A gap is named, and bounded by the water at its ends; what is read once more is not.
#[test]
fn gaps_are_bounded() {
    let law = season::law();
    let reading = |day: f64, temperature_c: f64| TemperatureReading { day, temperature_c };
    let mut readings: Vec<TemperatureReading> = (0..=30).map(|day| reading(f64::from(day), 26.0)).collect();
    readings.extend((60..=80).map(|day| reading(f64::from(day), 28.0)));
    let water = TemperatureLog::new(readings).expect("readings");
    let found = asked(&law, water, (0.0, 1.0), 80.0, &[], false).expect("a window");
    assert_eq!(found.gaps.iter().map(|gap| (gap.from_day, gap.to_day)).collect::<Vec<_>>(), vec![(30.0, 60.0)]);
    let (warm, cold) = (found.if_gaps_warm.expect("a gap"), found.if_gaps_cold.expect("a gap"));
    assert!(warm.p50_day < found.expected.p50_day && found.expected.p50_day < cold.p50_day);
    let whole = asked(&law, steady(26.0, 80), (0.0, 1.0), 80.0, &[], false).expect("a window");
    assert!(whole.gaps.is_empty() && whole.if_gaps_warm.is_none());
}

/// Two stays in two waters are one stay in water that changed.
#[test]
fn a_move_is_a_change_of_water() {
    let law = season::law();
    let (one, other) = (Track::new(steady(26.0, 90), &law, Settings::default()), Track::new(steady(29.0, 90), &law, Settings::default()));
    let stays = [Stay { from_day: 0.0, track: &one }, Stay { from_day: 40.0, track: &other }];
    let case = |stays| Case { stays, begun_from_day: 0.0, begun_to_day: 1.0, now_day: 80.0, looks: &[], waiting_day: None };
    let moved = develop(&law, &bands(), &case(&stays)).expect("a window");
    let mut read = vec![26.0; 40];
    read.extend([29.0; 51]);
    let changed = asked(&law, log(&read), (0.0, 1.0), 80.0, &[], false).expect("a window");
    // The change in one log takes a day, so half a day of 3 °C differs.
    assert_near(moved.expected.p50_day, changed.expected.p50_day, 0.2);
}

/// Looks that agree leave a good likelihood; a band far off leaves that of a slip.
#[test]
fn looks_at_odds_with_the_model_are_noticed() {
    let law = season::law();
    let look = |day: f64, band: usize| Look { day, saw: Sighting::Band(band) };
    let sound = asked(&law, steady(27.0, 60), (0.0, 1.0), 60.0, &[look(60.0, 3)], false).expect("a window");
    let odd = asked(&law, steady(27.0, 60), (0.0, 1.0), 60.0, &[look(60.0, 6)], false).expect("a window");
    assert!(sound.agreement > 0.5 && odd.agreement < 0.02, "{} and {}", sound.agreement, odd.agreement);
}

/// With the model right, windows asked for on a day that says nothing of the hatch cover as they
/// claim. 25 seasons, about 770 cases: the binomial standard error of 90 % is 1.1 points, and of
/// 50 % 1.8; the seeds are fixed, so that this is no lottery.
#[test]
fn windows_cover_what_they_claim() {
    let mut coverage = Coverage::default();
    for seed in 0..25 {
        let (season, mut chance) = (Season::new(seed, RIGHT), Chance::new(seed + 1_000_000));
        for egg in &season.eggs {
            let day = egg.window.1 + chance.uniform() * 1.3 * season.law.reference_days;
            if day < egg.hatch_day {
                let found = season.told(egg, day, |case| develop(&season.law, &season.bands, case)).expect("a window");
                coverage.add(egg.hatch_day, &found.window.expect("there is room"));
            }
        }
    }
    let (half, most) = (coverage.part(coverage.in_50), coverage.part(coverage.in_90));
    assert!(coverage.n > 600, "{}", coverage.n);
    assert!((0.87..=0.93).contains(&most), "90 % windows cover {most} of {}", coverage.n);
    assert!((0.45..=0.55).contains(&half), "50 % windows cover {half} of {}", coverage.n);
}

/// A thermal sum as a source states it. *H. ocellatum* as a straight line: T0 11.0 °C, K 2000 d °C,
/// 143.4 d at 24.95 °C (DOMAIN section 3, from Wheeler 2021 by its summary: arithmetic only).
/// *D. intermedius*: 534 d and about 5700 degree-days (Benjamins 2021, J Fish Biol 99:1150), which is
/// 10.67 °C above 0.
#[test]
fn a_thermal_sum_is_a_law() {
    let law = Law::thermal_sum(11.0, 2000.0, (24.0, 31.0), None).expect("a law");
    assert_eq!((law.grade, law.q10()), (Grade::Fitted, None));
    assert_near(law.days_at(24.95), 143.4, 0.05);
    assert_near(law.days_at(27.0), 125.0, 1e-9);
    assert_near(law.k_degree_days().expect("one"), 2000.0, 1e-9);
    assert!(law.days_at(11.0).is_infinite());
    let skate = Law::thermal_sum(0.0, 5700.0, (10.0, 11.3), Some(0.03)).expect("a law");
    assert_near(skate.days_at(5700.0 / 534.0), 534.0, 1e-9);
    assert_eq!(skate.cv, Grade::Fitted.cv_floor(), "no nursery's water is as steady");
    for (t0, k, range) in
        [(11.0, 0.0, (24.0, 31.0)), (25.0, 2000.0, (24.0, 31.0)), (11.0, 2000.0, (31.0, 24.0)), (f64::NAN, 1.0, (24.0, 31.0))]
    {
        assert!(matches!(Law::thermal_sum(t0, k, range, None), Err(NoForecast::Unusable { .. })), "{t0} {k} {range:?}");
    }
    // In steady water the window's middle is the day by which the sum is reached.
    let track = Track::new(steady(25.0, 60), &law, Settings::default());
    let case = Case {
        stays: &[Stay { from_day: 0.0, track: &track }],
        begun_from_day: 0.0,
        begun_to_day: 1e-6,
        now_day: 60.0,
        looks: &[],
        waiting_day: None,
    };
    let found = develop(&law, &bands(), &case).expect("a window");
    assert_near(found.expected.p50_day, 2000.0 / 14.0, 0.6);
}

/// Half the time at 20 and half at 30 °C, with b = ln(2)/10: the mean rate is that of
/// 10 log2((2^2 + 2^3)/2) = 25.85 °C, above the mean of 25.
#[test]
fn a_swinging_temperature_stands_for_a_warmer_steady_one() {
    let law = Law { se_slope_per_c: 0.0, ..Law::of(&[point(20.0, 200.0), point(30.0, 100.0)]).expect("a law") };
    let step = [(0.0, 20.0), (50.0, 20.0), (50.0 + 1e-9, 30.0), (100.0, 30.0)];
    let readings = step.map(|(day, temperature_c)| TemperatureReading { day, temperature_c }).to_vec();
    let track = Track::new(TemperatureLog::new(readings).expect("readings"), &law, Settings::default());
    let stays = [Stay { from_day: 0.0, track: &track }];
    assert_near(effective_c(&law, &stays, 0.0, 100.0).expect("a temperature"), 10.0 * 6.0_f64.log2(), 1e-6);
    assert_near(effective_c(&law, &stays, 0.0, 50.0).expect("a temperature"), 20.0, 1e-9);
    assert_eq!(effective_c(&law, &[], 0.0, 1.0), None);
    assert_eq!(effective_c(&law, &stays, 5.0, 5.0), None);
    assert_eq!(effective_c(&Law { slope_per_c: 0.0, ..law.clone() }, &stays, 0.0, 1.0), None, "without a slope the mean is all there is");
}
