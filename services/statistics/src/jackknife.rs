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

use crate::cohort::Cohort;
use crate::incidence::Incidence;

/// Fills in the standard errors of a table that has its incidences.
pub(crate) fn jackknife(cohort: &Cohort, table: &mut Incidence) {
    if !cohort.any_late() {
        // All had entered before the first exit: the variance is then Greenwood's, term by term.
        table.causes.iter_mut().for_each(|cause| cause.se_ij = cause.se_greenwood.clone());
        return;
    }
    let greenwood = greenwood(table);
    let mut fates: Vec<Sums> = (0..table.causes.len()).map(|_| Sums { offsets: vec![0.0], ..Sums::default() }).collect();
    let mut index = 0;
    cohort.each_moment(|moment| {
        let exit = Exit::of(table, &greenwood, index);
        for (sums, cause) in fates.iter_mut().zip(&table.causes) {
            sums.rise(moment.n_entered, cause.n_event[index] as f64, greenwood[index], &exit);
        }
        for spell in moment.leaving {
            let entered = table.time.partition_point(|age| *age <= spell.entry);
            let left = Left { entered, q: greenwood[entered], weight: f64::from(spell.weight), cause: spell.cause as usize };
            fates.iter_mut().zip(1..).for_each(|(sums, cause)| sums.leave(left, left.cause == cause, &exit));
        }
        fates.iter_mut().for_each(|sums| sums.close(greenwood[index + 1]));
        index += 1;
    });
    table.causes.iter_mut().zip(fates).for_each(|(cause, sums)| cause.se_ij = sums.se);
}

/// `Q` after each so many of the ages; the first is 0, before all of them.
fn greenwood(table: &Incidence) -> Vec<f64> {
    let (mut after, mut sum) = (vec![0.0], 0.0);
    for index in 0..table.time.len() {
        let (d, n) = (events(table, index), table.n_risk[index] as f64);
        // Where all meet a fate nothing follows, and the term is not used.
        if d < n {
            sum += d / (n * (n - d));
        }
        after.push(sum);
    }
    after
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
    se: Vec<f64>,
}

/// A case that leaves: how many ages had passed when it entered, and the `q` of that.
#[derive(Clone, Copy)]
struct Left {
    entered: usize,
    q: f64,
    weight: f64,
    cause: usize,
}

/// What is the same for all fates and all that leave at one age.
struct Exit {
    /// `Q` just after it.
    greenwood: f64,
    n: f64,
    d: f64,
    /// Survival just before it.
    surv: f64,
}

impl Exit {
    fn of(table: &Incidence, greenwood: &[f64], index: usize) -> Exit {
        let surv = index.checked_sub(1).map_or(1.0, |before| table.surv[before]);
        Exit { greenwood: greenwood[index + 1], n: table.n_risk[index] as f64, d: events(table, index), surv }
    }
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
    /// The next age: those that entered since the last one, and the events of this fate.
    fn rise(&mut self, n_entered: u64, n_event: f64, q: f64, exit: &Exit) {
        if n_entered > 0 {
            self.at_risk.add(n_entered as f64, q, self.offsets[self.offsets.len() - 1]);
        }
        let rise = exit.surv * n_event / exit.n;
        self.drift += rise * q - rise / exit.n;
        self.cif += rise;
    }

    fn leave(&mut self, left: Left, met: bool, exit: &Exit) {
        let Left { entered, q, weight, cause } = left;
        let b = self.offsets[entered];
        self.at_risk.remove(weight, q, b);
        let reached = self.drift - b - q * self.cif + if met { exit.surv / exit.n } else { 0.0 };
        let h = match cause {
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

    /// The end of an age, with `Q` just after it.
    fn close(&mut self, greenwood: f64) {
        self.offsets.push(self.drift - greenwood * self.cif);
        self.se.push(self.variance().max(0.0).sqrt());
    }

    fn variance(&self) -> f64 {
        let (f, Spread { n, q, b, qq, qb, bb }, gone) = (self.cif, &self.at_risk, &self.gone);
        let mean = self.drift - b - q * f;
        n * mean * mean + bb + 2.0 * f * qb + f * f * qq + gone.cc + 2.0 * f * gone.ch + f * f * gone.hh
    }
}

impl Spread {
    fn add(&mut self, weight: f64, q: f64, b: f64) {
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
