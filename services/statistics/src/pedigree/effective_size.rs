//! Effective population size, Ne: how large an ideal population would lose diversity as fast.

use serde::Serialize;

use super::lineage::{Descent, Pedigree};
use crate::reason::Reason;

/// From the numbers of breeding males and females, `4 Nm Nf/(Nm + Nf)` (Wright 1931, Genetics 16:97).
/// Not for: families of unequal size, which make Ne smaller.
///
/// # Errors
/// [`Reason::NoData`] where one sex has none.
pub fn from_sexes(males: u64, females: u64) -> Result<f64, Reason> {
    if males == 0 || females == 0 {
        return Err(Reason::NoData);
    }
    let (males, females) = (males as f64, females as f64);
    Ok(4.0 * males * females / (males + females))
}

/// From the rise of inbreeding in one generation, `1/(2 dF)` (Wright 1931).
///
/// # Errors
/// [`Reason::InbreedingNotRising`] unless the rate is above 0.
pub fn from_rate(rate: f64) -> Result<f64, Reason> {
    if rate > 0.0 { Ok(1.0 / (2.0 * rate)) } else { Err(Reason::InbreedingNotRising) }
}

/// Over several generations, the harmonic mean of their sizes (Wright 1938, Science 87:430).
///
/// # Errors
/// [`Reason::NoData`] without a generation, or with one of size 0 or less.
pub fn over_generations(sizes: &[f64]) -> Result<f64, Reason> {
    if sizes.is_empty() || sizes.iter().any(|size| size.is_nan() || *size <= 0.0) {
        return Err(Reason::NoData);
    }
    Ok(sizes.len() as f64 / sizes.iter().map(|size| 1.0 / size).sum::<f64>())
}

/// The part of heterozygosity left after so many generations, `(1 - 1/(2 Ne))^t`.
///
/// # Errors
/// [`Reason::NoData`] unless Ne is at least 1/2.
pub fn heterozygosity_kept(effective_size: f64, generations: f64) -> Result<f64, Reason> {
    if effective_size >= 0.5 { Ok(libm::pow(1.0 - 1.0 / (2.0 * effective_size), generations)) } else { Err(Reason::NoData) }
}

/// Ne of the living, from how far each is inbred for the depth of its pedigree.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RealizedSize {
    /// `Ne = 1/(2 mean dF)`.
    pub effective_size: f64,
    /// Its standard error, `2 Ne^2 sd(dF)/sqrt(n)`.
    pub se_effective_size: f64,
    /// The living that count: of sexual origin and more than one equivalent generation deep.
    pub animals: usize,
    /// Their mean equivalent complete generations.
    pub mean_generations: f64,
}

impl Pedigree {
    /// The equivalent complete generations of every animal, in the order of the rows: the sum over
    /// known ancestors of `(1/2)^generations` (Maignel et al. 1996; from memory), so
    /// `t = sum (1 + t_parent)/2`; with a dam alone `1 + t_dam`.
    pub fn equivalent_generations(&self) -> Vec<f64> {
        let nodes = &self.nodes;
        let mut depth = vec![0.0; nodes.len() + 1];
        for node in 0..nodes.len() {
            // A pick among candidates is a parent, not a generation.
            let step = if matches!(nodes.descent[node], Descent::Pick { .. }) { 0.0 } else { 1.0 };
            let known = nodes.parents[node].into_iter().zip(nodes.shares[node]).filter(|(p, _)| *p != nodes.nobody());
            depth[node] = known.map(|(parent, share)| share * (step + depth[parent as usize])).sum();
        }
        self.by_row(&depth)
    }

    /// Realized Ne from individual increases in inbreeding, `dF_i = 1 - (1 - F_i)^(1/(t_i - 1))`
    /// (Gutierrez, Cervantes & Goyache 2009, J Anim Breed Genet 126:327; from memory), over the
    /// living of sexual origin with `t > 1`. Those from a dam alone are left out: their F says how
    /// they came to be, not how small the population is.
    ///
    /// Not for: shallow pedigrees; below two or three equivalent generations it is hardly more than
    /// chance.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`]; [`Reason::PedigreeTooShallow`] where nobody is deep enough;
    /// [`Reason::InbreedingNotRising`] where none of them is inbred.
    pub fn realized_size(&self) -> Result<RealizedSize, Reason> {
        let living = self.living();
        if living.is_empty() {
            return Err(Reason::NoneLiving);
        }
        let (depth, inbreeding) = (self.equivalent_generations(), self.inbreeding());
        let sexual = |row: &usize| matches!(self.nodes.descent[self.node[*row] as usize], Descent::Sexual | Descent::Founder);
        let mut deep: Vec<usize> = living.into_iter().filter(|row| sexual(row) && depth[*row] > 1.0).collect();
        if deep.is_empty() {
            return Err(Reason::PedigreeTooShallow);
        }
        deep.sort_unstable_by_key(|row| self.node[*row]);
        let rise = |row: &usize| 1.0 - libm::pow(1.0 - inbreeding[*row], 1.0 / (depth[*row] - 1.0));
        let rises: Vec<f64> = deep.iter().map(rise).collect();
        let count = rises.len() as f64;
        let mean = rises.iter().sum::<f64>() / count;
        let effective_size = from_rate(mean)?;
        let variance = rises.iter().map(|r| (r - mean) * (r - mean)).sum::<f64>() / (count - 1.0).max(1.0);
        Ok(RealizedSize {
            effective_size,
            se_effective_size: 2.0 * effective_size * effective_size * libm::sqrt(variance / count),
            animals: deep.len(),
            mean_generations: deep.iter().map(|row| depth[*row]).sum::<f64>() / count,
        })
    }
}
