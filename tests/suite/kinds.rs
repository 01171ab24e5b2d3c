//! The kinds of note: each has examples that its schema accepts and refuses, the schema of the
//! event agrees with the code that reads one, and names of numbers say what they count.

use crate::agreement::vectors::reference;
use jsonschema::{Registry, Validator};
use selachron_schemas::catalogue::{catalogue, files};
use selachron_schemas::encoding::from_base64;
use selachron_schemas::event::Event;
use selachron_schemas::ijson;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

fn schema(name: &str) -> Value {
    let files = files();
    let bytes = files.get(name).unwrap_or_else(|| panic!("schemas/v1 has no {name}"));
    serde_json::from_slice(bytes).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// `examples.json`: good and bad data of each kind.
pub fn examples() -> BTreeMap<String, Examples> {
    serde_json::from_value(schema("examples.json")).expect("examples.json: a kind has good and bad examples, each bad one says why")
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Examples {
    pub good: Vec<Map<String, Value>>,
    pub bad: Vec<Bad>,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bad {
    pub why: String,
    pub data: Map<String, Value>,
}

#[test]
fn every_kind_has_examples_and_every_example_a_kind() {
    let examples = examples();
    let known: BTreeSet<&str> = catalogue().kinds().map(|kind| kind.name.as_str()).collect();
    let shown: BTreeSet<&str> = examples.keys().map(String::as_str).collect();
    assert_eq!(known, shown);
    for (kind, examples) in &examples {
        assert!(!examples.good.is_empty() && !examples.bad.is_empty(), "{kind} wants a good and a bad example");
    }
}

#[test]
fn good_examples_are_accepted_and_bad_ones_refused() {
    let mut wrong = Vec::new();
    for (name, examples) in examples() {
        let kind = catalogue().kind(&name).unwrap_or_else(|| panic!("no kind {name}"));
        for (at, data) in examples.good.iter().enumerate() {
            if let Err(refusal) = kind.check_data(data, "/data") {
                wrong.push(format!("{name}: good example {at} is refused: {refusal}"));
            }
        }
        let accepted = examples.bad.iter().filter(|bad| kind.check_data(&bad.data, "/data").is_ok());
        wrong.extend(accepted.map(|bad| format!("{name}: accepted although: {}", bad.why)));
    }
    assert!(wrong.is_empty(), "mend the schema or the example:\n{}", wrong.join("\n"));
}

/// A kind's pointers must be those at which its schema has a reference to a subject: a pointer
/// that is misspelt or forgotten would let a note name what the record does not know.
#[test]
fn each_kind_names_the_subjects_that_its_schema_refers_to() {
    let common = schema("common.schema.json");
    let mut wrong = Vec::new();
    for kind in catalogue().kinds() {
        let marked: BTreeSet<String> = kind.names.iter().chain(&kind.creates).cloned().collect();
        let mut referred = BTreeSet::new();
        references(&schema(&format!("{}.schema.json", kind.name)), &common, "", &mut referred);
        if marked != referred {
            wrong.push(format!("{}: x-selachron marks {marked:?}, the schema refers at {referred:?}", kind.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Pointers of all members that are references to subjects, `*` for every item of a list.
fn references(schema: &Value, common: &Value, pointer: &str, found: &mut BTreeSet<String>) {
    if let Some(name) = schema["$ref"].as_str().and_then(|reference| reference.split_once("#/$defs/")).map(|(_, name)| name) {
        // A clutch is plain data that no event brings into being.
        if name == "subject" || (name.ends_with("Ref") && name != "clutchRef") {
            found.insert(pointer.to_owned());
        }
        references(&common["$defs"][name], common, pointer, found);
    }
    for (name, member) in schema["properties"].as_object().into_iter().flatten() {
        references(member, common, &format!("{pointer}/{name}"), found);
    }
    if schema["items"].is_object() {
        references(&schema["items"], common, &format!("{pointer}/*"), found);
    }
}

/// The schema of the event, with formats checked as SPEC.md wants.
fn event_schema() -> Validator {
    let common = schema("common.schema.json");
    let id = common["$id"].as_str().expect("it has an $id").to_owned();
    let registry = Registry::new().add(id, common).and_then(jsonschema::RegistryBuilder::prepare).expect("a registry");
    jsonschema::options()
        .should_validate_formats(true)
        .with_registry(&registry)
        .build(&schema("event.schema.json"))
        .expect("a schema that compiles")
}

/// Bodies of the vectors: those recorded, and those of envelopes to refuse or accept.
fn bodies() -> Vec<(String, Vec<u8>)> {
    let mut bodies = Vec::new();
    for event in reference("log_vectors.json")["events"].as_array().unwrap() {
        bodies.push((format!("seq {}", event["seq"]), from_base64(event["body_base64"].as_str().unwrap()).unwrap()));
    }
    for file in ["bad_envelopes.json", "envelopes_more.json"] {
        for case in reference(file)["cases"].as_array().unwrap() {
            // What cannot be decoded never becomes a body.
            let envelope: Option<Value> = serde_json::from_str(case["envelope"].as_str().unwrap()).ok();
            let payload = envelope.and_then(|e| Some(e["payload"].as_str()?.replace('-', "+").replace('_', "/")));
            if let Some(body) = payload.and_then(|text| from_base64(&text)) {
                bodies.push((case["name"].as_str().unwrap().to_owned(), body));
            }
        }
    }
    bodies
}

/// Bodies on which schema and reader differ, and why they should. Whole numbers of JSON Schema
/// may be written `1.0`; a schema cannot compare two times; faults of `late` alone are judged
/// after the signatures, as late-without-reason (F7).
const DIFFER: &[(&str, &str)] = &[
    ("keycount written with a decimal point", "the reader wants plain digits"),
    ("keycount 1e2", "the reader wants plain digits"),
    ("expect -0", "the reader wants plain digits"),
    ("expect 0e0", "the reader wants plain digits"),
    ("timeafter equal to time", "the reader compares two times"),
    ("timeafter after time (text order hides it)", "the reader compares two times"),
    ("late without latereason", "the reader leaves late to the judge"),
    ("late false with a reason", "the reader leaves late to the judge"),
    ("late with an empty reason", "the reader leaves late to the judge"),
];

#[test]
fn the_schema_of_the_event_agrees_with_its_reader() {
    let schema = event_schema();
    let (mut differ, mut accepted, mut refused) = (BTreeSet::new(), 0, 0);
    for (name, body) in bodies() {
        // What is not strict JSON has no one value that a schema could be asked about.
        let Ok(value) = ijson::parse(&body) else { continue };
        match (schema.is_valid(&value), Event::parse(&body).is_ok()) {
            (true, true) => accepted += 1,
            (false, false) => refused += 1,
            _ => {
                differ.insert(name);
            }
        }
    }
    let listed: BTreeSet<String> = DIFFER.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(differ, listed, "mend event.schema.json or the reader, or say in DIFFER why they differ");
    assert!(accepted > 50 && refused > 40, "{accepted} bodies accepted and {refused} refused by both: the vectors are read");
}

/// Words at the end of a name that say what its number counts or is measured in.
const UNITS: &[&str] =
    &["c", "psu", "ph", "n", "l", "percent", "hpa", "g", "cm", "day", "days", "hours", "fraction", "minutes", "week", "lux", "kg", "bytes"];
const COUNTING: &[&str] = &[
    "band",
    "weight",
    "found",
    "pieces",
    "specimens",
    "seq",
    "size",
    "threshold",
    "looks",
    "persons",
    "seen",
    "order",
    "cases",
    "males",
    "females",
    "unknown",
    "lines",
];

/// What may follow the unit.
const QUALIFIERS: &[&str] = &["_max", "_min", "_low", "_high", "_by_band", "_last_seen", "_before_loss", "_per_case"];

/// Names that the format fixes, and what they count.
const FIXED: &[(&str, &str)] = &[
    ("expect", "a subject's version (F5)"),
    ("known_at", "a tree size (F20)"),
    ("keycount", "notes of a key (F12)"),
    ("seensize", "a tree size (F5)"),
    ("embryos_per_case_max", "embryos"),
    ("low", "in the unit that the quantity beside it names"),
    ("high", "in the unit that the quantity beside it names"),
];

fn says_what_it_counts(name: &str) -> bool {
    let mut stem = name;
    while let Some(shorter) = QUALIFIERS.iter().find_map(|qualifier| stem.strip_suffix(qualifier)) {
        stem = shorter;
    }
    let last = stem.rsplit('_').next().unwrap_or(stem);
    FIXED.iter().any(|(fixed, _)| *fixed == name) || UNITS.contains(&last) || COUNTING.contains(&last)
}

/// Names of members that hold numbers, or lists or tables of numbers, anywhere in a schema.
fn numbers(schema: &Value, common: &Value, found: &mut BTreeSet<String>) {
    match schema {
        Value::Object(members) => {
            for (name, member) in schema["properties"].as_object().into_iter().flatten() {
                if is_number(member, common) {
                    found.insert(name.clone());
                }
            }
            members.values().for_each(|inner| numbers(inner, common, found));
        }
        Value::Array(items) => items.iter().for_each(|inner| numbers(inner, common, found)),
        _ => {}
    }
}

fn is_number(schema: &Value, common: &Value) -> bool {
    let referred = schema["$ref"].as_str().and_then(|reference| reference.split_once("#/$defs/")).map(|(_, name)| &common["$defs"][name]);
    let tables = schema["patternProperties"].as_object().into_iter().flat_map(|table| table.values());
    matches!(schema["type"].as_str(), Some("number" | "integer"))
        || referred.into_iter().chain(schema.get("items")).chain(tables).any(|inner| is_number(inner, common))
}

#[test]
fn names_of_numbers_end_in_what_they_count() {
    let common = schema("common.schema.json");
    let mut wrong = Vec::new();
    let mut all = BTreeSet::new();
    for name in files().keys().filter(|name| name.ends_with(".schema.json")) {
        let mut found = BTreeSet::new();
        numbers(&schema(name), &common, &mut found);
        wrong.extend(found.iter().filter(|member| !says_what_it_counts(member)).map(|member| format!("{name}: {member}")));
        all.extend(found);
    }
    assert!(wrong.is_empty(), "end the name in a unit or a counting word (UNITS, COUNTING in tests/suite/kinds.rs):\n{}", wrong.join("\n"));
    for known in ["temperature_c", "candling_interval_days_by_band", "keycount", "weight"] {
        assert!(all.contains(known), "{known} is not among the numbers found: {all:?}");
    }
    let unused = FIXED.iter().map(|(name, _)| *name).filter(|name| !all.contains(*name));
    assert_eq!(unused.collect::<Vec<_>>(), Vec::<&str>::new(), "take what is gone out of FIXED");
    assert!(["temperature", "interval", "days_of"].iter().all(|name| !says_what_it_counts(name)), "a name without a unit is noticed");
}
