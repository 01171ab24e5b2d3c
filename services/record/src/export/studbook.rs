//! The studbook: one row an animal, with who it is, its parents, how it came, where it went and how it
//! ended, and the notes behind every cell. The columns are ours, in plain words; a parent whom nobody
//! can name has a word for that, and no stand-in code.

use super::cell::{Cell, IntoCell as _, row};
use super::folder::{Rows, Table};
use super::shape::{Column, Of, Row, SUSPECTED, Shape, column};
use super::tables::animals::{came, death, fate_word};
use super::tables::eggs::weighed;
use super::tables::{scientific_name, word};
use super::transfers::transfers_in;
use crate::domain::parents::Parent;
use crate::domain::state::{Animal, AnimalFate, AnimalOrigin, EventId, FOUND_HATCHED, Moment};
use crate::domain::view::View;
use selachron_schemas::names::Subject;
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;

/// The studbook.
pub const STUDBOOK: Table = Table { shape: &STUDBOOK_SHAPE, rows: Rows::OfThings(&["animal"], studbook_row) };

/// The notes behind its cells.
pub const STUDBOOK_NOTES: Table = Table { shape: &NOTES_SHAPE, rows: Rows::OfThings(&["animal"], note_rows) };

const STUDBOOK_SHAPE: Shape = Shape {
    name: "studbook",
    about: "One row an animal. The table studbook_notes names the notes behind each cell.",
    columns: &[
        column("animal", Of::Text, "The animal."),
        column("label", Of::Text, "Its label."),
        column("identifiers", Of::Text, "Marks and tags that it bears, with semicolons between them."),
        column("species", Of::Text, "Its species; empty where no note that stands says it."),
        column("scientific_name", Of::Text, "Name of the species as the collection lists it."),
        column("sex", Of::Text, "male, female or unknown, as far as it can be told."),
        column("dam_state", Of::Text, "known, candidates, unknown, none or wild_caught."),
        column("dams", Of::Several, "The dam, or those who may be."),
        column("dam_weights", Of::Several, "Share of each, in the same order; they sum to 1."),
        column("dam_basis", Of::Text, "What it rests on, in words."),
        column("sire_state", Of::Text, "known, candidates, unknown, none (it developed from an unfertilised egg) or wild_caught."),
        column("sires", Of::Several, "The sire, or those who may be."),
        column("sire_weights", Of::Several, "Share of each, in the same order; they sum to 1."),
        column("sire_basis", Of::Text, "What it rests on, in words."),
        column("origin", Of::Text, "hatched, received, told_apart (from a group) or withheld."),
        column("origin_before", Of::Text, "Of one received: wild, bred in care or unknown."),
        column("hatched_on", Of::Day, "The day of its hatch; empty where nobody knows."),
        column(
            "hatched_after",
            Of::Day,
            "Found hatched: its case was last known to be closed on this day, and it hatched not after hatched_on.",
        ),
        column("hatch_day_is", Of::Text, "seen (to the day), between_looks (found hatched), estimate or not_known."),
        column("egg", Of::Text, "The case it hatched from."),
        column("came_on", Of::Day, "The day it hatched here, arrived, or was told apart from a group."),
        column("came_from", Of::Text, "Who sent it, a pseudonym where it is a person."),
        column("transfers", Of::Text, "Comings and goings, with semicolons between them."),
        column(
            "state",
            Of::Text,
            "present, dead_at_hatch, dead_on_arrival, died, missing, escaped, grouped (it cannot be told apart from others since) or departed.",
        ),
        column("ended_on", Of::Day, "The day of its death or leaving, or since when it is missing."),
        column("ended_after", Of::Day, "It ended after this day and not after ended_on."),
        column("death_how_known", Of::Text, "found dead, seen to die, by a veterinarian's decision."),
        column("apparent_cause", Of::Text, "Apparent cause of death."),
        column("cause_determined", Of::Text, "Cause of death as a veterinarian or laboratory determined it."),
        column("last_seen_alive_on", Of::Day, "Newest sighting alive."),
        column("tank", Of::Text, "Label of the tank it is in, while present."),
        column("loan", Of::Text, "in from or out to whom; a loan changes presence, not ownership."),
    ],
    key: &["animal"],
    refers: &[],
};

const NOTES_SHAPE: Shape = Shape {
    name: "studbook_notes",
    about: "The notes behind each cell of the studbook that says something.",
    columns: &[
        column("animal", Of::Text, "The animal."),
        column("cell", Of::Text, "The column of the studbook."),
        column("note", Of::Text, "A note that it rests on."),
    ],
    key: &["animal", "cell", "note"],
    refers: &[("animal", "studbook", "animal")],
};

/// The columns of the studbook.
pub(super) const COLUMNS: &[Column] = STUDBOOK_SHAPE.columns;

/// A cell with the notes it rests on.
pub(super) type Sourced = (Cell, Vec<EventId>);

fn studbook_row(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let row = view.animal(id).map(|animal| sourced(view, &animal));
    row.map(|cells| cells.into_iter().map(|(cell, _)| cell).collect()).into_iter().collect()
}

fn note_rows(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(animal) = view.animal(id) else { return Vec::new() };
    behind(&sourced(view, &animal)).map(|(column, note)| row![id, column, note]).collect()
}

/// Pairs of column and note, of cells that say something.
fn behind(cells: &[Sourced]) -> impl Iterator<Item = (&'static str, EventId)> {
    let named = STUDBOOK_SHAPE.columns.iter().zip(cells).filter(|(_, (cell, _))| !cell.is_absent());
    named.flat_map(|(column, (_, notes))| notes.iter().copied().collect::<BTreeSet<_>>().into_iter().map(|note| (column.name, note)))
}

/// The row of an animal, each cell with its notes.
pub(super) fn sourced(view: &View<'_>, animal: &Animal) -> Vec<Sourced> {
    let mut cells = identity(view, animal);
    let parents = view.parents(animal);
    cells.extend(parent(&parents.dam));
    cells.extend(parent(&parents.sire));
    cells.extend(coming(view, animal));
    cells.extend(ending(view, animal));
    cells
}

fn with(cell: Cell, notes: &[EventId]) -> Sourced {
    (cell, notes.to_vec())
}

fn identity(view: &View<'_>, animal: &Animal) -> Vec<Sourced> {
    let came = [animal.came.event];
    let given: Vec<EventId> = animal.marks.iter().filter(|mark| mark.said.told.what == "given").map(|mark| mark.said.when.event).collect();
    let labelled = animal.marks.iter().rev().find(|mark| mark.said.told.label == animal.label && animal.label.is_some());
    let label_note = labelled.map_or(animal.came.event, |mark| mark.said.when.event);
    let sexed: Vec<EventId> = animal.sexings.last().map(|sexing| sexing.when.event).into_iter().collect();
    let listed = animal.species.as_ref().and_then(|id| view.species(id)).map(|species| species.listed.event);
    vec![
        with((&animal.id).cell(), &came),
        with(animal.label.as_ref().cell(), &[label_note]),
        with(animal.identifiers().cell(), &given),
        with(animal.species.as_ref().cell(), &came),
        with(scientific_name(view, animal.species.as_ref()).cell(), &listed.into_iter().collect::<Vec<_>>()),
        with(word(&animal.sex), if sexed.is_empty() { &came } else { &sexed }),
    ]
}

fn parent(parent: &Parent) -> [Sourced; 4] {
    let (animals, weights) = weighed(parent);
    let notes = &parent.events;
    [with(parent.status.word().cell(), notes), with(animals, notes), with(weights, notes), with(parent.basis.as_ref().cell(), notes)]
}

fn coming(view: &View<'_>, animal: &Animal) -> Vec<Sourced> {
    let (came, notes) = (came(&animal.origin), [animal.came.event]);
    let before = match &animal.origin {
        AnimalOrigin::Received { origin, .. } => Some(origin),
        _ => None,
    };
    let (hatched_on, hatched_after, day_is) = hatch(view, animal);
    let looked: Vec<EventId> = animal.hatched_after().map(|closed| closed.event).into_iter().collect();
    let between = [notes.to_vec(), looked.clone()].concat();
    let arrived = animal.known_since();
    let (transfers, moves) = transfers(view, animal);
    vec![
        with(came.word.cell(), &notes),
        with(before.cell(), &notes),
        with(hatched_on, &notes),
        with(hatched_after, &looked),
        with(day_is.cell(), &between),
        with(came.egg.cell(), &notes),
        with(view.day(arrived.time).cell(), &[arrived.event]),
        with(came.sender.cell(), &notes),
        with(transfers.cell(), &moves),
    ]
}

fn hatch(view: &View<'_>, animal: &Animal) -> (Cell, Cell, &'static str) {
    match &animal.origin {
        AnimalOrigin::Hatched { how_known, .. } => {
            let after = animal.hatched_after().map(|closed| view.day(closed.time));
            (view.day(animal.came.time).cell(), after.cell(), if how_known == FOUND_HATCHED { "between_looks" } else { "seen" })
        }
        AnimalOrigin::Received { hatched_on_estimate: Some(day), .. } | AnimalOrigin::ToldApart { hatched_on_estimate: Some(day), .. } => {
            (day.cell(), Cell::Absent, "estimate")
        }
        _ => (Cell::Absent, Cell::Absent, "not_known"),
    }
}

/// A leaving that two notes tell, one of the animal and one of its consignment, is told once.
fn transfers(view: &View<'_>, animal: &Animal) -> (String, Vec<EventId>) {
    let (mut said, mut notes) = (Vec::<String>::new(), Vec::new());
    for fact in view.facts_but_routine(&animal.id) {
        for transfer in transfers_in(&fact).into_iter().filter(|transfer| transfer.which == animal.id) {
            let told = format!("{} {}", view.day(fact.time()), transfer.says());
            notes.push(fact.note.id);
            if !said.contains(&told) {
                said.push(told);
            }
        }
    }
    (said.join("; "), notes)
}

fn ending(view: &View<'_>, animal: &Animal) -> Vec<Sourced> {
    let day = |moment: Option<Moment>| moment.map(|moment| view.day(moment.time)).cell();
    let ended = animal.fate.when();
    let after = ended.and_then(|moment| moment.timeafter).map(|after| view.day(after)).cell();
    let notes: Vec<EventId> = ended.map(|moment| moment.event).into_iter().collect();
    let state_notes = if notes.is_empty() { vec![animal.came.event] } else { notes.clone() };
    let (how_known, cause) = death(&animal.fate);
    let determined = animal.afterwards.necropsies.iter().filter(|necropsy| necropsy.told.cause_determined.is_some());
    let determined: Vec<EventId> = determined.map(|necropsy| necropsy.when.event).collect();
    let seen: Vec<EventId> = animal.last_seen_alive.map(|moment| moment.event).into_iter().collect();
    let place = animal.place.as_ref().filter(|_| animal.fate == AnimalFate::Present);
    let loan = animal.circumstances.loan.as_ref();
    let lent = loan.map(|loan| format!("{} {} {}", loan.direction, if loan.direction == "in" { "from" } else { "to" }, loan.partner));
    vec![
        with(fate_word(&animal.fate).cell(), &state_notes),
        with(day(ended), &notes),
        with(after, &notes),
        with(how_known.cell(), &notes),
        with(cause.cell(), &notes),
        with(animal.afterwards.cause_determined.as_ref().cell(), &determined),
        with(day(animal.last_seen_alive), &seen),
        with(place.map(|place| view.called(&place.tank)).cell(), &place.map(|place| place.since.event).into_iter().collect::<Vec<_>>()),
        with(lent.cell(), &loan.map(|loan| loan.when.event).into_iter().collect::<Vec<_>>()),
    ]
}

/// The studbook as JSON: each row with the notes behind its cells.
#[must_use]
pub fn json_row(view: &View<'_>, id: &Subject) -> Option<Value> {
    let cells = sourced(view, &view.animal(id)?);
    let mut notes = Map::new();
    for (column, note) in behind(&cells) {
        let listed = notes.entry(column).or_insert_with(|| json!([]));
        if let Some(listed) = listed.as_array_mut() {
            listed.push(note.to_string().into());
        }
    }
    let row: Row = cells.into_iter().map(|(cell, _)| cell).collect();
    let mut object = STUDBOOK_SHAPE.json(&row);
    object["notes"] = Value::Object(notes);
    object[SUSPECTED.name] = (view.suspected_behind(id) > 0).into();
    Some(object)
}
