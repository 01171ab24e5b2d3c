//! `compute pedigree`: inbreeding, kinship, founders and gene diversity of a table of animals.

use super::answer::text;
use super::args::PedigreeArgs;
use super::table::{Column, Source, Table};
use crate::fault::Fault;
use selachron_statistics::pedigree::cells::{self, Cells};
use selachron_statistics::pedigree::retention::Drops;
use selachron_statistics::pedigree::{Row, Wanted, figures};

const REQUIRED: [&str; 3] = ["id", "sire", "dam"];
const OPTIONAL: [&str; 7] = ["sex", "born", "mode", "rho", "sire_candidates", "clutch", "living"];

pub(super) fn run(asked: &PedigreeArgs) -> Result<String, Fault> {
    let mut table = Table::open(Source::open(asked.input.file.as_deref())?, &REQUIRED, &OPTIONAL)?;
    let columns = REQUIRED.iter().chain(&OPTIONAL).map(|name| table.column(name)).collect::<Vec<Option<Column>>>();
    let mut rows = Vec::new();
    while table.advance()? {
        rows.push(row(&table, &columns)?);
    }
    let wanted = Wanted { pairs: asked.pairs, kinship: asked.kinship, drops: Drops { count: asked.drops, seed: asked.seed } };
    let found = figures(&rows, wanted).map_err(|refusal| table.fault(&refusal.to_string()))?;
    text(&found)
}

fn row(table: &Table, columns: &[Option<Column>]) -> Result<Row, Fault> {
    let texts: Vec<String> = columns.iter().map(|column| column.map_or_else(String::new, |column| table.text(column))).collect();
    let [id, sire, dam, sex, born, mode, rho, sire_candidates, clutch, living] = texts.as_slice() else {
        return Err(table.fault("its columns cannot be told apart"));
    };
    let cells = Cells { id, sire, dam, sex, born, mode, rho, sire_candidates, clutch, living };
    let place = usize::try_from(table.row()).unwrap_or(usize::MAX);
    cells::read(place, &cells).map_err(|refusal| table.fault(&refusal.to_string()))
}
