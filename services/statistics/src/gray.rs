//! Whether groups differ in the incidence of one fate among several: Gray's test.
//!
//! The log-rank test asks whether those at risk meet the fate at the same rate; this one asks whether
//! the same part of all cases comes to meet it. At each age with any event, for group `r` with `Y_r`
//! at risk, `S_r` its Kaplan-Meier curve of all fates and `F_r` its incidence of the tested one
//! (`-` is just before the age):
//!
//! `h_r = Y_r/S_r-`, `R_r = h_r (1 - F_r-)`, score `z_k = sum (d1_k - R_k d1/R)`.
//!
//! The covariance follows Gray 1988 with `rho = 0`; what each event contributes depends on all later
//! ages, so it is summed by one pass backward.

use serde::Serialize;

use crate::chi_square::{QuadraticForm, upper_tail};
use crate::log_rank::mirror;
use crate::reason::{Error, InvalidInput, Reason};
use crate::rows::{Excluded, Fate, Gate, Grouped};
use crate::sweep::{Design, Marks, Moment, Stratum};

/// A comparison of the incidences of one fate.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gray {
    /// The fate that was tested, numbered from 1.
    pub cause: usize,
    /// Whether groups were compared within strata.
    pub stratified: bool,
    /// The statistic.
    pub statistic: f64,
    /// Degrees of freedom: groups less one, and less still where groups were never at risk together.
    pub df: usize,
    /// The probability of a statistic as large by chance, by the chi-square approximation.
    pub p: f64,
    /// Score by group: events less those expected.
    pub score: Vec<f64>,
    /// Covariance of the scores.
    pub variance: Vec<Vec<f64>>,
    /// Rows that no risk set can hold, with the reason.
    pub excluded: Vec<Excluded>,
}

/// Gray's test of `design.groups` groups for every fate 1 to `design.causes` in turn, within
/// `design.strata` strata: Gray 1988 (Ann Stat 16:1141), `rho = 0`; the formulas stand in the
/// module. One answer for each cause, in order.
///
/// Ties: all events of one age are drawn together, with the corrections of the author's `cuminc`;
/// cases censored on that age are at risk for it. It tests *incidences*: a group with a higher hazard
/// of another fate has a lower incidence of this one. For hazards use
/// [`log_rank`](crate::log_rank()), and give both. Not with delayed entry, for which it is not
/// defined, and its p is too small when cases of one clutch share their fortunes.
///
/// Fails with [`Reason::DelayedEntry`] and with [`InvalidInput`] naming the row. The answer for one
/// fate is [`Reason::NothingToCompare`] when no event of it happened while two groups were at risk.
pub fn gray(rows: impl IntoIterator<Item = Grouped<Fate>>, design: Design) -> Result<Vec<Result<Gray, Reason>>, Error> {
    let mut gate = Gate::default();
    let marks = Marks::of_members(rows, design, &mut gate)?;
    if marks.any_late() {
        return Err(Reason::DelayedEntry.into());
    }
    Ok((1..=design.causes).map(|cause| test(&marks, design, cause, &gate.excluded)).collect())
}

/// The same for one fate only. Fails as [`gray`] does, and for a cause that was not announced.
pub fn gray_of_cause(rows: impl IntoIterator<Item = Grouped<Fate>>, design: Design, cause: usize) -> Result<Gray, Error> {
    if cause == 0 || cause > design.causes {
        return Err(InvalidInput::CauseTested { found: cause, causes: design.causes }.into());
    }
    let mut gate = Gate::default();
    let marks = Marks::of_members(rows, design, &mut gate)?;
    if marks.any_late() {
        return Err(Reason::DelayedEntry.into());
    }
    Ok(test(&marks, design, cause, &gate.excluded)?)
}

fn test(marks: &Marks, design: Design, cause: usize, excluded: &[Excluded]) -> Result<Gray, Reason> {
    let mut sums = Sums { score: vec![0.0; design.groups], variance: vec![vec![0.0; design.groups]; design.groups] };
    marks.each_stratum(|stratum| sums.add(&Forward::of(&stratum, design, cause)));
    mirror(&mut sums.variance);
    let form = QuadraticForm::of(&sums.score, &sums.variance);
    if form.rank == 0 {
        return Err(Reason::NothingToCompare);
    }
    Ok(Gray {
        cause,
        stratified: design.strata > 1,
        statistic: form.value,
        df: form.rank,
        p: upper_tail(form.value, form.rank),
        score: sums.score,
        variance: sums.variance,
        excluded: excluded.to_vec(),
    })
}

/// Group `r` at one age. Without cases at risk all of it is 0.
#[derive(Clone, Copy, Default)]
struct Member {
    at_risk: f64,
    /// Events of the tested fate, and of any other.
    tested: f64,
    others: f64,
    /// All-cause survival just before, and just after.
    surv_before: f64,
    surv: f64,
    /// The incidence of the tested fate just before.
    cif_before: f64,
}

impl Member {
    /// `h_r`.
    fn weight(&self) -> f64 {
        if self.at_risk > 0.0 { self.at_risk / self.surv_before } else { 0.0 }
    }
}

/// The ages of one stratum in order, with the groups at each side by side.
struct Forward {
    groups: usize,
    members: Vec<Member>,
}

impl Forward {
    fn of(stratum: &Stratum, design: Design, cause: usize) -> Forward {
        let mut forward = Forward { groups: design.groups, members: Vec::new() };
        let mut state = vec![(1.0, 0.0); design.groups];
        stratum.each_moment(|moment| forward.add(moment, &mut state, design, cause));
        forward
    }

    /// One age, unless nobody met any fate at it. `state` holds survival and incidence by group.
    fn add(&mut self, moment: &Moment, state: &mut [(f64, f64)], design: Design, cause: usize) {
        if moment.leaving.iter().all(|mark| design.cause(mark.cell) == 0) {
            return;
        }
        let start = self.members.len();
        let of_group = |(n, (surv, cif)): (&u64, &(f64, f64))| Member {
            at_risk: *n as f64,
            surv_before: *surv,
            cif_before: *cif,
            ..Member::default()
        };
        self.members.extend(moment.at_risk.iter().zip(&*state).map(of_group));
        for mark in moment.leaving {
            let member = &mut self.members[start + design.group(mark.cell)];
            match design.cause(mark.cell) {
                0 => {}
                met if met == cause => member.tested += f64::from(mark.weight),
                _ => member.others += f64::from(mark.weight),
            }
        }
        for (member, (surv, cif)) in self.members[start..].iter_mut().zip(state) {
            if member.at_risk > 0.0 {
                *cif += *surv * member.tested / member.at_risk;
                *surv *= (member.at_risk - member.tested - member.others) / member.at_risk;
            }
            member.surv = *surv;
        }
    }

    fn ages(&self) -> impl DoubleEndedIterator<Item = &[Member]> + ExactSizeIterator {
        self.members.chunks_exact(self.groups)
    }
}

struct Sums {
    score: Vec<f64>,
    variance: Vec<Vec<f64>>,
}

impl Sums {
    fn add(&mut self, forward: &Forward) {
        // The pooled 1 - F just after each age; the backward pass needs it in reverse.
        let mut left = Vec::with_capacity(forward.ages().len());
        let mut pooled = 0.0;
        for members in forward.ages() {
            let (d1, h) = (members.iter().map(|m| m.tested).sum::<f64>(), total_weight(members));
            self.score(members, d1);
            pooled += d1 / h;
            left.push(1.0 - pooled);
        }
        let mut later = vec![vec![0.0; forward.groups]; forward.groups];
        for (index, members) in forward.ages().enumerate().rev() {
            let before = index.checked_sub(1).map_or(1.0, |before| left[before]);
            self.vary(members, &later, left[index]);
            add_to_later(members, &mut later, before);
        }
    }

    fn score(&mut self, members: &[Member], d1: f64) {
        let share = |m: &Member| m.weight() * (1.0 - m.cif_before);
        let all: f64 = members.iter().map(share).sum();
        if d1 > 0.0 && all > 0.0 {
            self.score.iter_mut().zip(members).for_each(|(z, m)| *z += m.tested - share(m) * d1 / all);
        }
    }

    /// What the events of one age add to the covariance; `later` is `C`, `left` is `G0`.
    fn vary(&mut self, members: &[Member], later: &[Vec<f64>], left: f64) {
        let h = total_weight(members);
        let d1: f64 = members.iter().map(|m| m.tested).sum();
        for (r, member) in members.iter().enumerate().filter(|(_, m)| m.at_risk > 0.0) {
            let weight = member.weight();
            let one = weight * d1 / h * tied(d1, h * member.surv_before);
            let two = member.others * tied(member.others, member.at_risk);
            let ratio = if member.surv > 0.0 { left / member.surv } else { 0.0 };
            let alive = if member.surv > 0.0 { 1.0 } else { 0.0 };
            let terms: Vec<(f64, f64)> = (0..members.len())
                .map(|k| {
                    let e = excess(members, k, r, h);
                    (e + alive * later[k][r] * (1.0 - ratio) / weight, -later[k][r] * ratio / weight)
                })
                .collect();
            for (k, (a_k, b_k)) in terms.iter().enumerate() {
                for (l, (a_l, b_l)) in terms.iter().enumerate().take(k + 1) {
                    self.variance[k][l] += a_k * a_l * one + b_k * b_l * two;
                }
            }
        }
    }
}

/// `C_kr` takes in this age, for those before it: `e_kr h_r dF0/G0-`.
fn add_to_later(members: &[Member], later: &mut [Vec<f64>], left_before: f64) {
    let (h, d1) = (total_weight(members), members.iter().map(|m| m.tested).sum::<f64>());
    if d1 == 0.0 || left_before <= 0.0 {
        return;
    }
    for (k, row) in later.iter_mut().enumerate() {
        for (r, sum) in row.iter_mut().enumerate().filter(|(r, _)| members[*r].at_risk > 0.0) {
            *sum += excess(members, k, r, h) * members[r].weight() * d1 / h / left_before;
        }
    }
}

/// `h`.
fn total_weight(members: &[Member]) -> f64 {
    members.iter().map(Member::weight).sum()
}

/// `e_kr = 1[k = r] - h_k/h`.
fn excess(members: &[Member], k: usize, r: usize, h: f64) -> f64 {
    f64::from(u8::from(k == r)) - members[k].weight() / h
}

/// The correction for `d` tied events among `n`.
fn tied(d: f64, n: f64) -> f64 {
    if d > 1.0 { 1.0 - (d - 1.0) / (n - 1.0) } else { 1.0 }
}
