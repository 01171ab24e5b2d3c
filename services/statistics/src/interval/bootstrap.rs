//! How far a band may be wrong: whole clusters drawn again and again.
//!
//! Eggs of one clutch share dam, tank and mishaps, so clutches are drawn, not eggs (Efron &
//! Tibshirani 1993; Field & Welsh 2007 JRSSB 69:369). The limits are percentiles: below, of the lower
//! edge of the band; above, of its upper edge. With few looks a case the estimate converges only like
//! the cube root of the number of cases, and the bootstrap is then an approximation.

use std::collections::BTreeMap;

use serde::Serialize;

use super::band::Band;
use super::npmle::{fit, npmle};
use super::rows::BetweenLooks;
use crate::clustered::CLUSTERS_FEW_BELOW;
use crate::confidence::{Interval, Level};
use crate::reason::{Error, InvalidInput, Reason};

/// Fewer draws leave the ends of a 95 % interval to chance.
pub const REPLICATES_MIN: u64 = 100;

/// More draws change nothing that is printed.
pub const REPLICATES_MAX: u64 = 100_000;

/// What is to be drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BootstrapPlan {
    /// How many times, [`REPLICATES_MIN`] to [`REPLICATES_MAX`]; 500 or more is usual.
    pub replicates: u64,
    /// Where the draws begin: the same seed gives the same digits anywhere.
    pub seed: u64,
    /// The level of the intervals.
    pub level: Level,
}

/// The band at some ages, with an interval around it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BootstrapBand {
    /// The level of the intervals.
    pub level: Level,
    /// How many times clusters were drawn.
    pub replicates: u64,
    /// Where the draws began.
    pub seed: u64,
    /// How many clusters there are.
    pub clusters: usize,
    /// Fewer than [`CLUSTERS_FEW_BELOW`]: the intervals are then too narrow.
    pub few_clusters: bool,
    /// The ages asked for, in days.
    pub age_days: Vec<f64>,
    /// Survival past each age.
    pub survival: Vec<Band>,
    /// The interval around it.
    pub interval: Vec<Interval>,
}

/// Survival at some ages with a cluster bootstrap interval. `clusters` names the cluster of each
/// row; rows with the same number are drawn together. A row that stands for several cases is drawn
/// as one.
///
/// Fails as [`npmle`](super::npmle()) does, with [`InvalidInput`] when the plan or an age is out of
/// range or a row has no cluster, and with [`Reason::SingleCluster`] for one cluster.
pub fn bootstrap(rows: &[BetweenLooks], clusters: &[u64], ages: &[f64], plan: BootstrapPlan) -> Result<BootstrapBand, Error> {
    let members = members(rows, clusters, plan)?;
    let whole = npmle(rows)?;
    if members.len() < 2 {
        return Err(Reason::SingleCluster.into());
    }
    let survival = ages.iter().map(|age| whole.survival_at(*age)).collect::<Result<Vec<Band>, InvalidInput>>()?;
    let mut drawn: Vec<Vec<Band>> = vec![Vec::new(); ages.len()];
    let mut chance = SplitMix64(plan.seed);
    for _ in 0..plan.replicates {
        let sample = draw(rows, &members, &mut chance);
        let again = fit(&sample, sample.iter().map(|row| row.weight).sum())?;
        for (bands, age) in drawn.iter_mut().zip(ages) {
            bands.push(again.survival_at(*age)?);
        }
    }
    Ok(BootstrapBand {
        level: plan.level,
        replicates: plan.replicates,
        seed: plan.seed,
        clusters: members.len(),
        few_clusters: members.len() < CLUSTERS_FEW_BELOW,
        age_days: ages.to_vec(),
        survival,
        interval: drawn.iter().map(|bands| percentiles(bands, plan.level)).collect(),
    })
}

/// Rows by cluster, in the order of the clusters' numbers.
fn members(rows: &[BetweenLooks], clusters: &[u64], plan: BootstrapPlan) -> Result<Vec<Vec<usize>>, InvalidInput> {
    if clusters.len() != rows.len() {
        return Err(InvalidInput::ClusterMissing { rows: rows.len(), clusters: clusters.len() });
    }
    if !(REPLICATES_MIN..=REPLICATES_MAX).contains(&plan.replicates) {
        return Err(InvalidInput::Replicates { found: plan.replicates, min: REPLICATES_MIN, max: REPLICATES_MAX });
    }
    let mut members: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    for (row, cluster) in clusters.iter().enumerate() {
        members.entry(*cluster).or_default().push(row);
    }
    Ok(members.into_values().collect())
}

/// As many clusters as there are, each time any of them.
fn draw(rows: &[BetweenLooks], members: &[Vec<usize>], chance: &mut SplitMix64) -> Vec<BetweenLooks> {
    let mut times = vec![0; members.len()];
    for _ in members {
        times[chance.below(members.len() as u64) as usize] += 1;
    }
    let drawn = members.iter().zip(&times).filter(|(_, times)| **times > 0);
    drawn.flat_map(|(rows_of, times)| rows_of.iter().map(move |row| rows[*row].times(rows[*row].weight * times))).collect()
}

/// The percentile interval; each limit is an order statistic, the outer one where it falls between.
fn percentiles(bands: &[Band], level: Level) -> Interval {
    let tail = level.alpha() / 2.0;
    let sorted = |edge: fn(&Band) -> f64| {
        let mut values: Vec<f64> = bands.iter().map(edge).collect();
        values.sort_by(f64::total_cmp);
        values
    };
    let (lowers, uppers) = (sorted(|band| band.lower), sorted(|band| band.upper));
    let outside = libm::floor(tail * bands.len() as f64) as usize;
    Interval { lower: lowers[outside], upper: uppers[uppers.len() - 1 - outside] }
}

/// Steele, Lea & Flood 2014 (OOPSLA), SplitMix64: ten lines whose digits are the same everywhere.
struct SplitMix64(u64);

impl SplitMix64 {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below `bound`, each as likely as any other: draws that would favour the small ones
    /// are thrown away.
    fn below(&mut self, bound: u64) -> u64 {
        let fair = u64::MAX - u64::MAX % bound;
        loop {
            let drawn = self.next();
            if drawn < fair {
                return drawn % bound;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::SplitMix64;

    /// The first numbers from the seed 1234567, as the reference implementation of Vigna prints them.
    #[test]
    fn the_generator_is_the_published_one() {
        let mut chance = SplitMix64(1_234_567);
        let found: Vec<u64> = (0..3).map(|_| chance.next()).collect();
        assert_eq!(found, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }

    #[test]
    fn every_number_below_the_bound_comes() {
        let mut chance = SplitMix64(1);
        let mut times = [0u32; 7];
        (0..7_000).for_each(|_| times[chance.below(7) as usize] += 1);
        assert!(times.iter().all(|count| (900..1_100).contains(count)), "{times:?}");
    }
}
