//! Rule F21 against `tests/reference/log/fold_reference.py`, an independent reference.

use selachron_schemas::fold::{Act, ActIndex, Entry, Replace, value_of};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::process::Command;

/// Histories compared; the reference makes them from its own seed.
const HISTORIES: usize = 4000;

#[derive(Clone, Debug, Deserialize, PartialEq, Eq)]
struct Members {
    time: Option<i64>,
    subject: Option<String>,
    data: Option<String>,
}

impl Replace<Members> for Members {
    fn with(&self, replacement: &Members) -> Members {
        let (over, own) = (replacement.clone(), self.clone());
        Members { time: over.time.or(own.time), subject: over.subject.or(own.subject), data: over.data.or(own.data) }
    }
}

#[derive(Deserialize)]
struct Note {
    seq: u64,
    kind: String,
    target: Option<u64>,
    #[serde(flatten)]
    members: Members,
}

#[derive(Deserialize)]
struct Answer {
    valid_until: i64,
    size: u64,
    state: BTreeMap<String, Vec<String>>,
}

#[derive(Deserialize)]
struct History {
    events: Vec<Note>,
    states: Vec<Answer>,
}

fn entry(note: &Note) -> Entry<Members, Members> {
    let act = match note.kind.as_str() {
        "event" => return Entry::Note(note.members.clone()),
        "correct" => Act::Correct(note.members.clone()),
        _ => Act::Retract,
    };
    Entry::Act { target: note.target.expect("an act has a target"), act }
}

fn state(entries: &[Entry<Members, Members>], acts: &ActIndex, valid_until: i64, size: u64) -> BTreeMap<String, Vec<String>> {
    let at = |seq: u64| &entries[usize::try_from(seq).unwrap()];
    let standing = (0..size).filter_map(|seq| Some((seq, value_of(seq, size, acts, &at)?)));
    let mut ordered: Vec<(i64, u64, Members)> = standing.filter_map(|(seq, value)| Some((value.time?, seq, value))).collect();
    ordered.sort_by_key(|(time, seq, _)| (*time, *seq));
    let mut subjects: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (_, _, value) in ordered.into_iter().filter(|(time, _, _)| *time <= valid_until) {
        subjects.entry(value.subject.unwrap()).or_default().push(value.data.unwrap());
    }
    subjects
}

#[test]
fn the_fold_agrees_with_the_reference_on_thousands_of_random_histories() {
    let script = selachron_tests::reference("log/fold_reference.py");
    let run = Command::new("python3").arg(script).arg(HISTORIES.to_string()).output().expect("python3 runs; the tests need it");
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let mut compared = 0;
    for line in String::from_utf8(run.stdout).unwrap().lines() {
        let history: History = serde_json::from_str(line).unwrap();
        let entries: Vec<_> = history.events.iter().map(entry).collect();
        let mut acts = ActIndex::default();
        for note in history.events.iter().filter(|note| note.kind != "event") {
            acts.add(note.target.unwrap(), note.seq);
        }
        for answer in history.states {
            assert_eq!(state(&entries, &acts, answer.valid_until, answer.size), answer.state, "{line}");
            compared += 1;
        }
    }
    assert_eq!(compared, HISTORIES * 8);
}
