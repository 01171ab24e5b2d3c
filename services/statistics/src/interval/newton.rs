//! Newton steps on the columns that keep mass, which EM-ICM has nearly found.
//!
//! At a point with row sums `P` the log-likelihood less `n * sum(q)` is, to second order in the
//! masses `q`, `sum w (2x - x^2/2) - n sum(q)` with `x = (A q)/P`. Its maximum solves `H q = 2 g - n`
//! with `H = A' diag(w/P^2) A`; columns that come out negative leave and the rest is solved again
//! (Wang 2007 JRSSB 69:185 solves the same problem by nonnegative least squares).

use super::design::{Design, Point};
use super::em_icm::line_search;

/// More columns than this are left to EM-ICM: the factorisation costs the cube of their number.
pub(crate) const COLUMNS_MAX: usize = 512;

/// Steps in one climb.
const STEPS_MAX: u64 = 12;

/// Halvings of a step before it is given up.
const HALVINGS_MAX: i32 = 8;

/// A pivot below this part of its diagonal means that the columns do not tell apart.
const PIVOT_MIN: f64 = 1e-14;

/// Climbs while the gap closes; the number of steps taken.
pub(crate) fn climb(design: &Design, mut point: Point) -> (Point, u64) {
    let mut gap = design.gap(&design.gradient(&point.seen));
    for step in 0..STEPS_MAX {
        let Some(next) = newton_step(design, &point) else { return (point, step) };
        let closed = design.gap(&design.gradient(&next.seen));
        let no_gain = next.loglik <= point.loglik && closed >= gap;
        if no_gain {
            return (point, step.max(1));
        }
        (point, gap) = (next, closed);
    }
    (point, STEPS_MAX)
}

/// One step, or nothing where it is too dear or leads nowhere.
fn newton_step(design: &Design, point: &Point) -> Option<Point> {
    let mut columns: Vec<usize> = (0..design.columns()).filter(|column| point.masses[*column] > 0.0).collect();
    if columns.len() > COLUMNS_MAX {
        return None;
    }
    let gradient = design.gradient(&point.seen);
    let all = Curvature::of(design, point, &columns);
    let mut kept: Vec<usize> = (0..columns.len()).collect();
    let masses = loop {
        let wanted: Vec<f64> = kept.iter().map(|at| 2.0 * gradient[columns[*at]] - design.n).collect();
        let found = all.solve(&kept, wanted)?;
        if found.iter().all(|mass| *mass > 0.0) {
            break found;
        }
        let mut positive = found.iter().map(|mass| *mass > 0.0);
        kept.retain(|_| positive.next().unwrap_or(false));
    };
    columns = kept.iter().map(|at| columns[*at]).collect();
    let mut target = vec![0.0; design.columns()];
    columns.iter().zip(masses).for_each(|(column, mass)| target[*column] = mass);
    // No gain is promised: near the top the gain drowns in rounding, and the gap decides instead.
    let room = point.loglik.abs() * f64::EPSILON * design.n.sqrt();
    let lenient = Point { masses: point.masses.clone(), seen: Vec::new(), loglik: point.loglik - room };
    line_search(design, &lenient, &target, 0.0, HALVINGS_MAX)
}

/// `H` on some columns, as a full square.
struct Curvature {
    size: usize,
    values: Vec<f64>,
}

impl Curvature {
    /// Each pair of runs of a row adds a rectangle, so the square is the double prefix sum of its
    /// corners.
    fn of(design: &Design, point: &Point, columns: &[usize]) -> Curvature {
        let size = columns.len();
        let mut before = vec![0; design.columns() + 1];
        columns.iter().for_each(|column| before[*column + 1] = 1);
        for at in 0..design.columns() {
            before[at + 1] += before[at];
        }
        let wide = size + 1;
        let mut corners = vec![0.0; wide * wide];
        for (row, weight) in design.weights.iter().enumerate() {
            let bend = weight / (point.seen[row] * point.seen[row]);
            let runs = design.runs_of(row);
            for (from, to) in runs.iter().map(|(from, to)| (before[*from as usize], before[*to as usize])) {
                for (left, right) in runs.iter().map(|(from, to)| (before[*from as usize], before[*to as usize])) {
                    corners[from * wide + left] += bend;
                    corners[from * wide + right] -= bend;
                    corners[to * wide + left] -= bend;
                    corners[to * wide + right] += bend;
                }
            }
        }
        Curvature { size, values: double_prefix_sums(&corners, size) }
    }

    /// Solves for the columns kept by Cholesky's factorisation.
    fn solve(&self, kept: &[usize], mut right: Vec<f64>) -> Option<Vec<f64>> {
        let size = kept.len();
        let mut lower = vec![0.0; size * size];
        for (i, at) in kept.iter().enumerate() {
            for (j, other) in kept.iter().enumerate().take(i + 1) {
                lower[i * size + j] = self.values[at * self.size + other];
            }
        }
        factorise(&mut lower, size)?;
        for i in 0..size {
            let row = &lower[i * size..i * size + i + 1];
            let sum: f64 = row[..i].iter().zip(&right[..i]).map(|(l, r)| l * r).sum();
            right[i] = (right[i] - sum) / row[i];
        }
        for i in (0..size).rev() {
            right[i] /= lower[i * size + i];
            let found = right[i];
            let row = &lower[i * size..i * size + i];
            right[..i].iter_mut().zip(row).for_each(|(r, l)| *r -= l * found);
        }
        Some(right)
    }
}

fn double_prefix_sums(corners: &[f64], size: usize) -> Vec<f64> {
    let mut values = vec![0.0; size * size];
    for i in 0..size {
        let mut along = 0.0;
        for j in 0..size {
            along += corners[i * (size + 1) + j];
            let above = if i > 0 { values[(i - 1) * size + j] } else { 0.0 };
            values[i * size + j] = above + along;
        }
    }
    values
}

/// Cholesky in place on the lower triangle; nothing when a pivot vanishes.
fn factorise(lower: &mut [f64], size: usize) -> Option<()> {
    for i in 0..size {
        let (done, rest) = lower.split_at_mut(i * size);
        let row = &mut rest[..=i];
        for j in 0..i {
            let other = &done[j * size..j * size + j + 1];
            let sum: f64 = row[..j].iter().zip(other).map(|(a, b)| a * b).sum();
            row[j] = (row[j] - sum) / other[j];
        }
        let whole = row[i];
        let pivot = whole - row[..i].iter().map(|value| value * value).sum::<f64>();
        if pivot.is_nan() || pivot <= PIVOT_MIN * whole {
            return None;
        }
        row[i] = pivot.sqrt();
    }
    Some(())
}
