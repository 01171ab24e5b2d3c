//! The record over the twelve months, for the parts of the report.

use super::material::{Population, Span, Twelve, Year};
use crate::domain::state::{Moment, ParentStatus, Parentage};
use crate::domain::view::View;
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

/// What the parts are made from.
pub struct Window<'w, 'a> {
    /// The record at V.
    pub view: &'w View<'a>,
    /// The record at the end of the months, or at V if that is earlier.
    pub closing_view: &'w View<'a>,
    /// Cases and animals at the end.
    pub closing: &'w Population,
    /// Cases and animals at V.
    pub now: &'w Population,
    /// The months.
    pub twelve: Twelve,
    /// Their bounds.
    pub days: Year,
    /// What of them is covered.
    pub span: Span,
}

impl Window<'_, '_> {
    /// A label, or the subject where it bears none.
    pub fn called(&self, subject: &Subject) -> Value {
        json!(self.view.called(subject))
    }

    /// Several, one after the other.
    pub fn called_all<'s>(&self, subjects: impl IntoIterator<Item = &'s Subject>) -> Value {
        json!(subjects.into_iter().map(|subject| self.view.called(subject)).collect::<Vec<_>>().join(", "))
    }

    /// What a species is called.
    pub fn species(&self, id: Option<&Subject>) -> Value {
        let name = |id: &Subject| self.view.species(id).map_or_else(|| id.to_string(), |found| found.scientific_name);
        json!(id.map_or_else(|| "species not known".to_owned(), name))
    }

    /// The day of a moment.
    pub fn day(&self, moment: Moment) -> Value {
        json!(self.view.day(moment.time))
    }

    /// The day of a moment that may not be known.
    pub fn day_of(&self, moment: Option<Moment>) -> Value {
        moment.map_or(Value::Null, |moment| self.day(moment))
    }

    /// What is known of a parent: the word, and who it is or may be.
    pub fn parent(&self, parent: &Parentage) -> Value {
        let names: Vec<String> = parent.animals.iter().map(|candidate| self.view.called(&candidate.animal)).collect();
        json!(match parent.status {
            ParentStatus::Known | ParentStatus::Candidates if !names.is_empty() =>
                format!("{}: {}", parent.status.word(), names.join(", ")),
            status => status.word().to_owned(),
        })
    }

    /// Whether a moment lies in the months.
    pub fn has(&self, moment: Moment) -> bool {
        self.span.has(moment.time)
    }

    /// The address of a figure over the months.
    pub fn figure(&self, name: &str, more: &str) -> String {
        format!("/v1/figures/{name}?from={}&to={}{more}", self.days.first_day, self.days.last_day)
    }
}
