//! The likelihood of masses on columns: each row sees the sum of a few runs of columns.
//!
//! A row is a run of columns, so sums over it are differences of prefix sums and no matrix is ever
//! written down: one evaluation costs rows + columns. With causes the columns of each cause stand in
//! a block of their own, and a case not yet seen with an event sees the end of every block.

/// Columns, and the rows that see them.
#[derive(Clone, Debug)]
pub(crate) struct Design {
    /// Where each block of columns begins; the number of columns closes the list.
    pub blocks: Vec<usize>,
    /// Cases per row.
    pub weights: Vec<f64>,
    /// Where the runs of each row begin in `runs`; their number closes the list.
    pub first_run: Vec<u32>,
    /// Columns `from..to`, never across a block's border, never empty.
    pub runs: Vec<(u32, u32)>,
    /// All cases.
    pub n: f64,
}

/// Masses, what the rows see of them, and how likely they make the rows.
#[derive(Clone, Debug)]
pub(crate) struct Point {
    pub masses: Vec<f64>,
    pub seen: Vec<f64>,
    pub loglik: f64,
}

impl Design {
    /// A design of one block from one run a row; like runs are put together.
    pub fn of_runs(columns: usize, mut rows: Vec<((u32, u32), f64)>) -> Design {
        rows.sort_unstable_by_key(|(run, _)| *run);
        rows.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            kept.1 += if same { next.1 } else { 0.0 };
            same
        });
        let weights: Vec<f64> = rows.iter().map(|(_, weight)| *weight).collect();
        let runs: Vec<(u32, u32)> = rows.iter().map(|(run, _)| *run).collect();
        let n = weights.iter().sum();
        Design { blocks: vec![0, columns], weights, first_run: (0..=runs.len() as u32).collect(), runs, n }
    }

    pub fn columns(&self) -> usize {
        *self.blocks.last().unwrap_or(&0)
    }

    pub fn runs_of(&self, row: usize) -> &[(u32, u32)] {
        &self.runs[self.first_run[row] as usize..self.first_run[row + 1] as usize]
    }

    /// Equal masses: every column may still win.
    pub fn start(&self) -> Point {
        let columns = self.columns();
        self.at(vec![1.0 / columns as f64; columns])
    }

    /// The point with these masses.
    pub fn at(&self, masses: Vec<f64>) -> Point {
        let seen = self.seen(&masses);
        let loglik = self.weights.iter().zip(&seen).map(|(weight, seen)| weight * libm::log(*seen)).sum();
        Point { masses, seen, loglik }
    }

    /// The point with these masses divided by their sum: for a given direction the best length.
    pub fn at_scaled(&self, mut masses: Vec<f64>) -> Point {
        let total: f64 = masses.iter().sum();
        masses.iter_mut().for_each(|mass| *mass /= total);
        self.at(masses)
    }

    /// What each row sees of the masses.
    fn seen(&self, masses: &[f64]) -> Vec<f64> {
        let below = prefix_sums(masses);
        let of_run = |(from, to): &(u32, u32)| below[*to as usize] - below[*from as usize];
        (0..self.weights.len()).map(|row| self.runs_of(row).iter().map(of_run).sum()).collect()
    }

    /// Derivative of the log-likelihood by each mass: `g_j = sum over rows that see j of w / seen`.
    /// At the maximum it is `n` where there is mass and at most `n` elsewhere.
    pub fn gradient(&self, seen: &[f64]) -> Vec<f64> {
        let mut steps = vec![0.0; self.columns() + 1];
        for (row, weight) in self.weights.iter().enumerate() {
            let pull = weight / seen[row];
            for (from, to) in self.runs_of(row) {
                steps[*from as usize] += pull;
                steps[*to as usize] -= pull;
            }
        }
        running_sums(&steps[..self.columns()])
    }

    /// How far the gradient exceeds `n` at worst: the log-likelihood is at most so far from its
    /// maximum.
    pub fn gap(&self, gradient: &[f64]) -> f64 {
        gradient.iter().fold(f64::NEG_INFINITY, |most, g| most.max(*g)) - self.n
    }
}

/// Sums of the values before each place; one longer than the values.
pub(crate) fn prefix_sums(values: &[f64]) -> Vec<f64> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    let mut sum = 0.0;
    sums.push(sum);
    for value in values {
        sum += value;
        sums.push(sum);
    }
    sums
}

/// Sums of the values up to each place.
fn running_sums(values: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    values
        .iter()
        .map(|value| {
            sum += value;
            sum
        })
        .collect()
}
