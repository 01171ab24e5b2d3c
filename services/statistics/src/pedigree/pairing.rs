//! Males against females: what their young would be.

use serde::Serialize;

use super::lineage::Pedigree;
use super::refusal::Refusal;
use super::row::Sex;
use crate::reason::Reason;

/// Most pairs of one table.
pub const PAIRS_MAX: usize = 1_000_000;

/// One male and one female that live.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pair {
    /// The male.
    pub sire: String,
    /// The female.
    pub dam: String,
    /// Their kinship, which is the inbreeding F of their young.
    pub kinship: f64,
    /// The male's mean kinship with the living.
    pub sire_mean_kinship: f64,
    /// The female's.
    pub dam_mean_kinship: f64,
    /// The mean kinship that their young would have with those now living: the mean of the two.
    pub offspring_mean_kinship: f64,
}

impl Pedigree {
    /// Every living male with every living female, males and females in the order of the rows.
    /// Animals whose sex is not recorded are left out. One pass over the pedigree for each male.
    ///
    /// Not for: deciding by itself who is bred. It knows nothing of age, health, behaviour, permits,
    /// nor of parents that nobody recorded.
    ///
    /// # Errors
    /// [`Refusal::TableTooLarge`] above [`PAIRS_MAX`].
    pub fn pairs(&self) -> Result<Vec<Pair>, Refusal> {
        let of_sex = |sex| self.living().into_iter().filter(|row| self.sex[*row] == Some(sex)).collect::<Vec<usize>>();
        let (males, females) = (of_sex(Sex::Male), of_sex(Sex::Female));
        if males.len() * females.len() > PAIRS_MAX {
            return Err(Refusal::TableTooLarge { what: "the pairs", found: males.len() + females.len(), max: PAIRS_MAX });
        }
        let Ok(means) = self.mean_kinship() else { return Ok(Vec::new()) };
        let mut pairs = Vec::with_capacity(males.len() * females.len());
        for &sire in &males {
            let kinship = self.kinship_of(sire)?;
            pairs.extend(females.iter().map(|&dam| self.pair(sire, dam, kinship[dam], &means)));
        }
        Ok(pairs)
    }

    fn pair(&self, sire: usize, dam: usize, kinship: f64, means: &[f64]) -> Pair {
        Pair {
            sire: self.ids[sire].clone(),
            dam: self.ids[dam].clone(),
            kinship,
            sire_mean_kinship: means[sire],
            dam_mean_kinship: means[dam],
            offspring_mean_kinship: 0.5 * (means[sire] + means[dam]),
        }
    }

    /// The kinships of chosen animals with each other, by the index of their rows: one pass over the
    /// pedigree for each, so that a few can be asked for among very many.
    ///
    /// # Errors
    /// [`Refusal::NoSuchAnimal`] for an index past the end; [`Refusal::TableTooLarge`] when the
    /// table would have more than [`PAIRS_MAX`] cells.
    pub fn kinship_among(&self, animals: &[usize]) -> Result<Vec<Vec<f64>>, Refusal> {
        if animals.len() * animals.len() > PAIRS_MAX {
            return Err(Refusal::TableTooLarge { what: "kinship", found: animals.len(), max: PAIRS_MAX.isqrt() });
        }
        let line = |animal: &usize| {
            let all = self.kinship_of(*animal)?;
            Ok(animals.iter().filter_map(|other| all.get(*other).copied()).collect())
        };
        animals.iter().map(line).collect()
    }

    /// Males and females that live, and the living whose sex is not recorded.
    pub fn living_by_sex(&self) -> Result<(usize, usize, usize), Reason> {
        let living = self.living();
        if living.is_empty() {
            return Err(Reason::NoneLiving);
        }
        let count = |sex| living.iter().filter(|row| self.sex[**row] == sex).count();
        Ok((count(Some(Sex::Male)), count(Some(Sex::Female)), count(None)))
    }
}
