//! The infinitesimal jackknife of cumulative incidences: the sum over cases of the squared derivative
//! of `F_k(t)` by the weight of the case.
//!
//! Written out case by case this costs cases times ages. But the derivative of a case at risk is
//! `A(t) - b - q F(t)`, where `q` and `b` depend on its entry alone, and that of a case that has left
//! is `c + h F(t)`, where `c` and `h` depend on its exit as well. So a few sums over the two kinds of
//! cases carry all of it, in one pass. With `dF = S(t-) d_k/n`:
//!
//! `Q = sum d/(n(n - d))`, `A = sum dF Q(t-) - sum dF/n`, `q = Q(entry)`, `b = A(entry) - q F(entry)`,
//! `h = Q(exit) - q - 1[event]/(n - d)`, `c = A(exit) - b - q F(exit) + 1[cause k] S(exit-)/n - h F(exit)`.
//!
//! The sums over those at risk are kept as means and sums about the means: `q` may be near 1 for
//! everybody after a thin beginning, and plain sums of squares would then cancel.

use crate::cohort::{Cohort, Moment};
use crate::incidence::Incidence;
use crate::rows::Spell;

/// Fills in the standard errors of a table that has its incidences.
pub(crate) fn jackknife(cohort: &Cohort, table: &mut Incidence) {
    if !cohort.any_late() {
        // All had entered before the first exit: the variance is then Greenwood's, term by term.
        table.causes.iter_mut().for_each(|cause| cause.se_ij = cause.se_greenwood.clone());
        return;
    }
    let early = Early::of(table);
    for index in 0..table.causes.len() {
        let mut sums = Sums::default();
        let mut se = Vec::with_capacity(table.time.len());
        cohort.each_moment(|moment| {
            sums.add(moment, index, se.len(), table, &early);
            se.push(sums.variance().max(0.0).sqrt());
        });
        table.causes[index].se_ij = se;
    }
}

/// `Q` after each so many of the ages; the first is 0, before all of them.
struct Early {
    greenwood: Vec<f64>,
}

impl Early {
    fn of(table: &Incidence) -> Early {
        let mut greenwood = vec![0.0];
        let mut sum = 0.0;
        for index in 0..table.time.len() {
            let d = events(table, index);
            let n = table.n_risk[index] as f64;
            // Where all meet a fate nothing follows, and the term is not used.
            if d < n {
                sum += d / (n * (n - d));
            }
            greenwood.push(sum);
        }
        Early { greenwood }
    }
}

fn events(table: &Incidence, index: usize) -> f64 {
    table.causes.iter().map(|cause| cause.n_event[index]).sum::<u64>() as f64
}

/// All that one fate needs, up to an age.
#[derive(Default)]
struct Sums {
    cif: f64,
    /// `A`.
    drift: f64,
    /// `b` after each so many of the ages.
    offsets: Vec<f64>,
    at_risk: Spread,
    gone: Gone,
}

/// Those at risk: number, means of `q` and `b`, and sums of products about the means.
#[derive(Default)]
struct Spread {
    n: f64,
    q: f64,
    b: f64,
    qq: f64,
    qb: f64,
    bb: f64,
}

/// Those that left: sums of products of `c` and `h`.
#[derive(Default)]
struct Gone {
    cc: f64,
    ch: f64,
    hh: f64,
}

impl Sums {
    fn add(&mut self, moment: &Moment, cause: usize, index: usize, table: &Incidence, early: &Early) {
        if index == 0 {
            self.offsets.push(0.0);
        }
        let q = early.greenwood[index];
        self.at_risk.add(moment.n_entered as f64, q, self.offsets[index]);
        let n = moment.n_risk as f64;
        let surv = index.checked_sub(1).map_or(1.0, |before| table.surv[before]);
        let rise = surv * table.causes[cause].n_event[index] as f64 / n;
        self.drift += rise * q - rise / n;
        self.cif += rise;
        let d = events(table, index);
        for spell in moment.leaving {
            self.leave(spell, cause, table, early, Exit { greenwood: early.greenwood[index + 1], n, d, surv });
        }
        self.offsets.push(self.drift - early.greenwood[index + 1] * self.cif);
    }

    fn leave(&mut self, spell: &Spell, cause: usize, table: &Incidence, early: &Early, exit: Exit) {
        let entered = table.time.partition_point(|age| *age <= spell.entry);
        let (q, b, weight) = (early.greenwood[entered], self.offsets[entered], f64::from(spell.weight));
        self.at_risk.remove(weight, q, b);
        let met = spell.cause as usize == cause + 1;
        let reached = self.drift - b - q * self.cif + if met { exit.surv / exit.n } else { 0.0 };
        let h = match spell.cause {
            0 => exit.greenwood - q,
            // All meet a fate: survival is 0 from here on, whoever is given more weight.
            _ if exit.d >= exit.n => 0.0,
            _ => exit.greenwood - q - 1.0 / (exit.n - exit.d),
        };
        let c = reached - h * self.cif;
        self.gone.cc += weight * c * c;
        self.gone.ch += weight * c * h;
        self.gone.hh += weight * h * h;
    }

    fn variance(&self) -> f64 {
        let (f, Spread { n, q, b, qq, qb, bb }, gone) = (self.cif, &self.at_risk, &self.gone);
        let mean = self.drift - b - q * f;
        n * mean * mean + bb + 2.0 * f * qb + f * f * qq + gone.cc + 2.0 * f * gone.ch + f * f * gone.hh
    }
}

/// What is the same for all that leave at one age.
#[derive(Clone, Copy)]
struct Exit {
    greenwood: f64,
    n: f64,
    d: f64,
    surv: f64,
}

impl Spread {
    fn add(&mut self, weight: f64, q: f64, b: f64) {
        if weight == 0.0 {
            return;
        }
        self.n += weight;
        let (from_q, from_b) = (q - self.q, b - self.b);
        self.q += from_q * weight / self.n;
        self.b += from_b * weight / self.n;
        self.qq += weight * from_q * (q - self.q);
        self.qb += weight * from_q * (b - self.b);
        self.bb += weight * from_b * (b - self.b);
    }

    fn remove(&mut self, weight: f64, q: f64, b: f64) {
        if weight >= self.n {
            *self = Spread::default();
            return;
        }
        self.n -= weight;
        let (from_q, from_b) = (q - self.q, b - self.b);
        self.q -= from_q * weight / self.n;
        self.b -= from_b * weight / self.n;
        self.qq -= weight * from_q * (q - self.q);
        self.qb -= weight * from_q * (b - self.b);
        self.bb -= weight * from_b * (b - self.b);
    }
}
