//! The temperatures of a water, as a system's or a tank's own readings tell them. What is left out
//! is named: readings from before the water existed, and readings far off those around them.

use crate::domain::state::{EventId, WaterReading};
use crate::domain::told::Told;
use crate::domain::view::View;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use selachron_statistics::incubation::{TemperatureLog, TemperatureReading};
use selachron_statistics::water::temperature::Temperature;

/// A reading so far from both its neighbours is no water's, in °C (a convention of this project).
const FAR_C: f64 = 5.0;

/// If these agree so well among themselves, in °C (a convention of this project).
const NEAR_C: f64 = 2.0;

/// A temperature that was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Read {
    pub time: Instant,
    /// In °C, ITS-90.
    pub temperature_c: f64,
    pub event: EventId,
}

/// A water with its readings.
pub(super) struct Water {
    pub id: Subject,
    /// What is used, in order of time; readings of one moment are one, their mean.
    pub read: Vec<Read>,
    pub log: Option<TemperatureLog>,
    /// Readings from before it existed.
    pub early: Vec<EventId>,
    /// Readings far off those around them.
    pub far_off: Vec<EventId>,
    /// Readings past the calibration of their instrument.
    pub hollow: Vec<EventId>,
}

impl Water {
    /// Whether it was read between two moments.
    pub fn is_read(&self, from: Instant, to: Option<Instant>) -> bool {
        let at = self.read.partition_point(|read| read.time < from);
        self.read.get(at).is_some_and(|read| to.is_none_or(|to| read.time <= to))
    }

    /// How many readings lie between two moments.
    pub fn count(&self, from: Instant, to: Option<Instant>) -> usize {
        self.read.iter().filter(|read| from <= read.time && to.is_none_or(|to| read.time <= to)).count()
    }
}

impl View<'_> {
    /// The readings of a water, sorted out.
    pub(super) fn water_read(&self, id: &Subject) -> Water {
        let (mut read, hollow) = self.temperatures(id);
        let since = self.creations(id).first().map(|fact| fact.time());
        let (early, rest): (Vec<Read>, Vec<Read>) = read.drain(..).partition(|read| since.is_some_and(|since| read.time < since));
        let (read, far_off) = without_far_off(&merged(rest));
        let readings = read.iter().map(|read| TemperatureReading { day: super::days(read.time), temperature_c: read.temperature_c });
        let log = TemperatureLog::new(readings.collect()).ok();
        let events = |read: &[Read]| read.iter().map(|read| read.event).collect();
        Water { id: id.clone(), early: events(&early), far_off: events(&far_off), hollow, read, log }
    }

    /// Every temperature that was read of a water, in order of time, and which are hollow.
    fn temperatures(&self, id: &Subject) -> (Vec<Read>, Vec<EventId>) {
        let mentions = self.nursery().index().mentions.get(id);
        let known = mentions.into_iter().flat_map(|mentions| &mentions.routine).filter(|mention| mention.since < self.known_at());
        let facts = known.filter_map(|mention| self.fact(mention.seq)).filter(|fact| fact.subject() == id);
        let (mut read, mut hollow) = (Vec::new(), Vec::new());
        for fact in facts {
            let Told::WaterMeasured(told) = fact.told() else { continue };
            let Some(temperature_c) = t90(told) else { continue };
            read.push(Read { time: fact.time(), temperature_c, event: fact.note.id });
            if self.hollow(&told.instrument, fact.time()) == Some(true) {
                hollow.push(fact.note.id);
            }
        }
        read.sort_by_key(|read| (read.time, read.event));
        (read, hollow)
    }
}

/// The temperature on the scale of today.
fn t90(told: &WaterReading) -> Option<f64> {
    let shown = told.temperature_c?;
    let temperature = match told.temperature_scale.as_deref() {
        Some("IPTS-68") => Temperature::ipts68(shown),
        _ => Temperature::its90(shown),
    };
    temperature.ok().map(Temperature::t90)
}

/// Readings of one moment become one.
fn merged(read: Vec<Read>) -> Vec<Read> {
    let mut merged: Vec<(Read, f64)> = Vec::new();
    for one in read {
        match merged.last_mut().filter(|(last, _)| last.time == one.time) {
            Some((last, n)) => {
                *n += 1.0;
                last.temperature_c += (one.temperature_c - last.temperature_c) / *n;
            }
            None => merged.push((one, 1.0)),
        }
    }
    merged.into_iter().map(|(read, _)| read).collect()
}

/// A lone reading far off two neighbours that agree is a slip: of a digit, a decimal point or a
/// unit.
fn without_far_off(read: &[Read]) -> (Vec<Read>, Vec<Read>) {
    let far = |at: usize| {
        let (Some(before), Some(after)) = (at.checked_sub(1).and_then(|before| read.get(before)), read.get(at + 1)) else { return false };
        let off = |other: &Read| (read[at].temperature_c - other.temperature_c).abs() > FAR_C;
        off(before) && off(after) && (before.temperature_c - after.temperature_c).abs() <= NEAR_C
    };
    let of = |is_far: bool| read.iter().enumerate().filter(|(at, _)| far(*at) == is_far).map(|(_, read)| *read).collect();
    (of(false), of(true))
}
