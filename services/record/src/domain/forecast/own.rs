//! The collection's own completed incubations: cases that hatched unaided, with the temperatures
//! that they really had. Which hatches are none is counted, by reason.
//!
//! Each is a point at the steady temperature at which it would have taken as long: its days are the
//! integral of the rate over the temperatures that it had, not the rate at their mean (STATISTICS
//! 3.7). That temperature depends on the slope, and the slope on the points; a few rounds settle
//! both.

use super::waters::Water;
use super::{Forecaster, Path, UNREAD_SHARE_MAX, days};
use crate::domain::state::{Egg, EggFate, LeftOut, OwnIncubation};
use selachron_schemas::names::Subject;
use selachron_statistics::development::{Grade, Law, Point, Stay, Track, effective_c, warmth};
use std::collections::BTreeMap;
use std::rc::Rc;

/// A laying that is known no better than this part of incubation is no point (a convention of this
/// project).
const LAYING_SHARE_MAX: f64 = 0.10;

/// Rounds of slope and temperatures; each moves the points by less than a tenth of the one before.
const ROUNDS: usize = 6;

/// Points that move by less are settled, in °C.
const SETTLED_C: f64 = 1e-4;

/// Own completed incubations of a species.
#[derive(Default)]
pub(super) struct Own {
    completed: Vec<Completed>,
    pub left_out: Vec<LeftOut>,
}

/// A case that hatched unaided, with the waters that it was in.
struct Completed {
    egg: Subject,
    start: f64,
    hatched: f64,
    mean_c: f64,
    path: Path,
}

impl Completed {
    fn took(&self) -> f64 {
        self.hatched - self.start
    }

    fn at(&self, temperature_c: f64) -> Point {
        Point { temperature_c, low_c: None, high_c: None, days: self.took(), sd_days: None, n: Some(1) }
    }
}

impl Own {
    pub fn is_empty(&self) -> bool {
        self.completed.is_empty()
    }

    /// Each with its days, its mean temperature and, where the points have a slope, the temperature
    /// that stands for all that it had.
    pub fn told(&self, points: &[Point]) -> Vec<OwnIncubation> {
        let told = |(one, point): (&Completed, &Point)| OwnIncubation {
            egg: one.egg.clone(),
            days: super::tell::rounded(one.took(), 1),
            temperature_c: super::tell::rounded(one.mean_c, 2),
            effective_c: super::tell::rounded(point.temperature_c, 2),
        };
        self.completed.iter().zip(points).map(told).collect()
    }
}

impl Forecaster<'_, '_> {
    pub(super) fn own(&self, species: &Subject) -> Own {
        let (mut own, mut left_out) = (Own::default(), BTreeMap::new());
        for egg in self.eggs().iter().filter(|egg| egg.species.as_ref() == Some(species)) {
            let EggFate::Hatched { after_opening, .. } = &egg.fate else { continue };
            match if after_opening.is_some() { Err("hatched after an opening") } else { self.completed(egg) } {
                Ok(completed) => own.completed.push(completed),
                Err(why) => *left_out.entry(why).or_insert(0) += 1,
            }
        }
        own.left_out = left_out.into_iter().map(|(why, n)| LeftOut { why, n }).collect();
        own
    }

    /// The points of own incubations, by the slope that they have together with the `published` ones;
    /// at their mean temperatures where there is no slope, or none that is believed.
    pub(super) fn own_points(&self, own: &Own, published: &[Point]) -> Vec<Point> {
        let mut points: Vec<Point> = own.completed.iter().map(|one| one.at(one.mean_c)).collect();
        for _ in 0..ROUNDS {
            let all: Vec<Point> = published.iter().chain(&points).copied().collect();
            let Ok(law) = Law::of(&all) else { break };
            let mut tracks = BTreeMap::new();
            let next = own.completed.iter().map(|one| one.at(self.effective(one, &law, &mut tracks).unwrap_or(one.mean_c)));
            let next: Vec<Point> = next.collect();
            let moved = next.iter().zip(&points).map(|(next, point)| (next.temperature_c - point.temperature_c).abs()).fold(0.0, f64::max);
            points = next;
            if moved < SETTLED_C {
                break;
            }
        }
        points
    }

    fn effective(&self, one: &Completed, law: &Law, tracks: &mut BTreeMap<Subject, Option<Rc<Track>>>) -> Option<f64> {
        // One rate is enough: the errors of the slope are the fit's own.
        let law = Law { se_slope_per_c: 0.0, ..law.clone() };
        let track = |water: &Water| water.log.clone().map(|log| Rc::new(Track::new(log, &law, self.settings())));
        let mut read: Vec<(f64, Rc<Track>)> = Vec::new();
        for (stretch, water) in one.path.stretches.iter().zip(&one.path.waters) {
            let known = tracks.entry(water.id.clone()).or_insert_with(|| track(water));
            read.extend(known.clone().map(|track| (days(stretch.from), track)));
        }
        let stays: Vec<Stay<'_>> = read.iter().map(|(from_day, track)| Stay { from_day: *from_day, track }).collect();
        effective_c(&law, &stays, one.start, one.hatched)
    }

    /// From the middle of the window of laying to the hatch, and the mean temperature on the way.
    fn completed(&self, egg: &Egg) -> Result<Completed, &'static str> {
        let hatch = egg.fate.when().ok_or("not hatched")?;
        let begun = egg.laid_window.not_before.map(days).ok_or("the first day of its laying is not known")?;
        let (laid, to) = (days(egg.laid_window.not_after), days(hatch.time));
        let hatched = hatch.timeafter.map_or(to, |after| (days(after) + to) / 2.0);
        let start = (begun + laid) / 2.0;
        let took = hatched - start;
        if took <= 0.0 || laid - begun > LAYING_SHARE_MAX * took {
            return Err("its laying is not known well enough");
        }
        let path = self.path(&egg.id);
        let any = everywhere();
        let tracks = self.tracks(&path, None, 0, &any);
        let stays: Vec<Stay<'_>> = tracks.iter().map(|(from_day, track)| Stay { from_day: *from_day, track }).collect();
        let had = warmth(&stays, start, hatched).filter(|had| had.unread_days <= UNREAD_SHARE_MAX * took);
        let mean_c = had.ok_or("its water was read too seldom")?.mean_c;
        Ok(Completed { egg: egg.id.clone(), start, hatched, mean_c, path })
    }
}

/// A law that covers every water: only the temperatures are wanted of its tracks.
fn everywhere() -> Law {
    Law {
        grade: Grade::House,
        points: 0,
        n: 0,
        reference_c: 0.0,
        reference_days: 1.0,
        slope_per_c: 0.0,
        se_slope_per_c: 0.0,
        se_level: 0.0,
        cv: 1.0,
        t0_c: None,
        low_c: f64::NEG_INFINITY,
        high_c: f64::INFINITY,
    }
}
