//! A set of numbers below a bound, emptied from the largest down.

/// Bits of one word.
const WORD: u32 = u64::BITS;

/// A set in two layers of bits: a word of the upper one says which words of the lower are not zero.
/// To go up a pedigree from the youngest, each animal once, costs one step an animal, however
/// far apart they lie.
pub(super) struct Queue {
    lower: Vec<u64>,
    upper: Vec<u64>,
    /// No bit is set above this word of the upper layer.
    top: usize,
}

impl Queue {
    pub(super) fn new(bound: usize) -> Queue {
        let lower = bound.div_ceil(WORD as usize).max(1);
        Queue { lower: vec![0; lower], upper: vec![0; lower.div_ceil(WORD as usize)], top: 0 }
    }

    /// Puts a number in, if it is not there yet.
    pub(super) fn insert(&mut self, number: u32) {
        let word = number / WORD;
        self.lower[word as usize] |= 1 << (number % WORD);
        let above = (word / WORD) as usize;
        self.upper[above] |= 1 << (word % WORD);
        self.top = self.top.max(above);
    }

    /// Takes the largest out.
    pub(super) fn pop(&mut self) -> Option<u32> {
        while self.upper[self.top] == 0 {
            self.top = self.top.checked_sub(1)?;
        }
        let word = self.top as u32 * WORD + highest(self.upper[self.top]);
        let bits = &mut self.lower[word as usize];
        let bit = highest(*bits);
        *bits ^= 1 << bit;
        if *bits == 0 {
            self.upper[self.top] ^= 1 << (word % WORD);
        }
        Some(word * WORD + bit)
    }
}

/// The highest bit of a word that is not zero.
fn highest(word: u64) -> u32 {
    WORD - 1 - word.leading_zeros()
}
