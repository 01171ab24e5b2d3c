//! What the year did to one animal, by presence or by ownership.

use super::material::{Population, Span};
use super::stock::Basis;
use super::title::{Ending, Title};
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
            end: title.holds(id, &closing.fate),
            ..Year::default()
        };
        if !title.is_ours() {
            // It was ours at the start and is lent to us since: it has been given away.
            let given_away = start && title.lent_to_us().is_some_and(|when| span.has(when));
            return Year { departed: i64::from(given_away), ..year };
        }
        let has = |time: Instant| span.has(time) && title.counts(time);
        // One that came back has left and arrived; one that was found has been missing.
        let stays_ours = |absence: &Absence| absence.what == "departed" && title.lends(id, absence.since.time, &absence.how);
        let absences = |what: &str, when: fn(&Absence) -> Option<Moment>| -> i64 {
            let of_kind = closing.absences.iter().filter(|absence| absence.what == what && !stays_ours(absence));
            of_kind.filter_map(when).filter(|moment| has(moment.time)).count() as i64
        };
        let went = |what: &str| absences(what, |absence| Some(absence.since));
        let came_back = |what: &str| absences(what, |absence| absence.found);
        let year = Year {
            arrived: came_back("departed"),
            departed: went("departed"),
            recaptured: came_back("escaped"),
            found: came_back("missing"),
            escaped: went("escaped"),
            missing: went("missing"),
            ..year
        };
        self.ended(self.came(year, closing, &title), closing, &title)
    }

    fn was_held(&self, animal: &Animal) -> bool {
        Title::of(&animal.id, self.basis, &self.before.loans).holds(&animal.id, &animal.fate)
    }

    fn came(&self, mut year: Year, closing: &Animal, title: &Title<'_>) -> Year {
        let never_alive = matches!(closing.fate, AnimalFate::DeadAtHatch { .. } | AnimalFate::DeadOnArrival { .. });
        let since = closing.known_since().time;
        if let Some(given) = title.given_to_us() {
            let lived = self.span.has(given) && closing.fate.when().is_none_or(|end| given < end.time);
            year.arrived += i64::from(lived);
        } else if self.span.has(since) && !never_alive {
            match &closing.origin {
                AnimalOrigin::Hatched { .. } => year.hatched += 1,
                AnimalOrigin::ToldApart { .. } => year.told_apart += 1,
                _ => year.arrived += 1,
            }
        }
        year
    }

    fn ended(&self, mut year: Year, closing: &Animal, title: &Title<'_>) -> Year {
        let has = |when: &Moment| self.span.has(when.time) && title.counts(when.time);
        let left = left_alive(closing);
        let lent = left.filter(|(when, reason)| title.lends(&closing.id, when.time, reason));
        let end_of_loan = lent.and_then(|(when, _)| title.ended(&closing.id, when.time));
        let died = death(closing).or_else(|| died_on_loan(closing, title)).filter(has);
        let gone = if lent.is_some() {
            end_of_loan.filter(|(_, how)| *how == Ending::Gone).map(|(when, _)| when)
        } else {
            left.map(|(when, _)| when)
        };
        year.departed += i64::from(gone.is_some_and(|when| has(&when)));
        year.grouped += i64::from(matches!(&closing.fate, AnimalFate::Grouped { when, .. } if has(when)));
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

/// When the loan ended on which it died; nothing on the basis of presence.
pub(super) fn died_on_loan(animal: &Animal, title: &Title<'_>) -> Option<Moment> {
    let (left, _) = left_alive(animal).filter(|(when, reason)| title.lends(&animal.id, when.time, reason))?;
    let died = title.ended(&animal.id, left.time).filter(|(_, how)| *how == Ending::Died).map(|(when, _)| when);
    died.filter(|when| title.counts(when.time))
}

/// When it died; one that left dead, without a note of its death, on the day it left.
pub(super) fn death(animal: &Animal) -> Option<Moment> {
    match &animal.fate {
        AnimalFate::Died { when, .. } | AnimalFate::Departed { when, alive: LifeState::Dead, .. } => Some(*when),
        _ => None,
    }
}

fn age_at(animal: &Animal, death: Moment, zone: Tz) -> Age {
    let hatched = match &animal.origin {
        AnimalOrigin::Hatched { .. } => Some(animal.came.time.day(zone)),
        AnimalOrigin::ToldApart { hatched_here: true, hatched_on_estimate: None, .. } => return Age::Undetermined,
        AnimalOrigin::Received { hatched_on_estimate, .. } | AnimalOrigin::ToldApart { hatched_on_estimate, .. } => *hatched_on_estimate,
        AnimalOrigin::Withheld => None,
    };
    hatched.map_or(Age::Other, |day| by_days(day, death.time, zone))
}

/// Of a death on that day after a hatch on another.
pub(super) fn by_days(hatched: chrono::NaiveDate, death: Instant, zone: Tz) -> Age {
    if whole_days(hatched, death.day(zone)) <= EARLY_DEATH_DAYS_MAX { Age::Early } else { Age::Other }
}
