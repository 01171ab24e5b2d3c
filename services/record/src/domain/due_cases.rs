//! What is due of cases beside the looks by schedule: no embryo seen by its day, slits not seen open
//! by theirs, the hatch window opened or past, and cases left to hatch. None of it is a
//! recommendation to open a case: one past its window is first looked at again and left, for most
//! late young come by themselves (common practice, no source).

use super::forecast::{self, windows};
use super::record::{DueItem, DueWhat};
use super::state::{Egg, EggFate, EggForecast, EventId, WindowStanding};
use super::view::View;
use chrono::{Days, NaiveDate};
use selachron_schemas::names::Subject;
use selachron_schemas::time::{HOUR_MS, Instant};
use std::collections::BTreeMap;

/// From this part of incubation on an embryo should be seen, where neither the species nor the
/// house names a day (a convention of this project, DOMAIN section 2).
const EMBRYO_FRACTION: f64 = 0.25;

/// The first band with an embryo.
const EMBRYO_BAND: u8 = 2;

impl View<'_> {
    /// What is due of cases that are incubating here.
    pub(super) fn due_of_cases(&self, eggs: &[Egg]) -> Vec<DueItem> {
        let open: Vec<&Egg> = eggs.iter().filter(|egg| egg.fate == EggFate::Open && egg.taken_in.is_some()).collect();
        let windows = if open.is_empty() { BTreeMap::new() } else { windows(self) };
        open.into_iter().flat_map(|egg| self.due_of_case(egg, windows.get(&egg.id))).collect()
    }

    fn due_of_case(&self, egg: &Egg, forecast: Option<&EggForecast>) -> Vec<DueItem> {
        let rows = [
            self.no_embryo_seen(egg, forecast),
            self.slits_not_open(egg, forecast),
            forecast.and_then(|forecast| self.by_window(egg, forecast)),
            self.left_to_look_at(egg),
        ];
        rows.into_iter().flatten().collect()
    }

    /// Yolk only is no proof of infertility: it asks for another look by another person.
    fn no_embryo_seen(&self, egg: &Egg, forecast: Option<&EggForecast>) -> Option<DueItem> {
        let last = egg.looks.iter().rev().find(|look| look.seen_into)?;
        if egg.held_apart.is_some() || egg.looks.iter().any(|look| look.band.is_some_and(|band| band >= EMBRYO_BAND)) {
            return None;
        }
        let listed = egg.species.as_ref().and_then(|species| Some((species, self.listing(species)?.first_embryo_seen_day?)));
        let (due_at, by, event) = match listed {
            Some((species, days)) => {
                let day = self.day(egg.laid_window.not_after).checked_add_days(Days::new(u64::from(days)))?;
                let event = self.creations(species).first().map(|fact| fact.note.id);
                (self.morning(day), format!("the species' listing names day {days} since laying"), event)
            }
            None => {
                forecast?.fraction.filter(|fraction| fraction.p50 >= EMBRYO_FRACTION)?;
                (last.when.time, format!("by its waters it is past {EMBRYO_FRACTION} of incubation"), None)
            }
        };
        if due_at > self.as_of() {
            return None;
        }
        let then = self.day(last.when.time);
        let why = format!("No embryo was seen, last on {then}, and {by}. Yolk only proves nothing: let another person look again.");
        let events: Vec<EventId> = [Some(last.when.event), Some(egg.laid_window.event), event].into_iter().flatten().collect();
        Some(self.egg_item(egg, DueWhat::NoEmbryoSeen, due_at, why, &events))
    }

    fn slits_not_open(&self, egg: &Egg, forecast: Option<&EggForecast>) -> Option<DueItem> {
        let (fraction, last) = (forecast?.fraction?, egg.looks.last()?);
        let (mean, sd) = self.slits_of(egg.species.as_ref());
        if egg.slits_open.is_some() || egg.held_apart.is_some() || fraction.p50 < mean + 2.0 * sd {
            return None;
        }
        let why = format!(
            "Its slits were not seen open, and by its waters it is at {:.2} of incubation; they open at about {mean:.2}. Look at them from outside.",
            fraction.p50
        );
        Some(self.egg_item(egg, DueWhat::SlitsNotOpen, last.when.time, why, &[last.when.event, egg.came.event]))
    }

    /// When the slits of a species open, as part of incubation, with the deviation.
    fn slits_of(&self, species: Option<&Subject>) -> (f64, f64) {
        forecast::slits(species.and_then(|species| self.listing(species)).as_ref())
    }

    fn by_window(&self, egg: &Egg, forecast: &EggForecast) -> Option<DueItem> {
        let window = forecast.expected?;
        let range = format!("{} to {} (5 % to 95 %, grade {})", window.p05, window.p95, forecast.rate.as_ref()?.grade);
        let (what, day, why) = match forecast.standing {
            WindowStanding::Past => (
                DueWhat::PastWindow,
                window.p95.succ_opt()?,
                format!(
                    "Past its window, {range}. Look again and leave it: most late young come by themselves (common practice, no source)."
                ),
            ),
            WindowStanding::Open => (DueWhat::WindowOpen, window.p05, format!("It may hatch: its window is {range}.")),
            // What is to come is looked up ahead.
            WindowStanding::Before => (DueWhat::WindowOpen, window.p05, format!("Its window will open: {range}.")),
            WindowStanding::NoForecast => return None,
        };
        let evidence = forecast.evidence.iter().map(|used| used.event);
        let events: Vec<EventId> = evidence.chain([egg.laid_window.event]).collect();
        Some(self.egg_item(egg, what, self.morning(day), why, &events))
    }

    /// The choice to leave a case names when it is looked at again.
    fn left_to_look_at(&self, egg: &Egg) -> Option<DueItem> {
        let left = egg.left_to_hatch.last()?;
        let hours = left.look_again_after_hours?;
        if egg.looks.iter().any(|look| look.when.time > left.when.time) {
            return None;
        }
        let due_at = left.when.time.plus_ms(i64::from(hours) * HOUR_MS);
        let why = format!("Left to hatch on {}; the choice says to look again {hours} hours later.", self.day(left.when.time));
        Some(self.egg_item(egg, DueWhat::LookAtLeft, due_at, why, &[left.when.event]))
    }

    pub(super) fn morning(&self, day: NaiveDate) -> Instant {
        Instant::start_of_day(day, self.zone())
    }
}
