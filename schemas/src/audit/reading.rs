//! Notes from texts. What needs no order is done here, for many notes at once: parsing, schemas,
//! signatures, and the comparison of each line with its written form.

use super::folder::first_difference;
use super::said::{Fault, Faults};
use super::spread::Spread;
use crate::bundle::{ENVELOPES, LEAVES, withheld_form};
use crate::encoding::from_base64_32;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::merkle::Hash;
use crate::receipt::Leaf;
use crate::refusal::Refusal;
use crate::replay::Replay;
use crate::replay::gate::Gate;
use crate::signing::{Verified, brought_keys};
use ed25519_dalek::VerifyingKey;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// A piece of a file and where it begins, in bytes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece<'a> {
    /// Offset in the file.
    pub at: usize,
    /// The text, without what separates it from the next.
    pub text: &'a str,
}

/// The two texts of one note.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair<'a> {
    /// Its place.
    pub seq: u64,
    /// Its entry in `leaves`.
    pub leaf: Piece<'a>,
    /// Its line in `envelopes.ndjson`.
    pub line: Piece<'a>,
}

/// A note that has been read.
pub(super) struct Opened<'a> {
    /// Its texts.
    pub pair: Pair<'a>,
    /// Its leaf, where it could be read.
    pub leaf: Option<Leaf>,
    /// What its line holds.
    pub body: Body<Box<Verified>>,
    /// First byte at which the line is not in its written form.
    pub unlike: Option<usize>,
}

/// What a line of `envelopes.ndjson` holds.
pub(super) enum Body<N> {
    /// A note.
    Note(N),
    /// The hash that stands for a withheld body.
    Withheld(Hash),
    /// Nothing that can be believed.
    Broken(Refusal),
}

/// What a device says it saw, as a key: size, root, signature.
pub(super) type SeenKey = (u64, Hash, Vec<u8>);

/// Pairs leaves and lines; what is left over on either side is a fault.
pub(super) fn pairs<'a>(leaves: &'a str, lines: &'a str, faults: &mut Faults) -> Vec<Pair<'a>> {
    let leaves = pieces(leaves, LEAVES, "\n\n", faults);
    let lines = pieces(lines, ENVELOPES, "\n", faults);
    if leaves.len() != lines.len() {
        let says = format!("{LEAVES} holds {} notes, {ENVELOPES} holds {}: each note has one entry in both", leaves.len(), lines.len());
        faults.add(Fault::of_file(if leaves.len() < lines.len() { LEAVES } else { ENVELOPES }, says));
    }
    let numbered = (0..).zip(leaves.into_iter().zip(lines));
    numbered.map(|(seq, (leaf, line))| Pair { seq, leaf, line }).collect()
}

/// Pieces that each end with `separator`, the last one too. A leaf keeps the line feed of its
/// own last line, which is the first character of its separator.
fn pieces<'a>(text: &'a str, file: &str, separator: &str, faults: &mut Faults) -> Vec<Piece<'a>> {
    let kept = separator.len() - 1;
    let (mut found, mut at) = (Vec::new(), 0);
    while at < text.len() {
        let Some(length) = text[at..].find(separator) else {
            faults.add(Fault::in_file(file, text.len(), "the file ends in the middle of an entry"));
            break;
        };
        found.push(Piece { at, text: &text[at..at + length + kept] });
        at += length + separator.len();
    }
    found
}

type Parsed = Body<Box<(Envelope, Event)>>;

/// Reads and verifies notes that follow on each other, against the keys that `replay` knows and
/// those that these notes bring. Whether each key was known *at its place* is for the walk.
pub(super) fn open<'a>(pairs: &[Pair<'a>], replay: &Replay, spread: &impl Spread) -> Vec<Opened<'a>> {
    let parsed = spread.map(pairs.to_vec(), |pair| (pair, parse(pair.line.text)));
    let mut gate = replay.gate();
    for (_, body) in &parsed {
        let Body::Note(read) = body else { continue };
        for key in brought_keys(&read.1).iter().filter_map(|bytes| VerifyingKey::from_bytes(bytes).ok()) {
            gate.ring.add(key);
        }
    }
    spread.map(parsed, |(pair, body)| verify(pair, body, &gate))
}

fn parse(line: &str) -> Parsed {
    if let Some(hash) = withheld_hash(line) {
        return Body::Withheld(hash);
    }
    let read = Envelope::read(line.as_bytes()).and_then(|envelope| {
        let event = Event::parse(&envelope.body)?;
        Ok(Box::new((envelope, event)))
    });
    read.map_or_else(Body::Broken, Body::Note)
}

/// The hash in the one form that stands in place of a withheld body.
fn withheld_hash(line: &str) -> Option<Hash> {
    let hash = from_base64_32(line.strip_prefix("{\"withheld\":\"")?.strip_suffix("\"}")?)?;
    (withheld_form(&hash) == line).then_some(hash)
}

fn verify<'a>(pair: Pair<'a>, body: Parsed, gate: &Gate) -> Opened<'a> {
    let body = match body {
        Body::Withheld(hash) => Body::Withheld(hash),
        Body::Broken(refusal) => Body::Broken(refusal),
        Body::Note(read) => gate.examine(read.0, read.1).map_or_else(Body::Broken, |note| Body::Note(Box::new(note))),
    };
    let unlike = match &body {
        Body::Note(note) => first_difference(pair.line.text.as_bytes(), Envelope::written(note.body(), note.signatures()).as_bytes()),
        _ => None,
    };
    Opened { pair, leaf: Leaf::parse(pair.leaf.text), body, unlike }
}

/// Checkpoints that a key of the log signed.
pub(super) struct SignedSeen {
    /// How many keys the log had had when they were verified.
    pub log_keys: usize,
    /// They themselves.
    pub seen: BTreeSet<SeenKey>,
}

/// Those of the checkpoints which these notes say their devices saw that a key of the log signed, as
/// far as the keys go that it had before the first of these notes.
pub(super) fn signed_seen(notes: &[Opened], replay: &Replay, spread: &impl Spread) -> SignedSeen {
    let seen = |opened: &Opened| match &opened.body {
        Body::Note(note) => note.event().seen.clone(),
        _ => None,
    };
    let different: BTreeMap<SeenKey, crate::event::Seen> =
        notes.iter().filter_map(seen).map(|seen| ((seen.size, seen.root, seen.signature.clone()), seen)).collect();
    let checked = spread.map(different.into_iter().collect(), |(key, seen)| replay.seen_is_signed(&seen).then_some(key));
    SignedSeen { log_keys: replay.log_keys().all().len(), seen: checked.into_iter().flatten().collect() }
}

/// The facts that each `body.withheld` repeats of the note it withholds, by that note's seq. The
/// notes that say so are judged later, at their place; here they are only looked up, because a
/// withheld line stands before the note that accounts for it (F23).
pub(super) fn withheld_facts(pairs: &[Pair], spread: &impl Spread) -> BTreeMap<u64, Map<String, Value>> {
    if !pairs.iter().any(|pair| withheld_hash(pair.line.text).is_some()) {
        return BTreeMap::new();
    }
    let facts = spread.map(pairs.to_vec(), |pair| match parse(pair.line.text) {
        Body::Note(read) if read.1.kind == "body.withheld.v1" => {
            let seq = read.1.data.get("seq")?.as_u64()?;
            (seq < pair.seq).then_some((seq, read.1.data))
        }
        _ => None,
    });
    let mut by_seq = BTreeMap::new();
    for (seq, facts) in facts.into_iter().flatten() {
        by_seq.entry(seq).or_insert(facts);
    }
    by_seq
}
