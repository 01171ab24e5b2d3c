//! Development along a log of temperatures: the rate added up, hatching expected where it reaches 1.
//!
//! Temperatures run straight from reading to reading. The thermal sum is cut where the line crosses
//! the threshold and is then exact; Q10 has a closed form; Arrhenius is summed by Gauss and Legendre.
//! The mean temperature put into a convex rate would say too little (Jensen; Worner 1992 Environ
//! Entomol 21:689; Ruel & Ayres 1999 TREE 14:361). Nothing is extrapolated past the last reading: an
//! egg not due by then has a fraction.

use serde::Serialize;

use super::fit::per_ev;
use super::log::{Gap, Segment, TemperatureLog};
use super::{GIVE_DAYS, GIVE_TEMPERATURE, is_positive, is_temperature};
use crate::reason::{Error, InvalidInput, Reason};

/// Part by which sums of the same parts, taken in another order, may differ.
const SUM_ROUNDING: f64 = 16.0 * f64::EPSILON;

/// Readings farther apart than this are a gap unless the caller says otherwise, in days: 6 hours.
pub const GAP_DAYS_DEFAULT: f64 = 0.25;

/// Halvings to find the moment in a segment: beyond the digits of a day.
const HALVINGS: u32 = 64;

/// Nodes and weights of Gauss and Legendre on [-1, 1], the positive half of 16 (Abramowitz & Stegun
/// table 25.4).
const GAUSS_LEGENDRE: [(f64, f64); 8] = [
    (0.095_012_509_837_637_44, 0.189_450_610_455_068_5),
    (0.281_603_550_779_258_9, 0.182_603_415_044_923_58),
    (0.458_016_777_657_227_37, 0.169_156_519_395_002_54),
    (0.617_876_244_402_643_8, 0.149_595_988_816_576_74),
    (0.755_404_408_355_003, 0.124_628_971_255_533_88),
    (0.865_631_202_387_831_8, 0.095_158_511_682_492_79),
    (0.944_575_023_073_232_6, 0.062_253_523_938_647_894),
    (0.989_400_934_991_649_9, 0.027_152_459_411_754_096),
];

/// How fast an egg develops at a temperature, in 1/d.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rate {
    /// `max(0, T - T0)/K`.
    ThermalSum {
        /// The threshold, in °C.
        t0_c: f64,
        /// The thermal sum, in d °C.
        k_degree_days: f64,
    },
    /// `Q10^((T - T_ref)/10)/D_ref`.
    Q10 {
        /// The reference temperature, in °C.
        reference_c: f64,
        /// Days at it.
        reference_days: f64,
        /// How many times faster 10 °C warmer.
        q10: f64,
    },
    /// `exp(-Ea/kB (1/T - 1/T_ref))/D_ref`, temperatures in K.
    Arrhenius {
        /// The reference temperature, in °C.
        reference_c: f64,
        /// Days at it.
        reference_days: f64,
        /// Apparent activation energy, in eV.
        ea_ev: f64,
    },
}

/// What the temperature does between two readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Between {
    /// It runs straight from one to the other; the one to use.
    Linear,
    /// It stays as it was read until the next reading.
    HoldPrevious,
}

/// When an egg is expected to hatch, or how far it has come.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Forecast {
    /// When development began, in days of the log.
    pub start: f64,
    /// The day on which the sum reaches 1; nothing when the log ends before.
    pub hatch_day: Option<f64>,
    /// The sum at the last reading, when it stays below 1.
    pub fraction_at_end: Option<f64>,
    /// The day if every gap had been as warm as the warmer of its two readings.
    pub hatch_day_if_gaps_warm: Option<f64>,
    /// The day if every gap had been as cold as the colder of its two readings.
    pub hatch_day_if_gaps_cold: Option<f64>,
    /// Stretches between the start and the day (or the end) without readings for too long.
    pub gaps: Vec<Gap>,
    /// Days before the first reading, for which its temperature was taken.
    pub before_log_days: f64,
}

/// How gaps are filled.
#[derive(Clone, Copy)]
enum Filling {
    AsBetween,
    Warm,
    Cold,
}

impl TemperatureLog {
    /// When an egg whose development began at `start` is expected to hatch. Readings more than
    /// `gap_days_max` apart ([`GAP_DAYS_DEFAULT`]) are gaps: named, and bounded by the colder and the
    /// warmer of the readings around them.
    ///
    /// The day is a point of the model, not a promise: give it with a window, as the spread of the
    /// species asks for ([`TemperatureLog::day_reaching`] of `exp(-z s)` and `exp(z s)`).
    ///
    /// Fails with [`InvalidInput`] for parameters out of range and with
    /// [`Reason::AfterTemperatureLog`] for a start past the last reading.
    pub fn forecast(&self, rate: Rate, start: f64, between: Between, gap_days_max: f64) -> Result<Forecast, Error> {
        let rate = rate.checked()?;
        if !is_positive(gap_days_max) {
            return Err(InvalidInput::Quantity { field: "gap_days_max", found: gap_days_max, give: GIVE_DAYS }.into());
        }
        self.covers(start)?;
        let run = |filling| self.run(rate, start, 1.0, between, filling, gap_days_max);
        let found = run(Filling::AsBetween);
        Ok(Forecast {
            start,
            hatch_day: found.ok(),
            fraction_at_end: found.err(),
            hatch_day_if_gaps_warm: run(Filling::Warm).ok(),
            hatch_day_if_gaps_cold: run(Filling::Cold).ok(),
            gaps: self.gaps(start, found.unwrap_or(self.ends_day()), gap_days_max),
            before_log_days: (self.begins_day() - start).max(0.0),
        })
    }

    /// The day on which the sum from `start` reaches `fraction`; nothing when the log ends before.
    ///
    /// Fails as [`TemperatureLog::forecast`] does, and for a fraction that is not above 0.
    pub fn day_reaching(&self, rate: Rate, start: f64, fraction: f64, between: Between) -> Result<Option<f64>, Error> {
        let rate = rate.checked()?;
        if !is_positive(fraction) {
            return Err(InvalidInput::Quantity { field: "fraction", found: fraction, give: "a finite number above 0" }.into());
        }
        self.covers(start)?;
        Ok(self.run(rate, start, fraction, between, Filling::AsBetween, f64::INFINITY).ok())
    }

    /// Part of development done from `from_day` to `to_day`.
    ///
    /// Fails as [`TemperatureLog::forecast`] does, also for an end past the last reading or before
    /// the start.
    pub fn progress(&self, rate: Rate, from_day: f64, to_day: f64, between: Between) -> Result<f64, Error> {
        let rate = rate.checked()?;
        self.covers(from_day)?;
        self.covers(to_day)?;
        if to_day < from_day {
            return Err(InvalidInput::Quantity { field: "to_day", found: to_day, give: "a day not before from_day" }.into());
        }
        let until = |segment: Segment| if segment.to_day > to_day { segment.until(to_day) } else { segment };
        let parts = self.segments_from(from_day).take_while(|segment| segment.from_day < to_day);
        Ok(parts.map(|segment| rate.over(self.filled(until(segment), segment, between, Filling::AsBetween, f64::INFINITY))).sum())
    }

    /// Degree-days above a threshold from `from_day` to `to_day`, in d °C.
    ///
    /// Fails as [`TemperatureLog::progress`] does.
    pub fn degree_days(&self, t0_c: f64, from_day: f64, to_day: f64, between: Between) -> Result<f64, Error> {
        self.progress(Rate::ThermalSum { t0_c, k_degree_days: 1.0 }, from_day, to_day, between)
    }

    fn covers(&self, day: f64) -> Result<(), Error> {
        if !day.is_finite() {
            return Err(InvalidInput::Quantity { field: "start", found: day, give: "a finite number of days" }.into());
        }
        if day > self.ends_day() {
            return Err(Reason::AfterTemperatureLog { day, log_ends_day: self.ends_day() }.into());
        }
        Ok(())
    }

    /// The day on which the sum reaches `wanted`, or the sum at the end.
    fn run(&self, rate: Rate, start: f64, wanted: f64, between: Between, filling: Filling, gap_days_max: f64) -> Result<f64, f64> {
        // A sum of parts is off by its last bits: what it reaches but for those it has reached.
        let enough = wanted * (1.0 - SUM_ROUNDING);
        let mut done = 0.0;
        for segment in self.segments_from(start) {
            let to = |day: f64| rate.over(self.filled(segment.until(day), segment, between, filling, gap_days_max));
            let more = rate.over(self.filled(segment, segment, between, filling, gap_days_max));
            if more > 0.0 && done + more >= enough {
                return Ok(reached(segment, enough - done, to));
            }
            done += more;
        }
        Err(done)
    }

    /// The temperatures of a part of a segment.
    fn filled(&self, part: Segment, whole: Segment, between: Between, filling: Filling, gap_days_max: f64) -> Segment {
        let is_gap = whole.apart_days > gap_days_max;
        match (filling, between) {
            (Filling::Warm, _) if is_gap => part.held_at(whole.bounds_c.1),
            (Filling::Cold, _) if is_gap => part.held_at(whole.bounds_c.0),
            (_, Between::Linear) => part,
            (_, Between::HoldPrevious) => part.held_at(whole.read_c),
        }
    }
}

/// The moment in a segment at which it has brought so much.
fn reached(segment: Segment, wanted: f64, brought_by: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (segment.from_day, segment.to_day);
    for _ in 0..HALVINGS {
        let middle = low + (high - low) / 2.0;
        if brought_by(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

impl Rate {
    /// The rate at a temperature, in 1/d.
    pub fn at(&self, temperature_c: f64) -> f64 {
        match *self {
            Rate::ThermalSum { t0_c, k_degree_days } => (temperature_c - t0_c).max(0.0) / k_degree_days,
            Rate::Q10 { reference_c, reference_days, q10 } => {
                libm::exp(libm::log(q10) * (temperature_c - reference_c) / 10.0) / reference_days
            }
            Rate::Arrhenius { reference_c, reference_days, ea_ev } => {
                libm::exp(-ea_ev * (per_ev(temperature_c) - per_ev(reference_c))) / reference_days
            }
        }
    }

    fn checked(self) -> Result<Rate, InvalidInput> {
        let temperature = |field, found| match is_temperature(found) {
            true => Ok(()),
            false => Err(InvalidInput::Quantity { field, found, give: GIVE_TEMPERATURE }),
        };
        let positive = |field, found, give| match is_positive(found) {
            true => Ok(()),
            false => Err(InvalidInput::Quantity { field, found, give }),
        };
        match self {
            Rate::ThermalSum { t0_c, k_degree_days } => {
                if !t0_c.is_finite() {
                    return Err(InvalidInput::Quantity { field: "t0_c", found: t0_c, give: "a finite temperature in °C" });
                }
                positive("k_degree_days", k_degree_days, "degree-days above 0")?;
            }
            Rate::Q10 { reference_c, reference_days, q10 } => {
                temperature("reference_c", reference_c)?;
                positive("reference_days", reference_days, GIVE_DAYS)?;
                positive("q10", q10, "a number above 0, such as 2")?;
            }
            Rate::Arrhenius { reference_c, reference_days, ea_ev } => {
                temperature("reference_c", reference_c)?;
                positive("reference_days", reference_days, GIVE_DAYS)?;
                positive("ea_ev", ea_ev, "an energy in eV above 0, such as 0.65")?;
            }
        }
        Ok(self)
    }

    /// Part of development done in a segment whose temperature runs straight.
    pub(crate) fn over(&self, segment: Segment) -> f64 {
        let days = segment.days();
        let (from, to) = (segment.from_c, segment.to_c);
        if from == to {
            return self.at(from) * days;
        }
        match *self {
            Rate::ThermalSum { t0_c, k_degree_days } => days * mean_above(from - t0_c, to - t0_c) / k_degree_days,
            Rate::Q10 { q10, .. } => {
                // The mean of an exponential between its ends.
                let steps = libm::log(q10) * (to - from) / 10.0;
                let mean = if steps == 0.0 { 1.0 } else { libm::expm1(steps) / steps };
                self.at(from) * mean * days
            }
            Rate::Arrhenius { .. } => {
                let (centre, half) = ((from + to) / 2.0, (to - from) / 2.0);
                let both = |(node, weight): &(f64, f64)| weight * (self.at(centre - half * node) + self.at(centre + half * node));
                days * GAUSS_LEGENDRE.iter().map(both).sum::<f64>() / 2.0
            }
        }
    }
}

/// Mean of `max(0, x)` as `x` runs straight from `from` to `to`, which differ.
fn mean_above(from: f64, to: f64) -> f64 {
    let (low, high) = (from.min(to), from.max(to));
    if low >= 0.0 {
        return (low + high) / 2.0;
    }
    let above = high.max(0.0);
    above * above / (2.0 * (high - low))
}
