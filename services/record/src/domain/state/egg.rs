//! An egg case, as a reader sees it.

use super::absence::Absence;
use super::adults::Circumstances;
use super::authorisation::{Authorisation, LeftToHatch, Tended};
use super::life::Afterwards;
use super::words::{EventId, LifeState, Moment, Movement, Parentage, Place, YolkLook};
use crate::domain::discrepancy::Discrepancy;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// An egg case. It keeps its identity after the hatch; the animal is another thing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Egg {
    /// `egg/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// What stands on the case; empty if the note that says so is withheld.
    pub label: String,
    /// `species/<ULID>`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// When it was found or received.
    pub came: Moment,
    /// Collected here or received from elsewhere.
    pub origin: EggOrigin,
    /// Between when and when it was laid.
    pub laid_window: LaidWindow,
    /// Cases that one dam laid together.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
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
    /// Authorisations of openings that name this case; those that stand for all stand with the
    /// collection.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub authorisations: Vec<Authorisation>,
    /// Choices to leave it to hatch.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_to_hatch: Vec<LeftToHatch>,
    /// What was done to it from outside.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tended: Vec<Tended>,
    /// Times for which it was missing.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub absences: Vec<Absence>,
    /// Post-mortems, and what became of the content.
    #[serde(skip_serializing_if = "Afterwards::is_empty")]
    pub afterwards: Afterwards,
    /// What became of it: its first end that no later sighting alive has lifted.
    pub fate: EggFate,
    /// Where it stands in law and care.
    #[serde(flatten)]
    pub circumstances: Circumstances,
    /// What is at odds; empty in most.
    pub discrepancies: Vec<Discrepancy>,
}

/// How a case came.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "how", rename_all = "snake_case")]
pub enum EggOrigin {
    /// Found in a tank of the collection.
    Collected {
        /// Where it was found.
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<String>)]
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
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PairMate {
    /// The case.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub egg: Option<Subject>,
    /// `seen laid together`, `same colour and condition`, `assumed`, `unknown`.
    pub basis: String,
}

/// Between when and when a case was laid.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LaidWindow {
    /// Not before: the note's `timeafter`, else the last search of the whole tank before the
    /// find, else the first moment of the estimated day. `None`: nobody knows.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub not_before: Option<Instant>,
    /// Not after: the find, or the last moment of the estimated day.
    #[schema(value_type = String)]
    pub not_after: Instant,
    /// Which of these it rests on.
    pub basis: LaidBasis,
    /// The estimated day of laying, of a received case.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub estimate: Option<NaiveDate>,
    /// What the estimate rests on, in the sender's or receiver's words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub estimate_basis: Option<String>,
    /// The note that it rests on: the find, the search, or the arrival.
    #[schema(value_type = String)]
    pub event: EventId,
}

/// See [`LaidWindow::basis`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub enum LaidBasis {
    /// The find says since when.
    #[serde(rename = "the find")]
    Find,
    /// The last search of the whole tank.
    #[serde(rename = "the last search")]
    LastSearch,
    /// A laying that was seen.
    #[serde(rename = "seen laying")]
    SeenLaying,
    /// Somebody's estimate.
    #[serde(rename = "estimate")]
    Estimate,
    /// Only the end of the window is known.
    #[serde(rename = "not known")]
    NotKnown,
}

/// One look at a case, with a light or by other means.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Look {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// `ultrasound`, `lens` or `camera`; a look with a light has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// Whether it showed the inside.
    pub seen_into: bool,
    /// Candling band, 0 to 7 (a convention of this project).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band: Option<u8>,
    /// Movement of the embryo.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub movement: Option<Movement>,
    /// Heartbeat of the embryo: `seen`, `not seen`, `could not tell`; not seen says nothing about life.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heartbeat: Option<String>,
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
    /// Whether it is a sighting alive: the embryo moved, or its heart was seen to beat.
    #[must_use]
    pub fn is_alive(&self) -> bool {
        self.movement == Some(Movement::Moving) || self.heartbeat.as_deref() == Some("seen")
    }
}

/// A suspect case set apart.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
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
    /// Roles whose signature is still wanted afterwards, a second person's among them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub signatures_missing: Vec<String>,
    /// Authorisations that covered it at that moment.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub authorised_by: Vec<EventId>,
}

/// What became of a case.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
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
        #[schema(value_type = Option<String>)]
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
        #[schema(value_type = Option<String>)]
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
    /// Put down by decision: a line of its own, never a loss.
    PutDown {
        /// When.
        #[serde(flatten)]
        when: Moment,
        /// Why.
        reason: String,
        /// Who decided, by pseudonym.
        decided_by: Vec<String>,
        /// Whether the embryo lived: `yes`, `no`, `not known`.
        alive: String,
        /// Candling band last seen, 0 to 7: the note's own, else that of the last look.
        #[serde(skip_serializing_if = "Option::is_none")]
        band_last_seen: Option<u8>,
        /// The institution's decision that it rests on.
        #[serde(skip_serializing_if = "Option::is_none")]
        authority: Option<String>,
    },
    /// Not where it should be: a line of its own until it is found or written off, never a loss.
    Missing {
        /// Since when it is known to be so.
        #[serde(flatten)]
        when: Moment,
        /// When curator and registrar wrote it off.
        #[serde(skip_serializing_if = "Option::is_none")]
        written_off: Option<Moment>,
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
            | Self::PutDown { when, .. }
            | Self::Missing { when, .. }
            | Self::Removed { when, .. } => Some(*when),
        }
    }
}

/// A young named by a hatch note.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Young {
    /// The animal.
    #[schema(value_type = String)]
    pub animal: Subject,
    /// Alive at the first look.
    pub alive: bool,
    /// The hatch note.
    #[schema(value_type = String)]
    pub event: EventId,
}
