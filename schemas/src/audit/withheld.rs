//! A note whose body is withheld (F23): its signatures cannot be verified, for what they sign is
//! gone. Its leaf still binds them and the body's hash; the facts come from the `body.withheld`
//! that names it, on whose signers' word they rest. All rules that these allow are asked.

use crate::catalogue::{Missing, catalogue};
use crate::limits::CLOCK_SKEW_MS;
use crate::names::{KeyId, Subject};
use crate::receipt::Leaf;
use crate::replay::Replay;
use crate::replay::keys::{KeyRecord, Role};
use crate::time::Instant;
use serde::Deserialize as _;
use serde_json::{Map, Value};
use std::collections::BTreeSet;

/// What is wrong with a withheld note, as far as its leaf and its facts can tell.
pub(super) fn faults(replay: &Replay, facts: &Map<String, Value>, leaf: &Leaf) -> Vec<String> {
    let text = |name: &str| facts.get(name).and_then(Value::as_str).unwrap_or_default();
    let (Some(keyid), Some(subject)) = (KeyId::parse(text("keyid")), Subject::parse(text("subject"))) else {
        return vec!["the note that withholds it does not name its key and subject".to_owned()];
    };
    let mut says = Vec::new();
    if let Some(seq) = replay.seq_of(text("id")) {
        says.push(format!("its id {} is taken by the note at seq {seq}", text("id")));
    }
    if !leaf.signatures.iter().any(|(signer, _)| *signer == keyid) {
        says.push(format!("the leaf has no signature by {keyid}, which is said to be its author's key"));
    }
    for (signer, _) in leaf.signatures.iter().filter(|(signer, _)| replay.ring().get(signer).is_none()) {
        says.push(format!("the leaf names the signature of {signer}, a key that was not known at this place"));
    }
    says.extend(time_fault(facts, leaf));
    says.extend(kind_faults(replay, text("kind"), &subject, &keyid, leaf));
    says
}

fn time_fault(facts: &Map<String, Value>, leaf: &Leaf) -> Option<String> {
    let instant = |name: &str| facts.get(name).and_then(Value::as_str).and_then(|text| Instant::parse(text).ok());
    let time = instant("time")?;
    if time > leaf.recorded_at.plus_ms(CLOCK_SKEW_MS) {
        return Some("its time lies after it was recorded".to_owned());
    }
    (instant("timeafter")? >= time).then(|| "its timeafter does not lie before its time".to_owned())
}

fn kind_faults(replay: &Replay, name: &str, subject: &Subject, keyid: &KeyId, leaf: &Leaf) -> Vec<String> {
    let Some(kind) = catalogue().kind(name).filter(|kind| !kind.governs && !kind.is_act) else {
        return vec![format!("a note of kind {name:?} cannot be withheld")];
    };
    let mut says = Vec::new();
    if !kind.subjects.iter().any(|noun| noun == subject.noun() || noun == "*") {
        says.push(format!("{name} is about {}, not about {}", kind.subjects.join(" or "), subject.noun()));
    }
    if !kind.creates_subject && !replay.exists(subject) {
        says.push(format!("{subject} was never brought into this record"));
    }
    let Some(author) = replay.keys().get(keyid) else {
        says.push(format!("its author's key {keyid} is not enrolled"));
        return says;
    };
    if !author.roles.iter().any(|role| kind.roles.authors.iter().any(|word| word == role.word())) {
        says.push(format!("{name} is written by {}; its author holds none of these roles", kind.roles.authors.join(", ")));
    }
    if !author.in_force(replay.size(), leaf.recorded_at) && approvers(replay, leaf, author, &[Role::Registrar]).is_empty() {
        says.push("its author's key was not in force, and no registrar vouches".to_owned());
    }
    if let Some(approval) = kind.roles.approval.as_ref().filter(|approval| approval.missing == Missing::Refused && approval.when.is_none())
    {
        let roles: Vec<Role> = approval.roles.iter().filter_map(|word| Role::deserialize(&Value::String(word.clone())).ok()).collect();
        if approvers(replay, leaf, author, &roles).len() < approval.persons {
            says.push(format!("{name} needs the approval of {} other person(s)", approval.persons));
        }
    }
    says
}

/// Persons other than the author among the leaf's signers, in force and with one of `roles`.
fn approvers<'a>(replay: &'a Replay, leaf: &Leaf, author: &KeyRecord, roles: &[Role]) -> BTreeSet<&'a str> {
    let signers = leaf.signatures.iter().filter_map(|(id, _)| replay.keys().get(id));
    signers
        .filter(|record| record.in_force(replay.size(), leaf.recorded_at) && record.roles.iter().any(|role| roles.contains(role)))
        .map(|record| record.person.as_str())
        .filter(|person| *person != author.person)
        .collect()
}
