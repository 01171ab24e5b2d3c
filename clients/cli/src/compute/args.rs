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
    /// Survival by age class, R0, T, r and lambda
    LifeTable(LifeTableArgs),
    /// Inbreeding, kinship, founders, gene diversity
    Pedigree(PedigreeArgs),
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
