//! From one water to another: what the stays of one individual add up to.

use super::track::{Filling, Sums, Track};

/// A stay in one water.
#[derive(Clone, Copy, Debug)]
pub struct Stay<'t> {
    /// Since, in days on the scale of the readings. The first stay also stands for what was before.
    pub from_day: f64,
    /// The readings of that water. It lasts until the next stay begins.
    pub track: &'t Track,
}

/// The stays of one individual with what each began with.
pub(super) struct Course<'t> {
    stays: &'t [Stay<'t>],
    filling: Filling,
    /// By stay, then by rate: what was done when it began, less what its track had added up to.
    offsets: Vec<[f64; 3]>,
}

/// The middle node of the uncertainty of the water ahead.
pub(super) const MIDDLE: usize = 1;

impl<'t> Course<'t> {
    /// Needs at least one stay; all tracks are of one law.
    pub fn new(stays: &'t [Stay<'t>], filling: Filling) -> Course<'t> {
        let mut offsets = vec![[0.0; 3]];
        for pair in stays.windows(2) {
            let (begun, day) = (offsets[offsets.len() - 1], pair[1].from_day);
            let (before, next) = (pair[0].track.sums_to(filling, day), pair[1].track.sums_to(filling, day));
            offsets.push([0, 1, 2].map(|rate| begun[rate] + before[rate][MIDDLE] - next[rate][MIDDLE]));
        }
        Course { stays, filling, offsets }
    }

    /// Development by `day`, from an origin that is the same for all days.
    pub fn sums_to(&self, day: f64) -> Sums {
        let at = self.at(day);
        let mut sums = self.stays[at].track.sums_to(self.filling, day);
        sums.iter_mut().zip(&self.offsets[at]).for_each(|(nodes, offset)| nodes.iter_mut().for_each(|sum| *sum += offset));
        sums
    }

    /// Degree-days and days outside the law's temperatures, from one day to another.
    pub fn warmth(&self, from_day: f64, to_day: f64) -> (f64, f64) {
        let parts = self.parts(from_day, to_day).map(|(stay, from, to)| stay.track.warmth(from, to));
        parts.fold((0.0, 0.0), |(warmth, outside), (more, also)| (warmth + more, outside + also))
    }

    /// The stays between two days, each with the part that lies between them.
    pub fn parts(&self, from_day: f64, to_day: f64) -> impl Iterator<Item = (&Stay<'t>, f64, f64)> + '_ {
        let ends = self.stays[1..].iter().map(|stay| stay.from_day).chain([f64::INFINITY]);
        let begins = |at: usize, stay: &Stay<'_>| if at == 0 { f64::NEG_INFINITY } else { stay.from_day };
        let parts = self.stays.iter().enumerate().zip(ends);
        parts.map(move |((at, stay), end)| (stay, begins(at, stay).max(from_day), end.min(to_day))).filter(|(_, from, to)| from < to)
    }

    /// The newest stay.
    pub fn last(&self) -> &Stay<'t> {
        &self.stays[self.stays.len() - 1]
    }

    fn at(&self, day: f64) -> usize {
        self.stays[1..].partition_point(|stay| stay.from_day <= day)
    }
}
