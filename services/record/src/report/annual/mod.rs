//! The annual report as JSON: everything the page shows, and nothing computed later. The same state
//! gives the same bytes; a person may sign their hash (`report.issued`).
//!
//! * [`shape`]: the report;
//! * [`material`]: what it is made from;
//! * [`gather`](mod@gather): the same out of the record, at (V, S);
//! * [`title`]: whose an animal or a group is, by the loans that name it;
//! * [`notes`]: by which notes somebody is counted;
//! * [`followed`]: what the year did to one animal;
//! * [`lent`]: a group by ownership, with those lent out and without guests;
//! * [`grouped`]: what the year did to a group that cannot be told apart;
//! * [`stock`]: the stock list by presence and by ownership, with its identity per species and sex;
//! * [`ledger`]: the egg ledger, with its identity per species;
//! * [`losses`]: losses and deaths of the year by apparent cause, and openings;
//! * [`water`]: readings of the year in summary;
//! * [`discrepancies`]: what is at odds, told and counted by weight and age;
//! * [`profile`]: to whom the lists are presented, and in which columns;
//! * [`table`]: tables of single things and counts, each row with its notes;
//! * [`window`]: the record over the twelve months, for the parts;
//! * [`restatements`](mod@restatements): figures that an issued report showed otherwise;
//! * [`curator`](mod@curator), [`dams`](mod@dams), [`house`](mod@house): the part for the curator;
//! * [`deaths`](mod@deaths): who died, for the authority;
//! * [`authority`](mod@authority), [`studbook`](mod@studbook), [`auditor`](mod@auditor): the parts for the others;
//! * [`compile`](mod@compile): all of it together;
//! * [`cells`], [`cells_of_notes`] and [`cells_of_rows`]: from which notes a cell is.

pub mod shape;

pub mod material;

pub mod gather;

mod title;

mod notes;

mod followed;

mod lent;

mod grouped;

pub mod stock;

pub mod ledger;

pub mod losses;

pub mod water;

pub mod discrepancies;

pub mod profile;

pub mod table;

pub mod window;

pub mod restatements;

pub mod dams;

pub mod house;

pub mod curator;

mod deaths;

pub mod authority;

pub mod studbook;

pub mod auditor;

pub mod compile;

pub mod cells;

pub mod cells_of_notes;

pub mod cells_of_rows;

pub use compile::{NotYet, compile};
pub use gather::gather;
pub use material::{Identity, Material, Population};
pub use shape::AnnualReport;

#[cfg(test)]
mod tests;
