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

/// A note that stands, with its corrections laid over.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its place in the log.
    pub seq: u64,
    /// When it happened.
    pub time: Instant,
    /// It happened after this.
    pub timeafter: Option<Instant>,
    /// What it is about.
    pub subject: Subject,
    /// What it says.
    pub data: Map<String, Value>,
}

impl Standing {
    fn text(&self, name: &str) -> Option<&str> {
        self.data.get(name).and_then(Value::as_str)
    }

    fn is(&self, name: &str) -> bool {
        self.data.get(name).and_then(Value::as_bool) == Some(true)
    }

    /// The cases that a consignment takes away, as text, and how each left.
    fn sent(&self) -> impl Iterator<Item = (&str, Option<&str>)> {
        let items = self.data.get("items").filter(|_| self.kind == SENT).and_then(Value::as_array).into_iter().flatten();
        items.filter_map(|item| Some((item.get("which")?.as_str()?, item.get("alive").and_then(Value::as_str))))
    }
}

/// The kind by which things leave together.
const SENT: &str = "consignment.sent.v1";

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
    of_standing(standing(events), zone)
}

/// The cases of notes that stand, in whatever order: of the notes about cases those that somebody
/// already laid the corrections over, searches of tanks and consignments among them. The days are
/// those of `zone`.
#[must_use]
pub fn of_standing(mut facts: Vec<Standing>, zone: Tz) -> Cases {
    facts.sort_by_key(|fact| (fact.time, fact.seq));
    let searches = whole_searches(&facts);
    let mut by_egg: BTreeMap<String, Vec<&Standing>> = BTreeMap::new();
    for fact in &facts {
        if fact.subject.noun() == "egg" {
            by_egg.entry(fact.subject.to_string()).or_default().push(fact);
        }
        for (which, _) in fact.sent().filter(|(which, _)| which.starts_with("egg/")) {
            by_egg.entry(which.to_owned()).or_default().push(fact);
        }
    }
    let mut cases: Vec<(u64, Case)> = Vec::new();
    let mut without_age = Vec::new();
    for (egg, facts) in &by_egg {
        let Some(came) = facts.iter().find(|fact| matches!(fact.kind.as_str(), "egg.collected.v1" | "egg.received.v1")) else { continue };
        match case(egg, came, facts, &searches, zone) {
            Some(case) => cases.push((came.seq, case)),
            None => without_age.push(egg.clone()),
        }
    }
    cases.sort_by_key(|(seq, _)| *seq);
    let last_day = facts.iter().map(|fact| fact.time.day(zone)).max();
    Cases { cases: cases.into_iter().map(|(_, case)| case).collect(), without_age, last_day }
}

/// The notes that stand.
fn standing(events: &[Event]) -> Vec<Standing> {
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
    let mut facts: Vec<Standing> = Vec::new();
    for (place, event) in events.iter().enumerate() {
        let seq = place as u64;
        if let Some(Written { time, timeafter, subject, data }) = value_of(seq, events.len() as u64, &acts, &at) {
            facts.push(Standing { id: event.id.clone(), kind: event.kind.clone(), seq, time, timeafter, subject, data });
        }
    }
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
fn whole_searches(facts: &[Standing]) -> HashMap<String, Vec<Instant>> {
    let mut searches: HashMap<String, Vec<Instant>> = HashMap::new();
    for fact in facts.iter().filter(|fact| fact.kind == "tank.searched.v1" && fact.is("whole_tank")) {
        searches.entry(fact.subject.to_string()).or_default().push(fact.time);
    }
    searches
}

/// A case; `None` where nobody knows when it was laid.
fn case(egg: &str, came: &Standing, facts: &[&Standing], searches: &HashMap<String, Vec<Instant>>, zone: Tz) -> Option<Case> {
    let came_on = came.time.day(zone);
    let received = came.kind == "egg.received.v1";
    let (age_0_on, laid_not_before) = if received {
        let laid = came.text("laid_on_estimate").and_then(|day| day.parse().ok())?;
        // An estimate is one day; how far it may be off is not among the members of the note.
        (laid, None)
    } else {
        let after = came.timeafter.or_else(|| searched_before(came, searches));
        (came_on, after.map(|after| after.day(zone)))
    };
    Some(Case {
        egg: egg.to_owned(),
        age_0_on,
        laid_not_before,
        entered_on: received.then_some(came_on),
        dead_on_entry: received && came.text("state") == Some("dead"),
        came_by: Some(came.id.clone()),
        sightings: sightings(egg, facts, zone),
    })
}

fn searched_before(came: &Standing, searches: &HashMap<String, Vec<Instant>>) -> Option<Instant> {
    let times = searches.get(came.text("from_tank")?)?;
    times.iter().rev().find(|time| **time < came.time).copied()
}

fn sightings(egg: &str, facts: &[&Standing], zone: Tz) -> Vec<Sighting> {
    // Opening a case known dead is an examination, never an assisted hatch.
    let opened_at = facts.iter().find(|fact| fact.kind == "egg.opened.v1" && !fact.is("known_dead")).map(|fact| fact.time);
    let sighting = |fact: &&Standing| {
        let opened = opened_at.is_some_and(|opened| opened <= fact.time);
        seen(egg, fact, opened, zone).map(|seen| Sighting { on: fact.time.day(zone), id: fact.id.clone(), seen })
    };
    facts.iter().filter_map(sighting).collect()
}

fn seen(egg: &str, fact: &Standing, opened: bool, zone: Tz) -> Option<Seen> {
    let left = |alive: Option<&str>| if alive == Some("dead") { Seen::Dead } else { Seen::Removed };
    match fact.kind.as_str() {
        "egg.candled.v1" | "egg.examined.v1" => Some(looked(fact)),
        "egg.lost.v1" if fact.text("apparent_cause") == Some("no yolk") => Some(Seen::Infertile),
        "egg.lost.v1" => Some(Seen::Dead),
        "egg.removed.v1" => Some(left(fact.text("alive"))),
        SENT => fact.sent().find(|(which, _)| *which == egg).map(|(_, alive)| left(alive)),
        // A living embryo that was put down left by decision: never a death of its own (DOMAIN section 4).
        "egg.put_down.v1" => Some(left(fact.text("alive").filter(|alive| *alive == "no").map(|_| "dead"))),
        "egg.missing.v1" => Some(Seen::Missing),
        "egg.found.v1" | "egg.moved.v1" | "egg.held_apart.v1" | "egg.tended.v1" | "egg.opened.v1" => Some(Seen::InHand),
        "egg.hatched.v1" => Some(hatched(fact, opened, zone)),
        _ => None,
    }
}

/// Movement or a beating heart is life; whatever else a look shows, the case is still closed.
fn looked(fact: &Standing) -> Seen {
    let alive = fact.text("movement") == Some("moving") || fact.text("heartbeat") == Some("seen");
    if alive { Seen::Alive } else { Seen::NotHatched }
}

/// At least one young wholly out and alive is a hatch; only dead ones is a lost case; none found
/// is a case lost from sight.
fn hatched(fact: &Standing, assisted: bool, zone: Tz) -> Seen {
    let young = fact.data.get("young").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
    let alive = |young: &Value| young.get("state").and_then(Value::as_str) == Some("alive");
    if young.is_empty() {
        return Seen::Missing;
    }
    if !young.iter().any(alive) {
        return Seen::Dead;
    }
    let exact = fact.text("how_known") != Some("found hatched");
    Seen::Hatched { exact, not_before: fact.timeafter.map(|after| after.day(zone)), assisted }
}
