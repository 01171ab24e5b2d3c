//! Eggs, animals, tanks, systems, species and house rules at an instant V when S notes are known
//! (F20, F21). Words are those of `schemas/v1`; every fact names the note it rests on.

use super::discrepancy::Discrepancy;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// The id of a note: a ULID, kept as its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EventId(pub u128);

impl fmt::Display for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        ulid::Ulid(self.0).fmt(f)
    }
}

impl Serialize for EventId {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// When something happened, and the note that says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Moment {
    /// The observer's claim; with `timeafter` the later end of an interval.
    pub time: Instant,
    /// It happened after this and not after `time`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub timeafter: Option<Instant>,
    /// The note.
    pub event: EventId,
}

/// What is known of a parent of an embryo.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Parentage {
    /// `known`, `candidates`, `unknown`, `none` (unfertilised), `wild_caught`.
    pub status: ParentStatus,
    /// One animal if known, one or more if candidates.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub animals: Vec<Candidate>,
    /// What it rests on, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// See [`Parentage::status`].
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ParentStatus {
    /// Exactly one animal, on evidence.
    Known,
    /// One of several.
    Candidates,
    /// Nobody can say, or nobody said.
    #[default]
    Unknown,
    /// No father: the embryo developed from an unfertilised egg.
    None,
    /// Lived in the wild.
    WildCaught,
}

/// A candidate parent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// The animal.
    pub animal: Subject,
    /// Share of the parentage, above 0, at most 1; without it all candidates weigh alike.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<f64>,
}

/// Whether a yolk was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum YolkLook {
    /// Seen.
    #[serde(rename = "seen")]
    Seen,
    /// Looked in, and there was none.
    #[serde(rename = "not seen")]
    NotSeen,
    /// The case could not be judged.
    #[serde(rename = "could not see")]
    CouldNotSee,
}

/// Movement of an embryo at a look. `still` says nothing about life (Kempster 2013).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Movement {
    /// Moving: a sighting alive.
    #[serde(rename = "moving")]
    Moving,
    /// Not moving.
    #[serde(rename = "still")]
    Still,
    /// Could not tell.
    #[serde(rename = "could not tell")]
    CouldNotTell,
}

/// Alive or dead, as told of something that arrived or left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LifeState {
    /// Alive.
    #[serde(rename = "alive")]
    Alive,
    /// Dead.
    #[serde(rename = "dead")]
    Dead,
    /// Nobody could tell.
    #[serde(rename = "not known", alias = "could not tell")]
    NotKnown,
}

/// Sex as it can be told today.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sex {
    /// Male.
    Male,
    /// Female.
    Female,
    /// Cannot be told yet.
    #[default]
    Unknown,
}

/// An egg case. It keeps its identity after the hatch; the animal is another thing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Egg {
    /// `egg/<ULID>`.
    pub id: Subject,
    /// What stands on the case; empty if the note that says so is withheld.
    pub label: String,
    /// `species/<ULID>`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub species: Option<Subject>,
    /// When it was found or received.
    pub came: Moment,
    /// Collected here or received from elsewhere.
    pub origin: EggOrigin,
    /// Between when and when it was laid.
    pub laid_window: LaidWindow,
    /// Cases that one dam laid together.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clutch: Option<Subject>,
    /// The mother.
    pub dam: Parentage,
    /// The father.
    pub sire: Parentage,
    /// Where it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// When it was first put in an incubation place: `to_tank` of the note by which it came, or a
    /// move to a tank that is not for adults or display. `None`: never taken into the nursery.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub taken_in: Option<Moment>,
    /// Looks in order of time.
    pub looks: Vec<Look>,
    /// Whether there was a yolk, at the first look that could see in; later evidence of a yolk
    /// (an embryo, a hatch) outweighs a look that saw none.
    pub yolk: YolkLook,
    /// First sighting of a living embryo: one that moved, or young alive at the hatch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub embryo_seen_alive: Option<Moment>,
    /// Newest sighting of a living embryo before the end; `None`: never seen alive in the case.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_seen_alive: Option<Moment>,
    /// Candling band (0 to 7) at the last look that could see in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band: Option<u8>,
    /// First look at which the slits were seen open: the case is no longer sealed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slits_open: Option<Moment>,
    /// Held apart as suspect, until a sighting alive or an end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held_apart: Option<HeldApart>,
    /// Every opening of the case, examinations of dead cases included.
    pub openings: Vec<Opening>,
    /// What became of it: its first end that no later sighting alive has lifted.
    pub fate: EggFate,
    /// What is at odds; empty in most.
    pub discrepancies: Vec<Discrepancy>,
}

/// How a case came.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "how", rename_all = "snake_case")]
pub enum EggOrigin {
    /// Found in a tank of the collection.
    Collected {
        /// Where it was found.
        #[serde(skip_serializing_if = "Option::is_none")]
        from_tank: Option<Subject>,
        /// `pair`, `single`, `unknown`.
        laid: String,
        /// The other case of the pair.
        #[serde(skip_serializing_if = "Option::is_none")]
        pair_mate: Option<PairMate>,
    },
    /// Received from elsewhere.
    Received {
        /// The sender, a pseudonym.
        from: String,
        /// As it arrived.
        state: LifeState,
    },
    /// The note that says so is withheld.
    Withheld,
}

/// The other case of a pair.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PairMate {
    /// The case.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub egg: Option<Subject>,
    /// `seen laid together`, `same colour and condition`, `assumed`, `unknown`.
    pub basis: String,
}

/// Between when and when a case was laid.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LaidWindow {
    /// Not before: the note's `timeafter`, else the last search of the whole tank before the
    /// find, else the first moment of the estimated day. `None`: nobody knows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_before: Option<Instant>,
    /// Not after: the find, or the last moment of the estimated day.
    pub not_after: Instant,
    /// Which of these it rests on.
    pub basis: LaidBasis,
    /// The estimated day of laying, of a received case.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub estimate: Option<NaiveDate>,
    /// What the estimate rests on, in the sender's or receiver's words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub estimate_basis: Option<String>,
}

/// See [`LaidWindow::basis`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum LaidBasis {
    /// The find says since when.
    #[serde(rename = "the find")]
    Find,
    /// The last search of the whole tank.
    #[serde(rename = "the last search")]
    LastSearch,
    /// Somebody's estimate.
    #[serde(rename = "estimate")]
    Estimate,
    /// Only the end of the window is known.
    #[serde(rename = "not known")]
    NotKnown,
}

/// Where a case or an animal is, and since when.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Place {
    /// The tank.
    pub tank: Subject,
    /// A note on the place within it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Since.
    pub since: Moment,
}

/// One look at a case with a light.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Look {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// Whether the light showed the inside.
    pub seen_into: bool,
    /// Candling band, 0 to 7 (a convention of this project).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band: Option<u8>,
    /// Movement of the embryo.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub movement: Option<Movement>,
    /// External yolk left, 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub yolk_fraction: Option<f64>,
    /// Odd things seen.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<String>,
    /// The embryo's eye.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub eye: Option<String>,
    /// Looked because of a suspicion, not on schedule.
    pub prompted: bool,
    /// Pseudonym of the person who looked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
}

impl Look {
    /// Whether it is a sighting alive: the embryo moved.
    #[must_use]
    pub fn is_alive(&self) -> bool {
        self.movement == Some(Movement::Moving)
    }
}

/// A suspect case set apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeldApart {
    /// Since.
    pub since: Moment,
    /// Why.
    pub reason: String,
    /// Hours after which it is looked at again, by the note itself; else the policy says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub look_again_after_hours: Option<u32>,
    /// Looks since then.
    pub looks_since: u32,
    /// The newest look since then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_look: Option<Moment>,
}

/// An opening of a case by a person.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Opening {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// How far.
    pub extent: String,
    /// Known dead before: an examination, never an assisted hatch.
    pub known_dead: bool,
    /// `hatched`, `left to hatch`, `found dead`, `no embryo`, `died during opening`.
    pub outcome: String,
    /// How the case was left.
    pub left: String,
    /// Why it could not wait for signatures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub urgent_reason: Option<String>,
    /// Criteria of the written protocol that were met.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub criteria_met: Vec<String>,
    /// Persons other than the author who signed or endorsed.
    pub approved_by: Vec<String>,
}

/// What became of a case.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum EggFate {
    /// Still incubating, as far as is known.
    Open,
    /// At least one young was wholly out and alive at the first look.
    Hatched {
        /// When.
        #[serde(flatten)]
        when: Moment,
        /// `seen to hatch`, `found hatched`, `camera`.
        how_known: String,
        /// The opening (of a case not known dead) that came before or with the hatch.
        #[serde(skip_serializing_if = "Option::is_none")]
        after_opening: Option<EventId>,
        /// All young named by the hatch notes, dead ones too.
        young: Vec<Young>,
    },
    /// The case was found empty and no young was found: neither hatched alive nor lost.
    YoungNotFound {
        /// When.
        #[serde(flatten)]
        when: Moment,
        /// The opening (of a case not known dead) that came before.
        #[serde(skip_serializing_if = "Option::is_none")]
        after_opening: Option<EventId>,
    },
    /// What was in it died, or never was.
    Lost {
        /// When it was found so.
        #[serde(flatten)]
        when: Moment,
        /// Apparent cause; `trapped at hatching` too where a hatch note names only dead young.
        apparent_cause: String,
        /// Candling band last seen, 0 to 7: the note's own, else that of the last look.
        #[serde(skip_serializing_if = "Option::is_none")]
        band_last_seen: Option<u8>,
        /// Dead young named by a hatch note.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        young: Vec<Young>,
    },
    /// It arrived dead: never at risk here.
    DeadOnArrival {
        /// When it arrived.
        #[serde(flatten)]
        when: Moment,
    },
    /// It left without an end being seen.
    Removed {
        /// When.
        #[serde(flatten)]
        when: Moment,
        /// `sent out`, `sampled`, `shown to visitors`, `other`.
        reason: String,
        /// Where to.
        to: String,
        /// As it left.
        alive: LifeState,
    },
}

impl EggFate {
    /// When it ended; `None` while open.
    #[must_use]
    pub fn when(&self) -> Option<Moment> {
        match self {
            Self::Open => None,
            Self::Hatched { when, .. }
            | Self::YoungNotFound { when, .. }
            | Self::Lost { when, .. }
            | Self::DeadOnArrival { when }
            | Self::Removed { when, .. } => Some(*when),
        }
    }
}

/// A young named by a hatch note.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Young {
    /// The animal.
    pub animal: Subject,
    /// Alive at the first look.
    pub alive: bool,
    /// The hatch note.
    pub event: EventId,
}

/// An animal, from its hatch or its arrival on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Animal {
    /// `animal/<ULID>`.
    pub id: Subject,
    /// Label; a hatchling without one of its own has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// `species/<ULID>`, of a hatchling that of its case.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub species: Option<Subject>,
    /// As told by the newest note that says.
    pub sex: Sex,
    /// When it hatched or arrived.
    pub came: Moment,
    /// Hatched here or received.
    pub origin: AnimalOrigin,
    /// The mother: the hatch note's own word, else the case's.
    pub dam: Parentage,
    /// The father: the hatch note's own word, else the case's.
    pub sire: Parentage,
    /// Where it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// Number of feedings noted.
    pub feeds: u32,
    /// First time seen to eat (`all`, `most` or `some`).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_eaten: Option<Moment>,
    /// Newest time seen to eat.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_eaten: Option<Moment>,
    /// First time the internal yolk was seen to be used up.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub internal_yolk_used_up: Option<Moment>,
    /// Measurements in order of time, those of the hatch or arrival first.
    pub measures: Vec<Measure>,
    /// Newest sighting alive. Of a found death it may be what the note itself says, and then lies
    /// before the sighting that note rests on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_seen_alive: Option<Moment>,
    /// What became of it.
    pub fate: AnimalFate,
    /// What is at odds; empty in most.
    pub discrepancies: Vec<Discrepancy>,
}

/// How an animal came.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "how", rename_all = "snake_case")]
pub enum AnimalOrigin {
    /// Out of a case of this collection.
    Hatched {
        /// The case.
        egg: Subject,
        /// Alive at the first look; dead young are never at risk in rearing.
        alive: bool,
        /// The opening (of a case not known dead) that came before or with the hatch.
        #[serde(skip_serializing_if = "Option::is_none")]
        after_opening: Option<EventId>,
    },
    /// From elsewhere.
    Received {
        /// The sender, a pseudonym.
        from: String,
        /// As it arrived.
        state: LifeState,
        /// `wild`, `bred in care`, `unknown`.
        origin: String,
        /// Estimated day of its hatch.
        #[serde(skip_serializing_if = "Option::is_none")]
        hatched_on_estimate: Option<NaiveDate>,
    },
}

impl Animal {
    /// When it hatched here, alive; `None` for animals received and young that were dead.
    #[must_use]
    pub fn hatched_alive(&self) -> Option<Moment> {
        matches!(self.origin, AnimalOrigin::Hatched { alive: true, .. }).then_some(self.came)
    }
}

/// A measurement.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Measure {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// Length in centimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_cm: Option<f64>,
    /// `total` or `disc width`; of a hatch or arrival the species' own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_basis: Option<String>,
    /// `measured` or `from a photo`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_how: Option<String>,
    /// Mass in grams.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// `drained` or `in water`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_how: Option<String>,
}

/// What became of an animal.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum AnimalFate {
    /// Here, as far as is known.
    Present,
    /// Dead when its case was first seen hatched or half out: not a hatch, not a death in rearing.
    DeadAtHatch {
        /// When.
        #[serde(flatten)]
        when: Moment,
    },
    /// It arrived dead: never at risk here.
    DeadOnArrival {
        /// When.
        #[serde(flatten)]
        when: Moment,
    },
    /// Died.
    Died {
        /// When it died or was found.
        #[serde(flatten)]
        when: Moment,
        /// `found dead`, `seen to die`, `by a veterinarian's decision`.
        how_known: String,
        /// The note's own last sighting alive.
        #[serde(skip_serializing_if = "Option::is_none")]
        said_last_seen_alive: Option<Instant>,
        /// Apparent cause.
        apparent_cause: String,
    },
    /// Left.
    Departed {
        /// When.
        #[serde(flatten)]
        when: Moment,
        /// Where to.
        to: String,
        /// `transfer`, `loan`, `other`.
        reason: String,
        /// As it left.
        alive: LifeState,
    },
}

impl AnimalFate {
    /// When it ended; `None` while present.
    #[must_use]
    pub fn when(&self) -> Option<Moment> {
        match self {
            Self::Present => None,
            Self::DeadAtHatch { when } | Self::DeadOnArrival { when } | Self::Died { when, .. } | Self::Departed { when, .. } => {
                Some(*when)
            }
        }
    }
}

/// A tank, also an incubation tank or basket.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tank {
    /// `tank/<ULID>`.
    pub id: Subject,
    /// Label.
    pub label: String,
    /// `adults`, `incubation`, `nursery`, `rearing`, `display`, `quarantine`, `holding`.
    pub purpose: String,
    /// The system whose water it shares.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub system: Option<Subject>,
    /// Volume of water in litres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume_l: Option<f64>,
    /// Since.
    pub set_up: Moment,
    /// Cases in it whose fate is open.
    pub eggs: Vec<Subject>,
    /// Animals in it that are present.
    pub animals: Vec<Subject>,
    /// Newest search for cases.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_search: Option<Search>,
    /// Newest reading of its own water.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_reading: Option<WaterReading>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// A search of a tank for cases.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Search {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// Cases found.
    pub eggs_found: u64,
    /// The whole tank was searched.
    pub whole_tank: bool,
}

/// A reading of water, with unit and basis in the names (DOMAIN section 6).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WaterReading {
    /// When; set by the fold.
    #[serde(flatten, skip_deserializing)]
    pub when: Option<Moment>,
    /// Degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// `ITS-90` or `IPTS-68`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_scale: Option<String>,
    /// Practical salinity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub salinity_psu: Option<f64>,
    /// pH on `ph_scale`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph: Option<f64>,
    /// `NBS`, `total`, `free`, `unknown`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph_scale: Option<String>,
    /// Total ammonia as nitrogen, mg/L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ammonia_total_mg_l_n: Option<f64>,
    /// Nitrite as nitrogen, mg/L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nitrite_mg_l_n: Option<f64>,
    /// Nitrate as nitrogen, mg/L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nitrate_mg_l_n: Option<f64>,
    /// Oxygen, mg/L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oxygen_mg_l: Option<f64>,
    /// Oxygen, percent of saturation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oxygen_percent: Option<f64>,
    /// Barometric pressure, hPa.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pressure_hpa: Option<f64>,
    /// The instrument, in words.
    pub instrument: String,
    /// Where in the system.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub point: Option<String>,
}

/// A water system: tanks that share water.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct System {
    /// `system/<ULID>`.
    pub id: Subject,
    /// Label.
    pub label: String,
    /// `tropical`, `temperate`, `cold`.
    pub water: String,
    /// Volume in litres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume_l: Option<f64>,
    /// Since.
    pub set_up: Moment,
    /// Its tanks.
    pub tanks: Vec<Subject>,
    /// Newest reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_reading: Option<WaterReading>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// A species as this collection lists it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Species {
    /// `species/<ULID>`.
    pub id: Subject,
    /// Scientific name.
    pub scientific_name: String,
    /// Common name.
    pub common_name: String,
    /// `total` or `disc width`.
    pub length_basis: String,
    /// Form of the case.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub case_shape: Option<String>,
    /// Most embryos in one case.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub embryos_per_case_max: Option<u32>,
    /// How long incubation takes, at which temperatures, and who says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incubation: Option<Incubation>,
    /// Days without being seen to eat, counted from internal yolk used up if seen, else from
    /// hatch, after which a hatchling is on the due list. No default.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_seen_to_eat_days: Option<u32>,
    /// Day since laying from which an embryo should be seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_embryo_seen_day: Option<u32>,
    /// Since.
    pub listed: Moment,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// Days of incubation between two temperatures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Incubation {
    /// `fitted`, `single`, `house`.
    pub grade: String,
    /// Fewest days.
    pub days_low: f64,
    /// Most days.
    pub days_high: f64,
    /// Lowest temperature it holds for, degrees Celsius.
    pub temperature_c_low: f64,
    /// Highest temperature it holds for, degrees Celsius.
    pub temperature_c_high: f64,
    /// Who says so.
    pub source: String,
}

/// The house rules in force at S: members set earlier and not named later stay (F22).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Policy {
    /// Days between two scheduled looks.
    pub candling_interval_days: u32,
    /// Days between two looks by the band last seen.
    pub candling_interval_days_by_band: BTreeMap<String, u32>,
    /// Days a newly laid case is left in peace.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rest_after_laying_days: Option<u32>,
    /// Hours after which a case held apart is looked at again.
    pub look_again_after_hours: u32,
    /// Fewest looks before a case that is not plainly dead is taken for lost.
    pub looks_before_loss_min: u32,
    /// Days without a sighting after which an animal counts as unseen.
    pub unseen_days_max: u32,
    /// Loss of mass in percent since the last weighing above which a person is asked.
    pub mass_loss_percent_max: f64,
    /// Roles whose approval the written protocol wants on an opening.
    pub opening_approval_roles: Vec<String>,
    /// Verifier keys of witnesses.
    pub witnesses: Vec<String>,
    /// The notes that set it, oldest first.
    pub events: Vec<EventId>,
}
