//! The verbs of `selachron compute`, their columns and options.

use crate::fault::Fault;
use clap::{Args, Subcommand};
use selachron_statistics::Level;
use std::path::PathBuf;

/// What is computed.
#[derive(Debug, Subcommand)]
pub enum ComputeCommand {
    /// k of n with its intervals, the difference of two, clusters
    Proportion(ProportionArgs),
    /// Kaplan-Meier survival, cumulative hazard, quantiles, restricted mean, log-rank test
    Survival(SurvivalArgs),
    /// Cumulative incidence of competing fates, Gray's test
    Incidence(IncidenceArgs),
    /// Events known only to lie between two looks
    Interval(IntervalArgs),
    /// Survival by age class, R0, T, r and lambda
    LifeTable(LifeTableArgs),
    /// How long eggs take at a temperature, and along a log of temperatures
    #[command(subcommand)]
    Incubation(IncubationCommand),
    /// Inbreeding, kinship, founders, gene diversity
    Pedigree(PedigreeArgs),
    /// Un-ionised ammonia, oxygen saturation, density, salinity
    Water(WaterArgs),
    /// What became of each egg, as intervals, from a log
    Fates(FatesArgs),
}

/// A table.
#[derive(Debug, Clone, Default, Args)]
pub struct Input {
    /// CSV with a header; `-` or none reads stdin. A column `id` may stand in every table
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
}

/// The level of the intervals.
#[derive(Debug, Clone, Copy, Args)]
pub struct LevelArg {
    /// Level of the intervals
    #[arg(long, default_value_t = 0.95)]
    pub level: f64,
}

impl LevelArg {
    /// The level, checked.
    ///
    /// # Errors
    /// It does not lie between 0 and 1.
    pub fn checked(self) -> Result<Level, Fault> {
        Level::new(self.level).map_err(|wrong| Fault::Usage(format!("--{wrong}")))
    }
}

/// Which column tells the groups apart.
#[derive(Debug, Clone, Args)]
pub struct GroupArg {
    /// The column that tells the groups apart
    #[arg(long = "group", value_name = "COLUMN", default_value = "group")]
    pub column: String,
}

/// A drawing.
#[derive(Debug, Clone, Default, Args)]
pub struct PlotArg {
    /// Also draw it: an SVG with its finding in words
    #[arg(long, value_name = "FILE.svg")]
    pub plot: Option<PathBuf>,
}

/// Columns `[group,][cluster,]k,n`, or --events and --total.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: [group,][cluster,]k,n. Rows of one group are added up; clusters are clutches or dams. Two groups are compared: the \
    first minus the second, in the order in which they come."
)]
pub struct ProportionArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
    /// So many had the event
    #[arg(long, value_name = "k", requires = "total", conflicts_with = "file")]
    pub events: Option<u64>,
    /// Of so many
    #[arg(long, value_name = "n", requires = "events")]
    pub total: Option<u64>,
    /// The level.
    #[command(flatten)]
    pub level: LevelArg,
    /// The groups.
    #[command(flatten)]
    pub group: GroupArg,
}

/// Columns `time,event[,entry][,group][,stratum][,weight]`.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: time,event[,entry][,group][,stratum][,weight]. time and entry are ages in days, at risk on (entry, time]; event is 1 or \
    0; weight is the number of like cases. Rows are counted from 1 below the header."
)]
pub struct SurvivalArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
    /// Mean time lived up to this age, in days
    #[arg(long, value_name = "DAYS")]
    pub tau: Option<f64>,
    /// Weight of the log-rank test, S(t-)^RHO: 0 is the log-rank test itself
    #[arg(long, default_value_t = 0.0)]
    pub rho: f64,
    /// Survival of those alive and watched after this age, in days
    #[arg(long, value_name = "AGE")]
    pub given: Option<f64>,
    /// The level.
    #[command(flatten)]
    pub level: LevelArg,
    /// The groups.
    #[command(flatten)]
    pub group: GroupArg,
    /// The drawing.
    #[command(flatten)]
    pub plot: PlotArg,
}

/// Columns `time,status[,entry][,group][,stratum][,weight]`.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: time,status[,entry][,group][,stratum][,weight]. status is 0 for censored, else the number of the fate; the fates and surv \
    add up to 1 at every age. Gray's test is not defined with late entries."
)]
pub struct IncidenceArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
    /// Incidence among those without any fate and watched after this age, in days
    #[arg(long, value_name = "AGE")]
    pub given: Option<f64>,
    /// The level.
    #[command(flatten)]
    pub level: LevelArg,
    /// The groups.
    #[command(flatten)]
    pub group: GroupArg,
    /// The drawing.
    #[command(flatten)]
    pub plot: PlotArg,
}

/// Columns `left,right[,group][,weight][,cluster]`.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: left,right[,group][,weight][,cluster] and the one of --cause. The event lies in (left, right], at left itself where both are \
    equal; an empty right is not yet. Not for cases that come under observation late."
)]
pub struct IntervalArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
    /// The column with the cause: 1 and up, 0 where right is empty
    #[arg(long, value_name = "COLUMN")]
    pub cause: Option<String>,
    /// Intervals of survival from so many draws of whole clusters
    #[arg(long, value_name = "B", conflicts_with = "cause")]
    pub bootstrap: Option<u64>,
    /// Where the generator of the draws starts
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// The level.
    #[command(flatten)]
    pub level: LevelArg,
    /// The groups.
    #[command(flatten)]
    pub group: GroupArg,
    /// The drawing.
    #[command(flatten)]
    pub plot: PlotArg,
}

/// Fits and forecasts of incubation.
#[derive(Debug, Subcommand)]
pub enum IncubationCommand {
    /// Thermal sum, Q10 and Arrhenius from eggs that hatched
    Fit(FitArgs),
    /// When an egg is expected to hatch, along a log of temperatures
    Integrate(IntegrateArgs),
}

/// Columns `id,temp_c,days`.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: id,temp_c,days: mean temperature and days from laying to hatching, of one species in one manner of keeping. Only eggs that \
    hatched can be fitted, so a season in which eggs still wait reads too short."
)]
pub struct FitArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
    /// Days of a new egg at this temperature, with its prediction interval; may be repeated
    #[arg(long = "at", value_name = "TEMP_C", allow_negative_numbers = true)]
    pub at: Vec<f64>,
    /// The level.
    #[command(flatten)]
    pub level: LevelArg,
    /// The drawing.
    #[command(flatten)]
    pub plot: PlotArg,
}

/// Columns `day,temp_c`.
#[derive(Debug, Args)]
#[command(after_help = "Columns: day,temp_c, in order of time. The day is a point of the model, not a promise.")]
pub struct IntegrateArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
    /// The model
    #[arg(long, value_enum)]
    pub model: Model,
    /// Threshold of the thermal sum, in °C
    #[arg(long, value_name = "TEMP_C", required_if_eq("model", "thermal_sum"), allow_negative_numbers = true)]
    pub t0: Option<f64>,
    /// Thermal sum, in d °C
    #[arg(long, value_name = "DEGREE_DAYS", required_if_eq("model", "thermal_sum"))]
    pub k: Option<f64>,
    /// Temperature at which the reference days hold, in °C
    #[arg(long, value_name = "TEMP_C", required_if_eq_any([("model", "q10"), ("model", "arrhenius")]), allow_negative_numbers = true)]
    pub ref_temp: Option<f64>,
    /// Days at that temperature
    #[arg(long, value_name = "DAYS", required_if_eq_any([("model", "q10"), ("model", "arrhenius")]))]
    pub ref_days: Option<f64>,
    /// How many times faster 10 °C warmer
    #[arg(long, required_if_eq("model", "q10"))]
    pub q10: Option<f64>,
    /// Apparent activation energy, in eV
    #[arg(long, value_name = "EV", required_if_eq("model", "arrhenius"))]
    pub ea: Option<f64>,
    /// When development began, in days of the log; may be repeated
    #[arg(long, value_name = "DAY", required = true, allow_negative_numbers = true)]
    pub start: Vec<f64>,
    /// What the temperature does between two readings
    #[arg(long, value_enum, default_value_t = BetweenReadings::Linear)]
    pub between: BetweenReadings,
    /// Readings farther apart than this are a gap, in hours
    #[arg(long, value_name = "HOURS", default_value_t = 6.0)]
    pub gap_hours: f64,
}

/// A model of incubation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Model {
    /// Days above a threshold: --t0 and --k.
    #[value(name = "thermal_sum")]
    ThermalSum,
    /// --ref-temp, --ref-days and --q10.
    #[value(name = "q10")]
    Q10,
    /// --ref-temp, --ref-days and --ea.
    #[value(name = "arrhenius")]
    Arrhenius,
}

/// What the temperature does between two readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum BetweenReadings {
    /// It runs straight from one to the other.
    Linear,
    /// It stays as it was read until the next.
    HoldPrevious,
}

/// Any of `t_c,salinity_psu,ph,ph_scale,tan_mg_l_n,oxygen_mg_l,pressure_hpa,conductivity_ms_cm`.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: any of t_c,salinity_psu,ph,ph_scale,tan_mg_l_n,oxygen_mg_l,pressure_hpa,conductivity_ms_cm. ph_scale is nbs (ordinary buffers), total, \
    free or unknown, and without it there is no figure for ammonia. An aid in reading instruments: whether animals are in danger is judged at the tank, by the \
    institution's process and its veterinarian."
)]
pub struct WaterArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
}

/// Columns `start,end,n_start,lost,event[,births]`.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: start,end,n_start,lost,event[,births][,entered][,exposure_days]. Classes in order without gaps; the last may have no end. \
    births are counted in the class, by those of the table."
)]
pub struct LifeTableArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
    /// Which of the two tables
    #[arg(long, value_enum, default_value_t = LifeTableMethod::Actuarial)]
    pub method: LifeTableMethod,
}

/// Which of the two tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum LifeTableMethod {
    /// Those lost count half a class.
    Actuarial,
    /// Every day at risk is counted; needs the column exposure_days.
    Exposure,
}

/// Columns `id,sire,dam[,sex][,born][,mode][,rho][,sire_candidates][,clutch][,living]`.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: id,sire,dam[,sex][,born][,mode][,rho][,sire_candidates][,clutch][,living]. A parent is an id or unknown, none, wild_caught, \
    candidates; empty is unknown. mode is sexual, selfing, automixis (with rho) or clone; sire_candidates is ID:WEIGHT;ID:WEIGHT, shared by rows of one \
    clutch; living is 1 or 0, 1 where it is empty. It says nothing of age, health, behaviour or permits: it does not decide who is bred."
)]
pub struct PedigreeArgs {
    /// The table.
    #[command(flatten)]
    pub input: Input,
    /// Also living males against living females
    #[arg(long)]
    pub pairs: bool,
    /// Also the kinship of all with all
    #[arg(long)]
    pub kinship: bool,
    /// Gene drops, where retention cannot be found exactly
    #[arg(long, value_name = "N", default_value_t = 1000)]
    pub drops: u32,
    /// Where the generator of the gene drops starts
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}

/// JSON, or NDJSON of a log.
#[derive(Debug, Args)]
#[command(
    after_help = "Input: JSON with `as_of` and `eggs` (each with `laid_found_on` and `events`), or NDJSON of a log, one body or envelope a line in \
    the order of the log. Intervals are (L, R] in days; R is null where the case was only last seen alive at L."
)]
pub struct FatesArgs {
    /// JSON or NDJSON; `-` or none reads stdin
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// Of a log: what happened after this day is left out; else its last day
    #[arg(long, value_name = "DATE")]
    pub as_of: Option<chrono::NaiveDate>,
    /// Of a log: its time zone, where its founding is not among the notes
    #[arg(long, value_name = "ZONE")]
    pub time_zone: Option<chrono_tz::Tz>,
}
