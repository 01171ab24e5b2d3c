//! The product-limit estimator of survival (Kaplan & Meier 1958 JASA 53:457) with Greenwood's
//! variance, and the cumulative hazard of Nelson and Aalen, under delayed entry.
//!
//! With `d` events among `n` at risk at each distinct event age:
//! `S = prod (n - d)/n`, `Var S = S² sum d/(n(n - d))`, `H = sum d/n`, `Var H = sum d/n²`.
//! A case censored on the day of an event is in the risk set of that day; one that enters on that
//! day is not. Without a delayed entry the age 0 is at risk.
//!
//! It is *not* for the part of eggs that hatch or die when several fates compete: `1 - S` with the
//! other fates censored overstates each of them; see
//! [`aalen_johansen`](mod@crate::aalen_johansen). Nor for deaths known only to lie between two
//! looks, nor where censoring tells something about the risk (a cull of weak eggs).

use crate::confidence::Level;
use crate::curve::{Curve, Step};
use crate::reason::{InvalidInput, Reason, age};
use crate::risk_set::{Entries, Exits, Span};
use crate::rows::{Excluded, Gate, Row, Spell};
use crate::sweep::{Design, Marks, Moment};

/// A conditional curve is offered from an age at which at least so many are at risk.
pub const AT_RISK_MIN: u64 = 10;

/// The curve of these cases.
///
/// The product-limit estimator `S(t) = prod over event ages <= t of (n - d)/n` (Kaplan & Meier 1958
/// JASA 53:457), Greenwood's variance (1926), and Nelson and Aalen's cumulative hazard with the
/// variance `sum d/n²` (Aalen 1978 Ann Stat 6:701). Ties: events before censorings, entries after
/// both. Delayed entry as in Tsai, Jewell & Wang 1987 (Biometrika 74:883). Not for competing fates
/// and not for interval-censored deaths.
///
/// Rows without time at risk are listed in [`Curve::excluded`]. Without any case left, or when the
/// product collapses under delayed entry ([`Reason::Collapsed`]), [`Curve::refusal`] says so and
/// every survival is absent, while counts and cumulative hazard stay. Fails with [`InvalidInput`],
/// which names the row, when a row makes no sense.
pub fn kaplan_meier(rows: &[Row], level: Level) -> Result<Curve, InvalidInput> {
    kaplan_meier_of(rows.iter().copied(), None, level)
}

/// The curve of those alive and still watched after `given_days`: `S(t | alive at given_days)`, which
/// begins at 1 there. Cases that ended at or before that age are counted in
/// [`Curve::n_ended_before`]; later entries come in as they do.
///
/// The way out where the whole curve collapses (Tsai, Jewell & Wang 1987 Biometrika 74:883): choose
/// an age with at least [`AT_RISK_MIN`] at risk, before looking at the result. Formulas and ties as
/// in [`kaplan_meier`]. It says nothing about what happens before that age.
///
/// Fails as [`kaplan_meier`] does, and when `given_days` is not an age.
pub fn kaplan_meier_given(rows: &[Row], given_days: f64, level: Level) -> Result<Curve, InvalidInput> {
    kaplan_meier_of(rows.iter().copied(), Some(given_days), level)
}

/// The curve of cases that come one by one, so that a large table needs to be held only once: that
/// of [`kaplan_meier`] or, given an age, of [`kaplan_meier_given`]. Rows are numbered as they come.
/// Estimator, conventions, limits of use and failures are theirs.
pub fn kaplan_meier_of(rows: impl IntoIterator<Item = Row>, given_days: Option<f64>, level: Level) -> Result<Curve, InvalidInput> {
    let given_days = given_days.map(|days| age("given_days", days)).transpose()?;
    let given = given_days.unwrap_or(f64::NEG_INFINITY);
    let mut marks = Marks::new(Design::of_groups(1))?;
    let mut condition = Condition { given_days, n_ended_before: 0 };
    let mut gate = Gate::default();
    for row in rows {
        match gate.admit(row.into(), 1)? {
            Some(spell) if spell.exit > given => marks.push(Spell { entry: spell.entry.max(given), ..spell }, 0, 0),
            Some(spell) => condition.n_ended_before += u64::from(spell.weight),
            None => {}
        }
    }
    Ok(estimate(marks, gate.excluded, condition, level))
}

/// The age everybody is known to have reached, and who did not.
struct Condition {
    given_days: Option<f64>,
    n_ended_before: u64,
}

fn estimate(mut marks: Marks, excluded: Vec<Excluded>, condition: Condition, level: Level) -> Curve {
    marks.sort();
    let entries = Entries::new(marks.watched_from_origin(), marks.entries());
    let mut sums = Sums::default();
    marks.each_stratum(|cases| cases.each_moment(|moment| sums.add(moment)));
    let Sums { mut steps, unobserved, collapse, .. } = sums;
    let refusal = match steps.is_empty() {
        true => Some(Reason::NoData),
        false => collapse.map(|found| found.reason(&entries, steps.as_slice())),
    };
    if refusal.is_some() {
        steps.iter_mut().for_each(Step::refuse);
    }
    Curve {
        level,
        given_days: condition.given_days,
        n_cases: steps.iter().map(|s| s.n_event + s.n_censor).sum(),
        n_events: steps.iter().map(|s| s.n_event).sum(),
        n_ended_before: condition.n_ended_before,
        observed_from_days: entries.observed_from(),
        followed_to_days: steps.last().map(|s| s.days),
        steps,
        unobserved,
        excluded,
        refusal,
        entries,
    }
}

/// An age at which everybody at risk had the event although others enter later. From there on the
/// product is 0 whatever happens to them (Tsai, Jewell & Wang 1987 Biometrika 74:883; Lai &
/// Ying 1991), so the curve would speak of a handful of early cases only.
pub(crate) struct Collapse {
    pub at_days: f64,
    pub n_risk: u64,
    pub resumes_days: f64,
}

impl Collapse {
    /// Why there is no curve, and from where there would be one. Of several such ages the last
    /// matters: before it no conditional curve could start.
    pub fn reason(self, entries: &Entries, exits: &(impl Exits + ?Sized)) -> Reason {
        let enough = |entry: &&f64| entries.just_after(**entry, exits) >= AT_RISK_MIN;
        let given_days = entries.from(self.at_days).iter().find(enough).copied();
        let Collapse { at_days, n_risk, resumes_days } = self;
        Reason::Collapsed { at_days, n_risk, resumes_days, given_days }
    }
}

/// What has been multiplied and summed up to an age.
struct Sums {
    surv: f64,
    greenwood: f64,
    cumhaz: f64,
    cumhaz_var: f64,
    steps: Vec<Step>,
    unobserved: Vec<Span>,
    collapse: Option<Collapse>,
}

impl Default for Sums {
    fn default() -> Sums {
        let (steps, unobserved) = (Vec::new(), Vec::new());
        Sums { surv: 1.0, greenwood: 0.0, cumhaz: 0.0, cumhaz_var: 0.0, steps, unobserved, collapse: None }
    }
}

impl Sums {
    fn add(&mut self, moment: &Moment) {
        let n_risk = moment.at_risk[0];
        let left: u64 = moment.leaving.iter().map(|mark| u64::from(mark.weight)).sum();
        // With one group and one cause the cell is the cause.
        let n_event = moment.leaving.iter().map(|mark| u64::from(mark.cell) * u64::from(mark.weight)).sum();
        if n_event > 0 {
            self.fall(n_risk as f64, n_event as f64);
        }
        self.steps.push(Step {
            days: moment.days,
            n_risk,
            n_event,
            n_censor: left - n_event,
            surv: Some(self.surv),
            greenwood_se_surv: (self.surv > 0.0).then(|| self.surv * self.greenwood.sqrt()),
            na_cumhaz: self.cumhaz,
            na_se_cumhaz: self.cumhaz_var.sqrt(),
        });
        if let Some(entry) = moment.next_entry.filter(|_| left == n_risk) {
            self.empty(moment.days, n_risk, n_event, entry);
        }
    }

    fn fall(&mut self, n: f64, d: f64) {
        self.surv *= (n - d) / n;
        // When all die the term is infinite and S is 0: neither is used any more.
        self.greenwood += d / (n * (n - d));
        self.cumhaz += d / n;
        self.cumhaz_var += d / (n * n);
    }

    /// Nobody of those at risk is left, and somebody enters at or after this age.
    fn empty(&mut self, days: f64, n_risk: u64, n_event: u64, entry: f64) {
        if entry > days {
            self.unobserved.push(Span { from_days: days, to_days: entry });
        }
        if n_event == n_risk {
            self.collapse = Some(Collapse { at_days: days, n_risk, resumes_days: entry });
        }
    }
}
