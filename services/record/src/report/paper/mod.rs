//! The annual report as something to read, made from the report's JSON and nothing else, and
//! without any form yet: [`super::html`] makes a page of it, a typesetter a file.
//!
//! * [`page`](mod@page): the blocks that it consists of;
//! * [`front`]: who, what, when, what does not add up, and the headline;
//! * [`eggs`], [`young`], [`books`], [`closing`]: the parts, in the order of reading.

pub mod page;

pub mod front;

pub mod eggs;

pub mod young;

pub mod books;

pub mod closing;

pub use page::{Block, Page};

use super::annual::AnnualReport;

/// The report to read.
#[must_use]
pub fn paper(report: &AnnualReport) -> Page {
    let mut page = Page::new(&format!("Annual report {}: {}", report.year, report.collection.name));
    front::write(&mut page, report);
    eggs::write(&mut page, report);
    young::write(&mut page, report);
    books::write(&mut page, report);
    closing::write(&mut page, report);
    page
}
