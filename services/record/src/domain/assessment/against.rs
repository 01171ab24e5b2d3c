//! Reasons against, shown with equal weight (DOMAIN section 5): external yolk seen, wide spread of
//! the window, few looks, cool water, embryo merely still; and moving and well.

use super::Judged;
use crate::domain::state::{Holds, Look, Movement, Weighed};
use selachron_schemas::time::whole_days;

/// A window from 5 to 95 % that is wider than this part of the days to its middle is wide (a
/// convention of this project).
const WIDE_SHARE: f64 = 0.20;

/// Water so much cooler than what the window rests on is cool, in °C (a convention of this
/// project).
const COOL_C: f64 = 1.0;

impl Judged<'_, '_, '_> {
    /// Each reason, whether it holds or not.
    pub(super) fn against(&self) -> Vec<Weighed> {
        vec![self.yolk_seen(), self.wide_window(), self.few_looks(), self.cool_water(), self.merely_still(), self.moving()]
    }

    fn yolk_seen(&self) -> Weighed {
        let what = "external yolk seen";
        let Some(look) = self.newest_into() else { return self.unseen(what) };
        let day = self.view.day(look.when.time);
        match (look.yolk_fraction, look.band) {
            (Some(fraction), _) if fraction > 0.0 => {
                self.weighed(what, Holds::Yes, format!("External yolk {fraction} of that at laying, on {day}."), &[look])
            }
            (Some(_), _) => self.weighed(what, Holds::No, format!("No external yolk on {day}."), &[look]),
            (None, Some(band)) if band < 7 => {
                self.weighed(what, Holds::Yes, format!("Band {band} on {day}: yolk is still outside."), &[look])
            }
            (None, _) => {
                self.weighed(what, Holds::NotKnown, format!("Band 7 on {day}, and no word on the yolk: gone or bead-sized."), &[look])
            }
        }
    }

    fn wide_window(&self) -> Weighed {
        let what = "wide spread of the window";
        let Some(window) = &self.forecast.expected else {
            return self.weighed(what, Holds::NotKnown, "There is no window.".to_owned(), &[]);
        };
        let width = whole_days(window.p05, window.p95);
        let laid = self.view.day(self.forecast.laid.not_after);
        let takes = whole_days(laid, window.p50).max(1);
        let holds = if width as f64 > WIDE_SHARE * takes as f64 { Holds::Yes } else { Holds::No };
        self.weighed(what, holds, format!("{width} days lie between 5 and 95 %, of {takes} days to its middle."), &[])
    }

    fn few_looks(&self) -> Weighed {
        let policy = self.view.policy();
        let (recent, wanted) = (self.recent(), policy.opening_alive_looks_min as usize);
        let into: Vec<&Look> = recent.into_iter().filter(|look| look.seen_into).collect();
        let says = format!("Looks that could see in, within {} days: {}.", policy.opening_looks_within_days, into.len());
        self.weighed("few looks", if into.len() < wanted { Holds::Yes } else { Holds::No }, says, &into)
    }

    /// Cooler now than it was, or cooler all the time than what a rate without a slope rests on.
    fn cool_water(&self) -> Weighed {
        let what = "cool water";
        let (Some(temperature), Some(rate)) = (&self.forecast.temperature, &self.forecast.rate) else {
            return self.weighed(what, Holds::NotKnown, "There is no window that its water was part of.".to_owned(), &[]);
        };
        let (now, mean) = (temperature.ahead_c, temperature.mean_c);
        let flat = rate.q10.is_none() && mean < rate.reference_c - COOL_C;
        let holds = if now < mean - COOL_C || flat { Holds::Yes } else { Holds::No };
        let says = format!("{now} °C now and {mean} °C since laying; the rate rests on {} °C.", rate.reference_c);
        self.weighed(what, holds, says, &[])
    }

    fn merely_still(&self) -> Weighed {
        self.movement("embryo merely still", Movement::Still, "No movement is not death: embryos freeze (Kempster 2013).")
    }

    fn moving(&self) -> Weighed {
        self.movement("moving and well", Movement::Moving, "It may come by itself.")
    }

    fn movement(&self, what: &'static str, wanted: Movement, mind: &str) -> Weighed {
        let Some(look) = self.newest_into() else { return self.unseen(what) };
        let day = self.view.day(look.when.time);
        match look.movement {
            Some(seen) if seen == wanted => self.weighed(what, Holds::Yes, format!("So on {day}. {mind}"), &[look]),
            Some(Movement::CouldNotTell) | None => self.weighed(what, Holds::NotKnown, format!("Nobody could tell on {day}."), &[look]),
            Some(_) => self.weighed(what, Holds::No, format!("Not so on {day}."), &[look]),
        }
    }
}
