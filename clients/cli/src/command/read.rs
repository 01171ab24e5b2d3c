//! Reading: lists, items, histories, what is due, what is at odds, figures.

use super::args::{ClockArgs, FiguresWhat, ListWhat, ReadArgs};
use super::render::{self, Column};
use super::session::{LISTED, Session};
use crate::fault::Fault;
use crate::transport::path_part;
use crate::values::Helper as _;
use chrono::NaiveDate;
use selachron_schemas::limits::LIST_ITEMS_MAX;
use selachron_schemas::names::{Subject, is_ulid};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::path::Path;

/// A query that owns its values.
pub type Query = Vec<(&'static str, String)>;

/// Asks with a query that owns its values.
///
/// # Errors
/// As [`crate::client::Client::get`].
pub fn ask(session: &Session, path: &str, query: &Query) -> Result<Value, Fault> {
    let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
    session.client()?.get(path, &query)
}

/// The two clocks as the service takes them, and whether the answer names its notes.
///
/// # Errors
/// As [`two_clocks`].
pub fn clocks(session: &Session, read: &ReadArgs) -> Result<Query, Fault> {
    let mut query = two_clocks(session, &read.clocks)?;
    query.extend(read.explain.then(|| ("explain", "true".to_owned())));
    Ok(query)
}

/// The two clocks as the service takes them: bare times become times of the collection's zone.
///
/// # Errors
/// A time that is none.
pub fn two_clocks(session: &Session, read: &ClockArgs) -> Result<Query, Fault> {
    let mut query = Query::new();
    if let Some(text) = &read.as_of {
        query.push(("as_of", moment(session, "--as-of", text)?));
    }
    if let Some(text) = &read.known_at {
        let size = text.bytes().all(|byte| byte.is_ascii_digit());
        query.push(("known_at", if size { text.clone() } else { moment(session, "--known-at", text)? }));
    }
    Ok(query)
}

pub(super) fn moment(session: &Session, flag: &str, text: &str) -> Result<String, Fault> {
    let is_date = text.parse::<NaiveDate>().is_ok();
    if is_date { Ok(text.to_owned()) } else { Ok(session.time(flag, text)?.utc_text()) }
}

/// Every page of a list, all at the clocks of the first. `limit` is the most items wanted.
///
/// # Errors
/// As [`crate::client::Client::get`].
pub fn all(session: &Session, path: &str, mut query: Query, limit: Option<usize>) -> Result<Value, Fault> {
    let wanted = limit.unwrap_or(usize::MAX);
    query.push(("limit", wanted.clamp(1, LIST_ITEMS_MAX).to_string()));
    let (mut answer, mut items) = (Value::Null, Vec::new());
    each_page(
        path,
        &query,
        |query| ask(session, path, query),
        |page, more| {
            if answer.is_null() {
                answer = page;
            }
            items.extend(more);
            Ok(items.len() < wanted)
        },
    )?;
    items.truncate(wanted);
    answer["items"] = Value::Array(items);
    Ok(answer)
}

/// One page of a list after the other, as `ask` answers, each at the clocks of the one before: what it says, in
/// which `items` is null, and its items. `take` says whether it wants more.
///
/// # Errors
/// What `ask` or `take` returns; an answer that has no items.
pub fn each_page(
    path: &str,
    query: &Query,
    ask: impl Fn(&Query) -> Result<Value, Fault>,
    mut take: impl FnMut(Value, Vec<Value>) -> Result<bool, Fault>,
) -> Result<(), Fault> {
    let mut cursor = None;
    loop {
        let paged: Query = query.iter().cloned().chain(cursor.map(|cursor| ("cursor", cursor))).collect();
        let mut page = ask(&paged)?;
        let items = take_items(&mut page, path)?;
        cursor = take_next(&mut page);
        if !take(page, items)? || cursor.is_none() {
            return Ok(());
        }
    }
}

fn take_items(answer: &mut Value, path: &str) -> Result<Vec<Value>, Fault> {
    match answer.get_mut("items").map(Value::take) {
        Some(Value::Array(items)) => Ok(items),
        _ => Err(Fault::Failed(format!("the answer to GET {path} has no items"))),
    }
}

fn take_next(answer: &mut Value) -> Option<String> {
    let next = answer.as_object_mut()?.shift_remove("next")?;
    next.as_str().map(str::to_owned)
}

/// What stands under every answer: how much was known, and whether the clock was real.
pub fn foot(session: &Session, answer: &Value) {
    let number = |name: &str| answer.get(name).and_then(Value::as_u64).unwrap_or_default();
    let as_of = answer.get("as_of").and_then(Value::as_str).unwrap_or_default();
    let withheld = match number("withheld") {
        0 => String::new(),
        count => format!("; {count} bodies withheld"),
    };
    let suspected = match number("suspected") {
        0 => String::new(),
        count => format!("; {count} notes by a key under suspicion"),
    };
    session.console.say(&format!("as of {as_of}, {} notes known{withheld}{suspected}", number("known_at")));
    if answer.get("simulated_clock").and_then(Value::as_bool) == Some(true) {
        session.console.say("invented season, simulated clock");
    }
}

/// What tanks, systems, species and people are called, by id. People read names; programs read
/// `--json`.
///
/// # Errors
/// Of the reading.
pub fn names(session: &Session, read: &Query) -> Result<BTreeMap<String, String>, Fault> {
    let mut names = BTreeMap::new();
    if session.console.json {
        return Ok(names);
    }
    for (path, member) in [("/v1/tanks", "label"), ("/v1/systems", "label"), ("/v1/species", "scientific_name")] {
        let known: Query = read.iter().filter(|(name, _)| *name != "explain").cloned().collect();
        let answer = all(session, path, known, None)?;
        let pair = |item: &Value| Some((item.get("id")?.as_str()?.to_owned(), item.get(member)?.as_str()?.to_owned()));
        names.extend(answer.get("items").and_then(Value::as_array).into_iter().flatten().filter_map(pair));
    }
    names.extend(people(session));
    Ok(names)
}

/// What the institution's own list calls its people. It is a help for whoever reads, so a list
/// that cannot be had is no fault: people then stand under their pseudonyms.
fn people(session: &Session) -> BTreeMap<String, String> {
    let answer = session.client().and_then(|client| client.get("/v1/people", &[])).unwrap_or_default();
    let pair = |item: &Value| Some((item.get("person")?.as_str()?.to_owned(), item.get("name")?.as_str()?.to_owned()));
    answer.get("items").and_then(Value::as_array).into_iter().flatten().filter_map(pair).collect()
}

pub(super) fn show_items(session: &Session, answer: &Value, columns: &[Column], none: &str) -> Result<u8, Fault> {
    let zone = session.zone()?;
    let items = answer.get("items").and_then(Value::as_array).cloned().unwrap_or_default();
    session.console.result(answer, || if items.is_empty() { none.to_owned() } else { render::table(columns, &items, zone) });
    foot(session, answer);
    Ok(0)
}

const DUE: [Column; 9] = [
    ("urgency", &["/urgency"]),
    ("tank", &["/tank_label"]),
    ("place", &["/place/label"]),
    ("what", &["/what"]),
    ("label", &["/label"]),
    ("due", &["/due_at"]),
    ("days over", &["/overdue_days"]),
    ("why", &["/why"]),
    ("id", &["/subject"]),
];

/// What is due.
///
/// # Errors
/// Of the reading.
pub fn due(session: &Session, within_hours: Option<u32>, by: Option<&str>, ics: Option<&Path>, read: &ReadArgs) -> Result<u8, Fault> {
    let mut query = clocks(session, read)?;
    query.extend(within_hours.map(|hours| ("within_hours", hours.to_string())));
    query.extend(by.map(|by| ("by", by.to_owned())));
    if let Some(file) = ics {
        let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
        let calendar = session.client()?.get_text("/v1/due.ics", &query, "text/calendar")?;
        crate::files::replace(file, calendar.as_bytes())?;
        session.console.say(&format!("the calendar is in {}; a calendar program that subscribes to the file shows it", file.display()));
        return Ok(0);
    }
    let answer = all(session, "/v1/due", query, None)?;
    show_items(session, &answer, &DUE, "nothing is due")
}

const ODD: [Column; 6] = [
    ("weight", &["/weight"]),
    ("stands", &["/standing"]),
    ("since", &["/since"]),
    ("says", &["/says"]),
    ("about", &["/subjects"]),
    ("id", &["/id"]),
];

/// What is at odds.
///
/// # Errors
/// Of the reading.
pub fn discrepancies(session: &Session, open: bool, read: &ReadArgs) -> Result<u8, Fault> {
    let mut query = clocks(session, read)?;
    query.extend(open.then(|| ("open", "true".to_owned())));
    let answer = all(session, "/v1/discrepancies", query, None)?;
    show_items(session, &answer, &ODD, "nothing is at odds")
}

const REFUSED: [Column; 6] = [
    ("when", &["/at"]),
    ("problem", &["/problem"]),
    ("where", &["/pointer"]),
    ("person", &["/person"]),
    ("from", &["/peer"]),
    ("id", &["/id"]),
];

/// Writes that were refused. They stand beside the log, so no clock is asked for.
///
/// # Errors
/// Of the reading.
pub fn refused(session: &Session, limit: Option<usize>) -> Result<u8, Fault> {
    let query = limit.map(|limit| ("limit", limit.to_string())).into_iter().collect();
    let answer = ask(session, "/v1/refused", &query)?;
    let (zone, items) = (session.zone()?, answer.get("items").and_then(Value::as_array).cloned().unwrap_or_default());
    session.console.result(&answer, || match items.is_empty() {
        true => "nothing was refused".to_owned(),
        false => render::table(&REFUSED, &items, zone),
    });
    Ok(0)
}

/// A token of this key, for a program that is not this one.
///
/// # Errors
/// No key is set, or the log was never met and does not answer.
pub fn token(session: &Session) -> Result<u8, Fault> {
    let token = session.identity()?.read_key().token(&session.client()?.origin()?, session.now())?;
    session.console.result(&json!({"token": token}), || token.clone());
    session.console.say("Whoever has it reads with your rights for five minutes.");
    Ok(0)
}

const EGGS: [Column; 7] = [
    ("label", &["/label"]),
    ("came", &["/came/time"]),
    ("fate", &["/fate/state"]),
    ("band", &["/band"]),
    ("held apart", &["/held_apart/reason"]),
    ("tank", &["/place/tank"]),
    ("id", &["/id"]),
];
const ANIMALS: [Column; 7] = [
    ("label", &["/label"]),
    ("sex", &["/sex"]),
    ("came", &["/came/time"]),
    ("fate", &["/fate/state"]),
    ("last ate", &["/last_eaten/time"]),
    ("tank", &["/place/tank"]),
    ("id", &["/id"]),
];
const TANKS: [Column; 4] = [("label", &["/label"]), ("purpose", &["/purpose"]), ("system", &["/system"]), ("id", &["/id"])];
const SYSTEMS: [Column; 4] = [("label", &["/label"]), ("water", &["/water"]), ("litres", &["/volume_l"]), ("id", &["/id"])];
const SPECIES: [Column; 4] =
    [("scientific name", &["/scientific_name"]), ("common name", &["/common_name"]), ("length", &["/length_basis"]), ("id", &["/id"])];
const KEYS: [Column; 6] = [
    ("key", &["/keyid", "/id"]),
    ("person", &["/person"]),
    ("roles", &["/roles"]),
    ("device", &["/device"]),
    ("in force", &["/in_force"]),
    ("valid until", &["/valid_until"]),
];

/// All of something.
///
/// # Errors
/// Of the reading.
pub fn list(session: &Session, what: ListWhat, limit: Option<usize>, read: &ReadArgs) -> Result<u8, Fault> {
    let (path, columns): (&str, &[Column]) = match what {
        ListWhat::Eggs => ("/v1/eggs", &EGGS),
        ListWhat::Animals => ("/v1/animals", &ANIMALS),
        ListWhat::Tanks => ("/v1/tanks", &TANKS),
        ListWhat::Systems => ("/v1/systems", &SYSTEMS),
        ListWhat::Species => ("/v1/species", &SPECIES),
        ListWhat::Keys => ("/v1/keys", &KEYS),
        other => super::read_house::listed(other),
    };
    let query = clocks(session, read)?;
    let answer = all(session, path, query.clone(), limit)?;
    let named = matches!(what, ListWhat::Eggs | ListWhat::Animals | ListWhat::Tanks | ListWhat::Keys);
    let names = if named { names(session, &query)? } else { BTreeMap::new() };
    show_items(session, &render::with_names(&answer, &names), columns, "there are none")
}

/// The path of what a label or id names, whatever it is.
///
/// # Errors
/// No such thing, or several.
pub fn path_of(session: &Session, text: &str) -> Result<String, Fault> {
    let nouns: Vec<&str> = LISTED.iter().map(|(noun, _)| *noun).collect();
    let subject = match Subject::parse(&format!("key/{text}")) {
        Some(key) => key,
        None => session.find(text, &nouns)?,
    };
    let list = LISTED.iter().find(|(noun, _)| *noun == subject.noun()).map(|(_, list)| *list);
    let list = list.ok_or_else(|| Fault::Usage(format!("a {} cannot be shown", subject.noun())))?;
    Ok(format!("/v1/{list}/{}", path_part(subject.id())))
}

/// One thing, or one note.
///
/// # Errors
/// No such thing, or several.
pub fn show(session: &Session, id: &str, read: &ReadArgs) -> Result<u8, Fault> {
    let query = clocks(session, read)?;
    let answer = match path_of(session, id) {
        Ok(path) => ask(session, &path, &query)?,
        // A bare ULID may be a note's.
        Err(Fault::NoSuchThing(_)) if is_ulid(id) => ask(session, &format!("/v1/events/{id}"), &query)?,
        Err(fault) => return Err(fault),
    };
    shown(session, &query, &answer)
}

/// What the record says for and against each source code of an animal or an egg.
///
/// # Errors
/// No such thing, or one that has no source codes.
pub fn source_codes(session: &Session, id: &str, read: &ReadArgs) -> Result<u8, Fault> {
    let (query, path) = (clocks(session, read)?, path_of(session, id)?);
    if !["/v1/animals/", "/v1/eggs/"].iter().any(|start| path.starts_with(start)) {
        return Err(Fault::Usage(format!("--source-codes: {id:?} is neither an animal nor an egg; name one")));
    }
    let answer = ask(session, &format!("{path}/source-codes"), &query)?;
    shown(session, &query, &answer)
}

fn shown(session: &Session, query: &Query, answer: &Value) -> Result<u8, Fault> {
    let (zone, names) = (session.zone()?, names(session, query)?);
    session.console.result(answer, || render::item(&render::with_names(answer.get("item").unwrap_or(answer), &names), zone));
    foot(session, answer);
    Ok(0)
}

/// Which eggs or animals a figure is about.
pub struct Cohort {
    /// A year.
    pub year: Option<i32>,
    /// From this date.
    pub from: Option<String>,
    /// To this date.
    pub to: Option<String>,
    /// A species, by label or id.
    pub species: Option<String>,
    /// A dam, by label or id.
    pub dam: Option<String>,
    /// How opened cases are compared.
    pub compared: [(&'static str, Option<u32>); 2],
}

/// Figures.
///
/// # Errors
/// Of the reading.
pub fn figures(session: &Session, what: FiguresWhat, cohort: &Cohort, read: &ReadArgs) -> Result<u8, Fault> {
    let mut query = clocks(session, read)?;
    query.extend(cohort.year.map(|year| ("year", year.to_string())));
    query.extend(cohort.from.clone().map(|day| ("from", day)));
    query.extend(cohort.to.clone().map(|day| ("to", day)));
    for (name, noun, given) in [("species", "species", &cohort.species), ("dam", "animal", &cohort.dam)] {
        if let Some(text) = given {
            query.push((name, session.subject(noun, text)?.to_string()));
        }
    }
    let path = match what {
        FiguresWhat::HatchRates => "/v1/figures/hatch-rates",
        FiguresWhat::Rearing => "/v1/figures/rearing",
        FiguresWhat::Assisted => "/v1/figures/assisted",
        FiguresWhat::EggFates => "/v1/figures/egg-fates",
        FiguresWhat::LossTiming => "/v1/figures/loss-timing",
        FiguresWhat::Incubation => "/v1/figures/incubation",
        FiguresWhat::LifeTable => "/v1/figures/life-table",
        FiguresWhat::Pedigree => "/v1/figures/pedigree",
    };
    query.extend(cohort.compared.iter().filter_map(|(name, days)| Some((*name, days.as_ref()?.to_string()))));
    let answer = ask(session, path, &query)?;
    let zone = session.zone()?;
    session.console.result(&answer, || render::item(&without_foot(&answer), zone));
    foot(session, &answer);
    Ok(0)
}

/// An answer without the members that stand under every answer.
fn without_foot(answer: &Value) -> Value {
    let kept = answer.as_object().into_iter().flatten();
    let kept = kept.filter(|(name, _)| !["as_of", "known_at", "root", "withheld", "suspected", "simulated_clock"].contains(&name.as_str()));
    json!(kept.map(|(name, value)| (name.clone(), value.clone())).collect::<Map<_, _>>())
}
