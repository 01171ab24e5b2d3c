//! Through whom the living's genes passed: the effective number of ancestors.
//!
//! Boichard, Maignel & Verrier (1997, Genet Sel Evol 29:5): choose the ancestor with the largest
//! marginal contribution `p = q (1 - a)`, where `q` is the part of the living's genes that passes
//! through it when those chosen before are cut from their parents, and `a` the part of its own
//! genes that those explain; repeat until all is explained; `f_a = 1/sum p^2`.
//!
//! Here q and a are changed only where a choice changes them (above and below the chosen), and as
//! marginal contributions never grow, a heap of old values finds the next.
//!
//! Ties, which change the result: the **oldest first, then the lowest id**. Older is who was born
//! earlier where every animal has a birth, and otherwise who is fewer generations from the
//! founders; ids are compared byte by byte. Contributions that differ by less than 2^-41 of one
//! animal are a tie.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use serde::Serialize;

use super::founders::Source;
use super::lineage::Pedigree;
use super::order::Offspring;
use super::queue::Queue;
use crate::reason::Reason;

/// Steps in one animal's worth of genes by which contributions are compared.
const STEPS: f64 = (1_u64 << 40) as f64;

/// An ancestor that was chosen.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ancestor {
    /// Its id, or `?` and the id of the animal whose unknown parent it is.
    pub id: String,
    /// The part of the living's genes that it explains and none before it does.
    pub marginal: f64,
}

/// The ancestors in the order in which they were chosen, and their effective number.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ancestry {
    /// As chosen.
    pub ancestors: Vec<Ancestor>,
    /// `f_a`.
    pub effective: f64,
    /// Whether some of the living are ancestors of others of them. Then one animal can be its own
    /// ancestor, and `f_a` can exceed `f_e`: take one cohort as the living.
    pub generations_mixed: bool,
}

impl Pedigree {
    /// The effective number of ancestors of the living. It is at most `f_e` where the living are one
    /// cohort, and smaller the narrower the bottlenecks on the way.
    ///
    /// Candidates count with their weights, so contributions are expectations.
    ///
    /// # Errors
    /// [`Reason::NoneLiving`].
    pub fn effective_ancestors(&self) -> Result<Ancestry, Reason> {
        let (passed, living) = self.passed_through()?;
        let mut search = Search::new(self, passed);
        let mut ancestors = Vec::new();
        let mut squares = 0.0;
        while let Some((place, worth)) = search.next() {
            let marginal = worth / living;
            squares += marginal * marginal;
            ancestors.push(Ancestor { id: search.id(place), marginal });
            search.choose(place);
        }
        Ok(Ancestry { ancestors, effective: 1.0 / squares, generations_mixed: self.generations_mixed() })
    }

    /// Whether a living animal descends from another.
    fn generations_mixed(&self) -> bool {
        let nodes = &self.nodes;
        let mut below = vec![false; nodes.len() + 1];
        (0..nodes.len()).rev().any(|node| {
            let counts = below[node] || nodes.living[node];
            nodes.parents[node].iter().for_each(|parent| below[*parent as usize] |= counts);
            below[node] && nodes.living[node]
        })
    }
}

/// Places are nodes, and after them the sources that are unknown parents.
struct Search<'a> {
    pedigree: &'a Pedigree,
    unknown: Vec<Source>,
    offspring: Offspring,
    /// q of nodes; those cut no longer hand on.
    passed: Vec<f64>,
    /// a of nodes.
    explained: Vec<f64>,
    /// Chosen nodes have no parents any more, chosen unknown parents no part.
    chosen: Vec<bool>,
    /// What is on its way to a node; 0 between two choices.
    change: Vec<f64>,
    rank: Vec<u32>,
    heap: BinaryHeap<(u64, Reverse<u32>, u32)>,
    above: Queue,
    /// Emptied from the largest down, so it holds how far a node is from the end.
    below: Queue,
}

impl<'a> Search<'a> {
    fn new(pedigree: &'a Pedigree, passed: Vec<f64>) -> Search<'a> {
        let nodes = &pedigree.nodes;
        let unknown: Vec<Source> = pedigree.sources().into_iter().filter(|s| s.parent.is_some()).collect();
        let places = nodes.len() + unknown.len();
        let known = |pair: &[u32; 2]| pair.map(|p| if p == nodes.nobody() { super::lineage::NOBODY } else { p });
        let parents: Vec<[u32; 2]> = nodes.parents.iter().map(known).collect();
        let mut search = Search {
            offspring: Offspring::of(parents.into_iter()),
            rank: ranks(pedigree, &unknown),
            unknown,
            passed,
            explained: vec![0.0; nodes.len() + 1],
            chosen: vec![false; places],
            change: vec![0.0; nodes.len()],
            heap: BinaryHeap::with_capacity(places),
            above: Queue::new(nodes.len()),
            below: Queue::new(nodes.len()),
            pedigree,
        };
        (0..places as u32).for_each(|place| search.push(place));
        search
    }

    fn push(&mut self, place: u32) {
        let steps = self.steps(place);
        if steps > 0 {
            self.heap.push((steps, Reverse(self.rank[place as usize]), place));
        }
    }

    fn steps(&self, place: u32) -> u64 {
        (self.worth(place) * STEPS).round() as u64
    }

    /// The marginal contribution of a place, in animals.
    fn worth(&self, place: u32) -> f64 {
        let (nodes, at) = (&self.pedigree.nodes, place as usize);
        if self.chosen[at] {
            return 0.0;
        }
        match at.checked_sub(nodes.len()) {
            None if nodes.is_animal(at) => self.passed[at] * (1.0 - self.explained[at]),
            None => 0.0,
            Some(unknown) => {
                let source = self.unknown[unknown];
                let child = source.node as usize;
                let share = source.parent.map_or(1.0, |slot| nodes.shares[child][slot]);
                if self.chosen[child] { 0.0 } else { share * self.passed[child] }
            }
        }
    }

    /// The place that is worth most now. What the heap holds may be out of date, but never too low.
    fn next(&mut self) -> Option<(u32, f64)> {
        while let Some((steps, _, place)) = self.heap.pop() {
            if self.steps(place) >= steps {
                return Some((place, self.worth(place)));
            }
            self.push(place);
        }
        None
    }

    fn id(&self, place: u32) -> String {
        let nodes = &self.pedigree.nodes;
        match (place as usize).checked_sub(nodes.len()) {
            None => self.pedigree.ids[nodes.row[place as usize] as usize].clone(),
            Some(unknown) => self.pedigree.source_id(self.unknown[unknown]),
        }
    }

    fn choose(&mut self, place: u32) {
        let nodes = self.pedigree.nodes.len();
        self.chosen[place as usize] = true;
        match (place as usize).checked_sub(nodes) {
            None => {
                self.cut(place);
                let gain = 1.0 - self.explained[place as usize];
                self.explained[place as usize] = 1.0;
                self.explain(place, gain);
            }
            Some(unknown) => {
                let source = self.unknown[unknown];
                let share = source.parent.map_or(1.0, |slot| self.pedigree.nodes.shares[source.node as usize][slot]);
                self.explained[source.node as usize] += share;
                self.explain(source.node, share);
            }
        }
    }

    /// Takes back what passed on from a node to its ancestors.
    fn cut(&mut self, node: u32) {
        self.take_from_parents(node, self.passed[node as usize]);
        while let Some(ancestor) = self.above.pop() {
            let lost = std::mem::take(&mut self.change[ancestor as usize]);
            self.passed[ancestor as usize] -= lost;
            if !self.chosen[ancestor as usize] {
                self.take_from_parents(ancestor, lost);
            }
        }
    }

    fn take_from_parents(&mut self, node: u32, lost: f64) {
        let nodes = &self.pedigree.nodes;
        for (parent, share) in nodes.parents[node as usize].into_iter().zip(nodes.shares[node as usize]) {
            if parent != nodes.nobody() {
                self.change[parent as usize] += share * lost;
                self.above.insert(parent);
            }
        }
    }

    /// Hands on to the descendants what a node explains more than before.
    fn explain(&mut self, node: u32, gain: f64) {
        let last = self.pedigree.nodes.nobody() - 1;
        self.give_to_offspring(node, gain);
        while let Some(from_the_end) = self.below.pop() {
            let child = last - from_the_end;
            let gain = std::mem::take(&mut self.change[child as usize]);
            self.explained[child as usize] += gain;
            self.give_to_offspring(child, gain);
        }
    }

    fn give_to_offspring(&mut self, node: u32, gain: f64) {
        let nodes = &self.pedigree.nodes;
        for &child in self.offspring.of_parent(node) {
            // Nobody living descends from where nothing passes.
            if !self.chosen[child as usize] && self.passed[child as usize] > 0.0 {
                let share = share_of(nodes.parents[child as usize], nodes.shares[child as usize], node);
                self.change[child as usize] += share * gain;
                self.below.insert(nodes.nobody() - 1 - child);
            }
        }
    }
}

/// The share of one of two parents, who are never the same.
fn share_of(parents: [u32; 2], shares: [f64; 2], parent: u32) -> f64 {
    if parents[0] == parent { shares[0] } else { shares[1] }
}

/// The place of each place in the order of ties.
fn ranks(pedigree: &Pedigree, unknown: &[Source]) -> Vec<u32> {
    let nodes = &pedigree.nodes;
    let dated = pedigree.born.iter().all(Option::is_some);
    let born = |node: usize| if dated && nodes.is_animal(node) { pedigree.born[nodes.row[node] as usize] } else { None };
    let mut keys: Vec<(f64, usize, String, u32)> = Vec::with_capacity(nodes.len() + unknown.len());
    for (depth, level) in nodes.levels.windows(2).enumerate() {
        for node in level[0]..level[1] {
            let id = if nodes.is_animal(node) { pedigree.ids[nodes.row[node] as usize].clone() } else { String::new() };
            keys.push((born(node).unwrap_or(0.0), depth, id, node as u32));
        }
    }
    for (index, source) in unknown.iter().enumerate() {
        let born = born(source.node as usize).unwrap_or(0.0);
        keys.push((born, 0, pedigree.source_id(*source), (nodes.len() + index) as u32));
    }
    keys.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| (a.1, &a.2).cmp(&(b.1, &b.2))));
    let mut ranks = vec![0; keys.len()];
    keys.iter().enumerate().for_each(|(rank, key)| ranks[key.3 as usize] = rank as u32);
    ranks
}
