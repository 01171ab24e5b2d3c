//! The water of a year in summary: for each system or tank, measure and basis, how many readings and
//! their least, middle and greatest. Readings on different bases are never put together.

use super::material::{Material, Span};
use crate::domain::state::WaterReading;
use crate::report::numbers::{WATER_DECIMALS, is_none, rounded};
use selachron_schemas::names::Subject;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// One line of the summary. Values have 3 decimals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WaterLine {
    /// `system` or `tank`.
    pub of: String,
    /// Its label.
    pub label: String,
    /// What was measured.
    pub measure: String,
    /// Unit; empty for pH and salinity.
    pub unit: String,
    /// Basis: the scale, or what the mass is of.
    pub basis: String,
    /// Readings.
    pub readings: u64,
    /// Instruments that took them.
    pub instruments: u64,
    /// Least.
    pub min: f64,
    /// Middle one, or the mean of the two middle ones.
    pub median: f64,
    /// Greatest.
    pub max: f64,
    /// Of the readings: past the calibration of their instrument, and counted all the same.
    #[serde(default, skip_serializing_if = "is_none")]
    pub hollow: u64,
}

/// A measure: its place in the printed order, its name and its unit.
type Measure = (u8, &'static str, &'static str);

/// The values of a reading, with their bases.
fn values(reading: &WaterReading) -> Vec<(Measure, String, f64)> {
    let scale = |scale: &Option<String>| scale.clone().unwrap_or_else(|| "scale not stated".to_owned());
    let as_nitrogen = || "as nitrogen".to_owned();
    let found = [
        ((0, "temperature", "°C"), scale(&reading.temperature_scale), reading.temperature_c),
        ((1, "salinity", ""), "practical salinity scale".to_owned(), reading.salinity_psu),
        ((2, "pH", ""), scale(&reading.ph_scale), reading.ph),
        ((3, "total ammonia", "mg/L"), as_nitrogen(), reading.ammonia_total_mg_l_n),
        ((4, "nitrite", "mg/L"), as_nitrogen(), reading.nitrite_mg_l_n),
        ((5, "nitrate", "mg/L"), as_nitrogen(), reading.nitrate_mg_l_n),
        ((6, "oxygen", "mg/L"), "dissolved".to_owned(), reading.oxygen_mg_l),
        ((7, "oxygen", "%"), "of saturation".to_owned(), reading.oxygen_percent),
    ];
    found.into_iter().filter_map(|(measure, basis, value)| Some((measure, basis, value?))).collect()
}

/// The summary of the readings in that span: systems first, then tanks with readings of their own.
#[must_use]
pub fn water(material: &Material, span: Span) -> Vec<WaterLine> {
    groups(material, span).into_iter().map(|(group, taken)| group.line(&taken)).collect()
}

/// A reading that a line counts.
pub(super) struct Taken<'m> {
    pub of: &'m Subject,
    pub reading: &'m WaterReading,
    pub value: f64,
}

/// The lines of the summary, each with its readings.
pub(super) fn water_with_readings(material: &Material, span: Span) -> Vec<(WaterLine, Vec<Taken<'_>>)> {
    groups(material, span).into_iter().map(|(group, taken)| (group.line(&taken), taken)).collect()
}

/// Members of a line that are told by numbers.
pub const WATER_CELLS: [&str; 5] = ["readings", "instruments", "min", "median", "max"];

impl WaterLine {
    /// The name of its cells: its place, measure and basis.
    #[must_use]
    pub fn path(&self) -> String {
        format!("water/{} {}/{}/{}", self.of, self.label, self.measure, self.basis)
    }

    /// A cell of it by its name.
    #[must_use]
    pub fn cell(&self, name: &str) -> Option<f64> {
        let values = [self.readings as f64, self.instruments as f64, self.min, self.median, self.max];
        WATER_CELLS.iter().position(|cell| *cell == name).map(|at| values[at])
    }
}

fn groups(material: &Material, span: Span) -> BTreeMap<Group<'_>, Vec<Taken<'_>>> {
    let mut groups: BTreeMap<Group, Vec<Taken>> = BTreeMap::new();
    let in_span = |reading: &WaterReading| reading.when.is_some_and(|when| span.has(when.time));
    for (of, reading) in material.readings.iter().filter(|(_, reading)| in_span(reading)) {
        for (measure, basis, value) in values(reading) {
            let group = Group { noun: of.noun(), label: label(material, of), of, measure, basis };
            groups.entry(group).or_default().push(Taken { of, reading, value });
        }
    }
    groups
}

/// Readings that may be put together, in printed order (`system` sorts before `tank`).
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Group<'a> {
    noun: &'a str,
    label: String,
    of: &'a Subject,
    measure: Measure,
    basis: String,
}

impl Group<'_> {
    fn line(self, taken: &[Taken]) -> WaterLine {
        let instruments: BTreeSet<&str> = taken.iter().map(|taken| taken.reading.instrument.as_str()).collect();
        let mut values: Vec<f64> = taken.iter().map(|taken| taken.value).collect();
        values.sort_by(f64::total_cmp);
        let middle = values.len() / 2;
        let median = if values.len() % 2 == 1 { values[middle] } else { (values[middle - 1] + values[middle]) / 2.0 };
        let told = |value| rounded(value, WATER_DECIMALS);
        let (_, measure, unit) = self.measure;
        WaterLine {
            of: self.noun.to_owned(),
            label: self.label,
            measure: measure.to_owned(),
            unit: unit.to_owned(),
            basis: self.basis,
            readings: values.len() as u64,
            instruments: instruments.len() as u64,
            min: told(values[0]),
            median: told(median),
            max: told(values[values.len() - 1]),
            hollow: taken.iter().filter(|taken| taken.reading.hollow == Some(true)).count() as u64,
        }
    }
}

fn label(material: &Material, of: &Subject) -> String {
    let system = material.systems.iter().find(|system| &system.id == of).map(|system| system.label.clone());
    let tank = || material.tanks.iter().find(|tank| &tank.id == of).map(|tank| tank.label.clone());
    system.or_else(tank).unwrap_or_else(|| of.to_string())
}
