//! Figures as drawings: which number goes where, and the finding in words. `cases` draws the figures
//! of cases, `young` those of animals, `windows` when cases may hatch; here is what the report shows as
//! well.

mod cases;

mod young;

mod windows;

pub use cases::{assisted, egg_fates, incubation, incubation_of, loss_timing};
pub use windows::windows;
pub use young::{life_table, pedigree};

use super::figures::fates::Count;
use super::figures::rearing::{CurvePiece, Point, SurvivalCurve};
use super::figures::{Fates, HatchRates, Rate, Rearing};
use super::numbers::{percent, percent_range};
use selachron_statistics::plot::Caption;
use selachron_statistics::plot::bars::{Bar, Fill, bars};
use selachron_statistics::plot::intervals::{Dot, Known, intervals};
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
    let drawn: Vec<Bar> = fates_in_order(fates).into_iter().map(|(_, label, count, fill)| Bar { label, count, fill }).collect();
    let caption = Caption { id: id.to_owned(), title: format!("What became of the {of}"), finding: finding_of_fates(fates, of) };
    bars(&caption, &drawn, fates.cases, of)
}

/// The only species there is; none where there are none.
///
/// # Errors
/// There are several, and a drawing shows one.
fn one_species<'a, T>(species: &'a [T], name: impl Fn(&'a T) -> Option<&'a str>) -> Result<Option<&'a T>, String> {
    match species {
        [] => Ok(None),
        [one] => Ok(Some(one)),
        several => {
            let named: Vec<&str> = several.iter().filter_map(name).collect();
            Err(format!("a drawing shows one species, and there are {}: name one of {}", several.len(), named.join(", ")))
        }
    }
}

/// All fates in the order of the drawing: the number's path in the figure, the fate in words, the number,
/// and how it is filled. Those that nothing met are left out, but for the two ways to hatch.
#[must_use]
pub fn fates_in_order(fates: &Fates) -> Vec<(String, String, u64, Fill)> {
    let fate = |path: &str, says: &str, count: u64, fill: Fill| (path.to_owned(), says.to_owned(), count, fill);
    let mut all = vec![
        fate("hatched_unaided", "hatched unaided", fates.hatched_unaided, Fill::Solid),
        fate("hatched_after_opening", "hatched after opening", fates.hatched_after_opening, Fill::Hatched),
    ];
    let lost = |count: &Count| (format!("lost_by_cause/{}", count.name), format!("lost: {}", count.name), count.count, Fill::Light);
    all.extend(fates.lost_by_cause.iter().map(lost));
    let others = [
        fate("dead_on_arrival", "arrived dead", fates.dead_on_arrival, Fill::Light),
        fate("put_down", "put down by decision", fates.put_down, Fill::Light),
        fate("missing", "missing", fates.missing, Fill::Dashed),
        fate("removed", "left before an end was seen", fates.removed, Fill::Dashed),
        fate("young_not_found", "found empty, no young found", fates.young_not_found, Fill::Dashed),
        fate("open", "open", fates.open, Fill::Dashed),
    ];
    all.extend(others.into_iter().filter(|(_, _, count, _)| *count > 0));
    all
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
