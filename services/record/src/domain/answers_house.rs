//! One thing of the house, with what is at odds about it: instruments, places, batches of food,
//! rounds, incidents, consignments, loans, samples, documents, permits.

use super::discrepancy::Discrepancy;
use super::state::{Consignment, Document, FoodBatch, Incident, Instrument, Loan, Permit, PlaceWithin, Round, Sample};
use super::view::View;
use selachron_schemas::names::Subject;

macro_rules! answers {
    ($($(#[$about:meta])* $name:ident $state:ident $fold:ident)*) => {
        impl View<'_> {
            $(
                $(#[$about])*
                #[must_use]
                pub fn $name(&self, id: &Subject) -> Option<$state> {
                    let (thing, found) = self.$fold(id);
                    Some($state { discrepancies: self.with_house_paperwork(id, found), ..thing? })
                }
            )*
        }
    };
}

answers! {
    /// An instrument.
    instrument Instrument fold_instrument
    /// A batch of food.
    food FoodBatch fold_food
    /// A round.
    round Round fold_round
    /// An incident.
    incident Incident fold_incident
    /// A consignment.
    consignment Consignment fold_consignment
    /// A loan.
    loan Loan fold_loan
    /// A sample.
    sample Sample fold_sample
    /// A document.
    document Document fold_document
    /// A permit.
    permit Permit fold_permit
}

impl View<'_> {
    /// A place, with the cases in it.
    #[must_use]
    pub fn place(&self, id: &Subject) -> Option<PlaceWithin> {
        let set_up = self.house_facts(id);
        let tanks = set_up.iter().flat_map(super::view::Fact::named).filter(|named| named.noun() == "tank");
        let seen: std::collections::BTreeSet<Subject> = tanks.flat_map(|tank| (*self.seen_in(&tank)).clone()).collect();
        let (place, found) = self.fold_place(id, &self.residents(seen.iter()));
        Some(PlaceWithin { discrepancies: self.with_house_paperwork(id, found), ..place? })
    }

    fn with_house_paperwork(&self, id: &Subject, found: Vec<Discrepancy>) -> Vec<Discrepancy> {
        self.with_paperwork(id, &self.house_facts(id), found)
    }
}
