//! What the `data` of the kinds about tanks, adults, people, movement and law says, typed once
//! when a note is learned. The members stand in [`super::state`], for readers see them as they are.

use super::state::{
    BreedingAdvised, ConsignmentAuthorised, ConsignmentReceived, ConsignmentSent, DietSet, DocumentAttached, DutyHandedOver,
    EquipmentFaulted, EquipmentRestored, FoodReceived, IncidentClosed, IncidentNoted, IncidentOpened, InstrumentCalibrated,
    InstrumentInstalled, LayingObserved, LightSet, LoanAgreed, LoanEnded, MatingObserved, PermitEnded, PermitRecorded, PermitUsed,
    PlaceSetUp, QuarantineCleared, QuarantineStarted, Retired, RoundClosed, RoundOpened, SampleReported, SampleSent, SampleTaken,
    SpeciesStatusNoted, TankChecked, TankFed, TankJoined, WaterChanged,
};
use selachron_schemas::names::Subject;
use serde::Deserialize as _;
use serde_json::{Map, Value};

macro_rules! house {
    ($($name:ident $($kind:literal)|+)*) => {
        /// The data of a note, by kind.
        #[derive(Debug, Clone, PartialEq)]
        #[allow(missing_docs, reason = "each is described beside its members")]
        pub enum House {
            $($name(Box<$name>),)*
        }

        impl House {
            /// Reads the data of a note of that kind; `None` if it is another kind or does not fit.
            #[must_use]
            pub fn read(kind: &str, data: &Map<String, Value>) -> Option<Self> {
                match kind {
                    $($($kind)|+ => $name::deserialize(data).ok().map(|told| Self::$name(Box::new(told))),)*
                    _ => None,
                }
            }
        }
    };
}

house! {
    TankChecked "tank.checked.v1"
    TankFed "tank.fed.v1"
    LightSet "tank.light_set.v1"
    TankJoined "tank.joined.v1"
    Retired "tank.retired.v1" | "instrument.retired.v1"
    WaterChanged "system.water_changed.v1"
    EquipmentFaulted "equipment.faulted.v1"
    EquipmentRestored "equipment.restored.v1"
    InstrumentInstalled "instrument.installed.v1"
    InstrumentCalibrated "instrument.calibrated.v1"
    PlaceSetUp "place.set_up.v1"
    MatingObserved "mating.observed.v1"
    LayingObserved "laying.observed.v1"
    DietSet "diet.set.v1"
    FoodReceived "food.received.v1"
    BreedingAdvised "breeding.advised.v1"
    RoundOpened "round.opened.v1"
    RoundClosed "round.closed.v1"
    DutyHandedOver "duty.handed_over.v1"
    IncidentOpened "incident.opened.v1"
    IncidentNoted "incident.noted.v1"
    IncidentClosed "incident.closed.v1"
    ConsignmentAuthorised "consignment.authorised.v1"
    ConsignmentSent "consignment.sent.v1"
    ConsignmentReceived "consignment.received.v1"
    QuarantineStarted "quarantine.started.v1"
    QuarantineCleared "quarantine.cleared.v1"
    LoanAgreed "loan.agreed.v1"
    LoanEnded "loan.ended.v1"
    SampleTaken "sample.taken.v1"
    SampleSent "sample.sent.v1"
    SampleReported "sample.reported.v1"
    DocumentAttached "document.attached.v1"
    PermitRecorded "permit.recorded.v1"
    PermitUsed "permit.used.v1"
    PermitEnded "permit.ended.v1"
    SpeciesStatusNoted "species.status_noted.v1"
}

impl House {
    /// The label that the data gives to its subject.
    #[must_use]
    pub fn label(&self) -> Option<&str> {
        match self {
            Self::InstrumentInstalled(told) => Some(&told.label),
            Self::PlaceSetUp(told) => Some(&told.label),
            Self::FoodReceived(told) => Some(&told.label),
            Self::RoundOpened(told) => Some(&told.label),
            Self::IncidentOpened(told) => Some(&told.label),
            Self::ConsignmentAuthorised(told) => Some(&told.label),
            Self::ConsignmentSent(told) => Some(&told.label),
            Self::ConsignmentReceived(told) => told.label.as_deref(),
            Self::LoanAgreed(told) => Some(&told.label),
            Self::SampleTaken(told) => Some(&told.label),
            Self::DocumentAttached(told) => Some(&told.label),
            Self::PermitRecorded(told) => Some(&told.label),
            _ => None,
        }
    }

    /// Daily checks and feedings of a tank: many, and nothing rests on two of them.
    #[must_use]
    pub fn is_routine(&self) -> bool {
        matches!(self, Self::TankChecked(_) | Self::TankFed(_))
    }

    /// Whether it bears on everything in the tank or system that it is about.
    #[must_use]
    pub fn bears_on_residents(&self) -> bool {
        matches!(self, Self::QuarantineStarted(_) | Self::QuarantineCleared(_) | Self::Retired(_) | Self::TankJoined(_))
    }

    /// Subjects that it names and on whose own story it bears.
    #[must_use]
    pub fn bears_on(&self) -> Vec<Subject> {
        match self {
            Self::ConsignmentSent(told) => told.items.iter().map(|item| item.which.0.clone()).collect(),
            Self::ConsignmentReceived(told) => told.items.iter().map(|item| item.which.0.clone()).collect(),
            Self::LayingObserved(told) => told.eggs.iter().map(|egg| egg.0.clone()).collect(),
            _ => Vec::new(),
        }
    }
}
