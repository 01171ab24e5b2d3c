//! Who shared water with whom, from when to when, through moves and systems. Water is that of a
//! system as long as a tank is joined to it, else the tank's own.

use super::state::{AnimalFate, AnimalOrigin, EventId};
use super::view::View;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::Serialize;
use std::collections::BTreeSet;
use utoipa::ToSchema;

/// One stretch of time in which another shared the water.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Shared {
    /// The other case, animal or group.
    #[schema(value_type = String)]
    pub with: Subject,
    /// Its label.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// The water: a system, or a tank that stood alone.
    #[schema(value_type = String)]
    pub water: Subject,
    /// Both were in this tank; absent where they were in different tanks of a system.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub tank: Option<Subject>,
    /// From when.
    #[schema(value_type = String)]
    pub from: Instant,
    /// To when; absent if they still share it at `as_of`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub to: Option<Instant>,
    /// The one asked about was still in its case.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub in_case: bool,
    /// The notes by which each was there.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
}

/// A stretch of time in one water.
pub(super) struct Stretch {
    pub water: Subject,
    pub tank: Subject,
    pub from: Instant,
    pub to: Option<Instant>,
    pub put_by: u64,
    in_case: bool,
    /// Who was there.
    of: Subject,
}

impl View<'_> {
    /// Who shared water with a case, an animal or a group between `from` and `to`: of an animal that
    /// hatched here also with its case, of one told apart with the group that it was in until then. In
    /// order of time, then by id.
    #[must_use]
    pub fn exposure(&self, id: &Subject, from: Option<Instant>, to: Option<Instant>) -> Vec<Shared> {
        let case = self.case_of(id);
        let mut own = Vec::new();
        self.trace(id, (from, to), &mut BTreeSet::new(), &mut own);
        let young = self.young_of(id);
        let others = self.subjects("egg").chain(self.subjects("animal")).chain(self.subjects("group"));
        let others = others.filter(|other| *other != id && Some(*other) != case.as_ref() && !young.contains(other));
        let mut found: Vec<Shared> = others.flat_map(|other| self.shared_with(other, &own)).collect();
        found.sort_by(|a, b| (a.from, &a.with, &a.tank).cmp(&(b.from, &b.with, &b.tank)));
        found
    }

    fn shared_with(&self, other: &Subject, own: &[Stretch]) -> Vec<Shared> {
        let theirs = self.stretches(other, false);
        let mut found: Vec<Shared> = Vec::new();
        for (mine, yours) in own.iter().flat_map(|mine| theirs.iter().map(move |yours| (mine, yours))) {
            let (from, to) = (mine.from.max(yours.from), earlier(mine.to, yours.to));
            // What it was in itself is no other.
            if mine.of == *other || mine.water != yours.water || to.is_some_and(|to| to <= from) {
                continue;
            }
            let mut events: Vec<EventId> = [mine.put_by, yours.put_by].map(|seq| self.nursery().note(seq).id).to_vec();
            events.sort_unstable();
            events.dedup();
            let tank = (mine.tank == yours.tank).then(|| mine.tank.clone());
            let (label, water) = (self.label(other), mine.water.clone());
            found.push(Shared { with: other.clone(), label, water, tank, from, to, in_case: mine.in_case, events });
        }
        found
    }

    /// The stays of a case or an animal, each cut where its tank was joined to other water.
    pub(super) fn stretches(&self, id: &Subject, in_case: bool) -> Vec<Stretch> {
        let stays = self.stays(id);
        let mut all = Vec::new();
        for stay in stays.iter() {
            let waters = self.waters(&stay.tank);
            let changes = waters.iter().map(|(since, _)| *since).filter(|since| *since > stay.from && stay.to.is_none_or(|to| *since < to));
            let mut bounds: Vec<Option<Instant>> = std::iter::once(stay.from).chain(changes).map(Some).collect();
            bounds.push(stay.to);
            for pair in bounds.windows(2) {
                let Some(from) = pair[0] else { continue };
                let water = self.system_at(&stay.tank, from).unwrap_or_else(|| stay.tank.clone());
                all.push(Stretch { water, tank: stay.tank.clone(), from, to: pair[1], put_by: stay.put_by, in_case, of: id.clone() });
            }
        }
        all
    }

    /// Its own stretches between two times, and those of what it was in before, or is in since: its
    /// case, its group, groups and animals that were put together with it.
    fn trace(&self, id: &Subject, (from, to): Bounds, seen: &mut BTreeSet<Subject>, found: &mut Vec<Stretch>) {
        if !seen.insert(id.clone()) {
            return;
        }
        for origin in self.was_in(id) {
            let until = earlier(to, Some(origin.until));
            if origin.of.noun() == "egg" {
                found.extend(self.stretches(&origin.of, true).into_iter().filter_map(|stretch| cut(stretch, from, until)));
            } else {
                self.trace(&origin.of, (from, until), seen, found);
            }
        }
        found.extend(self.stretches(id, false).into_iter().filter_map(|stretch| cut(stretch, from, to)));
        if let Some((of, since)) = self.is_in_since(id) {
            self.trace(&of, (Some(from.map_or(since, |from| from.max(since))), to), seen, found);
        }
    }

    /// What an animal or a group was in before it was by itself.
    fn was_in(&self, id: &Subject) -> Vec<Origin> {
        match id.noun() {
            "animal" => match self.animal(id).map(|animal| (animal.came, animal.origin)) {
                Some((came, AnimalOrigin::Hatched { egg, .. })) => vec![Origin { of: egg, until: came.time }],
                Some((_, AnimalOrigin::ToldApart { group, told, .. })) => vec![Origin { of: group, until: told.time }],
                _ => Vec::new(),
            },
            "group" => {
                let changes = self.group(id).map(|group| group.changes).unwrap_or_default();
                let joins = changes.into_iter().filter(|change| matches!(change.what, "split from" | "merged in" | "put in"));
                joins.filter_map(|change| Some(Origin { of: change.with?, until: change.when.time })).collect()
            }
            _ => Vec::new(),
        }
    }

    /// The group that an animal or a group is in since it is not by itself any more.
    fn is_in_since(&self, id: &Subject) -> Option<(Subject, Instant)> {
        match id.noun() {
            "animal" => match self.animal(id)?.fate {
                AnimalFate::Grouped { when, group } => Some((group, when.time)),
                _ => None,
            },
            "group" => {
                let away = self.group(id)?.changes.into_iter().rev().find(|change| change.what == "merged into")?;
                Some((away.with?, away.when.time))
            }
            _ => None,
        }
    }

    fn case_of(&self, id: &Subject) -> Option<Subject> {
        let animal = Some(id).filter(|id| id.noun() == "animal").and_then(|id| self.animal(id))?;
        match animal.origin {
            AnimalOrigin::Hatched { egg, .. } => Some(egg),
            _ => None,
        }
    }

    /// The young that came out of a case: they are what was in it.
    fn young_of(&self, id: &Subject) -> BTreeSet<Subject> {
        let facts = self.facts(id);
        let hatches = facts.iter().filter(|fact| fact.subject() == id);
        let young = hatches.flat_map(|fact| match fact.told() {
            super::told::Told::EggHatched(hatch) => hatch.young.iter().map(|young| young.animal.clone()).collect(),
            _ => Vec::new(),
        });
        young.collect()
    }
}

/// From when until when, where that is limited.
type Bounds = (Option<Instant>, Option<Instant>);

/// Something that an animal or a group was in, and until when.
struct Origin {
    of: Subject,
    until: Instant,
}

/// What of a stretch lies between two times; `None` if nothing does.
fn cut(mut stretch: Stretch, from: Option<Instant>, to: Option<Instant>) -> Option<Stretch> {
    stretch.from = from.map_or(stretch.from, |from| from.max(stretch.from));
    stretch.to = earlier(stretch.to, to);
    stretch.to.is_none_or(|to| stretch.from < to).then_some(stretch)
}

fn earlier(one: Option<Instant>, other: Option<Instant>) -> Option<Instant> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    }
}
