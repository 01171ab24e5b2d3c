//! Who, what, when; what does not add up, first and with its numbers; then the headline figures.

use super::page::{Block, Figure, Page, counted};
use super::sources::of_cell;
use crate::report::annual::AnnualReport;
use crate::report::annual::shape::FailingLine;
use crate::report::figures::rearing::Point;
use crate::report::figures::{Rate, Rearing};
use crate::report::numbers::{percent, percent_range};
use chrono::Datelike as _;
use selachron_statistics::kaplan_meier::AT_RISK_MIN;

/// Writes the front of the page, up to the headline.
pub fn write(page: &mut Page, report: &AnnualReport) {
    let collection = &report.collection;
    page.push(Block::Head {
        over: format!("Egg nursery of {}, {}", collection.name, collection.country),
        title: format!("Annual report {}", months(report)),
        under: format!("{} to {}, in the calendar of {}", report.period.first_day, report.period.until, collection.time_zone),
    });
    if report.simulated_clock {
        page.push(Block::Banner { text: "Invented season, simulated clock. Nothing told here happened.".to_owned() });
    }
    failing(page, report);
    profile(page, report);
    identity(page, report);
    page.push(Block::Contents);
    headline(page, report);
}

/// A failing line bars the word *complete* and is printed before anything else.
fn failing(page: &mut Page, report: &AnnualReport) {
    let completeness = &report.completeness;
    if !completeness.failing.is_empty() {
        let mut lines = Page::new("");
        lines.para(
            "The dates of the notes named here contradict each other. They must be put right before this report can be called whole.",
        );
        completeness.failing.iter().for_each(|line| failing_line(&mut lines, line));
        if let Some(because) = &completeness.released_because {
            lines.push(Block::Told { lead: "Released with these lines, because:".to_owned(), text: because.clone() });
            lines.para(RELEASED_BY);
        }
        page.push(Block::Alarm { heading: "Lines that do not add up".to_owned(), blocks: lines.blocks });
    }
    let verdict = match (completeness.complete, completeness.failing.len()) {
        (true, _) => "Complete: every line of the stock list and of the egg ledger adds up, and the year is over.".to_owned(),
        (false, 0) => format!("Preliminary: {}.", completeness.because.join("; ")),
        _ => format!("Not whole: {}.", completeness.because.join("; ")),
    };
    page.push(Block::Verdict { text: verdict });
}

/// Who releases a report with failing lines.
const RELEASED_BY: &str = "The release is the signature of a curator or registrar over this report (a note report.issued that names its \
                           SHA-256). Without one nobody has released it.";

fn failing_line(page: &mut Page, line: &FailingLine) {
    let lead = format!("{}, {}, {}:", line.table, line.species, line.class);
    let text = format!("end by arithmetic {}, as counted {}.", line.end_by_arithmetic, line.end_counted);
    page.push(Block::Told { lead, text });
    page.notes_of(&[("Whose notes", line.subjects.join(" "))], &line.events);
}

/// `2025`, or the days where they are no calendar year.
#[must_use]
pub fn months(report: &AnnualReport) -> String {
    let period = &report.period;
    if (period.first_day.month(), period.first_day.day()) == (1, 1) {
        report.year.to_string()
    } else {
        format!("{} to {}", period.first_day, period.last_day)
    }
}

fn profile(page: &mut Page, report: &AnnualReport) {
    let profile = &report.profile;
    page.note(&format!(
        "Profile {}: {}. As it holds from {} on; source: {}.",
        profile.name, profile.title, profile.valid_from, profile.source
    ));
    if let Some(day) = profile.changes_on {
        page.note(&format!(
            "Another version of this profile holds from {day} on, within these months. The whole report keeps to the one that held on their first day."
        ));
    }
}

fn identity(page: &mut Page, report: &AnnualReport) {
    let collection = &report.collection;
    let withheld = match report.withheld {
        0 => "none".to_owned(),
        withheld => counted(withheld, "body, by decision", "bodies, by decision"),
    };
    let suspected = match report.suspected.len() as u64 {
        0 => "none".to_owned(),
        suspected => counted(suspected, "note", "notes"),
    };
    let terms = [
        ("As of", report.as_of.utc_text()),
        ("Known notes", report.known_at.to_string()),
        ("Root of the log", report.root.clone()),
        ("Log", collection.origin.clone()),
        ("Log key fingerprint", collection.log_key_fingerprint.clone()),
        ("Withheld", withheld),
        ("By a key under suspicion", suspected),
        ("Computed by", format!("{}, time zones {}", report.software, report.tzdb)),
    ];
    page.terms(&terms, &["Root of the log", "Log key fingerprint"]);
}

fn headline(page: &mut Page, report: &AnnualReport) {
    page.section("headline", "In short");
    let mut items = Vec::new();
    let of = |list: &'static str| move |rate: &Rate| rate_item(report, list, rate);
    items.extend(report.hatch_rates.collected.iter().map(of("collected")));
    items.extend(report.hatch_rates.received.first().map(of("received")));
    items.extend(survival_item(report));
    let (ledger, stock) = (&report.ledger.total, &report.stock.total);
    let mut item = |figure: String, says: String, cell: &str| items.push(Figure { figure, says, link: of_cell(report, cell) });
    item(
        ledger.end.to_string(),
        format!(
            "cases incubating on {}, of {} at the start and {} that came",
            report.period.until,
            ledger.start,
            ledger.collected + ledger.received + ledger.came_withheld
        ),
        "ledger/all species/end",
    );
    item(
        stock.end.to_string(),
        format!("animals (males.females.unknown), {} in all, of {} at the start", stock.end.sum(), stock.start.sum()),
        "stock/all species/end",
    );
    let open = report.discrepancies_open.len() as u64;
    let says = format!("{} open at that moment", if open == 1 { "discrepancy" } else { "discrepancies" });
    // They stand one by one in a part of their own.
    items.push(Figure { figure: open.to_string(), says, link: "#discrepancies".to_owned() });
    page.push(Block::Figures { items });
}

fn rate_item(report: &AnnualReport, list: &str, rate: &Rate) -> Figure {
    let of = format!("hatched of the cases {}: {} of {}", denominator(&rate.name), rate.x, rate.n);
    let (figure, says) = match (rate.estimate, rate.wilson_95, rate.bounds) {
        (Some(estimate), Some(interval), _) => (percent(estimate), format!("{of}, 95 % Wilson interval {}", percent_range(interval))),
        (_, _, Some(bounds)) => (percent_range(bounds), format!("{of}, {} open: it will end between these two", rate.open)),
        _ => ("no cases".to_owned(), format!("of those that came in the year: {}", denominator(&rate.name))),
    };
    Figure { figure, says, link: of_cell(report, &format!("hatch_rates/{list}/{}/estimate", rate.name)) }
}

/// A denominator's name as it stands in a sentence.
pub fn denominator(name: &str) -> &str {
    match name {
        "embryo seen" => "in which a living embryo was seen",
        "received" => "received alive",
        name => name,
    }
}

/// Survival at the latest age at which enough were still watched, else at the earliest reached.
fn survival_item(report: &AnnualReport) -> Option<Figure> {
    let rearing = &report.rearing_of_all;
    let reached = || rearing.curve.points.iter().filter(|point| point.survival.is_some());
    let point = reached().rfind(|point| point.at_risk >= AT_RISK_MIN).or_else(|| reached().next())?;
    let says = format!("survival at {} days from hatch, {} at risk then, {}", point.age_days, point.at_risk, young(rearing));
    let link = of_cell(report, &format!("rearing_of_all/points/{}/survival", point.age_days));
    Some(Figure { figure: survival(point), says, link })
}

fn survival(point: &Point) -> String {
    point.survival.map_or_else(|| "not reached".to_owned(), percent)
}

fn young(rearing: &Rearing) -> String {
    format!("{} deaths among {} followed since the record began", rearing.curve.deaths, rearing.curve.n)
}
