//! Figures of cases: fates by age, losses between looks, days by temperature, and opened cases.

use super::one_species;
use crate::report::figures::incubation::OfSpecies;
use crate::report::figures::rearing::DayCount;
use crate::report::figures::{Absent, AgeFates, Assisted, EggFates, IncubationFigure, LossTiming};
use crate::report::numbers::percent;
use selachron_statistics::plot::Caption;
use selachron_statistics::plot::bands::{Between, bands, rising};
use selachron_statistics::plot::bars::{Bar, Fill, bars};
use selachron_statistics::plot::fit::{OnLine, fit};
use selachron_statistics::plot::stacked::{Stack, stacked};

fn caption(id: &str, title: &str, finding: String) -> Caption {
    Caption { id: id.to_owned(), title: title.to_owned(), finding }
}

pub(super) fn counts(days: &[DayCount]) -> Vec<u64> {
    days.iter().map(|day| day.count).collect()
}

pub(super) fn reason(absent: Option<&Absent>) -> String {
    absent.map_or_else(String::new, |absent| format!(" No figure: {}.", absent.says))
}

/// Fates by age, stacked: at every age the layers and the white above them are all cases.
#[must_use]
pub fn egg_fates(figure: &EggFates) -> String {
    let layer = |name: &str, part: fn(&AgeFates) -> f64| (name.to_owned(), figure.ages.iter().map(part).collect());
    let stack = Stack {
        label: "cases".to_owned(),
        days: figure.ages.iter().map(|age| age.age_days).collect(),
        layers: vec![
            layer("hatched", |age| age.hatched.estimate),
            layer("died", |age| age.died.estimate),
            layer("left", |age| age.removed.estimate),
        ],
        at_risk: counts(&figure.at_risk),
    };
    let last = figure.ages.last().map_or_else(String::new, |age| {
        let [hatched, died, left] = [&age.hatched, &age.died, &age.removed].map(|part| percent(part.estimate));
        format!(" By {} days {hatched} had hatched, {died} died, {left} left, and {} were open.", age.age_days, percent(age.open))
    });
    let finding = format!(
        "{} cases at risk: {} hatched, {} died, {} left, {} lost from sight, {} open.{last}{}",
        figure.n,
        figure.hatched,
        figure.died,
        figure.removed,
        figure.lost,
        figure.open,
        reason(figure.absent.as_ref())
    );
    stacked(&caption("egg-fates", "What becomes of cases, by age", finding), &[stack], "age of the case in days", "At risk", "open")
}

/// Losses as a band: between its edges nobody knows.
#[must_use]
pub fn loss_timing(figure: &LossTiming) -> String {
    let stretches: Vec<(f64, Option<f64>, f64)> =
        figure.stretches.iter().map(|stretch| (stretch.after_days, Some(stretch.by_days), stretch.part)).collect();
    let known = Between { label: "died".to_owned(), pieces: rising(&stretches), known: counts(&figure.known_alive) };
    let longest = figure.known_alive.last().map_or(0.0, |day| f64::from(day.days));
    let last = figure.ages.last().map_or_else(String::new, |age| {
        format!(" By {} days {} to {} had died.", age.age_days, percent(age.lost_at_least), percent(age.lost_at_most))
    });
    let finding =
        format!("{} deaths among {} cases, each between two looks.{last}{}", figure.deaths, figure.n, reason(figure.absent.as_ref()));
    bands(&caption("loss-timing", "When cases die, between looks", finding), &[known], longest, "age of the case in days", "Known alive")
}

/// Days to hatching by temperature, of one species.
///
/// # Errors
/// There are several: species are never pooled.
pub fn incubation(figure: &IncubationFigure) -> Result<String, String> {
    let found = one_species(&figure.species, |one| one.species.as_deref())?;
    let title = "Days to hatching by temperature";
    Ok(found.map_or_else(
        || fit(&caption("incubation", title, "No case has hatched.".to_owned()), &[], &[], INCUBATION_AXES, "Cases"),
        |one| incubation_of(one, title, "incubation"),
    ))
}

/// What the axes of a drawing of incubation are called.
const INCUBATION_AXES: (&str, &str) = ("mean temperature of its water, °C", "days");

/// The same of one species. `id` is an XML id, not used twice in a page.
#[must_use]
pub fn incubation_of(one: &OfSpecies, title: &str, id: &str) -> String {
    let dots: Vec<(f64, f64)> = one.points.iter().map(|point| (point.temperature_c, point.days)).collect();
    let on = |at: &crate::report::figures::incubation::OnFit| OnLine {
        x: at.temperature_c,
        y: at.days,
        interval: at.prediction_95.map(|[lower, upper]| (lower, upper)),
    };
    let line: Vec<OnLine> = one.line.iter().map(on).collect();
    fit(&caption(id, title, finding_of_incubation(one)), &dots, &line, INCUBATION_AXES, "Cases")
}

fn finding_of_incubation(found: &OfSpecies) -> String {
    let range = match (found.temperature_min_c, found.temperature_max_c) {
        (Some(low), Some(high)) => format!(", from {low} to {high} °C"),
        _ => String::new(),
    };
    let q10 = match &found.q10 {
        Some(q10) => {
            format!(" Q10 {}{}.", q10.estimate, q10.limits_95.map_or_else(String::new, |[low, high]| format!(" ({low} to {high})")))
        }
        None => reason(found.absent.as_ref()),
    };
    format!("{} of {} cases hatched have days and temperature{range}.{q10}", found.n, found.hatched)
}

/// Opened cases by what became of them; never beside those that were not opened.
#[must_use]
pub fn assisted(figure: &Assisted) -> String {
    let fill = |outcome: &str| match outcome {
        "hatched" => Fill::Hatched,
        "still in the case" | "missing" => Fill::Dashed,
        _ => Fill::Light,
    };
    let drawn: Vec<Bar> =
        figure.outcomes.iter().map(|(outcome, count)| Bar { label: outcome.clone(), count: *count, fill: fill(outcome) }).collect();
    let lived = |young: &crate::report::figures::assisted::YoungLived| {
        format!(" {} of {} young lived {} days, {} not known.", young.lived, young.judged, young.days, young.not_known)
    };
    let lived: String = figure.young.iter().map(lived).collect();
    let finding = format!("{} cases were opened.{lived} {}", figure.opened, figure.caveat);
    bars(&caption("assisted", "What became of opened cases", finding), &drawn, figure.opened, "cases opened")
}
