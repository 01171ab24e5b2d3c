//! The record itself, as a reader sees it: histories, keys, and what is due.

use super::compare::MemberChange;
use super::discrepancy::Discrepancy;
use super::state::EventId;
use selachron_schemas::names::{KeyId, Subject};
use selachron_schemas::time::Instant;
use serde::Serialize;
use serde_json::{Map, Value};
use utoipa::ToSchema;

/// Who signed a note.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct By {
    /// Pseudonym; `None` for a key that this record never knew.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// The key.
    #[schema(value_type = String)]
    pub keyid: KeyId,
    /// What the key's holder may do, as words; `root` for a root key.
    pub roles: Vec<&'static str>,
}

/// Whether a note stands (F21).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub enum Standing {
    /// As written.
    #[serde(rename = "stands")]
    Stands,
    /// Corrected.
    #[serde(rename = "put right")]
    PutRight,
    /// Retracted.
    #[serde(rename = "taken back")]
    TakenBack,
}

/// One note in a history.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct HistoryNote {
    /// Place in the log.
    pub seq: u64,
    /// Its id.
    #[schema(value_type = String)]
    pub id: EventId,
    /// `egg.candled.v1`.
    pub kind: String,
    /// Its effective subject.
    #[schema(value_type = String)]
    pub subject: Subject,
    /// Its effective time.
    #[schema(value_type = String)]
    pub time: Instant,
    /// Its effective `timeafter`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub timeafter: Option<Instant>,
    /// When the log took it.
    #[schema(value_type = String)]
    pub recorded_at: Instant,
    /// Its author.
    pub by: By,
    /// Others who signed the same body.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub approved_by: Vec<By>,
    /// Others who endorsed it afterwards.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub endorsed_by: Vec<By>,
    /// Why it was written afterwards.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub latereason: Option<String>,
    /// It was written on paper first, and transcribed (SPEC, choice 52).
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub from_paper: bool,
    /// Whole minutes that it waited on its device between signing and being recorded, where these
    /// are more than LATE_MINUTES.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub waited_minutes: Option<i64>,
    /// Its effective data.
    #[schema(value_type = Object)]
    pub data: Map<String, Value>,
    /// Each member that was put right: what was written, and what stands.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub put_right: Vec<MemberChange>,
    /// As first written, where it was put right.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_written: Option<AsWritten>,
    /// Acts on it, and acts on these, in seq order.
    #[schema(value_type = Vec<String>)]
    pub acts: Vec<EventId>,
    /// The same acts, told.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub acts_told: Vec<ActNote>,
    /// Whether it stands.
    pub standing: Standing,
    /// The body is withheld (F23); `data` is what may be shown instead.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub withheld: bool,
    /// Registrars who vouched for a key not in force, or a note that waited too long (F11).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub vouched_for_by: Vec<String>,
    /// Recorded after the moment from which its key is suspected (F11).
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub suspected: bool,
    /// Discrepancies that rest on it.
    pub discrepancies: Vec<Discrepancy>,
}

/// A note as first written.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AsWritten {
    /// Subject.
    #[schema(value_type = String)]
    pub subject: Subject,
    /// Time.
    #[schema(value_type = String)]
    pub time: Instant,
    /// Timeafter.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub timeafter: Option<Instant>,
    /// Data.
    #[schema(value_type = Object)]
    pub data: Map<String, Value>,
}

/// A correction or retraction.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ActNote {
    /// Place in the log.
    pub seq: u64,
    /// Its id.
    #[schema(value_type = String)]
    pub id: EventId,
    /// `record.corrected.v1` or `record.retracted.v1`.
    pub kind: String,
    /// The note or act it is on.
    #[schema(value_type = String)]
    pub target: EventId,
    /// When it was made, by its author's word.
    #[schema(value_type = String)]
    pub time: Instant,
    /// When the log took it.
    #[schema(value_type = String)]
    pub recorded_at: Instant,
    /// Its author.
    pub by: By,
    /// Why.
    pub reason: String,
    /// Whether it still stands.
    pub standing: Standing,
}

/// An enrolled key or a root key.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Key {
    /// `key/<keyid>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// Holder's pseudonym.
    pub person: String,
    /// What the holder may do; `root` for a root key.
    pub roles: Vec<&'static str>,
    /// The device, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    /// Seq of the note that brought it.
    pub enrolled_seq: u64,
    /// Not in force after this.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub valid_until: Option<Instant>,
    /// Seq of the first revocation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revoked_seq: Option<u64>,
    /// From when it is suspected.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub suspected_since: Option<Instant>,
    /// In force at S, for a note recorded at V.
    pub in_force: bool,
    /// Notes it has authored.
    pub notes: u64,
    /// Its highest count (F12).
    pub keycount_max: u32,
    /// Discrepancies of its counts and clock.
    pub discrepancies: Vec<Discrepancy>,
}

/// What is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
pub enum DueWhat {
    /// A scheduled look.
    #[serde(rename = "candle")]
    Candle,
    /// Another look at a case held apart.
    #[serde(rename = "look again")]
    LookAgain,
    /// A hatchling not seen to eat.
    #[serde(rename = "not seen to eat")]
    NotSeenToEat,
    /// An opening whose signatures come afterwards.
    #[serde(rename = "sign afterwards")]
    SignAfterwards,
    /// A discrepancy that nobody has settled.
    #[serde(rename = "discrepancy")]
    Discrepancy,
    /// Equipment that failed and is not said to work again.
    #[serde(rename = "restore equipment")]
    RestoreEquipment,
    /// An instrument past its calibration interval.
    #[serde(rename = "calibrate")]
    Calibrate,
    /// A quarantine whose planned days are over, for the veterinarian.
    #[serde(rename = "clear quarantine")]
    ClearQuarantine,
    /// A consignment that should have arrived.
    #[serde(rename = "ask after a consignment")]
    AskAfterConsignment,
    /// A permit whose last day comes near, or is past.
    #[serde(rename = "renew permit")]
    RenewPermit,
    /// A loan that is over.
    #[serde(rename = "end loan")]
    EndLoan,
    /// No embryo was seen by the day on which one should be.
    #[serde(rename = "no embryo seen")]
    NoEmbryoSeen,
    /// Slits not seen open by the day on which they should be.
    #[serde(rename = "slits not open")]
    SlitsNotOpen,
    /// The hatch window is open.
    #[serde(rename = "window open")]
    WindowOpen,
    /// Past the hatch window: looked at again and left, never a reason to open.
    #[serde(rename = "past the window")]
    PastWindow,
    /// A case left to hatch, to be looked at again.
    #[serde(rename = "look at one left to hatch")]
    LookAtLeft,
    /// Mass lost since the last weighing.
    #[serde(rename = "mass lost")]
    MassLost,
    /// A temporary mark that fades.
    #[serde(rename = "mark expiring")]
    MarkExpiring,
    /// An animal told by its pattern.
    #[serde(rename = "photograph")]
    Photograph,
    /// The tank of a group.
    #[serde(rename = "walk to a group")]
    WalkGroup,
    /// A group not counted in full for longer than the house says.
    #[serde(rename = "count a group")]
    CountGroup,
    /// A water outside its band.
    #[serde(rename = "water out of band")]
    WaterOutOfBand,
    /// Counts of a device that did not arrive.
    #[serde(rename = "device notes missing")]
    DeviceNotesMissing,
}

/// A place as a round goes through it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RoundPlace {
    /// `place/<ULID>`.
    #[schema(value_type = String)]
    pub place: Subject,
    /// What stands on it.
    pub label: String,
    /// Its place in the order of a round.
    pub order: u64,
    /// Row or tray.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<String>,
}

/// One thing that is due.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DueItem {
    /// What.
    pub what: DueWhat,
    /// For which case or animal.
    #[schema(value_type = String)]
    pub subject: Subject,
    /// Its label.
    pub label: String,
    /// Where it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub tank: Option<Subject>,
    /// From when.
    #[schema(value_type = String)]
    pub due_at: Instant,
    /// Whole local days since then; 0 on the day itself and before.
    pub overdue_days: i64,
    /// Why, in one plain sentence.
    pub why: String,
    /// The notes behind it.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
    /// Whose it is, where it is not anybody's: roles, or the pseudonym of a person who was asked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub whose: Vec<String>,
    /// The discrepancy to settle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub discrepancy: Option<String>,
    /// Those of the notes behind it that were recorded while their author's key was suspected.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub suspected: Vec<EventId>,
    /// How soon a person is needed: 1 today, 2 within days, 3 when convenient (a convention of this
    /// project).
    pub urgency: u8,
    /// What its tank is called.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tank_label: Option<String>,
    /// Its place in the tank, for a walk.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<RoundPlace>,
}
