//! Animals, their measures and feedings, and what comes and goes.

use super::super::cell::row;
use super::super::folder::{Rows, Table};
use super::super::shape::{Of, Row, Shape, column};
use super::super::transfers::{Transfer, transfers_in};
use super::{scientific_name, when, word};
use crate::domain::state::{Animal, AnimalFate, AnimalOrigin};
use crate::domain::told::Told;
use crate::domain::view::{Fact, View};
use selachron_schemas::names::Subject;
use serde_json::{Map, Value};

/// Animals.
pub const ANIMALS: Table = Table { shape: &ANIMALS_SHAPE, rows: Rows::OfThings(&["animal"], animal_row) };
/// Measures of animals.
pub const MEASUREMENTS: Table = Table { shape: &MEASUREMENTS_SHAPE, rows: Rows::OfThings(&["animal"], measure_rows) };
/// Feedings of animals.
pub const FEEDINGS: Table = Table { shape: &FEEDINGS_SHAPE, rows: Rows::OfNotes(feeding_row) };
/// What comes and goes.
pub const TRANSFERS: Table = Table { shape: &TRANSFERS_SHAPE, rows: Rows::OfNotes(transfer_rows) };

const ANIMALS_SHAPE: Shape = Shape {
    name: "animals",
    about: "Animals, from their hatch or arrival on. Their parents are in the table parents.",
    columns: &[
        column("animal", Of::Text, "The animal."),
        column("label", Of::Text, "Its label; a hatchling without one of its own has none."),
        column("species", Of::Text, "Its species; empty where no note that stands says it."),
        column("scientific_name", Of::Text, "Name of the species as the collection lists it."),
        column("sex", Of::Text, "male, female or unknown, as far as it can be told."),
        column("origin", Of::Text, "hatched, received, told_apart (from a group) or withheld."),
        column("came_at", Of::Time, "When it hatched or arrived; of one told apart from a group, when the group was formed."),
        column("came_after", Of::Time, "It came after this and not after came_at."),
        column("egg", Of::Text, "The case it hatched from."),
        column("group", Of::Text, "The group it was told apart from."),
        column("sender", Of::Text, "Who sent it, a pseudonym where it is a person."),
        column("hatched_on_estimate", Of::Day, "Estimated day of its hatch, of an animal that did not hatch here from a known case."),
        column("tank", Of::Text, "Where it is, or was when it ended."),
        column("feedings", Of::Count, "Number of feedings noted."),
        column("first_eaten_at", Of::Time, "First time seen to eat."),
        column("last_eaten_at", Of::Time, "Newest time seen to eat."),
        column("internal_yolk_used_up_at", Of::Time, "First time the internal yolk was seen to be used up."),
        column("last_seen_alive_at", Of::Time, "Newest sighting alive."),
        column(
            "fate",
            Of::Text,
            "present, dead_at_hatch, dead_on_arrival, died, missing, escaped, grouped (it cannot be told apart from others since) or departed.",
        ),
        column("fate_at", Of::Time, "When it ended, or since when it is missing."),
        column("fate_after", Of::Time, "It ended after this and not after fate_at."),
        column("death_how_known", Of::Text, "found dead, seen to die, by a veterinarian's decision."),
        column("apparent_cause", Of::Text, "Apparent cause of death."),
        column("cause_determined", Of::Text, "Cause of death as a veterinarian or laboratory determined it."),
        column("came_by_note", Of::Text, "The note by which it came."),
        column("ended_by_note", Of::Text, "The note by which it ended."),
    ],
    key: &["animal"],
    refers: &[],
};

fn animal_row(view: &View<'_>, id: &Subject) -> Vec<Row> {
    view.animal(id).map(|animal| of_animal(view, &animal)).into_iter().collect()
}

/// How an animal came: the word, and what goes with it.
pub(in crate::export) struct Came<'a> {
    pub word: &'static str,
    pub egg: Option<&'a Subject>,
    pub group: Option<&'a Subject>,
    pub sender: Option<&'a String>,
    pub hatched_on_estimate: Option<chrono::NaiveDate>,
}

/// See [`Came`].
pub(in crate::export) fn came(origin: &AnimalOrigin) -> Came<'_> {
    let none = Came { word: "withheld", egg: None, group: None, sender: None, hatched_on_estimate: None };
    match origin {
        AnimalOrigin::Hatched { egg, .. } => Came { word: "hatched", egg: Some(egg), ..none },
        AnimalOrigin::Received { from, hatched_on_estimate, .. } => {
            Came { word: "received", sender: Some(from), hatched_on_estimate: *hatched_on_estimate, ..none }
        }
        AnimalOrigin::ToldApart { group, hatched_on_estimate, .. } => {
            Came { word: "told_apart", group: Some(group), hatched_on_estimate: *hatched_on_estimate, ..none }
        }
        AnimalOrigin::Withheld => none,
    }
}

/// The word for what became of an animal.
pub(in crate::export) fn fate_word(fate: &AnimalFate) -> &'static str {
    match fate {
        AnimalFate::Present => "present",
        AnimalFate::DeadAtHatch { .. } => "dead_at_hatch",
        AnimalFate::DeadOnArrival { .. } => "dead_on_arrival",
        AnimalFate::Died { .. } => "died",
        AnimalFate::Missing { .. } => "missing",
        AnimalFate::Escaped { .. } => "escaped",
        AnimalFate::Grouped { .. } => "grouped",
        AnimalFate::Departed { .. } => "departed",
    }
}

/// How a death is known, and its apparent cause.
pub(in crate::export) fn death(fate: &AnimalFate) -> (Option<&String>, Option<&String>) {
    match fate {
        AnimalFate::Died { how_known, apparent_cause, .. } => (Some(how_known), Some(apparent_cause)),
        _ => (None, None),
    }
}

fn of_animal(view: &View<'_>, animal: &Animal) -> Row {
    let ((came_at, came_after), (fate_at, fate_after)) = (when(Some(animal.came)), when(animal.fate.when()));
    let (came, (how_known, cause)) = (came(&animal.origin), death(&animal.fate));
    row![
        &animal.id,
        animal.label.as_ref(),
        animal.species.as_ref(),
        scientific_name(view, animal.species.as_ref()),
        word(&animal.sex),
        came.word,
        came_at,
        came_after,
        came.egg,
        came.group,
        came.sender,
        came.hatched_on_estimate,
        animal.place.as_ref().map(|place| &place.tank),
        animal.feeds,
        animal.first_eaten.map(|moment| moment.time),
        animal.last_eaten.map(|moment| moment.time),
        animal.internal_yolk_used_up.map(|moment| moment.time),
        animal.last_seen_alive.map(|moment| moment.time),
        fate_word(&animal.fate),
        fate_at,
        fate_after,
        how_known,
        cause,
        animal.afterwards.cause_determined.as_ref(),
        animal.came.event,
        animal.fate.when().map(|moment| moment.event),
    ]
}

const MEASUREMENTS_SHAPE: Shape = Shape {
    name: "measurements",
    about: "Lengths and masses of animals, those of hatch and arrival included.",
    columns: &[
        column("animal", Of::Text, "The animal."),
        column("note", Of::Text, "The note."),
        column("at", Of::Time, "When."),
        column("after", Of::Time, "It was after this and not after at."),
        column("length_cm", Of::Number, "Length in centimetres."),
        column("length_basis", Of::Text, "total or disc width; empty: the species' own."),
        column("length_how", Of::Text, "measured or from a photo."),
        column("mass_g", Of::Number, "Mass in grams."),
        column("mass_how", Of::Text, "drained or in water."),
    ],
    key: &["animal", "note"],
    refers: &[("animal", "animals", "animal")],
};

fn measure_rows(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(animal) = view.animal(id) else { return Vec::new() };
    let rows = animal.measures.into_iter().map(|measure| {
        let (at, after) = when(Some(measure.when));
        row![
            id,
            measure.when.event,
            at,
            after,
            measure.length_cm,
            measure.length_basis,
            measure.length_how,
            measure.mass_g,
            measure.mass_how
        ]
    });
    rows.collect()
}

const FEEDINGS_SHAPE: Shape = Shape {
    name: "feedings",
    about: "Feedings of single animals.",
    columns: &[
        column("note", Of::Text, "The note."),
        column("animal", Of::Text, "The animal."),
        column("at", Of::Time, "When."),
        column("after", Of::Time, "It was after this and not after at."),
        column("offered", Of::Text, "What was offered, with semicolons between foods."),
        column("amount_g", Of::Number, "Grams offered of all foods together; empty unless each was weighed."),
        column("eaten", Of::Text, "all, most, some, none, spat out or not seen."),
        column("person", Of::Text, "Pseudonym of who fed."),
    ],
    key: &["note"],
    refers: &[],
};

fn feeding_row(_: &View<'_>, fact: &Fact<'_>) -> Vec<Row> {
    if !matches!(fact.told(), Told::AnimalFed(_)) {
        return Vec::new();
    }
    let data: Map<String, Value> = serde_json::from_str(&fact.value.data).unwrap_or_default();
    let offered: Vec<&Value> = data.get("offered").and_then(Value::as_array).into_iter().flatten().collect();
    let foods: Vec<&str> = offered.iter().filter_map(|one| one.get("food")?.as_str()).collect();
    let grams: Option<Vec<f64>> = offered.iter().map(|one| one.get("amount_g")?.as_f64()).collect();
    let total = grams.filter(|grams| !grams.is_empty()).map(|grams| grams.iter().sum::<f64>());
    let (at, after) = when(Some(fact.moment()));
    let eaten = data.get("eaten").and_then(Value::as_str);
    vec![row![fact.note.id, fact.subject(), at, after, foods.join("; "), total, eaten, fact.note.person()]]
}

const TRANSFERS_SHAPE: Shape = Shape {
    name: "transfers",
    about: "Cases and animals that came from elsewhere or went there, and consignments of groups. Loans change presence, not ownership.",
    columns: &[
        column("note", Of::Text, "The note."),
        column("which", Of::Text, "The case, animal or group."),
        column("at", Of::Time, "When."),
        column("after", Of::Time, "It was after this and not after at."),
        column("direction", Of::Text, "arrived, departed or returned."),
        column("partner", Of::Text, "From whom or to whom, a pseudonym where it is a person."),
        column("reason", Of::Text, "Why."),
        column("alive", Of::Text, "alive, dead or not known, as it came or left."),
        column("consignment", Of::Text, "The consignment it was part of."),
    ],
    key: &["note", "which"],
    refers: &[],
};

fn transfer_rows(_: &View<'_>, fact: &Fact<'_>) -> Vec<Row> {
    let (at, after) = when(Some(fact.moment()));
    let row = |transfer: Transfer| {
        row![
            fact.note.id,
            &transfer.which,
            at.clone(),
            after.clone(),
            transfer.direction,
            transfer.partner,
            transfer.reason,
            word(&transfer.alive),
            transfer.consignment.as_ref()
        ]
    };
    transfers_in(fact).into_iter().map(row).collect()
}
