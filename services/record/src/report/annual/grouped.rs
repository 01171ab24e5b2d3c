//! What the year did to groups of animals that cannot be told apart. Their numbers are entered class
//! by class, as their changes say. What only changes hands within the house (splits, merges, animals
//! told apart) is kept by itself: it must sum to nought, and what moves between the classes is sexing.
//!
//! A death in a group counts as within 30 days of hatch where the group's day of hatch is known, be it
//! as an estimate; a group that hatched here on a day nobody knows has its dead in the line "died, day
//! undetermined" (DOMAIN section 7), and one that was received without a word on its age, like a single
//! animal of that kind, among the other deaths.

use super::followed::{Age, Followed, by_days};
use super::stock::{Cell, Recount, StockLine};
use super::title::{Ending, Title};
use crate::domain::state::{Counts, Group, GroupChange, Moment};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::collections::BTreeSet;

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
        let mut found = Vec::new();
        for group in &self.closing.groups {
            let title = Title::of(&group.id, self.basis, &self.closing.loans);
            let counts =
                |change: &&GroupChange| change.what == "recount" && self.span.has(change.when.time) && title.counts(change.when.time);
            found.extend(group.changes.iter().filter(counts).map(|change| (change.when.time, group, change)));
        }
        found.sort_by_key(|(time, group, _)| (*time, group.id.clone()));
        let told = |(time, group, change): (Instant, &Group, &GroupChange)| Recount {
            group: group.id.to_string(),
            label: group.label.clone(),
            day: time.day(self.zone),
            change: change.change.into(),
            event: change.when.event.to_string(),
        };
        found.into_iter().map(told).collect()
    }

    /// Enters a group; what changed hands within the house goes to `within`.
    pub(super) fn enter_group(&self, line: &mut StockLine, within: &mut Cell, group: &Group) {
        let title = Title::of(&group.id, self.basis, &self.closing.loans);
        let at_start = self.before.groups.iter().find(|one| one.id == group.id);
        let start = at_start.map_or_else(Cell::default, |group| self.held_at_start(group));
        line.start.plus(start);
        if !title.is_ours() {
            // Ours at the start, and lent to us since.
            return line.departed.plus(start);
        }
        match title.given_to_us() {
            Some(given) if self.span.has(given) => line.arrived.plus(before(group, given)),
            _ => within.minus(start.less(self.started(group, &title))),
        }
        for change in group.changes.iter().filter(|change| self.span.has(change.when.time) && title.counts(change.when.time)) {
            self.enter_change(line, within, group, change, &title);
        }
        self.enter_loans(line, group, &title);
    }

    /// Numbers at the start by the notes known at the end.
    fn started(&self, group: &Group, title: &Title<'_>) -> Cell {
        let mut start = before(group, self.span.from);
        let lent = lent(group, title).filter(|change| change.when.time < self.span.from);
        let still = lent.filter(|change| title.ended(&group.id, change.when.time).is_none_or(|(end, _)| self.span.from <= end.time));
        still.for_each(|change| start.minus(change.change.into()));
        start
    }

    fn held_at_start(&self, group: &Group) -> Cell {
        let title = Title::of(&group.id, self.basis, &self.before.loans);
        if title.is_ours() { held(group, &title) } else { Cell::default() }
    }

    fn enter_change(&self, line: &mut StockLine, within: &mut Cell, group: &Group, change: &GroupChange, title: &Title<'_>) {
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
            "died" => self.deaths(line, group, change.when.time).minus(numbers),
            "departed" if is_lent(group, change, title) => {}
            "departed" => line.departed.minus(numbers),
            "sexed" => line.sexed.plus(numbers),
            "recount" => line.recount.plus(numbers),
            _ => within.plus(numbers),
        }
    }

    /// What becomes of those lent out when the loan ends.
    fn enter_loans(&self, line: &mut StockLine, group: &Group, title: &Title<'_>) {
        for change in lent(group, title) {
            let ended = title.ended(&group.id, change.when.time).filter(|(when, _)| self.span.has(when.time));
            match ended {
                Some((when, Ending::Died)) => self.deaths(line, group, when.time).minus(change.change.into()),
                Some((_, Ending::Gone)) => line.departed.minus(change.change.into()),
                None => {}
            }
        }
        line.end.plus(held(group, title));
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

/// How the animals of a group came, before any split; `groups` are in the order of their ids. Notes put right
/// may name groups in a ring.
pub(super) fn came<'g>(groups: &'g [Group], id: &Subject) -> Option<&'g str> {
    let named = |id: &Subject| groups.binary_search_by(|group| group.id.cmp(id)).ok().map(|at| &groups[at]);
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

fn is_lent(group: &Group, change: &GroupChange, title: &Title<'_>) -> bool {
    change.what == "departed" && title.lends(&group.id, change.when.time, change.why.as_deref().unwrap_or_default())
}

fn lent<'g>(group: &'g Group, title: &'g Title<'_>) -> impl Iterator<Item = &'g GroupChange> {
    group.changes.iter().filter(move |change| is_lent(group, change, title))
}

/// When loans ended on which some of a group died, and how many of each class; nothing on the basis of
/// presence.
pub(super) fn group_died_on_loan(group: &Group, title: &Title<'_>) -> Vec<(Moment, Cell)> {
    let died = |change: &GroupChange| match title.ended(&group.id, change.when.time) {
        Some((when, Ending::Died)) => Some((when, Cell::default().less(change.change.into()))),
        _ => None,
    };
    if title.is_ours() { lent(group, title).filter_map(died).collect() } else { Vec::new() }
}

/// Those here and those lent out.
fn held(group: &Group, title: &Title<'_>) -> Cell {
    let mut held = Cell::from(group.counts);
    let away = lent(group, title).filter(|change| title.ended(&group.id, change.when.time).is_none());
    away.for_each(|change| held.minus(change.change.into()));
    held
}
