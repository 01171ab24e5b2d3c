//! Puts parents before offspring, in an order that the order of the rows has no part in.

use super::lineage::{Descent, NOBODY};

/// A place in the pedigree before it has its number: an animal, or a pick among candidates.
pub(super) struct Raw<'a> {
    /// By their index here, or [`NOBODY`].
    pub parents: [u32; 2],
    pub descent: Descent,
    /// The animal's id; for a pick the offspring or clutch that it is for.
    pub name: &'a str,
    /// 0 for an animal; picks for one name count on from 1.
    pub pick: u32,
}

/// Generations from the founders, or a circle as indices.
pub(super) fn depths(raw: &[Raw<'_>]) -> Result<Vec<u32>, Vec<u32>> {
    let offspring = Offspring::of(raw.iter().map(|r| r.parents));
    let mut waiting: Vec<u8> = raw.iter().map(|r| r.parents.iter().filter(|p| **p != NOBODY).count() as u8).collect();
    let mut depths = vec![0; raw.len()];
    let mut ready: Vec<u32> = (0..raw.len() as u32).filter(|i| waiting[*i as usize] == 0).collect();
    let mut done = 0;
    while let Some(parent) = ready.pop() {
        done += 1;
        for &child in offspring.of_parent(parent) {
            let at = child as usize;
            depths[at] = depths[at].max(depths[parent as usize] + 1);
            waiting[at] -= 1;
            if waiting[at] == 0 {
                ready.push(child);
            }
        }
    }
    if done == raw.len() { Ok(depths) } else { Err(circle(raw, &waiting)) }
}

/// Whoever still waits has an ancestor that waits, so going up from any of them must come back.
fn circle(raw: &[Raw<'_>], waiting: &[u8]) -> Vec<u32> {
    let stuck = |i: &u32| *i != NOBODY && waiting[*i as usize] > 0;
    let mut seen = vec![false; raw.len()];
    let mut way = Vec::new();
    let mut next = (0..raw.len() as u32).find(stuck);
    while let Some(here) = next {
        if seen[here as usize] {
            let from = way.iter().position(|i| *i == here).unwrap_or(0);
            return way.split_off(from);
        }
        seen[here as usize] = true;
        way.push(here);
        next = raw[here as usize].parents.iter().copied().find(|p| stuck(p));
    }
    way
}

/// The indices, founders first, then by generation, animals before picks, then by name.
pub(super) fn sorted(raw: &[Raw<'_>], depths: &[u32]) -> Vec<u32> {
    let mut order: Vec<u32> = (0..raw.len() as u32).collect();
    let key = |i: &u32| (depths[*i as usize], raw[*i as usize].pick > 0, raw[*i as usize].name, raw[*i as usize].pick);
    order.sort_unstable_by(|a, b| key(a).cmp(&key(b)));
    order
}

/// Who descends from whom, one step down.
pub(super) struct Offspring {
    starts: Vec<u32>,
    children: Vec<u32>,
}

impl Offspring {
    /// A child with one animal for both parents is listed twice.
    pub(super) fn of(parents: impl ExactSizeIterator<Item = [u32; 2]> + Clone) -> Offspring {
        let mut starts = vec![0_u32; parents.len() + 1];
        let known = |pair: [u32; 2]| pair.into_iter().filter(|p| *p != NOBODY);
        for parent in parents.clone().flat_map(known) {
            starts[parent as usize + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let mut children = vec![0; starts[starts.len() - 1] as usize];
        for (child, pair) in parents.enumerate() {
            for parent in known(pair) {
                children[next[parent as usize] as usize] = child as u32;
                next[parent as usize] += 1;
            }
        }
        Offspring { starts, children }
    }

    pub(super) fn of_parent(&self, parent: u32) -> &[u32] {
        &self.children[self.starts[parent as usize] as usize..self.starts[parent as usize + 1] as usize]
    }
}
