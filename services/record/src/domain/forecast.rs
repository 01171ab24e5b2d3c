//! When a case may hatch: from a view to the numbers of `selachron_statistics::development`, and
//! from these to what a reader sees. A window with probabilities, never a date; where there is none,
//! the reason. The method, its formula and its measured calibration stand in
//! `services/statistics/FORECAST.md`.
//!
//! Read in this order: `waters`, readings of a water; `rates`, how long a species takes; `own`, the
//! collection's own completed incubations; `sightings`, what looks say; `tell`, the answer.
//!
//! ```json
//! {"egg": "egg/…", "label": "A1", "species": "species/…", "tank": "tank/…", "laid": {"not_before": "…", "not_after": "…"},
//!  "days_since_laying": {"fewest": 101, "most": 104}, "standing": "window open",
//!  "window": {"p05": "2026-05-02", "p25": "2026-05-11", "p50": "2026-05-18", "p75": "2026-05-25", "p95": "2026-06-06"},
//!  "expected": {"p05": "…", "p25": "…", "p50": "…", "p75": "…", "p95": "…"}, "probability_past": 0.07,
//!  "fraction": {"p05": 0.71, "p50": 0.78, "p95": 0.86},
//!  "rate": {"grade": "single", "from": "published", "points": 1, "n": 7, "n_own": 0, "days": 140.3, "reference_c": 24.95, "cv": 0.15, "…": "…"},
//!  "temperature": {"mean_c": 25.1, "ahead_c": 25.0, "ahead_sd_c": 0.5, "readings": 101, "waters": [], "gaps": []},
//!  "evidence": [{"what": "band 5", "time": "…", "event": "…"}],
//!  "flags": [{"flag": "readings far off", "says": "…", "events": []}]}
//! ```
//! Without a forecast `window`, `expected`, `fraction`, `rate` and `temperature` are absent,
//! `standing` is `no forecast`, and `no_forecast` has `reason` and `says`.

mod own;

mod rates;

mod sightings;

mod tell;

mod waters;

use super::exposure::Stretch;
use super::state::{BesideWindow, Egg, EggFate, EggForecast, NoWindow, SpeciesRates, YolkLook};
use super::view::View;
use rates::Known;
use selachron_schemas::names::Subject;
use selachron_schemas::time::{DAY_MS, HOUR_MS, Instant};
use selachron_statistics::development::{Case, Law, NoForecast, Settings, Stay, Track, develop};
use std::cell::{OnceCell, RefCell};
use std::collections::BTreeMap;
use std::rc::Rc;
use waters::Water;

pub(super) use sightings::slits;

/// Part of the time so far for which readings may be absent (a convention of this project).
const UNREAD_SHARE_MAX: f64 = 0.25;

/// Windows of all cases that are incubating, by case.
#[must_use]
pub fn windows(view: &View<'_>) -> BTreeMap<Subject, EggForecast> {
    let forecaster = Forecaster::new(view);
    let incubating = forecaster.eggs().iter().filter(|egg| egg.fate == EggFate::Open);
    incubating.map(|egg| (egg.id.clone(), forecaster.forecast(egg))).collect()
}

/// What is worked out once for all cases of a view.
pub(super) struct Forecaster<'v, 'a> {
    pub view: &'v View<'a>,
    eggs: OnceCell<Vec<Egg>>,
    waters: RefCell<BTreeMap<Subject, Rc<Water>>>,
    known: RefCell<BTreeMap<Subject, Rc<Known>>>,
    tracks: RefCell<BTreeMap<TrackOf, Option<Rc<Track>>>>,
}

/// A water, a species, and which of its laws.
type TrackOf = (Subject, Option<Subject>, usize);

/// The waters of a case, with their readings.
struct Path {
    stretches: Vec<Stretch>,
    waters: Vec<Rc<Water>>,
}

impl<'v, 'a> Forecaster<'v, 'a> {
    /// Nothing is worked out yet.
    pub fn new(view: &'v View<'a>) -> Self {
        let (eggs, waters, known, tracks) = Default::default();
        Self { view, eggs, waters, known, tracks }
    }

    /// All cases, as folded, without what is at odds about them.
    pub fn eggs(&self) -> &[Egg] {
        let fold = |id: &Subject| self.view.fold_egg(id, &self.view.facts(id)).0;
        self.eggs.get_or_init(|| self.view.subjects("egg").filter_map(fold).collect())
    }

    /// When a case may hatch, or why nobody can say.
    pub fn forecast(&self, egg: &Egg) -> EggForecast {
        let mut told = self.bare(egg);
        match self.could_be(egg) {
            Ok((species, known)) => self.tell(egg, species, &known, &mut told),
            Err(none) => told.no_forecast = Some(none),
        }
        told
    }

    /// What speaks against asking at all.
    fn could_be<'e>(&self, egg: &'e Egg) -> Result<(&'e Subject, Rc<Known>), NoWindow> {
        let none = |reason, says: &str| NoWindow { reason, says: says.to_owned() };
        if egg.fate != EggFate::Open {
            return Err(none("not incubating", "the case is not incubating here"));
        }
        if egg.yolk == YolkLook::NotSeen {
            return Err(none("no yolk", "no yolk was seen in the case"));
        }
        let Some(species) = &egg.species else {
            return Err(none("not known", "the note that says of which species it is, is withheld"));
        };
        let known = self.known(species);
        if known.laws.is_empty() {
            return Err(known.none.clone());
        }
        Ok((species, known))
    }

    /// The stretches of a case and the water whose readings stand for each: the tank's own where it
    /// was read in that time, else those of its system.
    fn path(&self, egg: &Subject) -> Path {
        let stretches: Vec<Stretch> = self.view.stretches(egg, false);
        let waters = stretches.iter().map(|stretch| {
            let own = self.water(&stretch.tank);
            if own.is_read(stretch.from, stretch.to) { own } else { self.water(&stretch.water) }
        });
        Path { waters: waters.collect(), stretches }
    }

    fn water(&self, id: &Subject) -> Rc<Water> {
        if let Some(known) = self.waters.borrow().get(id) {
            return known.clone();
        }
        let water = Rc::new(self.view.water_read(id));
        self.waters.borrow_mut().insert(id.clone(), water.clone());
        water
    }

    /// A water's readings under one law of a species; nothing without readings.
    fn track(&self, water: &Water, species: Option<&Subject>, at: usize, law: &Law) -> Option<Rc<Track>> {
        let key = (water.id.clone(), species.cloned(), at);
        if let Some(known) = self.tracks.borrow().get(&key) {
            return known.clone();
        }
        let track = water.log.clone().map(|log| Rc::new(Track::new(log, law, self.settings())));
        self.tracks.borrow_mut().insert(key, track.clone());
        track
    }

    fn settings(&self) -> Settings {
        let hours = i64::from(self.view.policy().temperature_gap_hours_max);
        Settings { gap_days_max: (hours * HOUR_MS) as f64 / DAY_MS as f64, ..Settings::default() }
    }

    /// The stays of a path that were read, each from the day on which it began.
    fn tracks(&self, path: &Path, species: Option<&Subject>, at: usize, law: &Law) -> Vec<(f64, Rc<Track>)> {
        let read = path.stretches.iter().zip(&path.waters);
        read.filter_map(|(stretch, water)| Some((days(stretch.from), self.track(water, species, at, law)?))).collect()
    }

    fn tell(&self, egg: &Egg, species: &Subject, known: &Known, told: &mut EggForecast) {
        let path = self.path(&egg.id);
        self.flag_path(egg, &path, told);
        let mut none = None;
        for (at, law) in known.laws.iter().enumerate() {
            match self.by_law(egg, species, (at, &law.law), known, &path) {
                Ok(found) => {
                    self.told(egg, (known, at), &path, &found, told);
                    told.by_thermal_sum = self.by_thermal_sum(egg, species, known, &path, at);
                    return;
                }
                Err(reason) => none = none.or(Some(reason)),
            }
        }
        told.no_forecast = none.map(|reason| tell::no_window(&reason));
    }

    /// The same by the thermal sum that a source states, unless that was used.
    fn by_thermal_sum(&self, egg: &Egg, species: &Subject, known: &Known, path: &Path, used: usize) -> Option<BesideWindow> {
        let stated = known.linear.as_ref()?.as_ref().ok()?;
        let at = known.laws.iter().position(|law| law.law.t0_c.is_some()).filter(|at| *at != used)?;
        let found = self.by_law(egg, species, (at, &stated.law), known, path);
        Some(BesideWindow {
            rate: stated.used.clone(),
            expected: found.as_ref().ok().map(|found| self.days_of(&found.development.expected)),
            no_forecast: found.err().map(|reason| tell::no_window(&reason)),
        })
    }

    fn by_law(
        &self,
        egg: &Egg,
        species: &Subject,
        (at, law): (usize, &Law),
        known: &Known,
        path: &Path,
    ) -> Result<tell::Found, NoForecast> {
        let tracks = self.tracks(path, Some(species), at, law);
        let stays: Vec<Stay<'_>> = tracks.iter().map(|(from_day, track)| Stay { from_day: *from_day, track }).collect();
        let begun = self.begun(egg, law);
        let (now_day, seen) = (days(self.view.as_of()), sightings::seen(egg, known));
        let case = Case {
            stays: &stays,
            begun_from_day: begun.0,
            begun_to_day: begun.1,
            now_day,
            looks: &seen.looks,
            waiting_day: Some(seen.waiting.map_or(begun.1, days).max(begun.1)),
        };
        let found = develop(law, &known.bands, &case)?;
        let allowed = (UNREAD_SHARE_MAX * (now_day - begun.0)).max(2.0 * self.settings().gap_days_max);
        if found.unread_days > allowed {
            return Err(NoForecast::NoReadings);
        }
        Ok(tell::Found { development: found, evidence: seen.used })
    }

    /// When development began. Where nobody knows the first day it is any within the time that the
    /// species takes, and a quarter more.
    fn begun(&self, egg: &Egg, law: &Law) -> (f64, f64) {
        let to = days(egg.laid_window.not_after);
        let unknown = to - 1.25 * law.days_at(law.reference_c);
        (egg.laid_window.not_before.map_or(unknown, days).min(to), to)
    }
}

impl View<'_> {
    /// When a case may hatch; `None` if no note that stands says how it came.
    #[must_use]
    pub fn egg_forecast(&self, id: &Subject) -> Option<EggForecast> {
        let egg = self.fold_egg(id, &self.facts(id)).0?;
        Some(Forecaster::new(self).forecast(&egg))
    }

    /// The same of every case that is incubating, by id.
    #[must_use]
    pub fn egg_forecasts(&self) -> Vec<EggForecast> {
        windows(self).into_values().collect()
    }

    /// What is known of how long a species takes; `None` if no note that stands lists it.
    #[must_use]
    pub fn species_rates(&self, id: &Subject) -> Option<SpeciesRates> {
        Forecaster::new(self).species_rates(id)
    }
}

/// An instant in days.
fn days(instant: Instant) -> f64 {
    instant.0 as f64 / DAY_MS as f64
}

/// A day as an instant.
fn instant(days: f64) -> Instant {
    #[allow(clippy::cast_possible_truncation, reason = "a float that is too large becomes the largest number")]
    let ms = (days * DAY_MS as f64).round() as i64;
    Instant(ms)
}
