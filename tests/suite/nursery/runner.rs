//! Runs a story. A line is a note and what is answered to it:
//!
//! ```text
//! [tag] day 20 10:30 by trainee with curator,vet  egg A1 candled band 2 -> recorded, discrepancy: hatched twice; …
//! ```
//!
//! or a look at what is so: `egg A1 is hatched after opening`, optionally `as of day 30` and
//! `known at tag` in front. A name ending in `'` is another subject that bears the same label.
//! `arrives day 30` lets a note wait on its device. After the last line everything is rebuilt from the notes and must
//! be the same.

use super::book::{Book, DAY_0, Draft, Who, day, subject};
use selachron_record::domain::discrepancy::Discrepancy;
use selachron_record::domain::state::{AnimalFate, Egg, EggFate};
use selachron_record::domain::view::View;
use selachron_record::projections::Projections;
use selachron_schemas::names::Subject;
use selachron_schemas::time::{HOUR_MS, Instant, MINUTE_MS};
use serde_json::{Value, json};
use std::collections::HashMap;
use std::str::SplitWhitespace;

/// A story as far as it has been told.
pub struct World {
    pub book: Book,
    pub projections: Projections,
    tags: HashMap<String, u64>,
}

/// Tells a story and checks every line.
#[track_caller]
pub fn check(story: &str) -> World {
    let book = Book::founded();
    let mut world = World { projections: book.learned(), book, tags: HashMap::new() };
    for line in story.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#')) {
        world.line(line);
    }
    assert_eq!(everything(&world.projections), everything(&world.book.learned()), "rebuilt answers differ");
    world
}

/// Everything that can be asked, as bytes.
pub fn everything(projections: &Projections) -> String {
    projections.at(day(400), u64::MAX, |view| all_of(view).to_string())
}

/// The same of one view.
pub fn all_of(view: &View<'_>) -> Value {
    let subjects: Vec<&Subject> = view.nursery().index().mentions.keys().collect();
    json!({
        "eggs": view.eggs(), "clutches": view.clutches(), "authorisations": view.authorisations(), "animals": view.animals(), "groups": view.groups(), "tanks": view.tanks(), "systems": view.systems(),
        "species": view.species_list(), "keys": view.keys(), "policy": view.policy(), "due": view.due(view.as_of()),
        "discrepancies": view.discrepancies(),
        "histories": subjects.iter().map(|subject| json!([subject, view.history(subject)])).filter(|told| told[1] != json!([])).collect::<Vec<_>>(),
    })
}

impl World {
    /// What the answer to the note at `seq` tells.
    pub fn odd(&self, seq: u64) -> Vec<Discrepancy> {
        self.projections.discrepancies_of(&[seq]).remove(0)
    }

    /// How many notes are known once the tagged one is.
    pub fn size_at(&self, tag: &str) -> u64 {
        self.tags[tag] + 1
    }

    fn line(&mut self, line: &str) {
        match line.split_once("->") {
            Some((note, expected)) => self.note(line, note, expected),
            None => self.look(line),
        }
    }

    fn note(&mut self, line: &str, note: &str, expected: &str) {
        let (tag, note) = match note.trim().strip_prefix('[').and_then(|rest| rest.split_once(']')) {
            Some((tag, rest)) => (Some(tag.to_owned()), rest),
            None => (None, note),
        };
        let draft = self.draft(&mut note.split_whitespace());
        let seq = self.book.write(draft);
        self.projections.catch_up(&self.book.store, seq + 1).unwrap();
        tag.map(|tag| self.tags.insert(tag, seq));
        let found: Vec<String> = self.odd(seq).iter().map(|found| found.kind.to_owned()).collect();
        let mut wanted =
            expected.trim().strip_prefix("recorded").expect("every line of a story is recorded").trim_start_matches(", discrepancy:");
        wanted = wanted.trim();
        let mut wanted: Vec<String> = wanted.split(';').map(str::trim).filter(|word| !word.is_empty()).map(str::to_owned).collect();
        let mut found = found;
        wanted.sort();
        found.sort();
        assert_eq!(found, wanted, "{line}");
    }

    fn draft(&self, words: &mut SplitWhitespace<'_>) -> Draft {
        let mut draft = Draft::new("", "", day(0), json!({}));
        loop {
            let word = words.next().expect("a line has a noun");
            match word {
                "day" => draft.time = day_of(words),
                "after" => draft.timeafter = Some(day_of(words)),
                "signed" => draft.signedtime = Some(day_of(words)),
                "arrives" => draft.recorded_at = Some(day_of(words)),
                "count" => draft.keycount = words.next().and_then(|word| word.parse().ok()),
                "by" => draft.by = Who::named(words.next().unwrap()),
                "with" => draft.with = words.next().unwrap().split(',').map(Who::named).collect(),
                time if time.contains(':') => draft.time = draft.time.plus_ms(clock_ms(time)),
                "egg" | "animal" | "clutch" | "group" | "tank" | "system" | "species" => {
                    let name = words.next().unwrap();
                    draft.subject = subject(word, name);
                    (draft.kind, draft.data) = self.raw(word, words).unwrap_or_else(|| told(word, name, words));
                    break;
                }
                "about" => {
                    let noun = words.next().unwrap();
                    draft.subject = if noun == "collection" { noun.to_owned() } else { subject(noun, words.next().unwrap()) };
                    draft.kind = words.next().unwrap().to_owned();
                    draft.data = self.json(&words.collect::<Vec<_>>().join(" "));
                    break;
                }
                _ => {
                    self.about_the_record(&mut draft, word, words);
                    break;
                }
            }
        }
        draft.kind.push_str(if draft.kind.ends_with(".v1") { "" } else { ".v1" });
        draft
    }

    /// A verb and its data in JSON, if that is what follows.
    fn raw(&self, noun: &str, words: &mut SplitWhitespace<'_>) -> Option<(String, Value)> {
        let mut ahead = words.clone();
        let verb = ahead.next()?;
        let text = ahead.collect::<Vec<_>>().join(" ");
        text.starts_with('{').then(|| {
            words.by_ref().for_each(drop);
            (format!("{noun}.{verb}"), self.json(&text))
        })
    }

    fn json(&self, text: &str) -> Value {
        super::raw::data(text, &|tag| self.book.event(self.tags[tag]).id.clone())
    }

    /// Acts, endorsements, counts, keys and policy.
    fn about_the_record(&self, draft: &mut Draft, verb: &str, words: &mut SplitWhitespace<'_>) {
        let seq_of = |tag: &str| self.tags.get(tag).copied().unwrap_or_else(|| panic!("no line is tagged {tag}"));
        let id = |seq: u64| self.book.event(seq).id.clone();
        match verb {
            "retract" | "correct" => {
                let target = seq_of(words.next().unwrap());
                draft.subject = self.book.event(target).subject.to_string();
                draft.kind = if verb == "retract" { "record.retracted" } else { "record.corrected" }.to_owned();
                draft.data = json!({"target": id(target), "reason": "a slip of the pen"});
                if verb == "correct" {
                    draft.data["replacement"] = replacement(words);
                }
            }
            "endorse" => {
                let target = seq_of(words.next().unwrap());
                draft.kind = "record.endorsed".to_owned();
                draft.subject = self.book.event(target).subject.to_string();
                let (leaf, _) = &self.book.notes[usize::try_from(target).unwrap()];
                draft.data = json!({"seq": target, "body_sha256": selachron_schemas::encoding::base64(&leaf.body_sha256)});
            }
            "explain" => self.explain(draft, words),
            "abandon" => {
                draft.kind = "note.abandoned".to_owned();
                draft.subject = format!("key/{}", draft.by.keyid());
                draft.data = json!({"keycount": number(words), "reason": "never sent"});
            }
            "revoke" => {
                draft.subject = format!("key/{}", Who::named(words.next().unwrap()).keyid());
                draft.kind = "key.revoked".to_owned();
                draft.data = json!({"reason": "tablet lost"});
                if words.next() == Some("suspected") {
                    draft.data["suspected_since"] = json!(day_of(words).utc_text());
                }
            }
            "enrol" => {
                // A key that nobody in the stories holds; its own signature is no part of a story.
                let key = selachron_schemas::merkle::sha256(words.next().unwrap().as_bytes());
                let person = format!("person/{}", &subject("animal", "somebody")[7..]);
                draft.kind = "key.enrolled".to_owned();
                draft.subject = format!("key/{}", selachron_schemas::names::KeyId::of(&key));
                draft.data = json!({"public_key": selachron_schemas::encoding::base64(&key), "person": person, "roles": ["keeper"],
                    "device": "tablet"});
            }
            "policy" => {
                draft.kind = "policy.set".to_owned();
                draft.subject = "collection".to_owned();
                draft.data = serde_json::from_str(&words.collect::<Vec<_>>().join(" ")).unwrap();
            }
            _ => panic!("{verb} is no verb of a story"),
        }
    }

    /// `explain TAG meant|slip|ask WHO KIND…`: the discrepancy of that kind which the answer to the
    /// note told.
    fn explain(&self, draft: &mut Draft, words: &mut SplitWhitespace<'_>) {
        let tag = words.next().unwrap();
        let target = self.tags[tag];
        let explanation = match words.next().unwrap() {
            "meant" => "seen and meant it",
            "slip" => "was a slip",
            _ => "another person is to say",
        };
        let person = (explanation == "another person is to say").then(|| Who::named(words.next().unwrap()).person());
        let odd = words.collect::<Vec<_>>().join(" ");
        let found = self.odd(target).into_iter().find(|found| found.kind == odd).unwrap_or_else(|| panic!("{tag} is not told to be {odd}"));
        draft.kind = "discrepancy.explained".to_owned();
        draft.subject = self.book.event(target).subject.to_string();
        draft.data = json!({"odd": odd, "events": found.events, "explanation": explanation});
        if let Some(person) = person {
            draft.data["person"] = json!(person);
        }
    }

    /// `[as of day N] [known at TAG] egg A1 is …`
    fn look(&self, line: &str) {
        let mut words = line.split_whitespace().peekable();
        let (mut as_of, mut known_at) = (day(400), u64::MAX);
        while words.peek() != Some(&"egg") && words.peek() != Some(&"animal") {
            match words.next() {
                Some("as") => as_of = day(words.nth(2).unwrap().trim_end_matches(',').parse().unwrap()),
                Some("known") => {
                    let tag = words.nth(1).unwrap().trim_end_matches(',');
                    known_at = self.tags[tag] + 1;
                }
                other => panic!("{other:?} in {line}"),
            }
        }
        let (noun, name) = (words.next().unwrap(), words.next().unwrap());
        assert_eq!(words.next(), Some("is"), "{line}");
        let wanted = words.collect::<Vec<_>>().join(" ");
        let id = Subject::parse(&subject(noun, name)).unwrap();
        let said = self.projections.at(as_of, known_at, |view| if noun == "egg" { egg_words(view, &id) } else { animal_words(view, &id) });
        assert_eq!(said, wanted, "{line}");
    }
}

fn egg_words(view: &View<'_>, id: &Subject) -> String {
    let Some(egg) = view.egg(id) else { return "not there".to_owned() };
    let state = match &egg.fate {
        EggFate::Open if egg.held_apart.is_some() => "held apart".to_owned(),
        EggFate::Open => "open".to_owned(),
        EggFate::Hatched { after_opening, .. } => format!("hatched {}", if after_opening.is_some() { "after opening" } else { "unaided" }),
        EggFate::YoungNotFound { .. } => "empty".to_owned(),
        EggFate::Lost { apparent_cause, .. } => format!("lost, {apparent_cause}"),
        EggFate::DeadOnArrival { .. } => "dead on arrival".to_owned(),
        EggFate::Removed { reason, .. } => format!("removed, {reason}"),
        EggFate::PutDown { reason, .. } => format!("put down, {reason}"),
        EggFate::Missing { written_off: None, .. } => "missing".to_owned(),
        EggFate::Missing { .. } => "written off".to_owned(),
    };
    format!("{state}{}", place_words(view, &egg))
}

fn place_words(view: &View<'_>, egg: &Egg) -> String {
    match &egg.place {
        Some(place) if egg.fate == EggFate::Open => format!(" in {}", view.called(&place.tank)),
        _ => String::new(),
    }
}

fn animal_words(view: &View<'_>, id: &Subject) -> String {
    let Some(animal) = view.animal(id) else { return "not there".to_owned() };
    match &animal.fate {
        AnimalFate::Present => match &animal.place {
            Some(place) => format!("present in {}", view.called(&place.tank)),
            None => "present".to_owned(),
        },
        AnimalFate::DeadAtHatch { .. } => "dead at the hatch".to_owned(),
        AnimalFate::DeadOnArrival { .. } => "dead on arrival".to_owned(),
        AnimalFate::Died { .. } => "dead".to_owned(),
        AnimalFate::Departed { .. } => "gone".to_owned(),
        AnimalFate::Grouped { .. } => "in a group".to_owned(),
        AnimalFate::Missing { written_off: None, .. } => "missing".to_owned(),
        AnimalFate::Escaped { written_off: None, .. } => "at large".to_owned(),
        AnimalFate::Missing { .. } | AnimalFate::Escaped { .. } => "written off".to_owned(),
    }
}

fn day_of(words: &mut SplitWhitespace<'_>) -> Instant {
    day(words.next().and_then(|word| word.parse().ok()).expect("a number of days"))
}

/// Milliseconds between nine o'clock and `hh:mm`.
fn clock_ms(text: &str) -> i64 {
    let (hours, minutes) = text.split_once(':').unwrap();
    assert!(DAY_0.contains("T09:00:00"));
    (hours.parse::<i64>().unwrap() - 9) * HOUR_MS + minutes.parse::<i64>().unwrap() * MINUTE_MS
}

fn number(words: &mut SplitWhitespace<'_>) -> u32 {
    words.next().and_then(|word| word.parse().ok()).expect("a number")
}

/// `day 21`, `subject egg B1`, or `data` and what a note of that kind would say.
fn replacement(words: &mut SplitWhitespace<'_>) -> Value {
    let mut replacement = json!({});
    while let Some(word) = words.next() {
        match word {
            "day" => replacement["time"] = json!(day_of(words).utc_text()),
            "after" => replacement["timeafter"] = json!(day_of(words).utc_text()),
            "subject" => replacement["subject"] = json!(subject(words.next().unwrap(), words.next().unwrap())),
            "data" => replacement["data"] = told(words.next().unwrap(), words.next().unwrap(), words).1,
            _ => panic!("{word} replaces nothing"),
        }
    }
    replacement
}

fn label(name: &str) -> &str {
    name.trim_end_matches('\'')
}

fn tank(words: &mut SplitWhitespace<'_>) -> String {
    subject("tank", words.next().expect("a tank"))
}

/// Kind and data of a note about a case, an animal or a tank.
fn told(noun: &str, name: &str, words: &mut SplitWhitespace<'_>) -> (String, Value) {
    let verb = words.next().expect("a verb");
    let mut data = first_data(noun, verb, label(name));
    while let Some(word) = words.next() {
        detail(verb, word, words, &mut data);
    }
    (format!("{noun}.{verb}"), data)
}

/// What such a note says at least.
fn first_data(noun: &str, verb: &str, label: &str) -> Value {
    let species = subject("species", "S");
    match (noun, verb) {
        ("egg", "collected") => {
            json!({"label": label, "species": species, "from_tank": subject("tank", "Adults"), "laid": "unknown", "case": "whole",
                "yolk": "could not see", "to_tank": subject("tank", "Inc")})
        }
        ("egg", "received") => {
            json!({"label": label, "species": species, "from": "another house", "state": "alive", "case": "whole",
                "yolk": "could not see", "to_tank": subject("tank", "Inc")})
        }
        ("egg", "candled") => json!({"seen_into": false}),
        ("egg", "held_apart") => json!({"reason": "no movement seen"}),
        ("egg", "lost") => json!({"apparent_cause": "not determined"}),
        ("egg", "removed") => json!({"reason": "sent out", "to": "another house", "alive": "alive"}),
        ("egg", "opened") => json!({"extent": "end slit widened", "known_dead": false, "left": "closed again", "outcome": "left to hatch"}),
        ("egg", "hatched") => json!({"how_known": "found hatched", "young": []}),
        ("animal", "received") => {
            json!({"label": label, "species": species, "sex": "unknown", "from": "another house", "state": "alive", "origin": "bred in care",
                "tank": subject("tank", "Nur")})
        }
        ("animal", "fed") => json!({"offered": [{"food": "squid"}], "eaten": "all"}),
        ("animal", "died") => json!({"how_known": "found dead", "apparent_cause": "not determined", "body": "frozen"}),
        ("animal", "departed") => json!({"to": "another house", "reason": "transfer", "alive": "alive"}),
        ("tank", "set_up") => json!({"label": label, "purpose": "nursery"}),
        ("tank", "searched") => json!({"eggs_found": 0, "whole_tank": true}),
        ("system", "set_up") => json!({"label": label, "water": "tropical"}),
        ("species", "listed") => json!({"scientific_name": label, "common_name": label, "length_basis": "total"}),
        ("tank" | "system", "measured") => json!({"instrument": "probe 1"}),
        _ => json!({}),
    }
}

/// One further word of such a note, and what follows it.
fn detail(verb: &str, word: &str, words: &mut SplitWhitespace<'_>, data: &mut Value) {
    match (verb, word) {
        ("collected", "left") => drop(data.as_object_mut().unwrap().shift_remove("to_tank")),
        ("collected", "from") => data["from_tank"] = json!(tank(words)),
        ("collected" | "received", "no-yolk") => data["yolk"] = json!("not seen"),
        ("received", "dead") => data["state"] = json!("dead"),
        ("candled", "band") => {
            *data = json!({"seen_into": true, "band": number(words), "movement": "could not tell"});
        }
        ("candled", "moving" | "still") => data["movement"] = json!(word),
        ("candled", "slits") => data["findings"] = json!(["slits open"]),
        ("lost" | "opened", "cause" | "outcome") => {
            let member = if word == "cause" { "apparent_cause" } else { "outcome" };
            data[member] = json!(words.collect::<Vec<_>>().join(" "));
        }
        ("lost", "plainly") => data["plainly_dead"] = json!(true),
        ("lost", "photo") => data["photo_sha256"] = json!("ab".repeat(32)),
        ("opened", "dead") => data["known_dead"] = json!(true),
        ("opened", "urgently") => data["urgent_reason"] = json!("young trapped"),
        ("removed" | "departed", "dead") => data["alive"] = json!("dead"),
        ("hatched", "young") => {
            let (name, state) = (words.next().unwrap(), words.next().unwrap());
            let young = json!({"animal": subject("animal", name), "state": state, "label": label(name), "tank": subject("tank", "Nur")});
            data["young"].as_array_mut().unwrap().push(young);
        }
        ("hatched", "nowhere") => {
            let young = data["young"].as_array_mut().unwrap().last_mut().unwrap();
            young.as_object_mut().unwrap().shift_remove("tank");
        }
        ("moved", "to") => data["to_tank"] = json!(tank(words)),
        ("moved", "from") => data["from_tank"] = json!(tank(words)),
        ("fed", "none" | "some") => data["eaten"] = json!(word),
        ("measured", "mass") => data["mass_g"] = json!(number(words)),
        ("measured", "temperature") => data["temperature_c"] = json!(number(words)),
        ("measured", "in-water") => data["mass_how"] = json!("in water"),
        ("measured", "yolk-used-up") => data["internal_yolk"] = json!("used up"),
        ("died", "by-decision") => data["how_known"] = json!("by a veterinarian's decision"),
        ("listed", "days") => {
            data["incubation"] = json!({"grade": "house", "days_low": number(words), "days_high": number(words), "temperature_c_low": 20,
                "temperature_c_high": 24, "source": "invented"});
        }
        _ => panic!("{verb} {word} is not understood"),
    }
}
