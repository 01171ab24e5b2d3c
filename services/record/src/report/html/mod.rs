//! The annual report as one page to read and print, made from the report's JSON and nothing else:
//! no script, nothing loaded from elsewhere, light or dark as the reader's machine prefers.
//!
//! * [`page`](mod@page): what the parts are written with: escaped text, tables, figures;
//! * [`style`]: how it looks;
//! * [`front`]: who, what, when, what does not add up, and the headline;
//! * [`eggs`], [`young`], [`books`], [`closing`]: the parts, in the order of the page.

pub mod page;

pub mod style;

pub mod front;

pub mod eggs;

pub mod young;

pub mod books;

pub mod closing;

use super::annual::AnnualReport;
use page::Page;

/// The page of this report.
#[must_use]
pub fn html(report: &AnnualReport) -> String {
    let mut page = Page::new(&format!("Annual report {}: {}", report.year, report.collection.name));
    front::write(&mut page, report);
    eggs::write(&mut page, report);
    young::write(&mut page, report);
    books::write(&mut page, report);
    closing::write(&mut page, report);
    page.finish()
}

#[cfg(test)]
mod tests;
