//! Discrepancies, who wrote, how to check this off line, what the proof shows, and cautions.

use super::page::{Page, Rows, counted};
use crate::report::annual::AnnualReport;

/// Writes the end of the page.
pub fn write(page: &mut Page, report: &AnnualReport) {
    page.section("discrepancies", "Open discrepancies");
    discrepancies(page, report);
    counted_by_age(page, report);
    suspected(page, report);
    page.section("writers", "Who wrote the notes");
    writers(page, report);
    page.section("methods", "Methods");
    methods(page, report);
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
    page.table(&Rows {
        title: "Open at that moment",
        explains: &format!("{total}, the weightiest first."),
        columns: &["Kind", "weight", "what is at odds", "notes"],
        words: 4,
        rows: &report.discrepancies_open.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    });
}

fn counted_by_age(page: &mut Page, report: &AnnualReport) {
    let row = |line: &crate::report::annual::shape::DiscrepancyCount| {
        let counts = [line.open_to_7_days, line.open_8_to_30_days, line.open_over_30_days, line.settled];
        [line.weight.clone()].into_iter().chain(counts.map(|count| count.to_string())).collect()
    };
    page.table(&Rows {
        title: "Discrepancies by weight and age",
        explains: "Ages are whole days since the latest of the notes that each rests on. Settled ones were explained or endorsed.",
        columns: &["Weight", "open, to 7 days", "open, 8 to 30 days", "open, over 30 days", "settled"],
        words: 1,
        rows: &report.discrepancies_counted.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    });
}

fn suspected(page: &mut Page, report: &AnnualReport) {
    if report.suspected.is_empty() {
        return;
    }
    let notes = counted(report.suspected.len() as u64, "note was", "notes were");
    page.heading("By a key under suspicion");
    page.para(&format!("{notes} recorded while the author's key was suspected; this report counts what they say."));
    page.terms(&[("Notes", report.suspected.join(" "))], &["Notes"]);
}

fn writers(page: &mut Page, report: &AnnualReport) {
    let row = |one: &crate::report::annual::shape::Writer| {
        vec![one.person.clone(), one.roles.join(", "), one.notes_of_year.to_string(), one.notes.to_string()]
    };
    page.table(&Rows {
        title: "Notes by author",
        explains: "People stand under pseudonyms; corrections and administration are counted too.",
        columns: &["Person", "roles", &format!("notes in {}", super::front::months(report)), "notes since the record began"],
        words: 2,
        rows: &report.writers.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    });
}

/// How every figure was made, in one place.
fn methods(page: &mut Page, report: &AnnualReport) {
    page.para(
        "What is counted is said at each table; here is how the figures are made. None of them is an experiment: what differs between two \
         groups may have differed before.",
    );
    let curator = &report.curator;
    let mut terms = vec![("Hatch rates", report.hatch_rates.method.clone()), ("Rearing", report.rearing_of_all.method.clone())];
    terms.extend(curator.egg_fates.as_ref().map(|figure| ("Fates by age", format!("{}. {}", figure.head.method, figure.head.interval))));
    terms
        .extend(curator.loss_timing.as_ref().map(|figure| ("When cases die", format!("{}. {}", figure.head.method, figure.head.interval))));
    terms.extend(curator.incubation.as_ref().map(|figure| ("Incubation", format!("{}. {}", figure.head.method, figure.head.interval))));
    terms.push((
        "Stock list",
        "each animal is followed by itself; a line is an identity and fails where the notes of one do not add up".to_owned(),
    ));
    terms.push(("Days", format!("of the calendar of {}, time zones {}", report.collection.time_zone, report.tzdb)));
    page.terms(&terms, &[]);
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
