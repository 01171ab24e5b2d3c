//! Kinship without the matrix, and with it where it is small enough.
//!
//! `A x = T (D (T' x))` costs two passes over the pedigree for any `x` (Colleau 2002, Genet Sel Evol
//! 34:409): with `x` equal to 1/N on the living, half of it is every animal's mean kinship; with
//! `x` equal to 1 for one animal, its kinship with all.

use super::lineage::{NOBODY, Pedigree};
use super::refusal::Refusal;
use crate::reason::Reason;

/// Most numbers of a table of kinships: 800 MB of them.
pub const TABLE_CELLS_MAX: usize = 100_000_000;

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

    /// All kinships at once, by the tabular method (Emik & Terrill 1949, J Hered 40:51), written out
    /// for those that are parents only: an animal without offspring has the mean of its parents'
    /// kinships with everybody but itself, which is as quickly taken as read.
    ///
    /// # Errors
    /// [`Refusal::TableTooLarge`] where parents times animals are more than [`TABLE_CELLS_MAX`].
    pub fn kinship_table(&self) -> Result<KinshipTable<'_>, Refusal> {
        let nodes = &self.nodes;
        let mut place = vec![NOBODY; nodes.len() + 1];
        nodes.parents.iter().flatten().for_each(|parent| place[*parent as usize] = 0);
        place.truncate(nodes.len());
        let mut parents = 0;
        for own in place.iter_mut().filter(|own| **own != NOBODY) {
            (*own, parents) = (parents, parents + 1);
        }
        small_enough(parents as usize, nodes.len())?;
        let mut table = KinshipTable { pedigree: self, place, column: self.columns(), values: Vec::new() };
        table.values.reserve_exact(parents as usize * nodes.len());
        (0..nodes.len()).filter(|node| table.place[*node] != NOBODY).collect::<Vec<_>>().into_iter().for_each(|node| table.add(node));
        Ok(table)
    }

    /// Of each node: the row of an animal; picks come after them.
    fn columns(&self) -> Vec<u32> {
        let mut picks = self.len() as u32..;
        let column = |row: &u32| if *row == NOBODY { picks.next().unwrap_or(NOBODY) } else { *row };
        self.nodes.row.iter().map(column).collect()
    }
}

fn small_enough(lines: usize, columns: usize) -> Result<(), Refusal> {
    match lines.checked_mul(columns).is_none_or(|cells| cells > TABLE_CELLS_MAX) {
        true => Err(Refusal::TableTooLarge { what: "kinship", found: columns, max: TABLE_CELLS_MAX.isqrt() }),
        false => Ok(()),
    }
}

/// The kinships of all with all.
pub struct KinshipTable<'a> {
    pedigree: &'a Pedigree,
    /// Which line a node has, if it is a parent.
    place: Vec<u32>,
    /// Which column a node has.
    column: Vec<u32>,
    /// The lines of the parents.
    values: Vec<f64>,
}

impl KinshipTable<'_> {
    /// The line of a parent, given those of all before it.
    fn add(&mut self, node: usize) {
        let nodes = &self.pedigree.nodes;
        let mut line = vec![0.0; nodes.len()];
        self.mean_of_parents(node, &mut line);
        line[self.column[node] as usize] = self.with_itself(node);
        // Those after it may descend from it: each has the mean of its own parents.
        let column = |node: u32| self.column.get(node as usize).map(|column| *column as usize);
        for later in node + 1..nodes.len() {
            let ([a, b], [p, q]) = (nodes.shares[later], nodes.parents[later]);
            let one = column(p).map_or(0.0, |p| a * line[p]);
            line[self.column[later] as usize] = one + column(q).map_or(0.0, |q| b * line[q]);
        }
        self.values.extend_from_slice(&line);
    }

    fn with_itself(&self, node: usize) -> f64 {
        0.5 * (1.0 + self.pedigree.inbreeding.f[node])
    }

    /// The line of a node that is a parent.
    fn written(&self, node: u32) -> Option<&[f64]> {
        let (width, place) = (self.column.len(), *self.place.get(node as usize)?);
        self.values.get(place as usize * width..)?.get(..width)
    }

    fn mean_of_parents(&self, node: usize, line: &mut [f64]) {
        let ([a, b], [p, q]) = (self.pedigree.nodes.shares[node], self.pedigree.nodes.parents[node].map(|p| self.written(p)));
        match (p, q) {
            (Some(p), Some(q)) => line.iter_mut().zip(p.iter().zip(q)).for_each(|(own, (p, q))| *own = a * p + b * q),
            (Some(p), None) => line.iter_mut().zip(p).for_each(|(own, p)| *own = a * p),
            (None, Some(q)) => line.iter_mut().zip(q).for_each(|(own, q)| *own = b * q),
            (None, None) => line.fill(0.0),
        }
    }

    /// The kinship of two animals by the index of their rows.
    pub fn of(&self, one: usize, other: usize) -> f64 {
        let node = self.pedigree.node[one];
        if one == other {
            return self.with_itself(node as usize);
        }
        if let Some(line) = self.written(node) {
            return line[other];
        }
        let nodes = &self.pedigree.nodes;
        let parents = nodes.parents[node as usize].into_iter().zip(nodes.shares[node as usize]);
        parents.filter_map(|(parent, share)| Some(share * self.written(parent)?[other])).sum()
    }

    /// Writes the kinships of one animal with all, in the order of the rows, over `line`, which has
    /// as many places as there are animals.
    pub fn write_line(&self, animal: usize, line: &mut [f64]) {
        let node = self.pedigree.node[animal];
        match self.written(node) {
            Some(written) => line.iter_mut().zip(written).for_each(|(own, written)| *own = *written),
            None => self.mean_of_parents(node as usize, line),
        }
        line[animal] = self.with_itself(node as usize);
    }

    /// The whole table, lines and columns in the order of the rows.
    ///
    /// # Errors
    /// [`Refusal::TableTooLarge`] above [`TABLE_CELLS_MAX`].
    pub fn lines(&self) -> Result<Vec<Vec<f64>>, Refusal> {
        let animals = self.pedigree.len();
        small_enough(animals, animals)?;
        let line = |animal| {
            let mut line = vec![0.0; animals];
            self.write_line(animal, &mut line);
            line
        };
        Ok((0..animals).map(line).collect())
    }
}
