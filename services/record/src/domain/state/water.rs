//! Water over time, as a reader sees it: readings with what follows from them, the bands they are
//! held against, and the times for which they were outside.

use super::housing::WaterReading;
use super::words::{EventId, Moment};
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What has a band. Units stand in the names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Degrees Celsius.
    TemperatureC,
    /// Widest difference to the readings of the same probe in the 24 hours before, degrees Celsius.
    TemperatureChangeCPerDay,
    /// Practical salinity.
    SalinityPsu,
    /// pH on the probe's own scale.
    Ph,
    /// Un-ionised ammonia as nitrogen, derived, mg/L.
    UnIonisedAmmoniaMgLN,
    /// Nitrite as nitrogen, mg/L.
    NitriteMgLN,
    /// Nitrate as nitrogen, mg/L.
    NitrateMgLN,
    /// Oxygen in percent of saturation, read or derived.
    OxygenPercent,
}

impl Quantity {
    /// All of them, in printed order.
    pub const ALL: [Self; 8] = [
        Self::TemperatureC,
        Self::TemperatureChangeCPerDay,
        Self::SalinityPsu,
        Self::Ph,
        Self::UnIonisedAmmoniaMgLN,
        Self::NitriteMgLN,
        Self::NitrateMgLN,
        Self::OxygenPercent,
    ];

    /// Its name in JSON.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::TemperatureC => "temperature_c",
            Self::TemperatureChangeCPerDay => "temperature_change_c_per_day",
            Self::SalinityPsu => "salinity_psu",
            Self::Ph => "ph",
            Self::UnIonisedAmmoniaMgLN => "un_ionised_ammonia_mg_l_n",
            Self::NitriteMgLN => "nitrite_mg_l_n",
            Self::NitrateMgLN => "nitrate_mg_l_n",
            Self::OxygenPercent => "oxygen_percent",
        }
    }

    /// What people call it, and its unit with the basis.
    #[must_use]
    pub fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::TemperatureC => ("temperature", "°C"),
            Self::TemperatureChangeCPerDay => ("change of temperature", "°C in 24 hours"),
            Self::SalinityPsu => ("salinity", "practical salinity"),
            Self::Ph => ("pH", "on the probe's scale"),
            Self::UnIonisedAmmoniaMgLN => ("un-ionised ammonia", "mg/L as nitrogen"),
            Self::NitriteMgLN => ("nitrite", "mg/L as nitrogen"),
            Self::NitrateMgLN => ("nitrate", "mg/L as nitrogen"),
            Self::OxygenPercent => ("oxygen", "% of saturation"),
        }
    }
}

/// A band of the house rules, as the note says it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WaterBand {
    /// What.
    pub quantity: Quantity,
    /// Not below this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// Not above this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
    /// For systems of this water: `tropical`, `temperate`, `cold`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water: Option<String>,
    /// For this tank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub tank: Option<Subject>,
    /// For cases and animals of this species.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// What it rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

/// A band that holds for a water, and for whom in it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Band {
    /// The band.
    #[serde(flatten)]
    pub told: WaterBand,
    /// `common practice, no source`, or what the house rules say it rests on.
    pub basis: String,
    /// It is a default, set by nobody here.
    pub default: bool,
}

impl Band {
    /// Whether a value lies in the band, its edges included.
    #[must_use]
    pub fn holds(&self, value: f64) -> bool {
        self.told.low.is_none_or(|low| value >= low) && self.told.high.is_none_or(|high| value <= high)
    }

    /// How far outside a value lies.
    #[must_use]
    pub fn beyond(&self, value: f64) -> f64 {
        let below = self.told.low.map_or(0.0, |low| low - value);
        below.max(self.told.high.map_or(0.0, |high| value - high)).max(0.0)
    }

    /// The band in words.
    #[must_use]
    pub fn range(&self) -> String {
        match (self.told.low, self.told.high) {
            (Some(low), Some(high)) => format!("{low} to {high}"),
            (Some(low), None) => format!("at least {low}"),
            (None, Some(high)) => format!("at most {high}"),
            (None, None) => "any".to_owned(),
        }
    }
}

/// A number that follows from readings, or the reason why there is none.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Figure {
    /// The number; `null` where there is none.
    pub value: Option<f64>,
    /// By which formula, and on which pH scale.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// What must be said beside it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub flags: Vec<String>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why_not: Option<String>,
    /// By how much a pH higher by 0.1 would multiply it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ratio_per_tenth_ph: Option<f64>,
    /// The same by another formula, as a check.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub check_value: Option<f64>,
    /// Other notes whose values it uses.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
}

/// What follows from a reading; a member is absent where the reading has nothing for it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Derived {
    /// Un-ionised ammonia as nitrogen, mg/L; the probe's pH scale chooses the formula.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub un_ionised_ammonia_mg_l_n: Option<Figure>,
    /// Oxygen in percent of saturation at the actual barometric pressure.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub oxygen_percent: Option<Figure>,
    /// Density at the surface, kg/m³.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub density_kg_m3: Option<Figure>,
}

/// A reading with what follows from it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReadingTold {
    /// As it was read.
    #[serde(flatten)]
    pub reading: WaterReading,
    /// Pseudonym of the key's holder: a keeper, or an instrument that signs by itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// What follows.
    pub derived: Derived,
    /// What lies outside a band.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub outside: Vec<Quantity>,
}

/// An instrument at a point, and what it read.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Probe {
    /// The instrument, as readings name it.
    pub instrument: String,
    /// Where in the system.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub point: Option<String>,
    /// Last day of its calibration interval; absent where no such instrument is known or the house
    /// sets it none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub calibrated_until: Option<NaiveDate>,
    /// `in its interval`, `past its interval: readings are hollow`, `taken out of use`, `not known`.
    pub calibration: &'static str,
    /// Readings.
    pub readings: u64,
    /// Of them past the interval.
    pub hollow: u64,
    /// First and last reading.
    #[schema(value_type = Vec<String>)]
    pub between: [Instant; 2],
}

/// A stretch without readings of one probe, longer than the policy's limit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WaterGap {
    /// The instrument.
    pub instrument: String,
    /// Where in the system.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub point: Option<String>,
    /// Last reading before it.
    #[schema(value_type = String)]
    pub from: Instant,
    /// First reading after it.
    #[schema(value_type = String)]
    pub to: Instant,
}

/// The readings of one water.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WaterSeries {
    /// The system, or the tank with readings of its own.
    #[schema(value_type = String)]
    pub water: Subject,
    /// Its label.
    pub label: String,
    /// Since when it exists.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub since: Option<Instant>,
    /// Bands that hold for it.
    pub bands: Vec<Band>,
    /// Who read what.
    pub probes: Vec<Probe>,
    /// Hours between two readings of a probe above which a gap is named.
    pub gap_hours_max: u32,
    /// Gaps.
    pub gaps: Vec<WaterGap>,
    /// Readings in order of time.
    pub readings: Vec<ReadingTold>,
    /// Readings from before the water existed; they are used for nothing.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub before_it_existed: Vec<EventId>,
}

/// The reading that lay farthest outside.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Peak {
    /// The value.
    pub value: f64,
    /// When, and by which note.
    #[serde(flatten)]
    pub when: Moment,
}

/// A time for which a water was outside a band, by one probe.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WaterEpisode {
    /// The system, or the tank with readings of its own.
    #[schema(value_type = String)]
    pub water: Subject,
    /// Its label.
    pub label: String,
    /// What was outside.
    pub quantity: Quantity,
    /// Outside which band.
    pub band: Band,
    /// By which instrument.
    pub instrument: String,
    /// Where in the system.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub point: Option<String>,
    /// The last reading inside before it: it began after this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_before: Option<Moment>,
    /// First reading outside.
    pub start: Moment,
    /// First reading inside again: by the same probe, or by another of that water where this one fell
    /// silent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end: Option<Moment>,
    /// `open` or `over`.
    pub state: &'static str,
    /// The reading that lay farthest outside.
    pub peak: Peak,
    /// Readings outside.
    pub readings: u64,
    /// Of them past the calibration of their instrument.
    pub hollow: u64,
    /// Longest time between two readings of it, in hours; within it nobody knows.
    pub longest_unread_hours: f64,
    /// Tanks with that water in which the band holds for somebody or for all.
    #[schema(value_type = Vec<String>)]
    pub tanks: Vec<Subject>,
    /// Cases for which the band holds that were in that water then.
    #[schema(value_type = Vec<String>)]
    pub eggs: Vec<Subject>,
    /// Animals for which the band holds that were in that water then.
    #[schema(value_type = Vec<String>)]
    pub animals: Vec<Subject>,
    /// The same of groups.
    #[schema(value_type = Vec<String>)]
    pub groups: Vec<Subject>,
}
