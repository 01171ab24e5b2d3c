//! The report as a file.

use crate::letters::{MISSING, replace_missing};
use crate::world::{ReportWorld, has_letter};
use chrono::{DateTime, Datelike, Timelike, Utc};
use selachron_record::report::annual::AnnualReport;
use selachron_record::report::paper::paper;
use serde_json::{Value, json};
use thiserror::Error;
use typst::diag::SourceDiagnostic;
use typst::foundations::{Datetime, Smart};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

/// The name under which the report's JSON is attached.
pub const ATTACHED_AS: &str = "report.json";

/// Why there is no file.
#[derive(Debug, Error)]
pub enum Unset {
    /// What came in is no report.
    #[error("this is no annual report of the record: {0}. Give the JSON that the service answers for /v1/reports/annual/YEAR")]
    NoReport(#[from] serde_json::Error),
    /// The typesetter could not set it.
    #[error("the report could not be set: {0}")]
    Layout(String),
}

/// The report of this JSON as PDF/A-3a and PDF/UA-1, with the JSON attached as [`ATTACHED_AS`]. Its date
/// is the report's own `as_of`.
///
/// # Errors
/// [`Unset::NoReport`] for JSON that is no annual report; [`Unset::Layout`] when the typesetter refuses,
/// for example when a standard would be broken.
pub fn pdf(report_json: &[u8]) -> Result<Vec<u8>, Unset> {
    let report: AnnualReport = serde_json::from_slice(report_json)?;
    let page = paper(&report);
    let mut told = json!({
        "title": page.title,
        "blocks": page.blocks,
        "from": format!("Annual report {} · log {} · {} notes", report.year, report.collection.origin, report.known_at),
        "attached": ATTACHED_AS,
    });
    if replace_missing(&mut told, &has_letter) {
        say_that_letters_are_missing(&mut told);
    }
    let files = vec![("paper.json", serde_json::to_vec(&told)?), (ATTACHED_AS, report_json.to_vec())];
    let document: PagedDocument = typst::compile(&ReportWorld::new(files)).output.map_err(|found| Unset::Layout(said(&found)))?;
    let standards =
        PdfStandards::new(&[PdfStandard::A_3a, PdfStandard::Ua_1]).map_err(|error| Unset::Layout(error.message().to_string()))?;
    let as_of = DateTime::from_timestamp_millis(report.as_of.0).unwrap_or_default();
    let options = PdfOptions {
        ident: Smart::Custom(format!("{} {} {} {}", report.collection.origin, report.year, report.known_at, report.root)),
        creator: Smart::Custom(Some(report.software.clone())),
        timestamp: timestamp(as_of),
        standards,
        ..PdfOptions::default()
    };
    typst_pdf::pdf(&document, &options).map_err(|found| Unset::Layout(said(&found)))
}

/// On page one, below its head.
fn say_that_letters_are_missing(told: &mut Value) {
    let text = format!(
        "Letters that this file has no shapes for are printed as {MISSING}; the attached {ATTACHED_AS} has them as they were noted."
    );
    if let Some(blocks) = told["blocks"].as_array_mut() {
        blocks.insert(1.min(blocks.len()), json!({"kind": "note", "text": text}));
    }
}

fn timestamp(at: DateTime<Utc>) -> Option<Timestamp> {
    let part = |value: u32| u8::try_from(value).ok();
    let (month, day) = (part(at.month())?, part(at.day())?);
    let (hour, minute, second) = (part(at.hour())?, part(at.minute())?, part(at.second())?);
    Datetime::from_ymd_hms(at.year(), month, day, hour, minute, second).map(Timestamp::new_utc)
}

/// What the typesetter found wrong, in one line.
fn said(found: &[SourceDiagnostic]) -> String {
    let one = |one: &SourceDiagnostic| {
        let hints: String = one.hints.iter().map(|hint| format!(" ({})", hint.v)).collect();
        format!("{}{hints}", one.message)
    };
    found.iter().map(one).collect::<Vec<_>>().join("; ")
}
