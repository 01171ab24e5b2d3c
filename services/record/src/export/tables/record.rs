//! The notes themselves, keys, parents, and what is at odds.

use super::super::cell::{row, several};
use super::super::folder::{Rows, Table};
use super::super::shape::{Of, Row, Shape, column};
use super::word;
use crate::domain::discrepancy::Discrepancy;
use crate::domain::parents::Parent;
use crate::domain::view::{Fact, View};
use selachron_schemas::names::Subject;

/// Notes that stand.
pub const NOTES: Table = Table { shape: &NOTES_SHAPE, rows: Rows::OfNotes(note_row) };
/// Keys.
pub const KEYS: Table = Table { shape: &KEYS_SHAPE, rows: Rows::Whole(key_rows) };
/// What is at odds.
pub const DISCREPANCIES: Table = Table { shape: &DISCREPANCIES_SHAPE, rows: Rows::OfDiscrepancies(discrepancy_row) };
/// Parents of animals.
pub const PARENTS: Table = Table { shape: &PARENTS_SHAPE, rows: Rows::OfThings(&["animal"], parent_rows) };

const NOTES_SHAPE: Shape = Shape {
    name: "notes",
    about: "Every note that stands, as it stands; the notes as they were signed, corrected and withdrawn ones too, are in the events.",
    columns: &[
        column("seq", Of::Count, "Its place in the log."),
        column("note", Of::Text, "Its id."),
        column("kind", Of::Text, "What kind of note, and its version."),
        column("subject", Of::Text, "What it is about."),
        column("at", Of::Time, "When it happened, by its author's word."),
        column("after", Of::Time, "It happened after this and not after at."),
        column("recorded_at", Of::Time, "When the log took it."),
        column("person", Of::Text, "Pseudonym of its author."),
        column("key", Of::Text, "The author's key."),
    ],
    key: &["seq"],
    refers: &[],
};

fn note_row(_: &View<'_>, fact: &Fact<'_>) -> Vec<Row> {
    let note = fact.note;
    let (time, after) = (fact.time(), fact.moment().timeafter);
    vec![row![note.seq, note.id, &*note.kind, fact.subject(), time, after, note.recorded_at, note.person(), note.keyid.to_string()]]
}

const KEYS_SHAPE: Shape = Shape {
    name: "keys",
    about: "Keys, enrolled and root, by pseudonym; nobody's name is in the record.",
    columns: &[
        column("key", Of::Text, "The key."),
        column("person", Of::Text, "Pseudonym of its holder."),
        column("roles", Of::Several, "What the holder may do; root for a root key."),
        column("device", Of::Text, "The device, in words."),
        column("enrolled_seq", Of::Count, "Place in the log of the note that brought it."),
        column("valid_until", Of::Time, "Not in force after this."),
        column("revoked_seq", Of::Count, "Place in the log of its first revocation."),
        column("suspected_since", Of::Time, "From when it is suspected."),
        column("in_force", Of::Flag, "Whether it is in force."),
        column("notes", Of::Count, "Notes it has authored."),
    ],
    key: &["key"],
    refers: &[],
};

fn key_rows(view: &View<'_>) -> Vec<Row> {
    let rows = view.keys().into_iter().map(|key| {
        row![
            &key.id,
            key.person,
            several(key.roles),
            key.device,
            key.enrolled_seq,
            key.valid_until,
            key.revoked_seq,
            key.suspected_since,
            key.in_force,
            key.notes,
        ]
    });
    rows.collect()
}

const DISCREPANCIES_SHAPE: Shape = Shape {
    name: "discrepancies",
    about: "What is possible but at odds with the rest of the record, settled or not.",
    columns: &[
        column("discrepancy", Of::Text, "Its lasting id."),
        column("kind", Of::Text, "What kind."),
        column("weight", Of::Text, "How much it matters."),
        column("subjects", Of::Several, "What it is about."),
        column("notes", Of::Several, "The notes it rests on."),
        column("says", Of::Text, "One plain sentence."),
        column("since", Of::Time, "Since when."),
        column("standing", Of::Text, "How it stands."),
    ],
    key: &["discrepancy"],
    refers: &[],
};

fn discrepancy_row(odd: Discrepancy) -> Row {
    row![odd.id, odd.kind, word(&odd.weight), several(odd.subjects), several(odd.events), odd.says, odd.since, word(&odd.standing)]
}

const PARENTS_SHAPE: Shape = Shape {
    name: "parents",
    about: "Parents of animals: a row for each that is, or may be, one; and one without an animal where nobody can be named.",
    columns: &[
        column("animal", Of::Text, "The animal."),
        column("parent", Of::Text, "dam or sire."),
        column("place", Of::Count, "1 for the first that is named, and so on."),
        column("state", Of::Text, "known, candidates, unknown, none (it developed from an unfertilised egg) or wild_caught."),
        column("named", Of::Text, "The animal that is, or may be, the parent."),
        column("weight", Of::Number, "Share of the parentage; those of one parent sum to 1."),
        column("basis", Of::Text, "What it rests on, in words."),
        column("notes", Of::Several, "The notes that say so."),
    ],
    key: &["animal", "parent", "place"],
    refers: &[("animal", "animals", "animal")],
};

fn parent_rows(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(animal) = view.animal(id) else { return Vec::new() };
    let parents = view.parents(&animal);
    [("dam", parents.dam), ("sire", parents.sire)].into_iter().flat_map(|(which, parent)| rows_of(id, which, &parent)).collect()
}

fn rows_of(id: &Subject, which: &'static str, parent: &Parent) -> Vec<Row> {
    let state = parent.status.word();
    let row = |place: usize, named: Option<&Subject>, weight: Option<f64>| {
        row![id, which, place, state, named, weight, parent.basis.as_ref(), several(&parent.events)]
    };
    if parent.animals.is_empty() {
        return vec![row(1, None, None)];
    }
    (1..).zip(&parent.animals).map(|(place, one)| row(place, Some(&one.animal), Some(one.weight))).collect()
}
