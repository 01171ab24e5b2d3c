//! Whose genes the living carry.
//!
//! A founder is an animal with both parents unknown or in the wild. An animal with one such parent,
//! or from a dam alone that nobody knows, has a founder beside it that stands for that parent: `?`
//! and the animal's id. `none` makes no founder.

use serde::Serialize;

use super::lineage::{Descent, Pedigree};
use crate::reason::Reason;

/// A founder and what it gave.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Founder {
    /// Its id; for the unknown parent of an animal `?` and that animal's id.
    pub id: String,
    /// The expected part of the genes of the living that comes from it; 0 where none is left.
    pub contribution: f64,
}

/// A source of genes, by node.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Source {
    /// The founder itself, or the animal whose parent it is.
    pub node: u32,
    /// The slot of the unknown parent; `None` for a founder that is an animal of the table.
    pub parent: Option<usize>,
}

impl Pedigree {
    /// What part of the living's genes passed through each node, each living one counting 1.
    pub(super) fn passed_through(&self) -> Result<(Vec<f64>, f64), Reason> {
        let nodes = &self.nodes;
        let mut passed: Vec<f64> = nodes.living.iter().map(|living| f64::from(u8::from(*living))).collect();
        let living: f64 = passed.iter().sum();
        if living == 0.0 {
            return Err(Reason::NoneLiving);
        }
        passed.push(0.0);
        for node in (0..nodes.len()).rev() {
            for (parent, share) in nodes.parents[node].into_iter().zip(nodes.shares[node]) {
                passed[parent as usize] += share * passed[node];
            }
        }
        passed.truncate(nodes.len());
        Ok((passed, living))
    }

    /// All sources of genes, in the order of the nodes.
    pub(super) fn sources(&self) -> Vec<Source> {
        let nodes = &self.nodes;
        let nobody = nodes.nobody();
        let source = |node: usize| {
            let absent = |slot: usize| nodes.parents[node][slot] == nobody;
            match nodes.descent[node] {
                Descent::Founder => Some(None),
                Descent::Sexual if absent(0) => Some(Some(0)),
                Descent::Sexual if absent(1) => Some(Some(1)),
                Descent::Uniparental { .. } if absent(0) => Some(Some(0)),
                _ => None,
            }
            .map(|parent| Source { node: node as u32, parent })
        };
        (0..nodes.len()).filter_map(source).collect()
    }

    pub(super) fn source_id(&self, source: Source) -> String {
        let id = &self.ids[self.nodes.row[source.node as usize] as usize];
        if source.parent.is_some() { format!("?{id}") } else { id.clone() }
    }

    /// The share of a source in the living, given what passed through each node.
    pub(super) fn given(&self, source: Source, passed: &[f64], living: f64) -> f64 {
        let node = source.node as usize;
        source.parent.map_or(1.0, |slot| self.nodes.shares[node][slot]) * passed[node] / living
    }

    /// The expected contribution of every founder to the living (Lacy 1989, Zoo Biol 8:111), `p_k`,
    /// in the order of the rows. They sum to 1.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`].
    pub fn founders(&self) -> Result<Vec<Founder>, Reason> {
        let (passed, living) = self.passed_through()?;
        let mut sources = self.sources();
        sources.sort_by_key(|source| self.nodes.row[source.node as usize]);
        let founder = |s: &Source| Founder { id: self.source_id(*s), contribution: self.given(*s, &passed, living) };
        Ok(sources.iter().map(founder).collect())
    }

    /// The effective number of founders, `f_e = 1/sum p_k^2` (Lacy 1989): as many founders with
    /// equal shares would give the same expected diversity if no allele were lost on the way.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`].
    pub fn effective_founders(&self) -> Result<f64, Reason> {
        let (passed, living) = self.passed_through()?;
        let squares = self.sources().into_iter().map(|source| self.given(source, &passed, living));
        Ok(1.0 / squares.map(|p| p * p).sum::<f64>())
    }

    /// The part of the living's genes that is traced to founders with a row of their own; the rest
    /// comes from the unknown parents of animals whose other parent is known. A founder's own
    /// origin is not asked: how far that is the wild is [`wild_fraction`](Pedigree::wild_fraction).
    ///
    /// # Errors
    /// [`Reason::NoneLiving`].
    pub fn known_fraction(&self) -> Result<f64, Reason> {
        let (passed, living) = self.passed_through()?;
        let own = self.sources().into_iter().filter(|source| source.parent.is_none());
        Ok(own.map(|source| self.given(source, &passed, living)).sum())
    }

    /// The part of the living's genes that is traced to parents recorded as wild-caught.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`].
    pub fn wild_fraction(&self) -> Result<f64, Reason> {
        let (passed, living) = self.passed_through()?;
        let wild = self.sources().into_iter().filter(|source| self.wild[self.nodes.row[source.node as usize] as usize]);
        Ok(wild.map(|source| self.given(source, &passed, living)).sum())
    }

    /// Ids of animals that are sire of one animal and dam of another, in the order of the rows.
    /// Without recorded sexes that cannot be refused, but a shark is only one of the two.
    pub fn sires_and_dams(&self) -> Vec<&str> {
        let nodes = &self.nodes;
        let mut roles = vec![[false; 2]; nodes.len() + 1];
        // Youngest first, so that a pick hands its role on to its candidates.
        for node in (0..nodes.len()).rev() {
            let own = roles[node];
            for (slot, parent) in nodes.parents[node].into_iter().enumerate() {
                let given = match nodes.descent[node] {
                    Descent::Sexual => [slot == 0, slot == 1],
                    Descent::Uniparental { .. } => [false, true],
                    Descent::Pick { .. } => own,
                    Descent::Founder => [false; 2],
                };
                let role = &mut roles[parent as usize];
                *role = [role[0] || given[0], role[1] || given[1]];
            }
        }
        let both = |row: &usize| roles[self.node[*row] as usize] == [true; 2];
        (0..self.len()).filter(both).map(|row| self.ids[row].as_str()).collect()
    }
}
