//! What a look says of the fraction developed: intervals given as numbers, with soft edges, for
//! observers differ and species do.

use super::normal::below;

/// Steps of the table between 0 and 1.
const STEPS: usize = 512;

/// One band: the fractions at which it is typically seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Where it begins, as a fraction of development.
    pub low: f64,
    /// Where it ends.
    pub high: f64,
    /// Part of looks that show it for another reason, anywhere: a slip, or no development at all.
    pub lapse: f64,
}

/// Likelihood of each band over the fraction developed, tabled once.
#[derive(Clone, Debug, PartialEq)]
pub struct Bands {
    tables: Vec<Vec<f64>>,
}

impl Bands {
    /// From the bands in order and the deviation of their edges, as a fraction. A fraction below 0
    /// or above 1 counts as 0 or 1: what waits, complete, is seen as complete.
    #[must_use]
    pub fn new(bands: &[Band], edge: f64) -> Bands {
        let shapes: Vec<Vec<f64>> = bands.iter().enumerate().map(|(at, band)| shape(band, edge, at == 0, at + 1 == bands.len())).collect();
        let uniform = 1.0 / bands.len() as f64;
        let total = |step: usize| shapes.iter().map(|shape| shape[step]).sum::<f64>();
        let likelihood = |band: &Band, shape: &[f64], step: usize| (1.0 - band.lapse) * shape[step] / total(step) + band.lapse * uniform;
        let table = |(band, shape): (&Band, &Vec<f64>)| (0..=STEPS).map(|step| likelihood(band, shape, step)).collect();
        Bands { tables: bands.iter().zip(&shapes).map(table).collect() }
    }

    /// Probability that a look at this fraction shows that band; nothing for a band that is not in
    /// the table.
    #[must_use]
    pub fn likelihood(&self, band: usize, fraction: f64) -> Option<f64> {
        Some(at(self.tables.get(band)?, fraction))
    }

    pub(super) fn table(&self, band: usize) -> Option<&[f64]> {
        self.tables.get(band).map(Vec::as_slice)
    }
}

/// A table over the fraction, for any likelihood.
pub(super) fn tabled(likelihood: impl Fn(f64) -> f64) -> Vec<f64> {
    (0..=STEPS).map(|step| likelihood(step as f64 / STEPS as f64)).collect()
}

/// The table at the nearest step.
pub(super) fn at(table: &[f64], fraction: f64) -> f64 {
    table[(fraction.clamp(0.0, 1.0) * STEPS as f64 + 0.5) as usize]
}

/// How typical a band is at each step; the first has no lower edge and the last no upper one.
fn shape(band: &Band, edge: f64, first: bool, last: bool) -> Vec<f64> {
    tabled(|fraction| {
        let begun = if first { 1.0 } else { below((fraction - band.low) / edge) };
        let ended = if last { 0.0 } else { below((fraction - band.high) / edge) };
        // Away from all bands each is as unlikely as another, not 0 of 0.
        (begun - ended).max(1e-9)
    })
}
