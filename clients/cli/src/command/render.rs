//! Answers as text: tables, and items as indented lines. Everything here is for eyes; programs
//! read `--json`.

use crate::when::local_text;
use chrono_tz::Tz;
use selachron_schemas::time::Instant;
use serde_json::Value;
use std::collections::BTreeMap;

/// A column of a table: its head, and pointers (RFC 6901) of which the first that is there fills
/// the cell.
pub type Column = (&'static str, &'static [&'static str]);

/// Items as a table. Times are shown in the collection's zone.
#[must_use]
pub fn table(columns: &[Column], items: &[Value], zone: Tz) -> String {
    let cell = |item: &Value, pointers: &[&str]| pointers.iter().find_map(|at| item.pointer(at)).map_or(String::new(), |v| words(v, zone));
    let mut rows: Vec<Vec<String>> = vec![columns.iter().map(|(head, _)| (*head).to_owned()).collect()];
    rows.extend(items.iter().map(|item| columns.iter().map(|(_, pointers)| cell(item, pointers)).collect()));
    // A column that says nothing about any item is left out.
    let told = |at: &usize| rows.iter().skip(1).any(|row| !row[*at].is_empty());
    let kept: Vec<usize> = (0..columns.len()).filter(|at| items.is_empty() || told(at)).collect();
    let width = |at: usize| rows.iter().map(|row| row[at].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = kept.iter().map(|at| width(*at)).collect();
    let line = |row: &Vec<String>| {
        let cells = kept.iter().zip(&widths).map(|(at, width)| format!("{:<width$}", row[*at]));
        cells.collect::<Vec<_>>().join("  ").trim_end().to_owned()
    };
    rows.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// A value in few words: a time in the collection's zone, a list with commas, a group with its
/// names.
#[must_use]
pub fn words(value: &Value, zone: Tz) -> String {
    told(value, &|text| Instant::parse_recorded(text).map_or_else(|| text.to_owned(), |instant| local_text(instant, zone)))
}

/// A value in few words, every text as it is written: for what is about to be signed.
#[must_use]
pub fn exact_words(value: &Value) -> String {
    told(value, &str::to_owned)
}

fn told(value: &Value, text: &dyn Fn(&str) -> String) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(string) => text(string),
        Value::Array(items) => items.iter().map(|item| told(item, text)).collect::<Vec<_>>().join(", "),
        Value::Object(members) => {
            let members = members.iter().filter(|(_, value)| !says_nothing(value));
            members.map(|(name, value)| format!("{} {}", plain(name), told(value, text))).collect::<Vec<_>>().join(" · ")
        }
        other => other.to_string(),
    }
}

fn says_nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.is_empty(),
        Value::Object(members) => members.values().all(says_nothing),
        _ => false,
    }
}

/// The same with names in the place of ids, but for an item's own `id`.
#[must_use]
pub fn with_names(value: &Value, names: &BTreeMap<String, String>) -> Value {
    match value {
        Value::String(text) => Value::String(names.get(text).unwrap_or(text).clone()),
        Value::Array(items) => items.iter().map(|item| with_names(item, names)).collect(),
        Value::Object(members) => {
            let named =
                |(name, value): (&String, &Value)| (name.clone(), if name == "id" { value.clone() } else { with_names(value, names) });
            Value::Object(members.iter().map(named).collect())
        }
        other => other.clone(),
    }
}

/// A member's name as a person reads it: units stay, underscores go.
#[must_use]
pub fn plain(name: &str) -> String {
    name.replace('_', " ")
}

/// An item as indented lines, one a member; lists of groups one an entry.
#[must_use]
pub fn item(value: &Value, zone: Tz) -> String {
    let mut lines = Vec::new();
    put(&mut lines, value, zone, 0);
    lines.join("\n")
}

fn put(lines: &mut Vec<String>, value: &Value, zone: Tz, depth: usize) {
    let Value::Object(members) = value else {
        lines.push(format!("{}{}", indent(depth), words(value, zone)));
        return;
    };
    for (name, value) in members {
        match value {
            value if says_nothing(value) => {}
            Value::Array(items) if items.iter().any(Value::is_object) => {
                lines.push(format!("{}{}:", indent(depth), plain(name)));
                lines.extend(items.iter().map(|item| format!("{}- {}", indent(depth + 1), words(item, zone))));
            }
            Value::Object(inner) if inner.values().any(|value| value.is_object() || value.is_array()) => {
                lines.push(format!("{}{}:", indent(depth), plain(name)));
                put(lines, value, zone, depth + 1);
            }
            value => lines.push(format!("{}{}: {}", indent(depth), plain(name), words(value, zone))),
        }
    }
}

fn indent(depth: usize) -> String {
    "  ".repeat(depth)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_table_is_aligned_and_leaves_empty_columns_out() {
        let items = [json!({"label": "A-1", "fate": {"state": "open"}}), json!({"label": "A-014", "fate": {"state": "hatched"}})];
        let columns: [Column; 3] = [("label", &["/label"]), ("band", &["/band"]), ("fate", &["/fate/state"])];
        assert_eq!(table(&columns, &items, Tz::UTC), "label  fate\nA-1    open\nA-014  hatched");
    }

    #[test]
    fn times_are_shown_in_the_collections_zone() {
        let value = json!({"time": "2026-07-10T08:30:00.000Z", "findings": ["cloudy", "smell"], "none": null});
        assert_eq!(item(&value, Tz::Europe__Lisbon), "time: 2026-07-10 09:30\nfindings: cloudy, smell");
        assert_eq!(exact_words(&value), "time 2026-07-10T08:30:00.000Z · findings cloudy, smell", "what is signed is shown as it is");
    }

    #[test]
    fn a_group_without_anything_to_say_has_no_line() {
        let value = json!({"cohort": {}, "behind": {"eggs": null, "of": []}, "n": 0});
        assert_eq!(item(&value, Tz::UTC), "n: 0");
        assert_eq!(exact_words(&value), "n 0");
    }

    #[test]
    fn names_stand_for_ids_but_not_for_the_items_own() {
        let names = BTreeMap::from([("tank/1".to_owned(), "Tray 1".to_owned())]);
        let value = json!({"id": "tank/1", "place": {"tank": "tank/1"}, "animals": ["tank/1", 3]});
        assert_eq!(with_names(&value, &names), json!({"id": "tank/1", "place": {"tank": "Tray 1"}, "animals": ["Tray 1", 3]}));
    }
}
