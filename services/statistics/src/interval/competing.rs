//! Several kinds of event, each known only to lie between two looks.

use std::collections::BTreeMap;

use serde::Serialize;

use super::band::{Band, come_by};
use super::design::Design;
use super::em_icm::maximise;
use super::innermost::{End, Innermost, Stretch};
use super::npmle::support;
use super::rows::{CauseBetweenLooks, admit, admit_causes};
use crate::reason::{Error, InvalidInput, Reason};

/// Where the mass of one cause lies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CauseMasses {
    /// The cause's number.
    pub cause: u32,
    /// Where mass may lie, in order of age.
    pub innermost: Vec<Stretch>,
    /// How much lies there.
    pub mass: Vec<f64>,
    /// The stretches that keep mass, as `[left, right, mass]`.
    pub support: Vec<(f64, Option<f64>, f64)>,
}

/// The estimate.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CompetingNpmle {
    /// How many cases the rows stand for.
    pub n: u64,
    /// The causes in order of their numbers.
    pub causes: Vec<CauseMasses>,
    /// Mass of those whose event, of whatever kind, lies beyond the last look.
    pub mass_without_event: f64,
    /// The log-likelihood.
    pub loglik: f64,
    /// How far the largest gradient exceeds `n`: the log-likelihood is no farther from its maximum.
    pub kkt_max_gradient_minus_n: f64,
    /// Steps of the search.
    pub iterations: u64,
}

/// The nonparametric maximum likelihood estimate of the cumulative incidence of each cause.
///
/// Maximises `sum w log P(L < T <= R, cause)` for cases with an event and `sum w log P(T > L)` for
/// those without one yet, over masses on the innermost stretches of each cause and one mass beyond
/// the last look (Hudgens, Satten & Longini 2001 Biometrics 57:74). On one common grid of looks it is
/// the Aalen-Johansen estimate on that grid. Ties as in [`npmle`](super::npmle()).
///
/// Not for cases that came under observation late.
///
/// Fails with [`InvalidInput`] naming the row, with [`Reason::NoData`] without rows and with
/// [`Reason::NotConverged`] when the search ends too early.
pub fn npmle_competing(rows: &[CauseBetweenLooks]) -> Result<CompetingNpmle, Error> {
    let n = admit(rows.iter().map(|row| row.looks))?;
    admit_causes(rows)?;
    if rows.is_empty() {
        return Err(Reason::NoData.into());
    }
    let blocks = Blocks::of(rows);
    let found = maximise(&blocks.design(rows))?;
    let causes = blocks.causes.iter().zip(blocks.starts()).map(|((cause, innermost), start)| {
        let mass = found.masses[start..start + innermost.len()].to_vec();
        let innermost = innermost.stretches();
        CauseMasses { cause: *cause, support: support(&innermost, &mass), innermost, mass }
    });
    Ok(CompetingNpmle {
        n,
        causes: causes.collect(),
        mass_without_event: if blocks.tail { found.masses.last().copied().unwrap_or(0.0) } else { 0.0 },
        loglik: found.loglik,
        kkt_max_gradient_minus_n: found.gap,
        iterations: found.iterations,
    })
}

impl CompetingNpmle {
    /// Part of all cases that has had the event of this cause by this age, in days, as a band. A
    /// cause that never occurred has an incidence of 0.
    ///
    /// Fails with [`InvalidInput::Age`].
    pub fn incidence_at(&self, cause: u32, age_days: f64) -> Result<Band, InvalidInput> {
        let age_days = crate::reason::age("age_days", age_days)?;
        let found = self.causes.iter().find(|masses| masses.cause == cause);
        Ok(found.map_or(Band { lower: 0.0, upper: 0.0 }, |masses| come_by(&masses.innermost, &masses.mass, age_days)))
    }

    /// Part of all cases without any event by this age, in days, as a band.
    ///
    /// Fails with [`InvalidInput::Age`].
    pub fn event_free_at(&self, age_days: f64) -> Result<Band, InvalidInput> {
        let mut come = Band { lower: 0.0, upper: 0.0 };
        for masses in &self.causes {
            let band = self.incidence_at(masses.cause, age_days)?;
            come = Band { lower: come.lower + band.lower, upper: come.upper + band.upper };
        }
        Ok(come.complement())
    }
}

/// The columns: a block a cause, and the mass beyond the last look.
struct Blocks {
    causes: BTreeMap<u32, Innermost>,
    tail: bool,
}

impl Blocks {
    fn of(rows: &[CauseBetweenLooks]) -> Blocks {
        let open = || rows.iter().filter(|row| row.cause == 0);
        let mut ends: BTreeMap<u32, (Vec<End>, Vec<End>)> = BTreeMap::new();
        for row in rows.iter().filter(|row| row.cause != 0) {
            let (lefts, rights) = ends.entry(row.cause).or_default();
            lefts.push(End::left_of(&row.looks));
            rights.push(End::right_of(&row.looks));
        }
        // A case without an event yet sees only what lies after its last look, so its look begins
        // a stretch of every cause.
        let of_cause = |(mut lefts, rights): (Vec<End>, Vec<End>)| {
            lefts.extend(open().map(|row| End::left_of(&row.looks)));
            Innermost::of(lefts, rights)
        };
        let tail = open().next().is_some();
        Blocks { causes: ends.into_iter().map(|(cause, ends)| (cause, of_cause(ends))).collect(), tail }
    }

    /// Where each block begins; where the columns of all causes end, last.
    fn starts(&self) -> Vec<usize> {
        let mut starts = vec![0];
        let mut end = 0;
        for innermost in self.causes.values() {
            end += innermost.len();
            starts.push(end);
        }
        starts
    }

    fn design(&self, rows: &[CauseBetweenLooks]) -> Design {
        let mut blocks = self.starts();
        let end = blocks[self.causes.len()];
        if self.tail {
            blocks.push(end + 1);
        }
        let mut like: BTreeMap<Vec<(u32, u32)>, f64> = BTreeMap::new();
        for row in rows {
            *like.entry(self.runs_of(row, &blocks)).or_insert(0.0) += row.looks.weight as f64;
        }
        let mut design = Design { blocks, weights: Vec::new(), first_run: vec![0], runs: Vec::new(), n: like.values().sum() };
        for (runs, weight) in like {
            design.weights.push(weight);
            design.runs.extend(runs);
            design.first_run.push(design.runs.len() as u32);
        }
        design
    }

    /// What the row sees: stretches of its cause, or the end of every block.
    fn runs_of(&self, row: &CauseBetweenLooks, blocks: &[usize]) -> Vec<(u32, u32)> {
        let (left, right) = (End::left_of(&row.looks), End::right_of(&row.looks));
        let mut runs = Vec::new();
        for ((cause, innermost), start) in self.causes.iter().zip(blocks) {
            let (from, to) = match row.cause {
                0 => (innermost.first_from(left), innermost.len()),
                seen if seen == *cause => innermost.within(left, right),
                _ => continue,
            };
            if from < to {
                runs.push(((start + from) as u32, (start + to) as u32));
            }
        }
        if row.cause == 0 {
            let tail = blocks[self.causes.len()] as u32;
            runs.push((tail, tail + 1));
        }
        runs
    }
}
