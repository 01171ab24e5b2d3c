//! What a note says as it says it, with when and by which note: the members of such states are
//! those of the kind's schema, and are described there.

use super::words::Moment;
use crate::domain::whole::Whole;
use selachron_schemas::names::Subject;
use serde::{Deserialize, Deserializer, Serialize};
use std::ops::Deref;
use utoipa::ToSchema;

/// What a note says, with when and by which note.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Noted<T> {
    /// When, and by which note.
    #[serde(flatten)]
    pub when: Moment,
    /// What it says.
    #[serde(flatten)]
    pub told: T,
}

/// A subject that a note names.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(transparent)]
#[schema(value_type = String)]
pub struct Thing(pub Subject);

impl Deref for Thing {
    type Target = Subject;

    fn deref(&self) -> &Subject {
        &self.0
    }
}

/// A count, however the note wrote it (F4: `7`, `7.0` and `70e-1` are one number).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(transparent)]
pub struct Count(pub u64);

impl<'de> Deserialize<'de> for Count {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Whole::deserialize(deserializer).map(|Whole(count)| Self(count))
    }
}

/// Structs of a note's members: those always there, then those that may be absent, then lists
/// that may be.
macro_rules! told {
    ($($(#[$about:meta])* $name:ident { $($must:ident: $of:ty),*; $($may:ident: $option:ty),*; $($list:ident: $item:ty),* })*) => {
        $(
            $(#[$about])*
            #[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
            #[allow(missing_docs, reason = "the members are described in the schema of the kind")]
            pub struct $name {
                $(pub $must: $of,)*
                $(#[serde(default, skip_serializing_if = "Option::is_none")] pub $may: Option<$option>,)*
                $(#[serde(default, skip_serializing_if = "Vec::is_empty")] pub $list: Vec<$item>,)*
            }
        )*
    };
}
pub(super) use told;
