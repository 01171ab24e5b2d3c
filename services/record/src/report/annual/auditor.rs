//! The part for the auditor: how long notes took, who wrote afterwards and who put right, what rounds left
//! unseen, and numbers that a key used twice. Notes are those that the log took in the months.

use super::table::{Behind, Part, PartTable, number, words};
use super::window::Window;
use crate::domain::note::Note;
use crate::report::numbers::{proportion, rounded};
use selachron_schemas::fold::Entry;
use selachron_schemas::names::{KeyId, Subject};
use selachron_schemas::time::HOUR_MS;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Decimals of hours.
const HOURS_DECIMALS: u32 = 2;

/// The auditor's part.
pub fn auditor(window: &Window<'_, '_>) -> Part {
    let view = window.view;
    let until = window.days.until(view.as_of());
    let taken = |note: &&Note| (window.days.start..=until).contains(&note.recorded_at);
    let notes: Vec<&Note> = (0..view.known_at()).map(|seq| view.nursery().note(seq)).filter(taken).collect();
    Part { tables: vec![delays(&notes), persons(window, &notes), rounds(window), keys_twice(window)] }
}

/// Hours of one kind of waiting.
#[derive(Default)]
struct Hours(Vec<f64>);

impl Hours {
    fn add(&mut self, from_ms: i64, to_ms: i64) {
        self.0.push((to_ms - from_ms) as f64 / HOUR_MS as f64);
    }

    /// Median and the value that 95 of 100 do not exceed, by the nearest rank.
    fn told(mut self) -> [Value; 2] {
        self.0.sort_by(f64::total_cmp);
        let rank = |part: usize| {
            let at = (self.0.len() * part).div_ceil(100).checked_sub(1)?;
            self.0.get(at).map(|hours| rounded(*hours, HOURS_DECIMALS))
        };
        [json!(rank(50)), json!(rank(95))]
    }
}

/// Roles of authors, as lines of the table of delays.
fn role_of(note: &Note) -> &'static str {
    let role = note.author().and_then(|author| author.holder.as_ref()).and_then(|holder| holder.roles.first());
    role.map_or("root or not known", |role| role.word())
}

fn delays(notes: &[&Note]) -> PartTable {
    let mut table = PartTable::new(
        "delays",
        "Hours between happening, signing and receiving",
        "Notes that the log took in these months, by the first role of their author. Happening is what the note says as it was first written; \
         95 %: so many of a hundred took no longer (nearest rank).",
        vec![
            words("role", "Author's role"),
            number("notes", "notes"),
            number("happening_to_signing_median_h", "happening to signing, median"),
            number("happening_to_signing_95_h", "95 %"),
            number("signing_to_receiving_median_h", "signing to receiving, median"),
            number("signing_to_receiving_95_h", "95 %"),
        ],
    );
    for (role, notes) in delayed(notes) {
        let (mut signing, mut receiving) = (Hours::default(), Hours::default());
        for note in &notes {
            let Some(signed) = note.signedtime else { continue };
            let happened = note.written().map_or(signed, |written| written.time);
            signing.add(happened.0, signed.0);
            receiving.add(signed.0, note.recorded_at.0);
        }
        let ([signing_median, signing_95], [receiving_median, receiving_95]) = (signing.told(), receiving.told());
        let cells = [json!(role), json!(notes.len()), signing_median, signing_95, receiving_median, receiving_95];
        table.row(cells, Behind::figure(format!("delays/{role}/notes")));
    }
    table
}

/// Notes that say when they were signed, all of them and by the first role of their author.
pub(super) fn delayed<'n>(notes: &[&'n Note]) -> Vec<(&'static str, Vec<&'n Note>)> {
    let mut by_role: BTreeMap<&str, Vec<&Note>> = BTreeMap::new();
    for note in notes.iter().filter(|note| note.signedtime.is_some()) {
        by_role.entry(role_of(note)).or_default().push(note);
    }
    let all: Vec<&Note> = by_role.values().flatten().copied().collect();
    [("all", all)].into_iter().chain(by_role).collect()
}

/// What one person wrote.
#[derive(Default)]
struct Wrote {
    notes: u64,
    afterwards: u64,
    acts: u64,
    of_own: u64,
    retracted: u64,
    events: BTreeSet<crate::domain::state::EventId>,
}

fn persons(window: &Window<'_, '_>, notes: &[&Note]) -> PartTable {
    let mut table = PartTable::new(
        "persons",
        "Written afterwards, and put right",
        "Notes that the log took in these months. Written afterwards: the author says why it is late. Of own notes: the author of the \
         correction is the author of the note. The notes behind a line are those written afterwards, its corrections and its retractions.",
        vec![
            words("person", "Person"),
            number("notes", "notes"),
            number("afterwards", "written afterwards"),
            number("afterwards_share", "share"),
            number("corrections", "corrections and retractions"),
            number("retractions", "of these: retractions"),
            number("of_own_notes", "of own notes"),
        ],
    );
    let mut by_person: BTreeMap<&str, Wrote> = BTreeMap::new();
    for note in notes {
        let wrote = by_person.entry(note.person().unwrap_or("not known")).or_default();
        wrote.notes += 1;
        if note.latereason.is_some() {
            wrote.afterwards += 1;
            wrote.events.insert(note.id);
        }
        if let Entry::Act { .. } = note.entry {
            wrote.acts += 1;
            wrote.retracted += u64::from(note.kind == "record.retracted.v1");
            let first = window.view.nursery().note(window.view.nursery().behind(note.seq));
            wrote.of_own += u64::from(note.person().is_some() && first.person() == note.person());
            wrote.events.insert(note.id);
        }
    }
    for (person, wrote) in by_person {
        let share = proportion(wrote.afterwards as f64 / wrote.notes as f64);
        let counts = [wrote.acts, wrote.retracted, wrote.of_own].map(|count| json!(count));
        let [acts, retracted, of_own] = counts;
        let cells = [json!(person), json!(wrote.notes), json!(wrote.afterwards), json!(share), acts, retracted, of_own];
        table.row(cells, Behind::figure(format!("writers/{person}/notes_of_year")).on(wrote.events));
    }
    table
}

fn rounds(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "rounds",
        "Rounds closed with something not seen",
        "Rounds closed in these months that named what was not looked at, or left something out of their account.",
        vec![
            words("round", "Round"),
            words("person", "person"),
            words("closed_on", "closed"),
            number("looked_at", "looked at"),
            number("named_not_seen", "named as not seen"),
            number("not_accounted_for", "neither"),
        ],
    );
    let view = window.closing_view;
    let mut rounds: Vec<_> = view.subjects("round").filter_map(|id| view.round(id)).collect();
    rounds.sort_by(|a, b| (a.opened.when.time, &a.id).cmp(&(b.opened.when.time, &b.id)));
    for round in rounds {
        let Some(closed) = round.closed.as_ref().filter(|closed| window.has(closed.when)) else { continue };
        let named = &closed.told.not_looked_at;
        let neither = round.not_yet.iter().filter(|thing| !named.iter().any(|one| one.which == **thing)).count();
        if named.is_empty() && neither == 0 {
            continue;
        }
        let counts = [round.looked_at.len(), named.len(), neither].map(|count| json!(count));
        let [looked_at, named, neither] = counts;
        let cells = [json!(round.opened.told.label), json!(round.person), window.day(closed.when), looked_at, named, neither];
        table.row(cells, Behind::of(&round.id).on([round.opened.when.event, closed.when.event]));
    }
    table
}

fn keys_twice(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "keys_twice",
        "Keys that were on more than one device",
        "A key counts its notes. A number used twice means that the key was used in two places, or that a device was put back from a copy.",
        vec![
            words("person", "Person"),
            words("device", "device as enrolled"),
            number("numbers_twice", "numbers used twice"),
            words("key", "key"),
        ],
    );
    let (view, index) = (window.view, window.view.nursery().index());
    let mut by_key: BTreeMap<KeyId, Vec<u64>> = BTreeMap::new();
    for (keyid, count) in &index.doubled {
        let used = index.counts.get(keyid).and_then(|counts| counts.get(count)).into_iter().flatten();
        let known: Vec<u64> = used.copied().filter(|seq| *seq < view.known_at()).collect();
        if known.len() > 1 {
            by_key.entry(*keyid).or_default().extend(known);
        }
    }
    for (keyid, seqs) in by_key {
        let subject = Subject::key(keyid);
        let key = view.key(&subject);
        let numbers: BTreeSet<u32> = seqs.iter().map(|seq| view.nursery().note(*seq).keycount).collect();
        let (person, device) = key.map_or((Value::Null, Value::Null), |key| (json!(key.person), json!(key.device)));
        let cells = [person, device, json!(numbers.len()), json!(keyid.to_string())];
        table.row(cells, Behind::of(&subject).on(seqs.iter().map(|seq| view.nursery().note(*seq).id)));
    }
    table
}
