//! Which cases or animals a figure is about, and how many clutches and dams stand behind them: cases
//! of one clutch share dam, tank and mishap, so that fewer clutches say less than their cases seem to.

use crate::domain::state::{Egg, ParentStatus, Parentage};
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use utoipa::ToSchema;

/// A question's limits; what is `None` is not limited. For cases the day is that on which they were
/// found or received, for young that of their hatch, in the collection's time zone.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Cohort {
    /// First day, itself included.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, format = Date)]
    pub from: Option<NaiveDate>,
    /// Last day, itself included.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, format = Date)]
    pub to: Option<NaiveDate>,
    /// One species.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// One dam: only where she is the known mother. Where she is one of several candidates the
    /// case is not counted but numbered beside ([`Behind::dam_only_a_candidate`]).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub dam: Option<Subject>,
}

impl Cohort {
    /// Everything that came, or hatched, from one day to another.
    #[must_use]
    pub fn between(from: NaiveDate, to: NaiveDate) -> Self {
        Self { from: Some(from), to: Some(to), ..Self::default() }
    }

    /// Whether the day and species are meant, whoever the dam.
    pub(crate) fn covers(&self, day: NaiveDate, species: Option<&Subject>) -> bool {
        self.from.is_none_or(|from| day >= from)
            && self.to.is_none_or(|to| day <= to)
            && self.species.as_ref().is_none_or(|wanted| species == Some(wanted))
    }

    /// Whether the dam is meant.
    pub(crate) fn has_dam(&self, dam: &Parentage) -> bool {
        self.dam.as_ref().is_none_or(|wanted| is_known(dam, wanted))
    }

    /// Whether the dam asked for is only one of several candidates.
    pub(crate) fn may_have_dam(&self, dam: &Parentage) -> bool {
        let named = |wanted| dam.animals.iter().any(|candidate| &candidate.animal == wanted);
        self.dam.as_ref().is_some_and(|wanted| named(wanted) && !is_known(dam, wanted))
    }
}

fn is_known(dam: &Parentage, wanted: &Subject) -> bool {
    dam.status == ParentStatus::Known && dam.animals.iter().any(|known| &known.animal == wanted)
}

/// What stands behind a figure.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Behind {
    /// Cases.
    pub eggs: u64,
    /// Clutches that are named.
    pub clutches: u64,
    /// Cases of which no clutch is named.
    pub eggs_without_clutch: u64,
    /// Dams that are known.
    pub dams_known: u64,
    /// Cases whose dam is one of several candidates.
    pub eggs_with_candidate_dams: u64,
    /// Cases whose dam nobody knows.
    pub eggs_without_dam: u64,
    /// Cases left out because the dam asked for is only one of several candidates.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub dam_only_a_candidate: u64,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde wants a reference")]
fn is_zero(count: &u64) -> bool {
    *count == 0
}

impl Behind {
    /// Counts what stands behind these cases.
    #[must_use]
    pub fn of<'a>(eggs: impl IntoIterator<Item = &'a Egg>) -> Self {
        let (mut clutches, mut dams, mut behind) = (BTreeSet::new(), BTreeSet::new(), Self::default());
        for egg in eggs {
            behind.eggs += 1;
            match &egg.clutch {
                Some(clutch) => _ = clutches.insert(clutch),
                None => behind.eggs_without_clutch += 1,
            }
            match egg.dam.status {
                ParentStatus::Known => dams.extend(egg.dam.animals.first().map(|dam| &dam.animal)),
                ParentStatus::Candidates => behind.eggs_with_candidate_dams += 1,
                _ => behind.eggs_without_dam += 1,
            }
        }
        Self { clutches: clutches.len() as u64, dams_known: dams.len() as u64, ..behind }
    }
}
