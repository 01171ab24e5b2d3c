//! The stock list, the egg ledger and the water of the year.

use super::page::{Page, Rows, Sources, counted};
use super::parts::part_table;
use super::sources::of_cell;
use crate::report::annual::AnnualReport;
use crate::report::annual::ledger::{ABOVE_CELLS, LEDGER_CELLS, LedgerLine};
use crate::report::annual::profile::{Column as ProfileColumn, PresentedLine};
use crate::report::annual::stock::{Cell, StockLine, StockList};
use crate::report::annual::water::{WATER_CELLS, WaterLine};

/// Writes stock list, ledger and water.
pub fn write(page: &mut Page, report: &AnnualReport) {
    page.section("stock", "Stock list");
    stock(page, report, &report.stock, &PRESENCE);
    presented(page, report);
    if report.stock_owned.lines != report.stock.lines {
        stock(page, report, &report.stock_owned, &OWNERSHIP);
    } else if !report.stock.lines.is_empty() {
        page.para("By ownership the list is the same: nobody is lent out or lent to us.");
    }
    page.section("ledger", "Egg ledger");
    ledger(page, report);
    part_table(page, report, &report.restatements);
    page.section("water", "Water");
    water(page, report);
}

/// What the list on one basis is called.
struct Wording {
    section: &'static str,
    title: &'static str,
    explains: &'static str,
    recounted: &'static str,
}

const PRESENCE: Wording = Wording {
    section: "stock",
    title: "Animals here, males.females.unknown",
    explains: "end = start + arrived + hatched − died − departed + sexed, in every class; columns of animals recaptured, found, escaped or missing, of deaths on a day not determined and of recounts stand here when there were any.",
    recounted: "A full count that was not as many as the record had",
};

const OWNERSHIP: Wording = Wording {
    section: "stock_owned",
    title: "Animals owned, here or lent out, males.females.unknown",
    explains: "The same identity. What is lent out is still ours and what is lent to us is not, whatever it is called; a loan that ends with a gift is a departure or an arrival on that day, and a death on loan is a death.",
    recounted: "A full count that was not as many as the record had, or those that a loan gave back, whom another note counts here already",
};

fn stock(page: &mut Page, report: &AnnualReport, list: &StockList, wording: &Wording) {
    if list.lines.is_empty() {
        page.para("No animals were in the collection.");
        return;
    }
    let absent = absences(&list.total);
    let recounts = list.lines.iter().any(|line| !line.recount.is_nought());
    let link = |line| stock_links(report, wording.section, line, &absent, recounts);
    let links: Vec<Vec<String>> = list.lines.iter().chain([&list.total]).map(link).collect();
    let row = |line| stock_row(line, &absent, recounts);
    let mut rows: Vec<Vec<String>> = list.lines.iter().map(row).collect();
    rows.push(row(&list.total));
    let mut columns = vec!["Species", "start", "arrived", "hatched", "died ≤ 30 d", "died other", "departed"];
    columns.extend(absent.iter().map(|(name, _)| *name));
    columns.push("sexed");
    columns.extend(recounts.then_some("recount"));
    columns.push("end");
    let mut footnotes = vec![
        "Moves and dead bodies change nothing. What came and went is entered under the sex known at the end; “sexed” moves those told apart since the start.".to_owned(),
        "Died within 30 days: at most 30 whole days from the day of hatch, which may lie in the year before.".to_owned(),
    ];
    if list.dead_at_hatch + list.dead_on_arrival > 0 {
        let (hatch, arrival) = (counted(list.dead_at_hatch, "young was", "young were"), counted(list.dead_on_arrival, "animal", "animals"));
        footnotes.push(format!("In no line: {hatch} dead when first seen out of the case; {arrival} arrived dead."));
    }
    if list.origin_withheld > 0 {
        let animals = counted(list.origin_withheld, "animal", "animals");
        footnotes.push(format!("Under “arrived”: {animals} of which the note that says how they came is withheld."));
    }
    footnotes.extend(list.recounts.iter().map(|recount| {
        let (label, day, change) = (&recount.label, recount.day, signed(recount.change));
        format!("Recount of {label} on {day}: {change}. {} (note {}).", wording.recounted, recount.event)
    }));
    let rows = Rows {
        title: wording.title,
        explains: wording.explains,
        columns: &columns,
        words: 1,
        rows: &rows,
        total: true,
        footnotes: &footnotes,
    };
    page.sourced(&rows, Sources::of_cells(links));
}

/// The cells of a row, at which address each is explained.
fn stock_links(report: &AnnualReport, section: &str, line: &StockLine, absent: &[Column], recounts: bool) -> Vec<String> {
    let cell = |name: &str| of_cell(report, &format!("{section}/{}/{name}", line.scientific_name));
    let named = |heading: &str| match heading.trim_start_matches(['+', '−', ' ']) {
        "died, day undetermined" => cell("died_day_undetermined"),
        name => cell(name),
    };
    let mut links = vec![String::new()];
    links.extend(["start", "arrived", "hatched", "died_within_30_days", "died_other", "departed"].map(cell));
    links.extend(absent.iter().map(|(heading, _)| named(heading)));
    links.push(cell("sexed"));
    links.extend(recounts.then(|| cell("recount")));
    links.push(cell("end"));
    links
}

/// The list in the columns of the profile, with what they fold together.
fn presented(page: &mut Page, report: &AnnualReport) {
    let shown = &report.stock_presented;
    if shown.columns.is_empty() {
        return;
    }
    let mut columns = vec!["Species"];
    columns.extend(shown.columns.iter().map(String::as_str));
    let row = |line: &PresentedLine| {
        let mut row = vec![called(&line.scientific_name, &line.common_name)];
        row.extend(line.cells.iter().map(ToString::to_string));
        row
    };
    let link = |line: &PresentedLine| {
        let of = |column: &ProfileColumn| of_cell(report, &format!("stock/{}/{}", line.scientific_name, column.cells.join("+")));
        std::iter::once(String::new()).chain(report.profile.columns.iter().map(of)).collect()
    };
    let rows = Rows {
        title: &report.profile.title,
        explains: "The same list in the columns of the profile, males.females.unknown.",
        columns: &columns,
        words: 1,
        rows: &shown.lines.iter().map(row).collect::<Vec<_>>(),
        total: true,
        footnotes: &shown.footnotes,
    };
    page.sourced(&rows, Sources::of_cells(shown.lines.iter().map(link).collect()));
}

fn called(scientific_name: &str, common_name: &str) -> String {
    if common_name.is_empty() { scientific_name.to_owned() } else { format!("{scientific_name} ({common_name})") }
}

/// A column of animals that went or came back otherwise than by death or departure.
type Column = (&'static str, fn(&StockLine) -> Cell);

/// Those of which there were any.
fn absences(total: &StockLine) -> Vec<Column> {
    let all: [Column; 5] = [
        ("died, day undetermined", |line| line.died_day_undetermined),
        ("+ recaptured", |line| line.recaptured),
        ("+ found", |line| line.found),
        ("− escaped", |line| line.escaped),
        ("− missing", |line| line.missing),
    ];
    all.into_iter().filter(|(_, cell)| !cell(total).is_nought()).collect()
}

fn stock_row(line: &StockLine, absent: &[Column], recounts: bool) -> Vec<String> {
    let name = called(&line.scientific_name, &line.common_name);
    let cells = [line.start, line.arrived, line.hatched, line.died_within_30_days, line.died_other, line.departed];
    let mut row = vec![name];
    row.extend(cells.map(|cell| cell.to_string()));
    row.extend(absent.iter().map(|(_, cell)| cell(line).to_string()));
    row.push(signed(line.sexed));
    row.extend(recounts.then(|| signed(line.recount)));
    row.push(line.end.to_string());
    row
}

/// `+1.+2.−3`.
fn signed(cell: Cell) -> String {
    let one = |count: i64| match count {
        0 => "0".to_owned(),
        count if count > 0 => format!("+{count}"),
        count => format!("−{}", count.unsigned_abs()),
    };
    cell.0.map(one).join(".")
}

/// So many species stand beside each other in one ledger.
const SPECIES_ACROSS_MAX: usize = 4;

fn ledger(page: &mut Page, report: &AnnualReport) {
    let ledger = &report.ledger;
    if ledger.lines.is_empty() {
        page.para("No cases were in the collection.");
        return;
    }
    let mut columns: Vec<&LedgerLine> = ledger.lines.iter().collect();
    if columns.len() > 1 {
        columns.push(&ledger.total);
    }
    for chunk in columns.chunks(SPECIES_ACROSS_MAX) {
        ledger_table(page, report, chunk);
    }
}

fn ledger_table(page: &mut Page, report: &AnnualReport, lines: &[&LedgerLine]) {
    let not_taken_in = report.ledger.not_taken_in;
    let mut links = Vec::new();
    let link = |name: &str| {
        std::iter::once(String::new())
            .chain(lines.iter().map(|line| of_cell(report, &format!("ledger/{}/{name}", line.scientific_name))))
            .collect::<Vec<_>>()
    };
    let mut columns = vec!["Cases"];
    columns.extend(lines.iter().map(|line| line.scientific_name.as_str()));
    let mut rows = Vec::new();
    if lines.iter().any(|line| line.above().iter().any(|(_, count)| *count != 0)) {
        rows.push(std::iter::once("found here".to_owned()).chain(lines.iter().map(|line| line.collected.to_string())).collect());
        links.push(link("collected"));
    }
    for (index, cell) in ABOVE_CELLS.iter().enumerate() {
        let above: Vec<(&str, i64)> = lines.iter().map(|line| line.above()[index]).collect();
        if above.iter().any(|(_, count)| *count != 0) {
            rows.push(std::iter::once(above[0].0.to_owned()).chain(above.iter().map(|(_, count)| count.to_string())).collect());
            links.push(link(cell));
        }
    }
    let signed: Vec<_> = lines.iter().map(|line| line.signed()).collect();
    for index in 0..signed[0].len() {
        let (name, sign, _) = signed[0][index];
        // Lines that are nought everywhere say nothing, but for start.
        if index > 0 && signed.iter().all(|line| line[index].2 == 0) {
            continue;
        }
        let mark = if index == 0 {
            ""
        } else if sign > 0 {
            "+ "
        } else {
            "− "
        };
        let mut row = vec![format!("{mark}{name}")];
        row.extend(signed.iter().map(|line| line[index].2.to_string()));
        rows.push(row);
        links.push(link(LEDGER_CELLS[index]));
    }
    links.push(link("end"));
    let mut end = vec!["incubating at the end".to_owned()];
    end.extend(lines.iter().map(|line| line.end.to_string()));
    rows.push(end);
    let taken = counted(not_taken_in, "case of the year is", "cases of the year are");
    let footnotes: Vec<String> =
        (not_taken_in > 0).then(|| format!("{taken} in these lines without having been put in an incubation place.")).into_iter().collect();
    let rows = Rows {
        title: "Egg cases",
        explains: "Cases, not young. Each case leaves once, by its first leaving that stands; lines without any case are left out. What stands above the start is told beside the balance.",
        columns: &columns,
        words: 1,
        rows: &rows,
        total: true,
        footnotes: &footnotes,
    };
    page.sourced(&rows, Sources::of_cells(links));
}

fn water(page: &mut Page, report: &AnnualReport) {
    if report.water.is_empty() {
        page.para("No readings were noted.");
        return;
    }
    let rows: Vec<Vec<String>> = report.water.iter().map(water_row).collect();
    let link = |line: &WaterLine| {
        let words = std::iter::repeat_n(String::new(), 3);
        words.chain(WATER_CELLS.iter().map(|cell| of_cell(report, &format!("{}/{cell}", line.path())))).collect()
    };
    let rows = Rows {
        title: "Readings",
        explains: "Least, middle and greatest. Readings on different scales or bases are never put together.",
        columns: &["Place", "measure", "basis", "readings", "instruments", "min", "median", "max"],
        words: 3,
        rows: &rows,
        total: false,
        footnotes: &report.water.iter().filter_map(hollow_of).collect::<Vec<_>>(),
    };
    page.sourced(&rows, Sources::of_cells(report.water.iter().map(link).collect()));
}

/// Readings that drawings show hollow are counted, and told.
fn hollow_of(line: &WaterLine) -> Option<String> {
    let WaterLine { of, label, measure, readings, hollow, .. } = line;
    let says =
        format!("{of} {label}, {measure}: {hollow} of {readings} readings are past the calibration of their instrument; they are counted.");
    (*hollow > 0).then_some(says)
}

fn water_row(line: &WaterLine) -> Vec<String> {
    let measure = if line.unit.is_empty() { line.measure.clone() } else { format!("{}, {}", line.measure, line.unit) };
    let mut row = vec![format!("{} {}", line.of, line.label), measure, line.basis.clone()];
    row.extend([line.readings, line.instruments].map(|count| count.to_string()));
    row.extend(alike([line.min, line.median, line.max]));
    row
}

/// The values with as many decimals as the one that needs most.
fn alike(values: [f64; 3]) -> [String; 3] {
    let decimals = |value: &f64| value.to_string().split_once('.').map_or(0, |(_, fraction)| fraction.len());
    let most = values.iter().map(decimals).max().unwrap_or(0);
    values.map(|value| format!("{value:.most$}"))
}
