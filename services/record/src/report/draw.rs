//! Figures as drawings: which number goes where, and the finding in words.

use super::figures::egg_fates::AgeFates;
use super::figures::rearing::{CurvePiece, Point, SurvivalCurve};
use super::figures::{EggFates, Fates, HatchRates, LossTiming, Rate, Rearing};
use super::numbers::{percent, percent_range};
use selachron_statistics::plot::Caption;
use selachron_statistics::plot::bands::{Between, Known as Bounded, bands};
use selachron_statistics::plot::bars::{Bar, Fill, bars};
use selachron_statistics::plot::intervals::{Dot, Known, intervals};
use selachron_statistics::plot::stacked::{Stack, stacked};
use selachron_statistics::plot::steps::{Piece, Series, steps};

/// The hatch rates of a cohort as dots and intervals. `id` is an XML id, not used twice in a page.
#[must_use]
pub fn hatch_rates(rates: &HatchRates, title: &str, id: &str) -> String {
    let found: Vec<&Rate> = rates.collected.iter().chain(&rates.received).collect();
    let dots: Vec<Dot> = found.iter().map(|rate| dot(rate)).collect();
    let caption = Caption { id: id.to_owned(), title: title.to_owned(), finding: finding_of_rates(&found) };
    intervals(&caption, &dots, "hatched")
}

fn dot(rate: &Rate) -> Dot {
    let known = match (rate.estimate, rate.wilson_95, rate.bounds) {
        (Some(estimate), Some([lower, upper]), _) => Known::Estimate { estimate, lower, upper },
        (_, _, Some([lower, upper])) => Known::Bounds { lower, upper },
        _ => Known::Nothing,
    };
    let open = if rate.open > 0 { format!(", {} open", rate.open) } else { String::new() };
    Dot { label: rate.name.clone(), counts: format!("{} of {}{open}", rate.x, rate.n), known }
}

fn finding_of_rates(rates: &[&Rate]) -> String {
    let one = |rate: &&Rate| match (rate.estimate, rate.bounds) {
        (Some(estimate), _) => format!("{}: {} of {}, {}", rate.name, rate.x, rate.n, percent(estimate)),
        (_, Some(bounds)) => format!("{}: {} of {} with {} open, between {}", rate.name, rate.x, rate.n, rate.open, percent_range(bounds)),
        _ => format!("{}: no cases", rate.name),
    };
    rates.iter().map(one).collect::<Vec<_>>().join("; ") + "."
}

/// What became of the cases of a cohort, which `of` names: "cases that came in 2025".
#[must_use]
pub fn fates(fates: &Fates, of: &str, id: &str) -> String {
    let mut drawn = vec![
        bar("hatched unaided", fates.hatched_unaided, Fill::Solid),
        bar("hatched after opening", fates.hatched_after_opening, Fill::Hatched),
    ];
    drawn.extend(fates.lost_by_cause.iter().map(|count| bar(&format!("lost: {}", count.name), count.count, Fill::Light)));
    let others = [
        bar("arrived dead", fates.dead_on_arrival, Fill::Light),
        bar("put down by decision", fates.put_down, Fill::Light),
        bar("missing", fates.missing, Fill::Dashed),
        bar("left before an end was seen", fates.removed, Fill::Dashed),
        bar("found empty, no young found", fates.young_not_found, Fill::Dashed),
        bar("open", fates.open, Fill::Dashed),
    ];
    drawn.extend(others.into_iter().filter(|bar| bar.count > 0));
    let caption = Caption { id: id.to_owned(), title: format!("What became of the {of}"), finding: finding_of_fates(fates, of) };
    bars(&caption, &drawn, fates.cases, of)
}

fn bar(label: &str, count: u64, fill: Fill) -> Bar {
    Bar { label: label.to_owned(), count, fill }
}

/// The finding of [`fates`], in words.
#[must_use]
pub fn finding_of_fates(fates: &Fates, of: &str) -> String {
    let hatched = fates.hatched_unaided + fates.hatched_after_opening;
    format!("Of {} {of}, {hatched} hatched, {} were lost and {} are open.", fates.cases, fates.lost, fates.open)
}

/// Survival from hatch as a step curve.
#[must_use]
pub fn rearing(rearing: &Rearing, title: &str, id: &str) -> String {
    let caption = Caption { id: id.to_owned(), title: title.to_owned(), finding: finding_of_rearing(&rearing.curve) };
    steps(&caption, &[series("young", &rearing.curve)], "days since hatch", "Young still watched")
}

fn finding_of_rearing(curve: &SurvivalCurve) -> String {
    let told = |point: &Point| point.survival.map(|survival| format!("{} at {} days", percent(survival), point.age_days));
    let told: Vec<String> = curve.points.iter().filter_map(told).collect();
    match told.len() {
        0 => format!("{} deaths among {} young; survival was not reached at the ages asked for.", curve.deaths, curve.n),
        _ => format!("{} deaths among {} young; survival {}.", curve.deaths, curve.n, told.join(", ")),
    }
}

fn series(label: &str, curve: &SurvivalCurve) -> Series {
    let piece = |piece: &CurvePiece| Piece {
        from_days: f64::from(piece.from_days),
        to_days: f64::from(piece.to_days),
        survival: piece.survival,
        band: piece.loglog_95.map(|[lower, upper]| (lower, upper)),
    };
    Series {
        label: label.to_owned(),
        pieces: curve.pieces.iter().map(piece).collect(),
        censored_days: curve.censored.iter().map(|day| f64::from(day.days)).collect(),
        at_risk: curve.at_risk.iter().map(|day| day.count).collect(),
    }
}

/// Fates of cases by age, stacked.
#[must_use]
pub fn egg_fates(fates: &EggFates, title: &str, id: &str) -> String {
    let layer = |name: &str, part: fn(&AgeFates) -> f64| (name.to_owned(), fates.ages.iter().map(part).collect());
    let stack = Stack {
        label: format!("{} cases", fates.n),
        days: fates.ages.iter().map(|age| age.age_days).collect(),
        layers: vec![
            layer("hatched", |age| age.hatched.estimate),
            layer("died", |age| age.died.estimate),
            layer("left", |age| age.removed.estimate),
        ],
        at_risk: fates.at_risk.iter().map(|day| day.count).collect(),
    };
    let finding = match fates.ages.last() {
        Some(last) => format!(
            "Of {} cases, by {} days: {} hatched, {} died, {} left, {} open.",
            fates.n,
            last.age_days,
            percent(last.hatched.estimate),
            percent(last.died.estimate),
            percent(last.removed.estimate),
            percent(last.open)
        ),
        None => format!("{} cases; none has ended.", fates.n),
    };
    let caption = Caption { id: id.to_owned(), title: title.to_owned(), finding };
    stacked(&caption, &[stack], "days of age", "Cases at risk", "open")
}

/// When cases die, as the band that the looks leave open: of those not known dead.
#[must_use]
pub fn loss_timing(timing: &LossTiming, title: &str, id: &str) -> String {
    let longest = timing.known_open.last().map_or(1.0, |day| f64::from(day.days));
    let start = Bounded { from_days: 0.0, to_days: timing.ages.first().map(|age| age.age_days), lower: 1.0, upper: 1.0 };
    let mut pieces: Vec<Bounded> = if timing.ages.first().is_some_and(|age| age.age_days > 0.0) { vec![start] } else { Vec::new() };
    for (at, age) in timing.ages.iter().enumerate() {
        let to_days = timing.ages.get(at + 1).map(|next| next.age_days);
        // Just after this age and up to the next nothing more can be said than holds at the next.
        let upper = 1.0 - age.lost_at_least;
        let lower = 1.0 - timing.ages.get(at + 1).map_or(age.lost_at_most, |next| next.lost_at_most.max(age.lost_at_most));
        pieces.push(Bounded { from_days: age.age_days, to_days, lower, upper });
    }
    let finding = match timing.ages.last() {
        Some(last) => format!(
            "{} deaths among {} cases; by {} days {} to {} had died.",
            timing.deaths,
            timing.n,
            last.age_days,
            percent(last.lost_at_least),
            percent(last.lost_at_most)
        ),
        None => format!("{} deaths among {} cases.", timing.deaths, timing.n),
    };
    let caption = Caption { id: id.to_owned(), title: title.to_owned(), finding };
    let group = Between { label: "not dead".to_owned(), pieces, known: timing.known_open.iter().map(|day| day.count).collect() };
    bands(&caption, &[group], longest, "days of age", "Cases known open")
}
