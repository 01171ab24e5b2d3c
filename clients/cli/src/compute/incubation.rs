//! `compute incubation`: how long eggs take at a temperature, and along a log of temperatures.

use super::answer::{Notes, counted_from_1, text};
use super::args::{BetweenReadings, FitArgs, IntegrateArgs, Model};
use super::draw;
use super::table::{Source, Table};
use crate::fault::Fault;
use selachron_statistics::incubation::{
    Arrhenius, Between, DaysFit, Forecast, Incubation, Prediction, Q10, Rate, TEMPERATURE_MAX_C, TEMPERATURE_MIN_C, TemperatureLog,
    TemperatureReading, ThermalSum, arrhenius, q10, thermal_sum, thermal_sum_on_days, two_point,
};
use selachron_statistics::reason::{Error, InvalidInput};
use serde::Serialize;
use serde_json::{Value, json};

/// Hours in a day.
const DAY_HOURS: f64 = 24.0;

#[derive(Serialize)]
struct Fits {
    degree_day_rate_regression: Option<Fitted>,
    q10_loglinear: Option<Fitted>,
    arrhenius: Option<Fitted>,
    nls_days: Option<DaysFit>,
    notes: Notes,
}

#[derive(Serialize)]
struct Fitted {
    #[serde(flatten)]
    fit: Value,
    #[serde(skip_serializing_if = "Option::is_none")]
    predict: Option<Predictions>,
}

#[derive(Default, Serialize)]
struct Predictions {
    temp_c: Vec<f64>,
    days: Vec<Option<f64>>,
    days_pi_lower: Vec<Option<f64>>,
    days_pi_upper: Vec<Option<f64>>,
    outside_fitted_range: Vec<bool>,
}

pub(super) fn fit(asked: &FitArgs) -> Result<String, Fault> {
    let level = asked.level.checked()?;
    let eggs = read_incubations(asked)?;
    if let [one, other] = eggs[..]
        && one.temperature_c != other.temperature_c
    {
        return two_means(asked, one, other);
    }
    let mut notes = Notes::default();
    let sum = kept(&mut notes, "degree_day_rate_regression", thermal_sum(&eggs, level))?;
    let by_q10 = kept(&mut notes, "q10_loglinear", q10(&eggs, level))?;
    let by_energy = kept(&mut notes, "arrhenius", arrhenius(&eggs, level))?;
    let nls_days = kept(&mut notes, "nls_days", thermal_sum_on_days(&eggs, level))?;
    if let Some(Err(reason)) = sum.as_ref().map(|fit| &fit.t0_fieller) {
        notes.say(format!("T0_fieller: {reason}"));
    }
    draw::write(asked.plot.plot.as_deref(), || draw::incubation(&eggs, by_q10.as_ref()))?;
    let answer = Fits {
        degree_day_rate_regression: sum.map(|fit| with(&asked.at, &mut notes, fit, ThermalSum::predict)).transpose()?,
        q10_loglinear: by_q10.map(|fit| with(&asked.at, &mut notes, fit, Q10::predict)).transpose()?,
        arrhenius: by_energy.map(|fit| with(&asked.at, &mut notes, fit, Arrhenius::predict)).transpose()?,
        nls_days,
        notes,
    };
    text(&answer)
}

/// What two means give: each form goes through both, without any error, and the notes warn.
fn two_means(asked: &FitArgs, one: Incubation, other: Incubation) -> Result<String, Fault> {
    let found = two_point(one, other).map_err(|error| match error {
        Error::Input(wrong) => Fault::Failed(counted_from_1(wrong).to_string()),
        Error::NotEstimable(reason) => Fault::Failed(reason.to_string()),
    })?;
    let (colder, warmer) = if one.temperature_c < other.temperature_c { (one, other) } else { (other, one) };
    let mut notes = Notes::default();
    notes.say("two means only: each form goes through both, so that neither an error nor an interval can be given; doubt it");
    if found.implausible {
        notes.say(format!(
            "Q10 {:.2} is hardly believable for development (1.2 to 5, common practice, no source): doubt the means",
            found.q10
        ));
    }
    if !asked.at.is_empty() {
        notes.say("predict: two means allow no prediction");
    }
    notes.say("arrhenius, nls_days: not estimable from two means");
    let basis = |form: Value| {
        let mut told = json!({"n": 2, "df": 0, "temperature_min_c": colder.temperature_c, "temperature_max_c": warmer.temperature_c});
        told.as_object_mut().into_iter().for_each(|told| told.extend(form.as_object().cloned().unwrap_or_default()));
        Fitted { fit: told, predict: None }
    };
    let rises = warmer.days < colder.days;
    if !rises {
        notes.say("degree_day_rate_regression: not estimable: the warmer water took no fewer days, and a thermal sum needs that");
    }
    let sum = json!({"T0": found.T0, "se_T0_delta": null, "T0_fieller": null, "K": found.K, "se_K_delta": null, "sigma": null});
    let by_q10 = json!({"Q10": found.q10, "Q10_ci": null, "se_b": null, "sigma": null, "implausible": found.implausible});
    draw::write(asked.plot.plot.as_deref(), || draw::incubation(&[one, other], None))?;
    text(&Fits {
        degree_day_rate_regression: rises.then(|| basis(sum)),
        q10_loglinear: Some(basis(by_q10)),
        arrhenius: None,
        nls_days: None,
        notes,
    })
}

fn read_incubations(asked: &FitArgs) -> Result<Vec<Incubation>, Fault> {
    let mut table = Table::open(Source::open(asked.input.file.as_deref())?, &["temp_c", "days"], &[])?.answered_by_row();
    let (temp, days) = (table.needed("temp_c")?, table.needed("days")?);
    let mut eggs = Vec::new();
    while table.advance()? {
        let temperature_c = table.number(temp)?;
        if !(TEMPERATURE_MIN_C..=TEMPERATURE_MAX_C).contains(&temperature_c) {
            let says =
                format!("is {temperature_c}; give the temperature of the water in °C, between {TEMPERATURE_MIN_C} and {TEMPERATURE_MAX_C}");
            return Err(table.wrong(temp, &says));
        }
        let egg = Incubation { temperature_c, days: table.days(days)? };
        if egg.days <= 0.0 {
            return Err(table.wrong(days, "is 0; give a number of days above 0"));
        }
        eggs.push(egg);
    }
    Ok(eggs)
}

fn kept<Fit>(notes: &mut Notes, what: &str, found: Result<Fit, Error>) -> Result<Option<Fit>, Fault> {
    match found {
        Ok(fit) => Ok(Some(fit)),
        Err(Error::NotEstimable(reason)) => {
            notes.say(format!("{what}: {reason}"));
            Ok(None)
        }
        Err(Error::Input(wrong)) => Err(Fault::Failed(counted_from_1(wrong).to_string())),
    }
}

fn with<Fit: Serialize>(
    temperatures: &[f64],
    notes: &mut Notes,
    fit: Fit,
    predict: impl Fn(&Fit, f64) -> Result<Prediction, InvalidInput>,
) -> Result<Fitted, Fault> {
    let as_json = without_reasons(&fit)?;
    if temperatures.is_empty() {
        return Ok(Fitted { fit: as_json, predict: None });
    }
    let mut told = Predictions::default();
    for temperature in temperatures {
        let found = predict(&fit, *temperature).map_err(|wrong| Fault::Usage(format!("--at: {wrong}")))?;
        told.temp_c.push(found.temperature_c);
        told.days.push(found.days);
        told.days_pi_lower.push(found.days_pi_lower);
        told.days_pi_upper.push(found.days_pi_upper);
        told.outside_fitted_range.push(found.outside_fitted_range);
    }
    if told.outside_fitted_range.contains(&true) {
        notes.say("predictions outside the temperatures that were fitted are guesses along the line");
    }
    Ok(Fitted { fit: as_json, predict: Some(told) })
}

/// What is not estimable is `null` here, with its reason among the notes.
fn without_reasons(fit: &impl Serialize) -> Result<Value, Fault> {
    let mut value = serde_json::to_value(fit).map_err(|error| Fault::Failed(format!("the answer cannot be written: {error}")))?;
    for member in value.as_object_mut().into_iter().flat_map(|members| members.values_mut()) {
        if member.get("sentence").is_some() {
            *member = Value::Null;
        }
    }
    Ok(value)
}

#[derive(Serialize)]
struct Forecasts {
    cases: Vec<CaseTold>,
    notes: Notes,
}

#[derive(Serialize)]
struct CaseTold {
    start: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    hatch_day: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fraction_at_end: Option<f64>,
    flags: Vec<String>,
}

pub(super) fn integrate(asked: &IntegrateArgs) -> Result<String, Fault> {
    let rate = rate(asked)?;
    let log = read_log(asked)?;
    let between = match asked.between {
        BetweenReadings::Linear => Between::Linear,
        BetweenReadings::HoldPrevious => Between::HoldPrevious,
    };
    let mut notes = Notes::default();
    let mut cases = Vec::new();
    for start in &asked.start {
        cases.push(match log.forecast(rate, *start, between, asked.gap_hours / DAY_HOURS) {
            Ok(found) => told(&found, &mut notes),
            Err(Error::NotEstimable(reason)) => {
                CaseTold { start: *start, hatch_day: None, fraction_at_end: None, flags: vec![reason.to_string()] }
            }
            Err(Error::Input(wrong)) => return Err(Fault::Usage(wrong.to_string())),
        });
    }
    text(&Forecasts { cases, notes })
}

fn told(found: &Forecast, notes: &mut Notes) -> CaseTold {
    let mut flags: Vec<String> =
        found.gaps.iter().map(|gap| format!("no readings between day {} and day {}", gap.from_day, gap.to_day)).collect();
    if !found.gaps.is_empty() {
        let day = |day: Option<f64>| day.map_or_else(|| "not before the log ends".to_owned(), |day| format!("day {day:.2}"));
        let (warm, cold) = (day(found.hatch_day_if_gaps_warm), day(found.hatch_day_if_gaps_cold));
        flags.push(format!("hatch {warm} if the gaps were as warm as the warmer reading beside each, {cold} if as cold as the colder"));
    }
    if found.before_log_days > 0.0 {
        flags.push(format!("{} days lie before the first reading, whose temperature was taken for them", found.before_log_days));
    }
    if found.hatch_day.is_none() {
        notes.say(format!("start {}: not reached: the log ends first; fraction_at_end is how far it has come", found.start));
    }
    CaseTold { start: found.start, hatch_day: found.hatch_day, fraction_at_end: found.fraction_at_end, flags }
}

/// What a model needs is asked for by the command line itself; zeros here are refused as values.
fn rate(asked: &IntegrateArgs) -> Result<Rate, Fault> {
    let given = |value: Option<f64>, name: &str| value.ok_or_else(|| Fault::Usage(format!("--{name} is missing")));
    Ok(match asked.model {
        Model::ThermalSum => Rate::ThermalSum { t0_c: given(asked.t0, "t0")?, k_degree_days: given(asked.k, "k")? },
        Model::Q10 => Rate::Q10 {
            reference_c: given(asked.ref_temp, "ref-temp")?,
            reference_days: given(asked.ref_days, "ref-days")?,
            q10: given(asked.q10, "q10")?,
        },
        Model::Arrhenius => Rate::Arrhenius {
            reference_c: given(asked.ref_temp, "ref-temp")?,
            reference_days: given(asked.ref_days, "ref-days")?,
            ea_ev: given(asked.ea, "ea")?,
        },
    })
}

fn read_log(asked: &IntegrateArgs) -> Result<TemperatureLog, Fault> {
    let mut table = Table::open(Source::open(asked.input.file.as_deref())?, &["day", "temp_c"], &[])?.answered_by_row();
    let (day, temp) = (table.needed("day")?, table.needed("temp_c")?);
    let mut readings = Vec::new();
    while table.advance()? {
        readings.push(TemperatureReading { day: table.number(day)?, temperature_c: table.number(temp)? });
    }
    TemperatureLog::new(readings).map_err(|error| match error {
        Error::Input(wrong) => table.fault(&counted_from_1(wrong).to_string()),
        Error::NotEstimable(reason) => table.fault(&reason.to_string()),
    })
}
