//! Every verb of the command line, tried against the real service with the examples of its kind: what
//! a person types is what the note holds. A kind without a verb of its own is named, with the command
//! that writes it and where that is tried.

use crate::keyboard::Desk;
use crate::kinds::examples;
use selachron_cli::command::verbs::listed;
use selachron_cli::forms::form;
use selachron_schemas::catalogue::{Kind, catalogue};
use selachron_schemas::time::Instant;
use selachron_tests::root;
use selachron_tests::world::Who;
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Kinds that are written by other commands, each with words of the command that a test must hold.
const BY_OTHER_COMMANDS: &[(&str, &[&str])] = &[
    ("body.withheld.v1", &["note", "body.withheld"]),
    ("collection.founded.v1", &["found"]),
    ("discrepancy.explained.v1", &["settle"]),
    ("key.enrolled.v1", &["key", "enrol"]),
    ("key.revoked.v1", &["key", "revoke"]),
    ("log.rekeyed.v1", &["note", "log.rekeyed"]),
    ("note.abandoned.v1", &["abandon"]),
    ("record.corrected.v1", &["correct"]),
    ("record.endorsed.v1", &["endorse"]),
    ("record.retracted.v1", &["retract"]),
    ("report.issued.v1", &["report", "issue"]),
    ("root.replaced.v1", &["note", "root.replaced"]),
];

/// Subjects of each noun that are there for the examples to name.
struct There {
    desk: Desk,
    of: BTreeMap<&'static str, Vec<String>>,
}

/// Verbs about a consignment that is known already, of kinds that can bring one in.
const OF_WHAT_IS_THERE: [&str; 2] = ["arrived", "left"];

const ROLES: [&str; 4] = ["keeper", "curator", "veterinarian", "registrar"];

impl There {
    fn set_up() -> Self {
        let mut there = Self { desk: Desk::with(&ROLES), of: BTreeMap::new() };
        let world = &mut there.desk.world;
        let species = world.species("Inventus exemplaris", "invented shark");
        let tanks: Vec<String> =
            [("T1", "adults"), ("T2", "incubation"), ("T3", "nursery")].map(|(label, purpose)| world.tank(label, purpose)).to_vec();
        let eggs: Vec<String> = ["E1", "E2", "E3"].map(|label| world.egg(label, &species, &tanks[0], Some(&tanks[1]))).to_vec();
        there.of.extend([("species", vec![species]), ("tank", tanks), ("egg", eggs)]);
        for noun in
            ["system", "animal", "group", "place", "food", "instrument", "round", "incident", "loan", "sample", "document", "consignment"]
        {
            for number in 0..3 {
                there.make(noun, number);
            }
        }
        there
    }

    /// Brings one of that noun into the record, with the first good example of the kind that does so.
    fn make(&mut self, noun: &'static str, number: usize) {
        let kind = match noun {
            "system" => "system.set_up.v1",
            "animal" => "animal.received.v1",
            "group" => "group.formed.v1",
            "place" => "place.set_up.v1",
            "food" => "food.received.v1",
            "instrument" => "instrument.installed.v1",
            "round" => "round.opened.v1",
            "incident" => "incident.opened.v1",
            "loan" => "loan.agreed.v1",
            "sample" => "sample.taken.v1",
            "document" => "document.attached.v1",
            _ => "consignment.sent.v1",
        };
        let subject = self.desk.world.subject(noun);
        let mut data = self.fitted(catalogue().kind(kind).expect("a kind"), &examples()[kind].good[0]);
        data.insert("label".to_owned(), json!(format!("{noun} {number}")));
        self.desk.world.record(Who::Curator, kind, &subject, &Value::Object(data));
        self.of.entry(noun).or_default().push(subject);
    }

    /// The example with subjects that are there in place of those it names, and fresh ones where the
    /// note brings them into the record.
    fn fitted(&mut self, kind: &Kind, example: &Map<String, Value>) -> Map<String, Value> {
        let mut data = Value::Object(example.clone());
        let mut met: BTreeMap<String, String> = BTreeMap::new();
        for pointer in &kind.creates {
            visit(&mut data, pointer, &mut |subject| {
                let noun = subject.split('/').next().unwrap_or_default();
                met.insert(subject.to_owned(), self.desk.world.subject(noun));
            });
        }
        for pointer in &kind.names {
            visit(&mut data, pointer, &mut |subject| {
                let noun = subject.split('/').next().unwrap_or_default();
                let taken = met.keys().filter(|known| known.split('/').next() == Some(noun)).count();
                let there = self.of.get(noun).and_then(|there| there.get(taken % there.len().max(1))).cloned();
                met.entry(subject.to_owned()).or_insert_with(|| there.unwrap_or_else(|| subject.to_owned()));
            });
        }
        let text = met.into_iter().fold(data.to_string(), |text, (from, to)| text.replace(&from, &to));
        serde_json::from_str(&text).expect("still JSON")
    }

    /// Writes a good example with the verb; the exit code and the note.
    fn try_verb(&mut self, [noun, verb, kind_name]: [&str; 3], example: &Map<String, Value>) -> (u8, Value) {
        let kind = catalogue().kind(kind_name).expect("a kind");
        let data = self.fitted(kind, example);
        self.desk.world.pass_ms(1_000);
        let size = self.desk.world.read("/v1/collection", &[])["size"].as_u64().expect("a size");
        let mut arguments = vec![noun.to_owned(), verb.to_owned()];
        let new = kind.creates_subject && !OF_WHAT_IS_THERE.contains(&verb);
        let positional = match data.get("label") {
            Some(label) if new => label.as_str().map(str::to_owned),
            _ if new || kind.subjects.iter().any(|noun| noun == "collection") && !kind.subjects.iter().any(|noun| noun == "egg") => None,
            _ => kind.subjects.iter().find_map(|noun| self.of.get(noun.as_str()).map(|there| there[0].clone())),
        };
        arguments.extend(positional);
        let flags = data.iter().filter(|(name, _)| !(new && *name == "label"));
        arguments.extend(flags.map(|(name, value)| format!("--{}={}", name.replace('_', "-"), as_typed(value))));
        let author = ROLES.into_iter().find(|role| kind.roles.authors.iter().any(|author| author == role)).expect("somebody may");
        if kind.roles.approval.is_some() {
            for other in ROLES.into_iter().filter(|role| *role != author) {
                arguments.extend(["--with".to_owned(), self.desk.world.scratch().join(format!("{other}.pem")).display().to_string()]);
            }
        }
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let code = self.desk.run(author, &arguments);
        let after = (size - 1).to_string();
        let event = self.desk.world.read("/v1/events", &[("after", &after)])["items"][0]["event"].clone();
        if code == 0 {
            assert_eq!(event["type"], kind_name, "{arguments:?}");
            let differs = data.iter().find(|(name, value)| !same(value, &event["data"][name.as_str()]));
            assert!(differs.is_none(), "{differs:?} of {arguments:?} became {event}");
        }
        (code, event)
    }
}

/// Calls on every subject at a pointer, `*` for every item of a list.
fn visit(value: &mut Value, pointer: &str, see: &mut dyn FnMut(&str)) {
    let Some((first, rest)) = pointer.trim_start_matches('/').split_once('/').or(Some((pointer.trim_start_matches('/'), ""))) else {
        return;
    };
    match (first, value) {
        ("", Value::String(subject)) => see(subject),
        ("*", Value::Array(items)) => items.iter_mut().for_each(|item| visit(item, rest, see)),
        (name, Value::Object(members)) => members.get_mut(name).into_iter().for_each(|member| visit(member, rest, see)),
        _ => {}
    }
}

/// Whoever brings in something that can bear a label is asked for it; without one, `note` writes it.
fn has_its_label([_, verb, kind]: [&str; 3], example: &Map<String, Value>) -> bool {
    let brings = catalogue().kind(kind).is_some_and(|kind| kind.creates_subject) && !OF_WHAT_IS_THERE.contains(&verb);
    !brings || example.contains_key("label") || form(kind).is_none_or(|form| form.member("label").is_none())
}

/// How a person types a value: text as it is, whole numbers without a point.
fn as_typed(value: &Value) -> String {
    let whole = value.as_f64().filter(|number| number.fract() == 0.0 && value.is_f64());
    match (value.as_str(), whole) {
        (Some(text), _) => text.to_owned(),
        (None, Some(number)) => format!("{number:.0}"),
        (None, None) => value.to_string(),
    }
}

/// What was typed and what the note holds: times may be written with another offset.
fn same(typed: &Value, held: &Value) -> bool {
    let instant = |value: &Value| value.as_str().and_then(|text| Instant::parse(text).ok());
    typed == held
        || typed.is_number() && typed.as_f64() == held.as_f64()
        || instant(typed).is_some_and(|typed| instant(held) == Some(typed))
}

#[test]
fn every_verb_writes_what_is_typed() {
    let mut there = There::set_up();
    let mut wrong = Vec::new();
    for verb in listed() {
        // Whom a house makes wait for others is tried in `together`.
        let examples = examples();
        let typed = |example: &&Map<String, Value>| !example.contains_key("approvals") && has_its_label(verb, example);
        for example in examples[verb[2]].good.iter().filter(typed) {
            let (code, _) = there.try_verb(verb, example);
            if code != 0 {
                wrong.push(format!("selachron {} {}: exit {code} for {}", verb[0], verb[1], Value::Object(example.clone())));
            }
        }
    }
    assert!(wrong.is_empty(), "a good example cannot be typed:\n{}", wrong.join("\n"));
}

#[test]
fn a_kind_whose_verb_is_tried_nowhere_is_noticed() {
    let by_verb: BTreeSet<&str> = listed().map(|[_, _, kind]| kind).collect();
    let by_command: BTreeSet<&str> = BY_OTHER_COMMANDS.iter().map(|(kind, _)| *kind).collect();
    let all: BTreeSet<&str> = catalogue().kinds().map(|kind| kind.name.as_str()).collect();
    let both: Vec<&&str> = by_verb.intersection(&by_command).collect();
    assert!(both.is_empty(), "{both:?} have verbs of their own now: take them out of BY_OTHER_COMMANDS");
    let untried: Vec<&&str> = all.iter().filter(|kind| !by_verb.contains(**kind) && !by_command.contains(**kind)).collect();
    assert!(untried.is_empty(), "no command writes {untried:?}: add a verb, or say which command does");
    let mut tests = String::new();
    // Where commands are run.
    for file in ["tests/suite/keyboard.rs", "tests/suite/rare.rs", "clients/cli/tests/suite/command.rs", "clients/cli/tests/suite/keys.rs"]
    {
        tests.push_str(&std::fs::read_to_string(root().join(file)).expect("a file of tests"));
    }
    for (kind, words) in BY_OTHER_COMMANDS {
        let typed = words.iter().map(|word| format!("{word:?}")).collect::<Vec<_>>().join(", ");
        assert!(tests.contains(&typed), "{kind}: no test types {typed}");
    }
}
