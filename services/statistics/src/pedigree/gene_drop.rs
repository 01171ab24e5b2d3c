//! Dropping genes down the pedigree, from a seed.

use super::founders::Source;
use super::lineage::{Descent, Nodes};
use super::retention::Drops;

/// What was found of each source.
pub(super) struct Dropped {
    /// The mean over drops of how many of its two alleles are still there, halved.
    pub retained: Vec<f64>,
    /// The variance of one drop's.
    pub spread: Vec<f64>,
    pub drops: u32,
}

/// xoshiro256++ (Blackman & Vigna 2021, ACM Trans Math Softw 47:36), started by SplitMix64. It is
/// written out here so that a seed means the same digits for ever.
struct Chance {
    state: [u64; 4],
    bits: u64,
    left: u32,
}

impl Chance {
    fn from_seed(seed: u64) -> Chance {
        let mut at = seed;
        let state = std::array::from_fn(|_| {
            at = at.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut mixed = at;
            mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            mixed ^ (mixed >> 31)
        });
        Chance { state, bits: 0, left: 0 }
    }

    fn next(&mut self) -> u64 {
        let [a, b, c, d] = &mut self.state;
        let drawn = a.wrapping_add(*d).rotate_left(23).wrapping_add(*a);
        let shifted = *b << 17;
        *c ^= *a;
        *d ^= *b;
        *b ^= *c;
        *a ^= *d;
        *c ^= shifted;
        *d = d.rotate_left(45);
        drawn
    }

    /// One fair coin.
    fn coin(&mut self) -> usize {
        if self.left == 0 {
            (self.bits, self.left) = (self.next(), u64::BITS);
        }
        let bit = self.bits & 1;
        self.bits >>= 1;
        self.left -= 1;
        bit as usize
    }

    /// True with this chance.
    fn happens(&mut self, chance: f64) -> bool {
        // 53 bits fill the mantissa.
        ((self.next() >> 11) as f64) * (1.0 / (1_u64 << 53) as f64) < chance
    }
}

/// One pedigree's genes, dropped again and again.
struct Rain<'a> {
    nodes: &'a Nodes,
    /// Nodes through which genes of the living pass, parents first.
    way: Vec<u32>,
    /// The source of each node whose genes come from one: for itself or for an unknown parent.
    source: Vec<u32>,
    /// The alleles of each node; source k has 2k and 2k + 1.
    alleles: Vec<[u32; 2]>,
    chance: Chance,
    /// The drop that last met each allele among the living.
    met: Vec<u32>,
}

impl<'a> Rain<'a> {
    fn new(nodes: &'a Nodes, sources: &[Source], passed: &[f64], seed: u64) -> Rain<'a> {
        let mut source = vec![0; nodes.len()];
        sources.iter().enumerate().for_each(|(index, s)| source[s.node as usize] = index as u32);
        let way = (0..nodes.len() as u32).filter(|node| passed[*node as usize] > 0.0).collect();
        let (alleles, met) = (vec![[0; 2]; nodes.len() + 1], vec![0; 2 * sources.len()]);
        Rain { nodes, way, source, alleles, chance: Chance::from_seed(seed), met }
    }

    /// Drops once; `number` counts from 1.
    fn fall(&mut self, number: u32) {
        for index in 0..self.way.len() {
            let node = self.way[index] as usize;
            let drawn = self.draw(node);
            self.alleles[node] = drawn;
            if self.nodes.living[node] {
                drawn.iter().for_each(|allele| self.met[*allele as usize] = number);
            }
        }
    }

    fn draw(&mut self, node: usize) -> [u32; 2] {
        let own = [2 * self.source[node], 2 * self.source[node] + 1];
        let nobody = self.nodes.nobody();
        let [one, other] = self.nodes.parents[node].map(|p| if p == nobody { own } else { self.alleles[p as usize] });
        match self.nodes.descent[node] {
            Descent::Founder => own,
            Descent::Sexual => [one[self.chance.coin()], other[self.chance.coin()]],
            Descent::Uniparental { rho } => {
                if self.chance.happens(rho) {
                    [one[self.chance.coin()]; 2]
                } else {
                    one
                }
            }
            Descent::Pick { first } => {
                if self.chance.happens(first) {
                    one
                } else {
                    other
                }
            }
        }
    }

    /// How many alleles of a source the last drop left.
    fn left(&self, source: usize, number: u32) -> f64 {
        f64::from(u8::from(self.met[2 * source] == number) + u8::from(self.met[2 * source + 1] == number))
    }
}

pub(super) fn dropped(nodes: &Nodes, sources: &[Source], passed: &[f64], drops: Drops) -> Dropped {
    let mut rain = Rain::new(nodes, sources, passed, drops.seed);
    let mut sums = vec![(0.0, 0.0); sources.len()];
    for number in 1..=drops.count {
        rain.fall(number);
        for (source, (sum, squares)) in sums.iter_mut().enumerate() {
            let left = rain.left(source, number);
            *sum += left;
            *squares += left * left;
        }
    }
    let count = f64::from(drops.count);
    let variance = |(sum, squares): &(f64, f64)| (squares / count - (sum / count) * (sum / count)) / 4.0;
    Dropped {
        retained: sums.iter().map(|(sum, _)| sum / (2.0 * count)).collect(),
        spread: sums.iter().map(variance).collect(),
        drops: drops.count,
    }
}

/// The standard error of `sum weight_k r_k`: the same drops again, now that the weights are known, as
/// the founders' alleles crowd each other out and are not independent.
pub(super) fn standard_error(nodes: &Nodes, sources: &[Source], passed: &[f64], drops: Drops, weights: &[f64]) -> f64 {
    let mut rain = Rain::new(nodes, sources, passed, drops.seed);
    let (mut sum, mut squares) = (0.0, 0.0);
    for number in 1..=drops.count {
        rain.fall(number);
        let one: f64 = weights.iter().enumerate().map(|(source, weight)| weight * rain.left(source, number) / 2.0).sum();
        sum += one;
        squares += one * one;
    }
    let count = f64::from(drops.count);
    libm::sqrt((squares / count - (sum / count) * (sum / count)).max(0.0) / count)
}
