//! Inbreeding of every animal, in memory linear in their number.
//!
//! `F_i = a(sire, dam)/2`, where `a` is the relationship, twice the kinship. With the lower
//! triangular `T` that says what part of `i`'s genes came through `j`, and the diagonal `D` of what
//! is new in each animal (the Mendelian sampling), `A = T D T'` (Henderson 1976, Biometrics 32:69), so
//! `a(i,j) = sum_k T_ik T_jk D_k`. Meuwissen & Luo (1992, Genet Sel Evol 24:305) get each F by one
//! walk over the ancestors. Here, as in Sargolzaei, Iwaisaki & Colleau (2005, J Anim Breed Genet
//! 122:325; from memory), one generation is done at a time, and within it the mates of one animal
//! together: up from that animal for `D T' e`, then down to all its mates for `T D T' e`.
//!
//! `D_i` is 1 for a founder, `1/2 - (F_s + F_d)/4` with both parents, `3/4 - F_p/4` with one; with a
//! dam alone `F_i - F_d`; for a pick among candidates what the chance itself adds.

use super::lineage::{Descent, Nodes, Pedigree};
use super::queue::Queue;

/// Of every place in the pedigree.
pub(crate) struct Inbreeding {
    /// F; of a pick the mean over its candidates.
    pub f: Vec<f64>,
    /// The diagonal of D.
    pub sampling: Vec<f64>,
}

impl Pedigree {
    /// The inbreeding coefficient of every animal (Wright 1922; Malecot 1948): the chance that its
    /// two alleles at a place are copies of one allele of a founder. In the order of the rows.
    ///
    /// Not for: animals with unknown ancestors, whose F is a lower bound; see
    /// [`known_fraction`](Pedigree::known_fraction).
    pub fn inbreeding(&self) -> Vec<f64> {
        self.by_row(&self.inbreeding.f)
    }
}

/// A couple whose relationship is wanted, and for whom.
struct Couple {
    one: u32,
    other: u32,
    node: u32,
}

pub(crate) fn of(nodes: &Nodes) -> Inbreeding {
    let mut known = Inbreeding { f: vec![0.0; nodes.len()], sampling: vec![0.0; nodes.len() + 1] };
    let mut walk = Walk::new(nodes);
    for level in nodes.levels.windows(2) {
        let mut couples = couples(nodes, level[0]..level[1]);
        for group in couples.chunk_by_mut(|a, b| a.one == b.one) {
            walk.relate(nodes, &known.sampling, group, |node, related| settle(nodes, &mut known.f, node, related));
        }
        for node in level[0]..level[1] {
            known.sampling[node] = alone(nodes, &mut known.f, node);
        }
    }
    known
}

/// The couples of a generation, those with one partner in common side by side.
fn couples(nodes: &Nodes, level: std::ops::Range<usize>) -> Vec<Couple> {
    let nobody = nodes.nobody();
    let paired = |node: &usize| !nodes.parents[*node].contains(&nobody);
    let mut pairs: Vec<Couple> =
        level.filter(paired).map(|node| Couple { one: nodes.parents[node][0], other: nodes.parents[node][1], node: node as u32 }).collect();
    let distinct = |of: fn(&Couple) -> u32| {
        let mut seen: Vec<u32> = pairs.iter().map(of).collect();
        seen.sort_unstable();
        seen.dedup();
        seen.len()
    };
    // The fewer walks up, the better.
    if distinct(|c| c.other) < distinct(|c| c.one) {
        pairs.iter_mut().for_each(|c| std::mem::swap(&mut c.one, &mut c.other));
    }
    pairs.sort_unstable_by_key(|c| (c.one, c.other, c.node));
    pairs
}

/// Keeps what a couple's relationship says of its offspring: F of a sexual one. For a pick the
/// relationship itself is kept in the place of F until the generation is closed.
fn settle(nodes: &Nodes, f: &mut [f64], node: u32, related: f64) {
    let node = node as usize;
    f[node] = if nodes.descent[node] == Descent::Sexual { related / 2.0 } else { related };
}

/// F where it needs no couple, and D of all.
fn alone(nodes: &Nodes, f: &mut [f64], node: usize) -> f64 {
    let [one, other] = nodes.parents[node].map(|parent| f.get(parent as usize).copied());
    match (nodes.descent[node], one, other) {
        (Descent::Sexual, Some(one), Some(other)) => 0.5 - 0.25 * (one + other),
        (Descent::Sexual, Some(known), None) | (Descent::Sexual, None, Some(known)) => 0.75 - 0.25 * known,
        (Descent::Uniparental { rho }, Some(dam), _) => {
            f[node] = rho + (1.0 - rho) * dam;
            f[node] - dam
        }
        (Descent::Uniparental { rho }, None, _) => {
            f[node] = rho;
            1.0 + rho
        }
        (Descent::Pick { first }, Some(one), Some(other)) => {
            let (related, second) = (f[node], 1.0 - first);
            f[node] = first * one + second * other;
            let explained = first * first * (1.0 + one) + second * second * (1.0 + other) + 2.0 * first * second * related;
            1.0 + f[node] - explained
        }
        _ => 1.0,
    }
}

/// Room for going up and down the pedigree, zero between two uses.
struct Walk {
    queue: Queue,
    /// `T' e`, then `D T' e`.
    up: Vec<f64>,
    /// `T D T' e`.
    down: Vec<f64>,
    /// Who has been visited on the way up from one, youngest first.
    visited: Vec<u32>,
}

impl Walk {
    fn new(nodes: &Nodes) -> Walk {
        let room = nodes.len() + 1;
        Walk { queue: Queue::new(room), up: vec![0.0; room], down: vec![0.0; room], visited: Vec::new() }
    }

    /// The relationship of one animal with each of its mates; equal couples lie side by side.
    fn relate(&mut self, nodes: &Nodes, sampling: &[f64], group: &[Couple], mut tell: impl FnMut(u32, f64)) {
        let shared = self.rise(nodes, sampling, group[0].one);
        let mates = self.collect(nodes, group);
        for &node in mates.iter().rev() {
            let node = node as usize;
            let ([a, b], [p, q]) = (nodes.shares[node], nodes.parents[node]);
            self.down[node] = self.up[node] + a * self.down[p as usize] + b * self.down[q as usize];
        }
        group.iter().for_each(|couple| tell(couple.node, self.down[couple.other as usize]));
        mates.iter().for_each(|node| self.down[*node as usize] = 0.0);
        shared.iter().for_each(|node| self.up[*node as usize] = 0.0);
        self.visited = mates;
    }

    /// Fills `up` with `D T' e` of one animal; returns its ancestors and itself.
    fn rise(&mut self, nodes: &Nodes, sampling: &[f64], from: u32) -> Vec<u32> {
        let nobody = nodes.nobody();
        let mut seen = Vec::new();
        self.up[from as usize] = 1.0;
        self.queue.insert(from);
        while let Some(node) = self.queue.pop() {
            seen.push(node);
            let node = node as usize;
            for (parent, share) in nodes.parents[node].into_iter().zip(nodes.shares[node]) {
                if parent != nobody {
                    self.up[parent as usize] += share * self.up[node];
                    self.queue.insert(parent);
                }
            }
            self.up[node] *= sampling[node];
        }
        seen
    }

    /// The other partners and all their ancestors, youngest first.
    fn collect(&mut self, nodes: &Nodes, group: &[Couple]) -> Vec<u32> {
        let nobody = nodes.nobody();
        let mut seen = std::mem::take(&mut self.visited);
        seen.clear();
        group.iter().for_each(|couple| self.queue.insert(couple.other));
        while let Some(node) = self.queue.pop() {
            seen.push(node);
            nodes.parents[node as usize].into_iter().filter(|p| *p != nobody).for_each(|p| self.queue.insert(p));
        }
        seen
    }
}
