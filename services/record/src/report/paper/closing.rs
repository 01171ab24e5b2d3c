//! Discrepancies, who wrote, how to check this off line, what the proof shows, and cautions.

use super::page::{Page, Rows, Sources, counted};
use super::sources::of_cell;
use crate::report::annual::AnnualReport;
use crate::report::annual::cells_of_notes::WRITER_CELLS;
use crate::report::annual::discrepancies::AGES;
use chrono::Datelike as _;

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
    let row = |one: &crate::report::annual::shape::OpenDiscrepancy| vec![one.kind.clone(), one.weight.clone(), one.says.clone()];
    let total = counted(report.discrepancies_open.len() as u64, "discrepancy", "discrepancies");
    let table = Rows {
        title: "Open at that moment",
        explains: &format!("{total}, the weightiest first."),
        columns: &["Kind", "weight", "what is at odds"],
        words: 3,
        rows: &report.discrepancies_open.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    };
    let notes = report.discrepancies_open.iter().map(|one| one.events.clone()).collect();
    // All together are told under their weight and age, in the next table.
    page.sourced(&table, Sources { notes, ..Sources::default() });
}

fn counted_by_age(page: &mut Page, report: &AnnualReport) {
    let row = |line: &crate::report::annual::shape::DiscrepancyCount| {
        let counts = [line.open_to_7_days, line.open_8_to_30_days, line.open_over_30_days, line.settled];
        [line.weight.clone()].into_iter().chain(counts.map(|count| count.to_string())).collect()
    };
    let link = |line: &crate::report::annual::shape::DiscrepancyCount| {
        let cell = |age: &str| of_cell(report, &format!("discrepancies/{}/{age}", line.weight));
        std::iter::once(String::new()).chain(AGES.map(cell)).collect()
    };
    let table = Rows {
        title: "Discrepancies by weight and age",
        explains: "Ages are whole days since the latest of the notes that each rests on. Settled ones were explained or endorsed.",
        columns: &["Weight", "open, to 7 days", "open, 8 to 30 days", "open, over 30 days", "settled"],
        words: 1,
        rows: &report.discrepancies_counted.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    };
    page.sourced(&table, Sources::of_cells(report.discrepancies_counted.iter().map(link).collect()));
}

fn suspected(page: &mut Page, report: &AnnualReport) {
    if report.suspected.is_empty() {
        return;
    }
    let notes = counted(report.suspected.len() as u64, "note was", "notes were");
    page.heading("By a key under suspicion");
    page.para(&format!("{notes} recorded while the author's key was suspected; this report counts what they say."));
    page.notes_of(&[], &report.suspected);
}

fn writers(page: &mut Page, report: &AnnualReport) {
    let row = |one: &crate::report::annual::shape::Writer| {
        vec![one.person.clone(), one.roles.join(", "), one.notes_of_year.to_string(), one.notes.to_string()]
    };
    let link = |one: &crate::report::annual::shape::Writer| {
        let of = |cell: &str| of_cell(report, &format!("writers/{}/{cell}", one.person));
        std::iter::repeat_n(String::new(), 2).chain(WRITER_CELLS.map(of)).collect()
    };
    let heading = format!("notes in {}", super::front::months(report));
    let sources = Sources::of_cells(report.writers.iter().map(link).collect());
    let rows = Rows {
        title: "Notes by author",
        explains: "People stand under pseudonyms; corrections and administration are counted too.",
        columns: &["Person", "roles", &heading, "notes since the record began"],
        words: 2,
        rows: &report.writers.iter().map(row).collect::<Vec<_>>(),
        total: false,
        footnotes: &[],
    };
    page.sourced(&rows, sources);
}

/// How the figures are made that say it nowhere else.
const METHODS: [(&str, &str); 11] = [
    (
        "Stock list",
        "each animal and each group is followed by itself; a line is an identity and fails where the notes of one do not add up",
    ),
    (
        "Presence and ownership",
        "two lists: whoever is here, whosever it is, and whatever is ours, wherever it is; they differ by loans, and a loan changes only the first",
    ),
    (
        "Egg ledger",
        "each case enters once and leaves once, by its first leaving that stands; a line fails where these do not give the cases counted",
    ),
    ("Losses and shares", "counts of what was noted, by the apparent cause or the band last seen, and their part of all in the same table"),
    (
        "Restatements",
        "the lists of an issued report, for its own instant, once by the notes known when it was issued and once by those known now",
    ),
    (
        "Days between pairs",
        "days between a dam's clutches or pairs in the order they were found; a pair laid unseen is found later than it was laid",
    ),
    (
        "Openings",
        "described, never compared: cases are opened because they are late or in trouble, so that those opened and those not are different cases",
    ),
    (
        "Before and after a change",
        "the same rates for 180 days on either side (a convention of this record, no source); no test is made, because seasons, dams and looking differ too",
    ),
    (
        "Water",
        "readings of one measure and basis together, never of two; an episode lasts from the first reading outside the band to the first inside",
    ),
    (
        "Hours of delay",
        "from what a note says happened to the device's clock at signing, and from that to the log's clock; percentiles by the nearest rank",
    ),
    (
        "Withheld and suspected",
        "a withheld body counts as far as its replacement says; notes of a key under suspicion are counted and marked",
    ),
];

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
    terms.extend(METHODS.map(|(name, says)| (name, says.to_owned())));
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
    page.para(
        "From which notes a number is, the service says: in the page every number leads there, and at a keyboard the same is asked by the \
         cell, such as a row of a table or a line of a list:",
    );
    let begins = match (report.period.first_day.month(), report.period.first_day.day()) {
        (1, 1) => String::new(),
        (month, day) => format!(" --begins {month:02}-{day:02}"),
    };
    page.command(&format!(
        "selachron report {}{begins} --cell 'ledger/all species/dead'\nselachron report {}{begins} --cell tables/deaths/1",
        report.year, report.year
    ));
    page.heading("What the proof shows");
    page.para(&report.proof_shows);
    page.para(&report.proof_does_not_show);
}
