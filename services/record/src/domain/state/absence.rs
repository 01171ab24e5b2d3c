//! What is not where it should be, until it is found or written off.

use super::words::Moment;
use serde::Serialize;
use utoipa::ToSchema;

/// A time for which a case or an animal was missing, or an animal was at large or elsewhere.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Absence {
    /// Since when it was known to be so.
    pub since: Moment,
    /// `missing`, `escaped`, or `departed` where it came back.
    pub what: &'static str,
    /// When it was noticed, how it escaped, or why it left, in the note's word.
    pub how: String,
    /// Where it was looked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub searched: Vec<String>,
    /// When it was found, caught again, or came back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found: Option<Moment>,
    /// When curator and registrar decided that nobody expects to find it any more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub written_off: Option<Moment>,
}
