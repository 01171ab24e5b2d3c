//! What is due of animals, groups, waters and devices: mass lost, marks that fade, photographs, tanks
//! of groups not walked, groups not seen to eat, water out of band, counts that did not arrive.

use super::discrepancy::odd;
use super::house::of;
use super::record::{DueItem, DueWhat};
use super::state::{Animal, AnimalFate, EventId, Group, TankChecked, TankFed, WaterEpisode};
use super::view::View;
use chrono::Days;
use selachron_schemas::limits::{GAP_HOURS, OFFLINE_DAYS_MAX};
use selachron_schemas::names::Subject;
use selachron_schemas::time::{DAY_MS, HOUR_MS, Instant};

/// By what an animal is told apart that is photographed again.
const PATTERN: &str = "natural pattern";

impl View<'_> {
    /// What is due of the animals beside their first meal.
    pub(super) fn due_of_lives(&self, animals: &[Animal]) -> Vec<DueItem> {
        let present = animals.iter().filter(|animal| animal.fate == AnimalFate::Present);
        let of_animals = present.flat_map(|animal| {
            let mut rows: Vec<DueItem> = self.mass_lost(animal).into_iter().chain(self.to_photograph(animal)).collect();
            rows.extend(self.marks_fading(animal));
            rows
        });
        let groups = self.groups();
        let of_groups = groups.iter().filter(|group| group.ended.is_none());
        of_animals.chain(of_groups.flat_map(|group| self.due_of_group(group))).collect()
    }

    fn due_of_group(&self, group: &Group) -> impl Iterator<Item = DueItem> {
        [self.group_to_walk(group), self.group_not_eating(group), self.group_to_count(group)].into_iter().flatten()
    }

    /// A group is counted anew after so many days, if the house says how many.
    fn group_to_count(&self, group: &Group) -> Option<DueItem> {
        let days = self.policy().group_count_interval_days?;
        let counted = group.last_full_count.unwrap_or(group.formed);
        let then = self.day(counted.time);
        let due_at = self.morning(then.checked_add_days(Days::new(u64::from(days)))?);
        let why = format!("Last counted in full on {then}; the policy asks for a count every {days} days.");
        Some(self.group_item(group, DueWhat::CountGroup, due_at, why, &[counted.event]))
    }

    /// Mass lost since the last weighing: what the record finds at odds about the newest weighing, as a
    /// row of its own with the discrepancy to settle, until somebody has.
    fn mass_lost(&self, animal: &Animal) -> Option<DueItem> {
        let weighed: Vec<EventId> =
            animal.measures.iter().filter(|measure| measure.mass_g.is_some()).map(|measure| measure.when.event).collect();
        let last = weighed.last()?;
        let found = self.odd_about(&animal.id);
        let found = found.iter().find(|found| found.open && found.kind == odd::MASS_LOST.words && found.events.contains(last))?;
        let why = format!("{} A veterinarian judges what it means.", found.says);
        let item = self.animal_item(animal, DueWhat::MassLost, found.since, why, &found.events);
        Some(DueItem { discrepancy: Some(found.id.clone()), whose: found.asked.clone().into_iter().collect(), ..item })
    }

    /// The day on which a temporary mark can be trusted for the last time.
    fn marks_fading(&self, animal: &Animal) -> Vec<DueItem> {
        let removed = |mark: &super::state::Mark| {
            let told = &mark.said.told;
            let later = animal.marks.iter().filter(|other| other.said.when.time > mark.said.when.time && other.said.told.by == told.by);
            later.into_iter().any(|other| matches!(other.said.told.what.as_str(), "removed" | "given"))
        };
        let given = animal.marks.iter().filter(|mark| mark.said.told.what == "given" && mark.said.told.temporary && !removed(mark));
        let row = |mark: &super::state::Mark| {
            let until = mark.said.told.until?;
            let why = format!(
                "Its temporary mark ({}) can be trusted until {until}; after that it is told apart by nothing newer.",
                mark.said.told.by
            );
            Some(self.animal_item(animal, DueWhat::MarkExpiring, self.morning(until), why, &[mark.said.when.event]))
        };
        given.filter_map(row).collect()
    }

    /// An animal that is told by its pattern is photographed again, if the house says how often.
    fn to_photograph(&self, animal: &Animal) -> Option<DueItem> {
        let days = self.policy().photo_interval_days?;
        let last = animal.marks.iter().rev().find(|mark| mark.said.told.by == PATTERN && mark.said.told.what != "removed")?;
        let then = self.day(last.said.when.time);
        let due_at = self.morning(then.checked_add_days(Days::new(u64::from(days)))?);
        let why = format!("Told by its natural pattern, last on {then}; the policy asks for a photograph every {days} days.");
        Some(self.animal_item(animal, DueWhat::Photograph, due_at, why, &[last.said.when.event]))
    }

    /// A group is seen when its tank is checked, fed or counted.
    fn group_to_walk(&self, group: &Group) -> Option<DueItem> {
        let (hours, place) = (self.policy().walk_interval_hours?, group.place.as_ref()?);
        let checked = self.newest_routine(&place.tank, of!(TankChecked)).map(|noted: super::state::Noted<TankChecked>| noted.when);
        let fed = self.newest_routine(&place.tank, of!(TankFed)).map(|noted: super::state::Noted<TankFed>| noted.when);
        let seen = [checked, fed, group.last_full_count, group.last_eaten, Some(place.since)];
        let last = seen.into_iter().flatten().max_by_key(|moment| moment.time)?;
        let due_at = last.time.plus_ms(i64::from(hours) * HOUR_MS);
        let why =
            format!("The tank of the group was last looked at on {}; the policy asks for a walk every {hours} hours.", self.day(last.time));
        Some(self.group_item(group, DueWhat::WalkGroup, due_at, why, &[last.event]))
    }

    /// A group counts from the last time something was seen eaten, else from when it was formed.
    fn group_not_eating(&self, group: &Group) -> Option<DueItem> {
        let species = group.species.as_ref()?;
        let days = self.listing(species)?.not_seen_to_eat_days?;
        let from = group.last_eaten.unwrap_or(group.formed);
        let (since, what) = (self.day(from.time), if group.last_eaten.is_some() { "Last seen to eat" } else { "Put down as a group" });
        let due_at = self.morning(since.checked_add_days(Days::new(u64::from(days)))?);
        let why = format!("{what} on {since} and nothing seen eaten since; the species' threshold is {days} days.");
        let listed = self.creations(species).first().map(|fact| fact.note.id);
        let events: Vec<EventId> = listed.into_iter().chain([from.event]).collect();
        Some(self.group_item(group, DueWhat::NotSeenToEat, due_at, why, &events))
    }

    /// Waters that are outside a band now.
    pub(super) fn due_of_water(&self) -> Vec<DueItem> {
        let open = self.water_episodes().into_iter().filter(|episode| episode.state == "open");
        open.map(|episode| self.water_item(&episode)).collect()
    }

    fn water_item(&self, episode: &WaterEpisode) -> DueItem {
        let (name, unit) = episode.quantity.words();
        let point = episode.point.as_ref().map_or(String::new(), |point| format!(" ({point})"));
        let hollow = if episode.hollow == episode.readings { " The instrument is past its calibration." } else { "" };
        let why = format!(
            "{name} outside {} {unit} ({}), by {}{point}: farthest {} on {}; exposed: {}.{hollow}",
            episode.band.range(),
            episode.band.basis,
            episode.instrument,
            episode.peak.value,
            self.day(episode.peak.when.time),
            exposed(episode)
        );
        let events = [episode.start.event, episode.peak.when.event];
        self.house_item(&episode.water, DueWhat::WaterOutOfBand, episode.start.time, why, &events)
    }

    /// Counts of a device that did not arrive, until they are a discrepancy to be settled.
    pub(super) fn due_of_devices(&self) -> Vec<DueItem> {
        let keys = self.nursery().index().counts.keys();
        let missing =
            keys.flat_map(|keyid| self.counts_missing(*keyid)).filter(|found| found.open && found.kind == odd::COUNT_MISSING.words);
        let fresh = missing.filter(|found| self.as_of().0 - found.since.0 < OFFLINE_DAYS_MAX * DAY_MS);
        let row = |found: super::discrepancy::Discrepancy| {
            let key = found.subjects.first()?.clone();
            let why = format!("{} Its device may still hold them: bring it on line.", found.says);
            let due_at = found.since.plus_ms(GAP_HOURS * HOUR_MS);
            Some(DueItem { events: found.events, ..self.house_item(&key, DueWhat::DeviceNotesMissing, due_at, why, &[]) })
        };
        fresh.filter_map(row).collect()
    }

    pub(super) fn animal_item(&self, animal: &Animal, what: DueWhat, due_at: Instant, why: String, events: &[EventId]) -> DueItem {
        let tank = animal.place.as_ref().map(|place| place.tank.clone());
        DueItem { label: animal.label.clone().unwrap_or_default(), tank, ..self.house_item(&animal.id, what, due_at, why, events) }
    }

    fn group_item(&self, group: &Group, what: DueWhat, due_at: Instant, why: String, events: &[EventId]) -> DueItem {
        let tank: Option<Subject> = group.place.as_ref().map(|place| place.tank.clone());
        DueItem { label: group.label.clone(), tank, ..self.house_item(&group.id, what, due_at, why, events) }
    }
}

fn exposed(episode: &WaterEpisode) -> String {
    let counts = [(episode.eggs.len(), "case"), (episode.animals.len(), "animal"), (episode.groups.len(), "group")];
    let many = |(count, of): (usize, &str)| format!("{count} {of}{}", if count == 1 { "" } else { "s" });
    let told: Vec<String> = counts.into_iter().filter(|(count, _)| *count > 0).map(many).collect();
    if told.is_empty() { "nobody".to_owned() } else { told.join(", ") }
}
