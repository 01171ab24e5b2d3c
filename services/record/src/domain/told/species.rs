//! What the listing of a species says. The schema describes the members.

use super::super::state::{Incubation, IncubationPoint, SlitsFraction, ThermalSumListed};
use super::super::whole::whole;
use serde::Deserialize;
use std::collections::BTreeMap;

/// `species.listed.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct SpeciesListed {
    pub scientific_name: String,
    pub common_name: String,
    pub length_basis: String,
    pub case_shape: Option<String>,
    #[serde(default, deserialize_with = "whole")]
    pub embryos_per_case_max: Option<u32>,
    pub incubation: Option<Incubation>,
    #[serde(default)]
    pub incubation_points: Vec<IncubationPoint>,
    pub incubation_thermal_sum: Option<ThermalSumListed>,
    pub slits_open_fraction: Option<SlitsFraction>,
    #[serde(default)]
    pub band_fraction: BTreeMap<String, (f64, f64)>,
    #[serde(default, deserialize_with = "whole")]
    pub not_seen_to_eat_days: Option<u32>,
    #[serde(default, deserialize_with = "whole")]
    pub first_embryo_seen_day: Option<u32>,
}
