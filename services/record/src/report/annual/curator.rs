//! The part for the curator: five years side by side, what becomes of the cases by age, when they die, how
//! long they take by temperature, who laid them, what the house changed.

use super::dams::{between_pairs, per_dam, per_group};
use super::house::{changes, places, water_episodes};
use super::losses::losses;
use super::material::Year;
use super::table::PartTable;
use super::window::Window;
use crate::domain::warmth::Readings;
use crate::report::figures::fates::Count;
use crate::report::figures::rearing::Point;
use crate::report::figures::{
    Absent, Cohort, EggFates, IncubationFigure, LossTiming, Rate, Watch, egg_fates, hatch_rates, incubation, loss_timing, rearing,
};
use crate::report::numbers::{Limits, proportion};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// So many years stand side by side.
pub const YEARS_BESIDE: i32 = 5;

/// The curator's part.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Curator {
    /// The last twelve months and those before, the newest first, as they stand at V.
    pub years: Vec<YearLine>,
    /// What became of the cases that came in the months, by age.
    pub egg_fates: Option<EggFates>,
    /// Between which ages they died.
    pub loss_timing: Option<LossTiming>,
    /// Days to hatching by the temperature of the water, of all cases up to V.
    pub incubation: Option<IncubationFigure>,
    /// What the species are called that the figures name by id.
    pub species: Vec<SpeciesNamed>,
    /// Its tables.
    pub tables: Vec<PartTable>,
}

/// What a species is called.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpeciesNamed {
    /// `species/<ULID>`.
    pub species: String,
    /// Scientific name.
    pub scientific_name: String,
}

/// Twelve months beside others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct YearLine {
    /// The first day.
    pub first_day: NaiveDate,
    /// The last.
    pub last_day: NaiveDate,
    /// Hatched of the cases found here in these months, by the four denominators.
    pub rates: Vec<ShortRate>,
    /// Young that hatched in these months and are followed.
    pub young: u64,
    /// Their survival at the ages told.
    pub rearing: Vec<Point>,
    /// Cases lost in these months, whenever they came.
    pub lost: u64,
    /// The same by apparent cause.
    pub lost_by_cause: Vec<Count>,
    /// Embryos that died in these months, by the band last seen.
    pub embryos_by_band_last_seen: Vec<Count>,
}

/// A hatch rate in short.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShortRate {
    /// The denominator.
    pub name: String,
    /// Hatched.
    pub x: u64,
    /// Of so many.
    pub n: u64,
    /// Open.
    pub open: u64,
    /// `x / n`, 4 decimals; absent while cases are open.
    pub estimate: Option<f64>,
    /// Wilson's 95 % interval.
    pub wilson_95: Option<Limits>,
    /// While cases are open: where the rate will end.
    pub bounds: Option<Limits>,
    /// Why there is no estimate.
    pub absent: Option<Absent>,
}

impl From<&Rate> for ShortRate {
    fn from(rate: &Rate) -> Self {
        let (name, absent) = (rate.name.clone(), rate.absent.clone());
        Self {
            name,
            x: rate.x,
            n: rate.n,
            open: rate.open,
            estimate: rate.estimate,
            wilson_95: rate.wilson_95,
            bounds: rate.bounds,
            absent,
        }
    }
}

impl YearLine {
    /// The share of losses that is of a cause, 4 decimals; `None` where nothing was lost.
    #[must_use]
    pub fn share(&self, count: u64) -> Option<f64> {
        (self.lost > 0).then(|| proportion(count as f64 / self.lost as f64))
    }
}

/// The curator's part.
pub fn curator(window: &Window<'_, '_>) -> Curator {
    let (view, cohort) = (window.view, Cohort::between(window.days.first_day, window.days.last_day));
    let (eggs, rows, zone) = (&window.now.eggs, view.case_rows(), view.zone());
    let mut readings = Readings::default();
    let warmth = |id: &_| view.warmth_along(id, &mut readings);
    Curator {
        years: (0..YEARS_BESIDE).filter_map(|back| line(window, Year::of(window.twelve.earlier(back), zone)?)).collect(),
        egg_fates: Some(egg_fates(eggs, &rows, &cohort, zone, false)),
        loss_timing: Some(loss_timing(eggs, &rows, &cohort, zone, false)),
        incubation: Some(incubation(eggs, &rows, &Cohort::default(), zone, warmth, false)),
        species: view
            .species_list()
            .into_iter()
            .map(|one| SpeciesNamed { species: one.id.to_string(), scientific_name: one.scientific_name })
            .collect(),
        tables: vec![per_dam(window), per_group(window), between_pairs(window), changes(window), places(window), water_episodes(window)],
    }
}

/// The line of these months; none of months in which nothing was known yet.
fn line(window: &Window<'_, '_>, days: Year) -> Option<YearLine> {
    let (view, cohort) = (window.view, Cohort::between(days.first_day, days.last_day));
    let watch = Watch { as_of: view.as_of(), zone: view.zone(), unseen_days_max: view.policy().unseen_days_max };
    let rates = hatch_rates(&window.now.eggs, &cohort, watch.zone, false);
    let young = rearing(&window.now.animals, &window.now.eggs, &cohort, watch, false);
    let lost = losses(window.now, days.span(view.as_of()));
    let is_these = days.first_day == window.days.first_day;
    let something = rates.behind.eggs + rates.behind_received.eggs + young.curve.n + lost.cases > 0;
    (is_these || something).then(|| YearLine {
        first_day: days.first_day,
        last_day: days.last_day,
        rates: rates.collected.iter().map(ShortRate::from).collect(),
        young: young.curve.n,
        rearing: young.curve.points,
        lost: lost.cases,
        lost_by_cause: lost.cases_by_cause,
        embryos_by_band_last_seen: lost.embryos_by_band_last_seen,
    })
}
