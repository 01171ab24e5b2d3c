//! The parts for each reader: what the tables of the report say, and beside them the drawings.

use super::page::{Page, Rows, Sources, counted};
use super::sources::{of_cell_from, of_figure, of_row};
use crate::report::annual::AnnualReport;
use crate::report::annual::curator::YearLine;
use crate::report::annual::table::{PartRow, PartTable};
use crate::report::draw;
use crate::report::figures::fates::Count;
use crate::report::numbers::{percent, percent_range};
use serde_json::Value;

/// Writes the part for the curator.
pub fn curator(page: &mut Page, report: &AnnualReport) {
    page.section("curator", "For the curator: years side by side");
    years(page, report);
    fates_by_age(page, report);
    super::warmth::write(page, report);
    report.curator.tables.iter().for_each(|table| part_table(page, report, table));
}

/// Writes the parts for the others.
pub fn others(page: &mut Page, report: &AnnualReport) {
    page.section("authority", "For the licensing authority");
    for clause in &report.profile.clauses {
        page.note(&format!("{}: {}.", clause.part, clause.reference));
    }
    report.authority.tables.iter().for_each(|table| part_table(page, report, table));
    page.section("studbook", "For the studbook keeper");
    report.studbook.tables.iter().for_each(|table| part_table(page, report, table));
    page.section("auditor", "For the auditor");
    report.auditor.tables.iter().for_each(|table| part_table(page, report, table));
    refused(page, report);
}

/// A table as the report has it. One without rows is said to be empty.
pub(super) fn part_table(page: &mut Page, report: &AnnualReport, table: &PartTable) {
    if table.rows.is_empty() {
        page.heading(&table.title);
        page.note(&format!("{} None.", table.explains));
        table.footnotes.iter().for_each(|note| page.note(note));
        return;
    }
    let headings: Vec<&str> = table.columns.iter().map(|column| column.heading.as_str()).collect();
    let words = table.columns.iter().take_while(|column| !column.number).count();
    let rows: Vec<Vec<String>> = table.rows.iter().map(|row| row.cells.iter().map(cell).collect()).collect();
    // A row is asked for by what it counts, else by its place in the table.
    let link = |(at, row): (usize, &PartRow)| match &row.figure {
        Some(address) => of_figure(report, address),
        None if row.events.is_empty() => String::new(),
        None => of_row(report, &table.id, at + 1),
    };
    let of_rows: Vec<String> = table.rows.iter().enumerate().map(link).collect();
    let links = of_rows.iter().map(|link| vec![link.clone(); table.columns.len()]).collect();
    let notes = table.rows.iter().map(|row| row.events.clone()).collect();
    let all_notes = (1..=table.rows.len()).map(|at| of_row(report, &table.id, at)).collect();
    let rows = Rows {
        title: &table.title,
        explains: &table.explains,
        columns: &headings,
        words,
        rows: &rows,
        total: false,
        footnotes: &table.footnotes,
    };
    page.sourced(&rows, Sources { links, notes, all_notes });
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => "–".to_owned(),
        Value::String(text) if text.is_empty() => "–".to_owned(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// `2025`, or the days where they are no calendar year.
fn named(line: &YearLine) -> String {
    let (first, last) = (line.first_day.to_string(), line.last_day.to_string());
    match (first.strip_suffix("-01-01"), last.strip_suffix("-12-31")) {
        (Some(year), Some(_)) => year.to_owned(),
        _ => format!("{first} to {last}"),
    }
}

fn years(page: &mut Page, report: &AnnualReport) {
    let lines = &report.curator.years;
    page.para(
        "Each line is as it stands now, so that what came to be known later is counted in its own year. Years differ in dams, water and \
         searching; small numbers move by chance.",
    );
    rates(page, report, lines);
    rearing(page, report, lines);
    losses(page, report, lines);
}

fn rates(page: &mut Page, report: &AnnualReport, lines: &[YearLine]) {
    let names: Vec<&str> = lines.first().map_or_else(Vec::new, |line| line.rates.iter().map(|rate| rate.name.as_str()).collect());
    let mut columns = vec!["Cases found here in"];
    columns.extend(names.iter().map(|name| super::front::denominator(name)));
    let row = |line: &YearLine| {
        let told = |name: &&str| {
            let Some(rate) = line.rates.iter().find(|rate| rate.name == **name) else { return "–".to_owned() };
            match (rate.estimate, rate.wilson_95, rate.bounds) {
                (Some(estimate), Some(interval), _) => {
                    format!("{} of {}: {} ({})", rate.x, rate.n, percent(estimate), percent_range(interval))
                }
                (_, _, Some(bounds)) => format!("{} of {}, {} open: {}", rate.x, rate.n, rate.open, percent_range(bounds)),
                _ => "no cases".to_owned(),
            }
        };
        let mut row = vec![named(line)];
        row.extend(names.iter().map(told));
        row
    };
    let links = lines.iter().map(|line| vec![figure(report, line, "hatch-rates"); columns.len()]).collect();
    let rows = Rows {
        title: "Hatched, by four denominators",
        explains: "x of n: the rate with its 95 % Wilson interval, or while cases are open the bounds within which it will end.",
        columns: &columns,
        words: 1,
        rows: &lines.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    };
    page.sourced(&rows, Sources::of_cells(links));
}

fn figure(report: &AnnualReport, line: &YearLine, name: &str) -> String {
    of_figure(report, &format!("/v1/figures/{name}?from={}&to={}", line.first_day, line.last_day))
}

fn rearing(page: &mut Page, report: &AnnualReport, lines: &[YearLine]) {
    let ages: Vec<u32> = lines.first().map_or_else(Vec::new, |line| line.rearing.iter().map(|point| point.age_days).collect());
    let headings: Vec<String> = ages.iter().map(|age| format!("at {age} days")).collect();
    let mut columns = vec!["Hatched in", "young"];
    columns.extend(headings.iter().map(String::as_str));
    let row = |line: &YearLine| {
        let told = |point: &crate::report::figures::rearing::Point| match (point.survival, point.loglog_95) {
            (Some(survival), Some(interval)) => format!("{} ({}), {} at risk", percent(survival), percent_range(interval), point.at_risk),
            (Some(survival), None) => format!("{}, {} at risk", percent(survival), point.at_risk),
            _ => "not reached".to_owned(),
        };
        let mut row = vec![named(line), line.young.to_string()];
        row.extend(line.rearing.iter().map(told));
        row
    };
    let links = lines.iter().map(|line| vec![figure(report, line, "rearing"); columns.len()]).collect();
    let rows = Rows {
        title: "Rearing: survival from hatch",
        explains: "Kaplan-Meier with its 95 % log-log interval, of the young that hatched in each year and are followed.",
        columns: &columns,
        words: 1,
        rows: &lines.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    };
    page.sourced(&rows, Sources::of_cells(links));
}

fn losses(page: &mut Page, report: &AnnualReport, lines: &[YearLine]) {
    let (by_cause, by_band) = (
        LossTable {
            title: "Losses by apparent cause",
            explains: "Cases lost in each year, whenever they came, as is known now, and their share of that year's losses.",
            heading: "Apparent cause",
            cells: "cases_by_cause",
            counts: |line| &line.lost_by_cause,
        },
        LossTable {
            title: "Embryos that died, by the band last seen",
            explains: "Of all cases lost in each year.",
            heading: "Band last seen",
            cells: "embryos_by_band_last_seen",
            counts: |line| &line.embryos_by_band_last_seen,
        },
    );
    by_cause.write(page, report, lines);
    by_band.write(page, report, lines);
}

/// Losses of years side by side.
struct LossTable {
    title: &'static str,
    explains: &'static str,
    heading: &'static str,
    /// The list of the section `losses_now` in which its cells stand.
    cells: &'static str,
    counts: fn(&YearLine) -> &[Count],
}

impl LossTable {
    fn count(&self, line: &YearLine, name: &str) -> u64 {
        (self.counts)(line).iter().find(|count| count.name == name).map_or(0, |count| count.count)
    }

    fn write(&self, page: &mut Page, report: &AnnualReport, lines: &[YearLine]) {
        let mut names: Vec<&str> = Vec::new();
        for count in lines.iter().flat_map(self.counts) {
            if !names.contains(&count.name.as_str()) {
                names.push(&count.name);
            }
        }
        let headings: Vec<String> = lines.iter().map(|line| format!("{}, {} lost", named(line), line.lost)).collect();
        let mut columns = vec![self.heading];
        columns.extend(headings.iter().map(String::as_str));
        let told = |line: &YearLine, name: &str| {
            let count = self.count(line, name);
            line.share(count).map_or_else(|| count.to_string(), |share| format!("{count} ({})", percent(share)))
        };
        let link = |line: &YearLine, name: &str| of_cell_from(report, line.first_day, &format!("losses_now/{}/{name}", self.cells));
        let row = |name: &&str| std::iter::once((*name).to_owned()).chain(lines.iter().map(|line| told(line, name))).collect();
        let links = |name: &&str| std::iter::once(String::new()).chain(lines.iter().map(|line| link(line, name))).collect();
        let rows = Rows {
            title: self.title,
            explains: self.explains,
            columns: &columns,
            words: 1,
            rows: &names.iter().map(row).collect::<Vec<_>>(),
            total: false,
            footnotes: &[],
        };
        page.sourced(&rows, Sources::of_cells(names.iter().map(links).collect()));
    }
}

fn fates_by_age(page: &mut Page, report: &AnnualReport) {
    if let Some(fates) = report.curator.egg_fates.as_ref().filter(|fates| !fates.ages.is_empty()) {
        page.heading("What becomes of the cases, by age");
        page.note(&format!("Method: {}. {} cases at risk.", fates.head.method, fates.n));
        page.figure(
            &draw::egg_fates(fates),
            &format!(
                "Shares of all cases at risk; they add up at every age. White: still open. Of the {} that hatched {} did after an opening; \
                 among those that left, {} put down by decision with a living embryo.",
                fates.hatched,
                fates.hatched_after_opening,
                counted(report.fates.put_down_alive, "was", "were")
            ),
        );
        let row = |age: &crate::report::figures::egg_fates::AgeFates| {
            let part = |part: &crate::report::figures::egg_fates::Part| percent(part.estimate);
            vec![
                age.age_days.to_string(),
                age.at_risk.to_string(),
                part(&age.hatched),
                part(&age.died),
                part(&age.removed),
                percent(age.open),
            ]
        };
        let rows: Vec<Vec<String>> = fates.ages.iter().map(row).collect();
        let address = format!("/v1/figures/egg-fates?from={}&to={}", report.period.first_day, report.period.last_day);
        let links = rows.iter().map(|row| vec![of_figure(report, &address); row.len()]).collect();
        let rows = Rows {
            title: "The same in numbers",
            explains: "By each age in days at which something ended.",
            columns: &["Age, days", "at risk", "hatched", "died", "left", "open"],
            words: 0,
            rows: &rows,
            total: false,
            footnotes: &fates.notes,
        };
        page.sourced(&rows, Sources::of_cells(links));
    }
    loss_timing(page, report);
}

fn loss_timing(page: &mut Page, report: &AnnualReport) {
    let Some(timing) = report.curator.loss_timing.as_ref().filter(|timing| !timing.ages.is_empty()) else { return };
    page.heading("When cases die");
    page.note(&format!("Method: {}. {}.", timing.head.method, timing.head.interval));
    page.figure(&draw::loss_timing(timing), "The band is what the looks leave open, not an error of sampling.");
    let row = |age: &crate::report::figures::loss_timing::AgeLosses| {
        vec![age.age_days.to_string(), percent(age.lost_at_least), percent(age.lost_at_most)]
    };
    let rows: Vec<Vec<String>> = timing.ages.iter().map(row).collect();
    let address = format!("/v1/figures/loss-timing?from={}&to={}", report.period.first_day, report.period.last_day);
    let links = rows.iter().map(|row| vec![of_figure(report, &address); row.len()]).collect();
    let rows = Rows {
        title: "The same in numbers",
        explains: &format!("{} among {}.", counted(timing.deaths, "death", "deaths"), counted(timing.n, "case", "cases")),
        columns: &["Age, days", "died, at least", "at most"],
        words: 0,
        rows: &rows,
        total: false,
        footnotes: &timing.notes,
    };
    page.sourced(&rows, Sources::of_cells(links));
}

fn refused(page: &mut Page, report: &AnnualReport) {
    page.heading("Refused writes");
    let Some(refused) = &report.auditor.refused_writes else {
        page.note("Not told here: refused writes stand beside the log, and this report was made from the log alone.");
        return;
    };
    let row = |count: &Count| vec![count.name.clone(), count.count.to_string()];
    let reach = if refused.reaches_back { "" } else { " The journal keeps only so many, and no longer reaches back to the first day." };
    if refused.by_problem.is_empty() {
        page.note(&format!("None in these months.{reach}"));
        return;
    }
    page.table(&Rows {
        title: "Refused in these months, by problem",
        explains: &format!(
            "They stand beside the log and no bundle holds them: whoever computes the report anew takes these numbers as they are.{reach}"
        ),
        columns: &["Problem", "refused"],
        words: 1,
        rows: &refused.by_problem.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    });
}
