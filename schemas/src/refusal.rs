//! Why a note is refused. The names are part of the format: a client acts on them (F7).

use serde::{Deserialize, Serialize};

/// The name of a problem, in the order in which they are looked for: the first that fails
/// names the refusal (F7).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Problem {
    /// Not a strict DSSE envelope.
    EnvelopeMalformed,
    /// The body is not a strict event, or does not satisfy its kind's schema.
    BodyMalformed,
    /// Written for another log.
    WrongLog,
    /// A signature under no known key, and its hint names none either.
    SignerUnknown,
    /// A signature that verifies under no known key.
    SignatureInvalid,
    /// The key named in the body did not sign.
    AuthorSignatureMissing,
    /// The id is taken by another body.
    IdReused,
    /// `time` lies beyond the service's clock.
    TimeInFuture,
    /// Written long after the fact without saying so, or saying so wrongly.
    LateWithoutReason,
    /// The checkpoint the device says it saw was not signed by this log.
    SeenSignatureInvalid,
    /// The author's key is not in force, and no registrar vouches.
    KeyNotInForce,
    /// The author may not do this, or a needed approval is missing.
    NotPermitted,
    /// An act or endorsement names no recorded event.
    TargetUnknown,
    /// The subject was never brought into the record.
    SubjectUnknown,
    /// The subject has changed since the signer last saw it.
    ExpectFailed,
}

impl Problem {
    /// All of them, in the order of F7.
    pub const ALL: [Self; 15] = [
        Self::EnvelopeMalformed,
        Self::BodyMalformed,
        Self::WrongLog,
        Self::SignerUnknown,
        Self::SignatureInvalid,
        Self::AuthorSignatureMissing,
        Self::IdReused,
        Self::TimeInFuture,
        Self::LateWithoutReason,
        Self::SeenSignatureInvalid,
        Self::KeyNotInForce,
        Self::NotPermitted,
        Self::TargetUnknown,
        Self::SubjectUnknown,
        Self::ExpectFailed,
    ];

    /// The name as it stands at the end of a problem's `type`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::EnvelopeMalformed => "envelope-malformed",
            Self::BodyMalformed => "body-malformed",
            Self::WrongLog => "wrong-log",
            Self::SignerUnknown => "signer-unknown",
            Self::SignatureInvalid => "signature-invalid",
            Self::AuthorSignatureMissing => "author-signature-missing",
            Self::IdReused => "id-reused",
            Self::TimeInFuture => "time-in-future",
            Self::LateWithoutReason => "late-without-reason",
            Self::SeenSignatureInvalid => "seen-signature-invalid",
            Self::KeyNotInForce => "key-not-in-force",
            Self::NotPermitted => "not-permitted",
            Self::TargetUnknown => "target-unknown",
            Self::SubjectUnknown => "subject-unknown",
            Self::ExpectFailed => "expect-failed",
        }
    }
}

/// A refusal: the problem by name, where in the body it lies, and one sentence that says
/// what is wrong and what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, Serialize, Deserialize)]
#[error("{}: {detail}", problem.name())]
pub struct Refusal {
    /// Which rule was broken.
    pub problem: Problem,
    /// One sentence for a person.
    pub detail: String,
    /// JSON pointer (RFC 6901) into the body, where there is one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pointer: Option<String>,
    /// Signatures that are wanting on the same body, where nothing else is: with them it would be
    /// taken.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub wants: Vec<Wanted>,
}

/// A signature that is wanting.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Wanted {
    /// Roles of which the signer needs one; `root` for a root key.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub roles: Vec<String>,
    /// How many persons are wanting still.
    pub persons: usize,
    /// The key itself, where only one will do: a new key signs its own enrolment.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub key: Option<String>,
}

impl Wanted {
    /// So many persons with one of these roles.
    #[must_use]
    pub fn roles(roles: &[String], persons: usize) -> Self {
        Self { roles: roles.to_vec(), persons, key: None }
    }
}

impl Refusal {
    /// A refusal without a place in the body.
    pub fn new(problem: Problem, detail: impl Into<String>) -> Self {
        Self { problem, detail: detail.into(), pointer: None, wants: Vec::new() }
    }

    /// A refusal that points at a member of the body.
    pub fn at(problem: Problem, pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { problem, detail: detail.into(), pointer: Some(pointer.into()), wants: Vec::new() }
    }

    /// The same refusal, which these signatures would mend.
    #[must_use]
    pub fn wanting(self, wants: Vec<Wanted>) -> Self {
        Self { wants, ..self }
    }

    /// A body that breaks the format at `pointer`.
    pub fn body(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::at(Problem::BodyMalformed, pointer, detail)
    }
}
