//! What is done to tanks and systems, and the instruments and places in them, as a reader sees it.

use super::adults::DietSet;
use super::movement::Quarantine;
use super::noted::{Count, Noted, Thing, told};
use super::words::Moment;
use crate::domain::discrepancy::Discrepancy;
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

told! {
    /// `tank.checked.v1`
    TankChecked { all_well: bool; animals_seen: Count, cases_seen: Count, whole_tank: bool; findings: String }
    /// `tank.fed.v1`
    TankFed { offered: Vec<Offered>, eaten: String; leftovers_removed: bool, way: String; }
    /// One food of what was offered.
    Offered { food: String; amount_g: f64, pieces: Count, from_batch: Thing; }
    /// `tank.light_set.v1`
    LightSet { light: String; day_length_hours: f64, intensity_lux: f64, fade_minutes: Count, colour: String; }
    /// `tank.joined.v1`
    TankJoined { ; system: Thing, reason: String; }
    /// `tank.retired.v1` and `instrument.retired.v1`
    Retired { reason: String; ; }
    /// `system.water_changed.v1`
    WaterChanged { source: String; volume_l: f64, volume_percent: f64, reason: String, temperature_c: f64, salinity_psu: f64; }
    /// `equipment.faulted.v1`
    EquipmentFaulted { equipment: String; which: String; effects: String }
    /// `equipment.restored.v1`
    EquipmentRestored { equipment: String, done: String; which: String; }
    /// `instrument.installed.v1`
    InstrumentInstalled { label: String, measures: Vec<String>; system: Thing, tank: Thing, serial: String, calibration_interval_days: Count; }
    /// `instrument.calibrated.v1`
    InstrumentCalibrated { quantity: String, standard: String, result: String; error_found: String, document: Thing; }
    /// `place.set_up.v1`
    PlaceSetUp { label: String, tank: Thing, order: Count; row: String, cases_max: Count; }
}

/// The newest of what is done to a tank or a system, and what is open about it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Care {
    /// Newest look on the daily walk.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_check: Option<Noted<TankChecked>>,
    /// Newest feeding of the whole tank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_fed: Option<Noted<TankFed>>,
    /// The light as it was set last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub light: Option<Noted<LightSet>>,
    /// The diet as it was set last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diet: Option<Noted<DietSet>>,
    /// Newest change of water.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_water_change: Option<Noted<WaterChanged>>,
    /// Faults of equipment that nobody has ended.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub open_faults: Vec<Noted<EquipmentFaulted>>,
    /// Its quarantine, if it is under one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quarantine: Option<Quarantine>,
    /// Places in it, in the order of a round.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub places: Vec<PlaceWithin>,
    /// Out of use since.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub retired: Option<Noted<Retired>>,
}

/// A place in a tank or tray.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlaceWithin {
    /// `place/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// As it was set up.
    #[serde(flatten)]
    pub set_up: Noted<PlaceSetUp>,
    /// Cases in it whose fate is open.
    #[schema(value_type = Vec<String>)]
    pub eggs: Vec<Subject>,
    /// What is at odds.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub discrepancies: Vec<Discrepancy>,
}

/// An instrument.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Instrument {
    /// `instrument/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// As it was put into use.
    #[serde(flatten)]
    pub installed: Noted<InstrumentInstalled>,
    /// Calibrations in order of time.
    pub calibrations: Vec<Noted<InstrumentCalibrated>>,
    /// Last day of its calibration interval: counted from the newest calibration that left it
    /// within limits, else from its installation. Absent where the house sets no interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub calibrated_until: Option<chrono::NaiveDate>,
    /// The note that it is counted from.
    #[serde(skip)]
    pub counted_from: Option<Moment>,
    /// Out of use since.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub retired: Option<Noted<Retired>>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}
