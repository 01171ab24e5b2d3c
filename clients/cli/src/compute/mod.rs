//! `selachron compute`: any table through the code that makes the reports' figures. CSV (or JSON) in,
//! JSON out; nothing is sent anywhere and no record is needed.
//!
//! Every verb reads its whole input before it prints: a fault leaves nothing half done. A number that
//! the data do not give is `null`, and `notes` says why in a sentence.
//!
//! * [`args`]: verbs, their columns and options;
//! * [`table`]: a CSV table, read row by row, and sentences that name row and column;
//! * [`cases`]: rows of survival and incidence, like ones counted together while they are read;
//! * [`answer`]: answers as JSON, with their notes;
//! * [`proportion`], [`survival`], [`incidence`], [`life_table`], [`pedigree`], [`fates`]: the verbs.

pub mod args;

pub mod table;

pub mod cases;

pub mod answer;

mod proportion;

mod survival;

mod incidence;

mod life_table;

mod pedigree;

mod fates;

use crate::fault::Fault;
use args::ComputeCommand;

/// Runs one verb; the text that it prints.
///
/// # Errors
/// [`Fault::Failed`] for an input that is wrong, with a sentence that names row and column;
/// [`Fault::Usage`] for an option that is.
pub fn run(command: &ComputeCommand) -> Result<String, Fault> {
    match command {
        ComputeCommand::Proportion(asked) => proportion::run(asked),
        ComputeCommand::Survival(asked) => survival::run(asked),
        ComputeCommand::Incidence(asked) => incidence::run(asked),
        ComputeCommand::LifeTable(asked) => life_table::run(asked),
        ComputeCommand::Pedigree(asked) => pedigree::run(asked),
        ComputeCommand::Fates(asked) => fates::run(asked),
    }
}
