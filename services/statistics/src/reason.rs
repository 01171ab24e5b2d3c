//! Why a number is absent ([`Reason`]: the data are sound but do not say), and what is wrong with
//! an input ([`InvalidInput`]: somebody must correct it). The two are different types because
//! different people act on them.

use serde::ser::{Serialize, SerializeStruct, Serializer};

/// Why there is no number. `Display` is a sentence that can be printed in its place.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Reason {
    /// Nothing was counted.
    #[error("no data")]
    NoData,
    /// The search for a maximum ended before it was good enough to be told.
    #[error("not estimable: after {iterations} steps the likelihood may still be {gap} below its maximum")]
    NotConverged {
        /// Steps taken.
        iterations: u64,
        /// How far the log-likelihood may be below its maximum.
        gap: f64,
    },
    /// A slope over temperature needs more than one temperature.
    #[error("not estimable: all incubations were at {temperature_c} °C, and a slope needs at least two temperatures")]
    SingleTemperature {
        /// The temperature, in °C.
        temperature_c: f64,
    },
    /// Too few incubations for a line and its error.
    #[error("not estimable: {n} incubations are too few, and a line with its error needs at least {needed}")]
    TooFewIncubations {
        /// How many there are.
        n: usize,
        /// How many are needed.
        needed: usize,
    },
    /// Development does not quicken with warmth in these data, so that a threshold has no meaning.
    #[error("not estimable: the rate of development changes by {slope_per_day_c:.6} a day and °C, and a thermal sum needs it to rise")]
    RateDoesNotRise {
        /// The slope of the rate, in 1/(d °C).
        slope_per_day_c: f64,
    },
    /// Fieller's interval of a ratio whose denominator may be 0 has no two ends.
    #[error("not estimable: the slope is not told from 0 at this level, so the interval is unbounded")]
    Unbounded,
    /// Without the scale of the pH the fraction could be off by a quarter.
    #[error("no figure: the pH scale of the probe is not known, and it moves the figure by a quarter")]
    PhScaleUnknown,
    /// The time lies after the last reading.
    #[error("no data: the temperature log ends on day {log_ends_day}, before day {day}")]
    AfterTemperatureLog {
        /// The day asked for.
        day: f64,
        /// Where the log ends, in days.
        log_ends_day: f64,
    },
    /// The age lies before anybody came under observation.
    #[error("no data: nobody is under observation at {age_days} d (observation begins at {observed_from_days} d)")]
    BeforeObservation {
        /// The age asked for, in days.
        age_days: f64,
        /// Where observation begins, in days.
        observed_from_days: f64,
    },
    /// The age lies in a stretch between two groups of cases in which nobody was watched.
    #[error("no data: nobody is under observation at {age_days} d (none between {from_days} d and {to_days} d)")]
    ObservationGap {
        /// The age asked for, in days.
        age_days: f64,
        /// The last exit before the stretch, in days.
        from_days: f64,
        /// The first entry after the stretch, in days.
        to_days: f64,
    },
    /// The age lies beyond the longest follow-up, and some were alive there.
    #[error("not reached: nobody followed to {age_days} d (the longest follow-up is {followed_to_days} d)")]
    NotFollowed {
        /// The age asked for, in days.
        age_days: f64,
        /// The longest follow-up, in days.
        followed_to_days: f64,
    },
    /// Survival is still 1: the variance formulas say 0, which is not what is known.
    #[error("not estimable: no event yet")]
    NoEventYet,
    /// Survival is 0: no interval of the three kinds exists there.
    #[error("not estimable: survival has reached 0")]
    SurvivalIsZero,
    /// Too few had the event for this quantile.
    #[error("not reached: the curve does not come down to 1 - {fraction} before follow-up ends at {followed_to_days} d")]
    QuantileNotReached {
        /// The part of the cases asked for: 0.5 for the median.
        fraction: f64,
        /// The longest follow-up, in days.
        followed_to_days: f64,
    },
    /// The limit of a quantile lies beyond the follow-up.
    #[error("not reached: this limit of the curve does not come down to 1 - {fraction} before follow-up ends at {followed_to_days} d")]
    LimitNotReached {
        /// The part of the cases asked for: 0.5 for the median.
        fraction: f64,
        /// The longest follow-up, in days.
        followed_to_days: f64,
    },
    /// Under delayed entry everybody then at risk had the event, and others entered later: the
    /// product would be 0 for ever (Tsai, Jewell & Wang 1987; Lai & Ying 1991).
    #[error(
        "not estimable: all {n_risk} then at risk had the event at {at_days} d and others enter from {resumes_days} d on, so survival would stay 0 for ever; {}",
        advice(.given_days)
    )]
    Collapsed {
        /// The last age at which the product fell to 0 with entries to come, in days.
        at_days: f64,
        /// How many were at risk there.
        n_risk: u64,
        /// The first entry at or after it, in days.
        resumes_days: f64,
        /// The first later entry age with enough cases at risk to start a conditional curve from.
        given_days: Option<f64>,
    },
    /// The case has no time at risk on `(entry, exit]`.
    #[error("entry and exit on the same day ({at_days} d): no time at risk, so it belongs in the proportions only")]
    NoTimeAtRisk {
        /// The day of both, in days.
        at_days: f64,
    },
    /// The restricted mean would need survival beyond what was watched.
    #[error(
        "not estimable: the mean up to {tau_days} d needs follow-up to that age, and it ends at {followed_to_days} d; choose a smaller age"
    )]
    MeanBeyondFollowUp {
        /// The upper end asked for, in days.
        tau_days: f64,
        /// The longest follow-up, in days.
        followed_to_days: f64,
    },
    /// One cluster says nothing about how clusters differ.
    #[error("not estimable: variation between clusters needs at least two of them")]
    SingleCluster,
    /// No event happened while cases of two groups were at risk together.
    #[error("nothing to compare: no event happened while members of two groups were at risk together")]
    NothingToCompare,
    /// Gray's test has no form for cases that come under observation late.
    #[error(
        "Gray's test is not defined when cases come under observation after the origin: the incidence of a group weighs its own risk sets, \
         which late entries change; compare the cause-specific hazards with the log-rank test instead"
    )]
    DelayedEntry,
    /// Nobody was at risk in this age class.
    #[error("no data: nobody is at risk in the age class from {start_days} d")]
    EmptyClass {
        /// Where the class begins, in days.
        start_days: f64,
    },
    /// A rate of increase needs births.
    #[error("not estimable: no births are recorded")]
    NoBirths,
    /// Births at age 0 alone have no generation time, and one or more of them by each newborn cannot be
    /// balanced by any rate.
    #[error("not estimable: births at age 0 are all there are, or replace every newborn at once, so no rate of increase balances them")]
    BirthsAtAgeZero,
    /// A mean over the living, and there are none.
    #[error("no data: no animal of the pedigree is living")]
    NoneLiving,
    /// Genes have to be dropped, and no drop was asked for.
    #[error("no data: the pedigree is too large for an exact answer, and 0 gene drops were asked for")]
    NoDrops,
    /// A founder with a share in the living of whom no drop kept an allele.
    #[error("not estimable: none of {drops} gene drops kept an allele of founder {id}; ask for more")]
    NeverRetained {
        /// The founder.
        id: String,
        /// How many drops there were.
        drops: u32,
    },
    /// Ne from the rise of inbreeding, and it does not rise.
    #[error("not estimable: inbreeding does not rise, so nothing bounds the effective size")]
    InbreedingNotRising,
    /// Ne from the rise of inbreeding, and no generations in which it could rise.
    #[error("not estimable: no living animal of two parents has more than one equivalent generation of known ancestors")]
    PedigreeTooShallow,
}

fn advice(given_days: &Option<f64>) -> String {
    match given_days {
        Some(age) => format!("ask for survival given alive at {age} d"),
        None => "no later age has enough cases at risk to start from, so use the cumulative hazard".to_owned(),
    }
}

impl Reason {
    /// A stable word for programs; the sentence may be reworded, this may not.
    pub fn code(&self) -> &'static str {
        match self {
            Reason::NoData => "no_data",
            Reason::NotConverged { .. } => "not_converged",
            Reason::SingleTemperature { .. } => "single_temperature",
            Reason::TooFewIncubations { .. } => "too_few_incubations",
            Reason::RateDoesNotRise { .. } => "rate_does_not_rise",
            Reason::Unbounded => "unbounded",
            Reason::PhScaleUnknown => "ph_scale_unknown",
            Reason::AfterTemperatureLog { .. } => "after_temperature_log",
            Reason::BeforeObservation { .. } => "before_observation",
            Reason::ObservationGap { .. } => "observation_gap",
            Reason::NotFollowed { .. } => "not_followed",
            Reason::NoEventYet => "no_event_yet",
            Reason::SurvivalIsZero => "survival_is_zero",
            Reason::QuantileNotReached { .. } => "quantile_not_reached",
            Reason::LimitNotReached { .. } => "limit_not_reached",
            Reason::Collapsed { .. } => "collapsed",
            Reason::NoTimeAtRisk { .. } => "no_time_at_risk",
            Reason::MeanBeyondFollowUp { .. } => "mean_beyond_follow_up",
            Reason::SingleCluster => "single_cluster",
            Reason::NothingToCompare => "nothing_to_compare",
            Reason::DelayedEntry => "delayed_entry",
            Reason::EmptyClass { .. } => "empty_class",
            Reason::NoBirths => "no_births",
            Reason::BirthsAtAgeZero => "births_at_age_zero",
            Reason::NoneLiving => "none_living",
            Reason::NoDrops => "no_drops",
            Reason::NeverRetained { .. } => "never_retained",
            Reason::InbreedingNotRising => "inbreeding_not_rising",
            Reason::PedigreeTooShallow => "pedigree_too_shallow",
        }
    }
}

/// Travels as `{"reason": code, "sentence": text}`.
impl Serialize for Reason {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut fields = serializer.serialize_struct("Reason", 2)?;
        fields.serialize_field("reason", self.code())?;
        fields.serialize_field("sentence", &self.to_string())?;
        fields.end()
    }
}

/// For `#[serde(serialize_with)]`: the value, or in its place the reason why there is none.
pub(crate) fn value_or_reason<T: Serialize, S: Serializer>(found: &Result<T, Reason>, serializer: S) -> Result<S::Ok, S::Error> {
    match found {
        Ok(value) => value.serialize(serializer),
        Err(reason) => reason.serialize(serializer),
    }
}

/// What is wrong with an input, where, and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum InvalidInput {
    /// A confidence level outside (0, 1).
    #[error("level is {found}; give a number between 0 and 1, such as 0.95")]
    Level {
        /// What was given.
        found: f64,
    },
    /// More events than cases.
    #[error("k is {k} but n is only {n}; the events must be among the cases counted")]
    CountAboveTotal {
        /// Events.
        k: u64,
        /// Cases.
        n: u64,
    },
    /// More cases than the methods are accurate for.
    #[error("{n} cases are more than the {max} that can be computed accurately; split the table")]
    TooManyCases {
        /// What was given (the largest number if the sum itself overflowed).
        n: u64,
        /// [`CASES_MAX`](crate::proportion::CASES_MAX).
        max: u64,
    },
    /// A right end that is neither a number of days nor infinity.
    #[error("row {row}: right_days is {found}; give days, 0 or more, or infinity when the event has not been seen")]
    RowRight {
        /// Index of the row, from 0.
        row: usize,
        /// What was given.
        found: f64,
    },
    /// Looks in the wrong order.
    #[error("row {row}: right_days is {right_days}, before left_days {left_days}; correct one of them")]
    RightBeforeLeft {
        /// Index of the row, from 0.
        row: usize,
        /// The earlier look, in days.
        left_days: f64,
        /// The later look, in days.
        right_days: f64,
    },
    /// A cause where nothing happened, or an event without one.
    #[error("row {row}: cause is {cause} and right_days is {right_days}; give 0 exactly when the event has not been seen (infinity)")]
    RowCause {
        /// Index of the row, from 0.
        row: usize,
        /// The cause given.
        cause: u32,
        /// The later look, in days.
        right_days: f64,
    },
    /// Rows and their clusters do not match.
    #[error("{rows} rows but {clusters} clusters; name the cluster of every row")]
    ClusterMissing {
        /// How many rows.
        rows: usize,
        /// How many clusters.
        clusters: usize,
    },
    /// Too few or too many draws.
    #[error("{found} replicates; give {min} to {max}, such as 500")]
    Replicates {
        /// What was given.
        found: u64,
        /// The fewest.
        min: u64,
        /// The most.
        max: u64,
    },
    /// A quantity that cannot be what it is said to be.
    #[error("{field} is {found}; give {give}")]
    Quantity {
        /// The argument.
        field: &'static str,
        /// What was given.
        found: f64,
        /// What is wanted.
        give: &'static str,
    },
    /// The same, in a row of the input.
    #[error("row {row}: {field} is {found}; give {give}")]
    RowQuantity {
        /// Index of the row, from 0.
        row: usize,
        /// The field.
        field: &'static str,
        /// What was given.
        found: f64,
        /// What is wanted.
        give: &'static str,
    },
    /// Readings out of order.
    #[error("row {row}: day is {day}, not after day {before} of the row before; sort the readings and keep one a time")]
    RowNotLater {
        /// Index of the row, from 0.
        row: usize,
        /// Its day.
        day: f64,
        /// The day of the row before.
        before: f64,
    },
    /// An age that is not a finite number of days from 0 on.
    #[error("{field} is {found}; give a finite number of days, 0 or more")]
    Age {
        /// The argument.
        field: &'static str,
        /// What was given.
        found: f64,
    },
    /// The same, in a row of the input.
    #[error("row {row}: {field} is {found}; give a finite number of days, 0 or more")]
    RowAge {
        /// Index of the row, from 0.
        row: usize,
        /// The field.
        field: &'static str,
        /// What was given.
        found: f64,
    },
    /// A case that leaves before it comes.
    #[error("row {row}: exit_days is {exit_days}, before entry_days {entry_days}; correct one of them")]
    ExitBeforeEntry {
        /// Index of the row, from 0.
        row: usize,
        /// Entry, in days.
        entry_days: f64,
        /// Exit, in days.
        exit_days: f64,
    },
    /// A row that stands for nobody.
    #[error("row {row}: weight is 0; give the number of like cases, or leave the row out")]
    WeightZero {
        /// Index of the row, from 0.
        row: usize,
    },
    /// A part outside (0, 1).
    #[error("fraction is {found}; give a number between 0 and 1, such as 0.5 for the median")]
    Fraction {
        /// What was given.
        found: f64,
    },
    /// A row that ends in a fate nobody announced.
    #[error("row {row}: cause is {found}, but only 1 to {causes} are announced (0 is censored); correct the row or announce more")]
    Cause {
        /// Index of the row, from 0.
        row: usize,
        /// What was given.
        found: usize,
        /// How many causes there are.
        causes: usize,
    },
    /// A row in a group or stratum nobody announced.
    #[error("row {row}: {what} is number {found}, but only {numbered} are announced, numbered from 0; correct the row or announce more")]
    OutOfRange {
        /// Index of the row, from 0.
        row: usize,
        /// `group` or `stratum`.
        what: &'static str,
        /// What was given.
        found: usize,
        /// How many there are.
        numbered: usize,
    },
    /// More groups, strata or causes than can be told apart.
    #[error("{found} {what} are more than the {max} that can be compared at once; merge some")]
    TooMany {
        /// `groups`, `strata` or `causes`.
        what: &'static str,
        /// What was given.
        found: usize,
        /// The most.
        max: usize,
    },
    /// A cause to test that nobody announced.
    #[error("cause {found} cannot be tested; announced are 1 to {causes}")]
    CauseTested {
        /// What was asked for.
        found: usize,
        /// How many causes there are.
        causes: usize,
    },
    /// An exponent of the weights that is no finite number.
    #[error("rho is {found}; give a finite number, 0 for the log-rank test or 1 for more weight on early events")]
    Rho {
        /// What was given.
        found: f64,
    },
    /// An age class that does not begin where the one before it ends, or ends before it begins.
    #[error(
        "row {row}: the age class from {start_days} to {end_days} d does not follow the one before it; give classes in order without gaps"
    )]
    ClassOrder {
        /// Index of the row, from 0.
        row: usize,
        /// Where it begins, in days.
        start_days: f64,
        /// Where it ends, in days; infinite for an open class.
        end_days: f64,
    },
    /// More events in an age class than cases exposed.
    #[error("row {row}: {n_event} events among {exposed} exposed; correct n_start, lost or the events")]
    EventsAboveExposed {
        /// Index of the row, from 0.
        row: usize,
        /// Events.
        n_event: u64,
        /// Cases exposed, those lost counted half.
        exposed: f64,
    },
    /// A number of an age class that is negative, not finite, or missing for the method chosen.
    #[error("row {row}: {field} is {found}; give a finite number, 0 or more")]
    ClassValue {
        /// Index of the row, from 0.
        row: usize,
        /// The field.
        field: &'static str,
        /// What was given; NaN when it is missing.
        found: f64,
    },
    /// An upper end that does not lie above the lower one.
    #[error("tau_days is {tau_days}; give an age above {from_days} d, where the curve begins")]
    TauTooSmall {
        /// What was given.
        tau_days: f64,
        /// Where the curve begins, in days.
        from_days: f64,
    },
}

/// Either somebody must correct the input, or the data do not say.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// The input is wrong.
    #[error(transparent)]
    Input(#[from] InvalidInput),
    /// The input is sound, and the number does not exist.
    #[error(transparent)]
    NotEstimable(#[from] Reason),
}

/// A finite number of days from 0 on, with `-0.0` made `0.0` so that the two tie.
pub(crate) fn age(field: &'static str, found: f64) -> Result<f64, InvalidInput> {
    if found.is_finite() && found >= 0.0 { Ok(found + 0.0) } else { Err(InvalidInput::Age { field, found }) }
}

/// The value, if it lies in the closed range.
pub(crate) fn quantity(
    field: &'static str,
    found: f64,
    range: std::ops::RangeInclusive<f64>,
    give: &'static str,
) -> Result<f64, InvalidInput> {
    if range.contains(&found) { Ok(found) } else { Err(InvalidInput::Quantity { field, found, give }) }
}
