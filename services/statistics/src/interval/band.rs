//! A probability that is only known to lie between two values.

use serde::Serialize;

use super::innermost::Stretch;

/// The probability lies between the two; they are equal outside the stretches that hold mass.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Band {
    /// If all mass that may still come were to come late or early, whichever makes it smaller.
    pub lower: f64,
    /// The same, whichever makes it larger.
    pub upper: f64,
}

/// A part of the time axis on which the band keeps its values, for drawing: `(from_days, to_days)`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BandPiece {
    /// Where it begins, in days.
    pub from_days: f64,
    /// Where it ends, in days; nothing for the last one.
    pub to_days: Option<f64>,
    /// The band there.
    #[serde(flatten)]
    pub band: Band,
}

/// Mass that has certainly come by this age, and mass that may have.
pub(crate) fn come_by(stretches: &[Stretch], masses: &[f64], age_days: f64) -> Band {
    let sum = |counts: fn(&Stretch, f64) -> bool| -> f64 {
        let counted = stretches.iter().zip(masses).filter(|(stretch, _)| counts(stretch, age_days));
        counted.map(|(_, mass)| mass).sum()
    };
    Band { lower: sum(Stretch::is_over_by), upper: sum(Stretch::has_begun_by).min(1.0) }
}

impl Band {
    /// The band of what is left.
    pub(crate) fn complement(self) -> Band {
        Band { lower: (1.0 - self.upper).max(0.0), upper: (1.0 - self.lower).max(0.0) }
    }
}

/// The pieces between the ends of stretches with mass, from 0 on; `of` is the band inside a piece.
pub(crate) fn pieces(stretches: impl Iterator<Item = Stretch>, of: impl Fn(f64) -> Band) -> Vec<BandPiece> {
    let mut ends: Vec<f64> = stretches.flat_map(|s| [s.left_days, s.right_days]).filter(|end| end.is_finite()).collect();
    ends.push(0.0);
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    let later = ends.iter().skip(1).map(|end| Some(*end)).chain([None]);
    let inside = |from: f64, to: Option<f64>| to.map_or(from + 1.0, |to| from + (to - from) / 2.0);
    ends.iter().zip(later).map(|(from, to)| BandPiece { from_days: *from, to_days: to, band: of(inside(*from, to)) }).collect()
}
