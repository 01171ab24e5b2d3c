//! The exact chance that an allele is still there.
//!
//! One allele of a founder is marked. A state says which animals that may still have young carry it
//! and in how many copies; states move from one animal to the next with Mendel's chances. An
//! animal that lives and carries it ends the story, and so does its loss.

use std::collections::BTreeMap;

use super::founders::Source;
use super::lineage::{Descent, Nodes};

/// Most steps from one state to another before the exact way is given up.
const STEPS_MAX: u64 = 2_000_000;
/// Most places of a pedigree that is tried at all.
const NODES_MAX: usize = 5_000;

/// Carriers by node, with their copies: 1 or 2.
type State = Vec<(u32, u8)>;

/// `r` of every source, or `None` when there are too many states.
pub(super) fn retained(nodes: &Nodes, sources: &[Source], passed: &[f64]) -> Option<Vec<f64>> {
    if nodes.len() > NODES_MAX {
        return None;
    }
    let mut story = Story { nodes, passed, last_child: last_children(nodes, passed), steps: 0 };
    sources.iter().map(|source| story.of(*source)).collect()
}

/// The youngest offspring of each node through which genes of the living pass.
fn last_children(nodes: &Nodes, passed: &[f64]) -> Vec<u32> {
    let mut last = vec![0; nodes.len() + 1];
    for node in (0..nodes.len()).filter(|node| passed[*node] > 0.0) {
        nodes.parents[node].iter().for_each(|parent| last[*parent as usize] = node as u32);
    }
    last
}

struct Story<'a> {
    nodes: &'a Nodes,
    passed: &'a [f64],
    last_child: Vec<u32>,
    steps: u64,
}

impl Story<'_> {
    /// The marked allele is one of the two of a founder, or of an unknown parent.
    fn of(&mut self, source: Source) -> Option<f64> {
        let first = source.node;
        if self.passed[first as usize] == 0.0 {
            return Some(0.0);
        }
        let mut kept = 0.0;
        let mut states: BTreeMap<State, f64> = BTreeMap::new();
        for (copies, chance) in self.at_the_source(source) {
            self.put(&mut states, &mut kept, &State::new(), first, copies, chance);
        }
        // Who may carry it and still have young: only their offspring are steps of the story.
        let mut reached = vec![false; self.nodes.len() + 1];
        reached[first as usize] = true;
        for node in first as usize + 1..self.nodes.len() {
            let touched = self.passed[node] > 0.0 && self.nodes.parents[node].iter().any(|parent| reached[*parent as usize]);
            if touched && !states.is_empty() {
                states = self.moved(&states, &mut kept, node as u32)?;
                reached[node] = !self.nodes.living[node];
            }
        }
        Some(kept)
    }

    fn at_the_source(&self, source: Source) -> Vec<(u8, f64)> {
        match (source.parent, self.nodes.descent[source.node as usize]) {
            (None, _) => vec![(1, 1.0)],
            (Some(_), Descent::Uniparental { rho }) => alone(1, rho),
            (Some(_), _) => vec![(1, 0.5)],
        }
    }

    fn moved(&mut self, states: &BTreeMap<State, f64>, kept: &mut f64, node: u32) -> Option<BTreeMap<State, f64>> {
        let mut next = BTreeMap::new();
        for (state, chance) in states {
            for (copies, part) in self.copies(state, node) {
                self.steps += 1;
                self.put(&mut next, kept, state, node, copies, chance * part);
            }
        }
        (self.steps <= STEPS_MAX).then_some(next)
    }

    /// How many copies a node gets, and how likely.
    fn copies(&self, state: &State, node: u32) -> Vec<(u8, f64)> {
        let carried = |parent: u32| state.iter().find(|(carrier, _)| *carrier == parent).map_or(0, |(_, copies)| *copies);
        let [one, other] = self.nodes.parents[node as usize].map(carried);
        if (one, other) == (0, 0) {
            return vec![(0, 1.0)];
        }
        match self.nodes.descent[node as usize] {
            Descent::Founder => vec![(0, 1.0)],
            Descent::Uniparental { rho } => alone(one, rho),
            Descent::Pick { first } => vec![(one, first), (other, 1.0 - first)],
            Descent::Sexual => {
                let (a, b) = (f64::from(one) / 2.0, f64::from(other) / 2.0);
                vec![(0, (1.0 - a) * (1.0 - b)), (1, a * (1.0 - b) + b * (1.0 - a)), (2, a * b)]
            }
        }
    }

    /// Adds a state's chance: to what is kept if the animal lives, else to what goes on.
    fn put(&self, states: &mut BTreeMap<State, f64>, kept: &mut f64, before: &State, node: u32, copies: u8, chance: f64) {
        if chance == 0.0 {
            return;
        }
        if copies > 0 && self.nodes.living[node as usize] {
            *kept += chance;
            return;
        }
        let goes_on = |(carrier, _): &&(u32, u8)| self.last_child[*carrier as usize] > node;
        let mut after: State = before.iter().filter(goes_on).copied().collect();
        after.extend(Some((node, copies)).filter(|_| copies > 0 && self.last_child[node as usize] > node));
        if !after.is_empty() {
            *states.entry(after).or_insert(0.0) += chance;
        }
    }
}

/// From a dam alone: with chance rho both alleles are copies of the same one of hers.
fn alone(carried: u8, rho: f64) -> Vec<(u8, f64)> {
    match carried {
        1 => vec![(0, rho / 2.0), (2, rho / 2.0), (1, 1.0 - rho)],
        all_or_none => vec![(all_or_none, 1.0)],
    }
}
