//! Simulated seasons of which the truth is known: tanks with daily readings, cases laid in them,
//! weekly looks. What the model believes and what is true are two things here, so that they may
//! differ.

#![allow(dead_code, reason = "a bench and a test each use a part")]

use selachron_statistics::development::{Band, Bands, Case, Law, Look, Point, Settings, Sighting, Stay, Track};
use selachron_statistics::incubation::{TemperatureLog, TemperatureReading};

/// Days that are simulated.
pub const SEASON_DAYS: usize = 420;
/// Cases of a season.
pub const CASES: usize = 40;
/// Days between looks.
pub const LOOK_DAYS: f64 = 7.0;

/// How the truth differs from what the model believes.
#[derive(Clone, Copy, Debug)]
pub struct Misfit {
    pub name: &'static str,
    /// Added to the true slope of the logarithm of the rate, per °C.
    pub slope_off_per_c: f64,
    /// What the tank drifts by over the season, in °C; the probe reads it, nobody foresees it.
    pub tank_drift_c: f64,
    /// What the probe reads too much at the end of the season, in °C; it drifts there from 0.
    pub probe_drift_c: f64,
    /// The case was laid so many days before its window of laying begins.
    pub laid_early_days: f64,
    /// The true coefficient of variation over the believed one.
    pub spread: f64,
}

/// The model is right.
pub const RIGHT: Misfit =
    Misfit { name: "model right", slope_off_per_c: 0.0, tank_drift_c: 0.0, probe_drift_c: 0.0, laid_early_days: 0.0, spread: 1.0 };

/// And wrong in several ways.
pub const MISFITS: [Misfit; 6] = [
    RIGHT,
    Misfit { name: "Q10 3.0, not 1.7", slope_off_per_c: 0.055, ..RIGHT },
    Misfit { name: "tank drifts by 3 °C", tank_drift_c: 3.0, ..RIGHT },
    Misfit { name: "probe drifts to +1 °C", probe_drift_c: 1.0, ..RIGHT },
    Misfit { name: "laid 10 d too early", laid_early_days: 10.0, ..RIGHT },
    Misfit { name: "spread twice as wide", spread: 2.0, ..RIGHT },
];

/// One number after the other, the same in every run.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Chance {
        let mut chance = Chance(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xD1B5_4A32_D192_ED03);
        for _ in 0..8 {
            chance.uniform();
        }
        chance
    }

    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        let (radius, angle) = ((-2.0 * libm::log(self.uniform())).sqrt(), 2.0 * std::f64::consts::PI * self.uniform());
        radius * libm::cos(angle)
    }
}

/// An invented species between 24.4 and 31 °C, by the published durations of *H. ocellatum* (Payne
/// 2012; Wheeler 2021 by its summary).
pub fn law() -> Law {
    let point = |temperature_c, low_c, high_c, days, sd_days, n| Point { temperature_c, low_c, high_c, days, sd_days, n };
    let points = [
        point(24.95, Some(24.4), Some(25.5), 140.3, Some(4.6), Some(7)),
        point(27.0, None, None, 125.0, None, None),
        point(31.0, None, None, 100.0, None, None),
    ];
    Law::of(&points).expect("a law")
}

/// The bands of the candling table (a convention of this project).
pub fn bands() -> Bands {
    let edges = [(0.0, 0.0), (0.0, 0.12), (0.12, 0.25), (0.22, 0.38), (0.38, 0.63), (0.60, 0.80), (0.75, 0.92), (0.90, 1.0)];
    let band = |(low, high): (f64, f64)| Band { low, high, lapse: 0.02 };
    Bands::new(&edges[1..].iter().copied().map(band).collect::<Vec<_>>(), 0.03)
}

/// A tank: what it had, and what was read.
pub struct Tank {
    pub truth: Vec<f64>,
    pub read: Vec<f64>,
}

impl Tank {
    pub fn new(chance: &mut Chance, misfit: Misfit) -> Tank {
        let mean = 25.5 + 3.0 * chance.uniform();
        let mut away = 0.0;
        let truth: Vec<f64> = (0..SEASON_DAYS)
            .map(|day| {
                away = 0.9 * away + 0.12 * chance.normal();
                mean + away + misfit.tank_drift_c * day as f64 / SEASON_DAYS as f64
            })
            .collect();
        let drift = |day: usize| misfit.probe_drift_c * day as f64 / SEASON_DAYS as f64;
        Tank { read: truth.iter().enumerate().map(|(day, truth)| truth + drift(day)).collect(), truth }
    }

    /// What was read by `day`, summed up.
    pub fn track(&self, law: &Law, day: f64) -> Track {
        Track::new(log(&self.read[..=(day as usize).min(SEASON_DAYS - 1)]), law, Settings::default())
    }
}

pub fn log(read: &[f64]) -> TemperatureLog {
    let readings =
        read.iter().enumerate().map(|(day, temperature_c)| TemperatureReading { day: day as f64, temperature_c: *temperature_c });
    TemperatureLog::new(readings.collect()).expect("readings")
}

/// A case: when it was laid and hatched, what is known of the laying, and what looks showed.
pub struct Egg {
    pub tank: usize,
    pub hatch_day: f64,
    pub window: (f64, f64),
    pub looks: Vec<Look>,
}

/// A season.
pub struct Season {
    pub law: Law,
    pub bands: Bands,
    pub tanks: Vec<Tank>,
    pub eggs: Vec<Egg>,
}

impl Season {
    pub fn new(seed: u64, misfit: Misfit) -> Season {
        let (mut chance, law, bands) = (Chance::new(seed), law(), bands());
        let tanks: Vec<Tank> = (0..4).map(|_| Tank::new(&mut chance, misfit)).collect();
        let slope = law.slope_per_c + misfit.slope_off_per_c + law.se_slope_per_c * chance.normal();
        let level = law.se_level * chance.normal();
        let eggs =
            (0..CASES).map(|number| egg(&mut chance, misfit, &law, &bands, (number % 4, &tanks[number % 4]), (slope, level))).collect();
        Season { law, bands, tanks, eggs }
    }

    /// What is told of a case on a day: with the readings and looks by then.
    pub fn told<T>(&self, egg: &Egg, day: f64, tell: impl FnOnce(&Case<'_>) -> T) -> T {
        let track = self.tanks[egg.tank].track(&self.law, day);
        let stays = [Stay { from_day: egg.window.0, track: &track }];
        let looks: Vec<Look> = egg.looks.iter().copied().filter(|look| look.day <= day).collect();
        let (begun_from_day, begun_to_day) = egg.window;
        tell(&Case { stays: &stays, begun_from_day, begun_to_day, now_day: day, looks: &looks, waiting_day: Some(day) })
    }
}

fn egg(chance: &mut Chance, misfit: Misfit, law: &Law, bands: &Bands, (tank, water): (usize, &Tank), (slope, level): (f64, f64)) -> Egg {
    let (width, from) = (1.0 + 6.0 * chance.uniform(), 5.0 + 60.0 * chance.uniform() + misfit.laid_early_days);
    let laid = from + width * chance.uniform() - misfit.laid_early_days;
    let individual = (libm::log1p(law.cv * law.cv)).sqrt() * misfit.spread * chance.normal();
    let needed = libm::exp(level + individual);
    let rate = |temperature_c: f64| libm::exp(slope * (temperature_c - law.reference_c)) / law.reference_days;
    // By the hour, so that the truth owes nothing to the code that is tried.
    let (mut done, mut hour, mut fractions) = (0.0, laid * 24.0, Vec::new());
    while done < needed {
        let at = (hour / 24.0).min((SEASON_DAYS - 2) as f64);
        let (day, part) = (at as usize, at.fract());
        done += rate(water.truth[day] * (1.0 - part) + water.truth[day + 1] * part) / 24.0;
        hour += 1.0;
        fractions.push(done / needed);
    }
    let hatch_day = hour / 24.0;
    let first = from + width + LOOK_DAYS * chance.uniform();
    let days = (0..).map(|look| first + LOOK_DAYS * f64::from(look)).take_while(|day| *day < hatch_day);
    let looks = days.map(|day| {
        let fraction = fractions[(((day - laid) * 24.0) as usize).min(fractions.len() - 1)];
        Look { day, saw: Sighting::Band(seen(chance, bands, fraction)) }
    });
    Egg { tank, hatch_day, window: (from, from + width), looks: looks.collect() }
}

/// A band by its likelihood.
fn seen(chance: &mut Chance, bands: &Bands, fraction: f64) -> usize {
    let mut left = chance.uniform();
    let mut likelihoods = (0..).map_while(|band| bands.likelihood(band, fraction));
    likelihoods
        .position(|likelihood| {
            left -= likelihood;
            left <= 0.0
        })
        .unwrap_or(6)
}

/// How often truth lay in the windows, and how wide they were.
#[derive(Clone, Debug, Default)]
pub struct Coverage {
    pub n: u32,
    pub in_50: u32,
    pub in_90: u32,
    pub widths: Vec<f64>,
    /// Asked without a window for an answer.
    pub without: u32,
}

impl Coverage {
    pub fn add(&mut self, truth: f64, window: &selachron_statistics::development::Window) {
        self.n += 1;
        self.in_50 += u32::from((window.p25_day..=window.p75_day).contains(&truth));
        self.in_90 += u32::from((window.p05_day..=window.p95_day).contains(&truth));
        self.widths.push(window.p95_day - window.p05_day);
    }

    pub fn part(&self, count: u32) -> f64 {
        f64::from(count) / f64::from(self.n.max(1))
    }

    pub fn median_width(&mut self) -> f64 {
        self.widths.sort_unstable_by(f64::total_cmp);
        self.widths.get(self.widths.len() / 2).copied().unwrap_or(f64::NAN)
    }
}
