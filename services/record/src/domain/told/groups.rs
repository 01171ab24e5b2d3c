//! What notes say of groups: animals that cannot be told apart and are counted together, by sex. The
//! schemas describe the members.
#![allow(missing_docs, reason = "the members are described in the schema of the kind")]

use super::super::state::{Counts, Sex};
use super::{Eaten, Moved};
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use serde::Deserialize;
use serde_json::{Map, Value};

/// One of these kinds.
#[derive(Debug, Clone, PartialEq)]
pub enum GroupNote {
    Formed(Box<GroupFormed>),
    Counted(GroupCounted),
    Split(Box<GroupSplit>),
    Merged(GroupMerged),
    Moved(Moved),
    Fed(GroupFed),
    Died(GroupDied),
    Departed(GroupDeparted),
    ToldApart(Box<ToldApart>),
    Grouped(Grouped),
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct GroupFormed {
    pub label: String,
    pub species: Subject,
    pub counts: Counts,
    pub how_counted: String,
    pub came: String,
    pub sender: Option<String>,
    pub hatched_on_estimate: Option<NaiveDate>,
    pub tank: Option<Subject>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct GroupCounted {
    pub counts: Counts,
    pub full: bool,
    pub how_counted: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct GroupSplit {
    pub into: Subject,
    pub label: String,
    pub counts: Counts,
    pub how_counted: Option<String>,
    pub tank: Option<Subject>,
    pub remaining: Option<Counts>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct GroupMerged {
    pub from_group: Subject,
    pub counts: Counts,
    pub remaining: Option<Counts>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct GroupFed {
    pub eaten: Eaten,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct GroupDied {
    pub counts: Counts,
    pub how_known: String,
    pub apparent_cause: String,
    pub remaining: Option<Counts>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct GroupDeparted {
    pub counts: Counts,
    pub to: String,
    pub reason: String,
    pub remaining: Option<Counts>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ToldApart {
    pub group: Subject,
    pub counted_as: Sex,
    pub label: String,
    pub sex: Sex,
    pub how_told: String,
    pub tank: Option<Subject>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Grouped {
    pub group: Subject,
    pub counted_as: Sex,
    pub remaining: Option<Counts>,
}

impl GroupFormed {
    /// Whether its animals were known by themselves: it begins with nobody, and each is put into it.
    #[must_use]
    pub fn were_known(&self) -> bool {
        self.came == KNOWN
    }
}

/// Of a group whose animals were known by themselves.
pub const KNOWN: &str = "known by themselves";

impl GroupNote {
    /// Reads the data of a note of that kind; `None` of another, or where it does not fit.
    #[must_use]
    pub fn read(kind: &str, data: &Map<String, Value>) -> Option<Self> {
        fn told<'de, T: Deserialize<'de>>(data: &'de Map<String, Value>, note: impl FnOnce(T) -> GroupNote) -> Option<GroupNote> {
            T::deserialize(data).ok().map(note)
        }
        match kind {
            "group.formed.v1" => told(data, |note| Self::Formed(Box::new(note))),
            "group.counted.v1" => told(data, Self::Counted),
            "group.split.v1" => told(data, |note| Self::Split(Box::new(note))),
            "group.merged.v1" => told(data, Self::Merged),
            "group.moved.v1" => told(data, Self::Moved),
            "group.fed.v1" => told(data, Self::Fed),
            "group.died.v1" => told(data, Self::Died),
            "group.departed.v1" => told(data, Self::Departed),
            "animal.told_apart.v1" => told(data, |note| Self::ToldApart(Box::new(note))),
            "animal.grouped.v1" => told(data, Self::Grouped),
            _ => None,
        }
    }

    /// The label that the data gives to its subject.
    #[must_use]
    pub fn label(&self) -> Option<&str> {
        match self {
            Self::Formed(told) => Some(&told.label),
            Self::ToldApart(told) => Some(&told.label),
            _ => None,
        }
    }

    /// The label that it gives to a subject that it brings into the record.
    #[must_use]
    pub fn label_of(&self, subject: &Subject) -> Option<&str> {
        match self {
            Self::Split(told) if told.into == *subject => Some(&told.label),
            _ => self.label(),
        }
    }

    /// Groups other than the note's own whose numbers it changes.
    #[must_use]
    pub fn bears_on(&self) -> Vec<&Subject> {
        match self {
            Self::Split(told) => vec![&told.into],
            Self::Merged(told) => vec![&told.from_group],
            Self::ToldApart(told) => vec![&told.group],
            Self::Grouped(told) => vec![&told.group],
            _ => Vec::new(),
        }
    }
}
