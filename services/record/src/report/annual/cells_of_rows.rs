//! From which notes a row of a reader's part is, and a count of discrepancies.
//!
//! A row is asked for by its table and its number in it, from 1 on, such as `tables/deaths/3`: its notes,
//! by what they are about. A count of discrepancies is asked for by weight and age, such as
//! `discrepancies/when convenient/settled`.

use super::cells::{CellExplained, NoSuchCell, RestsOn};
use super::discrepancies::{AGES, age_of, counted, words};
use super::material::{Material, Parts};
use super::table::PartTable;
use crate::domain::discrepancy::Discrepancy;
use crate::domain::view::View;
use selachron_schemas::names::Subject;
use std::collections::{BTreeMap, BTreeSet};

/// From which notes a row is. Its value is how many they are, and each thing gives how many are about it.
///
/// # Errors
/// There is no such table or row.
pub fn of_row(view: &View<'_>, parts: &Parts, cell: &str) -> Result<CellExplained, NoSuchCell> {
    let asked = cell.strip_prefix("tables/").unwrap_or_default();
    let (name, number) = asked.split_once('/').unwrap_or((asked, ""));
    let none = |near: String| NoSuchCell { cell: cell.to_owned(), near };
    let Some(table) = tables(parts).find(|table| table.id == name) else {
        let names: Vec<&str> = tables(parts).map(|table| table.id.as_str()).collect();
        return Err(none(format!("; its tables are {}", names.join(", "))));
    };
    let at = number.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
    let Some(row) = at.and_then(|at| table.rows.get(at)) else {
        return Err(none(format!("; that table has rows 1 to {}", table.rows.len())));
    };
    let wanted: BTreeSet<&str> = row.events.iter().map(String::as_str).collect();
    let mut by_subject: BTreeMap<Option<&Subject>, Vec<String>> = BTreeMap::new();
    for note in (0..view.known_at()).map(|seq| view.nursery().note(seq)) {
        let id = note.id.to_string();
        if wanted.contains(id.as_str()) {
            by_subject.entry(note.subject()).or_default().push(id);
        }
    }
    let rests_on = by_subject.into_iter().map(|(subject, events)| about(view, subject, events)).collect();
    Ok(CellExplained { cell: cell.to_owned(), told: cell.to_owned(), value: vec![row.events.len() as f64], rests_on })
}

fn about(view: &View<'_>, subject: Option<&Subject>, events: Vec<String>) -> RestsOn {
    let label = subject.and_then(|subject| view.label(subject)).unwrap_or_default();
    let subject = subject.map_or_else(|| "withheld".to_owned(), ToString::to_string);
    RestsOn { subject, label, gives: vec![events.len() as f64], events, left_out: 0 }
}

/// All tables that have names of their own.
fn tables(parts: &Parts) -> impl Iterator<Item = &PartTable> {
    let of_readers = [&parts.curator.tables, &parts.authority.tables, &parts.studbook.tables, &parts.auditor.tables];
    std::iter::once(&parts.restatements).chain(of_readers.into_iter().flatten())
}

/// Which discrepancies a count is of, each with its notes.
///
/// # Errors
/// There is no such count.
pub fn of_discrepancies(material: &Material, cell: &str) -> Result<CellExplained, NoSuchCell> {
    let lines = counted(&material.discrepancies, material.as_of, material.zone);
    let named = |weight: &str, age: &str| format!("discrepancies/{weight}/{age}");
    if !lines.iter().any(|line| AGES.iter().any(|age| named(&line.weight, age) == cell)) {
        let weights: Vec<&str> = lines.iter().map(|line| line.weight.as_str()).collect();
        let near = format!("; the weights are {}, each with {}", weights.join(", "), AGES.join(", "));
        return Err(NoSuchCell { cell: cell.to_owned(), near });
    }
    let counts = |found: &&Discrepancy| named(words(found.weight), age_of(found, material.as_of, material.zone)) == cell;
    let told = |found: &Discrepancy| RestsOn {
        subject: found.subjects.first().map_or_else(String::new, ToString::to_string),
        label: found.says.clone(),
        gives: vec![1.0],
        events: found.events.iter().map(ToString::to_string).collect(),
        left_out: 0,
    };
    let rests_on: Vec<RestsOn> = material.discrepancies.iter().filter(counts).map(told).collect();
    Ok(CellExplained { cell: cell.to_owned(), told: cell.to_owned(), value: vec![rests_on.len() as f64], rests_on })
}
