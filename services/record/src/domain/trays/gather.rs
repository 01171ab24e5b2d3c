//! The cases and places of a view, as the rules look at them.

use super::{Case, Realm, Slot, TrayRules, propose};
use crate::domain::house::of;
use crate::domain::state::{Egg, EggFate, EggOrigin, Noted, ParentStatus, PlaceSetUp, Proposal};
use crate::domain::told_house::House;
use crate::domain::view::View;
use chrono::Days;
use selachron_schemas::names::Subject;

/// Where nothing was seen yet the yolk is all there is.
const YOLK_ONLY: u8 = 1;

impl View<'_> {
    /// A proposal of places for the cases that are incubating here.
    #[must_use]
    pub fn trays_proposal(&self) -> Proposal {
        let eggs = self.eggs();
        let incubating = eggs.iter().filter(|egg| egg.fate == EggFate::Open && egg.taken_in.is_some());
        let cases: Vec<Case> = incubating.filter_map(|egg| self.tray_case(egg)).collect();
        propose(&cases, &self.slots(), TrayRules { opened_apart: self.policy().opened_cases_apart })
    }

    fn tray_case(&self, egg: &Egg) -> Option<Case> {
        let tank = egg.place.as_ref()?.tank.clone();
        let quarantine = egg.circumstances.quarantine.as_ref().map(|quarantine| quarantine.started.when.event.to_string());
        let source = match &egg.origin {
            EggOrigin::Collected { .. } => "collected here".to_owned(),
            EggOrigin::Received { from, .. } => format!("received from {from}"),
            EggOrigin::Withheld => "withheld".to_owned(),
        };
        let certain = matches!(egg.dam.status, ParentStatus::Known);
        let clutch = egg.clutch.as_ref().unwrap_or(&egg.id).to_string();
        Some(Case {
            egg: egg.id.clone(),
            label: egg.label.clone(),
            place: self.place_within(&egg.id, &self.facts(&egg.id), &egg.fate),
            realm: Realm { water: self.water_of(&tank), quarantine, source, species: egg.species.clone() },
            uncertain_clutch: (!certain).then_some(clutch),
            band: egg.band.unwrap_or(YOLK_ONLY),
            is_open: egg.slits_open.is_some() || !egg.openings.is_empty(),
            stays: egg.held_apart.is_some() || self.rests(egg),
            alone: egg.held_apart.is_some(),
            tank,
        })
    }

    /// A newly laid case is left in peace for as long as the house rules say.
    fn rests(&self, egg: &Egg) -> bool {
        let Some(days) = self.policy().rest_after_laying_days else { return false };
        let until = self.day(egg.laid_window.not_after).checked_add_days(Days::new(u64::from(days)));
        until.is_some_and(|until| self.day(self.as_of()) < until)
    }

    fn water_of(&self, tank: &Subject) -> Subject {
        self.system_at(tank, self.as_of()).unwrap_or_else(|| tank.clone())
    }

    /// Places in tanks that cases are taken into and that are in use, each with the note that set it up.
    #[must_use]
    pub fn places_in_use(&self) -> Vec<(Subject, Noted<PlaceSetUp>)> {
        let all = self.subjects("place").filter_map(|place| {
            let set_up = self.creations(place).iter().find_map(|fact| fact.noted(of!(PlaceSetUp)))?;
            let tank = &set_up.told.tank.0;
            let retired = self.house_facts(tank).iter().any(|fact| matches!(fact.house(), Some(House::Retired(_))));
            (!retired && self.takes_cases(tank)).then(|| (place.clone(), set_up))
        });
        all.collect()
    }

    fn slots(&self) -> Vec<Slot> {
        let slot = |(place, set_up): (Subject, Noted<PlaceSetUp>)| {
            let told = set_up.told;
            let tank = told.tank.0;
            let quarantine = self.quarantine_at(&tank, self.as_of()).map(|(quarantine, _)| quarantine.started.when.event.to_string());
            Slot {
                place,
                label: told.label,
                water: self.water_of(&tank),
                tank,
                quarantine,
                order: told.order.0,
                cases_max: told.cases_max.map(|count| count.0),
            }
        };
        self.places_in_use().into_iter().map(slot).collect()
    }
}
