//! The annual report as something to read, made from the report's JSON and nothing else, and
//! without any form yet: [`super::html`] makes a page of it, a typesetter a file.
//!
//! * [`page`](mod@page): the blocks that it consists of;
//! * [`front`]: who, what, when, what does not add up, and the headline;
//! * [`sources`]: where the notes behind a cell are told;
//! * [`eggs`], [`young`], [`books`], [`closing`]: what all read, in the order of reading;
//! * [`warmth`]: incubation against temperature;
//! * [`parts`]: what each reader asks for.

pub mod page;

pub mod sources;

pub mod front;

pub mod eggs;

pub mod young;

pub mod books;

mod warmth;

pub mod parts;

pub mod closing;

pub use page::{Block, Page};

use super::annual::AnnualReport;

/// The report to read.
#[must_use]
pub fn paper(report: &AnnualReport) -> Page {
    let mut page = Page::new(&format!("Annual report {}: {}", front::months(report), report.collection.name));
    front::write(&mut page, report);
    eggs::write(&mut page, report);
    young::write(&mut page, report);
    books::write(&mut page, report);
    parts::curator(&mut page, report);
    parts::others(&mut page, report);
    closing::write(&mut page, report);
    page
}
