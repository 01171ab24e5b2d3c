//! k of n when the cases come in clusters that share their fortunes.
//!
//! Rao & Scott 1992 (Biometrics 48:577): the variance of the ratio estimator between clusters says
//! how many independent cases the table is worth, and Wilson's interval is taken on that number.

use serde::Serialize;

use crate::confidence::{Interval, Level};
use crate::proportion::{Tally, wilson_of_real};
use crate::reason::{Error, Reason};

/// Below so many clusters the design effect is itself poorly known, and the result says so.
pub const CLUSTERS_FEW_BELOW: usize = 10;

/// A proportion over clusters.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Clustered {
    /// The level of the interval.
    pub level: Level,
    /// Clusters with at least one case.
    pub clusters: usize,
    /// Fewer than [`CLUSTERS_FEW_BELOW`].
    pub few_clusters: bool,
    /// Cases with the event.
    pub k: u64,
    /// All cases.
    pub n: u64,
    /// `k / n`.
    pub estimate: f64,
    /// The design effect as estimated; absent when all or none had the event, where it is undefined.
    pub deff: Option<f64>,
    /// The number of independent cases the table is worth: `n / max(deff, 1)`, and the number of
    /// clusters, conservatively, where the design effect is undefined.
    pub n_eff: f64,
    /// Wilson's interval on `n_eff`.
    pub wilson: Interval,
}

/// The proportion over all clusters, with an interval that allows for their differences. Clusters
/// without cases are left out.
///
/// Fails with [`Reason::NoData`] without cases, with [`Reason::SingleCluster`] for one cluster, and
/// with [`InvalidInput`](crate::reason::InvalidInput) as
/// [`proportion`](crate::proportion::proportion) does.
pub fn clustered(clusters: &[Tally], level: Level) -> Result<Clustered, Error> {
    let filled: Vec<Tally> = clusters.iter().copied().filter(|c| c.n > 0 || c.k > 0).collect();
    let Tally { k, n } = total(&filled)?.check()?;
    if filled.len() < 2 {
        return Err(Reason::SingleCluster.into());
    }
    let estimate = k as f64 / n as f64;
    let deff = (k > 0 && k < n).then(|| design_effect(&filled, estimate, n as f64));
    let n_eff = match deff {
        Some(deff) => n as f64 / deff.max(1.0),
        None => filled.len() as f64,
    };
    let few_clusters = filled.len() < CLUSTERS_FEW_BELOW;
    // Where all had the event p * n_eff must be n_eff itself, so that the upper limit is exactly 1.
    let wilson = wilson_of_real(estimate * n_eff, n_eff, level);
    Ok(Clustered { level, clusters: filled.len(), few_clusters, k, n, estimate, deff, n_eff, wilson })
}

fn total(clusters: &[Tally]) -> Result<Tally, Error> {
    let mut sum = Tally { k: 0, n: 0 };
    for cluster in clusters {
        cluster.check()?;
        // Each is at most CASES_MAX, so the sum saturates long after the check has refused it.
        sum = Tally { k: sum.k.saturating_add(cluster.k), n: sum.n.saturating_add(cluster.n) };
    }
    Ok(sum)
}

/// The variance between clusters over the variance that independent cases would have.
fn design_effect(clusters: &[Tally], p: f64, n: f64) -> f64 {
    let m = clusters.len() as f64;
    let squares: f64 = clusters.iter().map(|c| square(c.k as f64 - p * c.n as f64)).sum();
    let between = m / (m - 1.0) * squares / (n * n);
    between / (p * (1.0 - p) / n)
}

fn square(value: f64) -> f64 {
    value * value
}
