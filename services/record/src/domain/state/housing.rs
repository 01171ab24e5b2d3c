//! Tanks, systems, species and house rules, as a reader sees them.

use super::care::Care;
use super::noted::Count;
use super::water::WaterBand;
use super::words::{EventId, Moment};
use crate::domain::discrepancy::Discrepancy;
use selachron_schemas::names::Subject;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// A tank, also an incubation tank or basket.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Tank {
    /// `tank/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// Label.
    pub label: String,
    /// `adults`, `incubation`, `nursery`, `rearing`, `display`, `quarantine`, `holding`.
    pub purpose: String,
    /// The system whose water it shares now.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub system: Option<Subject>,
    /// Volume of water in litres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume_l: Option<f64>,
    /// Since.
    pub set_up: Moment,
    /// Cases in it whose fate is open.
    #[schema(value_type = Vec<String>)]
    pub eggs: Vec<Subject>,
    /// Animals in it that are present.
    #[schema(value_type = Vec<String>)]
    pub animals: Vec<Subject>,
    /// Groups in it, of animals that cannot be told apart.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub groups: Vec<Subject>,
    /// Newest search for cases.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_search: Option<Search>,
    /// Newest reading of its own water.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_reading: Option<WaterReading>,
    /// What is done to it, and what is open about it.
    #[serde(flatten)]
    pub care: Care,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// A search of a tank for cases.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Search {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// Cases found.
    pub eggs_found: u64,
    /// The whole tank was searched.
    pub whole_tank: bool,
}

/// A reading of water, with unit and basis in the names (DOMAIN section 6).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WaterReading {
    /// When; set by the fold.
    #[serde(flatten, skip_deserializing)]
    pub when: Option<Moment>,
    /// Degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// `ITS-90` or `IPTS-68`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_scale: Option<String>,
    /// Practical salinity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub salinity_psu: Option<f64>,
    /// pH on `ph_scale`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph: Option<f64>,
    /// `NBS`, `total`, `free`, `unknown`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph_scale: Option<String>,
    /// Total ammonia as nitrogen, mg/L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ammonia_total_mg_l_n: Option<f64>,
    /// Nitrite as nitrogen, mg/L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nitrite_mg_l_n: Option<f64>,
    /// Nitrate as nitrogen, mg/L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nitrate_mg_l_n: Option<f64>,
    /// Oxygen, mg/L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oxygen_mg_l: Option<f64>,
    /// Oxygen, percent of saturation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oxygen_percent: Option<f64>,
    /// Barometric pressure, hPa.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pressure_hpa: Option<f64>,
    /// The instrument, in words.
    pub instrument: String,
    /// Past the instrument's calibration interval, or after it was taken out of use: to be shown
    /// hollow. Absent where no instrument of that label is known, or the house sets no interval.
    #[serde(skip_deserializing, skip_serializing_if = "Option::is_none")]
    pub hollow: Option<bool>,
    /// Where in the system.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub point: Option<String>,
}

/// A water system: tanks that share water.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct System {
    /// `system/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// Label.
    pub label: String,
    /// `tropical`, `temperate`, `cold`.
    pub water: String,
    /// Volume in litres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume_l: Option<f64>,
    /// Since.
    pub set_up: Moment,
    /// Its tanks.
    #[schema(value_type = Vec<String>)]
    pub tanks: Vec<Subject>,
    /// Newest reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_reading: Option<WaterReading>,
    /// What is done to it, and what is open about it.
    #[serde(flatten)]
    pub care: Care,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// A species as this collection lists it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Species {
    /// `species/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// Scientific name.
    pub scientific_name: String,
    /// Common name.
    pub common_name: String,
    /// `total` or `disc width`.
    pub length_basis: String,
    /// Form of the case.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub case_shape: Option<String>,
    /// Most embryos in one case.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub embryos_per_case_max: Option<u32>,
    /// How long incubation takes, at which temperatures, and who says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incubation: Option<Incubation>,
    /// Published durations, each with its source.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub incubation_points: Vec<IncubationPoint>,
    /// A thermal sum that a source states.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incubation_thermal_sum: Option<ThermalSumListed>,
    /// When the slits open, where a source or the house states it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slits_open_fraction: Option<SlitsFraction>,
    /// Fractions of incubation at which candling bands are seen, for bands that differ from the
    /// common table.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub band_fraction: BTreeMap<String, (f64, f64)>,
    /// Days without being seen to eat, counted from internal yolk used up if seen, else from
    /// hatch, after which a hatchling is on the due list. No default.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_seen_to_eat_days: Option<u32>,
    /// Day since laying from which an embryo should be seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_embryo_seen_day: Option<u32>,
    /// Since.
    pub listed: Moment,
    /// Its legal status as sources say it, by law or convention and first day; none until one is noted.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub legal_status: Vec<super::LegalStatus>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// Days of incubation between two temperatures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Incubation {
    /// `fitted`, `single`, `house`.
    pub grade: String,
    /// Fewest days.
    pub days_low: f64,
    /// Most days.
    pub days_high: f64,
    /// Lowest temperature it holds for, degrees Celsius.
    pub temperature_c_low: f64,
    /// Highest temperature it holds for, degrees Celsius.
    pub temperature_c_high: f64,
    /// Who says so.
    pub source: String,
}

/// A published duration of incubation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct IncubationPoint {
    /// Temperature, degrees Celsius; absent: not stated, and then the point is not used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// Lowest stated, degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c_low: Option<f64>,
    /// Highest stated, degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c_high: Option<f64>,
    /// Mean days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub days: Option<f64>,
    /// Standard deviation between cases, days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sd_days: Option<f64>,
    /// Fewest days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub days_low: Option<f64>,
    /// Most days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub days_high: Option<f64>,
    /// Cases behind it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cases: Option<Count>,
    /// The paper.
    pub source: String,
    /// Its DOI.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doi: Option<String>,
    /// What of it was read: `full text`, `abstract`, `personal communication`.
    pub confidence: String,
}

/// A thermal sum of incubation as a source states it: `1/D = (T - t0_c)/k_degree_days`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ThermalSumListed {
    /// The temperature at which development stands still, degrees Celsius.
    pub t0_c: f64,
    /// Degree-days above it from laying to hatch, d °C.
    pub k_degree_days: f64,
    /// Coldest temperature that the source speaks of, degrees Celsius.
    pub temperature_c_low: f64,
    /// Warmest.
    pub temperature_c_high: f64,
    /// Coefficient of variation between cases, percent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cv_percent: Option<f64>,
    /// The paper.
    pub source: String,
}

/// When the slits open, as a fraction of incubation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SlitsFraction {
    /// Mean.
    pub mean_fraction: f64,
    /// Standard deviation between cases.
    pub sd_fraction: f64,
    /// Who says so.
    pub source: String,
}

/// The house rules in force at S: members set earlier and not named later stay (F22).
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Policy {
    /// Days between two scheduled looks.
    pub candling_interval_days: u32,
    /// Days between two looks by the band last seen.
    pub candling_interval_days_by_band: BTreeMap<String, u32>,
    /// Days a newly laid case is left in peace.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rest_after_laying_days: Option<u32>,
    /// Hours after which a case held apart is looked at again.
    pub look_again_after_hours: u32,
    /// Fewest looks before a case that is not plainly dead is taken for lost.
    pub looks_before_loss_min: u32,
    /// Days without a sighting after which an animal counts as unseen.
    pub unseen_days_max: u32,
    /// Loss of mass in percent since the last weighing above which a person is asked.
    pub mass_loss_percent_max: f64,
    /// Roles whose approval the written protocol wants on an opening.
    pub opening_approval_roles: Vec<String>,
    /// Hours between two readings above which a hatch window names a gap.
    pub temperature_gap_hours_max: u32,
    /// Criteria of an opening that the record judges itself.
    pub opening_criteria: Vec<String>,
    /// Fewest looks alive, on different days.
    pub opening_alive_looks_min: u32,
    /// Days after which a look says nothing of a case today.
    pub opening_looks_within_days: u32,
    /// Bands of water that the house sets; where it sets none, common practice stands in.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub water_bands: Vec<WaterBand>,
    /// Opened and sealed cases are kept in different places.
    pub opened_cases_apart: bool,
    /// Hours between two looks at a group's tank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub walk_interval_hours: Option<u32>,
    /// Days between two full counts of a group.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub group_count_interval_days: Option<u32>,
    /// Days after which an animal told by its natural pattern is photographed again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub photo_interval_days: Option<u32>,
    /// Verifier keys of witnesses.
    pub witnesses: Vec<String>,
    /// The notes that set it, oldest first.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
}
