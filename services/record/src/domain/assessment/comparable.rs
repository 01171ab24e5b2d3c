//! What became here of comparable cases: those of the species that at the same days since laying
//! were in their case, not opened and not ended. A landmark: both groups are followed from it, so
//! that nobody is counted as left alone for having hatched before.

use crate::domain::state::{Comparable, Egg, EggFate, Outcomes};
use crate::domain::view::View;
use selachron_schemas::time::{Instant, whole_days};

/// A case counts as opened at the landmark when it was within so many days (a convention of this
/// project).
const WITHIN_DAYS: i64 = 7;

/// What the counts cannot say.
const CAVEAT: &str = "Counts, not an effect: cases are opened because they are overdue or weak, and nobody drew lots. Comparable means the \
     same species and the same days since laying; water, dams, people and years may differ.";

impl View<'_> {
    /// What became of comparable cases, by this view.
    pub(super) fn comparable(&self, egg: &Egg, eggs: &[Egg]) -> Comparable {
        let landmark = self.age_at(egg, egg.fate.when().map_or(self.as_of(), |when| when.time));
        let mut found = Comparable {
            which: format!("Cases of the species here that {landmark} days after laying were in their case, not opened and not ended."),
            landmark_days: landmark,
            within_days: WITHIN_DAYS,
            left_alone: Outcomes::default(),
            opened: Outcomes::default(),
            ended_within: 0,
            caveat: CAVEAT,
        };
        let others = eggs.iter().filter(|other| other.id != egg.id && other.species == egg.species && egg.species.is_some());
        others.for_each(|other| self.compare_from(other, landmark, &mut found));
        found
    }

    fn compare_from(&self, egg: &Egg, landmark: i64, found: &mut Comparable) {
        let ended = egg.fate.when().map(|when| self.age_at(egg, when.time));
        let opened = egg.openings.iter().find(|opening| !opening.known_dead).map(|opening| self.age_at(egg, opening.when.time));
        let (came, last) = (self.age_at(egg, egg.came.time), self.age_at(egg, self.as_of()));
        let at_risk =
            came <= landmark && last > landmark && ended.is_none_or(|age| age > landmark) && opened.is_none_or(|age| age > landmark);
        if !at_risk {
            return;
        }
        let until = landmark + WITHIN_DAYS;
        match (opened, ended) {
            (Some(opened), _) if opened <= until => found.opened.add(&egg.fate),
            (_, Some(ended)) if ended <= until => found.ended_within += 1,
            // Nobody can say yet in which group it will be.
            (_, None) if last < until => {}
            _ => found.left_alone.add(&egg.fate),
        }
    }

    /// Whole local days from the last day on which it can have been laid.
    fn age_at(&self, egg: &Egg, time: Instant) -> i64 {
        whole_days(self.day(egg.laid_window.not_after), self.day(time))
    }
}

impl Outcomes {
    fn add(&mut self, fate: &EggFate) {
        self.n += 1;
        *match fate {
            EggFate::Open => &mut self.still_in_case,
            EggFate::Hatched { after_opening: None, .. } => &mut self.hatched_unaided,
            EggFate::Hatched { .. } => &mut self.hatched_after_opening,
            EggFate::Lost { .. } | EggFate::DeadOnArrival { .. } => &mut self.lost,
            EggFate::PutDown { .. } => &mut self.put_down,
            EggFate::YoungNotFound { .. } | EggFate::Missing { .. } | EggFate::Removed { .. } => &mut self.otherwise_ended,
        } += 1;
    }
}
