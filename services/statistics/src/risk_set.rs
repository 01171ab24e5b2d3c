//! How many are under observation at an age: `R(t) = {i : entry_i < t <= exit_i}`, from the sorted
//! entries and exits, in `O(n log n)` to build and `O(log n)` to ask. Counts are exact integers.

use crate::rows::Spell;

/// A stretch of age in which nobody is under observation, between two groups of cases.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Span {
    /// The last exit before it, in days.
    pub from_days: f64,
    /// The first entry after it, in days.
    pub to_days: f64,
}

/// The cases as two sorted lists of ages, entries and exits.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct RiskSets {
    entries: Cumulative,
    exits: Cumulative,
}

/// All that happens at one distinct exit age.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Moment {
    pub days: f64,
    pub n_risk: u64,
    pub n_event: u64,
    pub n_censor: u64,
}

impl RiskSets {
    pub fn new(spells: &[Spell]) -> RiskSets {
        RiskSets {
            entries: Cumulative::new(spells.iter().map(|s| (s.entry, s.weight)).collect()),
            exits: Cumulative::new(spells.iter().map(|s| (s.exit, s.weight)).collect()),
        }
    }

    /// `#{entry < days <= exit}`.
    pub fn at(&self, days: f64) -> u64 {
        self.entries.before(days) - self.exits.before(days)
    }

    /// `#{entry <= days < exit}`: at risk immediately after this age.
    pub fn just_after(&self, days: f64) -> u64 {
        self.entries.up_to(days) - self.exits.up_to(days)
    }

    /// The first age at or after this one at which somebody enters.
    pub fn next_entry(&self, days: f64) -> Option<f64> {
        self.entries.first_from(days)
    }

    /// The distinct ages from this one on at which somebody enters.
    pub fn entries_from(&self, days: f64) -> &[f64] {
        let start = self.entries.days.partition_point(|d| *d < days);
        &self.entries.days[start..]
    }

    /// Where observation begins: the first entry, and 0 when somebody is watched from the origin.
    pub fn observed_from(&self) -> Option<f64> {
        self.entries.days.first().map(|first| first.max(0.0))
    }

    /// The last exit.
    pub fn followed_to(&self) -> Option<f64> {
        self.exits.days.last().copied()
    }

    /// The stretches between an exit and the next entry in which nobody is left.
    pub fn unobserved(&self) -> Vec<Span> {
        let empty_after = |exit: &&f64| self.just_after(**exit) == 0;
        let span = |exit: &f64| self.next_entry(*exit).map(|entry| Span { from_days: *exit, to_days: entry });
        self.exits.days.iter().filter(empty_after).filter_map(span).collect()
    }

    /// The distinct exit ages with their counts, in order of age.
    pub fn moments(&self, spells: &[Spell]) -> Vec<Moment> {
        let mut exits: Vec<&Spell> = spells.iter().collect();
        exits.sort_by(|a, b| a.exit.total_cmp(&b.exit));
        exits
            .chunk_by(|a, b| a.exit == b.exit)
            .map(|tied| {
                let days = tied[0].exit;
                let count = |event| tied.iter().filter(|s| s.event == event).map(|s| s.weight).sum();
                Moment { days, n_risk: self.at(days), n_event: count(true), n_censor: count(false) }
            })
            .collect()
    }
}

/// Distinct ages in order, with the number of cases up to and including each.
#[derive(Clone, Debug, PartialEq)]
struct Cumulative {
    days: Vec<f64>,
    total: Vec<u64>,
}

impl Cumulative {
    fn new(mut weighted: Vec<(f64, u64)>) -> Cumulative {
        weighted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut days, mut total, mut sum) = (Vec::new(), Vec::new(), 0);
        for tied in weighted.chunk_by(|a, b| a.0 == b.0) {
            sum += tied.iter().map(|(_, weight)| weight).sum::<u64>();
            days.push(tied[0].0);
            total.push(sum);
        }
        Cumulative { days, total }
    }

    fn before(&self, age: f64) -> u64 {
        self.first(self.days.partition_point(|d| *d < age))
    }

    fn up_to(&self, age: f64) -> u64 {
        self.first(self.days.partition_point(|d| *d <= age))
    }

    fn first_from(&self, age: f64) -> Option<f64> {
        self.days.get(self.days.partition_point(|d| *d < age)).copied()
    }

    /// The number of cases at the first so many distinct ages.
    fn first(&self, ages: usize) -> u64 {
        ages.checked_sub(1).map_or(0, |last| self.total[last])
    }
}
