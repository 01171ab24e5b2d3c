//! `compute fates`: a log of sightings as rows of a survival table.

use super::answer::{Notes, text};
use super::args::FatesArgs;
use super::table::Source;
use crate::fault::Fault;
use chrono::NaiveDate;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::fates::of_log::{of_log, zone_of};
use selachron_schemas::fates::{Case, Fate, Seen, Sighting, encode};
use serde::{Deserialize, Serialize};

/// An origin less certain than this is pointed out, in days.
const ORIGIN_UNCERTAIN_DAYS: i64 = 7;

#[derive(Serialize)]
struct Answer {
    as_of: NaiveDate,
    rows: Vec<Fate>,
    notes: Notes,
}

/// The JSON layout.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Log {
    as_of: NaiveDate,
    eggs: Vec<Egg>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Egg {
    egg: String,
    laid_found_on: NaiveDate,
    laid_not_before: Option<NaiveDate>,
    entered_on: Option<NaiveDate>,
    state_at_entry: Option<State>,
    #[serde(default)]
    events: Vec<Told>,
}

#[derive(Deserialize, PartialEq)]
#[serde(rename_all = "lowercase")]
enum State {
    Alive,
    Dead,
    Unclear,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Told {
    #[serde(rename = "type")]
    kind: What,
    on: NaiveDate,
    id: Option<String>,
    result: Option<Look>,
    how: Option<How>,
    assisted: Option<bool>,
    voided_by: Option<String>,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "lowercase")]
enum What {
    Inspect,
    Hatch,
    Removed,
    Missing,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "lowercase")]
enum Look {
    Alive,
    Dead,
    Unclear,
    #[serde(rename = "not checked")]
    NotChecked,
    #[serde(rename = "not hatched")]
    NotHatched,
    Infertile,
}

#[derive(Deserialize, Clone, Copy, PartialEq)]
#[serde(rename_all = "lowercase")]
enum How {
    Found,
    Observed,
    Camera,
}

pub(super) fn run(asked: &FatesArgs) -> Result<String, Fault> {
    let source = Source::open(asked.file.as_deref())?;
    let name = source.name.clone();
    let input = source.text()?;
    if input.trim().is_empty() {
        return Err(Fault::Failed(format!("{name}: it is empty; give JSON with as_of and eggs, or the notes of a log, one a line")));
    }
    let mut notes = Notes::default();
    let (as_of, cases) = if is_layout(&input) { from_layout(&name, &input, asked)? } else { from_notes(&name, &input, asked, &mut notes)? };
    let rows: Vec<Fate> = cases.iter().filter_map(|case| encode(case, as_of)).collect();
    for row in &rows {
        beside(row, &mut notes);
    }
    text(&Answer { as_of, rows, notes })
}

fn beside(row: &Fate, notes: &mut Notes) {
    if let Some(days) = row.origin_uncertainty_days.filter(|days| *days > ORIGIN_UNCERTAIN_DAYS) {
        notes.of(&row.egg, &format!("it may have been laid up to {days} days before its age 0"));
    }
    if let Some(reason) = row.reason {
        notes.of(&row.egg, &format!("not at risk: {reason}"));
    }
}

/// One JSON object with `eggs`; a log's notes are one object a line and have no such member.
fn is_layout(input: &str) -> bool {
    #[derive(Deserialize)]
    struct Either {
        #[serde(rename = "specversion")]
        of_note: Option<serde::de::IgnoredAny>,
        payload: Option<serde::de::IgnoredAny>,
        withheld: Option<serde::de::IgnoredAny>,
    }
    let first = serde_json::Deserializer::from_str(input).into_iter::<Either>().next();
    let is_log = |line: &Either| line.of_note.is_some() || line.payload.is_some() || line.withheld.is_some();
    !first.is_some_and(|line| line.as_ref().is_ok_and(is_log))
}

fn from_layout(name: &str, input: &str, asked: &FatesArgs) -> Result<(NaiveDate, Vec<Case>), Fault> {
    let log: Log = serde_json::from_str(input).map_err(|error| Fault::Failed(format!("{name}: {error}")))?;
    let cases: Result<Vec<Case>, Fault> = log.eggs.into_iter().map(|egg| case(name, egg)).collect();
    Ok((asked.as_of.unwrap_or(log.as_of), cases?))
}

fn case(name: &str, egg: Egg) -> Result<Case, Fault> {
    let wrong = |says: &str| Fault::Failed(format!("{name}: egg {}: {says}", egg.egg));
    if egg.entered_on.is_some_and(|on| on < egg.laid_found_on) {
        return Err(wrong("entered_on is before laid_found_on; correct one of them"));
    }
    if egg.laid_not_before.is_some_and(|on| on > egg.laid_found_on) {
        return Err(wrong("laid_not_before is after laid_found_on; correct one of them"));
    }
    let mut sightings = Vec::new();
    for (at, told) in egg.events.iter().enumerate() {
        let wrong = |says: &str| wrong(&format!("event {}: {says}", at + 1));
        let seen = seen(told).map_err(|says| wrong(&says))?;
        // What was taken back does not count.
        if told.voided_by.is_none() {
            let id = told.id.clone().unwrap_or_else(|| format!("{}#{}", egg.egg, at + 1));
            sightings.push(Sighting { on: told.on, id, seen });
        }
    }
    Ok(Case {
        age_0_on: egg.laid_found_on,
        laid_not_before: Some(egg.laid_not_before.unwrap_or(egg.laid_found_on)),
        entered_on: egg.entered_on,
        dead_on_entry: egg.state_at_entry == Some(State::Dead),
        came_by: None,
        sightings,
        egg: egg.egg,
    })
}

fn seen(told: &Told) -> Result<Seen, String> {
    if told.result.is_some() && !matches!(told.kind, What::Inspect) {
        return Err("result belongs to an inspect event; remove it".to_owned());
    }
    if (told.how.is_some() || told.assisted.is_some()) && !matches!(told.kind, What::Hatch) {
        return Err("how and assisted belong to a hatch event; remove them".to_owned());
    }
    Ok(match told.kind {
        What::Removed => Seen::Removed,
        What::Missing => Seen::Missing,
        What::Hatch => {
            let how = told.how.ok_or("how is missing; give found, observed or camera")?;
            Seen::Hatched { exact: how != How::Found, not_before: None, assisted: told.assisted.unwrap_or(false) }
        }
        What::Inspect => {
            let wanted = "result is missing; give alive, dead, unclear, not checked, not hatched or infertile";
            match told.result.ok_or(wanted)? {
                Look::Alive => Seen::Alive,
                Look::Dead => Seen::Dead,
                Look::Unclear | Look::NotChecked => Seen::Unclear,
                Look::NotHatched => Seen::NotHatched,
                Look::Infertile => Seen::Infertile,
            }
        }
    })
}

fn from_notes(name: &str, input: &str, asked: &FatesArgs, notes: &mut Notes) -> Result<(NaiveDate, Vec<Case>), Fault> {
    let mut events = Vec::new();
    for (at, line) in input.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
        if is_withheld(line) {
            notes.say("bodies that are withheld are passed over; what they told is not in these rows");
            continue;
        }
        events.push(note(line).map_err(|says| Fault::Failed(format!("{name}: line {}: {says}", at + 1)))?);
    }
    let zone = asked.time_zone.or_else(|| zone_of(&events));
    let zone = zone.ok_or_else(|| {
        Fault::Failed(format!("{name}: the founding, which names the time zone, is not among the notes; give --time-zone"))
    })?;
    let log = of_log(&events, zone);
    for egg in &log.without_age {
        notes.say(format!("{egg}: received without an estimate of when it was laid: it has no age and no row"));
    }
    let as_of = asked.as_of.or(log.last_day);
    let as_of = as_of.ok_or_else(|| Fault::Failed(format!("{name}: no note of it stands")))?;
    Ok((as_of, log.cases))
}

/// What a bundle has in place of an envelope whose body is withheld.
fn is_withheld(line: &str) -> bool {
    line.trim_start().starts_with("{\"withheld\"")
}

/// A body, or an envelope around one. Signatures are the verifier's business, not ours.
fn note(line: &str) -> Result<Event, String> {
    let said = |refusal: selachron_schemas::refusal::Refusal| match refusal.pointer {
        Some(pointer) if !pointer.is_empty() => format!("{pointer}: {}", refusal.detail),
        _ => refusal.detail,
    };
    if line.contains("\"payloadType\"") {
        let envelope = Envelope::read(line.as_bytes()).map_err(said)?;
        return Event::parse(&envelope.body).map_err(said);
    }
    Event::parse(line.trim().as_bytes()).map_err(said)
}
