//! The cases of a cohort beside their rows, as the figures of fates and of losses need them.

use super::{Behind, Cohort};
use crate::domain::case_rows::CaseRows;
use crate::domain::state::Egg;
use chrono_tz::Tz;
use selachron_schemas::fates::{Cause, Fate, NotAtRisk};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A case that is meant, with its row where it has one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Meant<'a> {
    pub egg: &'a Egg,
    pub row: Option<&'a Fate>,
}

/// Cases that are in no risk set, by reason.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct BesideCases {
    /// Arrived dead.
    pub dead_on_arrival: u64,
    /// Never held an embryo: in the rate of cases collected, in no figure of survival.
    pub infertile: u64,
    /// Their days contradict each other, until somebody puts that right.
    pub days_at_odds: u64,
    /// Nobody knows when they were laid, so that they have no age.
    pub age_not_known: u64,
}

/// A row of a survival table with the notes that made it; ages in whole days, the end in (L, R].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CaseTold {
    /// `egg/<ULID>`.
    pub subject: String,
    /// What stands on it.
    pub label: String,
    /// Age from which it is at risk.
    pub entry_days: Option<i64>,
    /// Still open at this age; of an exact end the same as R.
    #[serde(rename = "L")]
    pub left: Option<i64>,
    /// By this age it had ended; `null` while it is open.
    #[serde(rename = "R")]
    pub right: Option<i64>,
    /// `hatch`, `death`, `removed`, `lost`, `censored`, or why it is not at risk.
    pub counted_as: String,
    /// Of a hatch: whether the case had been opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after_opening: Option<bool>,
    /// The notes behind L and R, L's first; else that by which it came.
    pub events: Vec<String>,
}

/// The cases of a cohort, by the day they came.
pub(super) fn meant<'a>(eggs: &'a [Egg], rows: &'a CaseRows, cohort: &Cohort, zone: Tz) -> Vec<Meant<'a>> {
    let covered = |egg: &&Egg| cohort.covers(egg.came.time.day(zone), egg.species.as_ref()) && cohort.has_dam(&egg.dam);
    eggs.iter().filter(covered).map(|egg| Meant { egg, row: rows.rows.get(&egg.id) }).collect()
}

/// What stands behind those that are at risk.
pub(super) fn behind(meant: &[Meant], eggs: &[Egg], cohort: &Cohort, zone: Tz) -> Behind {
    let may = |egg: &&Egg| cohort.covers(egg.came.time.day(zone), egg.species.as_ref()) && cohort.may_have_dam(&egg.dam);
    let dam_only_a_candidate = eggs.iter().filter(may).count() as u64;
    Behind { dam_only_a_candidate, ..Behind::of(meant.iter().filter(|one| one.at_risk().is_some()).map(|one| one.egg)) }
}

impl Meant<'_> {
    /// Its row, where it belongs in a risk set.
    pub fn at_risk(&self) -> Option<&Fate> {
        self.row.filter(|row| row.at_risk)
    }

    pub fn told(&self) -> CaseTold {
        let came = vec![self.egg.came.event.to_string()];
        let bare = |counted_as: String| CaseTold {
            subject: self.egg.id.to_string(),
            label: self.egg.label.clone(),
            entry_days: None,
            left: None,
            right: None,
            counted_as,
            after_opening: None,
            events: came.clone(),
        };
        let Some(row) = self.row else { return bare("age not known".to_owned()) };
        let counted_as = match (row.cause, row.reason) {
            (_, Some(reason)) => short(reason).to_owned(),
            (Some(cause), None) => word(cause).to_owned(),
            (None, None) => "not known".to_owned(),
        };
        let events = if row.events.is_empty() { came.clone() } else { row.events.clone() };
        let (entry_days, left, right) = (Some(row.entry), row.left, row.right);
        CaseTold { entry_days, left, right, after_opening: row.assisted, events, ..bare(counted_as) }
    }
}

fn word(cause: Cause) -> &'static str {
    match cause {
        Cause::Hatch => "hatch",
        Cause::Death => "death",
        Cause::Removed => "removed",
        Cause::Lost => "lost",
        Cause::Censored => "censored",
    }
}

fn short(reason: NotAtRisk) -> &'static str {
    match reason {
        NotAtRisk::DeadOnArrival => "dead on arrival",
        NotAtRisk::Infertile => "infertile",
        NotAtRisk::DaysAtOdds => "days at odds",
    }
}

impl BesideCases {
    pub(super) fn of(meant: &[Meant]) -> Self {
        let reason = |wanted: NotAtRisk| meant.iter().filter(|one| one.row.is_some_and(|row| row.reason == Some(wanted))).count() as u64;
        Self {
            dead_on_arrival: reason(NotAtRisk::DeadOnArrival),
            infertile: reason(NotAtRisk::Infertile),
            days_at_odds: reason(NotAtRisk::DaysAtOdds),
            age_not_known: meant.iter().filter(|one| one.row.is_none()).count() as u64,
        }
    }
}
