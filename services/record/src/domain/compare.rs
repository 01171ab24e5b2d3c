//! What changed between two sizes of the log, at one V: notes that came, notes that were put right
//! or taken back, and what that makes of the thing they are about.

use super::nursery::Nursery;
use super::record::HistoryNote;
use super::view::View;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::Serialize;
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// One member that is not what it was.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MemberChange {
    /// JSON pointer (RFC 6901) at it.
    pub at: String,
    /// What it was; absent if it was not there.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Object>)]
    pub before: Option<Value>,
    /// What it is; absent if it is no longer there.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Object>)]
    pub after: Option<Value>,
}

/// A note that is told otherwise than before.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NoteChange {
    /// As it was told.
    pub before: HistoryNote,
    /// As it is told.
    pub after: HistoryNote,
    /// Where the two differ.
    pub members: Vec<MemberChange>,
}

/// What lies between two sizes.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Comparison {
    /// Notes in the history now and not before; one with a seq below the older size was known,
    /// and came into this history or into its time by a correction.
    pub new: Vec<HistoryNote>,
    /// Notes that are told otherwise.
    pub changed: Vec<NoteChange>,
    /// Notes in the history before and not now: corrected to a time after V.
    pub gone: Vec<HistoryNote>,
    /// What is otherwise about the thing itself.
    pub item: Vec<MemberChange>,
}

/// Members in which two values differ, in the order of their pointers. Lists of one length are
/// compared item by item, others whole.
#[must_use]
pub fn changes(before: &Value, after: &Value) -> Vec<MemberChange> {
    let mut found = Vec::new();
    compare(String::new(), Some(before), Some(after), &mut found);
    found
}

fn compare(at: String, before: Option<&Value>, after: Option<&Value>, found: &mut Vec<MemberChange>) {
    match (before, after) {
        (before, after) if before == after => {}
        (Some(Value::Object(before)), Some(Value::Object(after))) => compare_members(&at, before, after, found),
        (Some(Value::Array(before)), Some(Value::Array(after))) if before.len() == after.len() => {
            for (place, (before, after)) in before.iter().zip(after).enumerate() {
                compare(format!("{at}/{place}"), Some(before), Some(after), found);
            }
        }
        _ => found.push(MemberChange { at, before: before.cloned(), after: after.cloned() }),
    }
}

fn compare_members(at: &str, before: &Map<String, Value>, after: &Map<String, Value>, found: &mut Vec<MemberChange>) {
    let only_after = after.keys().filter(|name| !before.contains_key(*name));
    for name in before.keys().chain(only_after) {
        let step = name.replace('~', "~0").replace('/', "~1");
        compare(format!("{at}/{step}"), before.get(name), after.get(name), found);
    }
}

fn as_json(value: &impl Serialize) -> Value {
    serde_json::to_value(value).unwrap_or_default()
}

impl View<'_> {
    /// What is so of a thing, as JSON; null if nothing that stands says how it came.
    #[must_use]
    pub fn item_json(&self, id: &Subject) -> Value {
        match id.noun() {
            "egg" => as_json(&self.egg(id)),
            "animal" => as_json(&self.animal(id)),
            "tank" => as_json(&self.tank(id)),
            "system" => as_json(&self.system(id)),
            "species" => as_json(&self.species(id)),
            "key" => as_json(&self.key(id)),
            _ => Value::Null,
        }
    }
}

impl Nursery {
    /// What changed about a subject between two sizes, at V.
    #[must_use]
    pub fn compare(&self, subject: &Subject, as_of: Instant, (from, to): (u64, u64)) -> Comparison {
        let (older, newer) = (self.at(as_of, from), self.at(as_of, to));
        let mut before: BTreeMap<u64, HistoryNote> = older.history(subject).into_iter().map(|note| (note.seq, note)).collect();
        let (mut new, mut changed) = (Vec::new(), Vec::new());
        for after in newer.history(subject) {
            match before.remove(&after.seq) {
                None => new.push(after),
                Some(before) if before == after => {}
                Some(before) => {
                    let members = changes(&as_json(&before), &as_json(&after));
                    changed.push(NoteChange { before, after, members });
                }
            }
        }
        let item = changes(&older.item_json(subject), &newer.item_json(subject));
        Comparison { new, changed, gone: before.into_values().collect(), item }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn members_are_compared_one_by_one() {
        let told = |before: Value, after: Value| -> Vec<String> {
            changes(&before, &after).into_iter().map(|change| format!("{} {:?} {:?}", change.at, change.before, change.after)).collect()
        };
        assert!(told(json!({"a": [1, {"b": 2}]}), json!({"a": [1, {"b": 2}]})).is_empty());
        let found = told(json!({"a": [1, {"b": 2}], "gone": 1, "x/y": 1}), json!({"a": [1, {"b": 3}], "new": null, "x/y": 2}));
        assert_eq!(found.len(), 4);
        assert!(found[0].starts_with("/a/1/b Some(Number(2)) Some(Number(3))"), "{found:?}");
        assert!(found[1].starts_with("/gone Some(Number(1)) None"), "{found:?}");
        assert!(found[2].starts_with("/x~1y "), "{found:?}");
        assert!(found[3].starts_with("/new None Some(Null)"), "{found:?}");
        assert_eq!(told(json!([1, 2]), json!([1])).len(), 1, "lists of two lengths are two lists");
    }
}
