//! What looks at a case say of the fraction developed.

use super::rates::{Known, stated};
use crate::domain::state::{Egg, EvidenceUsed, Look as Seen};
use crate::domain::told::SpeciesListed;
use selachron_schemas::time::Instant;
use selachron_statistics::development::{Band, Bands, Look, Sighting};

/// Typical fractions of the candling bands 1 to 7 (DOMAIN section 2, a convention of this project
/// from landmarks in Ballard 1993, Rodda & Seymour 2008, Musa 2018, Van Dykhuizen 1992).
const FRACTIONS: [(f64, f64); 7] = [(0.00, 0.12), (0.12, 0.25), (0.22, 0.38), (0.38, 0.63), (0.60, 0.80), (0.75, 0.92), (0.90, 1.00)];

/// Deviation of the edges of a band, as a fraction (a convention of this project).
const EDGE: f64 = 0.03;

/// Part of looks that are slips (a convention of this project).
const SLIP: f64 = 0.02;

/// Band 1 says nothing about life: so many looks at it say nothing of development either (a
/// convention of this project).
const YOLK_ONLY: f64 = 0.25;

/// Fraction at which slits open, and its deviation: between 0.23 (*C. punctatum*, Harahush 2007),
/// 0.31 (*R. eglanteria*, Libby 1959 in Evans 1981) and 0.36-0.40 (*H. portusjacksoni*, Rodda &
/// Seymour 2008).
const SLITS: (f64, f64) = (0.32, 0.08);

/// The looks of a case, and which notes they are.
pub(super) struct Sightings {
    pub looks: Vec<Look>,
    pub used: Vec<EvidenceUsed>,
    /// When it was last looked at.
    pub waiting: Option<Instant>,
}

/// The table of a species.
pub(super) fn bands(listing: Option<&SpeciesListed>) -> Bands {
    let band = |(at, common): (usize, &(f64, f64))| {
        let number = u8::try_from(at + 1).unwrap_or_default();
        let (low, high) = stated(listing, number).filter(|(low, high)| low < high).unwrap_or(*common);
        Band { low, high, lapse: if number == 1 { YOLK_ONLY } else { SLIP } }
    };
    Bands::new(&FRACTIONS.iter().enumerate().map(band).collect::<Vec<_>>(), EDGE)
}

/// When the slits of a species open.
pub(in crate::domain) fn slits(listing: Option<&SpeciesListed>) -> (f64, f64) {
    listing.and_then(|listed| listed.slits_open_fraction.as_ref()).map_or(SLITS, |slits| (slits.mean_fraction, slits.sd_fraction))
}

/// What a case's looks say.
pub(super) fn seen(egg: &Egg, known: &Known) -> Sightings {
    let mut found = Sightings { looks: Vec::new(), used: Vec::new(), waiting: None };
    let seen_into: Vec<(&Seen, u8)> = egg.looks.iter().filter(|look| look.seen_into).filter_map(|look| Some((look, look.band?))).collect();
    for (look, band) in ends_of_runs(&seen_into) {
        if let Some(at) = usize::from(band).checked_sub(1) {
            found.add(look, format!("band {band}"), Sighting::Band(at));
        }
    }
    let (at, sd) = known.slits;
    if let Some(opened) = egg.slits_open {
        let before = egg.looks.iter().rev().find(|look| look.seen_into && look.when.time < opened.time);
        if let Some(look) = before {
            found.add(look, "slits not seen open".to_owned(), Sighting::Slits { open: false, at, sd });
        }
        if let Some(look) = egg.looks.iter().find(|look| look.when.event == opened.event) {
            found.add(look, "slits open".to_owned(), Sighting::Slits { open: true, at, sd });
        }
    }
    if let Some(last) = egg.looks.last() {
        found.waiting = Some(last.when.time);
        found.used.push(EvidenceUsed { what: "still in its case".to_owned(), time: last.when.time, event: last.when.event });
    }
    found.used.sort_by(|a, b| (a.time, &a.what).cmp(&(b.time, &b.what)));
    found
}

impl Sightings {
    fn add(&mut self, look: &Seen, what: String, saw: Sighting) {
        self.looks.push(Look { day: super::days(look.when.time), saw });
        self.used.push(EvidenceUsed { what, time: look.when.time, event: look.when.event });
    }
}

/// Looks in one band one after the other are one observation, not many: the first and the last.
fn ends_of_runs<'e>(looks: &[(&'e Seen, u8)]) -> Vec<(&'e Seen, u8)> {
    let is_end = |at: usize| {
        let band = |at: usize| looks.get(at).map(|(_, band)| *band);
        at.checked_sub(1).and_then(band) != band(at) || band(at + 1) != band(at)
    };
    looks.iter().enumerate().filter(|(at, _)| is_end(*at)).map(|(_, look)| *look).collect()
}
