//! The criteria that the record judges itself, as the house rules name them (common practice, no
//! source): past the window, band 7, external yolk gone, alive on repeated looks. Two people,
//! approval and the way of opening are people's to see to.

use super::Judged;
use crate::domain::policy::CRITERIA;
use crate::domain::state::{EvidenceAged, Holds, Look, Weighed, WindowStanding};
use chrono::NaiveDate;

/// The last band: external yolk gone or bead-sized, the embryo fills the case.
const LAST_BAND: u8 = 7;

impl Judged<'_, '_, '_> {
    /// Each criterion of the house rules, in the order of the common list.
    pub(super) fn criteria(&self) -> Vec<Weighed> {
        let wanted = &self.view.policy().opening_criteria;
        let [window, band, yolk, _] = CRITERIA;
        let named = CRITERIA.into_iter().filter(|what| wanted.iter().any(|word| word == what));
        let judge = |what| match what {
            _ if what == window => self.past_the_window(what),
            _ if what == band => self.last_band(what),
            _ if what == yolk => self.yolk_gone(what),
            _ => self.alive_repeatedly(what),
        };
        named.map(judge).collect()
    }

    fn past_the_window(&self, what: &'static str) -> Weighed {
        let (holds, says) = match (&self.forecast.expected, self.forecast.standing) {
            (Some(window), WindowStanding::Past) => {
                (Holds::Yes, format!("95 % of such cases are expected to have hatched by {}.", window.p95))
            }
            (Some(window), _) => (Holds::No, format!("The window is open until {} (95 %).", window.p95)),
            (None, _) => (Holds::NotKnown, "There is no forecast, so nobody can say from temperatures.".to_owned()),
        };
        let evidence =
            std::iter::once(self.forecast.laid.event).map(|event| EvidenceAged { event, age_days: self.forecast.days_since_laying.fewest });
        Weighed { what, holds, says, evidence: evidence.collect() }
    }

    fn last_band(&self, what: &'static str) -> Weighed {
        let Some(look) = self.newest_into() else { return self.unseen(what) };
        let (band, day) = (look.band.unwrap_or_default(), self.view.day(look.when.time));
        let holds = if band == LAST_BAND { Holds::Yes } else { Holds::No };
        self.weighed(what, holds, format!("Band {band} at the newest look that could see in, on {day}."), &[look])
    }

    fn yolk_gone(&self, what: &'static str) -> Weighed {
        let told = self.egg.looks.iter().rev().find_map(|look| Some((look, look.yolk_fraction?)));
        let Some((look, fraction)) = told else {
            return self.weighed(what, Holds::NotKnown, "No look says how much external yolk is left.".to_owned(), &[]);
        };
        let says = format!("External yolk {fraction} of that at laying, on {}.", self.view.day(look.when.time));
        self.weighed(what, if fraction == 0.0 { Holds::Yes } else { Holds::No }, says, &[look])
    }

    fn alive_repeatedly(&self, what: &'static str) -> Weighed {
        let policy = self.view.policy();
        let (wanted, within) = (policy.opening_alive_looks_min as usize, policy.opening_looks_within_days);
        let recent = self.recent();
        if recent.is_empty() {
            return self.weighed(what, Holds::NotKnown, format!("It was not looked at within {within} days."), &[]);
        }
        let alive: Vec<&Look> = recent.into_iter().filter(|look| look.is_alive()).collect();
        let mut days: Vec<NaiveDate> = alive.iter().map(|look| self.view.day(look.when.time)).collect();
        days.dedup();
        let says = format!("Days on which it was seen alive, within {within}: {}; the house rules want {wanted}.", days.len());
        self.weighed(what, if days.len() >= wanted { Holds::Yes } else { Holds::No }, says, &alive)
    }

    pub(super) fn unseen(&self, what: &'static str) -> Weighed {
        self.weighed(what, Holds::NotKnown, "No look could see in.".to_owned(), &[])
    }
}
