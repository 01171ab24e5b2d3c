//! For every number of every section: those who are named for it give it, no more and no less.

use selachron_demo::rehearsal::Rehearsal;
use selachron_demo::season::{Season, USUAL_SEED};
use selachron_record::report::annual::cells::{CellExplained, SECTIONS, explain, explain_all};
use selachron_record::report::annual::gather::books;
use selachron_record::upkeep::recompute::projections;
use selachron_schemas::time::Instant;
use selachron_tests::world::World;
use std::path::Path;

/// Every cell of the report of that year by the record of a bundle, as of that day.
pub(crate) fn every_cell(bundle: &Path, year: i32, as_of: &str) -> Vec<CellExplained> {
    let record = projections(bundle).expect("a sound bundle");
    let as_of = Instant::parse(&format!("{as_of}T12:00:00Z")).expect("a time");
    record.at(as_of, record.size(), |view| {
        let material = books(view, year.into()).expect("the year has begun");
        let cells: Vec<CellExplained> = SECTIONS.iter().flat_map(|section| explain_all(&material, section)).collect();
        // Asked for by itself a cell says the same.
        for cell in cells.iter().step_by(7) {
            assert_eq!(explain(&material, &cell.cell).as_ref(), Ok(cell));
        }
        cells
    })
}

/// The sum of what they give is what stands there.
#[track_caller]
pub(crate) fn those_named_give_it(cells: &[CellExplained]) {
    let wrong = |cell: &&CellExplained| {
        let sum = |at: usize| cell.rests_on.iter().map(|one| one.gives[at]).sum::<f64>();
        (0..cell.value.len()).any(|at| sum(at) != cell.value[at])
    };
    let wrong: Vec<String> = cells.iter().filter(wrong).map(|cell| format!("{} {:?}", cell.cell, cell.value)).collect();
    assert_eq!(wrong, Vec::<String>::new(), "cells that are not what they are said to be made of");
}

/// The same for a world as it stands.
#[track_caller]
pub(crate) fn every_number_is_given(world: &World, years: &[i32]) {
    let folder = tempfile::tempdir().expect("a folder");
    let bundle = folder.path().join("bundle");
    world.client().bundle(&bundle).expect("a bundle");
    for year in years {
        let cells = every_cell(&bundle, *year, "2027-12-31");
        assert!(cells.iter().any(|cell| !cell.rests_on.is_empty()), "{year}");
        those_named_give_it(&cells);
    }
}

#[test]
fn every_number_of_an_invented_season_is_given_by_those_it_names() {
    let season = Season::from_seed(USUAL_SEED);
    let mut rehearsal = Rehearsal::new(&season);
    rehearsal.play().expect("nothing is refused");
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in rehearsal.bundle() {
        let file = folder.path().join(name);
        std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder");
        std::fs::write(file, text).expect("a file");
    }
    let (first, last) = (selachron_demo::season::calendar::FIRST_DAY, selachron_demo::season::calendar::LAST_DAY);
    for year in [chrono::Datelike::year(&first), chrono::Datelike::year(&last)] {
        let cells = every_cell(folder.path(), year, &last.to_string());
        let sections = SECTIONS.iter().filter(|section| cells.iter().any(|cell| cell.cell.starts_with(&format!("{section}/"))));
        assert!(cells.len() > 300 && sections.count() > 8, "{} cells", cells.len());
        those_named_give_it(&cells);
    }
}
