//! The unknowns on a grid, weighed by what was seen: moments of the start, rates, and the factor of
//! the individual. Cells of the factor carry exact prior masses, and within a cell mass lies even,
//! so that probabilities change smoothly with the day.

use super::bands::{Bands, at, tabled};
use super::course::{Course, MIDDLE};
use super::law::Law;
use super::normal::{THREE, below};
use super::track::Sums;
use super::window::{Case, Look, Sighting};

/// Cells of the factor.
const CELLS: usize = 96;

/// The factor reaches so many deviations to both sides.
const REACH: f64 = 4.0;

/// Moments of the start lie no farther apart than this part of the whole.
const START_STEP: f64 = 0.02;

/// Most moments of the start.
const STARTS_MAX: usize = 48;

/// Edges of the cells of the factor and their prior masses.
struct Factor {
    first: f64,
    step: f64,
    /// One over the middle of each cell.
    per_middle: Vec<f64>,
    mass: Vec<f64>,
}

impl Factor {
    fn of(law: &Law) -> Factor {
        let sigma = law.sigma();
        let (first, last) = (libm::exp(-REACH * sigma), libm::exp(REACH * sigma));
        let step = (last - first) / CELLS as f64;
        let edge = |cell: usize| first + step * cell as f64;
        let below_edge: Vec<f64> = (0..=CELLS).map(|cell| below(libm::log(edge(cell)) / sigma)).collect();
        let whole = below_edge[CELLS] - below_edge[0];
        Factor {
            first,
            step,
            per_middle: (0..CELLS).map(|cell| 1.0 / (edge(cell) + step / 2.0)).collect(),
            mass: below_edge.windows(2).map(|pair| (pair[1] - pair[0]) / whole).collect(),
        }
    }
}

/// One start with one rate: its weight by cells of the factor, added up.
struct Line {
    rate: usize,
    /// What the course had added up to at the start.
    begun: f64,
    /// Weight below each edge of the factor's cells.
    below_edge: Vec<f64>,
}

/// The grid of one individual.
pub(super) struct Grid<'c, 't> {
    course: &'c Course<'t>,
    factor: Factor,
    lines: Vec<Line>,
    /// How well all observations together agree with the model, a mean likelihood; 0: not at all.
    pub agreement: f64,
}

/// A likelihood over the fraction, at a day.
struct Seen<'a> {
    day: f64,
    table: std::borrow::Cow<'a, [f64]>,
}

impl<'c, 't> Grid<'c, 't> {
    /// Weighs all cells by the looks of a case.
    pub fn new(law: &Law, bands: &Bands, course: &'c Course<'t>, case: &Case<'_>) -> Grid<'c, 't> {
        let factor = Factor::of(law);
        let (rates, seen) = (course.last().track.rates(), seen(bands, case.looks));
        let starts = starts(case, law);
        let even = 1.0 / starts.len() as f64;
        let cells = starts.iter().flat_map(|start| rates.iter().enumerate().map(move |(rate, (_, weight))| (*start, rate, weight * even)));
        let mut lines: Vec<Line> = cells.map(|(start, rate, prior)| line(course, &factor, &seen, start, rate, prior)).collect();
        let whole: f64 = lines.iter().map(|line| line.below_edge[CELLS]).sum();
        if whole > 0.0 {
            lines.iter_mut().for_each(|line| line.below_edge.iter_mut().for_each(|weight| *weight /= whole));
        }
        Grid { course, factor, lines, agreement: whole }
    }

    /// Probability of being complete by `day`.
    pub fn complete_by(&self, day: f64) -> f64 {
        let sums = self.course.sums_to(day);
        self.over(|line, node| self.weight_below(line, sums[line.rate][node] - line.begun))
    }

    /// What had been added up by a day, for [`Grid::complete_between`].
    pub fn sums_at(&self, day: f64) -> Sums {
        self.course.sums_to(day)
    }

    /// Probability of being complete by `day`, but not when so much had been added up.
    pub fn complete_between(&self, still: &Sums, day: f64) -> f64 {
        let sums = self.course.sums_to(day);
        self.over(|line, node| {
            let by = |sums: &Sums| self.weight_below(line, sums[line.rate][node] - line.begun);
            (by(&sums) - by(still)).max(0.0)
        })
    }

    /// Probability that the fraction done is `fraction` or less, below 1, when so much had been added up.
    pub fn fraction_by(&self, sums: &Sums, fraction: f64) -> f64 {
        1.0 - self.over(|line, node| self.weight_below(line, (sums[line.rate][node] - line.begun) / fraction))
    }

    /// Sum over all lines and the nodes of the water ahead.
    fn over(&self, weight: impl Fn(&Line, usize) -> f64) -> f64 {
        self.lines.iter().map(|line| THREE.iter().enumerate().map(|(node, (_, part))| part * weight(line, node)).sum::<f64>()).sum()
    }

    /// Weight of a line on factors below `needed`.
    fn weight_below(&self, line: &Line, needed: f64) -> f64 {
        let place = (needed - self.factor.first) / self.factor.step;
        if place <= 0.0 {
            return 0.0;
        }
        let cell = place as usize;
        if cell >= CELLS {
            return line.below_edge[CELLS];
        }
        let (low, high) = (line.below_edge[cell], line.below_edge[cell + 1]);
        low + (high - low) * (place - cell as f64)
    }
}

/// Moments of the start: middles of even parts of the window.
fn starts(case: &Case<'_>, law: &Law) -> Vec<f64> {
    let width = case.begun_to_day - case.begun_from_day;
    let parts = ((width / (START_STEP * law.reference_days)).ceil() as usize).clamp(1, STARTS_MAX);
    (0..parts).map(|part| case.begun_from_day + width * (part as f64 + 0.5) / parts as f64).collect()
}

fn seen<'a>(bands: &'a Bands, looks: &[Look]) -> Vec<Seen<'a>> {
    let of = |look: &Look| match look.saw {
        Sighting::Band(band) => bands.table(band).map(std::borrow::Cow::Borrowed),
        Sighting::Slits { open, at, sd } => Some(std::borrow::Cow::Owned(tabled(|fraction| {
            let opened = below((fraction - at) / sd);
            SLIP + (1.0 - 2.0 * SLIP) * if open { opened } else { 1.0 - opened }
        }))),
    };
    looks.iter().filter_map(|look| Some(Seen { day: look.day, table: of(look)? })).collect()
}

/// Part of looks that tell slits wrongly (a convention of this project).
const SLIP: f64 = 0.02;

fn line(course: &Course<'_>, factor: &Factor, seen: &[Seen<'_>], start: f64, rate: usize, prior: f64) -> Line {
    let sum = |day: f64| course.sums_to(day)[rate][MIDDLE];
    let begun = sum(start);
    let mut weights: Vec<f64> = factor.mass.iter().map(|mass| prior * mass).collect();
    for look in seen {
        let done = if look.day > start { sum(look.day) - begun } else { 0.0 };
        weights.iter_mut().zip(&factor.per_middle).for_each(|(weight, per_needed)| *weight *= at(&look.table, done * per_needed));
    }
    let added = weights.iter().scan(0.0, |sum, weight| {
        *sum += weight;
        Some(*sum)
    });
    Line { rate, begun, below_edge: std::iter::once(0.0).chain(added).collect() }
}
