//! The notes of a log as sightings: which stand, with their corrections laid over (F21), on which
//! local day, and what each says of its case.

use super::{Case, Seen, Sighting};
use crate::event::Event;
use crate::fold::{Act, ActIndex, Entry, Replace, value_of};
use crate::names::Subject;
use crate::time::Instant;
use chrono::NaiveDate;
use chrono_tz::Tz;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, HashMap};

/// The cases of a log.
#[derive(Debug, Clone, PartialEq)]
pub struct Cases {
    /// In the order in which they came.
    pub cases: Vec<Case>,
    /// Cases of which nobody knows when they were laid: received without an estimate. No age, no row.
    pub without_age: Vec<String>,
    /// The last day on which something happened.
    pub last_day: Option<NaiveDate>,
}

/// What a note says, as far as it matters here.
#[derive(Debug, Clone)]
struct Written {
    time: Instant,
    timeafter: Option<Instant>,
    subject: Subject,
    data: Map<String, Value>,
}

/// What a correction puts in place.
#[derive(Debug, Clone, Default)]
struct Over {
    time: Option<Instant>,
    timeafter: Option<Instant>,
    subject: Option<Subject>,
    data: Option<Map<String, Value>>,
}

impl Over {
    fn read(data: &Map<String, Value>) -> Self {
        let Some(replacement) = data.get("replacement").and_then(Value::as_object) else { return Self::default() };
        let text = |name: &str| replacement.get(name).and_then(Value::as_str);
        let instant = |name: &str| text(name).and_then(|text| Instant::parse(text).ok());
        Self {
            time: instant("time"),
            timeafter: instant("timeafter"),
            subject: text("subject").and_then(Subject::parse),
            data: replacement.get("data").and_then(Value::as_object).cloned(),
        }
    }
}

impl Replace<Over> for Written {
    fn with(&self, over: &Over) -> Self {
        let time = over.time.unwrap_or(self.time);
        Self {
            time,
            timeafter: over.timeafter.or(self.timeafter).filter(|after| *after < time),
            subject: over.subject.as_ref().unwrap_or(&self.subject).clone(),
            data: over.data.as_ref().unwrap_or(&self.data).clone(),
        }
    }
}

impl Replace<Over> for Over {
    fn with(&self, over: &Self) -> Self {
        Self {
            time: over.time.or(self.time),
            timeafter: over.timeafter.or(self.timeafter),
            subject: over.subject.as_ref().or(self.subject.as_ref()).cloned(),
            data: over.data.as_ref().or(self.data.as_ref()).cloned(),
        }
    }
}

/// A note that stands.
struct Fact<'a> {
    id: &'a str,
    kind: &'a str,
    seq: usize,
    written: Written,
}

impl Fact<'_> {
    fn text(&self, name: &str) -> Option<&str> {
        self.written.data.get(name).and_then(Value::as_str)
    }

    fn is(&self, name: &str) -> bool {
        self.written.data.get(name).and_then(Value::as_bool) == Some(true)
    }
}

/// The time zone that the founding of these notes names.
#[must_use]
pub fn zone_of(events: &[Event]) -> Option<Tz> {
    let founded = events.iter().find(|event| event.kind == "collection.founded.v1")?;
    founded.data.get("time_zone")?.as_str()?.parse().ok()
}

/// The cases that these notes tell of; the notes stand in the order of the log, their days are
/// those of `zone`. Acts on notes that are not among them change nothing.
#[must_use]
pub fn of_log(events: &[Event], zone: Tz) -> Cases {
    let facts = standing(events);
    let searches = whole_searches(&facts);
    let mut by_egg: BTreeMap<String, Vec<&Fact>> = BTreeMap::new();
    for fact in facts.iter().filter(|fact| fact.written.subject.noun() == "egg") {
        by_egg.entry(fact.written.subject.to_string()).or_default().push(fact);
    }
    let mut cases: Vec<(usize, Case)> = Vec::new();
    let mut without_age = Vec::new();
    for (egg, facts) in &by_egg {
        let Some(came) = facts.iter().find(|fact| matches!(fact.kind, "egg.collected.v1" | "egg.received.v1")) else { continue };
        match case(egg, came, facts, &searches, zone) {
            Some(case) => cases.push((came.seq, case)),
            None => without_age.push(egg.clone()),
        }
    }
    cases.sort_by_key(|(seq, _)| *seq);
    let last_day = facts.iter().map(|fact| fact.written.time.day(zone)).max();
    Cases { cases: cases.into_iter().map(|(_, case)| case).collect(), without_age, last_day }
}

/// The notes that stand, in order of (time, place in the log).
fn standing(events: &[Event]) -> Vec<Fact<'_>> {
    let places: HashMap<&str, usize> = events.iter().enumerate().map(|(at, event)| (event.id.as_str(), at)).collect();
    let mut acts = ActIndex::default();
    let mut entries = Vec::with_capacity(events.len());
    for (at, event) in events.iter().enumerate() {
        let entry = entry(event, &places, at);
        if let Entry::Act { target, .. } = &entry {
            acts.add(*target, at as u64);
        }
        entries.push(entry);
    }
    let at = |seq: u64| &entries[usize::try_from(seq).unwrap_or(usize::MAX)];
    let mut facts: Vec<Fact> = Vec::new();
    for (seq, event) in events.iter().enumerate() {
        if let Some(written) = value_of(seq as u64, events.len() as u64, &acts, &at) {
            facts.push(Fact { id: &event.id, kind: &event.kind, seq, written });
        }
    }
    facts.sort_by_key(|fact| (fact.written.time, fact.seq));
    facts
}

fn entry(event: &Event, places: &HashMap<&str, usize>, at: usize) -> Entry<Written, Over> {
    let target = event.data.get("target").and_then(Value::as_str).and_then(|id| places.get(id)).filter(|place| **place < at);
    match (event.kind.as_str(), target) {
        ("record.corrected.v1", Some(target)) => Entry::Act { target: *target as u64, act: Act::Correct(Over::read(&event.data)) },
        ("record.retracted.v1", Some(target)) => Entry::Act { target: *target as u64, act: Act::Retract },
        _ => {
            Entry::Note(Written { time: event.time, timeafter: event.timeafter, subject: event.subject.clone(), data: event.data.clone() })
        }
    }
}

/// Searches of the whole of each tank, in order of time.
fn whole_searches(facts: &[Fact<'_>]) -> HashMap<String, Vec<Instant>> {
    let mut searches: HashMap<String, Vec<Instant>> = HashMap::new();
    for fact in facts.iter().filter(|fact| fact.kind == "tank.searched.v1" && fact.is("whole_tank")) {
        searches.entry(fact.written.subject.to_string()).or_default().push(fact.written.time);
    }
    searches
}

/// A case; `None` where nobody knows when it was laid.
fn case(egg: &str, came: &Fact<'_>, facts: &[&Fact<'_>], searches: &HashMap<String, Vec<Instant>>, zone: Tz) -> Option<Case> {
    let came_on = came.written.time.day(zone);
    let received = came.kind == "egg.received.v1";
    let (age_0_on, laid_not_before) = if received {
        let laid = came.text("laid_on_estimate").and_then(|day| day.parse().ok())?;
        // An estimate is one day; how far it may be off is not among the members of the note.
        (laid, None)
    } else {
        let after = came.written.timeafter.or_else(|| searched_before(came, searches));
        (came_on, after.map(|after| after.day(zone)))
    };
    Some(Case {
        egg: egg.to_owned(),
        age_0_on,
        laid_not_before,
        entered_on: received.then_some(came_on),
        dead_on_entry: received && came.text("state") == Some("dead"),
        came_by: Some(came.id.to_owned()),
        sightings: sightings(facts, zone),
    })
}

fn searched_before(came: &Fact<'_>, searches: &HashMap<String, Vec<Instant>>) -> Option<Instant> {
    let times = searches.get(came.text("from_tank")?)?;
    times.iter().rev().find(|time| **time < came.written.time).copied()
}

fn sightings(facts: &[&Fact<'_>], zone: Tz) -> Vec<Sighting> {
    // Opening a case known dead is an examination, never an assisted hatch.
    let opened_at = facts.iter().find(|fact| fact.kind == "egg.opened.v1" && !fact.is("known_dead")).map(|fact| fact.written.time);
    let sighting = |fact: &&Fact<'_>| {
        let opened = opened_at.is_some_and(|opened| opened <= fact.written.time);
        seen(fact, opened, zone).map(|seen| Sighting { on: fact.written.time.day(zone), id: fact.id.to_owned(), seen })
    };
    facts.iter().filter_map(sighting).collect()
}

fn seen(fact: &Fact<'_>, opened: bool, zone: Tz) -> Option<Seen> {
    match fact.kind {
        "egg.candled.v1" if fact.text("movement") == Some("moving") => Some(Seen::Alive),
        "egg.candled.v1" => Some(Seen::Unclear),
        "egg.lost.v1" if fact.text("apparent_cause") == Some("no yolk") => Some(Seen::Infertile),
        "egg.lost.v1" => Some(Seen::Dead),
        "egg.removed.v1" if fact.text("alive") == Some("dead") => Some(Seen::Dead),
        "egg.removed.v1" => Some(Seen::Removed),
        "egg.hatched.v1" => Some(hatched(fact, opened, zone)),
        _ => None,
    }
}

/// At least one young wholly out and alive is a hatch; only dead ones is a lost case; none found
/// is a case lost from sight.
fn hatched(fact: &Fact<'_>, assisted: bool, zone: Tz) -> Seen {
    let young = fact.written.data.get("young").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
    let alive = |young: &Value| young.get("state").and_then(Value::as_str) == Some("alive");
    if young.is_empty() {
        return Seen::Missing;
    }
    if !young.iter().any(alive) {
        return Seen::Dead;
    }
    let exact = fact.text("how_known") != Some("found hatched");
    Seen::Hatched { exact, not_before: fact.written.timeafter.map(|after| after.day(zone)), assisted }
}
