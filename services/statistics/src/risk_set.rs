//! How many are under observation at an age: `R(t) = {i : entry_i < t <= exit_i}`, in `O(log n)` once
//! entries and exits are sorted. Counts are exact integers.

use crate::sweep::Mark;

/// A stretch of age in which nobody is under observation, between two groups of cases.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Span {
    /// The last exit before it, in days.
    pub from_days: f64,
    /// The first entry after it, in days.
    pub to_days: f64,
}

/// The distinct exit ages in order, each with the number at risk.
pub(crate) trait Exits {
    /// The first one for which this holds; it holds for all later ones as well.
    fn first(&self, holds: impl Fn(f64) -> bool) -> Option<(f64, u64)>;
}

/// Distinct ages of entry in order, with the number of cases that entered up to and including each.
/// Exits need no list of their own: the number at risk says how many had left.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Entries {
    days: Vec<f64>,
    total: Vec<u64>,
}

impl Entries {
    /// From those watched from the origin on, and the later entries in order of age.
    pub fn new(from_origin: u64, entries: &[Mark]) -> Entries {
        let (mut days, mut total, mut sum) = (Vec::new(), Vec::new(), from_origin);
        if from_origin > 0 {
            days.push(f64::NEG_INFINITY);
            total.push(sum);
        }
        for tied in entries.chunk_by(|a, b| a.days() == b.days()) {
            sum += tied.iter().map(|mark| u64::from(mark.weight)).sum::<u64>();
            days.push(tied[0].days());
            total.push(sum);
        }
        Entries { days, total }
    }

    /// `#{entry < days <= exit}`.
    pub fn at_risk(&self, days: f64, exits: &(impl Exits + ?Sized)) -> u64 {
        self.before(days) - self.left(exits.first(|exit| exit >= days))
    }

    /// `#{entry <= days < exit}`: at risk immediately after this age.
    pub fn just_after(&self, days: f64, exits: &(impl Exits + ?Sized)) -> u64 {
        self.up_to(days) - self.left(exits.first(|exit| exit > days))
    }

    /// The distinct ages from this one on at which somebody enters.
    pub fn from(&self, days: f64) -> &[f64] {
        &self.days[self.days.partition_point(|d| *d < days)..]
    }

    /// Where observation begins: the first entry, and 0 when somebody is watched from the origin.
    pub fn observed_from(&self) -> Option<f64> {
        self.days.first().map(|first| first.max(0.0))
    }

    /// How many had left before this exit age: those who had entered and are not at risk.
    fn left(&self, exit: Option<(f64, u64)>) -> u64 {
        match exit {
            Some((days, n_risk)) => self.before(days) - n_risk,
            None => self.first(self.days.len()),
        }
    }

    fn before(&self, age: f64) -> u64 {
        self.first(self.days.partition_point(|d| *d < age))
    }

    fn up_to(&self, age: f64) -> u64 {
        self.first(self.days.partition_point(|d| *d <= age))
    }

    /// The number of cases at the first so many distinct ages.
    fn first(&self, ages: usize) -> u64 {
        ages.checked_sub(1).map_or(0, |last| self.total[last])
    }
}
