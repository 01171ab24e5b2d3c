//! A group, as a reader sees it.

use super::movement::Quarantine;
use super::words::{Moment, Place, Sex};
use crate::domain::discrepancy::Discrepancy;
use crate::domain::whole::Whole;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Numbers of animals by sex; in a change, what was added to each.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(from = "Written")]
pub struct Counts {
    /// Males.
    pub males: i64,
    /// Females.
    pub females: i64,
    /// Animals whose sex is not known.
    pub unknown: i64,
}

#[derive(Deserialize)]
struct Written {
    males: Whole,
    females: Whole,
    unknown: Whole,
}

impl From<Written> for Counts {
    fn from(written: Written) -> Self {
        // The schema holds each far below what an i64 takes.
        let count = |Whole(count): Whole| i64::try_from(count).unwrap_or(i64::MAX);
        Self { males: count(written.males), females: count(written.females), unknown: count(written.unknown) }
    }
}

impl Counts {
    /// One animal.
    #[must_use]
    pub fn one(sex: Sex) -> Self {
        let mut one = Self::default();
        match sex {
            Sex::Male => one.males = 1,
            Sex::Female => one.females = 1,
            Sex::Unknown => one.unknown = 1,
        }
        one
    }

    /// Of all classes.
    #[must_use]
    pub fn total(self) -> i64 {
        self.males + self.females + self.unknown
    }

    /// Class by class.
    #[must_use]
    pub fn and(self, other: Self, with: impl Fn(i64, i64) -> i64) -> Self {
        Self {
            males: with(self.males, other.males),
            females: with(self.females, other.females),
            unknown: with(self.unknown, other.unknown),
        }
    }

    /// Whether there are at least so many in every class.
    #[must_use]
    pub fn holds(self, other: Self) -> bool {
        self.males >= other.males && self.females >= other.females && self.unknown >= other.unknown
    }

    /// `males.females.unknown`, always three parts.
    #[must_use]
    pub fn told(self) -> String {
        format!("{}.{}.{}", self.males, self.females, self.unknown)
    }
}

/// What changed the numbers of a group, and by how many. The numbers are the sum of all changes.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GroupChange {
    /// When, and by which note.
    pub when: Moment,
    /// `formed`, `split from`, `split off`, `merged in`, `merged into`, `died`, `departed`, `put in` (an
    /// animal that was known by itself), `told apart` (out of a group of such), `sexed` (a full count of
    /// the same total), `recount` (one of another total).
    pub what: &'static str,
    /// What was added to each class.
    pub change: Counts,
    /// The other group, or the animal.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub with: Option<Subject>,
    /// Of its first numbers: those who were counted among them and are known by themselves since. They are
    /// not in `change`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_out: Option<Counts>,
    /// Of a death its apparent cause, of a departure its reason.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// Of deaths: `found dead`, `seen to die`, `by a veterinarian's decision`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub how_known: Option<String>,
}

/// A count that was not full, and set nothing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PartCount {
    /// When, and by which note.
    pub when: Moment,
    /// How many were seen.
    pub counts: Counts,
}

/// An animal that was counted in the group and is known by itself since.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Member {
    /// When it was told apart, and by which note.
    pub when: Moment,
    /// The animal.
    #[schema(value_type = String)]
    pub animal: Subject,
    /// The class it was counted in.
    pub counted_as: Sex,
}

/// Animals that cannot be told apart.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Group {
    /// `group/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// What the house calls it.
    pub label: String,
    /// Its species.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// When it was put down as a group.
    pub formed: Moment,
    /// Where its animals came from: `received`, `hatched here, case unknown`, `known by themselves`, or
    /// `split`.
    pub came: String,
    /// The group it was split from.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub split_from: Option<Subject>,
    /// Estimated day of their hatch.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub hatched_on_estimate: Option<NaiveDate>,
    /// The written statement of how they are counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub how_counted: Option<String>,
    /// How many there are, without those told apart.
    pub counts: Counts,
    /// What changed the numbers, in order of time.
    pub changes: Vec<GroupChange>,
    /// Counts that were not full.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub part_counts: Vec<PartCount>,
    /// The last full count.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_full_count: Option<Moment>,
    /// All full counts, for those that changed no number too, in order of time.
    #[serde(skip)]
    pub full_counts: Vec<Moment>,
    /// Those told apart, whom the numbers leave out from the start.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub told_apart: Vec<Member>,
    /// Where it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// How often it was fed.
    pub feeds: u64,
    /// When something was last seen eaten.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_eaten: Option<Moment>,
    /// Since when there is nobody left in it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ended: Option<Moment>,
    /// The quarantine that it, its tank or its water is under.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quarantine: Option<Quarantine>,
    /// What is at odds; empty in most.
    pub discrepancies: Vec<Discrepancy>,
}
