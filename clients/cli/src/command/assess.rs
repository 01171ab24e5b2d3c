//! What speaks for and against opening a case: shown, and put into the note that decides. Never a
//! recommendation.

use super::args::ReadArgs;
use super::assessment_sheet::sheet;
use super::read::{Query, clocks, foot, names};
use super::render;
use super::session::Session;
use crate::fault::Fault;
use crate::files;
use crate::transport::path_part;
use clap::{Arg, ArgMatches, Args as _, Command, FromArgMatches as _};
use selachron_schemas::cautions::cautions;
use selachron_schemas::encoding::hex;
use selachron_schemas::limits::{ASSESSED_CASES_MAX, LIST_ITEMS_MAX};
use selachron_schemas::merkle::sha256;
use selachron_schemas::names::Subject;
use serde_json::{Map, Value, json};
use std::path::PathBuf;

/// Kinds whose notes carry what was assessed.
const DECISIONS: [&str; 2] = ["opening.authorised.v1", "opening.left.v1"];

/// `opening assess`.
#[must_use]
pub fn command() -> Command {
    let egg = Arg::new("egg").required(true).value_name("EGG").help("The case's label or id");
    let out = Arg::new("out").long("out").value_name("FILE").value_parser(clap::value_parser!(PathBuf));
    let out = out.help("Write the whole answer here, so that it can be kept with the decision (`selachron keep`)");
    let about = "What speaks for and what speaks against opening a case; never a recommendation";
    ReadArgs::augment_args(Command::new("assess").arg(egg).arg(out)).about(about)
}

/// Shows an assessment.
///
/// # Errors
/// No such case, or of the reading.
pub fn assess(session: &Session, matches: &ArgMatches) -> Result<u8, Fault> {
    let read = ReadArgs::from_arg_matches(matches).map_err(|error| Fault::Usage(error.to_string()))?;
    let (query, egg) = (clocks(session, &read)?, matches.get_one::<String>("egg").cloned().unwrap_or_default());
    let egg = session.find(&egg, &["egg"])?;
    let (text, answer) = fetch(session, &path(&egg), &query)?;
    let (zone, names) = (session.zone()?, names(session, &query)?);
    session.console.result(&answer, || sheet(&render::with_names(answer.get("item").unwrap_or(&answer), &names), zone));
    foot(session, &answer);
    if let Some(out) = matches.get_one::<PathBuf>("out") {
        files::write_new(out, text.as_bytes())?;
        session.console.say(&format!("the whole answer is in {}", out.display()));
    }
    cautions("egg.opened.v1").into_iter().for_each(|caution| session.console.say(caution));
    Ok(0)
}

fn path(subject: &Subject) -> String {
    match subject.noun() {
        "egg" => format!("/v1/eggs/{}/opening", path_part(subject.id())),
        _ => "/v1/openings".to_owned(),
    }
}

fn fetch(session: &Session, path: &str, query: &Query) -> Result<(String, Value), Fault> {
    let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let text = session.client()?.get_text(path, &query, "application/json")?;
    let answer = serde_json::from_str(&text).map_err(|error| Fault::Failed(format!("the answer to GET {path} is not JSON: {error}")))?;
    Ok((text, answer))
}

/// Puts what the record says now into a decision about openings. A service that does not answer
/// holds no decision up: then the note goes without, and that is said.
///
/// # Errors
/// The service answers, and not with an assessment.
pub fn put_into(session: &Session, kind: &str, subject: &Subject, data: &mut Map<String, Value>) -> Result<(), Fault> {
    if !DECISIONS.contains(&kind) || data.contains_key("assessment") {
        return Ok(());
    }
    match now(session, subject) {
        Ok(kept) => drop(data.insert("assessment".to_owned(), kept)),
        Err(Fault::Unreachable(why)) => {
            session.console.say(&format!("the note carries no assessment, for the service does not answer: {why}"))
        }
        Err(fault) => return Err(fault),
    }
    Ok(())
}

/// What the record says at the newest size, short enough for a note.
fn now(session: &Session, subject: &Subject) -> Result<Value, Fault> {
    let (as_of, size) = (session.now().utc_text(), session.client()?.look()?.checkpoint.size);
    let mut query: Query = vec![("as_of", as_of.clone()), ("known_at", size.to_string())];
    if subject.noun() != "egg" {
        query.push(("limit", LIST_ITEMS_MAX.to_string()));
    }
    let (text, answer) = fetch(session, &path(subject), &query)?;
    let mut kept =
        json!({"as_of": as_of, "known_at_size": size, "answer_sha256": hex(&sha256(text.as_bytes())), "standing": "several cases"});
    let lacks = || Fault::Failed("the service's answer is no assessment".to_owned());
    let met_by: Vec<Value> = match answer.get("item") {
        Some(item) => {
            kept["standing"] = item.pointer("/window/standing").cloned().ok_or_else(lacks)?;
            for (name, list, holds) in LISTS {
                let held = of(item, list, holds);
                if !held.is_empty() {
                    kept[name] = json!(held);
                }
            }
            item.get("met_by").and_then(Value::as_array).cloned().ok_or_else(lacks)?
        }
        None => {
            let items = answer.get("items").and_then(Value::as_array).ok_or_else(lacks)?;
            items.iter().filter_map(|item| item.get("egg").cloned()).collect()
        }
    };
    kept["met_by_cases"] = json!(met_by.len());
    kept["met_by"] = json!(met_by.into_iter().take(ASSESSED_CASES_MAX).collect::<Vec<_>>());
    Ok(kept)
}

/// Member of the note, list of the answer, and what must be said of it there.
const LISTS: [(&str, &str, &str); 4] = [
    ("criteria_met", "criteria", "yes"),
    ("criteria_not_met", "criteria", "no"),
    ("criteria_not_known", "criteria", "not known"),
    ("reasons_against", "against", "yes"),
];

fn of<'a>(item: &'a Value, list: &str, holds: &str) -> Vec<&'a Value> {
    let weighed = item.get(list).and_then(Value::as_array).into_iter().flatten();
    weighed.filter(|one| one.get("holds").and_then(Value::as_str) == Some(holds)).filter_map(|one| one.get("what")).collect()
}
