//! How long cases took to hatch by the temperature of their water, each species by itself.

use super::page::{Page, Rows, Sources, counted};
use super::sources::of_figure;
use crate::report::annual::AnnualReport;
use crate::report::draw;
use crate::report::figures::incubation::{Letter, OfSpecies, OnFit};

/// Writes drawing and tables of each species of which cases hatched.
pub fn write(page: &mut Page, report: &AnnualReport) {
    let Some(figure) = report.curator.incubation.as_ref().filter(|figure| !figure.species.is_empty()) else { return };
    page.heading("Incubation against temperature");
    page.note(&format!("All cases up to now, species by species. Method: {}. {}.", figure.head.method, figure.head.interval));
    for (index, one) in figure.species.iter().enumerate() {
        let named = report.curator.species.iter().find(|named| Some(&named.species) == one.species.as_ref());
        let species = named.map_or("species not known", |named| &named.scientific_name);
        if !one.points.is_empty() {
            let title = format!("Days to hatching by temperature: {species}");
            page.figure(
                &draw::incubation_of(one, &title, &format!("incubation-{index}")),
                "Dots: cases. Line: fitted by Q10; thin lines: where a new case is expected, 95 %.",
            );
        }
        table(page, &address(report, one), species, one);
        line(page, &address(report, one), species, one);
    }
}

/// Where the cases of the species are told.
fn address(report: &AnnualReport, one: &OfSpecies) -> String {
    let of = one.species.as_ref().map_or_else(String::new, |species| format!("?species={species}"));
    of_figure(report, &format!("/v1/figures/incubation{of}"))
}

/// What is counted, and the letters of the fits.
fn table(page: &mut Page, address: &str, species: &str, one: &OfSpecies) {
    let range = |low: Option<f64>, high: Option<f64>, unit: &str| match (low, high) {
        (Some(low), Some(high)) => format!("{low} to {high} {unit}"),
        _ => "–".to_owned(),
    };
    let mut rows = vec![
        vec!["cases hatched".to_owned(), one.hatched.to_string()],
        vec!["of these counted".to_owned(), one.n.to_string()],
        vec!["temperature of their water".to_owned(), range(one.temperature_min_c, one.temperature_max_c, "°C")],
        vec!["time to hatching".to_owned(), range(one.days_min, one.days_max, "days")],
    ];
    let sum = one.thermal_sum.as_ref();
    let letters = [
        ("Q10", one.q10.as_ref()),
        ("threshold T0, °C", sum.map(|sum| &sum.t0_c)),
        ("thermal sum K, d °C", sum.map(|sum| &sum.k_degree_days)),
        ("apparent activation energy, eV", one.arrhenius_ea_ev.as_ref()),
    ];
    rows.extend(letters.into_iter().filter_map(|(name, letter)| Some(vec![name.to_owned(), told(letter?)])));
    rows.extend(one.two_point_q10.map(|q10| vec!["Q10 through two temperatures".to_owned(), q10.to_string()]));
    let left_out = [
        (one.laying_not_known, "its laying is not known to 7 days"),
        (one.hatch_not_known, "its hatch is not known to 7 days"),
        (one.temperature_not_known, "too few readings of its water"),
    ];
    let mut footnotes: Vec<String> = one.absent.iter().map(|absent| format!("No fit: {}.", absent.says)).collect();
    let out = left_out.iter().filter(|(count, _)| *count > 0);
    footnotes.extend(out.map(|(count, why)| format!("Left out: {}, {why}.", counted(*count, "case", "cases"))));
    footnotes.extend(one.notes.iter().map(|note| format!("Note: {note}.")));
    let links = rows.iter().map(|_| vec![String::new(), address.to_owned()]).collect();
    let rows = Rows {
        title: species,
        explains: "In numbers; limits are 95 %.",
        columns: &["What", "value"],
        words: 1,
        rows: &rows,
        total: false,
        footnotes: &footnotes,
    };
    page.sourced(&rows, Sources::of_cells(links));
}

fn told(letter: &Letter) -> String {
    match (letter.limits_95, letter.se) {
        (Some([low, high]), _) => format!("{} ({low} to {high})", letter.estimate),
        (None, Some(se)) => format!("{}, standard error {se}", letter.estimate),
        (None, None) => letter.estimate.to_string(),
    }
}

/// Of the points of a fitted line each so many is told in numbers.
const LINE_TOLD_EACH: usize = 4;

/// The fitted line in numbers.
fn line(page: &mut Page, address: &str, species: &str, one: &OfSpecies) {
    let row = |on: &OnFit| {
        let expected = on.prediction_95.map_or_else(|| "–".to_owned(), |[low, high]| format!("{low} to {high}"));
        vec![on.temperature_c.to_string(), on.days.to_string(), expected]
    };
    let rows: Vec<Vec<String>> = one.line.iter().step_by(LINE_TOLD_EACH).map(row).collect();
    let links = rows.iter().map(|row| vec![address.to_owned(); row.len()]).collect();
    let rows = Rows {
        title: &format!("{species}: the line in numbers"),
        explains: "Only between the temperatures that were counted.",
        columns: &["Temperature, °C", "days", "a new case, 95 %"],
        words: 0,
        rows: &rows,
        total: false,
        footnotes: &[],
    };
    page.sourced(&rows, Sources::of_cells(links));
}
