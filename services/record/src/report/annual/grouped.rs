//! What the year did to groups of animals that cannot be told apart. Their numbers are entered class
//! by class, as their changes say. What only changes hands within the house (splits, merges, animals
//! told apart) is kept by itself: it must sum to nought, and what moves between the classes is sexing.
//!
//! A death in a group counts as within 30 days of hatch where the group's day of hatch is known, be it
//! as an estimate; a group that hatched here on a day nobody knows has its dead in the line "died, day
//! undetermined" (DOMAIN section 7), and one that was received without a word on its age, like a single
//! animal of that kind, among the other deaths.

use super::followed::{Age, Followed, by_days};
use super::lent::{BACK, DIED_ON_LOAN, by_ownership};
use super::stock::{Basis, Cell, Recount, StockLine};
use super::title::Title;
use crate::domain::state::{Counts, EventId, Group, GroupChange};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

impl From<Counts> for Cell {
    fn from(counts: Counts) -> Self {
        Self([counts.males, counts.females, counts.unknown])
    }
}

/// The numbers as they were before `time`, by changes that leave out those told apart since.
fn before(group: &Group, time: Instant) -> Cell {
    let mut sum = Cell::default();
    group.changes.iter().filter(|change| change.when.time < time).for_each(|change| sum.plus(change.change.into()));
    sum
}

impl Followed<'_> {
    /// The counts of the year that restate a group which is counted on this basis, in order of time.
    pub(super) fn recounts(&self) -> Vec<Recount> {
        let mut found: BTreeMap<(Instant, &Subject, EventId), (&Group, Cell)> = BTreeMap::new();
        for group in &self.closing.groups {
            let title = Title::of(&group.id, self.basis, &self.closing.loans);
            let counts =
                |change: &&GroupChange| change.what == "recount" && self.span.has(change.when.time) && title.counts(change.when.time);
            for change in self.counted(group, &title).changes.iter().filter(counts) {
                let (_, sum) = found.entry((change.when.time, &group.id, change.when.event)).or_insert((group, Cell::default()));
                sum.plus(change.change.into());
            }
        }
        // By ownership a count that shows those who are back restates nothing.
        found.retain(|_, (_, change)| !change.is_nought());
        let told = |((time, id, event), (group, change)): ((Instant, &Subject, EventId), (&Group, Cell))| Recount {
            group: id.to_string(),
            label: group.label.clone(),
            day: time.day(self.zone),
            change,
            event: event.to_string(),
        };
        found.into_iter().map(told).collect()
    }

    /// The group as it is on this basis.
    fn counted<'g>(&self, group: &'g Group, title: &Title<'_>) -> Cow<'g, Group> {
        match self.basis {
            Basis::Presence => Cow::Borrowed(group),
            Basis::Ownership => by_ownership(group, title, &self.closing.loans),
        }
    }

    /// Enters a group; what changed hands within the house goes to `within`.
    pub(super) fn enter_group(&self, line: &mut StockLine, within: &mut Cell, group: &Group) {
        let title = Title::of(&group.id, self.basis, &self.closing.loans);
        let start = group_of(&self.before.groups, &group.id).map_or_else(Cell::default, |group| self.held_at_start(group));
        line.start.plus(start);
        if !title.is_ours() {
            // Ours at the start, and lent to us since.
            return line.departed.plus(start);
        }
        let group = self.counted(group, &title);
        match title.given_to_us().map(|given| given.time) {
            Some(given) if self.span.has(given) => line.arrived.plus(before(&group, given)),
            _ => within.minus(start.less(before(&group, self.span.from))),
        }
        for change in group.changes.iter().filter(|change| self.span.has(change.when.time) && title.counts(change.when.time)) {
            self.enter_change(line, within, &group, change);
        }
        line.end.plus(group.counts.into());
    }

    /// Those of the group at the start of the year, by the notes known then.
    pub(super) fn held_at_start(&self, group: &Group) -> Cell {
        let title = Title::of(&group.id, self.basis, &self.before.loans);
        match self.basis {
            Basis::Presence => group.counts.into(),
            Basis::Ownership if title.is_ours() => by_ownership(group, &title, &self.before.loans).counts.into(),
            Basis::Ownership => Cell::default(),
        }
    }

    fn enter_change(&self, line: &mut StockLine, within: &mut Cell, group: &Group, change: &GroupChange) {
        let numbers = Cell::from(change.change);
        match change.what {
            "formed" => {
                // Those told apart since came with it, and are entered by themselves from then on.
                let apart = change.left_out.map_or_else(Cell::default, Cell::from);
                let cell = if group.came == "received" { &mut line.arrived } else { &mut line.hatched };
                cell.plus(numbers);
                cell.plus(apart);
                within.minus(apart);
            }
            "died" | DIED_ON_LOAN => self.deaths(line, group, change.when.time).minus(numbers),
            BACK => line.arrived.plus(numbers),
            "departed" => line.departed.minus(numbers),
            "sexed" => line.sexed.plus(numbers),
            "recount" => line.recount.plus(numbers),
            _ => within.plus(numbers),
        }
    }

    fn deaths<'l>(&self, line: &'l mut StockLine, group: &Group, died: Instant) -> &'l mut Cell {
        let age = match group.hatched_on_estimate {
            Some(day) => by_days(day, died, self.zone),
            None if self.closing.hatched_here.contains(&group.id) => Age::Undetermined,
            None => Age::Other,
        };
        line.died(age)
    }
}

/// The one of that id; groups are in the order of their ids.
pub(super) fn group_of<'g>(groups: &'g [Group], id: &Subject) -> Option<&'g Group> {
    groups.binary_search_by(|group| group.id.cmp(id)).ok().map(|at| &groups[at])
}

/// How the animals of a group came, before any split. Notes put right may name groups in a ring.
pub(super) fn came<'g>(groups: &'g [Group], id: &Subject) -> Option<&'g str> {
    let named = |id: &Subject| group_of(groups, id);
    let mut root = named(id)?;
    for _ in 0..groups.len() {
        match root.split_from.as_ref().and_then(named) {
            Some(source) => root = source,
            None => break,
        }
    }
    Some(&root.came)
}

/// Those of these groups whose animals hatched here, before any split.
pub(super) fn hatched_here(groups: &[Group]) -> BTreeSet<Subject> {
    let came_else = |group: &&Group| matches!(came(groups, &group.id), Some("received" | "split") | None);
    groups.iter().filter(|group| !came_else(group)).map(|group| group.id.clone()).collect()
}
