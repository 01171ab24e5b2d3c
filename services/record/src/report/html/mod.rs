//! The annual report as one page to read and print: no script, nothing loaded from elsewhere, light
//! or dark as the reader's machine prefers.
//!
//! * [`page`](mod@page): blocks as markup;
//! * [`style`]: how it looks.

pub mod page;

pub mod style;

use super::annual::AnnualReport;
use super::paper::paper;

/// The page of this report.
#[must_use]
pub fn html(report: &AnnualReport) -> String {
    page::markup(&paper(report))
}

#[cfg(test)]
mod tests;
