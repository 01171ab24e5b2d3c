//! What the year did to one animal, by presence or by ownership.

use super::material::{Population, Span};
use super::stock::Basis;
use super::title::{Title, Turn, is_gone};
use crate::domain::state::{Absence, Animal, AnimalFate, AnimalOrigin, LifeState, Moment, Sex};
use chrono_tz::Tz;
use selachron_schemas::limits::EARLY_DEATH_DAYS_MAX;
use selachron_schemas::time::{Instant, whole_days};

/// How many times each happened to it in the year.
#[derive(Default)]
pub(super) struct Year {
    pub sex_at_start: Sex,
    pub sex_at_end: Sex,
    pub start: bool,
    pub arrived: i64,
    pub hatched: i64,
    /// Out of a group in which it was counted before.
    pub told_apart: i64,
    /// Into a group, in which it is counted since.
    pub grouped: i64,
    pub died_early: i64,
    pub died_other: i64,
    pub died_undetermined: i64,
    pub departed: i64,
    pub recaptured: i64,
    pub found: i64,
    pub escaped: i64,
    pub missing: i64,
    pub end: bool,
}

/// When an animal of that death died, as to the day of its hatch.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Age {
    /// At most 30 whole days after it.
    Early,
    /// Later, or nobody knows.
    Other,
    /// It hatched here, and nobody knows the day.
    Undetermined,
}

/// The year in which animals are followed.
pub(super) struct Followed<'p> {
    pub before: &'p Population,
    pub closing: &'p Population,
    pub basis: Basis,
    pub span: Span,
    pub zone: Tz,
}

impl Followed<'_> {
    /// What the year did to one that is known at its end.
    pub(super) fn year(&self, before: Option<&Animal>, closing: &Animal) -> Year {
        let (id, span) = (&closing.id, self.span);
        let title = Title::of(id, self.basis, &self.closing.loans);
        let start = before.is_some_and(|animal| self.was_held(animal));
        let year = Year {
            sex_at_start: before.map_or(closing.sex, |animal| animal.sex),
            sex_at_end: closing.sex,
            start,
            end: title.holds(&closing.fate),
            ..Year::default()
        };
        if !title.is_ours() {
            // It was ours at the start and is lent to us since: it has been given away.
            let given_away = start && title.lent_to_us().is_some_and(|when| span.has(when));
            return Year { departed: i64::from(given_away), ..year };
        }
        // One that was found has been missing.
        let absences = |what: &str, when: fn(&Absence) -> Option<Moment>| -> i64 {
            let of_kind = closing.absences.iter().filter(|absence| absence.what == what);
            of_kind.filter_map(when).filter(|moment| self.has(moment, &title)).count() as i64
        };
        let went = |what: &str| absences(what, |absence| Some(absence.since));
        let came_back = |what: &str| absences(what, |absence| absence.found);
        let mut year = Year {
            recaptured: came_back("escaped"),
            found: came_back("missing"),
            escaped: went("escaped"),
            missing: went("missing"),
            ..year
        };
        leavings(closing).iter().for_each(|leaving| self.left(&mut year, leaving, &title));
        self.ended(self.came(year, closing, &title), closing, &title)
    }

    fn has(&self, when: &Moment, title: &Title<'_>) -> bool {
        self.span.has(when.time) && title.counts(when.time)
    }

    /// One that came back has left and arrived; one that was lent out has done so only if it was another's
    /// in between.
    fn left(&self, year: &mut Year, leaving: &Leaving<'_>, title: &Title<'_>) {
        let count = |when: Option<Moment>| i64::from(when.is_some_and(|when| self.has(&when, title)));
        if !title.lends(leaving.when.time, leaving.why) {
            year.departed += count(Some(leaving.when));
            year.arrived += count(leaving.back);
            return;
        }
        let turns = title.turns(leaving.when.time, leaving.back.map(|back| back.time));
        let of = |wanted: Turn| turns.iter().filter(|(when, turn)| *turn == wanted && self.has(when, title)).count() as i64;
        // Whoever came back alive had not died.
        let gone = of(Turn::Gone) + if leaving.back.is_some() { of(Turn::Died) } else { 0 };
        // What another loan says is ours within the months has not left in them.
        let kept = gone.min(of(Turn::Regained));
        year.departed += gone - kept;
        year.arrived += of(Turn::Regained) - kept + if is_gone(&turns) { count(leaving.back) } else { 0 };
    }

    fn was_held(&self, animal: &Animal) -> bool {
        Title::of(&animal.id, self.basis, &self.before.loans).holds(&animal.fate)
    }

    fn came(&self, mut year: Year, closing: &Animal, title: &Title<'_>) -> Year {
        let never_alive = matches!(closing.fate, AnimalFate::DeadAtHatch { .. } | AnimalFate::DeadOnArrival { .. });
        let since = closing.known_since().time;
        match title.given_to_us().map(|given| given.time) {
            Some(given) if self.span.has(given) => {
                year.arrived += i64::from(closing.fate.when().is_none_or(|end| given < end.time));
            }
            // It was here before it was ours.
            Some(given) if since < given => {}
            _ if !self.span.has(since) || never_alive => {}
            _ => match &closing.origin {
                AnimalOrigin::Hatched { .. } => year.hatched += 1,
                AnimalOrigin::ToldApart { .. } => year.told_apart += 1,
                _ => year.arrived += 1,
            },
        }
        year
    }

    fn ended(&self, mut year: Year, closing: &Animal, title: &Title<'_>) -> Year {
        let died = death(closing).or_else(|| died_on_loan(closing, title)).filter(|when| self.has(when, title));
        year.grouped += i64::from(matches!(&closing.fate, AnimalFate::Grouped { when, .. } if self.has(when, title)));
        if let Some(when) = died {
            let cell = match age_at(closing, when, self.zone) {
                Age::Early => &mut year.died_early,
                Age::Other => &mut year.died_other,
                Age::Undetermined => &mut year.died_undetermined,
            };
            *cell += 1;
        }
        year
    }
}

impl Year {
    pub(super) fn adds_up(&self) -> bool {
        let comes = i64::from(self.start) + self.arrived + self.hatched + self.told_apart + self.recaptured + self.found;
        let died = self.died_early + self.died_other + self.died_undetermined;
        comes - died - self.grouped - self.departed - self.escaped - self.missing == i64::from(self.end)
    }
}

/// When it left alive, and why.
fn left_alive(animal: &Animal) -> Option<(Moment, &str)> {
    match &animal.fate {
        AnimalFate::Departed { when, reason, alive, .. } if *alive != LifeState::Dead => Some((*when, reason)),
        _ => None,
    }
}

/// A leaving alive, and when it came back from there.
struct Leaving<'a> {
    when: Moment,
    why: &'a str,
    back: Option<Moment>,
}

fn leavings(animal: &Animal) -> Vec<Leaving<'_>> {
    let back = animal.absences.iter().filter(|absence| absence.what == "departed");
    let back = back.map(|absence| Leaving { when: absence.since, why: &absence.how, back: absence.found });
    back.chain(left_alive(animal).map(|(when, why)| Leaving { when, why, back: None })).collect()
}

/// When the loan ended on which it died; nothing on the basis of presence.
pub(super) fn died_on_loan(animal: &Animal, title: &Title<'_>) -> Option<Moment> {
    let (left, _) = left_alive(animal).filter(|(when, reason)| title.lends(when.time, reason))?;
    let died = title.turns(left.time, None).into_iter().find(|(_, turn)| *turn == Turn::Died);
    died.map(|(when, _)| when).filter(|when| title.counts(when.time))
}

/// When it died; one that left dead, without a note of its death, on the day it left.
pub(super) fn death(animal: &Animal) -> Option<Moment> {
    match &animal.fate {
        AnimalFate::Died { when, .. } | AnimalFate::Departed { when, alive: LifeState::Dead, .. } => Some(*when),
        _ => None,
    }
}

fn age_at(animal: &Animal, death: Moment, zone: Tz) -> Age {
    if matches!(&animal.origin, AnimalOrigin::ToldApart { hatched_here: true, hatched_on_estimate: None, .. }) {
        return Age::Undetermined;
    }
    hatch_day(animal, zone).map_or(Age::Other, |day| by_days(day, death.time, zone))
}

/// The day on which it hatched here, or is thought to have hatched.
pub(super) fn hatch_day(animal: &Animal, zone: Tz) -> Option<chrono::NaiveDate> {
    match &animal.origin {
        AnimalOrigin::Hatched { .. } => Some(animal.came.time.day(zone)),
        AnimalOrigin::Received { hatched_on_estimate, .. } | AnimalOrigin::ToldApart { hatched_on_estimate, .. } => *hatched_on_estimate,
        AnimalOrigin::Withheld => None,
    }
}

/// Of a death on that day after a hatch on another.
pub(super) fn by_days(hatched: chrono::NaiveDate, death: Instant, zone: Tz) -> Age {
    if whole_days(hatched, death.day(zone)) <= EARLY_DEATH_DAYS_MAX { Age::Early } else { Age::Other }
}
