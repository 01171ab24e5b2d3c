//! Rearing from hatch, and openings described without comparison.

use super::eggs::behind;
use super::page::{Page, Rows, Sources, counted};
use super::sources::of_cell;
use crate::report::annual::AnnualReport;
use crate::report::annual::losses::Openings;
use crate::report::draw;
use crate::report::figures::Rearing;
use crate::report::figures::fates::Count;
use crate::report::figures::rearing::{Point, SurvivalCurve};
use crate::report::numbers::{percent, percent_range};

/// Writes the parts about young.
pub fn write(page: &mut Page, report: &AnnualReport) {
    page.section("rearing", "Rearing");
    rearing(page, report);
    page.section("openings", "Unaided and after opening");
    openings(page, &report.openings, report);
}

fn rearing(page: &mut Page, report: &AnnualReport) {
    let all = &report.rearing_of_all;
    if all.curve.pieces.is_empty() {
        page.para(&absent(&all.curve));
    } else {
        page.figure(
            &draw::rearing(all, "Survival of the young from hatch", "rearing-plot"),
            "Step line: Kaplan-Meier survival of all young since the record began. Band: 95 % log-log interval. Upright ticks: last sightings and departures.",
        );
    }
    page.note(&format!("Method: {}.", all.method));
    points(page, report, "rearing_of_all", "All young since the record began", all);
    let of_year = format!("Young that hatched in {}", super::front::months(report));
    points(page, report, "rearing_of_year", &of_year, &report.rearing_of_year);
}

fn absent(curve: &SurvivalCurve) -> String {
    let says = curve.absent.as_ref().map_or("nothing to draw", |absent| absent.says.as_str());
    format!("There is no survival curve: {says}.")
}

fn points(page: &mut Page, report: &AnnualReport, section: &str, title: &str, rearing: &Rearing) {
    let rows: Vec<Vec<String>> = rearing.curve.points.iter().map(row).collect();
    let explains = format!("{} deaths among {} followed.", rearing.curve.deaths, rearing.curve.n);
    let link = |point: &Point| {
        let cell = |name: &str| of_cell(report, &format!("{section}/points/{}/{name}", point.age_days));
        std::iter::once(String::new()).chain(["survival", "loglog_95", "deaths", "at_risk"].map(cell)).collect()
    };
    let table = Rows {
        title,
        explains: &explains,
        columns: &["Age", "survival", "95 % interval", "deaths by then", "at risk then"],
        words: 1,
        rows: &rows,
        total: false,
        footnotes: &footnotes(rearing),
    };
    page.sourced(&table, Sources::of_cells(rearing.curve.points.iter().map(link).collect()));
}

fn row(point: &Point) -> Vec<String> {
    let why = |absent: &Option<crate::report::figures::Absent>| absent.as_ref().map_or_else(|| "–".to_owned(), |absent| absent.why.clone());
    let survival = point.survival.map_or_else(|| why(&point.absent), percent);
    let interval = match (point.loglog_95, point.no_event_lower, point.survival) {
        (Some(limits), ..) => percent_range(limits),
        (None, Some(lower), _) => format!("no deaths: at least {}", percent(lower)),
        (None, None, Some(_)) => why(&point.absent),
        (None, None, None) => "–".to_owned(),
    };
    vec![format!("{} days", point.age_days), survival, interval, point.deaths.to_string(), point.at_risk.to_string()]
}

fn footnotes(rearing: &Rearing) -> Vec<String> {
    let beside = &rearing.beside;
    let mut notes = vec![format!("Out of {}.", behind(&rearing.behind))];
    let mut count = |number: u64, says: String| {
        if number > 0 {
            notes.push(says);
        }
    };
    count(
        rearing.entered_late,
        format!("{} from elsewhere entered at the age it came with.", counted(rearing.entered_late, "animal", "animals")),
    );
    count(
        beside.unseen,
        format!(
            "{} not seen alive for more than {} days; followed up to the last sighting.",
            counted(beside.unseen, "animal", "animals"),
            beside.unseen_days_max
        ),
    );
    count(
        beside.dead_at_hatch,
        format!("{} dead when first seen: not hatched, not in the curve.", counted(beside.dead_at_hatch, "young", "young")),
    );
    count(beside.dead_on_arrival, format!("{} arrived dead; not in the curve.", counted(beside.dead_on_arrival, "animal", "animals")));
    count(
        beside.hatch_day_not_known,
        format!("{} from elsewhere without a day of hatch; not in the curve.", counted(beside.hatch_day_not_known, "animal", "animals")),
    );
    count(
        beside.no_time_at_risk,
        format!("{} came and went on one day; not in the curve.", counted(beside.no_time_at_risk, "animal", "animals")),
    );
    count(
        beside.days_at_odds,
        format!("{} left out: the days noted contradict each other.", counted(beside.days_at_odds, "animal", "animals")),
    );
    notes.extend(rearing.curve.notes.iter().map(|note| format!("Note: {note}.")));
    notes
}

fn openings(page: &mut Page, openings: &Openings, report: &AnnualReport) {
    let hatched = openings.hatched_unaided + openings.hatched_after_opening;
    page.para(&format!(
        "Of {} that hatched from {} to {}, {} hatched unaided and {} after the case was opened.",
        counted(hatched, "case", "cases"),
        report.period.first_day,
        report.period.until,
        openings.hatched_unaided,
        openings.hatched_after_opening
    ));
    page.para(&openings.caveat);
    if openings.openings + openings.examinations == 0 {
        page.para("No case was opened.");
        return;
    }
    let examined = counted(openings.examinations, "case known dead was", "cases known dead were");
    page.para(&format!(
        "{} of cases not known dead. {examined} opened to examine, which is no assisted hatch.",
        counted(openings.openings, "opening", "openings")
    ));
    described(page, openings, report);
    if openings.rearing_after_opening.curve.n > 0 {
        let title = "Young that hatched after an opening, since the record began, by themselves";
        points(page, report, "openings/rearing_after_opening", title, &openings.rearing_after_opening);
    }
}

fn described(page: &mut Page, openings: &Openings, report: &AnnualReport) {
    let groups = [
        ("how far", "by_extent", &openings.by_extent),
        ("outcome", "by_outcome", &openings.by_outcome),
        ("urgency", "by_urgency", &openings.by_urgency),
    ];
    let row = |what: &str, one: &Count| vec![format!("{what}: {}", one.name), format!("{} of {}", one.count, openings.openings)];
    let link = |list: &str, one: &Count| vec![String::new(), of_cell(report, &format!("openings/{list}/{}", one.name))];
    let all = || groups.iter().flat_map(|(what, list, counts)| counts.iter().map(move |one| (what, list, one)));
    let rows: Vec<Vec<String>> = all().map(|(what, _, one)| row(what, one)).collect();
    let table = Rows {
        title: "Openings of cases not known dead",
        explains: "How far they went, how they ended, and why they could not wait for signatures.",
        columns: &["Openings", "number"],
        words: 1,
        rows: &rows,
        total: false,
        footnotes: &[],
    };
    page.sourced(&table, Sources::of_cells(all().map(|(_, list, one)| link(list, one)).collect()));
}
