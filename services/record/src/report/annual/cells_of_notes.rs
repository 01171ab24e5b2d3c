//! From which notes a cell is that counts no cases or animals: readings of a water, and notes of a person
//! or of a role.

use super::auditor::delayed;
use super::cells::{CellExplained, NoSuchCell, RestsOn};
use super::material::{Material, Twelve, Year};
use super::water::{Taken, WATER_CELLS, WaterLine, water_with_readings};
use crate::domain::note::Note;
use crate::domain::view::View;
use crate::report::numbers::{WATER_DECIMALS, rounded};
use selachron_schemas::limits::CELL_NOTES_MAX;
use selachron_schemas::names::{KeyId, Subject};
use std::collections::{BTreeMap, BTreeSet};

/// Cells of a line of the table of writers.
pub const WRITER_CELLS: [&str; 2] = ["notes_of_year", "notes"];

/// From which readings a cell of the summary of the water is, such as `water/system Warm/pH/total/min`:
/// the least and the greatest name the readings that were so, the middle one the one or two in the middle,
/// `instruments` the first reading of each.
///
/// # Errors
/// There is no such cell.
pub fn of_water(material: &Material, cell: &str) -> Result<CellExplained, NoSuchCell> {
    let lines = Year::of(material.twelve, material.zone).map(|days| water_with_readings(material, days.span(material.as_of)));
    let lines = lines.unwrap_or_default();
    let (path, name) = cell.rsplit_once('/').unwrap_or((cell, ""));
    let Some((line, taken)) = lines.iter().find(|(line, _)| line.path() == path && WATER_CELLS.contains(&name)) else {
        let paths: Vec<String> = lines.iter().map(|(line, _)| line.path()).collect();
        return Err(none(cell, &paths, &WATER_CELLS));
    };
    let value = line.cell(name).unwrap_or_default();
    let rests_on = meant(line, taken, name).into_iter().map(|one| reading(one, name)).collect();
    Ok(CellExplained { cell: cell.to_owned(), told: cell.to_owned(), value: vec![value], rests_on })
}

fn none(cell: &str, lines: &[String], names: &[&str]) -> NoSuchCell {
    let near = if lines.is_empty() {
        "; its table has no line".to_owned()
    } else {
        format!("; there are {}, each with {}", lines.join(", "), names.join(", "))
    };
    NoSuchCell { cell: cell.to_owned(), near }
}

fn meant<'t, 'm>(line: &WaterLine, taken: &'t [Taken<'m>], name: &str) -> Vec<&'t Taken<'m>> {
    let told = |value: f64| rounded(value, WATER_DECIMALS);
    let so = |wanted: f64| taken.iter().filter(|one| told(one.value) == wanted).collect();
    match name {
        "min" => so(line.min),
        "max" => so(line.max),
        "median" => {
            let mut sorted: Vec<&Taken> = taken.iter().collect();
            sorted.sort_by(|a, b| a.value.total_cmp(&b.value));
            let middle = sorted.len() / 2;
            sorted[middle.saturating_sub(usize::from(sorted.len().is_multiple_of(2)))..=middle].to_vec()
        }
        "instruments" => {
            let mut seen = BTreeSet::new();
            taken.iter().filter(|one| seen.insert(one.reading.instrument.as_str())).collect()
        }
        _ => taken.iter().collect(),
    }
}

/// A reading gives what it read, or one to a count.
fn reading(taken: &Taken<'_>, name: &str) -> RestsOn {
    let gives = if matches!(name, "readings" | "instruments") { 1.0 } else { rounded(taken.value, WATER_DECIMALS) };
    let events = taken.reading.when.iter().map(|when| when.event.to_string()).collect();
    RestsOn { subject: taken.of.to_string(), label: taken.reading.instrument.clone(), gives: vec![gives], events, left_out: 0 }
}

/// From which notes a cell of the table of writers is, such as `writers/PERSON/notes_of_year`: those of each
/// of the person's keys. Of very many only the first are named, and how many are left out is said.
///
/// # Errors
/// There is no such cell.
pub fn of_writers(view: &View<'_>, twelve: Twelve, cell: &str) -> Result<CellExplained, NoSuchCell> {
    let (path, name) = cell.rsplit_once('/').unwrap_or((cell, ""));
    let person = path.strip_prefix("writers/").unwrap_or_default();
    let taken = taken_in(view, twelve);
    let known = || (0..view.known_at()).map(|seq| view.nursery().note(seq));
    let persons: BTreeSet<String> = known().map(|note| format!("writers/{}", note.person().unwrap_or("not known"))).collect();
    if !persons.contains(path) || !WRITER_CELLS.contains(&name) {
        return Err(none(cell, &persons.into_iter().collect::<Vec<_>>(), &WRITER_CELLS));
    }
    let of_person = known().filter(|note| note.person().unwrap_or("not known") == person);
    Ok(by_key(view, cell, of_person.filter(|note| name == "notes" || taken(note))))
}

/// From which notes a line of the table of delays is, such as `delays/keeper/notes`: those of each key.
///
/// # Errors
/// There is no such line.
pub fn of_delays(view: &View<'_>, twelve: Twelve, cell: &str) -> Result<CellExplained, NoSuchCell> {
    let taken = taken_in(view, twelve);
    let notes: Vec<&Note> = (0..view.known_at()).map(|seq| view.nursery().note(seq)).filter(|note| taken(note)).collect();
    let lines = delayed(&notes);
    let Some((_, of_line)) = lines.iter().find(|(line, _)| format!("delays/{line}/notes") == cell) else {
        let roles: Vec<String> = lines.iter().map(|(line, _)| format!("delays/{line}")).collect();
        return Err(none(cell, &roles, &["notes"]));
    };
    Ok(by_key(view, cell, of_line.iter().copied()))
}

/// Whether the log took a note in these months, up to V.
fn taken_in(view: &View<'_>, twelve: Twelve) -> impl Fn(&Note) -> bool {
    let days = Year::of(twelve, view.zone());
    let until = view.as_of();
    move |note| days.is_some_and(|days| (days.start..=days.until(until)).contains(&note.recorded_at))
}

/// Those notes, by the key that signed them.
fn by_key<'v>(view: &View<'_>, cell: &str, notes: impl Iterator<Item = &'v Note>) -> CellExplained {
    let mut by_key: BTreeMap<KeyId, RestsOn> = BTreeMap::new();
    for note in notes {
        let behind = by_key.entry(note.keyid).or_insert_with(|| of_key(view, note.keyid));
        behind.gives[0] += 1.0;
        if behind.events.len() < CELL_NOTES_MAX {
            behind.events.push(note.id.to_string());
        } else {
            behind.left_out += 1;
        }
    }
    let rests_on: Vec<RestsOn> = by_key.into_values().collect();
    let value = rests_on.iter().map(|one| one.gives[0]).sum();
    CellExplained { cell: cell.to_owned(), told: cell.to_owned(), value: vec![value], rests_on }
}

fn of_key(view: &View<'_>, keyid: KeyId) -> RestsOn {
    let subject = Subject::key(keyid);
    let label = view.key(&subject).and_then(|key| key.device).unwrap_or_default();
    RestsOn { subject: subject.to_string(), label, gives: vec![0.0], events: Vec::new(), left_out: 0 }
}
