//! Adults and what they eat, as a reader sees it; and what else is so of a case or an animal
//! beside its own life.

use super::movement::{OnLoan, Quarantine, Travel};
use super::noted::{Count, Noted, Thing, told};
use crate::domain::discrepancy::Discrepancy;
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

told! {
    /// `mating.observed.v1`
    MatingObserved { sign: String; partner: Thing, certainty: String; }
    /// `laying.observed.v1`
    LayingObserved { seen: String; laid: String, tank: Thing; eggs: Thing }
    /// `diet.set.v1`
    DietSet { foods: Vec<DietFood>; times_a_week: f64, reason: String, ordered_by_veterinarian: bool; }
    /// One food of a diet.
    DietFood { food: String; amount_g: f64, body_mass_percent: f64; }
    /// `food.received.v1`
    FoodReceived { label: String, food: String, state: String; supplier: String, mass_kg: f64, best_before: String, temperature_c: f64, accepted: bool, document: Thing; }
    /// `breeding.advised.v1`
    BreedingAdvised { advice: String, programme: String; partner: Thing, valid_until: String, document: Thing; }
}

/// A batch of food.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FoodBatch {
    /// `food/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// As it came.
    #[serde(flatten)]
    pub received: Noted<FoodReceived>,
    /// Feedings that name it.
    pub feedings: Count,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// What else is so of a case or an animal: where it stands in law and care.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Circumstances {
    /// Its quarantine, or that of its tank or system.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quarantine: Option<Quarantine>,
    /// The newest consignment that it was part of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub travel: Option<Travel>,
    /// The loan that it is part of: presence, not ownership.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loan: Option<OnLoan>,
    /// The diet as it was set last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diet: Option<Noted<DietSet>>,
    /// Signs of mating. A male seen mating never proves a sire.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub matings: Vec<Noted<MatingObserved>>,
    /// Layings that were seen: of an animal its own, of a case those that name it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub layings: Vec<SeenLaying>,
    /// The newest advice of a programme.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub advice: Option<Noted<BreedingAdvised>>,
    /// Samples taken of it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub samples: Vec<Thing>,
    /// Documents about it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub documents: Vec<Thing>,
}

/// A laying that was seen, with who laid or in which tank.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeenLaying {
    /// The female, or the tank where nobody could tell.
    pub by: Thing,
    /// What was seen.
    #[serde(flatten)]
    pub seen: Noted<LayingObserved>,
}
