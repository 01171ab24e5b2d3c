//! Reading the house: its lists, and who shared water with whom.

use super::args::{ListWhat, ReadArgs};
use super::read::{all, clocks, moment, names, show_items};
use super::render::{self, Column};
use super::session::Session;
use crate::fault::Fault;

const INSTRUMENTS: [Column; 4] =
    [("label", &["/label"]), ("measures", &["/measures"]), ("calibrated until", &["/calibrated_until"]), ("id", &["/id"])];
const PLACES: [Column; 5] = [("label", &["/label"]), ("tank", &["/tank"]), ("order", &["/order"]), ("eggs", &["/eggs"]), ("id", &["/id"])];
const FOODS: [Column; 5] =
    [("batch", &["/label"]), ("food", &["/food"]), ("state", &["/state"]), ("best before", &["/best_before"]), ("id", &["/id"])];
const ROUNDS: [Column; 6] = [
    ("label", &["/label"]),
    ("what", &["/what"]),
    ("opened", &["/time"]),
    ("closed", &["/closed/time"]),
    ("not yet", &["/not_yet"]),
    ("id", &["/id"]),
];
const INCIDENTS: [Column; 6] = [
    ("label", &["/label"]),
    ("what", &["/what"]),
    ("opened", &["/time"]),
    ("closed", &["/closed/time"]),
    ("summary", &["/summary"]),
    ("id", &["/id"]),
];
const CONSIGNMENTS: [Column; 6] = [
    ("label", &["/label"]),
    ("state", &["/state"]),
    ("sent", &["/sent/time"]),
    ("opened", &["/received/opened_at"]),
    ("dead on arrival", &["/dead_on_arrival"]),
    ("id", &["/id"]),
];
const LOANS: [Column; 6] = [
    ("label", &["/label"]),
    ("direction", &["/direction"]),
    ("partner", &["/partner"]),
    ("until", &["/until"]),
    ("still lent", &["/still_lent"]),
    ("id", &["/id"]),
];
const SAMPLES: [Column; 5] = [("label", &["/label"]), ("what", &["/what"]), ("of", &["/of"]), ("state", &["/state"]), ("id", &["/id"])];
const DOCUMENTS: [Column; 4] =
    [("label", &["/label", "/permit/label"]), ("title", &["/title", "/permit/what"]), ("sha256", &["/file_sha256"]), ("id", &["/id"])];
const PERMITS: [Column; 7] = [
    ("label", &["/label"]),
    ("what", &["/what"]),
    ("number", &["/number"]),
    ("until", &["/valid_until"]),
    ("days left", &["/days_left"]),
    ("state", &["/state"]),
    ("id", &["/id"]),
];
const QUARANTINES: [Column; 5] = [
    ("of", &["/of"]),
    ("since", &["/started/time"]),
    ("reason", &["/started/reason"]),
    ("planned until", &["/planned_until"]),
    ("cleared", &["/cleared/time"]),
];
const DUTY: [Column; 4] = [("when", &["/time"]), ("from", &["/from"]), ("to", &["/to"]), ("matters", &["/matters"])];

/// Where a list of the house is, and its columns.
pub(super) fn listed(what: ListWhat) -> (&'static str, &'static [Column]) {
    match what {
        ListWhat::Places => ("/v1/places", &PLACES),
        ListWhat::Foods => ("/v1/foods", &FOODS),
        ListWhat::Rounds => ("/v1/rounds", &ROUNDS),
        ListWhat::Incidents => ("/v1/incidents", &INCIDENTS),
        ListWhat::Consignments => ("/v1/consignments", &CONSIGNMENTS),
        ListWhat::Loans => ("/v1/loans", &LOANS),
        ListWhat::Samples => ("/v1/samples", &SAMPLES),
        ListWhat::Documents => ("/v1/documents", &DOCUMENTS),
        ListWhat::Permits => ("/v1/permits", &PERMITS),
        ListWhat::Quarantines => ("/v1/quarantines", &QUARANTINES),
        ListWhat::Duty => ("/v1/duty", &DUTY),
        _ => ("/v1/instruments", &INSTRUMENTS),
    }
}

const SHARED: [Column; 6] = [
    ("with", &["/label", "/with"]),
    ("water", &["/water"]),
    ("same tank", &["/tank"]),
    ("from", &["/from"]),
    ("to", &["/to"]),
    ("id", &["/with"]),
];

/// Who shared water with an egg or an animal.
///
/// # Errors
/// Of the reading.
pub fn exposure(session: &Session, id: &str, from: Option<&str>, to: Option<&str>, read: &ReadArgs) -> Result<u8, Fault> {
    let mut query = clocks(session, read)?;
    let known = query.clone();
    query.push(("subject", id.to_owned()));
    for (name, flag, given) in [("from", "--from", from), ("to", "--to", to)] {
        if let Some(text) = given {
            query.push((name, moment(session, flag, text)?));
        }
    }
    let answer = all(session, "/v1/exposure", query, None)?;
    let names = names(session, &known)?;
    show_items(session, &render::with_names(&answer, &names), &SHARED, "nobody shared its water")
}
