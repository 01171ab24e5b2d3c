//! What the `data` of each kind says, typed once when a note is learned. The schemas have been
//! asked before: what does not fit here (an unknown kind, a withheld body) says nothing.

pub mod animals;

pub mod eggs;

pub mod groups;

pub mod species;

pub use animals::AnimalNote;
pub use eggs::EggNote;
pub use groups::GroupNote;
pub use species::SpeciesListed;

use super::discrepancy::Explained;
use super::policy::PolicySet;
use super::state::{LifeState, Movement, PairMate, Parentage, Sex, WaterReading, YolkLook};
use super::told_house::House;
use super::whole::whole;
use chrono::NaiveDate;
use selachron_schemas::encoding::from_base64_32;
use selachron_schemas::names::{KeyId, Subject};
use selachron_schemas::replay::keys::Role;
use selachron_schemas::time::Instant;
use serde::Deserialize;
use serde_json::{Map, Value};

/// The data of a note, by kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// `egg.collected.v1`
    EggCollected(Box<EggCollected>),
    /// `egg.received.v1`
    EggReceived(Box<EggReceived>),
    /// `egg.candled.v1`
    EggCandled(EggCandled),
    /// `egg.moved.v1` and `animal.moved.v1`
    Moved(Moved),
    /// `egg.held_apart.v1`
    EggHeldApart(EggHeldApart),
    /// `egg.lost.v1`
    EggLost(EggLost),
    /// `egg.removed.v1`
    EggRemoved(Left),
    /// `egg.opened.v1`
    EggOpened(EggOpened),
    /// `egg.hatched.v1`
    EggHatched(EggHatched),
    /// `animal.received.v1`
    AnimalReceived(Box<AnimalReceived>),
    /// `animal.fed.v1`
    AnimalFed(AnimalFed),
    /// `animal.measured.v1`
    AnimalMeasured(AnimalMeasured),
    /// `animal.died.v1`
    AnimalDied(AnimalDied),
    /// `animal.departed.v1`
    AnimalDeparted(Left),
    /// `species.listed.v1`
    SpeciesListed(Box<SpeciesListed>),
    /// `system.set_up.v1`
    SystemSetUp(SystemSetUp),
    /// `tank.set_up.v1`
    TankSetUp(TankSetUp),
    /// `water.measured.v1`
    WaterMeasured(Box<WaterReading>),
    /// `tank.searched.v1`
    TankSearched(TankSearched),
    /// `record.endorsed.v1`
    Endorsed(Endorsed),
    /// `discrepancy.explained.v1`
    Explained(Box<Explained>),
    /// `note.abandoned.v1`
    Abandoned(Abandoned),
    /// `policy.set.v1`
    PolicySet(Box<PolicySet>),
    /// `key.enrolled.v1`
    KeyEnrolled(KeyEnrolled),
    /// `key.revoked.v1`
    KeyRevoked(KeyRevoked),
    /// `collection.founded.v1` and `root.replaced.v1`
    RootKeys(RootKeys),
    /// A kind about tanks, adults, people, movement or law.
    House(House),
    /// The kinds of [`eggs`]
    EggNote(EggNote),
    /// The kinds of [`animals`]
    AnimalNote(AnimalNote),
    /// The kinds of [`groups`]
    GroupNote(GroupNote),
    /// Nothing that the fold knows: another kind, or a body that is withheld.
    Nothing,
}

/// `egg.collected.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct EggCollected {
    pub label: String,
    pub species: Subject,
    pub from_tank: Subject,
    pub laid: String,
    pub pair_mate: Option<PairMate>,
    pub clutch: Option<Subject>,
    pub yolk: YolkLook,
    pub dam: Option<Parentage>,
    pub sire: Option<Parentage>,
    pub to_tank: Option<Subject>,
}

/// `egg.received.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct EggReceived {
    pub label: String,
    pub species: Subject,
    pub from: String,
    pub state: LifeState,
    pub laid_on_estimate: Option<NaiveDate>,
    pub estimate_basis: Option<String>,
    pub yolk: YolkLook,
    pub clutch: Option<Subject>,
    pub dam: Option<Parentage>,
    pub sire: Option<Parentage>,
    pub to_tank: Option<Subject>,
}

/// `egg.candled.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct EggCandled {
    pub seen_into: bool,
    #[serde(default, deserialize_with = "whole")]
    pub band: Option<u8>,
    pub movement: Option<Movement>,
    pub yolk_fraction: Option<f64>,
    #[serde(default)]
    pub findings: Vec<String>,
    pub eye: Option<String>,
    #[serde(default)]
    pub prompted: bool,
}

/// `egg.moved.v1` and `animal.moved.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct Moved {
    pub to_tank: Subject,
    pub from_tank: Option<Subject>,
    pub place_note: Option<String>,
    pub place: Option<Subject>,
}

/// `egg.held_apart.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct EggHeldApart {
    pub reason: String,
    pub to_tank: Option<Subject>,
    #[serde(default, deserialize_with = "whole")]
    pub look_again_after_hours: Option<u32>,
}

/// `egg.lost.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct EggLost {
    pub apparent_cause: String,
    #[serde(default, deserialize_with = "whole")]
    pub band_last_seen: Option<u8>,
    #[serde(default)]
    pub plainly_dead: bool,
    pub photo_sha256: Option<String>,
}

/// `egg.removed.v1` and `animal.departed.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct Left {
    pub reason: String,
    pub to: String,
    pub alive: LifeState,
}

/// `egg.opened.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct EggOpened {
    pub extent: String,
    pub known_dead: bool,
    pub left: String,
    pub outcome: String,
    pub urgent_reason: Option<String>,
    #[serde(default)]
    pub criteria_met: Vec<String>,
}

/// `egg.hatched.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct EggHatched {
    pub how_known: String,
    pub young: Vec<YoungTold>,
}

/// A young of `egg.hatched.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct YoungTold {
    pub animal: Subject,
    pub state: LifeState,
    pub label: Option<String>,
    #[serde(default)]
    pub sex: Sex,
    pub length_cm: Option<f64>,
    pub length_how: Option<String>,
    pub mass_g: Option<f64>,
    pub mass_how: Option<String>,
    pub tank: Option<Subject>,
    pub sire: Option<Parentage>,
    pub dam: Option<Parentage>,
}

impl YoungTold {
    /// Alive at the first look.
    #[must_use]
    pub fn alive(&self) -> bool {
        self.state == LifeState::Alive
    }
}

/// `animal.received.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct AnimalReceived {
    pub label: String,
    pub species: Subject,
    pub sex: Sex,
    pub from: String,
    pub state: LifeState,
    pub origin: String,
    pub hatched_on_estimate: Option<NaiveDate>,
    pub dam: Option<Parentage>,
    pub sire: Option<Parentage>,
    pub tank: Option<Subject>,
    pub length_cm: Option<f64>,
    pub mass_g: Option<f64>,
}

/// `animal.fed.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct AnimalFed {
    pub eaten: Eaten,
}

/// What was eaten of what was offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[allow(missing_docs, reason = "the words are described in the schema of the kind")]
pub enum Eaten {
    #[serde(rename = "all")]
    All,
    #[serde(rename = "most")]
    Most,
    #[serde(rename = "some")]
    Some,
    #[serde(rename = "none")]
    None,
    #[serde(rename = "spat out")]
    SpatOut,
    #[serde(rename = "not seen")]
    NotSeen,
}

impl Eaten {
    /// Seen to swallow and keep.
    #[must_use]
    pub fn swallowed(self) -> bool {
        matches!(self, Self::All | Self::Most | Self::Some)
    }
}

/// `animal.measured.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct AnimalMeasured {
    pub length_cm: Option<f64>,
    pub length_basis: Option<String>,
    pub length_how: Option<String>,
    pub mass_g: Option<f64>,
    pub mass_how: Option<String>,
    pub internal_yolk: Option<String>,
    pub sex: Option<Sex>,
}

/// `animal.died.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct AnimalDied {
    pub how_known: String,
    pub last_seen_alive: Option<Instant>,
    pub apparent_cause: String,
}

/// `system.set_up.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct SystemSetUp {
    pub label: String,
    pub water: String,
    pub volume_l: Option<f64>,
}

/// `tank.set_up.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct TankSetUp {
    pub label: String,
    pub purpose: String,
    pub system: Option<Subject>,
    pub volume_l: Option<f64>,
}

/// `tank.searched.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct TankSearched {
    #[serde(default, deserialize_with = "whole")]
    pub eggs_found: Option<u64>,
    pub whole_tank: bool,
}

/// `record.endorsed.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct Endorsed {
    #[serde(default, deserialize_with = "whole")]
    pub seq: Option<u64>,
}

/// `note.abandoned.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct Abandoned {
    #[serde(default, deserialize_with = "whole")]
    pub keycount: Option<u32>,
}

/// `key.enrolled.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct KeyEnrolled {
    pub person: String,
    pub roles: Vec<Role>,
    pub device: String,
    pub valid_until: Option<Instant>,
}

/// `key.revoked.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct KeyRevoked {
    pub suspected_since: Option<Instant>,
}

/// `collection.founded.v1` and `root.replaced.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct RootKeys {
    pub time_zone: Option<String>,
    pub root_keys: Vec<RootKey>,
}

/// A root key and its person.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct RootKey {
    pub public_key: String,
    pub person: String,
}

impl RootKey {
    /// Its id; `None` if it is not 32 bytes in base64.
    #[must_use]
    pub fn keyid(&self) -> Option<KeyId> {
        from_base64_32(&self.public_key).map(|key| KeyId::of(&key))
    }
}

fn read<'de, T: Deserialize<'de>>(data: &'de Map<String, Value>, told: impl FnOnce(T) -> Told) -> Told {
    T::deserialize(data).map_or(Told::Nothing, told)
}

impl Told {
    /// Reads the data of a note of that kind.
    #[must_use]
    pub fn read(kind: &str, data: &Map<String, Value>) -> Self {
        match kind {
            "egg.collected.v1" => read(data, |told| Self::EggCollected(Box::new(told))),
            "egg.received.v1" => read(data, |told| Self::EggReceived(Box::new(told))),
            "egg.candled.v1" => read(data, Self::EggCandled),
            "egg.moved.v1" | "animal.moved.v1" => read(data, Self::Moved),
            "egg.held_apart.v1" => read(data, Self::EggHeldApart),
            "egg.lost.v1" => read(data, Self::EggLost),
            "egg.removed.v1" => read(data, Self::EggRemoved),
            "egg.opened.v1" => read(data, Self::EggOpened),
            "egg.hatched.v1" => read(data, Self::EggHatched),
            "animal.received.v1" => read(data, |told| Self::AnimalReceived(Box::new(told))),
            "animal.fed.v1" => read(data, Self::AnimalFed),
            "animal.measured.v1" => read(data, Self::AnimalMeasured),
            "animal.died.v1" => read(data, Self::AnimalDied),
            "animal.departed.v1" => read(data, Self::AnimalDeparted),
            "species.listed.v1" => read(data, |told| Self::SpeciesListed(Box::new(told))),
            "system.set_up.v1" => read(data, Self::SystemSetUp),
            "tank.set_up.v1" => read(data, Self::TankSetUp),
            "water.measured.v1" => read(data, |told| Self::WaterMeasured(Box::new(told))),
            "tank.searched.v1" => read(data, Self::TankSearched),
            "record.endorsed.v1" => read(data, Self::Endorsed),
            "discrepancy.explained.v1" => read(data, |told| Self::Explained(Box::new(told))),
            "note.abandoned.v1" => read(data, Self::Abandoned),
            "policy.set.v1" => read(data, |told| Self::PolicySet(Box::new(told))),
            "key.enrolled.v1" => read(data, Self::KeyEnrolled),
            "key.revoked.v1" => read(data, Self::KeyRevoked),
            "collection.founded.v1" | "root.replaced.v1" => read(data, Self::RootKeys),
            _ => {
                let egg = || EggNote::read(kind, data).map(Self::EggNote);
                let animal = || AnimalNote::read(kind, data).map(Self::AnimalNote);
                let group = || GroupNote::read(kind, data).map(Self::GroupNote);
                let house = || House::read(kind, data).map(Self::House);
                egg().or_else(animal).or_else(group).or_else(house).unwrap_or(Self::Nothing)
            }
        }
    }

    /// The label that the data gives to its subject (not to young).
    #[must_use]
    pub fn label(&self) -> Option<&str> {
        match self {
            Self::EggCollected(told) => Some(&told.label),
            Self::EggReceived(told) => Some(&told.label),
            Self::AnimalReceived(told) => Some(&told.label),
            Self::SystemSetUp(told) => Some(&told.label),
            Self::TankSetUp(told) => Some(&told.label),
            Self::House(told) => told.label(),
            Self::EggNote(note) => note.label(),
            Self::AnimalNote(note) => note.label(),
            Self::GroupNote(note) => note.label(),
            _ => None,
        }
    }

    /// Whether it is about another note and tells nothing of its subject.
    #[must_use]
    pub fn is_about_a_note(&self) -> bool {
        matches!(self, Self::Endorsed(_) | Self::Explained(_))
    }

    /// Subjects other than the note's own whose state it bears on; those of the house say their own.
    #[must_use]
    pub fn bears_on(&self) -> Vec<&Subject> {
        match self {
            Self::EggHatched(hatch) => hatch.young.iter().map(|young| &young.animal).collect(),
            Self::EggNote(note) => note.bears_on(),
            Self::GroupNote(note) => note.bears_on(),
            _ => Vec::new(),
        }
    }

    /// Whether such notes are many and say nothing that bears on others: they are indexed apart,
    /// so that a note about an animal that was fed a thousand times is still judged at once.
    #[must_use]
    pub fn is_routine(&self) -> bool {
        match self {
            Self::House(told) => told.is_routine(),
            told => matches!(told, Self::AnimalFed(_) | Self::WaterMeasured(_) | Self::GroupNote(GroupNote::Fed(_))),
        }
    }
}

#[cfg(test)]
mod tests;
