//! Discrepancies, who wrote, how to check this off line, what the proof shows, and cautions.

use super::page::{Page, Table, counted};
use crate::report::annual::AnnualReport;

/// Writes the end of the page.
pub fn write(page: &mut Page, report: &AnnualReport) {
    page.section("discrepancies", "Open discrepancies");
    discrepancies(page, report);
    page.section("writers", "Who wrote the notes");
    writers(page, report);
    page.section("check", "How to check this off line");
    check(page, report);
    page.section("cautions", "Cautions, and what is left out");
    page.list(report.cautions.iter().map(String::as_str));
    page.heading("Not in this report");
    page.list(report.not_covered.iter().map(String::as_str));
}

fn discrepancies(page: &mut Page, report: &AnnualReport) {
    page.para("Possible in reality, but at odds with the rest of the record. Each ends by a correction or by a signed explanation.");
    if report.discrepancies_open.is_empty() {
        page.para("None was open.");
        return;
    }
    let row = |one: &crate::report::annual::shape::OpenDiscrepancy| {
        vec![one.kind.clone(), one.weight.clone(), one.says.clone(), one.events.join(" ")]
    };
    let total = counted(report.discrepancies_open.len() as u64, "discrepancy", "discrepancies");
    page.table(&Table {
        title: "Open at that moment",
        explains: &format!("{total}, the weightiest first."),
        columns: &["Kind", "weight", "what is at odds", "notes"],
        words: 4,
        rows: &report.discrepancies_open.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    });
}

fn writers(page: &mut Page, report: &AnnualReport) {
    let row = |one: &crate::report::annual::shape::Writer| {
        vec![one.person.clone(), one.roles.join(", "), one.notes_of_year.to_string(), one.notes.to_string()]
    };
    page.table(&Table {
        title: "Notes by author",
        explains: "People stand under pseudonyms; corrections and administration are counted too.",
        columns: &["Person", "roles", &format!("notes in {}", report.year), "notes since the record began"],
        words: 2,
        rows: &report.writers.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    });
}

fn check(page: &mut Page, report: &AnnualReport) {
    page.para("Take the record away as a folder, and check it on another machine with the log's key as you got it by another way:");
    page.command(&format!("selachron bundle FOLDER\nselachron-verify FOLDER --log-key '{}' --seen CHECKPOINT", report.collection.log_vkey));
    page.para(&format!(
        "The log had {} notes and the root printed above when this was computed. A checkpoint that you kept earlier goes where CHECKPOINT \
         stands; without one nobody can see that the newest notes were left out. The report in JSON, from which this page was made, is \
         computed anew from the same notes to the same bytes.",
        report.known_at
    ));
    page.heading("What the proof shows");
    page.para(&report.proof_shows);
    page.para(&report.proof_does_not_show);
}
