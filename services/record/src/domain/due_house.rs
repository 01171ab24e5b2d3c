//! What is due of the house: equipment, instruments, quarantine, consignments, loans; permits are in [`permits`](super::permits).

use super::record::{DueItem, DueWhat};
use super::state::EventId;
use super::view::View;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::collections::BTreeSet;

impl View<'_> {
    /// Everything of the house that is due at any time.
    pub(super) fn due_of_house(&self) -> Vec<DueItem> {
        let mut items = Vec::new();
        self.due_equipment(&mut items);
        self.due_calibration(&mut items);
        self.due_clearance(&mut items);
        self.due_consignments(&mut items);
        self.due_loans(&mut items);
        self.due_permits(&mut items);
        items
    }

    fn due_equipment(&self, items: &mut Vec<DueItem>) {
        for id in self.subjects("system").chain(self.subjects("tank")) {
            for fault in self.open_faults(&self.house_facts(id)).0 {
                let which = fault.told.which.as_deref().map_or(String::new(), |which| format!(" ({which})"));
                let day = self.day(fault.when.time);
                let why = format!("The {}{which} failed on {day} and is not said to work again.", fault.told.equipment);
                items.push(self.house_item(id, DueWhat::RestoreEquipment, fault.when.time, why, &[fault.when.event]));
            }
        }
    }

    fn due_calibration(&self, items: &mut Vec<DueItem>) {
        for instrument in self.subjects("instrument").filter_map(|id| self.fold_instrument(id).0) {
            let last = instrument.calibrated_until.filter(|_| instrument.retired.is_none());
            let (Some(last), Some(from)) = (last, instrument.counted_from) else { continue };
            let Some(due_at) = self.day_after(last) else { continue };
            let why = format!("Its calibration holds until {last}; readings after that are shown hollow.");
            items.push(self.house_item(&instrument.id, DueWhat::Calibrate, due_at, why, &[from.event]));
        }
    }

    fn due_clearance(&self, items: &mut Vec<DueItem>) {
        for quarantine in self.quarantines().iter().filter(|quarantine| quarantine.cleared.is_none()) {
            let Some(last) = quarantine.planned_until else { continue };
            let why = format!("Its quarantine is planned until {last}; it ends by the veterinarian's clearance and by nothing else.");
            let due_at = Instant::start_of_day(last, self.zone());
            items.push(self.house_item(&quarantine.of, DueWhat::ClearQuarantine, due_at, why, &[quarantine.started.when.event]));
        }
    }

    fn due_consignments(&self, items: &mut Vec<DueItem>) {
        for consignment in self.subjects("consignment").filter_map(|id| self.fold_consignment(id).0) {
            let Some(sent) = consignment.sent.filter(|_| consignment.received.is_none()) else { continue };
            let Some(expected) = sent.told.expected_at else { continue };
            let why = format!("Sent to {} and expected on {}; nobody has said that it arrived.", sent.told.to, self.day(expected.0));
            items.push(self.house_item(&consignment.id, DueWhat::AskAfterConsignment, expected.0, why, &[sent.when.event]));
        }
    }

    fn due_loans(&self, items: &mut Vec<DueItem>) {
        for loan in self.subjects("loan").filter_map(|id| self.fold_loan(id).0).filter(|loan| !loan.still_lent.is_empty()) {
            let until = loan.agreed.told.until.as_ref().and_then(|day| day.parse::<NaiveDate>().ok());
            let Some((until, due_at)) = until.and_then(|until| Some((until, self.day_after(until)?))) else { continue };
            let why = format!("Lent until {until}, with {}; no note ends it.", loan.agreed.told.partner);
            items.push(self.house_item(&loan.id, DueWhat::EndLoan, due_at, why, &[loan.agreed.when.event]));
        }
    }

    /// The first moment after a day.
    fn day_after(&self, day: NaiveDate) -> Option<Instant> {
        day.succ_opt().map(|next| Instant::start_of_day(next, self.zone()))
    }

    pub(super) fn house_item(&self, id: &Subject, what: DueWhat, due_at: Instant, why: String, events: &[EventId]) -> DueItem {
        let events: BTreeSet<EventId> = events.iter().copied().collect();
        DueItem {
            what,
            subject: id.clone(),
            label: self.label(id).unwrap_or_default(),
            tank: Some(id.clone()).filter(|id| id.noun() == "tank"),
            due_at,
            overdue_days: self.overdue_days(due_at),
            why,
            events: events.into_iter().collect(),
            whose: Vec::new(),
            discrepancy: None,
            suspected: Vec::new(),
            urgency: what.urgency(),
            tank_label: None,
            place: None,
        }
    }
}
