//! What changed in the studbook between two sizes of the log, at one V: animals that are new, that are
//! corrected or went on, and that are withdrawn, cell by cell with the notes behind each. A keeper of a
//! studbook who has an earlier export needs no more than this to bring it up to date.

use super::Asking;
use super::cell::{Cell, IntoCell as _, row, several};
use super::folder::Csv;
use super::shape::{Column, Of, Row, SUSPECTED, Shape, column};
use super::studbook::{COLUMNS, Sourced, sourced};
use crate::domain::state::EventId;
use crate::domain::view::View;
use crate::failure::Failure;
use selachron_schemas::limits::EXPORT_PAGE_THINGS;
use selachron_schemas::names::Subject;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeSet;
use std::io::Write;
use utoipa::ToSchema;

/// What became of a row, or of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// The earlier export has no such row.
    New,
    /// A note that stood behind it was put right or taken back, or one behind it now was.
    Corrected,
    /// Later notes say more; nothing that it rested on was touched.
    WentOn,
    /// No note that stands says how it came.
    Withdrawn,
}

impl Change {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::WentOn => "went on",
            other => other.word(),
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Corrected => "corrected",
            Self::WentOn => "went_on",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// One cell that says something else than it did.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CellChange {
    /// The column.
    pub cell: &'static str,
    /// `new`, `corrected`, `went_on` or `withdrawn`.
    pub change: Change,
    /// What it said; `null` where it said nothing.
    pub old: Value,
    /// What it says; `null` where it says nothing.
    pub new: Value,
    /// Notes behind what it said.
    #[schema(value_type = Vec<String>)]
    pub old_notes: Vec<EventId>,
    /// Notes behind what it says.
    #[schema(value_type = Vec<String>)]
    pub new_notes: Vec<EventId>,
    /// Whether one of these notes was recorded while its author's key was suspected (F11).
    pub suspected: bool,
}

/// One animal of which the studbook says something else than it did.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RowChange {
    /// The animal.
    #[schema(value_type = String)]
    pub animal: Subject,
    /// `new`, `corrected` (at least one cell was), `went_on` or `withdrawn`.
    pub change: Change,
    /// Its cells that changed.
    pub cells: Vec<CellChange>,
}

/// Everything that changed from `since` notes on, animal by animal.
///
/// # Errors
/// What `take` returns; what was known is known no more.
pub fn each(asking: &Asking<'_>, since: u64, mut take: impl FnMut(RowChange) -> Result<(), Failure>) -> Result<(), Failure> {
    let animals: Vec<Subject> = asking.view(|view| view.subjects("animal").cloned().collect())?;
    for page in animals.chunks(EXPORT_PAGE_THINGS) {
        let changes: Vec<RowChange> = asking.view(|view| among(view, page.iter(), since).collect())?;
        changes.into_iter().try_for_each(&mut take)?;
    }
    Ok(())
}

/// The same at once.
///
/// # Errors
/// What was known is known no more.
pub fn since(asking: &Asking<'_>, since: u64) -> Result<Vec<RowChange>, Failure> {
    let mut all = Vec::new();
    each(asking, since, |change| {
        all.push(change);
        Ok(())
    })?;
    Ok(all)
}

/// The same at the V of a view, for a record that is at hand.
#[must_use]
pub fn between(view: &View<'_>, since: u64) -> Vec<RowChange> {
    among(view, view.subjects("animal"), since).collect()
}

fn among<'v>(view: &'v View<'_>, animals: impl Iterator<Item = &'v Subject>, since: u64) -> impl Iterator<Item = RowChange> {
    let before = view.nursery().at(view.as_of(), since);
    animals.filter_map(move |id| changed(view, id, rows_of(&before, id).as_deref(), since))
}

/// Those with notes behind them, and whether a note behind the row is suspected.
fn columns() -> impl Iterator<Item = &'static Column> {
    COLUMNS.iter().chain([&SUSPECTED])
}

fn rows_of(view: &View<'_>, id: &Subject) -> Option<Vec<Sourced>> {
    let mut row = sourced(view, &view.animal(id)?);
    row.push((Cell::Flag(view.suspected_behind(id) > 0), Vec::new()));
    Some(row)
}

fn changed(view: &View<'_>, id: &Subject, old: Option<&[Sourced]>, since: u64) -> Option<RowChange> {
    let new = rows_of(view, id);
    let whole = match (old, &new) {
        (None, Some(_)) => Some(Change::New),
        (Some(_), None) => Some(Change::Withdrawn),
        _ => None,
    };
    let nothing: Vec<Sourced> = columns().map(|_| (Cell::Absent, Vec::new())).collect();
    let (old, new) = (old.unwrap_or(&nothing), new.as_deref().unwrap_or(&nothing));
    let pairs = columns().zip(old.iter().zip(new)).filter(|(_, (old, new))| old.0 != new.0);
    let cells: Vec<CellChange> = pairs.map(|(column, (old, new))| cell(view, column.name, (old, new), whole, since)).collect();
    let corrected = cells.iter().any(|cell| cell.change == Change::Corrected);
    let change = whole.unwrap_or(if corrected { Change::Corrected } else { Change::WentOn });
    (!cells.is_empty()).then(|| RowChange { animal: id.clone(), change, cells })
}

fn cell(view: &View<'_>, name: &'static str, (old, new): (&Sourced, &Sourced), whole: Option<Change>, since: u64) -> CellChange {
    // What said nothing rested on nothing.
    let notes = |(cell, notes): &Sourced| if cell.is_absent() { BTreeSet::new() } else { notes.iter().copied().collect::<BTreeSet<_>>() };
    let (old_notes, new_notes) = (notes(old), notes(new));
    let touched = old_notes.union(&new_notes).any(|note| view.acted_on_since(*note, since));
    let change = whole.unwrap_or(if touched { Change::Corrected } else { Change::WentOn });
    let suspected = !view.suspected_among(old_notes.union(&new_notes).copied()).is_empty();
    let [old_notes, new_notes] = [old_notes, new_notes].map(|notes| notes.into_iter().collect());
    CellChange { cell: name, change, old: old.0.json(), new: new.0.json(), old_notes, new_notes, suspected }
}

/// Columns of the changes as a table.
pub const CHANGES: Shape = Shape {
    name: "studbook_changes",
    about: "Cells of the studbook that say something else than they did.",
    columns: &[
        column("animal", Of::Text, "The animal."),
        column("cell", Of::Text, "The column of the studbook."),
        column("change", Of::Text, "new, corrected, went_on or withdrawn."),
        column("old", Of::Text, "What it said."),
        column("new", Of::Text, "What it says."),
        column("old_notes", Of::Several, "Notes behind what it said."),
        column("new_notes", Of::Several, "Notes behind what it says."),
    ],
    key: &["animal", "cell"],
    refers: &[],
};

/// The changes as CSV: one row a cell.
///
/// # Errors
/// It cannot be written; what was known is known no more.
pub fn write_csv(out: impl Write, asking: &Asking<'_>, since: u64) -> Result<u64, Failure> {
    let mut csv = Csv::marked(out, &CHANGES)?;
    each(asking, since, |change| change.cells.iter().try_for_each(|cell| csv.row(&csv_row(&change.animal, cell))))?;
    csv.finish()
}

fn csv_row(animal: &Subject, cell: &CellChange) -> Row {
    let [old, new] = [&cell.old, &cell.new].map(words);
    let [old_notes, new_notes] = [&cell.old_notes, &cell.new_notes].map(several);
    row![animal, cell.cell, cell.change.word(), old, new, old_notes, new_notes, cell.suspected]
}

fn words(value: &Value) -> Cell {
    match value {
        Value::Null => Cell::Absent,
        Value::String(text) => text.as_str().cell(),
        Value::Array(all) => several(all.iter().filter_map(Value::as_str)),
        other => other.to_string().cell(),
    }
}
