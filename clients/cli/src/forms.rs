//! The members of each kind as a person fills them in, read from the schemas that are compiled
//! in: a kind that is added there has its flags here without a line of code.

use selachron_schemas::catalogue::{catalogue, files};
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// What may stand in a member.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Shape {
    /// Any text.
    Text,
    /// A time (F2).
    Instant,
    /// One of these words.
    Choice(Vec<String>),
    /// A number.
    Number,
    /// A whole number.
    Whole,
    /// True or false.
    Truth,
    /// A subject with this noun.
    Reference(String),
    /// A subject with one of these nouns.
    AnyOf(&'static [&'static str]),
    /// The SHA-256 of a file.
    FileHash,
    /// A parent of an embryo.
    Parentage,
    /// Any number of these.
    List(Box<Self>),
    /// Named members.
    Group(Vec<Member>),
    /// Whatever JSON the schema allows.
    Json,
}

/// One member of a kind's `data`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Its name in the note, `temperature_c`.
    pub name: String,
    /// Its flag on the command line, without dashes, `temperature-c`.
    pub flag: String,
    /// What it means, from the schema.
    pub about: String,
    /// What it means and what may be given, for the command line.
    pub help: String,
    /// Whether every note of the kind has it.
    pub required: bool,
    /// What may stand in it.
    pub shape: Shape,
}

/// What lives and can be sent, lent or kept apart.
const CREATURES: &[&str] = &["egg", "animal", "group"];

/// What a note may be about in general.
const LABELLED: &[&str] = &[
    "egg",
    "animal",
    "group",
    "tank",
    "system",
    "place",
    "instrument",
    "round",
    "incident",
    "consignment",
    "loan",
    "sample",
    "document",
    "food",
    "species",
];

/// A kind as a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Form {
    /// `egg.candled.v1`.
    pub kind: String,
    /// One plain sentence.
    pub title: String,
    /// What the kind is for, with the trade's usual cautions.
    pub about: String,
    /// Its members in the schema's order.
    pub members: Vec<Member>,
}

impl Form {
    /// The member of that name.
    #[must_use]
    pub fn member(&self, name: &str) -> Option<&Member> {
        self.members.iter().find(|member| member.name == name)
    }
}

/// The form of a kind.
#[must_use]
pub fn form(kind: &str) -> Option<&'static Form> {
    FORMS.get(kind)
}

/// The kind that a person names, with or without its version: `egg.candled` is `egg.candled.v1`.
#[must_use]
pub fn kind_named(text: &str) -> Option<&'static Form> {
    let newest = || FORMS.iter().rev().find(|(kind, _)| kind.rsplit_once(".v").is_some_and(|(stem, _)| stem == text));
    FORMS.get(text).or_else(|| newest().map(|(_, form)| form))
}

/// All kinds by name.
#[must_use]
pub fn kind_names() -> Vec<&'static str> {
    FORMS.keys().map(String::as_str).collect()
}

static FORMS: LazyLock<BTreeMap<String, Form>> = LazyLock::new(|| {
    let common = schema("common.schema.json");
    let read = |kind: &str| {
        let schema = schema(&format!("{kind}.schema.json"));
        Form {
            kind: kind.to_owned(),
            title: text(&schema, "title"),
            about: text(&schema, "description"),
            members: members(&schema, &common),
        }
    };
    catalogue().kinds().map(|kind| (kind.name.clone(), read(&kind.name))).collect()
});

/// A schema file; the catalogue has read all of them already.
fn schema(name: &str) -> Value {
    files().get(name).and_then(|bytes| serde_json::from_slice(bytes).ok()).unwrap_or_default()
}

fn text(schema: &Value, name: &str) -> String {
    schema.get(name).and_then(Value::as_str).unwrap_or_default().to_owned()
}

fn members(schema: &Value, common: &Value) -> Vec<Member> {
    let required: Vec<&str> = schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let properties = schema["properties"].as_object().into_iter().flatten();
    properties
        .map(|(name, property)| {
            let (about, shape) = (about(property, common), shape(property, common));
            Member {
                name: name.clone(),
                flag: name.replace('_', "-"),
                help: format!("{about}{}", wanted(&shape)),
                about,
                required: required.contains(&name.as_str()),
                shape,
            }
        })
        .collect()
}

/// How a value of a shape is typed.
fn wanted(shape: &Shape) -> String {
    match shape {
        Shape::Choice(words) => format!(" [{}]", words.join(" | ")),
        Shape::AnyOf(nouns) => format!(" [label or id; {}/LABEL where two bear one]", nouns.first().unwrap_or(&"noun")),
        Shape::FileHash => " [64 hexadecimal digits, or @FILE]".to_owned(),
        Shape::Parentage => " [STATUS or STATUS:ANIMAL*WEIGHT,... then ;basis=WORDS]".to_owned(),
        Shape::Group(members) => format!(" [{}]", members.iter().map(|m| format!("{}=", m.name)).collect::<Vec<_>>().join(",")),
        Shape::List(item) => match &**item {
            Shape::Group(_) => format!("{} [repeat; none for an empty list]", wanted(item)),
            item => format!("{} [repeat]", wanted(item)),
        },
        _ => String::new(),
    }
}

/// The definition that a property refers to, and its name.
fn referred<'a>(property: &'a Value, common: &'a Value) -> Option<(&'a str, &'a Value)> {
    let (_, name) = property.get("$ref")?.as_str()?.rsplit_once("#/$defs/")?;
    Some((name, common.get("$defs")?.get(name)?))
}

fn about(property: &Value, common: &Value) -> String {
    let own = text(property, "description");
    match referred(property, common) {
        Some((_, definition)) if own.is_empty() => text(definition, "description"),
        _ => own,
    }
}

fn shape(property: &Value, common: &Value) -> Shape {
    if let Some((name, definition)) = referred(property, common) {
        return match name {
            "parentage" => Shape::Parentage,
            "instant" => Shape::Instant,
            "subject" => Shape::AnyOf(LABELLED),
            "creatureRef" => Shape::AnyOf(CREATURES),
            "sha256_hex" => Shape::FileHash,
            name => match name.strip_suffix("Ref") {
                Some(noun) => Shape::Reference(noun.to_owned()),
                None => shape(definition, common),
            },
        };
    }
    if let Some(words) = property["enum"].as_array() {
        return Shape::Choice(words.iter().filter_map(Value::as_str).map(str::to_owned).collect());
    }
    match property["type"].as_str() {
        Some("string") => Shape::Text,
        Some("number") => Shape::Number,
        Some("integer") => Shape::Whole,
        Some("boolean") => Shape::Truth,
        Some("array") => Shape::List(Box::new(shape(&property["items"], common))),
        Some("object") if property["properties"].is_object() => Shape::Group(members(property, common)),
        _ => Shape::Json,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_is_a_form_with_all_its_members() {
        for kind in catalogue().kinds() {
            let form = form(&kind.name).expect("a form");
            assert!(!form.members.is_empty() && !form.title.is_empty(), "{}", kind.name);
            assert!(form.members.iter().all(|member| !member.about.is_empty()), "{}: a member says nothing", kind.name);
        }
    }

    #[test]
    fn shapes_follow_the_schema() {
        let candled = form("egg.candled.v1").expect("a form");
        assert_eq!(candled.member("band").map(|m| &m.shape), Some(&Shape::Whole));
        assert_eq!(candled.member("seen_into").map(|m| (m.required, &m.shape)), Some((true, &Shape::Truth)));
        let collected = form("egg.collected.v1").expect("a form");
        assert_eq!(collected.member("from_tank").map(|m| &m.shape), Some(&Shape::Reference("tank".to_owned())));
        assert_eq!(collected.member("dam").map(|m| &m.shape), Some(&Shape::Parentage));
        let hatched = form("egg.hatched.v1").expect("a form");
        let Some(Shape::List(young)) = hatched.member("young").map(|m| &m.shape) else { panic!("young is a list") };
        let Shape::Group(members) = &**young else { panic!("young have members") };
        assert!(members.iter().any(|m| m.name == "animal" && m.shape == Shape::Reference("animal".to_owned())));
    }

    #[test]
    fn a_kind_is_named_with_or_without_its_version() {
        assert_eq!(kind_named("egg.candled").map(|form| form.kind.as_str()), Some("egg.candled.v1"));
        assert_eq!(kind_named("egg.candled.v1").map(|form| form.kind.as_str()), Some("egg.candled.v1"));
        assert!(kind_named("egg.boiled").is_none() && kind_named("egg").is_none());
    }
}
