//! The rules of a case's row.

use super::{Case, Cause, Fate, MadeBy, NotAtRisk, Seen, Sighting};
use crate::time::whole_days;
use chrono::NaiveDate;

/// The row of a case as it stood at the end of a day; `None` where it had not come yet.
#[must_use]
pub fn encode(case: &Case, as_of: NaiveDate) -> Option<Fate> {
    let entered_on = case.entered_on.unwrap_or(case.age_0_on);
    if entered_on > as_of || case.age_0_on > as_of {
        return None;
    }
    let mut known = Known::new(case, whole_days(case.age_0_on, entered_on));
    let mut counted: Vec<&Sighting> = case.sightings.iter().filter(|sighting| sighting.on <= as_of).collect();
    // Stable: on one day the order of the log decides.
    counted.sort_by_key(|sighting| sighting.on);
    for sighting in counted {
        known.take(whole_days(case.age_0_on, sighting.on), sighting);
    }
    Some(known.row(case))
}

/// An age and the note that says so.
#[derive(Debug, Clone)]
struct Mark {
    age: i64,
    id: Option<String>,
}

/// An end as it stands.
#[derive(Debug, Clone)]
enum End {
    Dead(Mark),
    Infertile(Mark),
    Hatched { at: Mark, exact: bool, assisted: bool },
    Removed(Mark),
    Missing(Mark),
    DeadOnArrival(Mark),
    AtOdds(Mark),
}

/// What is known so far.
struct Known {
    entry: i64,
    alive: Mark,
    unhatched: Mark,
    fertile: Option<bool>,
    end: Option<End>,
}

impl Known {
    fn new(case: &Case, entry: i64) -> Self {
        let came = Mark { age: entry, id: case.came_by.clone() };
        let end = match case.dead_on_entry {
            true => Some(End::DeadOnArrival(came.clone())),
            false => (entry < 0).then(|| End::AtOdds(came.clone())),
        };
        Self { entry, alive: came.clone(), unhatched: came, fertile: None, end }
    }

    fn take(&mut self, age: i64, sighting: &Sighting) {
        let at = Mark { age, id: Some(sighting.id.clone()) };
        let ends = !matches!(sighting.seen, Seen::Alive | Seen::Unclear | Seen::NotHatched | Seen::InHand);
        if matches!(self.end, Some(End::Hatched { .. } | End::AtOdds(_))) {
            // What comes after a hatch is the young's life, and days at odds are for a person.
        } else if ends && age < self.entry {
            self.end = Some(End::AtOdds(at));
        } else {
            self.weigh(at, &sighting.seen, sighting.on);
        }
    }

    fn weigh(&mut self, at: Mark, seen: &Seen, on: NaiveDate) {
        match seen {
            Seen::Unclear => {}
            Seen::NotHatched => {
                self.found();
                later(&mut self.unhatched, at);
            }
            Seen::InHand => self.found(),
            Seen::Alive => {
                (self.end, self.fertile) = (None, Some(true));
                later(&mut self.alive, at.clone());
                later(&mut self.unhatched, at);
            }
            Seen::Hatched { exact, not_before, assisted } => {
                if let Some(day) = not_before {
                    // The finder's own word for when it was still closed rests on the same note.
                    let age = at.age - whole_days(*day, on).max(0);
                    later(&mut self.unhatched, Mark { age, id: at.id.clone() });
                }
                self.fertile = Some(true);
                self.end = Some(End::Hatched { at, exact: *exact, assisted: *assisted });
            }
            Seen::Dead => self.ends(End::Dead(at)),
            // No embryo now, in a case in which one has lived, is a death.
            Seen::Infertile if self.fertile == Some(true) => self.ends(End::Dead(at)),
            Seen::Infertile => self.ends(End::Infertile(at)),
            Seen::Removed => self.ends(End::Removed(at)),
            Seen::Missing => self.ends(End::Missing(at)),
        }
    }

    /// A case lost from sight is there after all.
    fn found(&mut self) {
        if matches!(self.end, Some(End::Missing(_))) {
            self.end = None;
        }
    }

    /// The first end stands, but one that was missed and is found again ends as it is found.
    fn ends(&mut self, end: End) {
        let found_again = matches!((&self.end, &end), (Some(End::Missing(_)), End::Dead(_) | End::Infertile(_) | End::Removed(_)));
        if self.end.is_none() || found_again {
            if matches!(end, End::Infertile(_)) {
                self.fertile = Some(false);
            }
            self.end = Some(end);
        }
    }

    fn row(self, case: &Case) -> Fate {
        let Self { entry, alive, unhatched, fertile, end } = self;
        let bare = Fate {
            egg: case.egg.clone(),
            entry,
            origin_uncertainty_days: case.laid_not_before.map(|day| whole_days(day, case.age_0_on).max(0)),
            fertile,
            at_risk: true,
            reason: None,
            left: None,
            right: None,
            cause: None,
            assisted: None,
            events: Vec::new(),
            made_by: MadeBy::default(),
        };
        match end {
            None => bare.between(alive, None, Cause::Censored),
            Some(End::Dead(at)) => bare.between(alive, Some(at), Cause::Death),
            Some(End::Missing(at)) => bare.between(alive, Some(at), Cause::Lost),
            Some(End::Removed(at)) => bare.between(at.clone(), Some(at), Cause::Removed),
            Some(End::Hatched { at, exact, assisted }) => {
                let left = if exact { at.clone() } else { unhatched };
                Fate { assisted: Some(assisted), ..bare.between(left, Some(at), Cause::Hatch) }
            }
            Some(End::Infertile(at)) => bare.not_at_risk(NotAtRisk::Infertile, at),
            Some(End::DeadOnArrival(at)) => bare.not_at_risk(NotAtRisk::DeadOnArrival, at),
            Some(End::AtOdds(at)) => bare.not_at_risk(NotAtRisk::DaysAtOdds, at),
        }
    }
}

/// Moves a mark, never back.
fn later(mark: &mut Mark, at: Mark) {
    if at.age >= mark.age {
        *mark = at;
    }
}

impl Fate {
    fn between(self, left: Mark, right: Option<Mark>, cause: Cause) -> Self {
        let (age, end) = (left.age, right.as_ref().map(|right| right.age));
        let made_by = MadeBy { left: left.id, right: right.and_then(|right| right.id) };
        let cause = Some(cause);
        Self { left: Some(end.map_or(age, |end| age.min(end))), right: end, cause, ..self }.because(made_by)
    }

    fn not_at_risk(self, reason: NotAtRisk, at: Mark) -> Self {
        let made_by = MadeBy { left: None, right: at.id };
        Self { at_risk: false, reason: Some(reason), ..self }.because(made_by)
    }

    fn because(self, made_by: MadeBy) -> Self {
        let mut events: Vec<String> = made_by.left.iter().chain(&made_by.right).cloned().collect();
        events.dedup();
        Self { events, made_by, ..self }
    }
}
