//! A verb for each kind that people write every day: `egg candle`, `animal feed`, `water
//! measure`. Flags, help and cautions are the schema's own.

use super::args::{RoundCommand, SendArgs, WaterCommand, WhenArgs};
use super::assess;
use super::session::Session;
use super::write::{apply_when, name_flags, write_note};
use crate::draft::Draft;
use crate::fault::Fault;
use crate::forms::{Form, Member, Shape, form};
use crate::values::{Helper as _, read_values};
use clap::{Arg, ArgAction, ArgMatches, Args as _, Command, FromArgMatches as _, Subcommand as _};
use selachron_schemas::catalogue::catalogue;
use selachron_schemas::names::Subject;
use selachron_schemas::published::{self, incubation_points};
use serde_json::{Map, Value, json};

/// What a verb's note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum About {
    /// Something that the note brings into the record.
    New,
    /// Something that is there, by label or id, with one of these nouns.
    Known(&'static [&'static str]),
    /// The collection.
    Collection,
}

struct Verb {
    noun: &'static str,
    verb: &'static str,
    kind: &'static str,
    about: About,
}

const EGG: About = About::Known(&["egg"]);
const ANIMAL: About = About::Known(&["animal"]);
const GROUP: About = About::Known(&["group"]);
const TANK: About = About::Known(&["tank"]);
const HOUSING: About = About::Known(&["system", "tank"]);
const QUARANTINED: About = About::Known(&["egg", "animal", "group", "tank", "system"]);
const BODY: About = About::Known(&["animal", "egg"]);
const EGG_OR_ALL: About = About::Known(&["egg", "collection"]);

const VERBS: &[Verb] = &[
    verb("egg", "collect", "egg.collected.v1", About::New),
    verb("egg", "receive", "egg.received.v1", About::New),
    verb("egg", "candle", "egg.candled.v1", EGG),
    verb("egg", "move", "egg.moved.v1", EGG),
    verb("egg", "hold-apart", "egg.held_apart.v1", EGG),
    verb("egg", "lost", "egg.lost.v1", EGG),
    verb("egg", "remove", "egg.removed.v1", EGG),
    verb("egg", "open", "egg.opened.v1", EGG),
    verb("egg", "hatch", "egg.hatched.v1", EGG),
    verb("animal", "receive", "animal.received.v1", About::New),
    verb("animal", "feed", "animal.fed.v1", ANIMAL),
    verb("animal", "measure", "animal.measured.v1", ANIMAL),
    verb("animal", "move", "animal.moved.v1", ANIMAL),
    verb("animal", "died", "animal.died.v1", ANIMAL),
    verb("animal", "depart", "animal.departed.v1", ANIMAL),
    verb("egg", "tend", "egg.tended.v1", EGG),
    verb("egg", "examine", "egg.examined.v1", EGG),
    verb("egg", "missing", "egg.missing.v1", EGG),
    verb("egg", "found", "egg.found.v1", EGG),
    verb("egg", "write-off", "egg.written_off.v1", EGG),
    verb("egg", "put-down", "egg.put_down.v1", EGG),
    verb("clutch", "form", "clutch.formed.v1", About::New),
    verb("opening", "authorise", "opening.authorised.v1", EGG_OR_ALL),
    verb("opening", "withdraw", "opening.withdrawn.v1", EGG_OR_ALL),
    verb("opening", "leave", "opening.left.v1", EGG),
    verb("animal", "observe", "animal.observed.v1", ANIMAL),
    verb("animal", "examine", "animal.examined.v1", ANIMAL),
    verb("animal", "treat", "animal.treated.v1", ANIMAL),
    verb("animal", "sex", "animal.sexed.v1", ANIMAL),
    verb("animal", "identify", "animal.identified.v1", ANIMAL),
    verb("animal", "introduce", "animal.introduced.v1", ANIMAL),
    verb("animal", "claim-parents", "animal.parentage_claimed.v1", ANIMAL),
    verb("animal", "missing", "animal.missing.v1", ANIMAL),
    verb("animal", "found", "animal.found.v1", ANIMAL),
    verb("animal", "escaped", "animal.escaped.v1", ANIMAL),
    verb("animal", "recaptured", "animal.recaptured.v1", ANIMAL),
    verb("animal", "returned", "animal.returned.v1", ANIMAL),
    verb("animal", "write-off", "animal.written_off.v1", ANIMAL),
    verb("animal", "told-apart", "animal.told_apart.v1", About::New),
    verb("animal", "group", "animal.grouped.v1", ANIMAL),
    verb("group", "form", "group.formed.v1", About::New),
    verb("group", "count", "group.counted.v1", GROUP),
    verb("group", "split", "group.split.v1", GROUP),
    verb("group", "merge", "group.merged.v1", GROUP),
    verb("group", "move", "group.moved.v1", GROUP),
    verb("group", "feed", "group.fed.v1", GROUP),
    verb("group", "died", "group.died.v1", GROUP),
    verb("group", "depart", "group.departed.v1", GROUP),
    verb("necropsy", "report", "necropsy.reported.v1", BODY),
    verb("carcass", "keep", "carcass.kept.v1", BODY),
    verb("carcass", "dispose", "carcass.disposed.v1", BODY),
    verb("water", "measure", "water.measured.v1", About::Known(&["system", "tank"])),
    verb("tank", "set-up", "tank.set_up.v1", About::New),
    verb("tank", "search", "tank.searched.v1", About::Known(&["tank"])),
    verb("system", "set-up", "system.set_up.v1", About::New),
    verb("species", "list", "species.listed.v1", About::New),
    verb("tank", "check", "tank.checked.v1", TANK),
    verb("tank", "feed", "tank.fed.v1", TANK),
    verb("tank", "light", "tank.light_set.v1", TANK),
    verb("tank", "join", "tank.joined.v1", TANK),
    verb("tank", "retire", "tank.retired.v1", TANK),
    verb("water", "change", "system.water_changed.v1", HOUSING),
    verb("equipment", "fault", "equipment.faulted.v1", HOUSING),
    verb("equipment", "restore", "equipment.restored.v1", HOUSING),
    verb("instrument", "install", "instrument.installed.v1", About::New),
    verb("instrument", "calibrate", "instrument.calibrated.v1", About::Known(&["instrument"])),
    verb("instrument", "retire", "instrument.retired.v1", About::Known(&["instrument"])),
    verb("place", "set-up", "place.set_up.v1", About::New),
    verb("mating", "observe", "mating.observed.v1", About::Known(&["animal", "tank"])),
    verb("laying", "observe", "laying.observed.v1", About::Known(&["animal", "tank"])),
    verb("diet", "set", "diet.set.v1", About::Known(&["animal", "group", "tank"])),
    verb("food", "receive", "food.received.v1", About::New),
    verb("breeding", "advise", "breeding.advised.v1", ANIMAL),
    verb("round", "open", "round.opened.v1", About::New),
    verb("round", "close", "round.closed.v1", About::Known(&["round"])),
    verb("duty", "hand-over", "duty.handed_over.v1", About::Collection),
    verb("incident", "open", "incident.opened.v1", About::New),
    verb("incident", "note", "incident.noted.v1", About::Known(&["incident"])),
    verb("incident", "close", "incident.closed.v1", About::Known(&["incident"])),
    verb("consignment", "authorise", "consignment.authorised.v1", About::New),
    verb("consignment", "send", "consignment.sent.v1", About::New),
    verb("consignment", "left", "consignment.sent.v1", About::Known(&["consignment"])),
    verb("consignment", "receive", "consignment.received.v1", About::New),
    verb("consignment", "arrived", "consignment.received.v1", About::Known(&["consignment"])),
    verb("quarantine", "start", "quarantine.started.v1", QUARANTINED),
    verb("quarantine", "clear", "quarantine.cleared.v1", QUARANTINED),
    verb("loan", "agree", "loan.agreed.v1", About::New),
    verb("loan", "end", "loan.ended.v1", About::Known(&["loan"])),
    verb("sample", "take", "sample.taken.v1", About::New),
    verb("sample", "send", "sample.sent.v1", About::Known(&["sample"])),
    verb("sample", "report", "sample.reported.v1", About::Known(&["sample"])),
    verb("document", "attach", "document.attached.v1", About::New),
    verb("species", "status", "species.status_noted.v1", About::Known(&["species"])),
    verb("permit", "record", "permit.recorded.v1", About::New),
    verb("permit", "use", "permit.used.v1", About::Known(&["document"])),
    verb("permit", "end", "permit.ended.v1", About::Known(&["document"])),
    verb("copy", "verified", "copy.verified.v1", About::Collection),
];
const POLICY: Verb = verb("policy", "set", "policy.set.v1", About::Collection);

const fn verb(noun: &'static str, verb: &'static str, kind: &'static str, about: About) -> Verb {
    Verb { noun, verb, kind, about }
}

fn verbs() -> impl Iterator<Item = &'static Verb> {
    VERBS.iter().chain(std::iter::once(&POLICY))
}

/// Every verb: its noun, the verb, and the kind that it writes.
pub fn listed() -> impl Iterator<Item = [&'static str; 3]> {
    verbs().map(|verb| [verb.noun, verb.verb, verb.kind])
}

/// Nouns with their verbs, to be added to the command line.
#[must_use]
pub fn commands() -> Vec<Command> {
    let mut nouns: Vec<Command> = Vec::new();
    for verb in verbs() {
        let Some(form) = form(verb.kind) else { continue };
        let command = verb_command(verb, form);
        match nouns.iter_mut().find(|noun| noun.get_name() == verb.noun) {
            Some(noun) => *noun = noun.clone().subcommand(command),
            None => nouns.push(noun_command(verb.noun).subcommand(command)),
        }
    }
    nouns.into_iter().map(with_reads).collect()
}

/// What is read under a noun that has verbs.
fn with_reads(noun: Command) -> Command {
    match noun.get_name() {
        "water" => WaterCommand::augment_subcommands(noun),
        "round" => RoundCommand::augment_subcommands(noun),
        "opening" => noun.subcommand(assess::command()),
        _ => noun,
    }
}

fn noun_command(noun: &'static str) -> Command {
    let about = match noun {
        "egg" => "Write a note about an egg case",
        "animal" => "Write a note about an animal",
        "group" => "Write a note about animals that cannot be told apart",
        "clutch" => "Write a note about cases that one dam laid together",
        "opening" => "Assess a case, and write a note about the authorisation of openings",
        "necropsy" => "Write a note about a post-mortem",
        "carcass" => "Write a note about a body",
        "water" => "Write a note about water",
        "tank" => "Write a note about a tank",
        "system" => "Write a note about a water system",
        "species" => "Write a note about a species",
        "equipment" => "Write a note about equipment of a system or tank",
        "instrument" => "Write a note about an instrument",
        "place" => "Write a note about a place in a tank",
        "mating" | "laying" | "breeding" => "Write a note about adults",
        "diet" | "food" => "Write a note about food",
        "round" => "Open and close a round",
        "duty" => "Hand over duty",
        "incident" => "Write a note about an incident",
        "consignment" => "Write a note about a consignment",
        "quarantine" => "Write a note about quarantine",
        "loan" => "Write a note about a loan",
        "sample" => "Write a note about a sample",
        "document" => "Attach a document by its hash",
        "permit" => "Write a note about a permit, as its paper says; local law and the authority decide",
        "copy" => "Say that a copy of the record at another place was checked",
        _ => "Write the house rules (a second person approves them)",
    };
    Command::new(noun).about(about).subcommand_required(true).arg_required_else_help(true)
}

fn verb_command(verb: &Verb, form: &'static Form) -> Command {
    let mut command = Command::new(verb.verb);
    match verb.about {
        About::New if form.member("label").is_some() => {
            command = command.arg(Arg::new(ABOUT).required(true).value_name("LABEL").help("What stands on it, 1 to 24 characters"));
        }
        About::Known(nouns) => {
            let name = if nouns == ["system", "tank"] { "PLACE" } else { "WHICH" };
            command = command.arg(Arg::new(ABOUT).required(true).value_name(name).help("Its label or id"));
        }
        About::New | About::Collection => {}
    }
    let flags = form.members.iter().filter(|member| !is_positional(verb, member)).map(|member| flag(verb, member));
    if verb.kind == LISTING {
        let help = "Add what this program knows of published incubations of the species, each with its source";
        command = command.arg(Arg::new(PUBLISHED).long("published").action(ArgAction::SetTrue).help(help));
    }
    // The common arguments bring a description of their own; the kind's comes last and stays.
    SendArgs::augment_args(WhenArgs::augment_args(command.args(flags))).about(form.title.as_str()).long_about(form.about.as_str())
}

/// The kind that lists a species.
const LISTING: &str = "species.listed.v1";

/// The flag that adds published incubations to it.
const PUBLISHED: &str = "<published>";

/// The id of the positional argument; no member can have this name.
const ABOUT: &str = "<about>";

fn is_positional(verb: &Verb, member: &Member) -> bool {
    verb.about == About::New && member.name == "label"
}

fn flag(verb: &Verb, member: &'static Member) -> Arg {
    let arg = Arg::new(member.name.as_str()).long(member.flag.as_str()).help(member.help.as_str()).required(must_be_given(verb, member));
    match &member.shape {
        Shape::Truth => arg.num_args(0..=1).require_equals(true).default_missing_value("true").value_name("true|false"),
        Shape::List(_) => arg.action(ArgAction::Append).value_name("VALUE"),
        Shape::Number | Shape::Whole => arg.value_name("N").allow_negative_numbers(true),
        Shape::Reference(_) | Shape::AnyOf(_) => arg.value_name("LABEL|ID"),
        Shape::FileHash => arg.value_name("HASH|@FILE"),
        Shape::Instant => arg.value_name("TIME"),
        Shape::Parentage => arg.value_name("PARENTAGE"),
        _ => arg.value_name("VALUE"),
    }
}

fn must_be_given(verb: &Verb, member: &Member) -> bool {
    member.required && !must_be_inferred(verb, member)
}

/// A band says that the light showed the inside; nobody types that twice. A new group gets its
/// subject here: nobody makes up a ULID by hand.
fn must_be_inferred(verb: &Verb, member: &Member) -> bool {
    matches!((verb.kind, member.name.as_str()), ("egg.candled.v1", "seen_into") | ("group.split.v1", "into"))
}

fn infer_seen_into(matches: &ArgMatches) -> Result<Value, Fault> {
    if matches.contains_id("band") {
        return Ok(json!(true));
    }
    let detail = "say what the light showed: --band with --movement, or --seen-into=false when it did not show the inside";
    Err(Fault::Usage(detail.to_owned()))
}

/// Writes the note that a noun's verb asks for; `None` when `noun` is none of ours.
pub fn run(session: &Session, noun: &str, matches: &ArgMatches) -> Option<Result<u8, Fault>> {
    let (name, matches) = matches.subcommand()?;
    if (noun, name) == ("opening", "assess") {
        return Some(assess::assess(session, matches));
    }
    let verb = verbs().find(|verb| verb.noun == noun && verb.verb == name)?;
    let form = form(verb.kind)?;
    Some(write(session, verb, form, matches).map_err(|fault| name_flags(fault, form)))
}

fn write(session: &Session, verb: &Verb, form: &Form, matches: &ArgMatches) -> Result<u8, Fault> {
    let usage = |error: clap::Error| Fault::Usage(error.to_string());
    let (when, send) = (WhenArgs::from_arg_matches(matches).map_err(usage)?, SendArgs::from_arg_matches(matches).map_err(usage)?);
    let (mut data, subject) = (data(session, verb, form, matches)?, subject(session, verb, form, matches)?);
    if verb.kind == LISTING && matches.get_flag(PUBLISHED) {
        put_published(&mut data)?;
    }
    assess::put_into(session, verb.kind, &subject, &mut data)?;
    let draft = Draft::new(verb.kind, subject, Value::Object(data));
    write_note(session, apply_when(session, draft, &when)?, &send, &[])
}

/// Published incubations of the species that is listed.
fn put_published(data: &mut Map<String, Value>) -> Result<(), Fault> {
    let name = data.get("scientific_name").and_then(Value::as_str).unwrap_or_default().to_owned();
    let points = incubation_points(&name);
    if points.is_empty() {
        let known = published::species().join(", ");
        return Err(Fault::Usage(format!("--published: nothing is known here of {name:?}; known are {known}")));
    }
    let listed = data.entry("incubation_points").or_insert_with(|| json!([]));
    listed.as_array_mut().into_iter().for_each(|listed| listed.extend(points.clone()));
    Ok(())
}

fn subject(session: &Session, verb: &Verb, form: &Form, matches: &ArgMatches) -> Result<Subject, Fault> {
    match verb.about {
        About::Collection => Ok(Subject::collection()),
        About::Known(nouns) => session.find(&positional(matches), nouns),
        // A permit is a document: what a kind brings into the record its schema says.
        About::New => session.fresh(catalogue().kind(&form.kind).and_then(|kind| kind.subjects.first()).map_or("", String::as_str)),
    }
}

fn positional(matches: &ArgMatches) -> String {
    matches.get_one::<String>(ABOUT).cloned().unwrap_or_default()
}

fn data(session: &Session, verb: &Verb, form: &Form, matches: &ArgMatches) -> Result<Map<String, Value>, Fault> {
    let mut data = Map::new();
    for member in &form.members {
        if is_positional(verb, member) {
            data.insert(member.name.clone(), json!(positional(matches)));
        } else if let Some(given) = matches.get_many::<String>(&member.name) {
            let texts: Vec<String> = given.cloned().collect();
            data.insert(member.name.clone(), read_values(&member.shape, &format!("--{}", member.flag), &texts, session)?);
        } else if must_be_inferred(verb, member) {
            let inferred = if member.name == "into" { json!(session.fresh("group")?) } else { infer_seen_into(matches)? };
            data.insert(member.name.clone(), inferred);
        }
    }
    Ok(data)
}
