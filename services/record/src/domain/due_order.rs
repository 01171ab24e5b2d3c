//! In which order what is due is told: by how soon a person is needed, or along one walk.

use super::record::{DueItem, DueWhat, RoundPlace};
use super::state::EggFate;
use super::told::Told;
use super::told_house::House;
use super::view::View;
use selachron_schemas::names::Subject;

/// The order of the list.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum DueOrder {
    /// What needs a person soonest first, then the longest due.
    #[default]
    Urgency,
    /// Along one walk: by tank, in it by the order of a round, then by case or animal.
    Walk,
}

impl DueWhat {
    /// How soon a person is needed, a convention of this project: 1 today, 2 within days, 3 when
    /// convenient.
    #[must_use]
    pub fn urgency(self) -> u8 {
        match self {
            Self::LookAgain | Self::LookAtLeft | Self::NotSeenToEat | Self::MassLost | Self::WaterOutOfBand => 1,
            Self::PastWindow | Self::RestoreEquipment | Self::WalkGroup => 1,
            Self::WindowOpen | Self::NoEmbryoSeen | Self::SlitsNotOpen | Self::SignAfterwards | Self::Candle => 2,
            Self::MarkExpiring | Self::DeviceNotesMissing | Self::ClearQuarantine | Self::AskAfterConsignment | Self::RenewPermit => 2,
            Self::CountGroup | Self::Discrepancy | Self::Photograph | Self::Calibrate | Self::EndLoan => 3,
        }
    }
}

/// Puts items in an order that does not change for fixed clocks.
pub fn arrange(items: &mut [DueItem], order: DueOrder) {
    let last = |item: &DueItem| (item.due_at, item.what, item.subject.clone(), item.discrepancy.clone());
    match order {
        DueOrder::Urgency => items.sort_by_key(|item| (item.urgency, last(item))),
        DueOrder::Walk => items.sort_by_key(|item| {
            let tank = item.tank_label.clone();
            let place = item.place.as_ref().map(|place| (place.order, place.label.clone()));
            // What is in no tank stands last; in a tank what is in no place comes after the places.
            ((tank.is_none(), tank), (place.is_none(), place), item.label.clone(), item.urgency, last(item))
        }),
    }
}

impl View<'_> {
    /// Adds how soon a person is needed, and where the item stands on a walk.
    pub(super) fn placed(&self, mut item: DueItem) -> DueItem {
        item.urgency = item.what.urgency();
        item.tank_label = item.tank.as_ref().map(|tank| self.called(tank));
        if item.subject.noun() == "egg" {
            let within = self.place_within(&item.subject, &self.facts(&item.subject), &EggFate::Open);
            item.place = within.and_then(|place| self.round_place(&place));
        }
        item
    }

    /// A place as a round goes through it.
    pub(super) fn round_place(&self, place: &Subject) -> Option<RoundPlace> {
        self.creations(place).iter().find_map(|fact| match fact.told() {
            Told::House(House::PlaceSetUp(told)) => {
                Some(RoundPlace { place: place.clone(), label: told.label.clone(), order: told.order.0, row: told.row.clone() })
            }
            _ => None,
        })
    }
}
