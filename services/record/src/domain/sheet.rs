//! What is printed for the hands: a round sheet of one tray, and labels.

use super::house::of;
use super::record::DueItem;
use super::state::{Egg, EggFate, RoundSheet, SheetCase, SheetPlace, Sticker};
use super::told::Told;
use super::view::View;
use selachron_schemas::names::Subject;
use std::collections::BTreeMap;

/// What labels are printed for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StickersOf {
    /// Cases that are incubating.
    Eggs,
    /// Places in trays.
    Places,
    /// Tanks.
    Tanks,
}

impl View<'_> {
    /// The sheet of one tank: every place in the order of a round, filled or empty, then cases that
    /// stand in no place. `None` if no note that stands sets the tank up.
    #[must_use]
    pub fn round_sheet(&self, tank: &Subject) -> Option<RoundSheet> {
        let set_up = self.tank(tank)?;
        let due = self.due_by_subject();
        let mut cases: BTreeMap<Subject, SheetCase> = BTreeMap::new();
        for egg in set_up.eggs.iter().filter_map(|egg| self.egg(egg)) {
            let case = sheet_case(self, &egg, due.get(&egg.id).map_or(&[], Vec::as_slice));
            cases.insert(egg.id, case);
        }
        let count = cases.len() as u64;
        let mut places: Vec<SheetPlace> = Vec::new();
        for place in &set_up.care.places {
            let told = &place.set_up.told;
            let mut here: Vec<SheetCase> = place.eggs.iter().filter_map(|egg| cases.remove(egg)).collect();
            here.sort_by(|a, b| a.label.cmp(&b.label));
            let cases_max = told.cases_max.map(|count| count.0);
            places.push(SheetPlace { label: Some(told.label.clone()), row: told.row.clone(), cases_max, cases: here });
        }
        if !cases.is_empty() {
            let mut here: Vec<SheetCase> = cases.into_values().collect();
            here.sort_by(|a, b| a.label.cmp(&b.label));
            places.push(SheetPlace { label: None, row: None, cases_max: None, cases: here });
        }
        Some(RoundSheet { tank: tank.clone(), label: set_up.label, places, cases: count })
    }

    /// What is due, by what it is about.
    fn due_by_subject(&self) -> BTreeMap<Subject, Vec<DueItem>> {
        let mut due: BTreeMap<Subject, Vec<DueItem>> = BTreeMap::new();
        for item in self.due(self.as_of()) {
            due.entry(item.subject.clone()).or_default().push(item);
        }
        due
    }

    /// Labels for cases, places or tanks, all or those of one tank, by label.
    #[must_use]
    pub fn stickers(&self, what: StickersOf, tank: Option<&Subject>) -> Vec<Sticker> {
        let mut found: Vec<Sticker> = match what {
            StickersOf::Eggs => self.egg_stickers(tank),
            StickersOf::Places => self.subjects("place").filter_map(|place| self.place_sticker(place, tank)).collect(),
            StickersOf::Tanks => self.subjects("tank").filter_map(|id| self.tank_sticker(id, tank)).collect(),
        };
        found.sort_by(|a, b| (&a.label, &a.subject).cmp(&(&b.label, &b.subject)));
        found
    }

    fn egg_stickers(&self, tank: Option<&Subject>) -> Vec<Sticker> {
        let here = |egg: &Egg| tank.is_none() || egg.place.as_ref().map(|place| &place.tank) == tank;
        let eggs = self.eggs().into_iter().filter(|egg| egg.fate == EggFate::Open && here(egg));
        let told = |egg: Egg| {
            let below = egg.species.as_ref().and_then(|species| self.listing(species)).map(|listed| listed.scientific_name);
            Sticker { subject: egg.id, label: egg.label, below: below.unwrap_or_default() }
        };
        eggs.map(told).collect()
    }

    fn place_sticker(&self, place: &Subject, tank: Option<&Subject>) -> Option<Sticker> {
        let set_up = self.house_facts(place).iter().find_map(|fact| fact.noted(of!(PlaceSetUp)))?.told;
        let here = tank.is_none_or(|tank| *tank == set_up.tank.0);
        here.then(|| Sticker { subject: place.clone(), label: set_up.label.clone(), below: self.called(&set_up.tank) })
    }

    fn tank_sticker(&self, id: &Subject, tank: Option<&Subject>) -> Option<Sticker> {
        let set_up = self.creations(id).into_iter().find_map(|fact| match fact.told() {
            Told::TankSetUp(told) => Some((told.label.clone(), told.purpose.clone())),
            _ => None,
        });
        let (label, below) = set_up.filter(|_| tank.is_none_or(|tank| tank == id))?;
        Some(Sticker { subject: id.clone(), label, below })
    }
}

/// What is due, in few words.
fn due_word(item: &DueItem) -> String {
    serde_json::to_value(item.what).ok().and_then(|what| what.as_str().map(str::to_owned)).unwrap_or_default()
}

fn sheet_case(view: &View<'_>, egg: &Egg, due: &[DueItem]) -> SheetCase {
    let last = egg.looks.last();
    // The band may be that of an earlier look, where the last one could not see in.
    let of_band = egg.looks.iter().rev().find(|look| look.band.is_some());
    let looks = [last, of_band].into_iter().flatten().map(|look| look.when.event);
    let behind = looks.chain(egg.held_apart.as_ref().map(|held| held.since.event));
    SheetCase {
        egg: egg.id.clone(),
        label: egg.label.clone(),
        last_look: last.map(|look| view.day(look.when.time)),
        band: egg.band,
        movement: last.and_then(|look| look.movement),
        held_apart: egg.held_apart.is_some(),
        suspected: view.suspected_among(behind.chain(due.iter().flat_map(|item| item.suspected.iter().copied()))),
        due: due.iter().map(due_word).collect(),
    }
}
