//! Kinship without the matrix, and with it where it is small enough.
//!
//! `A x = T (D (T' x))` costs two passes over the pedigree for any `x` (Colleau 2002, Genet Sel Evol
//! 34:409): with `x` equal to 1/N on the living, half of it is every animal's mean kinship; with
//! `x` equal to 1 for one animal, its kinship with all.

use super::lineage::{Descent, Pedigree};
use super::refusal::Refusal;
use crate::reason::Reason;

/// Most animals of a table of all kinships: 800 MB of it.
pub const TABLE_ANIMALS_MAX: usize = 10_000;

impl Pedigree {
    /// `A x`, all by node. Each pass meets the nodes in their order, so the digits do not depend on
    /// the order of the rows.
    pub(crate) fn relationship_times(&self, x: &[f64]) -> Vec<f64> {
        let nodes = &self.nodes;
        let mut values = x.to_vec();
        values.push(0.0);
        for node in (0..nodes.len()).rev() {
            let ([a, b], [p, q]) = (nodes.shares[node], nodes.parents[node]);
            let own = values[node];
            values[p as usize] += a * own;
            values[q as usize] += b * own;
            values[node] = own * self.inbreeding.sampling[node];
        }
        // What was added for absent parents is nobody's.
        values[nodes.len()] = 0.0;
        for node in 0..nodes.len() {
            let ([a, b], [p, q]) = (nodes.shares[node], nodes.parents[node]);
            values[node] += a * values[p as usize] + b * values[q as usize];
        }
        values.truncate(nodes.len());
        values
    }

    /// The kinship of one animal (its index) with every animal, itself included, in the order of the
    /// rows: the chance that an allele of the one and an allele of the other, drawn at random, are
    /// copies of one allele of a founder (Malecot 1948). With a mate it is the F of their young.
    ///
    /// # Errors
    /// [`Refusal::NoSuchAnimal`] for an index past the end.
    pub fn kinship_of(&self, animal: usize) -> Result<Vec<f64>, Refusal> {
        let node = *self.node.get(animal).ok_or_else(|| Refusal::NoSuchAnimal { id: format!("number {animal}") })?;
        let mut x = vec![0.0; self.nodes.len()];
        x[node as usize] = 0.5;
        Ok(self.by_row(&self.relationship_times(&x)))
    }

    /// The mean kinship of every animal with the living, itself included if it lives (Ballou & Lacy
    /// 1995): `mk_i = sum_j phi(i,j)/N`. In the order of the rows.
    ///
    /// Not for: choosing whom to breed by this number alone; low mean kinship often means unknown
    /// ancestors.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`] where nobody is living.
    pub fn mean_kinship(&self) -> Result<Vec<f64>, Reason> {
        let living = self.nodes.living.iter().filter(|living| **living).count();
        if living == 0 {
            return Err(Reason::NoneLiving);
        }
        let x: Vec<f64> = self.nodes.living.iter().map(|living| f64::from(u8::from(*living))).collect();
        let sums = self.relationship_times(&x);
        Ok(self.node.iter().map(|node| sums[*node as usize] / (2.0 * living as f64)).collect())
    }

    /// The mean of the mean kinships of the living, `MK`. Gene diversity is `1 - MK` (the expected
    /// heterozygosity of the living as a part of the founders'), and `1/(2 MK)` the founder genome
    /// equivalents that go with it (Lacy 1995, Zoo Biol 14:565; from memory). Not the same number as
    /// [`retention`](Pedigree::retention) gives.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`] where nobody is living.
    pub fn population_mean_kinship(&self) -> Result<f64, Reason> {
        let (means, living) = (self.mean_kinship()?, self.living());
        // Summed in the order of the nodes, for the same digits whatever the order of the rows.
        let mut ordered: Vec<(u32, f64)> = living.iter().map(|row| (self.node[*row], means[*row])).collect();
        ordered.sort_unstable_by_key(|(node, _)| *node);
        Ok(ordered.iter().map(|(_, mean)| mean).sum::<f64>() / living.len() as f64)
    }

    /// All kinships at once, by the tabular method (Emik & Terrill 1949, J Hered 40:51): time and
    /// memory grow with the square of the number.
    ///
    /// # Errors
    /// [`Refusal::TableTooLarge`] above [`TABLE_ANIMALS_MAX`], picks among candidates counted.
    pub fn kinship_table(&self) -> Result<KinshipTable, Refusal> {
        let size = self.nodes.len();
        if size > TABLE_ANIMALS_MAX {
            return Err(Refusal::TableTooLarge { what: "kinship", found: size, max: TABLE_ANIMALS_MAX });
        }
        let mut values = vec![0.0; size * size];
        for level in self.nodes.levels.windows(2) {
            self.fill(&mut values, level[0], level[1]);
        }
        Ok(KinshipTable { node: self.node.clone(), size, values })
    }

    /// One generation: rows against all earlier ones from the parents' rows, their mirror image, and
    /// then against each other, as no two of a generation descend from one another.
    fn fill(&self, values: &mut [f64], from: usize, to: usize) {
        let size = self.nodes.len();
        self.mix(values, from..to, 0..from);
        mirror(values, size, from, to);
        self.mix(values, from..to, from..to);
        for node in from..to {
            values[node * size + node] = 0.5 * (1.0 + self.inbreeding.f[node]);
        }
    }

    fn mix(&self, values: &mut [f64], rows: std::ops::Range<usize>, columns: std::ops::Range<usize>) {
        let size = self.nodes.len();
        for node in rows {
            if self.nodes.descent[node] == Descent::Founder {
                continue;
            }
            let (earlier, own) = values.split_at_mut(node * size);
            let own = &mut own[columns.clone()];
            let row = |parent: u32| earlier.get(parent as usize * size..).and_then(|rest| rest.get(columns.clone()));
            let ([a, b], [p, q]) = (self.nodes.shares[node], self.nodes.parents[node]);
            match (row(p), row(q)) {
                (Some(p), Some(q)) => own.iter_mut().zip(p).zip(q).for_each(|((own, p), q)| *own = a * p + b * q),
                (Some(p), None) => own.iter_mut().zip(p).for_each(|(own, p)| *own = a * p),
                (None, Some(q)) => own.iter_mut().zip(q).for_each(|(own, q)| *own = b * q),
                (None, None) => {}
            }
        }
    }
}

/// Copies rows `from..to` of the columns before them into the columns `from..to` of the rows before
/// them, in squares that stay in the cache.
fn mirror(values: &mut [f64], size: usize, from: usize, to: usize) {
    const SIDE: usize = 16;
    for top in (0..from).step_by(SIDE) {
        for left in (from..to).step_by(SIDE) {
            for row in top..(top + SIDE).min(from) {
                for column in left..(left + SIDE).min(to) {
                    values[row * size + column] = values[column * size + row];
                }
            }
        }
    }
}

/// The kinships of all with all.
pub struct KinshipTable {
    node: Vec<u32>,
    size: usize,
    values: Vec<f64>,
}

impl KinshipTable {
    /// The kinship of two animals by the index of their rows.
    pub fn of(&self, one: usize, other: usize) -> f64 {
        self.values[self.node[one] as usize * self.size + self.node[other] as usize]
    }

    /// One line of the table, in the order of the rows.
    pub fn line(&self, animal: usize) -> Vec<f64> {
        (0..self.node.len()).map(|other| self.of(animal, other)).collect()
    }

    /// The whole table, in the order of the rows.
    pub fn lines(&self) -> Vec<Vec<f64>> {
        (0..self.node.len()).map(|animal| self.line(animal)).collect()
    }
}
