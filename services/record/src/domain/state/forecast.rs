//! When a case may hatch, as a reader sees it: a window with probabilities, never a date, or the
//! reason why there is none; and what both rest on.

use super::egg::LaidWindow;
use super::words::EventId;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::Serialize;
use utoipa::ToSchema;

/// When a case may hatch. The method and how well it is calibrated stand in
/// `services/statistics/FORECAST.md`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EggForecast {
    /// `egg/<ULID>`.
    #[schema(value_type = String)]
    pub egg: Subject,
    /// What stands on the case.
    pub label: String,
    /// `species/<ULID>`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// Where it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub tank: Option<Subject>,
    /// Between when and when it was laid.
    pub laid: LaidWindow,
    /// Whole local days since laying; the most is absent where nobody knows the first day.
    pub days_since_laying: DaysSince,
    /// Where today lies: by `expected`.
    pub standing: WindowStanding,
    /// Days by which it has hatched, with their probability, given all that is known, also that it
    /// was still waiting at the last look. Absent without a forecast, or when it has waited beyond
    /// all that the data allow.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub window: Option<HatchWindow>,
    /// The same by temperatures, laying and looks alone: whether it is past its window is judged
    /// by this one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<HatchWindow>,
    /// Probability that it should have hatched before today, by `expected`: 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probability_past: Option<f64>,
    /// How far it has come, complete being 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fraction: Option<FractionDeveloped>,
    /// The rate that was used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<RateUsed>,
    /// The window by the thermal sum that a source states, beside the one by the rate that was used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_thermal_sum: Option<BesideWindow>,
    /// The temperatures behind it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature: Option<TemperatureBehind>,
    /// Why there is no forecast.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_forecast: Option<NoWindow>,
    /// What was seen of the case and used.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub evidence: Vec<EvidenceUsed>,
    /// What a reader must know beside the window, and what was left out and why.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub flags: Vec<ForecastFlag>,
}

/// Where today lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub enum WindowStanding {
    /// Before the 5 % day.
    #[serde(rename = "before the window")]
    Before,
    /// From the 5 % day to the 95 % day.
    #[serde(rename = "window open")]
    Open,
    /// After the 95 % day.
    #[serde(rename = "past the window")]
    Past,
    /// There is no forecast.
    #[serde(rename = "no forecast")]
    NoForecast,
}

/// Whole local days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct DaysSince {
    /// Fewest.
    pub fewest: i64,
    /// Most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub most: Option<i64>,
}

/// Local days by which a case has hatched, with their probability.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct HatchWindow {
    /// With probability 5 %.
    #[schema(value_type = String, format = Date)]
    pub p05: NaiveDate,
    /// 25 %.
    #[schema(value_type = String, format = Date)]
    pub p25: NaiveDate,
    /// 50 %.
    #[schema(value_type = String, format = Date)]
    pub p50: NaiveDate,
    /// 75 %.
    #[schema(value_type = String, format = Date)]
    pub p75: NaiveDate,
    /// 95 %.
    #[schema(value_type = String, format = Date)]
    pub p95: NaiveDate,
}

/// A window by another rate, for comparison.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct BesideWindow {
    /// The other rate.
    pub rate: RateUsed,
    /// By temperatures, laying and looks, as the window itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<HatchWindow>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_forecast: Option<NoWindow>,
}

/// Part of development that is done.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct FractionDeveloped {
    /// 5 % quantile.
    pub p05: f64,
    /// Median.
    pub p50: f64,
    /// 95 % quantile.
    pub p95: f64,
}

/// A rate of development.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RateUsed {
    /// `fitted` (two temperatures or more), `single` (one source, good only inside its
    /// temperatures) or `house` (entered and signed by a curator as local experience).
    pub grade: &'static str,
    /// `published`, `own`, `published and own`, `house`, `published thermal sum`.
    pub from: &'static str,
    /// Points used.
    pub points: usize,
    /// Cases behind them; one for each point that states no number.
    pub n: u32,
    /// Own completed incubations among them.
    pub n_own: u32,
    /// The temperature at which the days are told, °C.
    pub reference_c: f64,
    /// Days at it.
    pub days: f64,
    /// How many times faster 10 °C warmer; absent where one temperature says nothing of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub q10: Option<f64>,
    /// Of a thermal sum: the temperature at which development stands still, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub t0_c: Option<f64>,
    /// Of a thermal sum: degree-days above that, d °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub k_degree_days: Option<f64>,
    /// Coefficient of variation between cases.
    pub cv: f64,
    /// Coldest temperature that it holds for, °C.
    pub temperature_c_low: f64,
    /// Warmest, °C.
    pub temperature_c_high: f64,
    /// Sources, each once.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<String>,
}

/// The temperatures that a case really had.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TemperatureBehind {
    /// Mean since laying, °C.
    pub mean_c: f64,
    /// The last readings, held from now on, °C.
    pub ahead_c: f64,
    /// Their deviation, °C.
    pub ahead_sd_c: f64,
    /// Readings used, of all waters that it was in.
    pub readings: usize,
    /// Days since the last reading.
    pub unread_days: f64,
    /// Days since laying outside the temperatures of the rate.
    pub outside_days: f64,
    /// Waters, in order: a system, or a tank that has readings of its own or stands alone.
    pub waters: Vec<WaterBehind>,
    /// Stretches without readings for longer than the house rule allows.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub gaps: Vec<ReadingGap>,
    /// `expected` if every gap had been as warm as the warmer of the readings around it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub if_gaps_warm: Option<HatchWindow>,
    /// And as cold as the colder.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub if_gaps_cold: Option<HatchWindow>,
}

/// A stay in one water.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WaterBehind {
    /// The water whose readings were taken.
    #[schema(value_type = String)]
    pub water: Subject,
    /// The tank.
    #[schema(value_type = String)]
    pub tank: Subject,
    /// Since.
    #[schema(value_type = String)]
    pub from: Instant,
    /// The note that put it there.
    #[schema(value_type = String)]
    pub event: EventId,
}

/// A stretch without readings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct ReadingGap {
    /// The last reading before it.
    #[schema(value_type = String)]
    pub from: Instant,
    /// The first after it.
    #[schema(value_type = String)]
    pub to: Instant,
}

/// Why there is no forecast.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NoWindow {
    /// A word that will not change: `no data`, `no readings`, `outside range`, `outside range
    /// now`, `implausible`, `unusable`, `contradictory`, `no yolk`, `not incubating`, `not known`.
    pub reason: &'static str,
    /// A sentence.
    pub says: String,
}

/// What was seen of the case and used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct EvidenceUsed {
    /// `band 5`, `slits open`, `slits not seen open`, `still in its case`.
    pub what: String,
    /// When.
    #[schema(value_type = String)]
    pub time: Instant,
    /// The note.
    #[schema(value_type = String)]
    pub event: EventId,
}

/// Something to know beside the window.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ForecastFlag {
    /// A word that will not change.
    pub flag: &'static str,
    /// A sentence.
    pub says: String,
    /// The notes behind it, where there are few.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
}

/// What is known of how long a species' cases take: published alone, own alone, both, house.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SpeciesRates {
    /// `species/<ULID>`.
    #[schema(value_type = String)]
    pub species: Subject,
    /// Scientific name.
    pub scientific_name: String,
    /// From the points that are listed.
    pub published: RateOrReason,
    /// From the collection's own completed incubations.
    pub own: RateOrReason,
    /// From both.
    pub both: RateOrReason,
    /// As entered by the house.
    pub house: RateOrReason,
    /// A straight line, where a source states a thermal sum: told beside the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thermal_sum: Option<RateOrReason>,
    /// Which a forecast tries, in order: the first that covers the case's temperatures is used.
    pub tried: Vec<&'static str>,
    /// Own completed incubations, each with its case.
    pub own_incubations: Vec<OwnIncubation>,
    /// Own hatches that are no such incubation, by reason.
    pub own_left_out: Vec<LeftOut>,
    /// What a reader must know.
    pub caveats: Vec<&'static str>,
}

/// A rate, or why there is none.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RateOrReason {
    /// The rate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<RateUsed>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub none: Option<NoWindow>,
}

/// A completed incubation of the collection.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OwnIncubation {
    /// `egg/<ULID>`.
    #[schema(value_type = String)]
    pub egg: Subject,
    /// From the middle of the window of laying to the hatch, days.
    pub days: f64,
    /// Mean temperature on the way, °C.
    pub temperature_c: f64,
    /// The steady temperature at which it would have taken as long, °C: it is a point of the rate there
    /// (of `both`). The mean where the points have no slope.
    pub effective_c: f64,
}

/// How many were left out, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct LeftOut {
    /// Why.
    pub why: &'static str,
    /// How many.
    pub n: u32,
}
