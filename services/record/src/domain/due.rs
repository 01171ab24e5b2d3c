//! What is due at V: part of the fold, never a row. House rules ask for attention and refuse
//! nothing; the licensed veterinarian and the institution's welfare process decide.

use super::record::{DueItem, DueWhat};
use super::state::{Animal, Egg, EggFate, EventId, Moment};
use super::view::View;
use chrono::{Days, NaiveDate};
use selachron_schemas::time::{HOUR_MS, Instant, whole_days};
use std::collections::BTreeSet;

impl View<'_> {
    /// Everything that is due by `until`, the longest due first.
    #[must_use]
    pub fn due(&self, until: Instant) -> Vec<DueItem> {
        let eggs = self.eggs();
        let of_eggs = eggs.iter().filter(|egg| egg.fate == EggFate::Open).filter_map(|egg| self.due_for_egg(egg));
        let animals = self.animals();
        let of_animals = animals.iter().filter_map(|animal| self.due_for_animal(animal));
        let signatures = eggs.iter().flat_map(|egg| self.signatures_due(egg));
        let own = of_eggs.chain(of_animals).chain(self.due_of_house()).chain(signatures).chain(self.to_settle());
        let more = self.due_of_cases(&eggs).into_iter().chain(self.due_of_lives(&animals)).chain(self.due_of_water());
        let all = own.chain(more).chain(self.due_of_devices());
        let items: Vec<DueItem> = all.filter(|item| item.due_at <= until).map(|item| self.placed(self.marked(item))).collect();
        let mut items = once(items);
        items.sort_by(|a, b| (a.due_at, a.what, &a.subject, &a.discrepancy).cmp(&(b.due_at, b.what, &b.subject, &b.discrepancy)));
        items
    }

    fn due_for_egg(&self, egg: &Egg) -> Option<DueItem> {
        match (&egg.held_apart, egg.taken_in) {
            (Some(_), _) => self.look_again(egg),
            (None, Some(taken_in)) => self.candle(egg, taken_in),
            // A case that was left in the adults' tank is nobody's to candle.
            (None, None) => None,
        }
    }

    fn look_again(&self, egg: &Egg) -> Option<DueItem> {
        let held = egg.held_apart.as_ref()?;
        let hours = held.look_again_after_hours.unwrap_or(self.policy().look_again_after_hours);
        let from = held.last_look.unwrap_or(held.since);
        let due_at = from.time.plus_ms(i64::from(hours) * HOUR_MS);
        let why = format!("Held apart on {} ({}); to be looked at again {hours} hours later.", self.day(held.since.time), held.reason);
        let events = [held.since.event, from.event];
        Some(self.egg_item(egg, DueWhat::LookAgain, due_at, why, &events))
    }

    fn candle(&self, egg: &Egg, taken_in: Moment) -> Option<DueItem> {
        let policy = self.policy();
        let (day, why, event) = match egg.looks.last() {
            Some(look) => {
                let days = policy.interval_days(egg.band);
                let (then, band) = (self.day(look.when.time), egg.band.map_or(String::new(), |band| format!(" in band {band}")));
                let why = format!("Last candled on {then}{band}; the policy asks for a look every {days} days.");
                (after(then, days)?, why, look.when.event)
            }
            None => {
                let (day, why) = self.first_look(egg, taken_in)?;
                (day, why, egg.came.event)
            }
        };
        let events: Vec<EventId> = policy.events.last().into_iter().copied().chain([event]).collect();
        Some(self.egg_item(egg, DueWhat::Candle, Instant::start_of_day(day, self.zone()), why, &events))
    }

    /// The first scheduled look: after the rest that the policy grants a newly laid case, but not
    /// before it came; without such a rule one interval after it was taken in.
    fn first_look(&self, egg: &Egg, taken_in: Moment) -> Option<(NaiveDate, String)> {
        let policy = self.policy();
        let (laid, taken) = (self.day(egg.laid_window.not_after), self.day(taken_in.time));
        match policy.rest_after_laying_days {
            Some(days) => {
                let why = format!("Laid by {laid} and not candled yet; the policy grants {days} days of rest.");
                Some((after(laid, days)?.max(taken), why))
            }
            None => {
                let days = policy.candling_interval_days;
                let why = format!("Taken in on {taken} and not candled yet; the policy asks for a look every {days} days.");
                Some((after(taken, days)?, why))
            }
        }
    }

    /// Not seen to eat, counted from the internal yolk used up if that was seen, else from the
    /// hatch; the species says how long, and nothing stands in where it does not (DOMAIN 4).
    fn due_for_animal(&self, animal: &Animal) -> Option<DueItem> {
        let hatched = animal.hatched_alive()?;
        if animal.fate.when().is_some() || animal.first_eaten.is_some() {
            return None;
        }
        let species = animal.species.as_ref()?;
        let days = self.listing(species)?.not_seen_to_eat_days?;
        let (from, what) = match animal.internal_yolk_used_up {
            Some(used_up) => (used_up, "Internal yolk used up"),
            None => (hatched, "Hatched"),
        };
        let since = self.day(from.time);
        let due_at = Instant::start_of_day(after(since, days)?, self.zone());
        let listed = self.creations(species).first().map(|fact| fact.note.id);
        Some(DueItem {
            what: DueWhat::NotSeenToEat,
            subject: animal.id.clone(),
            label: animal.label.clone().unwrap_or_default(),
            tank: animal.place.as_ref().map(|place| place.tank.clone()),
            due_at,
            overdue_days: self.overdue_days(due_at),
            why: format!("{what} on {since} and not seen to eat; the species' threshold is {days} days."),
            events: sorted(listed.into_iter().chain([hatched.event, from.event])),
            whose: Vec::new(),
            discrepancy: None,
            suspected: Vec::new(),
            urgency: DueWhat::NotSeenToEat.urgency(),
            tank_label: None,
            place: None,
        })
    }

    pub(super) fn egg_item(&self, egg: &Egg, what: DueWhat, due_at: Instant, why: String, events: &[EventId]) -> DueItem {
        DueItem {
            what,
            subject: egg.id.clone(),
            label: egg.label.clone(),
            tank: egg.place.as_ref().map(|place| place.tank.clone()),
            due_at,
            overdue_days: self.overdue_days(due_at),
            why,
            events: sorted(events.iter().copied()),
            whose: Vec::new(),
            discrepancy: None,
            suspected: Vec::new(),
            urgency: what.urgency(),
            tank_label: None,
            place: None,
        }
    }

    pub(super) fn overdue_days(&self, due_at: Instant) -> i64 {
        whole_days(self.day(due_at), self.day(self.as_of())).max(0)
    }
}

/// A discrepancy that has a row of its own kind is told by that row alone.
fn once(mut items: Vec<DueItem>) -> Vec<DueItem> {
    let own = items.iter().filter(|item| item.what != DueWhat::Discrepancy);
    let told: BTreeSet<String> = own.filter_map(|item| item.discrepancy.clone()).collect();
    items.retain(|item| item.what != DueWhat::Discrepancy || item.discrepancy.as_ref().is_none_or(|id| !told.contains(id)));
    items
}

fn after(day: NaiveDate, days: u32) -> Option<NaiveDate> {
    day.checked_add_days(Days::new(u64::from(days)))
}

fn sorted(events: impl Iterator<Item = EventId>) -> Vec<EventId> {
    let mut events: Vec<EventId> = events.collect();
    events.sort_unstable();
    events.dedup();
    events
}
