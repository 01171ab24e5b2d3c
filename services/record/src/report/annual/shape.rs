//! The shape of the report. Counts are exact; proportions and survivals have 4 decimals, readings of
//! water 3 ([`super::super::numbers`]); times are UTC to the millisecond, days are days of the
//! collection's calendar.

use super::curator::Curator;
use super::ledger::EggLedger;
use super::losses::{Losses, Openings};
use super::profile::{Presented, ProfileUsed};
use super::stock::StockList;
use super::table::{Part, PartTable};
use super::water::WaterLine;
use crate::report::figures::fates::Count;
use crate::report::figures::{Fates, HatchRates, Rearing};
use chrono::NaiveDate;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};

/// The value of [`AnnualReport::schema`].
pub const SCHEMA: &str = "urn:selachron:schemas:report:annual-report:v1";

/// A year of a collection, as the record told it at (V, S).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AnnualReport {
    /// [`SCHEMA`].
    pub schema: String,
    /// Who.
    pub collection: Collection,
    /// The year in which the twelve months begin, in the collection's time zone.
    pub year: i32,
    /// Its days, and how far the report reaches.
    pub period: Period,
    /// V: what had happened up to this instant.
    pub as_of: Instant,
    /// S: how many notes were known.
    pub known_at: u64,
    /// The root of the tree of these notes, base64.
    pub root: String,
    /// Bodies among them that are withheld by decision (F23).
    pub withheld: u64,
    /// The log's clock was simulated: an invented season.
    pub simulated_clock: bool,
    /// What computed this.
    pub software: String,
    /// Version of the time-zone data by which days were told.
    pub tzdb: String,
    /// Whether stock list and ledger add up.
    pub completeness: Completeness,
    /// Hatch rates of the cases that came in the year, as they stood at V.
    pub hatch_rates: HatchRates,
    /// The same for the cases of the year before, which have had longer to hatch; absent if none came.
    pub hatch_rates_year_before: Option<HatchRates>,
    /// What had become at V of the cases that came in the year.
    pub fates: Fates,
    /// What was lost in the year, whenever it came.
    pub losses: Losses,
    /// Survival of the young that hatched in the year.
    pub rearing_of_year: Rearing,
    /// Survival of all young that hatched up to V.
    pub rearing_of_all: Rearing,
    /// Openings in the year.
    pub openings: Openings,
    /// The stock list by presence: who was here.
    pub stock: StockList,
    /// The same in the columns of the profile.
    #[serde(default)]
    pub stock_presented: Presented,
    /// The same by ownership: who was ours, here or lent out.
    #[serde(default)]
    pub stock_owned: StockList,
    /// The egg ledger.
    pub ledger: EggLedger,
    /// Water, one line for each place, measure and basis.
    pub water: Vec<WaterLine>,
    /// Discrepancies open at (V, S), the weightiest first.
    pub discrepancies_open: Vec<OpenDiscrepancy>,
    /// The same counted by weight and age, and those that were settled; the weightiest first.
    #[serde(default)]
    pub discrepancies_counted: Vec<DiscrepancyCount>,
    /// Notes recorded while their author's key was suspected (F11).
    #[serde(default)]
    pub suspected: Vec<String>,
    /// Who wrote notes, by pseudonym, and how many.
    pub writers: Vec<Writer>,
    /// For whom and by which rules the lists are presented.
    #[serde(default)]
    pub profile: ProfileUsed,
    /// The part for the curator.
    #[serde(default)]
    pub curator: Curator,
    /// The part for the licensing authority.
    #[serde(default)]
    pub authority: Part,
    /// The part for the studbook keeper.
    #[serde(default)]
    pub studbook: Part,
    /// The part for the auditor.
    #[serde(default)]
    pub auditor: Auditor,
    /// What the proof shows (F26).
    pub proof_shows: String,
    /// What it does not show (F26).
    pub proof_does_not_show: String,
    /// Cautions.
    pub cautions: Vec<String>,
    /// What the report leaves out.
    pub not_covered: Vec<String>,
}

impl AnnualReport {
    /// The bytes to keep, serve, hash and sign: indented JSON that ends in a line feed.
    ///
    /// # Errors
    /// None in practice: the report holds only what JSON can.
    pub fn to_bytes(&self) -> Result<Vec<u8>, serde_json::Error> {
        let mut bytes = serde_json::to_vec_pretty(self)?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}

/// Whose year it was, and whose log says so.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Collection {
    /// Name.
    pub name: String,
    /// Two letters (ISO 3166-1).
    pub country: String,
    /// IANA name of the time zone in which days are told.
    pub time_zone: String,
    /// The log's origin.
    pub origin: String,
    /// The log's verifier key.
    pub log_vkey: String,
    /// The key id of the log's key, to compare by telephone.
    pub log_key_fingerprint: String,
}

/// The part for the auditor.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Auditor {
    /// Its tables.
    pub tables: Vec<PartTable>,
    /// Writes that were refused in the twelve months. They stand beside the log and no bundle holds them:
    /// whoever computes the report anew from a bundle takes them as they are.
    pub refused_writes: Option<RefusedWrites>,
}

/// Refused writes by problem.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RefusedWrites {
    /// How many of each problem were still kept, by its name.
    pub by_problem: Vec<Count>,
    /// The journal of refusals keeps only so many: whether it reaches back to the first day.
    pub reaches_back: bool,
}

/// The days of the report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Period {
    /// The first; 1 January of a calendar year.
    pub first_day: NaiveDate,
    /// The last, twelve months on.
    pub last_day: NaiveDate,
    /// How far stock list, ledger, losses and water reach: the last day, or V's day if earlier.
    pub until: NaiveDate,
    /// Whether V lies at or after the end of the year.
    pub year_is_over: bool,
}

/// Whether the report may be called complete.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Completeness {
    /// Every line adds up and the year is over.
    pub complete: bool,
    /// Why not, one sentence each.
    pub because: Vec<String>,
    /// Lines of stock list and ledger that do not add up.
    pub failing: Vec<FailingLine>,
}

/// A line that does not add up. It is printed first, with its numbers and notes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FailingLine {
    /// `stock list`, `stock list by ownership` or `egg ledger`.
    pub table: String,
    /// Scientific name.
    pub species: String,
    /// `males`, `females`, `unknown`, or `cases`.
    pub class: String,
    /// The end by arithmetic.
    pub end_by_arithmetic: i64,
    /// The end as counted.
    pub end_counted: i64,
    /// Cases or animals whose own notes do not add up.
    pub subjects: Vec<String>,
    /// Their notes.
    pub events: Vec<String>,
}

/// A discrepancy that nobody has explained yet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OpenDiscrepancy {
    /// Its lasting id.
    pub id: String,
    /// What kind.
    pub kind: String,
    /// How much it matters, in words.
    pub weight: String,
    /// What it is about.
    pub subjects: Vec<String>,
    /// The notes it rests on.
    pub events: Vec<String>,
    /// One plain sentence.
    pub says: String,
}

/// Discrepancies of one weight. The age is in whole days of the collection's calendar up to V.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DiscrepancyCount {
    /// How much they matter, in words.
    pub weight: String,
    /// Open, up to 7 days old.
    pub open_to_7_days: u64,
    /// Open, 8 to 30 days old.
    pub open_8_to_30_days: u64,
    /// Open, older.
    pub open_over_30_days: u64,
    /// Settled by a signed word.
    pub settled: u64,
}

/// A person who wrote notes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Writer {
    /// Pseudonym.
    pub person: String,
    /// Roles of the person's keys, sorted.
    pub roles: Vec<String>,
    /// Notes authored and recorded in the year, acts and administration included.
    pub notes_of_year: u64,
    /// The same since the record began, up to S.
    pub notes: u64,
}
