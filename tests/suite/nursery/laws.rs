//! The laws of F21, on random histories with all kinds of acts, against a fold that is slow,
//! reads the notes as JSON, and shares nothing with the service's own.

use super::book::{Book, Draft, day, subject};
use super::runner::all_of;
use super::slow_groups::{quick_group, slow_group};
use proptest::prelude::*;
use selachron_record::domain::state::{AnimalFate, EggFate};
use selachron_record::domain::view::View;
use selachron_record::projections::Projections;
use selachron_schemas::names::Subject;
use selachron_schemas::time::{HOUR_MS, Instant};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Cases of these histories, and groups of the same names; young are named after their case.
const EGGS: [&str; 3] = ["A1", "B1", "C1"];

/// One thing that happens: what, to which case, when (in hours), and a number for the details.
#[derive(Debug, Clone)]
struct Deed {
    what: u8,
    egg: usize,
    hour: i64,
    detail: usize,
}

const WHATS: u8 = 24;

/// Deeds that are acts on notes.
const ACTS: std::ops::Range<u8> = 9..15;

fn deeds(most: usize, acts: bool) -> impl Strategy<Value = Vec<Deed>> {
    let whats = (0..WHATS).prop_filter("no acts", move |what| acts || !ACTS.contains(what));
    let deed = (whats, 0..EGGS.len(), 0..2000i64, 0..64usize).prop_map(|(what, egg, hour, detail)| Deed { what, egg, hour, detail });
    prop::collection::vec(deed, 1..most)
}

fn hour(number: i64) -> Instant {
    day(0).plus_ms(number * HOUR_MS)
}

fn collected(name: &str) -> Value {
    json!({"label": name, "species": subject("species", "S"), "from_tank": subject("tank", "Adults"), "laid": "unknown", "case": "whole",
        "yolk": "could not see", "to_tank": subject("tank", "Inc")})
}

/// Data of an ordinary deed, with its kind and subject. Young are named after case and number.
fn ordinary(deed: &Deed) -> (&'static str, String, Value) {
    let name = EGGS[deed.egg];
    let (egg, young) = (subject("egg", name), subject("animal", &format!("{name} {}", deed.detail % 2)));
    match deed.what {
        0 => ("egg.collected", egg, collected(name)),
        1 => ("egg.candled", egg, json!({"seen_into": true, "band": deed.detail % 8, "movement": (["moving", "still"][deed.detail % 2])})),
        2 => ("egg.moved", egg, json!({"to_tank": subject("tank", ["Inc", "Nur"][deed.detail % 2])})),
        3 => ("egg.held_apart", egg, json!({"reason": "cloudy"})),
        4 => ("egg.lost", egg, json!({"apparent_cause": "embryo died"})),
        5 => {
            let state = ["alive", "dead"][deed.detail / 2 % 2];
            (
                "egg.hatched",
                egg,
                json!({"how_known": "camera", "young": [{"animal": young, "state": state, "tank": subject("tank", "Nur")}]}),
            )
        }
        6 => ("animal.fed", young, json!({"offered": [{"food": "squid"}], "eaten": (["all", "none"][deed.detail % 2])})),
        7 => ("animal.moved", young, json!({"to_tank": subject("tank", ["Inc", "Nur"][deed.detail % 2])})),
        8 => ("animal.died", young, json!({"how_known": "found dead", "apparent_cause": "illness", "body": "frozen"})),
        _ => of_group(deed, name, young),
    }
}

/// The same of a group. Much of it does not add up, and has to be recorded and told all the same.
fn of_group(deed: &Deed, name: &str, young: String) -> (&'static str, String, Value) {
    let group = subject("group", name);
    let other = EGGS[(deed.egg + 1 + deed.detail % 2) % EGGS.len()];
    let few = |most: usize| json!({"males": deed.detail % most, "females": deed.detail / 2 % most, "unknown": 1 + deed.detail / 4 % most});
    let sex = ["male", "female", "unknown"][deed.detail % 3];
    match deed.what {
        15 => (
            "group.formed",
            group,
            json!({"label": format!("G {name}"), "species": subject("species", "S"), "counts": few(5), "how_counted": "by photo",
                "came": "received", "tank": subject("tank", "Nur")}),
        ),
        16 => ("group.counted", group, json!({"counts": few(4), "full": !deed.detail.is_multiple_of(4)})),
        17 => ("group.split", group, json!({"into": subject("group", other), "label": format!("G {other}"), "counts": few(2)})),
        18 => ("group.merged", group, json!({"from_group": subject("group", other), "counts": few(3)})),
        19 => ("group.moved", group, json!({"to_tank": subject("tank", ["Inc", "Nur"][deed.detail % 2])})),
        20 => ("group.died", group, json!({"counts": few(2), "how_known": "found dead", "apparent_cause": "illness", "body": "frozen"})),
        21 => (
            "animal.told_apart",
            subject("animal", &format!("{name} T")),
            json!({"group": group, "counted_as": sex, "label": format!("{name} T"), "sex": sex, "how_told": "by its pattern"}),
        ),
        22 => ("animal.grouped", young, json!({"group": group, "counted_as": sex, "reason": "they look alike"})),
        _ => ("group.fed", group, json!({"offered": [{"food": "squid"}], "eaten": (["all", "none"][deed.detail % 2])})),
    }
}

/// What an act on the note at `target` says: six ways to put right or take back, any of which may
/// be on another act. `None` where there is nothing to act on, or the agreement refuses it.
fn act(book: &Book, deed: &Deed, first: u64) -> Option<Draft> {
    let past = book.size().checked_sub(first).filter(|count| *count > 0)?;
    let target = first + deed.detail as u64 * 7 % past;
    let event = book.event(target);
    let mut behind = target;
    while let Some(id) = book.event(behind).data.get("target").and_then(Value::as_str) {
        behind = book.notes.iter().position(|(_, event)| event.id == id).unwrap() as u64;
    }
    let kind = &book.event(behind).kind;
    let noun = book.event(behind).subject.noun().to_owned();
    let replacement = match deed.what {
        9 => json!({"time": hour(deed.hour).utc_text()}),
        10 => json!({"time": hour(deed.hour).utc_text(), "timeafter": hour(deed.hour - 5).utc_text()}),
        11 => json!({"timeafter": hour(deed.hour).utc_text()}),
        12 if noun == "egg" => json!({"subject": subject("egg", EGGS[deed.egg])}),
        13 => {
            // The same kind of note with other details.
            let again =
                (0..WHATS).filter(|what| !ACTS.contains(what)).map(|what| Deed { what, ..deed.clone() }).map(|deed| ordinary(&deed));
            let (_, _, data) = again.into_iter().find(|(name, _, _)| format!("{name}.v1") == *kind)?;
            json!({ "data": data })
        }
        12 => return None,
        _ => {
            let data = json!({"target": event.id, "reason": "not so"});
            return Some(Draft::new("record.retracted", event.subject.as_str(), hour(deed.hour), data));
        }
    };
    if event.kind == "record.retracted.v1" {
        return None;
    }
    let data = json!({"target": event.id, "reason": "a slip", "replacement": replacement});
    Some(Draft::new("record.corrected", event.subject.as_str(), hour(deed.hour), data))
}

fn write(book: &mut Book, deed: &Deed, first: u64) {
    if !ACTS.contains(&deed.what) {
        let (kind, about, data) = ordinary(deed);
        // Everything arrives when all has happened: no device's clock is ahead.
        book.write(Draft { recorded_at: Some(hour(60_000)), ..Draft::new(kind, &about, hour(deed.hour), data) });
    } else if let Some(draft) = act(book, deed, first) {
        book.write(draft);
    }
}

fn written(deeds: &[Deed]) -> (Book, u64) {
    let mut book = Book::founded();
    let first = book.size();
    for deed in deeds {
        write(&mut book, deed, first);
    }
    (book, first)
}

/// A note as the slow fold sees it: its members, or nothing.
pub type Members = BTreeMap<&'static str, Value>;

/// value(x) by the words of F21, asked again for every act.
fn value(book: &Book, seq: u64, size: u64) -> Option<Members> {
    let event = book.event(seq);
    let mut own = Members::from([
        ("time", json!(event.time.utc_text())),
        ("subject", json!(event.subject)),
        ("data", Value::Object(event.data.clone())),
    ]);
    event.timeafter.map(|after| own.insert("timeafter", json!(after.utc_text())));
    let acts = (seq + 1..size).rev().filter(|act| book.event(*act).data.get("target").and_then(Value::as_str) == Some(&event.id));
    let newest = acts.filter_map(|act| Some((act, value(book, act, size)?))).next();
    match newest {
        None => Some(own),
        Some((act, _)) if book.event(act).kind == "record.retracted.v1" => None,
        Some((_, act)) => {
            let replacement = act["data"]["replacement"].as_object().unwrap().clone();
            if event.kind == "record.corrected.v1" {
                let merged = own.get_mut("data").unwrap()["replacement"].as_object_mut().unwrap();
                replacement.into_iter().for_each(|(name, member)| drop(merged.insert(name, member)));
            } else {
                for name in ["time", "timeafter", "subject", "data"] {
                    replacement.get(name).map(|member| own.insert(name, member.clone()));
                }
            }
            Some(own)
        }
    }
}

fn instant(members: &Members, name: &str) -> Option<Instant> {
    members.get(name).and_then(Value::as_str).map(|text| Instant::parse(text).unwrap())
}

/// Notes that stand at (V, S), in order.
fn standing(book: &Book, as_of: Instant, size: u64) -> Vec<(String, Members)> {
    let is_act = |seq: u64| book.event(seq).data.contains_key("target");
    let governs = |seq: u64| ["collection", "key"].contains(&book.event(seq).subject.noun());
    let seqs = (0..size).filter(|seq| !is_act(*seq) && !governs(*seq));
    let mut notes: Vec<(Instant, u64, Members)> =
        seqs.filter_map(|seq| value(book, seq, size).map(|members| (instant(&members, "time").unwrap(), seq, members))).collect();
    notes.retain(|(time, _, _)| *time <= as_of);
    notes.sort_by_key(|(time, seq, _)| (*time, *seq));
    notes.into_iter().map(|(_, seq, members)| (book.event(seq).kind.clone(), members)).collect()
}

pub fn text<'a>(members: &'a Members, pointer: &str) -> &'a str {
    members["data"].pointer(pointer).and_then(Value::as_str).unwrap_or_default()
}

/// What the slow fold says of a case: place, band, fate, looks; `None` before it came.
fn slow_egg(notes: &[(String, Members)], id: &str) -> Option<Value> {
    let own: Vec<_> = notes.iter().filter(|(_, members)| members["subject"] == json!(id)).collect();
    let came = own.iter().find(|(kind, _)| kind == "egg.collected.v1")?;
    let (mut place, mut band, mut fate, mut looks) = (json!(text(&came.1, "/to_tank")), Value::Null, "open", 0);
    for (kind, members) in &own {
        match kind.as_str() {
            "egg.candled.v1" => {
                looks += 1;
                band = members["data"]["band"].clone();
                if text(members, "/movement") == "moving" && fate == "lost" {
                    fate = "open";
                }
            }
            "egg.moved.v1" => place = members["data"]["to_tank"].clone(),
            "egg.lost.v1" if fate == "open" => fate = "lost",
            "egg.hatched.v1" if text(members, "/young/0/state") == "alive" => fate = "hatched",
            "egg.hatched.v1" if fate == "open" => fate = "lost",
            _ => {}
        }
    }
    Some(json!([place, band, fate, looks]))
}

fn quick_egg(view: &View<'_>, id: &Subject) -> Option<Value> {
    let egg = view.egg(id)?;
    let fate = match egg.fate {
        EggFate::Open => "open",
        EggFate::Hatched { .. } => "hatched",
        EggFate::Lost { .. } => "lost",
        _ => "other",
    };
    Some(json!([egg.place.map(|place| place.tank), egg.band, fate, egg.looks.len()]))
}

/// What the slow fold says of a young: place, fate, feedings.
fn slow_animal(notes: &[(String, Members)], id: &str) -> Option<Value> {
    let (_, hatch) = notes.iter().find(|(kind, members)| kind == "egg.hatched.v1" && text(members, "/young/0/animal") == id)?;
    let mut place = hatch["data"]["young"][0]["tank"].clone();
    let mut fate = if text(hatch, "/young/0/state") == "alive" { "present" } else { "dead at hatch" };
    let mut feeds = 0;
    for (kind, members) in notes.iter().filter(|(_, members)| members["subject"] == json!(id)) {
        match kind.as_str() {
            "animal.fed.v1" => feeds += 1,
            "animal.moved.v1" => place = members["data"]["to_tank"].clone(),
            "animal.died.v1" if fate == "present" => fate = "dead",
            "animal.grouped.v1" if fate == "present" => fate = "grouped",
            _ => {}
        }
    }
    Some(json!([place, fate, feeds]))
}

fn quick_animal(view: &View<'_>, id: &Subject) -> Option<Value> {
    let animal = view.animal(id)?;
    let fate = match animal.fate {
        AnimalFate::Present => "present",
        AnimalFate::DeadAtHatch { .. } => "dead at hatch",
        AnimalFate::Died { .. } => "dead",
        AnimalFate::Grouped { .. } => "grouped",
        _ => "other",
    };
    Some(json!([animal.place.map(|place| place.tank), fate, animal.feeds]))
}

/// Both folds of every case, young and group at (V, S).
fn compared(projections: &Projections, book: &Book, as_of: Instant, size: u64) -> Result<(), TestCaseError> {
    let notes = standing(book, as_of, size);
    projections.at(as_of, size, |view| {
        for name in EGGS {
            let id = subject("egg", name);
            prop_assert_eq!(quick_egg(view, &Subject::parse(&id).unwrap()), slow_egg(&notes, &id), "egg {} at {:?}, {}", name, as_of, size);
            let id = subject("group", name);
            prop_assert_eq!(
                quick_group(view, &Subject::parse(&id).unwrap()),
                slow_group(&notes, &id),
                "group {} at {:?}, {}",
                name,
                as_of,
                size
            );
            for young in 0..2 {
                let id = subject("animal", &format!("{name} {young}"));
                let quick = quick_animal(view, &Subject::parse(&id).unwrap());
                prop_assert_eq!(quick, slow_animal(&notes, &id), "young {} of {} at {:?}, {}", young, name, as_of, size);
            }
        }
        Ok(())
    })
}

fn state(projections: &Projections, as_of: Instant, size: u64) -> Value {
    projections.at(as_of, size, all_of)
}

/// Eggs, animals and groups only: what the order of arrival must not touch.
fn creatures(projections: &Projections) -> Value {
    projections.at(Instant::END, u64::MAX, |view| json!([view.eggs(), view.animals(), view.groups()]))
}

/// The same without what rests on existence, which is judged by the log's position (F21): an act that
/// once brought something into the record has done so, also when it is taken back.
fn but_existence(mut creatures: Value) -> Value {
    for creature in creatures.as_array_mut().into_iter().flatten().filter_map(Value::as_array_mut).flatten() {
        if let Some(found) = creature["discrepancies"].as_array_mut() {
            found.retain(|one| one["kind"] != "names something unknown");
        }
    }
    creatures
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 160, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_fold_is_that_of_the_format(deeds in deeds(36, true), as_of in 0..2100i64) {
        let (book, first) = written(&deeds);
        let projections = book.learned();
        for size in [first, (first + book.size()) / 2, book.size()] {
            compared(&projections, &book, hour(as_of), size)?;
            compared(&projections, &book, hour(9999), size)?;
        }
    }

    #[test]
    fn what_was_known_stays_as_it_was_known(deeds in deeds(24, true), as_of in 0..2100i64) {
        let (book, first) = written(&deeds);
        let grown = book.learned();
        let mut shorter = Book::founded();
        for deed in &deeds {
            write(&mut shorter, deed, first);
            let size = shorter.size();
            prop_assert!(state(&shorter.learned(), hour(as_of), size) == state(&grown, hour(as_of), size), "at size {}", size);
        }
    }

    #[test]
    fn an_act_taken_back_leaves_no_trace_in_the_state(deeds in deeds(24, true), last in (ACTS, 0..EGGS.len(), 0..2000i64, 0..64usize)) {
        let (mut book, first) = written(&deeds);
        let before = but_existence(creatures(&book.learned()));
        let (what, egg, hour_of, detail) = last;
        if let Some(draft) = act(&book, &Deed { what, egg, hour: hour_of, detail }, first) {
            let about = draft.subject.clone();
            let seq = book.write(draft);
            let back = json!({"target": book.event(seq).id, "reason": "it was right"});
            book.write(Draft::new("record.retracted", &about, hour(2000), back));
        }
        let after = book.learned();
        // Discrepancies may know of the act's paperwork; what the creatures are must be the same.
        prop_assert!(but_existence(creatures(&after)) == before);
    }

    #[test]
    fn correcting_makes_nothing_vanish(deeds in deeds(24, true)) {
        let corrections: Vec<Deed> = deeds.iter().filter(|deed| deed.what != 14).cloned().collect();
        let (book, first) = written(&corrections);
        let ordinary = (first..book.size()).filter(|seq| !book.event(*seq).data.contains_key("target"));
        let projections = book.learned();
        projections.at(Instant::END, u64::MAX, |view| {
            for seq in ordinary {
                let fact = view.fact(seq);
                prop_assert!(fact.is_some(), "note {} is gone", seq);
                let fact = fact.unwrap();
                prop_assert!(view.history(fact.subject()).iter().any(|note| note.seq == seq));
            }
            Ok(())
        })?;
    }

    #[test]
    fn the_order_of_arrival_does_not_matter(deeds in deeds(16, false), shuffle in any::<u64>()) {
        let distinct: Vec<Deed> = deeds.iter().zip(0..).map(|(deed, place)| Deed { hour: deed.hour * 20 + place, ..deed.clone() }).collect();
        // Each note keeps its id and count: only its place in the log changes.
        let (book, first) = written(&distinct);
        let mut order: Vec<u64> = (first..book.size()).collect();
        let mut seed = shuffle;
        for at in (1..order.len()).rev() {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            order.swap(at, usize::try_from(seed >> 33).unwrap() % (at + 1));
        }
        let shuffled = book.rearranged(first, &order);
        prop_assert!(creatures(&shuffled.learned()) == creatures(&book.learned()));
    }

    #[test]
    fn live_answers_are_rebuilt_answers_byte_for_byte(deeds in deeds(24, true), withheld in prop::option::of(0..24usize)) {
        let mut book = Book::founded();
        let first = book.size();
        let live = Projections::new();
        for deed in &deeds {
            write(&mut book, deed, first);
            live.catch_up(&book.store, book.size()).unwrap();
            // Asking changes nothing.
            drop(state(&live, hour(deed.hour), book.size()));
        }
        if let Some(target) = withheld.map(|at| first + at as u64).filter(|seq| *seq < book.size() && !book.event(*seq).data.contains_key("target")) {
            let data = Value::Object(book.event(target).data.clone());
            book.withhold(target, (target % 2 == 0).then_some(data));
            live.catch_up(&book.store, book.size()).unwrap();
        }
        let rebuilt = book.learned();
        for size in [first, (first + book.size()) / 2, book.size()] {
            let bytes = |projections: &Projections| state(projections, hour(1000), size).to_string();
            prop_assert!(bytes(&live) == bytes(&rebuilt), "at size {}", size);
        }
    }

    #[test]
    fn what_is_cut_off_is_as_if_it_had_never_come(deeds in deeds(24, true)) {
        let (book, first) = written(&deeds);
        let middle = (first + book.size()) / 2;
        let (whole, cut) = (book.learned(), book.learned_and_cut(middle));
        prop_assert_eq!(cut.at(hour(3000), middle).known_at(), middle);
        prop_assert!(state(&whole, hour(3000), middle) == all_of(&cut.at(hour(3000), u64::MAX)));
    }
}
