//! Hatch rates, what became of the cases, and losses by apparent cause.

use super::front::{denominator, months};
use super::page::{Page, Rows, Sources, counted};
use super::sources::of_cell;
use crate::report::annual::AnnualReport;
use crate::report::draw;
use crate::report::figures::fates::Count;
use crate::report::figures::{Behind, Fates, HatchRates, Rate};
use crate::report::numbers::{percent, percent_range};

/// Writes the parts about cases.
pub fn write(page: &mut Page, report: &AnnualReport) {
    page.section("hatch-rates", "Hatch rates");
    page.para(
        "Four denominators, because a rate without its denominator says nothing. While cases are open there is no estimate: \
         those that die early are settled first.",
    );
    page.note(&format!("Method: {}.", report.hatch_rates.method));
    rates(page, report, &report.hatch_rates, &format!("Cases that came in {}", months(report)), "rates");
    if let Some(before) = &report.hatch_rates_year_before {
        rates(page, report, before, "Cases that came in the twelve months before, as they stand now", "rates-before");
    }
    page.section("fates", "What became of the cases");
    fates(page, report);
    page.section("losses", "Losses by apparent cause");
    losses(page, report);
}

fn rates(page: &mut Page, report: &AnnualReport, rates: &HatchRates, title: &str, id: &str) {
    let found: Vec<&Rate> = rates.collected.iter().chain(&rates.received).collect();
    page.figure(
        &draw::hatch_rates(rates, &format!("Hatch rates. {title}"), id),
        "Dot and line: estimate and 95 % Wilson interval. Dashed line without a dot: cases are open, and the rate will end between its ends.",
    );
    let rows: Vec<Vec<String>> = found.iter().map(|rate| row(rate)).collect();
    let mut footnotes = vec![format!("Found here: {}.", behind(&rates.behind))];
    footnotes.extend(rates.collected.first().and_then(beside_the_rate));
    if !rates.received.is_empty() || rates.dead_on_arrival > 0 {
        let dead = counted(rates.dead_on_arrival, "case", "cases");
        footnotes.push(format!("Received: {}; besides, {dead} arrived dead.", behind(&rates.behind_received)));
    }
    if rates.origin_withheld > 0 {
        footnotes.push(format!(
            "{}: the note that says how they came is withheld; in no rate.",
            counted(rates.origin_withheld, "case", "cases")
        ));
    }
    let table = Rows {
        title,
        explains: "Hatched x of n cases. Interval: 95 % Wilson, or the bounds while cases are open. “Not judged”: nobody could see whether the case belongs to that line. “End not known”: left before an end was seen.",
        columns: &["Cases", "x", "n", "unaided", "after opening", "open", "not judged", "end not known", "rate", "interval"],
        words: 1,
        rows: &rows,
        total: false,
        footnotes: &footnotes,
    };
    let section = if id == "rates" { "hatch_rates" } else { "hatch_rates_year_before" };
    let links = found.iter().map(|rate| rate_links(report, section, rates, rate)).collect();
    page.sourced(&table, Sources::of_cells(links));
}

/// The cells of a row, at which address each is explained.
fn rate_links(report: &AnnualReport, section: &str, rates: &HatchRates, rate: &Rate) -> Vec<String> {
    let list = if rates.collected.iter().any(|one| std::ptr::eq(one, rate)) { "collected" } else { "received" };
    let cell = |name: &str| of_cell(report, &format!("{section}/{list}/{}/{name}", rate.name));
    let cells = ["x", "n", "unaided", "after_opening", "open", "could_not_be_judged", "end_not_known", "estimate", "wilson_95"];
    std::iter::once(String::new()).chain(cells.iter().map(|name| cell(name))).collect()
}

fn row(rate: &Rate) -> Vec<String> {
    let absent = || rate.absent.as_ref().map_or_else(String::new, |absent| absent.why.clone());
    let mut row = vec![denominator(&rate.name).to_owned()];
    let counts = [rate.x, rate.n, rate.unaided, rate.after_opening, rate.open, rate.could_not_be_judged, rate.end_not_known];
    row.extend(counts.map(|count| count.to_string()));
    row.push(rate.estimate.map_or_else(absent, percent));
    let bounds = rate.bounds.map(|bounds| format!("bounds {}", percent_range(bounds)));
    let known: Vec<String> = rate.wilson_95.map(percent_range).into_iter().chain(bounds).collect();
    // The cell may break between the two ranges, never inside one.
    let unbroken: Vec<String> = known.iter().map(|range| range.replace(' ', "\u{a0}")).collect();
    row.push(if unbroken.is_empty() { "–".to_owned() } else { unbroken.join("; ") });
    row
}

/// Cases that were put down, and those that are missing, by number.
fn beside_the_rate(rate: &Rate) -> Option<String> {
    let put_down = counted(rate.put_down, "case", "cases");
    let alive = format!("{} with a living embryo", rate.put_down_alive);
    let missing = counted(rate.missing, "case", "cases");
    (rate.put_down + rate.missing > 0).then(|| {
        format!("Put down by decision, and counted as not hatched: {put_down}, {alive}. Missing, with an end that is not known: {missing}.")
    })
}

/// What stands behind a figure, as a sentence.
pub fn behind(behind: &Behind) -> String {
    let mut said = format!(
        "{}, {} ({} without a clutch named), {} known ({} with several candidates, {} with none known)",
        counted(behind.eggs, "case", "cases"),
        counted(behind.clutches, "clutch", "clutches"),
        behind.eggs_without_clutch,
        counted(behind.dams_known, "dam", "dams"),
        behind.eggs_with_candidate_dams,
        behind.eggs_without_dam,
    );
    if behind.dam_only_a_candidate > 0 {
        said += &format!("; {} left out, the dam being only a candidate", counted(behind.dam_only_a_candidate, "case", "cases"));
    }
    said
}

fn fates(page: &mut Page, report: &AnnualReport) {
    let (fates, year) = (&report.fates, months(report));
    let of = format!("cases that came in {year}");
    if fates.cases == 0 {
        page.para(&format!("No cases came in {year}."));
        return;
    }
    page.figure(
        &draw::fates(fates, &of, "fates-plot"),
        &format!(
            "{} Full: hatched unaided; oblique strokes: after opening; grey: lost; dashed: no end known. Each case is counted once.",
            draw::finding_of_fates(fates, &of)
        ),
    );
    fates_table(page, report, fates);
    page.note(&format!("Behind them: {}.", behind(&fates.behind)));
}

/// What the drawing shows, in numbers.
fn fates_table(page: &mut Page, report: &AnnualReport, fates: &Fates) {
    let part = |count: u64| percent(count as f64 / fates.cases.max(1) as f64);
    let shown = draw::fates_in_order(fates);
    let mut rows: Vec<Vec<String>> = shown.iter().map(|(_, says, count, _)| vec![says.clone(), count.to_string(), part(*count)]).collect();
    rows.push(vec!["all".to_owned(), fates.cases.to_string(), part(fates.cases)]);
    let cell = |name: &str| of_cell(report, &format!("fates/{name}"));
    let links = shown.iter().map(|(path, ..)| cell(path)).chain([cell("cases")]);
    let rows = Rows {
        title: "The same in numbers",
        explains: "Each case once.",
        columns: &["Fate", "cases", "of all"],
        words: 1,
        rows: &rows,
        total: true,
        footnotes: &[],
    };
    page.sourced(&rows, Sources::of_cells(links.map(|link| vec![String::new(), link.clone(), link]).collect()));
}

fn losses(page: &mut Page, report: &AnnualReport) {
    let losses = &report.losses;
    page.para(&format!(
        "Lost or died from {} to {}, whenever they came. Causes are apparent: what the keeper saw, not a diagnosis.",
        report.period.first_day, report.period.until
    ));
    let table = |page: &mut Page, named: (&str, &str), list: &str, counts: &[Count], total: (&str, u64), of: &str| {
        let cell = |name: &str| of_cell(report, &format!("losses/{name}"));
        let links: Vec<String> = counts.iter().map(|one| cell(&format!("{list}/{}", one.name))).chain([cell(total.0)]).collect();
        causes(page, named, counts, total.1, of, links);
    };
    table(page, ("Cases lost", "Apparent cause"), "cases_by_cause", &losses.cases_by_cause, ("cases", losses.cases), "of all cases lost");
    let bands = &losses.embryos_by_band_last_seen;
    let together: Vec<String> = bands.iter().map(|band| band.name.clone()).collect();
    table(
        page,
        ("Embryos that died, by candling band last seen", "Band"),
        "embryos_by_band_last_seen",
        bands,
        (&format!("embryos_by_band_last_seen/{}", together.join("+")), embryos(bands)),
        "of these",
    );
    table(
        page,
        ("Cases put down by decision, no losses", "Reason"),
        "cases_put_down_by_reason",
        &losses.cases_put_down_by_reason,
        ("cases_put_down", losses.cases_put_down),
        "of all put down",
    );
    if losses.cases_put_down_alive > 0 {
        let alive = counted(losses.cases_put_down_alive, "case put down held", "cases put down held");
        page.para(&format!("{alive} a living embryo."));
    }
    let animals = ("animals", losses.animals);
    table(page, ("Animals that died", "Apparent cause"), "animals_by_cause", &losses.animals_by_cause, animals, "of all that died");
    if losses.cases + losses.animals == 0 {
        page.para("Nothing was noted as lost or dead.");
    }
}

fn embryos(bands: &[Count]) -> u64 {
    bands.iter().map(|band| band.count).sum()
}

fn causes(page: &mut Page, (title, heading): (&str, &str), counts: &[Count], total: u64, of: &str, links: Vec<String>) {
    let part = |count: u64| percent(count as f64 / total.max(1) as f64);
    let mut rows: Vec<Vec<String>> = counts.iter().map(|one| vec![one.name.clone(), one.count.to_string(), part(one.count)]).collect();
    if rows.is_empty() {
        return;
    }
    rows.push(vec!["all".to_owned(), total.to_string(), part(total)]);
    let rows = Rows { title, explains: "", columns: &[heading, "number", of], words: 1, rows: &rows, total: true, footnotes: &[] };
    let links = links.into_iter().map(|link| vec![String::new(), link.clone(), link]).collect();
    page.sourced(&rows, Sources::of_cells(links));
}
