//! From the numbers back to days, with everything that a reader must know beside them.

use super::rates::Known;
use super::{Forecaster, Path, instant};
use crate::domain::state::{
    DaysSince, Egg, EggForecast, EventId, EvidenceUsed, ForecastFlag, FractionDeveloped, HatchWindow, NoWindow, ReadingGap,
    TemperatureBehind, WaterBehind, WindowStanding,
};
use selachron_schemas::time::whole_days;
use selachron_statistics::development::{Development, NoForecast, Window};

/// A mean likelihood of a look below this is worth a person's doubt (a convention of this project).
const AGREEMENT_MIN: f64 = 0.05;

/// From this fraction on a case without an embryo seen is looked at again (DOMAIN section 2, a
/// convention of this project).
const EMBRYO_FRACTION: f64 = 0.25;

/// So many notes are named behind a flag.
const EVENTS_MAX: usize = 8;

/// What was found by one law.
pub(super) struct Found {
    pub development: Development,
    pub evidence: Vec<EvidenceUsed>,
}

/// Rounded to so many decimals, so that answers carry no false digits.
pub(super) fn rounded(number: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (number * scale).round() / scale
}

/// A reason for readers.
pub(super) fn no_window(reason: &NoForecast) -> NoWindow {
    let word = match reason.code() {
        "no_data" => "no data",
        "no_readings" => "no readings",
        "outside_range" => "outside range",
        "outside_range_ahead" => "outside range now",
        other => other,
    };
    NoWindow { reason: word, says: reason.to_string() }
}

impl Forecaster<'_, '_> {
    /// What is known without any forecast.
    pub(super) fn bare(&self, egg: &Egg) -> EggForecast {
        let today = self.view.day(self.view.as_of());
        let since = |instant| whole_days(self.view.day(instant), today);
        let laid = &egg.laid_window;
        EggForecast {
            egg: egg.id.clone(),
            label: egg.label.clone(),
            species: egg.species.clone(),
            tank: egg.place.as_ref().map(|place| place.tank.clone()),
            laid: laid.clone(),
            days_since_laying: DaysSince { fewest: since(laid.not_after), most: laid.not_before.map(since) },
            standing: WindowStanding::NoForecast,
            window: None,
            expected: None,
            probability_past: None,
            fraction: None,
            rate: None,
            by_thermal_sum: None,
            temperature: None,
            no_forecast: None,
            evidence: Vec::new(),
            flags: Vec::new(),
        }
    }

    /// Writes down what was found.
    pub(super) fn told(&self, egg: &Egg, (known, at): (&Known, usize), path: &Path, found: &Found, told: &mut EggForecast) {
        let numbers = &found.development;
        let expected = self.days_of(&numbers.expected);
        let today = self.view.day(self.view.as_of());
        told.standing = match (today < expected.p05, today > expected.p95) {
            (true, _) => WindowStanding::Before,
            (_, true) => WindowStanding::Past,
            _ => WindowStanding::Open,
        };
        told.window = numbers.window.as_ref().map(|window| self.days_of(window));
        told.expected = Some(expected);
        told.probability_past = Some(rounded(numbers.probability_past, 3));
        let fraction = numbers.fraction;
        let (p05, p50, p95) = (rounded(fraction.p05, 3), rounded(fraction.p50, 3), rounded(fraction.p95, 3));
        told.fraction = Some(FractionDeveloped { p05, p50, p95 });
        told.rate = Some(known.laws[at].used.clone());
        told.temperature = Some(self.temperature(path, numbers));
        told.evidence.clone_from(&found.evidence);
        self.flag_found(egg, found, told);
    }

    pub(super) fn days_of(&self, window: &Window) -> HatchWindow {
        let day = |days| self.view.day(instant(days));
        HatchWindow {
            p05: day(window.p05_day),
            p25: day(window.p25_day),
            p50: day(window.p50_day),
            p75: day(window.p75_day),
            p95: day(window.p95_day),
        }
    }

    fn temperature(&self, path: &Path, numbers: &Development) -> TemperatureBehind {
        let parts = || path.stretches.iter().zip(&path.waters);
        let event = |seq| self.view.nursery().note(seq).id;
        let stay = |(stretch, water): (&super::Stretch, &std::rc::Rc<super::Water>)| WaterBehind {
            water: water.id.clone(),
            tank: stretch.tank.clone(),
            from: stretch.from,
            event: event(stretch.put_by),
        };
        TemperatureBehind {
            mean_c: rounded(numbers.mean_c, 2),
            ahead_c: rounded(numbers.ahead_c, 2),
            ahead_sd_c: rounded(numbers.ahead_sd_c, 2),
            readings: parts().map(|(stretch, water)| water.count(stretch.from, stretch.to)).sum(),
            unread_days: rounded(numbers.unread_days, 1),
            outside_days: rounded(numbers.outside_days, 1),
            waters: parts().map(stay).collect(),
            gaps: numbers.gaps.iter().map(|gap| ReadingGap { from: instant(gap.from_day), to: instant(gap.to_day) }).collect(),
            if_gaps_warm: numbers.if_gaps_warm.as_ref().map(|window| self.days_of(window)),
            if_gaps_cold: numbers.if_gaps_cold.as_ref().map(|window| self.days_of(window)),
        }
    }

    /// What is odd about where it was and what was read there.
    pub(super) fn flag_path(&self, egg: &Egg, path: &Path, told: &mut EggForecast) {
        let mut flag = |flag, says: String, events: Vec<EventId>| told.flags.push(ForecastFlag { flag, says, events: few(events) });
        if egg.laid_window.not_before.is_none() {
            let says = "Nobody knows the first day on which it can have been laid: any within the time that the species takes is possible.";
            flag("laying not known", says.to_owned(), vec![egg.laid_window.event]);
        }
        let stays = self.view.stays(&egg.id);
        for pair in stays.windows(2).filter(|pair| pair[0].from == pair[1].from && pair[0].tank != pair[1].tank) {
            let events = [&pair[0], &pair[1]].map(|stay| self.view.nursery().note(stay.put_by).id).to_vec();
            let (one, other) = (self.view.called(&pair[0].tank), self.view.called(&pair[1].tank));
            let says = format!("By two notes it was put in {one} and in {other} at the same moment; the later note is taken.");
            flag("moved twice at one time", says, events);
        }
        let mut waters: Vec<&super::Water> = path.waters.iter().map(AsRef::as_ref).collect();
        waters.sort_by(|a, b| a.id.cmp(&b.id));
        waters.dedup_by(|a, b| a.id == b.id);
        for water in waters {
            let called = self.view.called(&water.id);
            if !water.early.is_empty() {
                let says = format!("{} readings of {called} are from before it was set up, and are not used.", water.early.len());
                flag("readings before the water existed", says, water.early.clone());
            }
            if !water.far_off.is_empty() {
                let says = format!(
                    "{} readings of {called} are more than 5 °C off those before and after, which agree, and are not used: a slip, or another unit?",
                    water.far_off.len()
                );
                flag("readings far off", says, water.far_off.clone());
            }
            if !water.hollow.is_empty() {
                let says =
                    format!("{} readings of {called} are past the calibration of their instrument; they are used.", water.hollow.len());
                flag("readings past calibration", says, water.hollow.clone());
            }
            if water.log.is_none() {
                flag(
                    "water never read",
                    format!("The temperature of {called} was never read; that of the next water stands for it."),
                    Vec::new(),
                );
            }
        }
    }

    fn flag_found(&self, egg: &Egg, found: &Found, told: &mut EggForecast) {
        let numbers = &found.development;
        let mut flag = |flag, says: String, events: Vec<EventId>| told.flags.push(ForecastFlag { flag, says, events });
        if numbers.unread_days >= 1.0 {
            let says = format!("For {:.0} days there is no reading before or after; the nearest are taken.", numbers.unread_days);
            flag("not read", says, Vec::new());
        }
        if !numbers.gaps.is_empty() {
            let says =
                format!("Readings lie too far apart {} times; the windows with warm and with cold gaps bound it.", numbers.gaps.len());
            flag("gaps in the readings", says, Vec::new());
        }
        let looks = found.evidence.iter().filter(|used| used.what != "still in its case").count();
        // As if each look had been so unlikely.
        let doubtful = (0..looks).fold(1.0, |all, _| all * AGREEMENT_MIN);
        if looks > 0 && numbers.agreement < doubtful {
            let says = "What was seen of it hardly fits the temperatures and the laying: look again, and at the readings too.";
            let events = found.evidence.iter().map(|used| used.event).collect();
            flag("looks at odds with the temperatures", says.to_owned(), few(events));
        }
        if egg.band == Some(1) && numbers.fraction.p50 >= EMBRYO_FRACTION {
            let says = "No embryo was seen, and one should be: to be looked at again by another person. It is no proof of infertility.";
            flag("no embryo seen by now", says.to_owned(), egg.looks.last().map(|look| look.when.event).into_iter().collect());
        }
        if numbers.window.is_none() {
            let says = "It has waited beyond everything that the data allow: to be looked at again.";
            flag("waited beyond the window", says.to_owned(), Vec::new());
        }
    }
}

fn few(mut events: Vec<EventId>) -> Vec<EventId> {
    events.dedup();
    events.truncate(EVENTS_MAX);
    events
}
