//! What became of the cases of a cohort: every case once, by its first end that stands. The counts
//! add up to the cases.

use super::{Behind, Cohort};
use crate::domain::state::{Egg, EggFate};
use crate::report::numbers::is_none;
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The closed list of apparent causes of loss, in the order in which they are printed (DOMAIN
/// section 4, common practice, no source). "By decision" is a line of its own: [`Fates::put_down`].
pub const CAUSES: [&str; 11] = [
    "not determined",
    "no yolk",
    "yolk, no embryo ever seen",
    "yolk broken",
    "embryo died",
    "case damaged",
    "cloudy or decomposed",
    "eaten or drilled",
    "trapped at hatching",
    "at or after opening",
    "water or equipment incident",
];

/// How many of the cases of a cohort came to which end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fates {
    /// Which cases are meant, by the day they came.
    pub cohort: Cohort,
    /// All of them, found here or received.
    pub cases: u64,
    /// Hatched without help.
    pub hatched_unaided: u64,
    /// Hatched after their case was opened.
    pub hatched_after_opening: u64,
    /// Lost, of any cause.
    pub lost: u64,
    /// The same by apparent cause, in the order of the list; causes without a case are left out.
    pub lost_by_cause: Vec<Count>,
    /// Arrived dead.
    pub dead_on_arrival: u64,
    /// Left before an end was seen: sent out, sampled, shown, other.
    pub removed: u64,
    /// Put down by decision.
    #[serde(default, skip_serializing_if = "is_none")]
    pub put_down: u64,
    /// Among these: with an embryo that lived.
    #[serde(default, skip_serializing_if = "is_none")]
    pub put_down_alive: u64,
    /// Missing, written off or not.
    #[serde(default, skip_serializing_if = "is_none")]
    pub missing: u64,
    /// Found empty, and no young was found.
    pub young_not_found: u64,
    /// Open.
    pub open: u64,
    /// What stands behind them.
    pub behind: Behind,
}

/// A word and how many.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Count {
    /// What is counted.
    pub name: String,
    /// How many.
    pub count: u64,
}

/// What became of the cases that came on the days asked for.
#[must_use]
pub fn fates(eggs: &[Egg], cohort: &Cohort, zone: Tz) -> Fates {
    let covered = |egg: &&Egg| cohort.covers(egg.came.time.day(zone), egg.species.as_ref()) && cohort.has_dam(&egg.dam);
    let meant: Vec<&Egg> = eggs.iter().filter(covered).collect();
    let count = |wanted: fn(&EggFate) -> bool| meant.iter().filter(|egg| wanted(&egg.fate)).count() as u64;
    Fates {
        cohort: cohort.clone(),
        cases: meant.len() as u64,
        hatched_unaided: count(|fate| matches!(fate, EggFate::Hatched { after_opening: None, .. })),
        hatched_after_opening: count(|fate| matches!(fate, EggFate::Hatched { after_opening: Some(_), .. })),
        lost: count(|fate| matches!(fate, EggFate::Lost { .. })),
        lost_by_cause: in_order(&CAUSES, meant.iter().filter_map(|egg| cause(&egg.fate))),
        dead_on_arrival: count(|fate| matches!(fate, EggFate::DeadOnArrival { .. })),
        removed: count(|fate| matches!(fate, EggFate::Removed { .. })),
        put_down: count(|fate| matches!(fate, EggFate::PutDown { .. })),
        put_down_alive: count(is_put_down_alive),
        missing: count(|fate| matches!(fate, EggFate::Missing { .. })),
        young_not_found: count(|fate| matches!(fate, EggFate::YoungNotFound { .. })),
        open: count(|fate| matches!(fate, EggFate::Open)),
        behind: Behind::of(meant.iter().copied()),
    }
}

/// A living embryo that was put down is shown as such (DOMAIN section 4).
pub(crate) fn is_put_down_alive(fate: &EggFate) -> bool {
    matches!(fate, EggFate::PutDown { alive, .. } if alive == "yes")
}

/// The apparent cause of a loss.
pub(crate) fn cause(fate: &EggFate) -> Option<&str> {
    match fate {
        EggFate::Lost { apparent_cause, .. } => Some(apparent_cause),
        _ => None,
    }
}

/// Counts of these words: first those of the list in its order, then any other by the alphabet.
pub(crate) fn in_order<'a>(list: &[&str], words: impl Iterator<Item = &'a str>) -> Vec<Count> {
    let mut counts: BTreeMap<&str, u64> = BTreeMap::new();
    for word in words {
        *counts.entry(word).or_default() += 1;
    }
    let place = |word: &str| list.iter().position(|listed| *listed == word).unwrap_or(list.len());
    let mut found: Vec<Count> = counts.into_iter().map(|(name, count)| Count { name: name.to_owned(), count }).collect();
    found.sort_by_key(|count| place(&count.name));
    found
}
