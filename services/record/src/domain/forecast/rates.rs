//! How long the cases of a species take: the points that are listed, the collection's own
//! completed incubations, the house's entry. Which of them a forecast tries, and in which order.

use super::Forecaster;
use super::own::Own;
use super::tell::{no_window, rounded};
use crate::domain::state::{Incubation, IncubationPoint, NoWindow, OwnIncubation, RateOrReason, RateUsed, SpeciesRates, ThermalSumListed};
use crate::domain::told::SpeciesListed;
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;
use selachron_statistics::development::{Bands, Grade, Law, NoForecast, Point};
use std::rc::Rc;

/// The ends of an entered range of days lie so many deviations apart: 5 and 95 %.
const RANGE_DEVIATIONS: f64 = 3.289_707;

/// Parts of a hundred.
const PERCENT: f64 = 100.0;

/// What is said beside rates.
const CAVEATS: [&str; 3] = [
    "Only cases that hatched unaided can be own incubations: while cases of a season still wait or have died, their mean reads short.",
    "A rate speaks of the temperatures of its points and of no others.",
    "Published means say how long incubation took elsewhere; own completed incubations say how long it takes here.",
];

/// A law with what it came from.
pub(super) struct LawFrom {
    pub law: Law,
    pub used: RateUsed,
}

/// What is known of a species.
pub(super) struct Known {
    /// In the order in which they are tried.
    pub laws: Vec<LawFrom>,
    /// Why there is none.
    pub none: NoWindow,
    pub bands: Bands,
    /// When slits open: mean and deviation.
    pub slits: (f64, f64),
    rates: [Result<LawFrom, NoForecast>; 4],
    /// A thermal sum that a source states, which is told beside the others.
    pub linear: Option<Result<LawFrom, NoForecast>>,
    own: Own,
    own_incubations: Vec<OwnIncubation>,
    name: String,
}

impl Forecaster<'_, '_> {
    pub(super) fn known(&self, species: &Subject) -> Rc<Known> {
        if let Some(known) = self.known.borrow().get(species) {
            return known.clone();
        }
        let known = Rc::new(self.known_of(species));
        self.known.borrow_mut().insert(species.clone(), known.clone());
        known
    }

    fn known_of(&self, species: &Subject) -> Known {
        let (listing, own) = (self.view.listing(species), self.own(species));
        let points: Vec<&IncubationPoint> = listing.iter().flat_map(|listed| &listed.incubation_points).collect();
        let published: Vec<Point> = points.iter().filter_map(|point| point_of(point)).collect();
        let sources: Vec<String> = points.iter().filter(|point| point_of(point).is_some()).map(|point| point.source.clone()).collect();
        let range = listing.as_ref().and_then(|listed| listed.incubation.as_ref());
        let entered = range.filter(|range| range.grade != "house" && published.is_empty());
        let (alone, with_published) = (self.own_points(&own, &[]), self.own_points(&own, &published));
        let rates = [
            entered.map_or_else(|| of_points("published", &published, &[], &sources), from_range),
            of_points("own", &[], &alone, &[]),
            of_points("published and own", &published, &with_published, &sources),
            self.house(species, range),
        ];
        let linear = listing.as_ref().and_then(|listed| listed.incubation_thermal_sum.as_ref()).map(from_thermal_sum);
        Known {
            laws: in_order(&rates, linear.as_ref(), !own.is_empty()),
            linear,
            own_incubations: own.told(&with_published),
            none: self.none(species, &rates, range),
            bands: super::sightings::bands(listing.as_ref()),
            slits: super::sightings::slits(listing.as_ref()),
            rates,
            own,
            name: listing.map(|listed| listed.scientific_name).unwrap_or_default(),
        }
    }

    /// The house's entry, if a curator stands for it.
    fn house(&self, species: &Subject, range: Option<&Incubation>) -> Result<LawFrom, NoForecast> {
        let range = range.filter(|range| range.grade == "house" && self.signed_by_curator(species)).ok_or(NoForecast::NoData)?;
        from_range(range)
    }

    /// Whether a curator signed the listing as it stands: the note, or the newest act on it.
    fn signed_by_curator(&self, species: &Subject) -> bool {
        let Some(seq) = self.view.creations(species).first().map(|fact| fact.note.seq) else { return false };
        let nursery = self.view.nursery();
        let newest = nursery.index().acts.on(seq, self.view.known_at()).next().unwrap_or(seq);
        self.view.signed_with(nursery.note(newest), &[Role::Curator])
    }

    fn none(&self, species: &Subject, rates: &[Result<LawFrom, NoForecast>; 4], range: Option<&Incubation>) -> NoWindow {
        let implausible = rates.iter().filter_map(|rate| rate.as_ref().err()).find(|reason| **reason != NoForecast::NoData);
        if let Some(reason) = implausible {
            return no_window(reason);
        }
        let unsigned = range.is_some_and(|range| range.grade == "house") && !self.signed_by_curator(species);
        let says = if unsigned {
            "no data: the house's entry of days is not signed by a curator, who stands for it"
        } else {
            "no data: the species has no incubation at a stated temperature, no entry of the house, and no completed incubation here"
        };
        NoWindow { reason: "no data", says: says.to_owned() }
    }

    /// For readers: published alone, own alone, both, house.
    pub(super) fn species_rates(&self, species: &Subject) -> Option<SpeciesRates> {
        self.view.listing(species)?;
        let known = self.known(species);
        let [published, own, both, house] = [0, 1, 2, 3].map(|at| rate_or_reason(&known.rates[at]));
        Some(SpeciesRates {
            species: species.clone(),
            scientific_name: known.name.clone(),
            published,
            own,
            both,
            house,
            tried: known.laws.iter().map(|law| law.used.from).collect(),
            thermal_sum: known.linear.as_ref().map(rate_or_reason),
            own_incubations: known.own_incubations.clone(),
            own_left_out: known.own.left_out.clone(),
            caveats: CAVEATS.to_vec(),
        })
    }
}

/// Fitted before house before single: two temperatures say more than a range, and the curator's
/// experience of this house more than one paper from elsewhere (a convention of this project). A
/// stated thermal sum comes last: it is told beside the others, and used where there is no other.
fn in_order(rates: &[Result<LawFrom, NoForecast>; 4], linear: Option<&Result<LawFrom, NoForecast>>, has_own: bool) -> Vec<LawFrom> {
    let [published, _, both, house] = rates;
    let mut laws: Vec<&LawFrom> = [if has_own { both } else { published }, house].into_iter().flatten().collect();
    // Both may be implausible where the published alone are not, and the other way round.
    if laws.iter().all(|law| law.law.grade == Grade::House) {
        laws.extend(rates[..2].iter().flatten());
    }
    laws.sort_by_key(|law| match law.law.grade {
        Grade::Fitted => 0,
        Grade::House => 1,
        Grade::Single => 2,
    });
    laws.extend(linear.into_iter().flatten());
    laws.into_iter().map(|law| LawFrom { law: law.law.clone(), used: law.used.clone() }).collect()
}

fn rate_or_reason(rate: &Result<LawFrom, NoForecast>) -> RateOrReason {
    match rate {
        Ok(law) => RateOrReason { rate: Some(law.used.clone()), none: None },
        Err(reason) => RateOrReason { rate: None, none: Some(no_window(reason)) },
    }
}

/// A listed point as the statistics want it; nothing where no temperature is stated.
fn point_of(point: &IncubationPoint) -> Option<Point> {
    let ends = point.days_low.zip(point.days_high);
    let middle = ends.map(|(low, high)| (low * high).sqrt());
    let days = point.days.or(middle)?;
    let spread = ends.filter(|(low, high)| low < high).map(|(low, high)| (high - low) / RANGE_DEVIATIONS);
    Some(Point {
        temperature_c: point.temperature_c?,
        low_c: point.temperature_c_low,
        high_c: point.temperature_c_high,
        days,
        sd_days: point.sd_days.or(spread),
        n: point.cases.map(|cases| u32::try_from(cases.0).unwrap_or(u32::MAX)),
    })
}

fn of_points(from: &'static str, published: &[Point], own: &[Point], sources: &[String]) -> Result<LawFrom, NoForecast> {
    let points: Vec<Point> = published.iter().chain(own).copied().collect();
    let law = Law::of(&points)?;
    let mut sources = sources.to_vec();
    sources.dedup();
    let used = used(&law, from, u32::try_from(own.len()).unwrap_or(u32::MAX), sources);
    Ok(LawFrom { law, used })
}

fn from_range(range: &Incubation) -> Result<LawFrom, NoForecast> {
    let (grade, from) = if range.grade == "house" { (Grade::House, "house") } else { (Grade::Single, "published") };
    let law = Law::from_range(grade, (range.days_low, range.days_high), (range.temperature_c_low, range.temperature_c_high))?;
    let used = used(&law, from, 0, vec![range.source.clone()]);
    Ok(LawFrom { law, used })
}

fn from_thermal_sum(stated: &ThermalSumListed) -> Result<LawFrom, NoForecast> {
    let range = (stated.temperature_c_low, stated.temperature_c_high);
    let law = Law::thermal_sum(stated.t0_c, stated.k_degree_days, range, stated.cv_percent.map(|percent| percent / PERCENT))?;
    let used = used(&law, "published thermal sum", 0, vec![stated.source.clone()]);
    Ok(LawFrom { law, used })
}

fn used(law: &Law, from: &'static str, n_own: u32, sources: Vec<String>) -> RateUsed {
    RateUsed {
        grade: match law.grade {
            Grade::Fitted => "fitted",
            Grade::Single => "single",
            Grade::House => "house",
        },
        from,
        points: law.points,
        n: law.n,
        n_own,
        reference_c: rounded(law.reference_c, 2),
        days: rounded(law.reference_days, 1),
        q10: law.q10().map(|q10| rounded(q10, 3)),
        t0_c: law.t0_c.map(|t0_c| rounded(t0_c, 2)),
        k_degree_days: law.k_degree_days().map(|k| rounded(k, 1)),
        cv: rounded(law.cv, 4),
        temperature_c_low: rounded(law.low_c, 2),
        temperature_c_high: rounded(law.high_c, 2),
        sources,
    }
}

/// The members of a listing that bear on forecasts, named here so that they are read in one place.
pub(super) fn stated(listing: Option<&SpeciesListed>, band: u8) -> Option<(f64, f64)> {
    listing?.band_fraction.get(&band.to_string()).copied()
}
