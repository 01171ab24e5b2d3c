//! The part for the studbook keeper: who lives, of whom they come, what is on its way, what is gone before
//! it had a number, what the programme advised, and what samples are held. A state of a parent is a word.

use super::grouped::came;
use super::stock::Basis;
use super::table::{Behind, Part, PartTable, number, words};
use super::title::Title;
use super::window::Window;
use crate::domain::parents::Parent;
use crate::domain::state::{
    Animal, AnimalFate, AnimalOrigin, BreedingAdvised, Egg, EggFate, EventId, LifeState, Moment, ParentStatus, Parentage,
};
use crate::domain::told_house::House;
use selachron_schemas::names::Subject;
use selachron_schemas::time::whole_days;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// The studbook keeper's part.
pub fn studbook(window: &Window<'_, '_>) -> Part {
    let mates = Mates::of(window);
    let tables = vec![living(window, &mates), founders(window), incubating(window), unnumbered(window), advice(window), samples(window)];
    Part { tables }
}

/// What is known of the parents' life in human care.
struct Mates<'w> {
    animals: BTreeMap<&'w Subject, &'w Animal>,
    eggs: BTreeMap<&'w Subject, &'w Egg>,
}

impl<'w> Mates<'w> {
    fn of(window: &'w Window<'_, '_>) -> Self {
        Self {
            animals: window.closing.animals.iter().map(|animal| (&animal.id, animal)).collect(),
            eggs: window.closing.eggs.iter().map(|egg| (&egg.id, egg)).collect(),
        }
    }

    /// Whether the parents mated in human care: *yes* where both are known and were here before the case was
    /// laid, and one of them never lived in the wild, or the sender says it was bred in care; *no* where it came
    /// from the wild or had no sire; else *unknown*, for two that were caught may have mated before, and sperm
    /// is stored for years (DOMAIN section 2: 45 months and more).
    fn in_care(&self, animal: &Animal) -> &'static str {
        match &animal.origin {
            AnimalOrigin::Received { origin, .. } if origin == "bred in care" => BY_THE_SENDERS_WORD,
            AnimalOrigin::Received { origin, .. } if origin == "wild" => "no: from the wild",
            _ if animal.sire.status == ParentStatus::None => "no: without a sire",
            AnimalOrigin::Hatched { egg, .. } => self.of_both(animal, egg),
            _ => "unknown",
        }
    }

    fn of_both(&self, animal: &Animal, egg: &Subject) -> &'static str {
        // Where nobody knows since when the tank had been searched, the case may be older than its find.
        let laid = self.eggs.get(egg).and_then(|egg| egg.laid_window.not_before);
        let known = |parent: &Parentage| {
            let known = parent.animals.first().filter(|_| parent.status == ParentStatus::Known)?;
            self.animals.get(&known.animal).copied()
        };
        let (Some(laid), Some(dam), Some(sire)) = (laid, known(&animal.dam), known(&animal.sire)) else { return "unknown" };
        let both = [dam, sire];
        if both.iter().any(|parent| parent.came.time > laid) {
            return "unknown";
        }
        let hatched_here =
            |parent: &Animal| matches!(parent.origin, AnimalOrigin::Hatched { .. } | AnimalOrigin::ToldApart { hatched_here: true, .. });
        let bred_in_care = |parent: &Animal| matches!(&parent.origin, AnimalOrigin::Received { origin, .. } if origin == "bred in care");
        if both.into_iter().any(hatched_here) {
            "yes"
        } else if both.into_iter().any(bred_in_care) {
            BY_THE_SENDERS_WORD
        } else {
            "unknown"
        }
    }
}

/// Whoever sent an animal says that it was bred in care.
const BY_THE_SENDERS_WORD: &str = "yes, by the sender's word";

fn living(window: &Window<'_, '_>, mates: &Mates<'_>) -> PartTable {
    let mut table = PartTable::new(
        "living",
        "Living animals",
        "Those here that are known one by one; where each is and what it bears. Parents: known, candidates, unknown, none (no sire) or \
         wild_caught. Where nobody saw it hatch: the last day on which the case was known closed, and the day it was found. Mating in human \
         care: yes only where both parents are known and were here before the case was laid, and one of them hatched here or, by the \
         sender's word, was bred in care: two that were caught may have mated before.",
        vec![
            words("animal", "Animal"),
            words("identifiers", "identifiers"),
            words("species", "species"),
            words("sex", "sex"),
            words("place", "place"),
            words("hatched_on", "hatched"),
            words("dam", "dam"),
            words("sire", "sire"),
            words("mated_in_care", "mating in human care"),
        ],
    );
    for animal in window.closing.animals.iter().filter(|animal| animal.fate == AnimalFate::Present) {
        let parents = window.closing_view.parents(animal);
        let cells = [
            window.called(&animal.id),
            json!(animal.identifiers()),
            window.species(animal.species.as_ref()),
            json!(animal.sex),
            animal.place.as_ref().map_or(Value::Null, |place| window.called(&place.tank)),
            hatched_on(window, animal),
            parent(window, &parents.dam),
            parent(window, &parents.sire),
            json!(mates.in_care(animal)),
        ];
        let marks = animal.marks.iter().map(|mark| mark.said.when.event);
        let place = animal.place.as_ref().map(|place| place.since.event);
        let of_parents = parents.dam.events.iter().chain(&parents.sire.events).copied();
        table.row(cells, Behind::of(&animal.id).on([animal.came.event]).on(place).on(marks).on(of_parents));
    }
    living_elsewhere(window, &mut table);
    table
}

/// Of whom no row tells: ours that are lent out, and groups.
fn living_elsewhere(window: &Window<'_, '_>, table: &mut PartTable) {
    let is_ours = |animal: &&Animal| {
        let title = Title::of(&animal.id, Basis::Ownership, &window.closing.loans);
        animal.fate != AnimalFate::Present && title.holds(&animal.fate)
    };
    let lent: Vec<String> = window.closing.animals.iter().filter(is_ours).map(|animal| window.view.called(&animal.id)).collect();
    if !lent.is_empty() {
        table.footnote(format!("Ours that are lent out, and in no row: {}.", lent.join(", ")));
    }
    let living = window.closing.groups.iter().filter(|group| group.counts.total() > 0);
    let groups: Vec<String> = living.map(|group| format!("{} ({})", group.label, group.counts.told())).collect();
    if !groups.is_empty() {
        table.footnote(format!("In groups that cannot be told apart, and in no row (males.females.unknown): {}.", groups.join(", ")));
    }
}

fn hatched_on(window: &Window<'_, '_>, animal: &Animal) -> Value {
    match &animal.origin {
        AnimalOrigin::Hatched { still_closed: Some(last), .. } if window.view.day(last.time) < window.view.day(animal.came.time) => {
            json!(format!("{} to {}", window.view.day(last.time), window.view.day(animal.came.time)))
        }
        AnimalOrigin::Hatched { .. } => window.day(animal.came),
        AnimalOrigin::Received { hatched_on_estimate, .. } | AnimalOrigin::ToldApart { hatched_on_estimate, .. } => {
            json!(hatched_on_estimate)
        }
        AnimalOrigin::Withheld => Value::Null,
    }
}

fn parent(window: &Window<'_, '_>, parent: &Parent) -> Value {
    let names: Vec<String> = parent.animals.iter().map(|one| window.view.called(&one.animal)).collect();
    json!(if names.is_empty() { parent.status.word().to_owned() } else { format!("{}: {}", parent.status.word(), names.join(", ")) })
}

fn founders(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "founders",
        "Founders",
        "Animals that came from elsewhere without a known parent or candidates for one, also those told apart from a group that came so: where \
         each came from, and how many living animals have it for a known dam or sire.",
        vec![
            words("animal", "Animal"),
            words("species", "species"),
            words("origin", "origin"),
            words("from", "from"),
            words("came_on", "came"),
            words("state", "now"),
            number("young_living", "living young"),
        ],
    );
    let known = |parent: &Parentage| parent.animals.first().filter(|_| parent.status == ParentStatus::Known).map(|one| one.animal.clone());
    let mut young: BTreeMap<Subject, u64> = BTreeMap::new();
    for animal in window.closing.animals.iter().filter(|animal| animal.fate == AnimalFate::Present) {
        for parent in [known(&animal.dam), known(&animal.sire)].into_iter().flatten() {
            *young.entry(parent).or_default() += 1;
        }
    }
    for animal in &window.closing.animals {
        let Some((origin, from)) = founder(window, animal) else { continue };
        let state = if animal.fate == AnimalFate::Present { "living" } else { "not living here" };
        let of_it = young.get(&animal.id).copied().unwrap_or_default();
        let cells = [
            window.called(&animal.id),
            window.species(animal.species.as_ref()),
            json!(origin),
            json!(from),
            window.day(animal.came),
            json!(state),
            json!(of_it),
        ];
        table.row(cells, Behind::of(&animal.id).on([animal.came.event]).on(animal.fate.when().map(|when| when.event)));
    }
    table
}

/// What is said of where it came from, and from whom, if it has no parent in the record.
fn founder(window: &Window<'_, '_>, animal: &Animal) -> Option<(String, Option<String>)> {
    let has = |parent: &Parentage| matches!(parent.status, ParentStatus::Known | ParentStatus::Candidates);
    if has(&animal.dam) || has(&animal.sire) {
        return None;
    }
    match &animal.origin {
        AnimalOrigin::Received { origin, from, .. } => Some((origin.clone(), Some(from.clone()))),
        AnimalOrigin::ToldApart { group, .. } if came(&window.closing.groups, group) == Some("received") => {
            Some((format!("out of group {}", window.view.called(group)), None))
        }
        _ => None,
    }
}

fn incubating(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "incubating",
        "Cases incubating",
        "Open at the end of these months.",
        vec![
            words("case", "Case"),
            words("species", "species"),
            words("came_on", "came"),
            words("place", "place"),
            words("dam", "dam"),
            words("sire", "sire"),
            words("embryo_seen_alive_on", "embryo seen alive"),
            number("band", "band"),
        ],
    );
    for egg in window.closing.eggs.iter().filter(|egg| egg.fate == EggFate::Open) {
        let cells = [
            window.called(&egg.id),
            window.species(egg.species.as_ref()),
            window.day(egg.came),
            egg.place.as_ref().map_or(Value::Null, |place| window.called(&place.tank)),
            window.parent(&egg.dam),
            window.parent(&egg.sire),
            window.day_of(egg.embryo_seen_alive),
            json!(egg.band),
        ];
        let looked = egg.looks.last().map(|look| look.when.event);
        let place = egg.place.as_ref().map(|place| place.since.event);
        table.row(cells, Behind::of(&egg.id).on([egg.came.event]).on(looked).on(place).on(egg.embryo_seen_alive.map(|seen| seen.event)));
    }
    table
}

fn unnumbered(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "unnumbered",
        "Young that died before they were numbered",
        "Hatched, and dead in these months without a label or mark; those that were dead when first seen out of their case stand here too.",
        vec![
            words("case", "Case"),
            words("species", "species"),
            words("hatched_on", "hatched"),
            words("died_on", "died"),
            number("lived_days", "days"),
            words("dam", "dam"),
            words("sire", "sire"),
        ],
    );
    for animal in window.closing.animals.iter().filter(|animal| animal.label.is_none() && animal.marks.is_empty()) {
        let AnimalOrigin::Hatched { egg, .. } = &animal.origin else { continue };
        let Some(died) = end_of(animal).filter(|died| window.has(*died)) else { continue };
        let day = |moment: Moment| window.view.day(moment.time);
        let cells = [
            window.called(egg),
            window.species(animal.species.as_ref()),
            window.day(animal.came),
            window.day(died),
            json!(whole_days(day(animal.came), day(died))),
            window.parent(&animal.dam),
            window.parent(&animal.sire),
        ];
        table.row(cells, Behind::of(&animal.id).on([animal.came.event, died.event]));
    }
    table
}

fn end_of(animal: &Animal) -> Option<Moment> {
    match &animal.fate {
        AnimalFate::DeadAtHatch { when } => Some(*when),
        _ => super::followed::death(animal),
    }
}

fn advice(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "advice",
        "Breeding advice, and whether it was followed",
        "Advice that came in these months, or that still held in them. Followed is judged by what the record says since: cases of a known dam \
         for advice to breed, the want of them for advice not to, a departure for advice to send on. The record judges nothing else.",
        vec![
            words("animal", "Animal"),
            words("advice", "advice"),
            words("partner", "with"),
            words("programme", "programme"),
            words("advised_on", "advised"),
            words("valid_until", "holds until"),
            words("followed", "followed"),
        ],
    );
    for animal in &window.closing.animals {
        let facts = window.closing_view.facts_but_routine(&animal.id);
        for fact in facts.iter().filter(|fact| fact.subject() == &animal.id) {
            let Some(House::BreedingAdvised(told)) = fact.house() else { continue };
            let advised = fact.moment();
            let over = told
                .valid_until
                .as_ref()
                .and_then(|day| day.parse().ok())
                .is_some_and(|day: chrono::NaiveDate| day < window.days.first_day);
            if over && !window.has(advised) {
                continue;
            }
            let (followed, events) = followed(window, animal, told, advised);
            let cells = [
                window.called(&animal.id),
                json!(told.advice),
                told.partner.as_ref().map_or(Value::Null, |partner| window.called(partner)),
                json!(told.programme),
                window.day(advised),
                json!(told.valid_until),
                json!(followed),
            ];
            table.row(cells, Behind::of(&animal.id).on([advised.event]).on(events));
        }
    }
    table
}

/// Whether advice was followed, as far as the notes since then tell, and these notes.
fn followed(window: &Window<'_, '_>, animal: &Animal, told: &BreedingAdvised, advised: Moment) -> (&'static str, Vec<EventId>) {
    let is = |parent: &Parentage, who: &Subject| {
        parent.status == ParentStatus::Known && parent.animals.first().is_some_and(|known| &known.animal == who)
    };
    let of = |egg: &&Egg| egg.came.time > advised.time && (is(&egg.dam, &animal.id) || is(&egg.sire, &animal.id));
    let cases: Vec<&Egg> = window.closing.eggs.iter().filter(of).collect();
    let events = |cases: &[&Egg]| cases.iter().map(|egg| egg.came.event).collect::<BTreeSet<_>>().into_iter().collect();
    match told.advice.as_str() {
        "breed" if !cases.is_empty() => ("yes: cases since", events(&cases)),
        "breed with the one named" => {
            let Some(partner) = &told.partner else { return ("cannot tell: nobody is named", Vec::new()) };
            let both = |egg: &&&Egg| is(&egg.dam, partner) || is(&egg.sire, partner);
            match cases.iter().filter(both).copied().collect::<Vec<_>>() {
                with if !with.is_empty() => ("yes: cases of both since", events(&with)),
                _ if cases.is_empty() => ("no case since", Vec::new()),
                _ => ("cannot tell: cases since, of another or an unknown mate", events(&cases)),
            }
        }
        "breed" => ("no case since", Vec::new()),
        "do not breed" if cases.is_empty() => ("yes: no case known to be its own since", Vec::new()),
        "do not breed" => ("no: cases since", events(&cases)),
        "send on" => left_alive_since(animal, advised).map_or(("not yet", Vec::new()), |when| ("yes: it left", vec![when.event])),
        "no advice" => ("nothing to follow", Vec::new()),
        _ => ("cannot tell", Vec::new()),
    }
}

/// When it first left alive after that, whether it came back since or not.
fn left_alive_since(animal: &Animal, advised: Moment) -> Option<Moment> {
    let returned = animal.absences.iter().filter(|absence| absence.what == "departed").map(|absence| absence.since);
    let gone = match &animal.fate {
        AnimalFate::Departed { when, alive, .. } if *alive != LifeState::Dead => Some(*when),
        _ => None,
    };
    returned.chain(gone).find(|when| when.time > advised.time)
}

fn samples(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "samples",
        "Samples held",
        "Taken until the end of these months and not sent away.",
        vec![
            words("sample", "Sample"),
            words("what", "what"),
            words("of", "of"),
            words("kept", "kept"),
            words("taken_on", "taken"),
            words("state", "state"),
            words("licence", "licence"),
        ],
    );
    let view = window.closing_view;
    for sample in view.subjects("sample").filter_map(|id| view.sample(id)).filter(|sample| sample.sent.is_none()) {
        let taken = &sample.taken;
        let cells = [
            json!(taken.told.label),
            json!(taken.told.what),
            window.called_all(taken.told.of.iter().map(|thing| &thing.0)),
            json!(taken.told.kept),
            window.day(taken.when),
            json!(sample.state),
            json!(taken.told.licence_reference),
        ];
        table.row(cells, Behind::of(&sample.id).on([taken.when.event]).on(sample.reports.iter().map(|report| report.when.event)));
    }
    table
}
