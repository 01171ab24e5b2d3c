//! A log of temperatures: readings in order, and what lies between them.

use serde::Serialize;

use super::{GIVE_TEMPERATURE, is_temperature};
use crate::reason::{Error, InvalidInput, Reason};

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TemperatureReading {
    /// When, in days on any scale.
    pub day: f64,
    /// The temperature, in °C.
    pub temperature_c: f64,
}

/// Readings in strict order of time, at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct TemperatureLog {
    readings: Vec<TemperatureReading>,
}

/// A stretch without readings for longer than was allowed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Gap {
    /// The last reading before it, in days.
    pub from_day: f64,
    /// The first reading after it, in days.
    pub to_day: f64,
}

/// Between two readings, or between a reading and a moment: the temperature at both ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Segment {
    pub from_day: f64,
    pub to_day: f64,
    pub from_c: f64,
    pub to_c: f64,
    /// How long the two readings around it lie apart, in days.
    pub apart_days: f64,
    /// The earlier of the two, in °C.
    pub read_c: f64,
    /// The colder and the warmer of the two, in °C.
    pub bounds_c: (f64, f64),
}

impl TemperatureLog {
    /// Checks the readings.
    ///
    /// Fails with [`InvalidInput`] naming the row when a day is not finite or not after the one
    /// before, or a temperature cannot be water's; with [`Reason::NoData`] without readings.
    pub fn new(readings: Vec<TemperatureReading>) -> Result<TemperatureLog, Error> {
        let mut before = f64::NEG_INFINITY;
        for (row, reading) in readings.iter().enumerate() {
            let TemperatureReading { day, temperature_c } = *reading;
            if !day.is_finite() {
                return Err(InvalidInput::RowQuantity { row, field: "day", found: day, give: "a finite number of days" }.into());
            }
            if day <= before {
                return Err(InvalidInput::RowNotLater { row, day, before }.into());
            }
            if !is_temperature(temperature_c) {
                return Err(InvalidInput::RowQuantity { row, field: "temperature_c", found: temperature_c, give: GIVE_TEMPERATURE }.into());
            }
            before = day;
        }
        if readings.is_empty() {
            return Err(Reason::NoData.into());
        }
        Ok(TemperatureLog { readings })
    }

    /// The readings, in order.
    pub fn readings(&self) -> &[TemperatureReading] {
        &self.readings
    }

    /// When the first reading was taken, in days.
    pub fn begins_day(&self) -> f64 {
        self.readings[0].day
    }

    /// When the last reading was taken, in days.
    pub fn ends_day(&self) -> f64 {
        self.readings[self.readings.len() - 1].day
    }

    /// The segments from a moment to the last reading. Before the first reading its temperature
    /// holds.
    pub(crate) fn segments_from(&self, day: f64) -> impl Iterator<Item = Segment> + '_ {
        let first = self.readings[0];
        let early = (day < first.day).then_some(Segment {
            from_day: day,
            to_day: first.day,
            from_c: first.temperature_c,
            to_c: first.temperature_c,
            apart_days: first.day - day,
            read_c: first.temperature_c,
            bounds_c: (first.temperature_c, first.temperature_c),
        });
        let begun = self.readings.partition_point(|reading| reading.day <= day).saturating_sub(1);
        let later = self.readings[begun..].windows(2).map(move |pair| Segment::between(pair[0], pair[1], day));
        early.into_iter().chain(later)
    }

    /// Stretches from a moment to another in which readings lie farther apart than allowed; those
    /// that touch are one.
    pub(crate) fn gaps(&self, from_day: f64, to_day: f64, gap_days_max: f64) -> Vec<Gap> {
        let mut gaps: Vec<Gap> = Vec::new();
        let wide = |segment: &Segment| segment.apart_days > gap_days_max && segment.from_day >= self.begins_day();
        for segment in self.segments_from(from_day).take_while(|s| s.from_day < to_day).filter(wide) {
            match gaps.last_mut() {
                Some(last) if last.to_day == segment.from_day => last.to_day = segment.to_day,
                _ => gaps.push(Gap { from_day: segment.from_day, to_day: segment.to_day }),
            }
        }
        gaps
    }
}

impl Segment {
    /// What lies between two readings, from `day` on if that is later.
    pub(crate) fn between(first: TemperatureReading, second: TemperatureReading, day: f64) -> Segment {
        let (a, b) = (first.temperature_c, second.temperature_c);
        let apart_days = second.day - first.day;
        let from_day = first.day.max(day);
        let part = (from_day - first.day) / apart_days;
        Segment { from_day, to_day: second.day, from_c: a + (b - a) * part, to_c: b, apart_days, read_c: a, bounds_c: (a.min(b), a.max(b)) }
    }

    /// The part up to `day`, which lies in it.
    pub fn until(self, day: f64) -> Segment {
        let part = (day - self.from_day) / (self.to_day - self.from_day);
        Segment { to_day: day, to_c: self.from_c + (self.to_c - self.from_c) * part, ..self }
    }

    /// The same at one temperature throughout.
    pub fn held_at(self, temperature_c: f64) -> Segment {
        Segment { from_c: temperature_c, to_c: temperature_c, ..self }
    }

    pub fn days(&self) -> f64 {
        self.to_day - self.from_day
    }
}
