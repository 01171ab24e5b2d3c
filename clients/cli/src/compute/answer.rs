//! Answers: JSON in one line, numbers that round-trip, `null` where there is none and a sentence in
//! `notes` why.

use crate::fault::Fault;
use selachron_statistics::reason::{Error, InvalidInput, Reason};
use serde::Serialize;
use serde::ser::{SerializeMap as _, Serializer};

/// The label of everybody, where no column tells groups apart.
pub const ALL: &str = "all";

/// A JSON object whose members keep their order.
#[derive(Debug, Clone)]
pub struct Named<T>(pub Vec<(String, T)>);

impl<T> Default for Named<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T> Named<T> {
    /// Adds a member.
    pub fn push(&mut self, name: &str, value: T) {
        self.0.push((name.to_owned(), value));
    }
}

impl<T: Serialize> Serialize for Named<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (name, value) in &self.0 {
            map.serialize_entry(name, value)?;
        }
        map.end()
    }
}

/// Sentences beside an answer, each once.
#[derive(Debug, Clone, Default, Serialize)]
#[serde(transparent)]
pub struct Notes(Vec<String>);

impl Notes {
    /// Adds a sentence.
    pub fn say(&mut self, sentence: impl Into<String>) {
        let sentence = sentence.into();
        if !self.0.contains(&sentence) {
            self.0.push(sentence);
        }
    }

    /// Adds a sentence about one group.
    pub fn of(&mut self, label: &str, sentence: &str) {
        if label == ALL { self.say(sentence) } else { self.say(format!("{label}: {sentence}")) }
    }

    /// The value, or `None` and the sentence that says why there is none.
    ///
    /// # Errors
    /// Somebody must correct the input.
    pub fn keep<T>(&mut self, label: &str, what: &str, found: Result<T, Error>) -> Result<Option<T>, Fault> {
        match found {
            Ok(value) => Ok(Some(value)),
            Err(Error::NotEstimable(reason)) => {
                self.absent(label, what, &reason);
                Ok(None)
            }
            Err(Error::Input(wrong)) => Err(input(&wrong)),
        }
    }

    /// Says why a value is not there.
    pub fn absent(&mut self, label: &str, what: &str, reason: &Reason) {
        self.of(label, &format!("{what}: {reason}"));
    }
}

/// An input that somebody must correct, where no row is known.
#[must_use]
pub fn input(wrong: &InvalidInput) -> Fault {
    Fault::Failed(wrong.to_string())
}

/// The same with the row as a reader counts it, from 1 below the header; estimators count from 0.
#[must_use]
pub fn counted_from_1(mut wrong: InvalidInput) -> InvalidInput {
    match &mut wrong {
        InvalidInput::RowAge { row, .. }
        | InvalidInput::ExitBeforeEntry { row, .. }
        | InvalidInput::WeightZero { row }
        | InvalidInput::ClassOrder { row, .. }
        | InvalidInput::EventsAboveExposed { row, .. }
        | InvalidInput::ClassValue { row, .. } => *row += 1,
        _ => {}
    }
    wrong
}

/// The text of an answer.
///
/// # Errors
/// Never, for what is computed here; a fault of the writer is told.
pub fn text(answer: &impl Serialize) -> Result<String, Fault> {
    serde_json::to_string(answer).map_err(|error| Fault::Failed(format!("the answer cannot be written: {error}")))
}
