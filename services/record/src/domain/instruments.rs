//! Instruments and their calibrations, places within tanks, and batches of food.

use super::discrepancy::Discrepancy;
use super::house::{every, newest, of};
use super::housing::Residents;
use super::state::{Count, FoodBatch, Instrument, PlaceWithin};
use super::told_house::House;
use super::view::View;
use chrono::{Days, NaiveDate};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;

impl View<'_> {
    /// Folds the notes about an instrument.
    pub(super) fn fold_instrument(&self, id: &Subject) -> (Option<Instrument>, Vec<Discrepancy>) {
        let (facts, mut found) = (self.house_facts(id), Vec::new());
        let Some(installed) = self.house_came(id, &facts, of!(InstrumentInstalled), &mut found) else { return (None, found) };
        self.label_twice(id, &installed.told.label, &mut found);
        let calibrations: Vec<_> = every(&facts, of!(InstrumentCalibrated)).collect();
        let good = calibrations.iter().rev().find(|calibration| calibration.told.result != "out of limits");
        let counted_from = good.map_or(installed.when, |calibration| calibration.when);
        let interval = installed.told.calibration_interval_days.map(|days| days.0);
        let instrument = Instrument {
            id: id.clone(),
            calibrated_until: interval.and_then(|days| self.day(counted_from.time).checked_add_days(Days::new(days))),
            counted_from: Some(counted_from),
            installed,
            calibrations,
            retired: newest(&facts, of!(Retired)),
            discrepancies: Vec::new(),
        };
        (Some(instrument), found)
    }

    /// Whether a reading taken at `time` with the instrument of that label is shown hollow: past
    /// its calibration interval, or after it was taken out of use (DOMAIN section 6). `None`: the
    /// record knows no instrument of that label, or the house sets it no interval.
    #[must_use]
    pub fn hollow(&self, label: &str, time: Instant) -> Option<bool> {
        let bearers = self.nursery().index().labels.get(label)?;
        let known = bearers.iter().filter(|bearer| bearer.noun() == "instrument" && self.exists(bearer));
        let told: Vec<bool> = known.filter_map(|id| self.hollow_of(id, time)).collect();
        // Where two bear the label, one in order is enough: the reading may be its.
        (!told.is_empty()).then(|| told.iter().all(|hollow| *hollow))
    }

    fn hollow_of(&self, id: &Subject, time: Instant) -> Option<bool> {
        let facts = self.house_facts(id);
        let (mut interval, mut from, mut retired): (Option<u64>, Option<NaiveDate>, bool) = (None, None, false);
        for fact in facts.iter().filter(|fact| fact.time() <= time) {
            match fact.house() {
                Some(House::InstrumentInstalled(told)) => {
                    interval = told.calibration_interval_days.map(|days| days.0);
                    from = Some(self.day(fact.time()));
                }
                Some(House::InstrumentCalibrated(told)) if told.result != "out of limits" => from = Some(self.day(fact.time())),
                Some(House::InstrumentCalibrated(_)) => from = None,
                Some(House::Retired(_)) => retired = true,
                _ => {}
            }
        }
        if retired {
            return Some(true);
        }
        let last = interval.zip(Some(from)).map(|(days, from)| from.and_then(|from| from.checked_add_days(Days::new(days))));
        last.map(|last| last.is_none_or(|last| self.day(time) > last))
    }

    /// Folds the notes about a place.
    pub(super) fn fold_place(&self, id: &Subject, residents: &Residents) -> (Option<PlaceWithin>, Vec<Discrepancy>) {
        let mut found = Vec::new();
        let Some(set_up) = self.house_came(id, &self.house_facts(id), of!(PlaceSetUp), &mut found) else { return (None, found) };
        let eggs = residents.places.get(id).cloned().unwrap_or_default();
        (Some(PlaceWithin { id: id.clone(), set_up, eggs, discrepancies: Vec::new() }), found)
    }

    /// Folds the notes about a batch of food.
    pub(super) fn fold_food(&self, id: &Subject) -> (Option<FoodBatch>, Vec<Discrepancy>) {
        let mut found = Vec::new();
        let Some(received) = self.house_came(id, &self.house_facts(id), of!(FoodReceived), &mut found) else { return (None, found) };
        let feedings = self.facts(id).iter().filter(|fact| matches!(fact.house(), Some(House::TankFed(_)))).count() as u64;
        (Some(FoodBatch { id: id.clone(), received, feedings: Count(feedings), discrepancies: Vec::new() }), found)
    }
}
