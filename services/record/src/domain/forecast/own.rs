//! The collection's own completed incubations: cases that hatched unaided, with the temperatures
//! that they really had. Which hatches are none is counted, by reason.

use super::{Forecaster, UNREAD_SHARE_MAX, days};
use crate::domain::state::{Egg, EggFate, LeftOut, OwnIncubation};
use selachron_schemas::names::Subject;
use selachron_statistics::development::{Grade, Law, Point, Stay, warmth};
use std::collections::BTreeMap;

/// A laying that is known no better than this part of incubation is no point (a convention of this
/// project).
const LAYING_SHARE_MAX: f64 = 0.10;

/// Own completed incubations of a species.
#[derive(Default)]
pub(super) struct Own {
    pub points: Vec<Point>,
    pub incubations: Vec<OwnIncubation>,
    pub left_out: Vec<LeftOut>,
}

impl Forecaster<'_, '_> {
    pub(super) fn own(&self, species: &Subject) -> Own {
        let (mut own, mut left_out) = (Own::default(), BTreeMap::new());
        for egg in self.eggs().iter().filter(|egg| egg.species.as_ref() == Some(species)) {
            let EggFate::Hatched { after_opening, .. } = &egg.fate else { continue };
            match if after_opening.is_some() { Err("hatched after an opening") } else { self.completed(egg) } {
                Ok((days, temperature_c)) => {
                    own.points.push(Point { temperature_c, low_c: None, high_c: None, days, sd_days: None, n: Some(1) });
                    let (days, temperature_c) = (super::tell::rounded(days, 1), super::tell::rounded(temperature_c, 2));
                    own.incubations.push(OwnIncubation { egg: egg.id.clone(), days, temperature_c });
                }
                Err(why) => *left_out.entry(why).or_insert(0) += 1,
            }
        }
        own.left_out = left_out.into_iter().map(|(why, n)| LeftOut { why, n }).collect();
        own
    }

    /// From the middle of the window of laying to the hatch, and the mean temperature on the way.
    fn completed(&self, egg: &Egg) -> Result<(f64, f64), &'static str> {
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
        had.map(|had| (took, had.mean_c)).ok_or("its water was read too seldom")
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
        low_c: f64::NEG_INFINITY,
        high_c: f64::INFINITY,
    }
}
