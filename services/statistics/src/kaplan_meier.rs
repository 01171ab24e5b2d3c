//! The product-limit estimator of survival (Kaplan & Meier 1958 JASA 53:457) with Greenwood's
//! variance, and the cumulative hazard of Nelson and Aalen, under delayed entry.
//!
//! With `d` events among `n` at risk at each distinct event age:
//! `S = prod (n - d)/n`, `Var S = S² sum d/(n(n - d))`, `H = sum d/n`, `Var H = sum d/n²`.
//! A case censored on the day of an event is in the risk set of that day; one that enters on that
//! day is not. Without a delayed entry the age 0 is at risk.

use crate::confidence::{Interval, Level, SurvivalInterval};
use crate::curve::{Curve, Step};
use crate::reason::{InvalidInput, Reason, age};
use crate::risk_set::{Moment, RiskSets};
use crate::rows::{Excluded, Row, Spell, admit};

/// A conditional curve is offered from an age at which at least so many are at risk.
pub const AT_RISK_MIN: u64 = 10;

/// The curve of these cases.
///
/// Rows without time at risk are listed in [`Curve::excluded`]. Without any case left, or when the
/// product collapses under delayed entry ([`Reason::Collapsed`]), [`Curve::refusal`] says so and
/// every survival is absent, while counts and cumulative hazard stay. Fails with [`InvalidInput`],
/// which names the row, when a row makes no sense.
pub fn kaplan_meier(rows: &[Row], level: Level) -> Result<Curve, InvalidInput> {
    let (spells, excluded) = admit(rows)?;
    Ok(estimate(&spells, excluded, None, 0, level))
}

/// The curve of those alive and still watched after `given_days`: `S(t | alive at given_days)`, which
/// begins at 1 there. Cases that ended at or before that age are counted in
/// [`Curve::n_ended_before`]; later entries come in as they do.
///
/// Fails as [`kaplan_meier`] does, and when `given_days` is not an age.
pub fn kaplan_meier_given(rows: &[Row], given_days: f64, level: Level) -> Result<Curve, InvalidInput> {
    let given_days = age("given_days", given_days)?;
    let (spells, excluded) = admit(rows)?;
    let (later, ended): (Vec<Spell>, Vec<Spell>) = spells.into_iter().partition(|s| s.exit > given_days);
    let alive: Vec<Spell> = later.into_iter().map(|s| Spell { entry: s.entry.max(given_days), ..s }).collect();
    Ok(estimate(&alive, excluded, Some(given_days), weight(&ended), level))
}

fn weight(spells: &[Spell]) -> u64 {
    spells.iter().map(|s| s.weight).sum()
}

fn estimate(spells: &[Spell], excluded: Vec<Excluded>, given_days: Option<f64>, n_ended_before: u64, level: Level) -> Curve {
    let risk = RiskSets::new(spells);
    let moments = risk.moments(spells);
    let refusal = match moments.is_empty() {
        true => Some(Reason::NoData),
        false => collapse(&moments, &risk),
    };
    Curve {
        level,
        given_days,
        n_cases: weight(spells),
        n_events: moments.iter().map(|m| m.n_event).sum(),
        n_ended_before,
        observed_from_days: risk.observed_from(),
        followed_to_days: risk.followed_to(),
        steps: steps(&moments, refusal.is_none(), level),
        unobserved: risk.unobserved(),
        excluded,
        refusal,
        risk,
    }
}

/// The last age at which everybody at risk had the event although others enter later. From there on
/// the product is 0 whatever happens to them (Tsai, Jewell & Wang 1987 Biometrika 74:883; Lai &
/// Ying 1991), so the curve would speak of a handful of early cases only.
fn collapse(moments: &[Moment], risk: &RiskSets) -> Option<Reason> {
    moments.iter().rev().filter(|m| m.n_event == m.n_risk).find_map(|m| {
        let resumes_days = risk.next_entry(m.days)?;
        let enough = |entry: &&f64| risk.just_after(**entry) >= AT_RISK_MIN;
        let given_days = risk.entries_from(m.days).iter().find(enough).copied();
        Some(Reason::Collapsed { at_days: m.days, n_risk: m.n_risk, resumes_days, given_days })
    })
}

/// What has been multiplied and summed up to an age.
struct Sums {
    surv: f64,
    greenwood: f64,
    cumhaz: f64,
    cumhaz_var: f64,
}

impl Sums {
    fn add(&mut self, moment: &Moment) {
        if moment.n_event == 0 {
            return;
        }
        let (n, d) = (moment.n_risk as f64, moment.n_event as f64);
        self.surv *= (n - d) / n;
        // When all die the term is infinite and S is 0: neither is used any more.
        self.greenwood += d / (n * (n - d));
        self.cumhaz += d / n;
        self.cumhaz_var += d / (n * n);
    }

    fn standard_error(&self) -> Option<f64> {
        (self.surv > 0.0).then(|| self.surv * self.greenwood.sqrt())
    }
}

fn steps(moments: &[Moment], with_survival: bool, level: Level) -> Vec<Step> {
    let mut sums = Sums { surv: 1.0, greenwood: 0.0, cumhaz: 0.0, cumhaz_var: 0.0 };
    let step = |moment: &Moment| {
        sums.add(moment);
        let interval = |kind: SurvivalInterval| -> Option<Interval> {
            kind.of(sums.surv, sums.greenwood.sqrt(), level).ok().filter(|_| with_survival)
        };
        Step {
            days: moment.days,
            n_risk: moment.n_risk,
            n_event: moment.n_event,
            n_censor: moment.n_censor,
            surv: with_survival.then_some(sums.surv),
            greenwood_se_surv: sums.standard_error().filter(|_| with_survival),
            na_cumhaz: sums.cumhaz,
            na_se_cumhaz: sums.cumhaz_var.sqrt(),
            ci_plain: interval(SurvivalInterval::Plain),
            ci_log: interval(SurvivalInterval::Log),
            ci_loglog: interval(SurvivalInterval::LogLog),
        }
    };
    moments.iter().map(step).collect()
}
