//! The water of a year in summary: for each system or tank, measure and basis, how many readings and
//! their least, middle and greatest. Readings on different bases are never put together.

use super::material::{Material, Span};
use crate::domain::state::WaterReading;
use crate::report::numbers::{WATER_DECIMALS, rounded};
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
    let mut groups: BTreeMap<Group, (Vec<f64>, BTreeSet<&str>)> = BTreeMap::new();
    let in_span = |reading: &WaterReading| reading.when.is_some_and(|when| span.has(when.time));
    for (of, reading) in material.readings.iter().filter(|(_, reading)| in_span(reading)) {
        for (measure, basis, value) in values(reading) {
            let group = Group { noun: of.noun(), label: label(material, of), of, measure, basis };
            let (all, instruments) = groups.entry(group).or_default();
            all.push(value);
            instruments.insert(&reading.instrument);
        }
    }
    groups.into_iter().map(|(group, (values, instruments))| group.line(values, instruments.len())).collect()
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
    fn line(self, mut values: Vec<f64>, instruments: usize) -> WaterLine {
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
            instruments: instruments as u64,
            min: told(values[0]),
            median: told(median),
            max: told(values[values.len() - 1]),
        }
    }
}

fn label(material: &Material, of: &Subject) -> String {
    let system = material.systems.iter().find(|system| &system.id == of).map(|system| system.label.clone());
    let tank = || material.tanks.iter().find(|tank| &tank.id == of).map(|tank| tank.label.clone());
    system.or_else(tank).unwrap_or_else(|| of.to_string())
}
