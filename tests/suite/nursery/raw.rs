//! Data of a story's note written out as JSON, for kinds that have no words of their own:
//!
//! ```text
//! day 20 egg A1 tended {"done": ["wiped"]} -> recorded
//! day 20 by curator with vet about collection opening.authorised {"persons": ["@person keeper"], …} -> recorded
//! ```
//!
//! A string `@noun name` stands for the subject of that name, `@person who` for a pseudonym,
//! `@day 20` for a time, `@note tag` for the id of a tagged line.

use super::book::{Who, day, subject};
use serde_json::Value;

/// The data, with names in place of what stands for them.
pub fn data(text: &str, id: &impl Fn(&str) -> String) -> Value {
    let mut data: Value = serde_json::from_str(text).unwrap_or_else(|error| panic!("{error}: {text}"));
    resolve(&mut data, id);
    data
}

fn resolve(value: &mut Value, id: &impl Fn(&str) -> String) {
    match value {
        Value::String(text) => {
            if let Some((what, name)) = text.strip_prefix('@').and_then(|rest| rest.split_once(' ')) {
                *text = named(what, name, id);
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| resolve(item, id)),
        Value::Object(members) => members.values_mut().for_each(|member| resolve(member, id)),
        _ => {}
    }
}

fn named(what: &str, name: &str, id: &impl Fn(&str) -> String) -> String {
    match what {
        "person" => Who::named(name).person(),
        "day" => day(name.parse().expect("a number of days")).utc_text(),
        "note" => id(name),
        noun => subject(noun, name),
    }
}
