//! What the annual report says of the studbook since a report was last issued: the export of changes,
//! animal by animal, as a table of the studbook keeper's part.

use super::changes::{CellChange, Change, between};
use crate::domain::view::View;
use crate::report::annual::material::{Material, Twelve, Year};
use crate::report::annual::restatements::last_issued;
use crate::report::annual::table::{Behind, PartTable, words};
use crate::report::annual::{NotYet, gather as gather_report};
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

/// What an annual report of these months is made from, with what changed in the studbook.
///
/// # Errors
/// The year has not begun at V.
pub fn gather(view: &View<'_>, twelve: Twelve) -> Result<Material, NotYet> {
    let mut material = gather_report(view, twelve)?;
    if let Some(days) = Year::of(twelve, view.zone()) {
        material.parts.studbook.tables.insert(0, changes(&view.nursery().at(days.until(view.as_of()), view.known_at())));
    }
    Ok(material)
}

/// The table, as of the end of the months.
fn changes(view: &View<'_>) -> PartTable {
    let mut table = PartTable::new(
        "studbook_changes",
        "Changes in the studbook",
        "What it says otherwise than by the notes that the last issued report knew: new, corrected (a note behind it was put right or taken \
         back), went on (later notes say more), withdrawn (no note that stands says how it came). Of a new animal all that is said, of a \
         withdrawn one all that was; columns as the studbook export has them.",
        vec![words("animal", "Animal"), words("column", "column"), words("change", "change"), words("old", "old"), words("new", "new")],
    );
    let Some(issued) = last_issued(view) else {
        table.footnote("No report was issued until this one was made: the whole studbook is new.");
        return table;
    };
    table.footnote(format!("Since the report {}, which knew {} notes.", issued.told, issued.known_at));
    table.footnote(
        "The same since another export: /v1/exports/studbook?since=NOTES&as_of=DAY, with the number of notes that it knew (its known_at).",
    );
    for change in between(view, issued.known_at) {
        let whole = matches!(change.change, Change::New | Change::Withdrawn);
        // A flag that is not set says nothing of an animal that is new or gone.
        let says = |cell: &&CellChange| !whole || [&cell.old, &cell.new].iter().any(|value| !is_nothing(value));
        change.cells.iter().filter(says).for_each(|cell| one(view, &mut table, &change.animal, cell));
    }
    table
}

fn is_nothing(value: &Value) -> bool {
    match value {
        Value::Null | Value::Bool(false) => true,
        Value::String(text) => text.is_empty(),
        Value::Array(all) => all.is_empty(),
        _ => false,
    }
}

fn one(view: &View<'_>, table: &mut PartTable, animal: &Subject, cell: &CellChange) {
    let cells =
        [json!(view.called(animal)), json!(cell.cell.replace('_', " ")), json!(cell.change.words()), told(&cell.old), told(&cell.new)];
    table.row(cells, Behind::of(animal).on(cell.old_notes.iter().chain(&cell.new_notes).copied()));
}

/// A value of the studbook as one cell.
fn told(value: &Value) -> Value {
    match value {
        Value::Null | Value::String(_) | Value::Number(_) => value.clone(),
        Value::Bool(yes) => json!(if *yes { "yes" } else { "no" }),
        Value::Array(all) => {
            json!(all.iter().map(|one| one.as_str().map_or_else(|| one.to_string(), str::to_owned)).collect::<Vec<_>>().join(", "))
        }
        Value::Object(_) => json!(value.to_string()),
    }
}
