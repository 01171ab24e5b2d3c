//! Pedigrees: by hand, against exact references, against second methods, and what is refused.

mod by_hand;
mod cells;
mod laws;
mod reference;
mod refused;
mod second;

use selachron_statistics::pedigree::{Candidate, Mode, Parent, Pedigree, Row};

/// `"1 2"` for two parents, `"?"` for an unknown one.
pub fn row(id: &str, sire: &str, dam: &str) -> Row {
    let parent = |name: &str| if name == "?" { Parent::Unknown } else { Parent::known(name) };
    Row::new(id, parent(sire), parent(dam))
}

pub fn founder(id: &str) -> Row {
    row(id, "?", "?")
}

/// From a dam alone.
pub fn alone(id: &str, dam: &str, mode: Mode) -> Row {
    Row { mode, ..Row::new(id, Parent::None, Parent::known(dam)) }
}

pub fn candidates(list: &[(&str, f64)]) -> Parent {
    Parent::Candidates(list.iter().map(|(id, weight)| Candidate { id: (*id).to_owned(), weight: *weight }).collect())
}

pub fn dead(row: Row) -> Row {
    Row { living: false, ..row }
}

#[track_caller]
pub fn pedigree(rows: &[Row]) -> Pedigree {
    Pedigree::new(rows).unwrap_or_else(|refusal| panic!("{refusal}"))
}

/// Lines of `id sire dam`.
pub fn rows(text: &str) -> Vec<Row> {
    let line = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        row(words[0], words[1], words[2])
    };
    text.lines().map(str::trim).filter(|line| !line.is_empty()).map(line).collect()
}

#[track_caller]
pub fn kinship(of: &Pedigree, one: &str, other: &str) -> f64 {
    let index = |id| of.index_of(id).expect("an animal of the table");
    of.kinship_of(index(one)).expect("an animal of the table")[index(other)]
}

#[track_caller]
pub fn inbreeding(of: &Pedigree, id: &str) -> f64 {
    of.inbreeding()[of.index_of(id).expect("an animal of the table")]
}
