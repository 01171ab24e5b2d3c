//! The drawings of `--plot`: which number goes where, and the finding in words.

use super::incidence::Causes;
use crate::fault::Fault;
use selachron_schemas::limits::COMPUTE_PIECES_DRAWN_MAX;
use selachron_statistics::confidence::SurvivalInterval;
use selachron_statistics::incubation::{Incubation, Q10};
use selachron_statistics::interval::competing::{CauseMasses, CompetingNpmle};
use selachron_statistics::interval::{BetweenLooks, Npmle};
use selachron_statistics::plot::Caption;
use selachron_statistics::plot::bands::{Between, Known, bands, rising};
use selachron_statistics::plot::fit::{OnLine, fit, round_ticks};
use selachron_statistics::plot::stacked::{Stack, stacked};
use selachron_statistics::plot::steps::{Piece, Series, steps, ticks};
use selachron_statistics::{Curve, Incidence};
use std::path::Path;

/// Writes a drawing, whole or not at all, when one is asked for.
///
/// # Errors
/// It cannot be written.
pub fn write(plot: Option<&Path>, drawing: impl FnOnce() -> String) -> Result<(), Fault> {
    plot.map_or(Ok(()), |path| crate::files::replace(path, drawing().as_bytes()))
}

fn caption(title: &str, findings: &[String]) -> Caption {
    Caption { id: "compute".to_owned(), title: title.to_owned(), finding: findings.join("; ") + "." }
}

fn percent(part: f64) -> String {
    format!("{:.1} %", 100.0 * part)
}

/// Of very many places only so many that a reader could tell apart.
fn thinned<T: Clone>(all: &[T]) -> Vec<T> {
    let every = all.len().div_ceil(COMPUTE_PIECES_DRAWN_MAX).max(1);
    let last = all.len().saturating_sub(1);
    all.iter().enumerate().filter(|(at, _)| at % every == 0 || *at == last).map(|(_, one)| one.clone()).collect()
}

/// Survival curves with their log-log bands.
#[must_use]
pub fn survival(curves: &[(String, Curve)]) -> String {
    let longest = curves.iter().filter_map(|(_, curve)| curve.followed_to_days).fold(0.0, f64::max);
    let ages = ticks(longest);
    let series: Vec<Series> = curves.iter().map(|(label, curve)| series(label, curve, &ages)).collect();
    let findings: Vec<String> = curves.iter().map(|(label, curve)| finding_of_curve(label, curve)).collect();
    steps(&caption("Survival", &findings), &series, "age in days", "At risk")
}

fn series(label: &str, curve: &Curve, ages: &[f64]) -> Series {
    let mut pieces: Vec<Piece> = thinned(&curve.treads())
        .iter()
        .map(|tread| Piece {
            from_days: tread.from_days,
            to_days: tread.to_days,
            survival: tread.surv,
            band: tread.ci_loglog.map(|ci| (ci.lower, ci.upper)),
        })
        .collect();
    // Where pieces were left out, the one before goes on to the next.
    for at in 1..pieces.len() {
        pieces[at - 1].to_days = pieces[at].from_days;
    }
    let censored: Vec<f64> = curve.steps.iter().filter(|step| step.n_censor > 0 && step.surv.is_some()).map(|step| step.days).collect();
    Series {
        label: label.to_owned(),
        pieces,
        censored_days: thinned(&censored),
        at_risk: ages.iter().map(|age| curve.n_risk(*age)).collect(),
    }
}

fn finding_of_curve(label: &str, curve: &Curve) -> String {
    let counts = format!("{label}: {} cases, {} events", curve.n_cases, curve.n_events);
    if let Some(reason) = &curve.refusal {
        return format!("{counts}, {reason}");
    }
    let end = curve.steps.last().and_then(|step| Some((step.surv?, step.days)));
    let end = end.map_or_else(String::new, |(surv, days)| format!(", survival {} at {days} days", percent(surv)));
    let median = match curve.quantile(0.5, SurvivalInterval::LogLog).map(|found| found.days) {
        Ok(Ok(days)) => format!("median {days} days"),
        _ => "median not reached".to_owned(),
    };
    format!("{counts}{end}, {median}")
}

/// Incidences, stacked, one frame a group.
#[must_use]
pub(super) fn incidence(tables: &[(String, Incidence)], causes: &Causes) -> String {
    let longest = tables.iter().filter_map(|(_, table)| table.followed_to_days).fold(0.0, f64::max);
    let ages = ticks(longest);
    let stacks: Vec<Stack> = tables.iter().map(|(label, table)| stack(label, table, causes, &ages)).collect();
    let findings: Vec<String> = tables.iter().map(|(label, table)| finding_of_incidence(label, table, causes)).collect();
    stacked(&caption("Cumulative incidence", &findings), &stacks, "age in days", "At risk", "none yet")
}

fn stack(label: &str, table: &Incidence, causes: &Causes, ages: &[f64]) -> Stack {
    let layers = causes.numbers().iter().zip(&table.causes).filter(|(_, cause)| !cause.cif.is_empty());
    Stack {
        label: label.to_owned(),
        days: if table.refusal.is_none() { thinned(&table.time) } else { Vec::new() },
        layers: layers.map(|(number, cause)| (format!("cause {number}"), thinned(&cause.cif))).collect(),
        at_risk: ages.iter().map(|age| at_risk(table, *age)).collect(),
    }
}

/// Those who leave at the next age or later, and have come in: before the first age all of them.
fn at_risk(table: &Incidence, age: f64) -> u64 {
    table.time.iter().position(|time| *time >= age).map_or(0, |at| table.n_risk[at])
}

fn finding_of_incidence(label: &str, table: &Incidence, causes: &Causes) -> String {
    if let Some(reason) = &table.refusal {
        return format!("{label}: {} cases, {reason}", table.n_cases);
    }
    let end = |(number, cause): (&u32, &selachron_statistics::incidence::Cause)| {
        format!("cause {number} {}", percent(cause.cif.last().copied().unwrap_or(0.0)))
    };
    let told: Vec<String> = causes.numbers().iter().zip(&table.causes).map(end).collect();
    format!("{label}: {} cases; by {} days {}", table.n_cases, table.followed_to_days.unwrap_or(0.0), told.join(", "))
}

/// Survival between looks, as bands.
#[must_use]
pub fn interval(groups: &[(String, Vec<BetweenLooks>, Npmle)]) -> String {
    let ends = groups.iter().flat_map(|(_, rows, _)| rows.iter().flat_map(|row| [row.left_days, row.right_days]));
    let longest = ends.filter(|end| end.is_finite()).fold(0.0, f64::max);
    let ages = ticks(longest);
    let drawn: Vec<Between> = groups.iter().map(|(label, rows, found)| between(label, rows, found, &ages)).collect();
    let findings: Vec<String> = groups.iter().map(|(label, _, found)| finding_of_looks(label, found)).collect();
    bands(&caption("Survival between looks", &findings), &drawn, longest, "age in days", "Known without the event")
}

fn between(label: &str, rows: &[BetweenLooks], found: &Npmle, ages: &[f64]) -> Between {
    let piece = |piece: &selachron_statistics::interval::band::BandPiece| Known {
        from_days: piece.from_days,
        to_days: piece.to_days,
        lower: piece.band.lower,
        upper: piece.band.upper,
    };
    let known = |age: &f64| rows.iter().filter(|row| row.left_days >= *age).map(|row| row.weight).sum();
    Between { label: label.to_owned(), pieces: found.survival_band().iter().map(piece).collect(), known: ages.iter().map(known).collect() }
}

/// The part with each kind of event, between looks, as bands; the kinds of one group stand together.
#[must_use]
pub fn interval_causes(groups: &[(String, Vec<BetweenLooks>, CompetingNpmle)]) -> String {
    let ends = groups.iter().flat_map(|(_, rows, _)| rows.iter().flat_map(|row| [row.left_days, row.right_days]));
    let longest = ends.filter(|end| end.is_finite()).fold(0.0, f64::max);
    let ages = ticks(longest);
    let several = groups.len() > 1;
    let mut drawn = Vec::new();
    for (label, rows, found) in groups {
        let known: Vec<u64> = ages.iter().map(|age| rows.iter().filter(|row| row.left_days >= *age).map(|row| row.weight).sum()).collect();
        let band = |masses: &CauseMasses| Between {
            label: if several { format!("{label}, cause {}", masses.cause) } else { format!("cause {}", masses.cause) },
            pieces: rising(&masses.support),
            known: known.clone(),
        };
        drawn.extend(found.causes.iter().map(band));
    }
    let findings: Vec<String> = groups.iter().map(|(label, _, found)| finding_of_causes(label, found)).collect();
    bands(&caption("Events between looks, by cause", &findings), &drawn, longest, "age in days", "Known without an event")
}

fn finding_of_causes(label: &str, found: &CompetingNpmle) -> String {
    let part = |masses: &CauseMasses| {
        let sum: f64 = masses.support.iter().filter(|(_, right, _)| right.is_some()).map(|(_, _, mass)| mass).sum();
        format!("cause {} {}", masses.cause, percent(sum))
    };
    let parts: Vec<String> = found.causes.iter().map(part).collect();
    format!("{label}: {} cases; by the last look {}, none yet {}", found.n, parts.join(", "), percent(found.mass_without_event))
}

fn finding_of_looks(label: &str, found: &Npmle) -> String {
    let median = match found.quantile(0.5).map(|stretch| (stretch.left_days, stretch.right())) {
        Ok((left, Some(right))) if left == right => format!("median {left} days"),
        Ok((left, Some(right))) => format!("median between {left} and {right} days"),
        _ => "median not reached".to_owned(),
    };
    format!("{label}: {} cases, {median}", found.n)
}

/// Days against temperature: the eggs, and the line of Q10 with its prediction interval.
#[must_use]
pub fn incubation(eggs: &[Incubation], found: Option<&Q10>) -> String {
    let dots: Vec<(f64, f64)> = eggs.iter().map(|egg| (egg.temperature_c, egg.days)).collect();
    let line: Vec<OnLine> = found.into_iter().flat_map(on_line).collect();
    let finding = match found {
        Some(fit) => format!(
            "{} eggs from {} to {} °C; Q10 {:.2} ({} %: {:.2} to {:.2}); the band is where a new egg is expected",
            eggs.len(),
            fit.basis.temperature_min_c,
            fit.basis.temperature_max_c,
            fit.q10,
            100.0 * fit.basis.level.value(),
            fit.q10_ci.lower,
            fit.q10_ci.upper
        ),
        None => format!("{} eggs; no line is estimable", eggs.len()),
    };
    fit(&caption("Days to hatching", &[finding]), &dots, &line, ("temperature of the water, °C", "days"), "Eggs")
}

/// Only over the temperatures that were fitted.
fn on_line(found: &Q10) -> Vec<OnLine> {
    let (from, to) = (found.basis.temperature_min_c, found.basis.temperature_max_c);
    let steps = 4 * round_ticks(from, to).len();
    let place = |at: usize| from + (to - from) * at as f64 / steps as f64;
    let on = |at: usize| {
        let told = found.predict(place(at)).ok()?;
        Some(OnLine { x: told.temperature_c, y: told.days?, interval: told.days_pi_lower.zip(told.days_pi_upper) })
    };
    (0..=steps).filter_map(on).collect()
}
