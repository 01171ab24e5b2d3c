//! What waits for a person: signatures that come afterwards, and discrepancies that nobody has
//! settled. An urgent opening is never held up for a signature; it asks for it on this list.

use super::discrepancy::{Discrepancy, Weight, odd};
use super::record::{DueItem, DueWhat};
use super::state::{Egg, Opening};
use super::view::View;
use selachron_schemas::limits::{OFFLINE_DAYS_MAX, SETTLE_WITHIN_DAYS};
use selachron_schemas::time::DAY_MS;

/// Discrepancies that nobody is asked to settle here: [`View::signatures_due`] asks for missing
/// signatures, and whoever vouched for a note has said all there is to say of it.
const NOT_ASKED: [&str; 4] = [odd::OPENED_ALONE.words, odd::OPENED_UNAPPROVED.words, odd::OPENED_SEALED.words, odd::VOUCHED_FOR.words];

impl View<'_> {
    /// Openings of a case whose signatures are still to come.
    pub(super) fn signatures_due(&self, egg: &Egg) -> Vec<DueItem> {
        egg.openings
            .iter()
            .filter(|opening| !opening.signatures_missing.is_empty())
            .map(|opening| self.signature_due(egg, opening))
            .collect()
    }

    fn signature_due(&self, egg: &Egg, opening: &Opening) -> DueItem {
        let urgent = opening.urgent_reason.as_ref().map_or(String::new(), |reason| format!(" as urgent ({reason})"));
        let (day, missing) = (self.day(opening.when.time), opening.signatures_missing.join(", "));
        let why = format!("Opened on {day}{urgent}; still to be endorsed by: {missing}.");
        let item = self.egg_item(egg, DueWhat::SignAfterwards, opening.when.time, why, &[opening.when.event]);
        DueItem { whose: opening.signatures_missing.clone(), ..item }
    }

    /// Open discrepancies, each from the day on which its weight says that somebody is asked.
    pub(super) fn to_settle(&self) -> Vec<DueItem> {
        let open = self.discrepancies().into_iter().filter(|found| found.open && !NOT_ASKED.contains(&found.kind));
        open.filter_map(|found| self.settle_item(found)).collect()
    }

    fn settle_item(&self, found: Discrepancy) -> Option<DueItem> {
        let subject = found.subjects.first()?.clone();
        let due_at = found.since.plus_ms(grace_days(found.weight) * DAY_MS);
        let asked = found.asked.as_ref().map_or(String::new(), |person| format!(" {person} is to say."));
        Some(DueItem {
            what: DueWhat::Discrepancy,
            label: self.label(&subject).unwrap_or_default(),
            tank: None,
            due_at,
            overdue_days: self.overdue_days(due_at),
            why: format!("{}: {}{asked}", capital(found.kind), found.says),
            events: found.events,
            whose: found.asked.into_iter().collect(),
            discrepancy: Some(found.id),
            suspected: Vec::new(),
            urgency: DueWhat::Discrepancy.urgency(),
            tank_label: None,
            place: None,
            subject,
        })
    }

    /// Names the notes behind it that a key under suspicion wrote.
    pub(super) fn marked(&self, mut item: DueItem) -> DueItem {
        item.suspected = self.suspected_among(item.events.iter().copied());
        item
    }
}

/// Days that a discrepancy is left alone: none if a person must look today; a week if it may be
/// asked when convenient; and what ends by itself until no note can be waiting on a device that
/// needs no voucher (conventions of this project).
fn grace_days(weight: Weight) -> i64 {
    match weight {
        Weight::NeedsAPersonToday => 0,
        Weight::WhenConvenient => SETTLE_WITHIN_DAYS,
        Weight::MendsItself => OFFLINE_DAYS_MAX,
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
