//! The maximum of a [`Design`]: EM and iterative convex minorant steps in turn (Wellner & Zhan 1997
//! JASA 92:945), closed by Newton steps on the columns that keep mass.
//!
//! EM multiplies each mass by `g / n`; it never fails and may crawl. ICM (Groeneboom & Wellner 1992;
//! with halving, Jongbloed 1998 JCGS 7:310) takes a Newton step with the diagonal of the curvature on
//! the cumulated masses, made monotone by pooling adjacent violators. The sum of the masses is held
//! at 1 by the penalty `n * sum`, which leaves every block free (Groeneboom, Maathuis & Wellner 2008
//! Ann Stat 36:1064). Both stop on the optimality gap, never on small changes of the masses.

use super::design::{Design, Point};
use super::newton;
use crate::reason::Reason;

/// The estimate is good when the gradient exceeds `n` by at most this part of it.
const GAP_MAX: f64 = 1e-7;

/// Newton steps are taken on towards this part, which makes masses good to about ten digits.
const GAP_GOAL: f64 = 1e-11;

/// Pairs of EM and ICM steps between two tries of Newton.
const STEPS_A_ROUND: u64 = 10;

/// Rounds before the search gives up.
const ROUNDS_MAX: u64 = 4_000;

/// Rounds that a good estimate is given to become a very good one.
const ROUNDS_POLISH: u64 = 8;

/// Halvings of an ICM step before it is left out.
const HALVINGS_MAX: i32 = 12;

/// The least part of the promised gain that a step must bring (Armijo).
const ARMIJO: f64 = 1e-4;

/// The maximum.
#[derive(Clone, Debug)]
pub(crate) struct Maximum {
    pub masses: Vec<f64>,
    pub loglik: f64,
    pub gap: f64,
    pub iterations: u64,
}

/// Finds the maximum, or says how far the search came.
pub(crate) fn maximise(design: &Design) -> Result<Maximum, Reason> {
    let mut point = design.start();
    let (mut iterations, mut polished) = (0, 0);
    let mut gap = f64::INFINITY;
    for _ in 0..ROUNDS_MAX {
        for _ in 0..STEPS_A_ROUND {
            point = icm_step(design, em_step(design, &point));
            iterations += 1;
        }
        let (better, steps) = newton::climb(design, point);
        point = better;
        iterations += steps;
        gap = design.gap(&design.gradient(&point.seen));
        polished += u64::from(gap <= GAP_MAX * design.n);
        let newton_gave_up = steps == 0 && polished > 0;
        if gap <= GAP_GOAL * design.n || newton_gave_up || polished > ROUNDS_POLISH {
            return Ok(Maximum { masses: point.masses, loglik: point.loglik, gap, iterations });
        }
    }
    Err(Reason::NotConverged { iterations, gap })
}

/// Self-consistency: every row hands its cases to the columns it sees, in proportion to their mass.
fn em_step(design: &Design, point: &Point) -> Point {
    let gradient = design.gradient(&point.seen);
    let masses = point.masses.iter().zip(&gradient).map(|(mass, g)| mass * g / design.n);
    design.at_scaled(masses.collect())
}

/// One ICM step, halved until it gains; the point itself if it does not.
fn icm_step(design: &Design, point: Point) -> Point {
    let target = icm_target(design, &point);
    let gradient = design.gradient(&point.seen);
    let moved = target.iter().zip(&point.masses).zip(&gradient);
    let promise: f64 = moved.map(|((to, from), g)| (to - from) * (g - design.n)).sum();
    line_search(design, &point, &target, promise, HALVINGS_MAX).unwrap_or(point)
}

/// The first point on the way to `target`, halving from its end, that gains enough.
pub(crate) fn line_search(design: &Design, point: &Point, target: &[f64], promise: f64, halvings: i32) -> Option<Point> {
    let mut part = 1.0;
    for _ in 0..=halvings {
        let between = point.masses.iter().zip(target).map(|(from, to)| (1.0 - part) * from + part * to);
        let found = design.at_scaled(between.collect());
        if found.loglik >= point.loglik + ARMIJO * part * promise.max(0.0) {
            return Some(found);
        }
        part /= 2.0;
    }
    None
}

/// Masses after a full step: per block the weighted isotonic regression of `U + grad / curvature`.
fn icm_target(design: &Design, point: &Point) -> Vec<f64> {
    let (slopes, curvatures) = by_cumulated(design, point);
    let mut target = Vec::with_capacity(design.columns());
    for block in design.blocks.windows(2) {
        let (from, to) = (block[0], block[1]);
        let mut cumulated = 0.0;
        let wanted = (from..to).map(|column| {
            cumulated += point.masses[column];
            let slope = slopes[column] - if column + 1 == to { design.n } else { 0.0 };
            (cumulated + slope / curvatures[column], curvatures[column])
        });
        let mut below: f64 = 0.0;
        for height in isotonic(wanted) {
            let height = height.max(0.0);
            target.push(height - below);
            below = height;
        }
    }
    target
}

/// First derivative and negative second derivative of the log-likelihood by the mass cumulated up
/// to and with each column of its block.
fn by_cumulated(design: &Design, point: &Point) -> (Vec<f64>, Vec<f64>) {
    let (mut slopes, mut curvatures) = (vec![0.0; design.columns()], vec![0.0; design.columns()]);
    let mut begins = vec![false; design.columns() + 1];
    design.blocks.iter().for_each(|column| begins[*column] = true);
    for (row, weight) in design.weights.iter().enumerate() {
        let pull = weight / point.seen[row];
        let bend = pull / point.seen[row];
        for (from, to) in design.runs_of(row) {
            let (from, last) = (*from as usize, *to as usize - 1);
            slopes[last] += pull;
            curvatures[last] += bend;
            if !begins[from] {
                slopes[from - 1] -= pull;
                curvatures[from - 1] += bend;
            }
        }
    }
    (slopes, curvatures)
}

/// Weighted isotonic regression by pooling adjacent violators.
fn isotonic(values: impl Iterator<Item = (f64, f64)>) -> impl Iterator<Item = f64> {
    let mut pools: Vec<(f64, f64, usize)> = Vec::new();
    for (value, weight) in values {
        let mut pool = (value, weight, 1);
        while let Some((below, of, count)) = pools.pop() {
            if below < pool.0 {
                pools.push((below, of, count));
                break;
            }
            let both = of + pool.1;
            pool = ((below * of + pool.0 * pool.1) / both, both, count + pool.2);
        }
        pools.push(pool);
    }
    pools.into_iter().flat_map(|(value, _, count)| std::iter::repeat_n(value, count))
}
