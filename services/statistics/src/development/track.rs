//! One water's readings under one law, summed up once for everybody in it.

use super::law::Law;
use super::normal::THREE;
use crate::incubation::{Gap, Rate, Segment, TemperatureLog, TemperatureReading};

/// How readings are taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Readings farther apart than this are a gap, bounded by the colder and the warmer of the two
    /// around it, in days.
    pub gap_days_max: f64,
    /// The water ahead is the mean of so many last days of readings.
    pub ahead_days: f64,
    /// Smallest deviation of the temperature ahead, in °C.
    pub ahead_sd_c_min: f64,
    /// Part of the time so far that may lie outside the temperatures of the law.
    pub outside_share_max: f64,
}

impl Default for Settings {
    /// A reading and a half a day apart at most; a week; half a degree; one twentieth
    /// (conventions of this project).
    fn default() -> Self {
        Self { gap_days_max: 1.5, ahead_days: 7.0, ahead_sd_c_min: 0.5, outside_share_max: 0.05 }
    }
}

/// What gaps are filled with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Filling {
    /// A straight line from reading to reading.
    Straight,
    /// The warmer of the two readings around the gap.
    Warm,
    /// The colder.
    Cold,
}

const FILLINGS: [Filling; 3] = [Filling::Straight, Filling::Warm, Filling::Cold];

/// The water after the last reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ahead {
    /// Mean of the last readings, in °C.
    pub mean_c: f64,
    /// Its deviation, in °C.
    pub sd_c: f64,
}

/// Most rates of a law: the nodes of its slope.
const RATES_MAX: usize = 3;

/// Sums by rate and by node of the uncertainty of the water ahead.
pub(super) type Sums = [[f64; 3]; RATES_MAX];

/// Readings of one water, and what they add up to under one law.
#[derive(Clone, Debug)]
pub struct Track {
    log: TemperatureLog,
    rates: Vec<(Rate, f64)>,
    /// Development by each reading since the first: by filling, then by rate.
    sums: [Vec<Vec<f64>>; 3],
    /// Degree-days by each reading since the first, and days outside the law's temperatures.
    degree_days: Vec<f64>,
    outside_days: Vec<f64>,
    /// The water ahead, and the rates in it by rate and by node of its uncertainty.
    ahead: Ahead,
    ahead_rates: Vec<[f64; 3]>,
    range_c: (f64, f64),
    /// The settings it was made with.
    pub settings: Settings,
}

impl Track {
    /// Sums up a log under a law.
    #[must_use]
    pub fn new(log: TemperatureLog, law: &Law, settings: Settings) -> Track {
        let rates = law.rates();
        let segments: Vec<Segment> = log.readings().windows(2).map(|pair| Segment::between(pair[0], pair[1], pair[0].day)).collect();
        let sum = |part: &dyn Fn(&Segment) -> f64| {
            let begun = std::iter::once(0.0);
            begun
                .chain(segments.iter().scan(0.0, |sum, segment| {
                    *sum += part(segment);
                    Some(*sum)
                }))
                .collect::<Vec<f64>>()
        };
        let gap = settings.gap_days_max;
        let by_rate = |filling: Filling| rates.iter().map(|(rate, _)| sum(&|segment| rate.over(filled(*segment, filling, gap)))).collect();
        let sums = FILLINGS.map(by_rate);
        let (low, high) = (law.low_c, law.high_c);
        let degree_days = sum(&|segment| segment.days() * (segment.from_c + segment.to_c) / 2.0);
        let outside_days = sum(&|segment| segment.days() * part_outside(segment, low, high));
        let ahead = ahead(&log, &degree_days, settings);
        let slowed = |rate: &Rate| THREE.map(|(z, _)| rate.at(ahead.mean_c + z * ahead.sd_c));
        let ahead_rates = rates.iter().map(|(rate, _)| slowed(rate)).collect();
        Track { log, rates, sums, degree_days, outside_days, ahead, ahead_rates, range_c: (low, high), settings }
    }

    /// The rates and their weights.
    #[must_use]
    pub fn rates(&self) -> &[(Rate, f64)] {
        &self.rates
    }

    /// The water after the last reading.
    #[must_use]
    pub fn ahead(&self) -> Ahead {
        self.ahead
    }

    /// The readings.
    #[must_use]
    pub fn log(&self) -> &TemperatureLog {
        &self.log
    }

    /// Development from the first reading to `day`, by rate and by node of the uncertainty of the
    /// water ahead, which is held after the last reading; below 0 before the first.
    pub(super) fn sums_to(&self, filling: Filling, day: f64) -> Sums {
        let sums = &self.sums[filling as usize];
        let mut all = [[0.0; 3]; RATES_MAX];
        match self.place(day) {
            Place::Before(first) => self.each_rate(&mut all, |_, of| -(first.day - day) * of.at(first.temperature_c)),
            Place::After(last) => {
                let ended = |rate: usize, node: usize| sums[rate][sums[rate].len() - 1] + (day - last.day) * self.ahead_rates[rate][node];
                all.iter_mut()
                    .enumerate()
                    .take(self.rates.len())
                    .for_each(|(rate, nodes)| *nodes = [0, 1, 2].map(|node| ended(rate, node)));
            }
            Place::Within(at, segment) => {
                let part = filled_part(segment, day, filling, self.settings.gap_days_max);
                self.each_rate(&mut all, |rate, of| sums[rate][at] + of.over(part));
            }
        }
        all
    }

    fn each_rate(&self, all: &mut Sums, of: impl Fn(usize, &Rate) -> f64) {
        self.rates.iter().enumerate().for_each(|(at, (rate, _))| all[at] = [of(at, rate); 3]);
    }

    /// Degree-days and days outside the law's temperatures, from one day to another.
    pub(super) fn warmth(&self, from_day: f64, to_day: f64) -> (f64, f64) {
        let (from, to) = (self.warmth_to(from_day), self.warmth_to(to_day));
        (to.0 - from.0, to.1 - from.1)
    }

    fn warmth_to(&self, day: f64) -> (f64, f64) {
        let held = |days: f64, temperature_c: f64| (days * temperature_c, if self.covers(temperature_c) { 0.0 } else { days });
        match self.place(day) {
            Place::Before(first) => held(day - first.day, first.temperature_c),
            Place::After(last) => {
                let (degree_days, outside) = held(day - last.day, self.ahead.mean_c);
                let end = self.degree_days.len() - 1;
                (self.degree_days[end] + degree_days, self.outside_days[end] + outside)
            }
            Place::Within(at, segment) => {
                let part = segment.until(day);
                let outside = part.days() * part_outside(&part, self.range_c.0, self.range_c.1);
                (self.degree_days[at] + part.days() * (part.from_c + part.to_c) / 2.0, self.outside_days[at] + outside)
            }
        }
    }

    /// Whether the law is known for this temperature.
    pub(super) fn covers(&self, temperature_c: f64) -> bool {
        (self.range_c.0..=self.range_c.1).contains(&temperature_c)
    }

    /// Stretches without readings for too long, from one day to another.
    pub(super) fn gaps(&self, from_day: f64, to_day: f64) -> Vec<Gap> {
        self.log.gaps(from_day, to_day, self.settings.gap_days_max)
    }

    fn place(&self, day: f64) -> Place {
        let readings = self.log.readings();
        let after = readings.partition_point(|reading| reading.day <= day);
        match after {
            0 => Place::Before(readings[0]),
            all if all == readings.len() => Place::After(readings[all - 1]),
            at => Place::Within(at - 1, Segment::between(readings[at - 1], readings[at], readings[at - 1].day)),
        }
    }
}

enum Place {
    Before(TemperatureReading),
    Within(usize, Segment),
    After(TemperatureReading),
}

fn filled(segment: Segment, filling: Filling, gap_days_max: f64) -> Segment {
    match filling {
        Filling::Warm if segment.apart_days > gap_days_max => segment.held_at(segment.bounds_c.1),
        Filling::Cold if segment.apart_days > gap_days_max => segment.held_at(segment.bounds_c.0),
        _ => segment,
    }
}

fn filled_part(segment: Segment, day: f64, filling: Filling, gap_days_max: f64) -> Segment {
    filled(segment.until(day), filling, gap_days_max)
}

/// Part of a segment in which the temperature lies outside a range.
fn part_outside(segment: &Segment, low_c: f64, high_c: f64) -> f64 {
    let (low, high) = (segment.from_c.min(segment.to_c), segment.from_c.max(segment.to_c));
    if high == low {
        return if (low_c..=high_c).contains(&low) { 0.0 } else { 1.0 };
    }
    let inside = (high.min(high_c) - low.max(low_c)).max(0.0);
    1.0 - inside / (high - low)
}

/// Mean of the last days by time, and how far readings scatter about it.
fn ahead(log: &TemperatureLog, degree_days: &[f64], settings: Settings) -> Ahead {
    let readings = log.readings();
    let since = log.ends_day() - settings.ahead_days;
    let first = readings.partition_point(|reading| reading.day < since).min(readings.len() - 1);
    let (days, recent) = (log.ends_day() - readings[first].day, &readings[first..]);
    let mean_c = match days > 0.0 {
        true => (degree_days[degree_days.len() - 1] - degree_days[first]) / days,
        false => readings[first].temperature_c,
    };
    let scatter = recent.iter().map(|reading| (reading.temperature_c - mean_c) * (reading.temperature_c - mean_c)).sum::<f64>();
    Ahead { mean_c, sd_c: (scatter / recent.len() as f64).sqrt().max(settings.ahead_sd_c_min) }
}
