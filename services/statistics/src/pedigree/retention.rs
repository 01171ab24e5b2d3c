//! What part of each founder's alleles is still there.
//!
//! `r_k` is the chance that an allele of founder k is carried by at least one of the living. Lacy
//! (1989, Zoo Biol 8:111) makes of it founder genome equivalents, `1/sum(p_k^2/r_k)`. That is
//! **another number** than `1/(2 MK)` (Lacy 1995), which belongs to gene diversity: on one small
//! pedigree they are 2.424 and 2.133. Never print either without its definition.
//!
//! For few animals r is computed exactly, by following the chance of every state of one allele down
//! the pedigree. For many that grows beyond any machine, and genes are dropped down the pedigree
//! with a seeded generator instead (MacCluer et al. 1986, Zoo Biol 5:147); the result says which.

use serde::Serialize;

use super::exact;
use super::gene_drop::{self, Dropped};
use super::lineage::Pedigree;
use crate::reason::Reason;

/// How genes are dropped where an exact answer is out of reach.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Drops {
    /// How often; the standard error falls with its square root.
    pub count: u32,
    /// Where the generator starts: the same seed gives the same digits.
    pub seed: u64,
}

impl Default for Drops {
    fn default() -> Drops {
        Drops { count: 1000, seed: 1 }
    }
}

/// How retention was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// By following every state: no error but rounding.
    Exact,
    /// By dropping genes.
    GeneDrop(Drops),
}

/// What is left of one founder.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Retained {
    /// Its id, as in [`Founder`](super::founders::Founder).
    pub id: String,
    /// `p_k`.
    pub contribution: f64,
    /// `r_k`.
    pub retained: f64,
    /// The standard error of `r_k`; 0 if exact.
    pub se_retained: f64,
}

/// What is left of all founders.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Retention {
    /// How it was found.
    pub method: Method,
    /// Each founder, in the order of the rows.
    pub founders: Vec<Retained>,
    /// `sum r_k`: how many founder genomes survive in any number of copies.
    pub founder_genomes_surviving: f64,
    /// `1/sum(p_k^2/r_k)`.
    pub founder_genome_equivalents: f64,
    /// Its standard error (linearised); 0 if exact.
    pub se_founder_genome_equivalents: f64,
}

impl Pedigree {
    /// The retention of every founder's alleles, exactly where that is possible, otherwise by
    /// dropping genes as `drops` says.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`]; [`Reason::NoDrops`] when 0 drops are asked for and needed;
    /// [`Reason::NeverRetained`] where no drop kept an allele of a founder with a share in the
    /// living, so that its `p^2/r` has no value.
    pub fn retention(&self, drops: Drops) -> Result<Retention, Reason> {
        match self.retention_exact()? {
            Some(exact) => Ok(exact),
            None => self.retention_by_gene_drop(drops),
        }
    }

    /// The same, exactly or (`None`) not at all.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`].
    pub fn retention_exact(&self) -> Result<Option<Retention>, Reason> {
        let (passed, living) = self.passed_through()?;
        let Some(retained) = exact::retained(&self.nodes, &self.sources(), &passed) else { return Ok(None) };
        let spread = vec![0.0; retained.len()];
        let dropped = Dropped { retained, spread, drops: 1 };
        Ok(Some(self.told(Method::Exact, &dropped, &passed, living, |_| 0.0)))
    }

    /// The same, by dropping genes.
    ///
    /// # Errors
    /// As for [`retention`](Pedigree::retention).
    pub fn retention_by_gene_drop(&self, drops: Drops) -> Result<Retention, Reason> {
        let (passed, living) = self.passed_through()?;
        if drops.count == 0 {
            return Err(Reason::NoDrops);
        }
        let sources = self.sources();
        let dropped = gene_drop::dropped(&self.nodes, &sources, &passed, drops);
        let lost = |index: &usize| dropped.retained[*index] == 0.0 && self.given(sources[*index], &passed, living) > 0.0;
        if let Some(index) = (0..sources.len()).find(lost) {
            return Err(Reason::NeverRetained { id: self.source_id(sources[index]), drops: drops.count });
        }
        let error = |weights: &[f64]| gene_drop::standard_error(&self.nodes, &sources, &passed, drops, weights);
        Ok(self.told(Method::GeneDrop(drops), &dropped, &passed, living, error))
    }

    fn told(&self, method: Method, found: &Dropped, passed: &[f64], living: f64, error: impl Fn(&[f64]) -> f64) -> Retention {
        let sources = self.sources();
        let shares: Vec<f64> = sources.iter().map(|source| self.given(*source, passed, living)).collect();
        let ratio = |p: f64, r: f64| if p > 0.0 { p * p / r } else { 0.0 };
        let sum: f64 = shares.iter().zip(&found.retained).map(|(p, r)| ratio(*p, *r)).sum();
        let equivalents = 1.0 / sum;
        // How the result moves with each r: d(1/S)/dr = p^2/(r S)^2.
        let slope = |(p, r): (&f64, &f64)| ratio(*p, *r) * equivalents * equivalents / if *r > 0.0 { *r } else { 1.0 };
        let slopes: Vec<f64> = shares.iter().zip(&found.retained).map(slope).collect();
        let mut order: Vec<usize> = (0..sources.len()).collect();
        order.sort_by_key(|index| self.nodes.row[sources[*index].node as usize]);
        let one = |index: &usize| Retained {
            id: self.source_id(sources[*index]),
            contribution: shares[*index],
            retained: found.retained[*index],
            se_retained: libm::sqrt(found.spread[*index] / f64::from(found.drops)),
        };
        Retention {
            method,
            founders: order.iter().map(one).collect(),
            founder_genomes_surviving: found.retained.iter().sum(),
            founder_genome_equivalents: equivalents,
            se_founder_genome_equivalents: error(&slopes),
        }
    }
}
