//! Cumulative incidence of competing fates: the estimator of Aalen and Johansen under delayed entry.
//!
//! With `d_k` cases meeting fate `k` among `n` at risk at each event age, and `S` the Kaplan-Meier
//! curve of all fates together: `F_k(t) = sum over ages <= t of S(t-) d_k/n`. The fates and those
//! still without one always add up to 1.

use crate::cohort::{Cohort, Moment};
use crate::confidence::Level;
use crate::incidence::{Cause, Incidence};
use crate::jackknife::jackknife;
use crate::kaplan_meier::Collapse;
use crate::reason::{InvalidInput, Reason, age};
use crate::risk_set::Span;
use crate::rows::{Excluded, Fate, Gate, Spell};

/// The incidences of fates 1 to `causes` of these cases.
///
/// Aalen & Johansen 1978 (Scand J Stat 5:141), `F_k(t) = sum S(t-) d_k/n`; the keeper's question "of
/// 100 eggs, how many hatch, die or leave by day t". Ties: all fates of one age are met at once, a
/// case censored on that age is at risk for it, one that enters on it is not.
///
/// Two standard errors, each under its name:
/// * *Greenwood's type* (Andersen, Borgan, Gill & Keiding 1993, eq. 4.4.17 and 4.4.20; R's `etm`), by
///   the recursion of the covariance of `(S, F_k)` with the multinomial covariance
///   `(1[k = l] d_k n - d_k d_l)/n³` of the increments;
/// * the *infinitesimal jackknife* (R's `survfit`), the sum over cases of the squared derivative of
///   `F_k` by the weight of the case.
///
/// Without delayed entry they are the same number. Not for a comparison of hazards
/// ([`log_rank`](crate::log_rank())), and one minus a Kaplan-Meier curve of one cause is not it.
///
/// Without any case, or where the product collapses under delayed entry ([`Reason::Collapsed`]),
/// [`Incidence::refusal`] says so. Fails with [`InvalidInput`] naming the row.
pub fn aalen_johansen(rows: &[Fate], causes: usize, level: Level) -> Result<Incidence, InvalidInput> {
    aalen_johansen_of(rows.iter().copied(), causes, None, level)
}

/// The incidences among those without any fate and still watched after `given_days`; they begin at 0
/// there. The way out where the whole table collapses under delayed entry; estimator, ties and
/// errors as in [`aalen_johansen`], and it fails as well when `given_days` is not an age.
pub fn aalen_johansen_given(rows: &[Fate], causes: usize, given_days: f64, level: Level) -> Result<Incidence, InvalidInput> {
    aalen_johansen_of(rows.iter().copied(), causes, Some(given_days), level)
}

/// The incidences of cases that come one by one, so that a large table needs to be held only once:
/// those of [`aalen_johansen`] or, given an age, of [`aalen_johansen_given`]. Estimator, conventions,
/// limits of use and failures are theirs.
pub fn aalen_johansen_of(
    rows: impl IntoIterator<Item = Fate>,
    causes: usize,
    given_days: Option<f64>,
    level: Level,
) -> Result<Incidence, InvalidInput> {
    let given_days = given_days.map(|days| age("given_days", days)).transpose()?;
    let (mut gate, mut cohort) = (Gate::default(), Cohort::new(causes)?);
    let mut n_ended_before = 0;
    let given = given_days.unwrap_or(f64::NEG_INFINITY);
    for row in rows {
        match gate.admit(row, causes)? {
            Some(spell) if spell.exit > given => cohort.push(Spell { entry: spell.entry.max(given), ..spell }),
            Some(spell) => n_ended_before += u64::from(spell.weight),
            None => {}
        }
    }
    cohort.sort();
    let mut incidence = tabulate(&cohort, gate.excluded, level);
    (incidence.given_days, incidence.n_ended_before) = (given_days, n_ended_before);
    if incidence.refusal.is_none() {
        estimate_all(&mut incidence);
        jackknife(&cohort, &mut incidence);
        settle(&mut incidence);
    }
    Ok(incidence)
}

/// The counts, which stand whether or not anything can be estimated from them.
fn tabulate(cohort: &Cohort, excluded: Vec<Excluded>, level: Level) -> Incidence {
    let mut table = Incidence {
        level,
        given_days: None,
        n_cases: cohort.n_cases(),
        n_ended_before: 0,
        observed_from_days: cohort.observed_from(),
        followed_to_days: None,
        time: Vec::new(),
        n_risk: Vec::new(),
        n_censor: Vec::new(),
        surv: Vec::new(),
        causes: vec![Cause::default(); cohort.causes()],
        unobserved: Vec::new(),
        excluded,
        refusal: None,
    };
    let mut collapse = None;
    cohort.each_moment(|moment| {
        let (days, n_risk) = (moment.days, moment.n_risk);
        let n_censor = count(&mut table, moment);
        let left: u64 = moment.leaving.iter().map(|spell| u64::from(spell.weight)).sum();
        if let Some(entry) = moment.next_entry.filter(|_| left == n_risk) {
            if entry > days {
                table.unobserved.push(Span { from_days: days, to_days: entry });
            }
            if n_censor == 0 {
                collapse = Some(Collapse { at_days: days, n_risk, resumes_days: entry });
            }
        }
    });
    table.followed_to_days = table.time.last().copied();
    table.refusal = match table.time.is_empty() {
        true => Some(Reason::NoData),
        false => collapse.map(|found| found.reason(&cohort.entries(), &table)),
    };
    table
}

/// Adds the counts of one age, and gives back how many were censored.
fn count(table: &mut Incidence, moment: &Moment) -> u64 {
    table.time.push(moment.days);
    table.n_risk.push(moment.n_risk);
    table.causes.iter_mut().for_each(|cause| cause.n_event.push(0));
    let (mut n_censor, now) = (0, table.time.len() - 1);
    for spell in moment.leaving {
        match spell.cause as usize {
            0 => n_censor += u64::from(spell.weight),
            cause => table.causes[cause - 1].n_event[now] += u64::from(spell.weight),
        }
    }
    table.n_censor.push(n_censor);
    n_censor
}

/// Survival, and every fate with its standard error of Greenwood's type.
fn estimate_all(table: &mut Incidence) {
    let mut sums = vec![Sum::default(); table.causes.len()];
    let (mut surv, mut var_surv) = (1.0, 0.0);
    for index in 0..table.time.len() {
        let n = table.n_risk[index] as f64;
        let d: u64 = table.causes.iter().map(|cause| cause.n_event[index]).sum();
        let part = d as f64 / n;
        for (cause, sum) in table.causes.iter_mut().zip(&mut sums) {
            let d_k = cause.n_event[index] as f64;
            if d > 0 {
                sum.add(Increment { surv, var_surv, n, part, part_k: d_k / n });
            }
            cause.cif.push(sum.cif);
            cause.se_greenwood.push(sum.var.max(0.0).sqrt());
        }
        if d > 0 {
            let stays = (n - d as f64) / n;
            var_surv = stays * stays * var_surv + surv * surv * part * stays / n;
            surv *= stays;
        }
        table.surv.push(surv);
    }
}

/// Where all have met one fate and nobody another, whatever weight the cases have: the standard errors
/// are 0, of which sums of squares leave their rounding.
fn settle(table: &mut Incidence) {
    let all: Vec<usize> = (0..table.time.len()).filter(|index| table.surv[*index] == 0.0).collect();
    for index in all {
        let mut met: Vec<&mut Cause> = table.causes.iter_mut().filter(|cause| cause.cif[index] > 0.0).collect();
        if let [only] = met.as_mut_slice() {
            (only.se_ij[index], only.se_greenwood[index]) = (0.0, 0.0);
        }
    }
}

/// One fate: its incidence, the variance of that, and its covariance with survival.
#[derive(Clone, Copy, Default)]
struct Sum {
    cif: f64,
    var: f64,
    cov: f64,
}

/// What happens at one age: survival before it, the number at risk, and the part that met any fate
/// and this one.
#[derive(Clone, Copy)]
struct Increment {
    surv: f64,
    var_surv: f64,
    n: f64,
    part: f64,
    part_k: f64,
}

impl Sum {
    /// `cov(p(t)) = (I + dA)' cov(p(t-)) (I + dA) + S(t-)² cov(dA)`, written out for `S` and `F_k`.
    fn add(&mut self, now: Increment) {
        let Increment { surv, var_surv, n, part, part_k } = now;
        let square = surv * surv / n;
        self.var += 2.0 * part_k * self.cov + part_k * part_k * var_surv + square * part_k * (1.0 - part_k);
        self.cov = (1.0 - part) * (self.cov + part_k * var_surv - square * part_k);
        self.cif += surv * part_k;
    }
}
