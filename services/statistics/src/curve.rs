//! What a survival curve says, and how it is read at an age.

use serde::Serialize;

use crate::confidence::{Interval, Level, SurvivalInterval};
use crate::proportion::clopper_pearson;
use crate::reason::{Error, Reason, age, value_or_reason};
use crate::risk_set::{Entries, Exits, Span};
use crate::rows::Excluded;

/// The result of [`kaplan_meier`](crate::kaplan_meier()) or
/// [`kaplan_meier_given`](crate::kaplan_meier_given).
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Curve {
    /// The level of all its intervals.
    pub level: Level,
    /// The age everybody is known to have reached, in days, for a conditional curve.
    pub given_days: Option<f64>,
    /// Cases in the risk sets.
    pub n_cases: u64,
    /// Events among them.
    pub n_events: u64,
    /// Cases that ended at or before `given_days` and are therefore not in this curve.
    pub n_ended_before: u64,
    /// Where observation begins, in days. Above 0 survival is conditional on being alive there.
    pub observed_from_days: Option<f64>,
    /// The longest follow-up, in days.
    pub followed_to_days: Option<f64>,
    /// One entry for each distinct age at which somebody had the event or was censored.
    pub steps: Vec<Step>,
    /// Stretches between in which nobody is watched; survival is carried across them unchanged.
    pub unobserved: Vec<Span>,
    /// Rows that no risk set can hold, with the reason.
    pub excluded: Vec<Excluded>,
    /// Why there is no survival at all, when there is none.
    pub refusal: Option<Reason>,
    #[serde(skip)]
    pub(crate) entries: Entries,
}

/// What happened at one age, and the estimates just after it. `None` is "not estimable".
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Step {
    /// The age, in days.
    pub days: f64,
    /// At risk: `entry < days <= exit`.
    pub n_risk: u64,
    /// Events at this age.
    pub n_event: u64,
    /// Censored at this age, after the events.
    pub n_censor: u64,
    /// Kaplan-Meier survival.
    pub surv: Option<f64>,
    /// Greenwood's standard error of `surv`; absent once it is 0.
    pub greenwood_se_surv: Option<f64>,
    /// Nelson-Aalen cumulative hazard, which goes on where survival is refused.
    pub na_cumhaz: f64,
    /// Its standard error, by `sum d/n²`.
    pub na_se_cumhaz: f64,
}

/// Survival at one age.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SurvivalAt {
    /// The age, in days.
    pub days: f64,
    /// Kaplan-Meier survival, events of that very day included.
    pub surv: f64,
    /// Greenwood's standard error; absent at 0.
    pub greenwood_se_surv: Option<f64>,
    /// Log-log interval, or why there is none.
    #[serde(serialize_with = "value_or_reason")]
    pub ci_loglog: Result<Interval, Reason>,
    /// While no event has happened: the lower Clopper-Pearson limit for those at risk at this age,
    /// all of whom reached it. It may be printed in place of the interval that cannot be estimated.
    pub no_event_lower: Option<f64>,
    /// At risk at that age: `entry < days <= exit`. Where observation begins: those who enter there.
    pub n_risk: u64,
}

/// A level piece of the curve, for drawing: survival is `surv` from one age up to the next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Tread {
    /// Where it begins, in days.
    pub from_days: f64,
    /// Where it ends, in days.
    pub to_days: f64,
    /// Survival on it.
    pub surv: f64,
    /// Log-log interval on it.
    pub ci_loglog: Option<Interval>,
}

impl Step {
    /// The interval of that kind at this level; absent while survival is 1, once it is 0, and where
    /// the curve is refused. It is computed when asked, since a curve has many steps.
    pub fn ci(&self, kind: SurvivalInterval, level: Level) -> Option<Interval> {
        self.ci_within(kind, level.z())
    }

    /// The same for a normal quantile that is at hand.
    pub(crate) fn ci_within(&self, kind: SurvivalInterval, z: f64) -> Option<Interval> {
        let (surv, se) = (self.surv?, self.greenwood_se_surv?);
        kind.within(surv, se / surv, z).ok()
    }

    /// Takes back what a refused curve must not say.
    pub(crate) fn refuse(&mut self) {
        (self.surv, self.greenwood_se_surv) = (None, None);
    }
}

impl Exits for [Step] {
    fn first(&self, holds: impl Fn(f64) -> bool) -> Option<(f64, u64)> {
        self.get(self.partition_point(|step| !holds(step.days))).map(|step| (step.days, step.n_risk))
    }
}

impl Curve {
    /// Survival at an age in days, with its log-log interval and the number at risk.
    ///
    /// Fails with the curve's own refusal, with [`Reason::BeforeObservation`],
    /// [`Reason::ObservationGap`] or [`Reason::NotFollowed`] where nobody was watched, and with
    /// [`InvalidInput`](crate::InvalidInput) when `days` is not an age. Once survival is 0 it stays 0.
    pub fn at(&self, days: f64) -> Result<SurvivalAt, Error> {
        let days = age("days", days)?;
        let (from_days, to_days) = self.observed()?;
        if days < from_days {
            let observed_from_days = from_days;
            return Err(Reason::BeforeObservation { age_days: days, observed_from_days }.into());
        }
        if let Some(gap) = self.unobserved.iter().find(|s| s.from_days < days && days <= s.to_days) {
            let Span { from_days, to_days } = *gap;
            return Err(Reason::ObservationGap { age_days: days, from_days, to_days }.into());
        }
        let read = self.read(days);
        if days > to_days && read.surv > 0.0 {
            return Err(Reason::NotFollowed { age_days: days, followed_to_days: to_days }.into());
        }
        Ok(read)
    }

    /// Where survival can be read from and to, in days, or the reason why it cannot be read at all.
    pub(crate) fn observed(&self) -> Result<(f64, f64), Reason> {
        match (&self.refusal, self.observed_from_days, self.followed_to_days) {
            (Some(reason), ..) => Err(reason.clone()),
            (None, Some(from), Some(to)) => Ok((from, to)),
            (None, ..) => Err(Reason::NoData),
        }
    }

    fn read(&self, days: f64) -> SurvivalAt {
        let last = self.steps.partition_point(|s| s.days <= days).checked_sub(1);
        let step = last.map(|index| &self.steps[index]);
        let surv = step.and_then(|s| s.surv).unwrap_or(1.0);
        let n_risk = self.n_risk(days);
        let absent = if surv > 0.0 { Reason::NoEventYet } else { Reason::SurvivalIsZero };
        SurvivalAt {
            days,
            surv,
            greenwood_se_surv: step.map_or(Some(0.0), |s| s.greenwood_se_surv),
            ci_loglog: step.and_then(|s| s.ci(SurvivalInterval::LogLog, self.level)).ok_or(absent),
            no_event_lower: (surv >= 1.0).then(|| self.no_event_lower(n_risk)).flatten(),
            n_risk,
        }
    }

    fn no_event_lower(&self, n_risk: u64) -> Option<f64> {
        clopper_pearson(n_risk, n_risk, self.level).ok().map(|ci| ci.lower)
    }

    /// How many are at risk at an age: `#{entry < days <= exit}`. Where observation begins it is the
    /// number that enters there, since a table that opens with 0 would only puzzle.
    pub fn n_risk(&self, days: f64) -> u64 {
        match self.entries.at_risk(days, self.steps.as_slice()) {
            0 if self.observed_from_days == Some(days) => self.entries.just_after(days, self.steps.as_slice()),
            n_risk => n_risk,
        }
    }

    /// The level pieces of the curve from where observation begins to the longest follow-up, for
    /// drawing. Empty when survival is refused.
    pub fn treads(&self) -> Vec<Tread> {
        let Ok((from_days, followed_to_days)) = self.observed() else {
            return Vec::new();
        };
        let z = self.level.z();
        let mut treads = vec![Tread { from_days, to_days: followed_to_days, surv: 1.0, ci_loglog: None }];
        for step in self.steps.iter().filter(|s| s.n_event > 0) {
            if let Some(open) = treads.last_mut() {
                open.to_days = step.days;
            }
            let surv = step.surv.unwrap_or(0.0);
            let (from_days, to_days) = (step.days, followed_to_days);
            treads.push(Tread { from_days, to_days, surv, ci_loglog: step.ci_within(SurvivalInterval::LogLog, z) });
        }
        // An event at the very beginning leaves a piece of no length before it.
        treads.retain(|t| t.from_days < t.to_days || t.from_days == followed_to_days);
        treads
    }

    /// Sentences that belong beside the curve wherever it is shown.
    pub fn notes(&self) -> Vec<String> {
        let mut notes: Vec<String> = self.refusal.iter().map(Reason::to_string).collect();
        notes.extend(
            self.observed_from_days
                .filter(|from| *from > 0.0)
                .map(|from| format!("survival is given alive at {from} d, where observation begins")),
        );
        notes.extend(
            self.given_days
                .filter(|_| self.n_ended_before > 0)
                .map(|given| format!("{} cases ended at or before {given} d and are not in this curve", self.n_ended_before)),
        );
        notes.extend(self.unobserved.iter().map(|Span { from_days, to_days }| {
            format!("nobody is under observation between {from_days} d and {to_days} d; survival is carried across")
        }));
        notes.extend(self.excluded.iter().map(|e| format!("row {} excluded: {}", e.row, e.reason)));
        notes
    }

    /// The steps as parallel arrays, one for each column.
    pub fn columns(&self) -> Columns {
        let mut columns = Columns::default();
        let z = self.level.z();
        for step in &self.steps {
            columns.push(step, z);
        }
        columns
    }
}

/// The steps of a curve as parallel arrays; absent values are `null`.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[allow(missing_docs)] // The fields are those of `Step`, one array each.
pub struct Columns {
    pub time: Vec<f64>,
    pub n_risk: Vec<u64>,
    pub n_event: Vec<u64>,
    pub n_censor: Vec<u64>,
    pub surv: Vec<Option<f64>>,
    pub greenwood_se_surv: Vec<Option<f64>>,
    pub na_cumhaz: Vec<f64>,
    pub na_se_cumhaz: Vec<f64>,
    pub ci_plain_lower: Vec<Option<f64>>,
    pub ci_plain_upper: Vec<Option<f64>>,
    pub ci_log_lower: Vec<Option<f64>>,
    pub ci_log_upper: Vec<Option<f64>>,
    pub ci_loglog_lower: Vec<Option<f64>>,
    pub ci_loglog_upper: Vec<Option<f64>>,
}

impl Columns {
    fn push(&mut self, step: &Step, z: f64) {
        self.time.push(step.days);
        self.n_risk.push(step.n_risk);
        self.n_event.push(step.n_event);
        self.n_censor.push(step.n_censor);
        self.surv.push(step.surv);
        self.greenwood_se_surv.push(step.greenwood_se_surv);
        self.na_cumhaz.push(step.na_cumhaz);
        self.na_se_cumhaz.push(step.na_se_cumhaz);
        let limits = |kind| step.ci_within(kind, z).map(|ci| (ci.lower, ci.upper)).unzip();
        push_both(&mut self.ci_plain_lower, &mut self.ci_plain_upper, limits(SurvivalInterval::Plain));
        push_both(&mut self.ci_log_lower, &mut self.ci_log_upper, limits(SurvivalInterval::Log));
        push_both(&mut self.ci_loglog_lower, &mut self.ci_loglog_upper, limits(SurvivalInterval::LogLog));
    }
}

fn push_both(lower: &mut Vec<Option<f64>>, upper: &mut Vec<Option<f64>>, limits: (Option<f64>, Option<f64>)) {
    lower.push(limits.0);
    upper.push(limits.1);
}
