//! What is possible in reality but at odds with the rest of the record. A discrepancy is part of
//! the fold, never a row: the answer of a POST and a later read say the same.

use super::state::EventId;
use selachron_schemas::encoding::hex;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use utoipa::ToSchema;

/// One discrepancy.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Discrepancy {
    /// 32 hexadecimal characters made from kind and events: the same for ever.
    pub id: String,
    /// What kind, in plain words.
    pub kind: &'static str,
    /// How much it matters.
    pub weight: Weight,
    /// What it is about, sorted.
    #[schema(value_type = Vec<String>)]
    pub subjects: Vec<Subject>,
    /// The notes it rests on, sorted.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
    /// One plain sentence.
    pub says: String,
    /// Since when: the latest time that its notes tell of.
    #[schema(value_type = String)]
    pub since: Instant,
    /// False once somebody who may has settled it: with an explanation, or by endorsing the
    /// newest of its notes.
    pub open: bool,
    /// How it stands.
    pub standing: Settled,
    /// Who is to say, where somebody said that another person is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub asked: Option<String>,
    /// What was said of it, in order of time.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub said: Vec<Said>,
    /// Those of its notes that were recorded while their author's key was suspected (F11).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub suspected: Vec<EventId>,
}

/// How a discrepancy stands. A correction does not settle it: it makes it go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
pub enum Settled {
    /// Nobody who may settle it has said anything.
    #[serde(rename = "open")]
    Open,
    /// Somebody else is to say: still open.
    #[serde(rename = "another person is to say")]
    Asked,
    /// It was so and is meant as it stands.
    #[serde(rename = "seen and meant it")]
    Meant,
    /// A note was a slip.
    #[serde(rename = "was a slip")]
    Slip,
    /// A curator, veterinarian or registrar has endorsed the newest of its notes.
    #[serde(rename = "endorsed")]
    Endorsed,
}

/// What an explanation makes of a discrepancy (`discrepancy.explained.v1`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub enum Explanation {
    /// It was so and is meant as it stands.
    #[serde(rename = "seen and meant it")]
    Meant,
    /// A note was a slip.
    #[serde(rename = "was a slip")]
    Slip,
    /// Somebody else is to say.
    #[serde(rename = "another person is to say")]
    AskAnother,
}

/// One signed word about a discrepancy.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Said {
    /// The note that says it.
    #[schema(value_type = String)]
    pub event: EventId,
    /// When, by its author's word.
    #[schema(value_type = String)]
    pub time: Instant,
    /// Who.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// What.
    pub explanation: Explanation,
    /// Whether its author may settle a discrepancy of this weight.
    pub counts: bool,
}

/// `discrepancy.explained.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct Explained {
    pub odd: String,
    pub events: Vec<EventId>,
    pub explanation: Explanation,
    pub person: Option<String>,
}

impl Explained {
    /// The id of the discrepancy it is about.
    #[must_use]
    pub fn about(&self) -> String {
        let mut events = self.events.clone();
        events.sort_unstable();
        id_of(&self.odd, &events)
    }
}

/// How much a discrepancy matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
pub enum Weight {
    /// It ends by itself when what is missing arrives.
    #[serde(rename = "mends itself")]
    MendsItself,
    /// Somebody should be asked when convenient.
    #[serde(rename = "when convenient")]
    WhenConvenient,
    /// A person must look today.
    #[serde(rename = "needs a person today")]
    NeedsAPersonToday,
}

/// A kind of discrepancy: its words and its weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Oddity {
    /// Plain words.
    pub words: &'static str,
    /// How much it matters.
    pub weight: Weight,
}

macro_rules! oddities {
    ($($name:ident $words:literal $weight:ident)*) => {
        $(#[doc = $words] pub const $name: Oddity = Oddity { words: $words, weight: Weight::$weight };)*
        /// Every kind of discrepancy.
        pub const ALL: &[Oddity] = &[$($name),*];
    };
}

/// The kinds of discrepancy. They are a convention of this project; DOMAIN's rules are cited
/// where the fold finds them.
#[rustfmt::skip]
pub mod odd {
    use super::{Oddity, Weight};

    oddities! {
        CREATED_TWICE "created twice" WhenConvenient
        NO_ORIGIN "nothing says how it came" WhenConvenient
        TOLD_BEFORE "told of before it came" WhenConvenient
        LABEL_TWICE "label used by two that are present" WhenConvenient
        MARK_TWICE "mark borne by two that are present" WhenConvenient
        NAMES_UNKNOWN "names something unknown" MendsItself
        MOVED_FROM_ELSEWHERE "moved from a tank it was not in" WhenConvenient
        PAIR_UNORDERED "low above high" WhenConvenient

        CANDLED_AFTER_HATCH "candled after hatch" WhenConvenient
        CANDLED_AFTER_LOSS "candled after loss" WhenConvenient
        CANDLED_AFTER_LEAVING "candled after leaving" WhenConvenient
        ALIVE_AFTER_LOSS "seen alive after loss" NeedsAPersonToday
        ALIVE_AFTER_LEAVING "seen alive after leaving" WhenConvenient
        HELD_APART_AFTER_END "held apart after its end" WhenConvenient
        CASE_MOVED_AFTER_END "case moved after its end" WhenConvenient
        LOST_AFTER_HATCH "lost after hatch" WhenConvenient
        LOST_TWICE "lost twice" WhenConvenient
        LOST_AFTER_LEAVING "lost after leaving" WhenConvenient
        LEFT_TWICE "left twice" WhenConvenient
        LEFT_ALIVE_AFTER_END "left alive after its end" WhenConvenient
        HATCHED_TWICE "hatched twice" WhenConvenient
        HATCHED_AFTER_LOSS "hatched after loss" NeedsAPersonToday
        HATCHED_AFTER_LEAVING "hatched after leaving" WhenConvenient
        YOUNG_NOT_FOUND "hatched, young not found" NeedsAPersonToday
        DEAD_YOUNG_WITH_TANK "dead young listed with a tank" WhenConvenient
        BAND_BACK "band going back two or more" WhenConvenient
        YOLK_AFTER_NONE "yolk seen where none was" WhenConvenient
        LOST_ON_FIRST_LOOK "lost on the first look" NeedsAPersonToday
        LOST_WITH_FEW_LOOKS "lost with fewer looks than the policy asks" NeedsAPersonToday
        OPENED_AFTER_HATCH "opened after hatch" WhenConvenient
        OPENED_AFTER_LOSS "opened as living after loss" WhenConvenient
        OPENED_AFTER_LEAVING "opened after leaving" WhenConvenient
        OPENED_ALONE "opened without a second person" NeedsAPersonToday
        OPENED_UNAPPROVED "opened without the approval the policy asks" NeedsAPersonToday
        OPENED_SEALED "sealed case opened without a veterinarian" NeedsAPersonToday
        OPENED_AS_DEAD "opened as known dead, yet alive" NeedsAPersonToday
        OPENED_NO_HATCH "opening says hatched, no hatch noted" MendsItself
        OPENED_NO_LOSS "opening found it dead, no loss noted" MendsItself

        TENDED_SEALED "sealed case trimmed or entered without a veterinarian" NeedsAPersonToday
        TENDED_AFTER_END "tended after its end" WhenConvenient
        MISSING_AFTER_END "missing after its end" WhenConvenient
        MISSING_TWICE "missing already" WhenConvenient
        SEEN_WHILE_MISSING "told of while missing, not noted as found" MendsItself
        FOUND_NOT_MISSING "found, though not missing" WhenConvenient
        WRITTEN_OFF_PRESENT "written off, though not missing" WhenConvenient
        WRITTEN_OFF_ALONE "written off without both curator and registrar" NeedsAPersonToday
        PUT_DOWN_AFTER_END "put down after its end" WhenConvenient
        PUT_DOWN_UNSIGNED "put down without the signature of anyone who decided" NeedsAPersonToday
        TOLD_AFTER_PUT_DOWN "told of after it was put down" WhenConvenient
        ALIVE_AFTER_PUT_DOWN "alive after it was put down" NeedsAPersonToday
        OPENED_BEYOND_CRITERIA "opened without every criterion of its authorisation" NeedsAPersonToday
        ASSESSED_OTHERWISE "the assessment kept is not what the record says" NeedsAPersonToday
        AUTHORISATION_UNKNOWN "withdraws an authorisation that is not known" WhenConvenient
        LEFT_AFTER_END "left to hatch after its end" WhenConvenient
        IN_TWO_CLUTCHES "in two clutches" WhenConvenient

        FED_AFTER_DEATH "fed after death" NeedsAPersonToday
        MOVED_AFTER_DEATH "moved after death" WhenConvenient
        MEASURED_AFTER_DEATH "measured after death" WhenConvenient
        DIED_TWICE "died twice" WhenConvenient
        DEPARTED_ALIVE_AFTER_DEATH "departed alive after death" NeedsAPersonToday
        FED_AFTER_DEPARTURE "fed after departure" WhenConvenient
        MOVED_AFTER_DEPARTURE "moved after departure" WhenConvenient
        MEASURED_AFTER_DEPARTURE "measured after departure" WhenConvenient
        DIED_AFTER_DEPARTURE "died after departure" WhenConvenient
        DEPARTED_TWICE "departed twice" WhenConvenient
        DEPARTED_DEAD "departed dead, no death noted" MendsItself
        MASS_LOST "mass lost since the last weighing" NeedsAPersonToday
        NO_VETERINARIAN "death by a veterinarian's decision without a veterinarian" NeedsAPersonToday

        FEWER_SEEN "fewer seen in a tank than the record has" NeedsAPersonToday
        MORE_SEEN "more seen in a tank than the record has" WhenConvenient
        BATCH_UNFIT "fed from a batch past its date or not accepted" WhenConvenient
        RETIRED_IN_USE "in a tank that is out of use" WhenConvenient
        PLACE_ELSEWHERE "moved to a place in another tank" WhenConvenient
        RESTORED_NO_FAULT "works again, no fault noted" MendsItself
        LAID_BY_ANOTHER "seen laid by another than the dam" WhenConvenient
        ROUND_UNACCOUNTED "round closed, something neither looked at nor named" WhenConvenient
        CLOSED_TWICE "closed twice" WhenConvenient
        SENT_ALONE "sent without a second person" NeedsAPersonToday
        OPENED_BEFORE_SENT "opened before it was sent" WhenConvenient
        ARRIVED_DIFFERENT "what arrived is not what was sent" NeedsAPersonToday
        ARRIVAL_STATE "dead on arrival by one note only" WhenConvenient
        LEFT_QUARANTINE "out of quarantine before clearance" NeedsAPersonToday
        CLEARED_NO_QUARANTINE "quarantine cleared, none begun" WhenConvenient
        RESULT_TRANSCRIBED "result without laboratory or veterinarian" WhenConvenient
        NO_LICENCE "no reference of a licence" WhenConvenient
        NO_PERMIT "use or end of what is no permit" WhenConvenient
        PERMIT_NOT_IN_FORCE "permit used while it was not in force" NeedsAPersonToday
        PERMIT_OVERDRAWN "permit used for more than it covers" NeedsAPersonToday
        SEEN_AFTER_DEATH "seen alive after death" NeedsAPersonToday
        SEEN_AFTER_DEPARTURE "seen here after departure" WhenConvenient
        TREATED_AFTER_END "treated after its end" NeedsAPersonToday
        TREATED_UNORDERED "treated without a veterinarian's order" NeedsAPersonToday
        ORDER_UNSIGNED "prognosis or treatment order without a veterinarian" NeedsAPersonToday
        CAUSE_UNSIGNED "diagnosis or cause as determined without a veterinarian or laboratory" NeedsAPersonToday
        LICENCE_NOT_NAMED "may need a licence, no reference given" WhenConvenient
        SEX_CHANGED "sex told differently" WhenConvenient
        RECAPTURED_NOT_ESCAPED "recaptured, though not escaped" WhenConvenient
        RETURNED_NOT_LEFT "returned, though it had not left" WhenConvenient
        KNOWN_WITHOUT_PROOF "parent called known without a genotype" WhenConvenient
        PARENTS_AT_ODDS "genotypes that name different parents" NeedsAPersonToday
        BODY_OF_LIVING "post-mortem or carcass of one not noted dead" MendsItself
        KEPT_AFTER_DISPOSAL "body kept after it was disposed of" WhenConvenient

        GROUP_SHORT "more leave a group than are in it" NeedsAPersonToday
        GROUP_COUNT "a group is not as many as the record has" NeedsAPersonToday
        GROUP_NOT_CONSERVED "groups put together do not add up" NeedsAPersonToday
        GROUPED_AFTER_END "put in a group after its end" NeedsAPersonToday
        GROUPED_ELSEWHERE "put in a group that is in another tank" WhenConvenient
        TOLD_AFTER_GROUPED "told of by itself while counted in a group" WhenConvenient
        GROUP_ENDED "told of a group with nobody left in it" WhenConvenient

        COUNT_MISSING "count missing" MendsItself
        ONE_NUMBER_TWICE "two notes with one number" WhenConvenient
        DEVICE_CLOCK "device clock" WhenConvenient
        KEY_SUSPECTED "by a key under suspicion" NeedsAPersonToday
        VOUCHED_FOR "vouched for" WhenConvenient
        TRAINEE_ALONE "trainee's note not endorsed" WhenConvenient
        ENROLLED_ALONE "key enrolled on one person's word" WhenConvenient
    }
}

/// The stable id of a discrepancy: the first 16 bytes, in hexadecimal, of SHA-256 over its words
/// and the ids of its notes.
#[must_use]
pub fn stable_id(kind: Oddity, events: &[EventId]) -> String {
    id_of(kind.words, events)
}

fn id_of(words: &str, events: &[EventId]) -> String {
    let mut digest = Sha256::new().chain_update("selachron-discrepancy/v1\n").chain_update(words);
    for event in events {
        digest.update(b"\n");
        digest.update(event.0.to_be_bytes());
    }
    hex(&digest.finalize()[..16])
}

#[cfg(test)]
mod tests {
    use super::odd::ALL;
    use std::collections::BTreeSet;

    #[test]
    fn no_two_kinds_have_the_same_words() {
        let words: BTreeSet<&str> = ALL.iter().map(|kind| kind.words).collect();
        assert_eq!(words.len(), ALL.len());
    }
}
