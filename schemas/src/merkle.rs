//! The tree that fixes the order: RFC 6962 2.1 and RFC 9162 2.1 hashes, roots and proofs.

use sha2::{Digest as _, Sha256};

/// A SHA-256 value.
pub type Hash = [u8; 32];

/// SHA-256 of `bytes`.
#[must_use]
pub fn sha256(bytes: &[u8]) -> Hash {
    Sha256::digest(bytes).into()
}

/// The hash of a leaf: SHA-256(0x00 ‖ leaf).
#[must_use]
pub fn leaf_hash(leaf: &[u8]) -> Hash {
    Sha256::new().chain_update([0]).chain_update(leaf).finalize().into()
}

/// The hash of a node: SHA-256(0x01 ‖ left ‖ right).
#[must_use]
pub fn node_hash(left: &Hash, right: &Hash) -> Hash {
    Sha256::new().chain_update([1]).chain_update(left).chain_update(right).finalize().into()
}

/// A growing tree that remembers the hash of every complete subtree, so that the root of any
/// earlier size and any proof cost O(log² n) hashes. `levels[h][i]` covers the leaves
/// `i·2^h … (i+1)·2^h − 1`.
#[derive(Debug, Clone, Default)]
pub struct Tree {
    levels: Vec<Vec<Hash>>,
}

impl Tree {
    /// Number of leaves.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.levels.first().map_or(0, |leaves| leaves.len() as u64)
    }

    /// Adds a leaf by its hash.
    pub fn push(&mut self, leaf: Hash) {
        let mut hash = leaf;
        for height in 0.. {
            if self.levels.len() == height {
                self.levels.push(Vec::new());
            }
            let level = &mut self.levels[height];
            level.push(hash);
            if level.len() % 2 == 1 {
                return;
            }
            hash = node_hash(&level[level.len() - 2], &hash);
        }
    }

    /// Forgets the leaves from `size` on: what was staged and then not published.
    pub fn truncate(&mut self, size: u64) {
        for (height, level) in self.levels.iter_mut().enumerate() {
            level.truncate(usize::try_from(size >> height).unwrap_or(usize::MAX));
        }
    }

    /// The hash of the leaf at `index`.
    #[must_use]
    pub fn leaf(&self, index: u64) -> Option<Hash> {
        self.levels.first()?.get(usize::try_from(index).ok()?).copied()
    }

    /// The root of the first `size` leaves; `None` beyond the tree. The root of nothing is the
    /// hash of the empty string (RFC 6962 2.1).
    #[must_use]
    pub fn root(&self, size: u64) -> Option<Hash> {
        match size {
            0 => Some(sha256(b"")),
            size if size <= self.size() => Some(self.subtree(0, size)),
            _ => None,
        }
    }

    /// MTH of the leaves `from..to`, where `from` is a multiple of the largest power of two
    /// below `to - from` or the range is a complete subtree.
    fn subtree(&self, from: u64, to: u64) -> Hash {
        let width = to - from;
        if width.is_power_of_two() && from.is_multiple_of(width) {
            let height = width.trailing_zeros() as usize;
            if let Some(hash) = usize::try_from(from >> height).ok().and_then(|at| self.levels.get(height)?.get(at)) {
                return *hash;
            }
        }
        let split = split(width);
        node_hash(&self.subtree(from, from + split), &self.subtree(from + split, to))
    }

    /// Inclusion proof of leaf `index` in the first `size` leaves (RFC 9162 2.1.3.1).
    #[must_use]
    pub fn inclusion(&self, index: u64, size: u64) -> Option<Vec<Hash>> {
        if index >= size || size > self.size() {
            return None;
        }
        let (mut from, mut to, mut proof) = (0, size, Vec::new());
        while to - from > 1 {
            let middle = from + split(to - from);
            if index < middle {
                proof.push(self.subtree(middle, to));
                to = middle;
            } else {
                proof.push(self.subtree(from, middle));
                from = middle;
            }
        }
        proof.reverse();
        Some(proof)
    }

    /// Consistency proof from `first` leaves to `second` (RFC 9162 2.1.4.1).
    #[must_use]
    pub fn consistency(&self, first: u64, second: u64) -> Option<Vec<Hash>> {
        if first == 0 || first > second || second > self.size() {
            return None;
        }
        let (mut from, mut to, mut proof, mut whole) = (0, second, Vec::new(), true);
        while first != to {
            let middle = from + split(to - from);
            if first <= middle {
                proof.push(self.subtree(middle, to));
                to = middle;
            } else {
                proof.push(self.subtree(from, middle));
                from = middle;
                whole = false;
            }
        }
        if !whole {
            proof.push(self.subtree(from, to));
        }
        proof.reverse();
        Some(proof)
    }
}

/// The largest power of two below `width` (width ≥ 2).
fn split(width: u64) -> u64 {
    1 << (width - 1).ilog2()
}

/// Checks an inclusion proof (RFC 9162 2.1.3.2).
#[must_use]
pub fn includes(root: &Hash, size: u64, index: u64, leaf: &Hash, proof: &[Hash]) -> bool {
    if index >= size {
        return false;
    }
    let (mut at, mut last, mut hash) = (index, size - 1, *leaf);
    for sibling in proof {
        if last == 0 {
            return false;
        }
        if at % 2 == 1 || at == last {
            hash = node_hash(sibling, &hash);
            while at.is_multiple_of(2) && at != 0 {
                at >>= 1;
                last >>= 1;
            }
        } else {
            hash = node_hash(&hash, sibling);
        }
        at >>= 1;
        last >>= 1;
    }
    last == 0 && hash == *root
}

/// Checks a consistency proof (RFC 9162 2.1.4.2).
#[must_use]
pub fn consistent(first: u64, first_root: &Hash, second: u64, second_root: &Hash, proof: &[Hash]) -> bool {
    if first == 0 || first > second {
        return false;
    }
    if first == second {
        return proof.is_empty() && first_root == second_root;
    }
    let start = if first.is_power_of_two() { Some(first_root) } else { None };
    let mut path = start.into_iter().chain(proof);
    let Some(start) = path.next() else { return false };
    let (mut at, mut last) = (first - 1, second - 1);
    while at % 2 == 1 {
        at >>= 1;
        last >>= 1;
    }
    let (mut old, mut new) = (*start, *start);
    for hash in path {
        if last == 0 {
            return false;
        }
        if at % 2 == 1 || at == last {
            old = node_hash(hash, &old);
            new = node_hash(hash, &new);
            while at.is_multiple_of(2) && at != 0 {
                at >>= 1;
                last >>= 1;
            }
        } else {
            new = node_hash(&new, hash);
        }
        at >>= 1;
        last >>= 1;
    }
    last == 0 && old == *first_root && new == *second_root
}
