//! A report computed anew from a bundle, without any service: the same, different, or cannot tell
//! (DESIGN, section 5). Only what a bundle holds can be computed; writes that were refused stand beside the
//! log, so that part of a report is taken as it is.

use super::restore::files;
use super::unseal::{missing, read, refused, withheld_facts};
use crate::export::yearly::gather;
use crate::failure::{Broken, Failure, io};
use crate::projections::Projections;
use crate::report::annual::compile::software;
use crate::report::annual::material::Twelve;
use crate::report::annual::shape::{Collection, SCHEMA};
use crate::report::annual::{AnnualReport, Identity, compile};
use crate::store::memory::Memory;
use crate::store::{EventStore as _, Head, StagedEvent};
use chrono::Datelike as _;
use selachron_schemas::audit::spread::OneByOne;
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::audit::{Audit, Scope, audit};
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::event::Event;
use selachron_schemas::merkle::{Hash, Tree, sha256};
use selachron_schemas::note::SignedCheckpoint;
use serde_json::Value;
use std::fmt;
use std::path::Path;

/// So many differences are named.
const DIFFERENCES_TOLD_MAX: usize = 12;

/// What computing a report anew shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Comparison {
    /// The same notes give the same bytes.
    Same,
    /// They give other bytes; each place that differs, as a JSON pointer.
    Different(Vec<String>),
    /// Why this bundle, or this software, cannot say.
    CannotTell(String),
}

/// The answer, with the note that issued the report where the bundle holds one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recomputed {
    /// What was found.
    pub comparison: Comparison,
    /// SHA-256 of the report's bytes, in hexadecimal.
    pub sha256: String,
    /// The `report.issued` note that names this hash: its id and who signed it.
    pub issued: Option<String>,
}

impl fmt::Display for Recomputed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.comparison {
            Comparison::Same => writeln!(f, "same: the notes of the bundle give this report byte for byte")?,
            Comparison::Different(places) => {
                writeln!(f, "different: the notes of the bundle give another report")?;
                places.iter().try_for_each(|place| writeln!(f, "  {place}"))?;
            }
            Comparison::CannotTell(why) => writeln!(f, "cannot tell: {why}")?,
        }
        writeln!(f, "sha256  {}", self.sha256)?;
        write!(f, "issued  {}", self.issued.as_deref().unwrap_or("no note in this bundle issues it"))
    }
}

/// The log of a bundle, to be asked.
struct Opened {
    audit: Audit,
    tree: Tree,
    projections: Projections,
    withheld: Vec<(u64, u64)>,
    events: Vec<StagedEvent>,
}

/// Computes the report in `file` anew from the bundle in `folder`.
///
/// # Errors
/// The bundle does not verify or cannot be read, or there is no such file.
pub fn recompute(folder: &Path, file: &Path) -> Result<Recomputed, Failure> {
    let bytes = std::fs::read(file).map_err(|error| io(format!("reading {}", file.display()), &error))?;
    let opened = open(folder)?;
    let hash = hex(&sha256(&bytes));
    let issued = issued(&opened, &hash);
    Ok(Recomputed { comparison: compare(&opened, &bytes)?, sha256: hash, issued })
}

/// The record of the bundle in `folder`, to be asked without any service.
///
/// # Errors
/// The bundle does not verify or cannot be read.
pub fn projections(folder: &Path) -> Result<Projections, Failure> {
    open(folder).map(|opened| opened.projections)
}

fn open(folder: &Path) -> Result<Opened, Failure> {
    let audit = audit(&files(folder)?, &Trust::default(), Scope::Whole, &OneByOne);
    if let Some(fault) = audit.faults.first() {
        return Err(refused(format!("the bundle does not verify, so nothing was computed from it: {fault}")));
    }
    let checkpoint = SignedCheckpoint::parse(&read(&folder.join("checkpoint"))?).map_err(refused)?.checkpoint;
    let (leaves, envelopes) = (read(&folder.join("leaves"))?, read(&folder.join("envelopes.ndjson"))?);
    let rows: Vec<(&str, &str)> = leaves.split_terminator("\n\n").zip(envelopes.lines()).collect();
    let facts = withheld_facts(&rows);
    let events = rows.iter().map(|(leaf, envelope)| missing(leaf, envelope, &facts)).collect::<Result<Vec<_>, _>>()?;
    let mut tree = Tree::default();
    events.iter().for_each(|event| tree.push(event.leaf.hash()));
    let store = Memory::default();
    store.stage(&events, &checkpoint.root)?;
    store.publish(0, &Head { size: checkpoint.size, root: checkpoint.root, note: String::new() })?;
    let projections = Projections::new();
    projections.catch_up(&store, checkpoint.size)?;
    let withheld = store.withholdings()?.iter().map(|withholding| (withholding.target, withholding.by)).collect();
    Ok(Opened { audit, tree, projections, withheld, events })
}

/// The note that issues a report of this hash.
fn issued(opened: &Opened, hash: &str) -> Option<String> {
    let notes = opened.events.iter().filter(|event| event.kind == "report.issued.v1" && !event.body.is_empty());
    let mut read = notes.filter_map(|event| Some((event, Event::parse(&event.body).ok()?)));
    let (row, _) = read.find(|(_, event)| event.data.get("sha256").and_then(Value::as_str) == Some(hash))?;
    let seq = row.leaf.seq;
    opened.projections.at(row.leaf.recorded_at, seq + 1, |view| {
        let note = view.nursery().note(seq);
        Some(format!(
            "by note {} of {}, signed by {}",
            note.id,
            view.day(row.leaf.recorded_at),
            note.person().unwrap_or("a key nobody knows")
        ))
    })
}

fn compare(opened: &Opened, bytes: &[u8]) -> Result<Comparison, Failure> {
    let report: AnnualReport = match serde_json::from_slice(bytes) {
        Ok(report) => report,
        Err(error) => return Ok(cannot(format!("this is no annual report that this software reads: {error}"))),
    };
    if report.schema != SCHEMA {
        return Ok(cannot(format!("its schema is {:?}, and this software computes {SCHEMA:?}", report.schema)));
    }
    if let Some(found) = another_log(opened, &report) {
        return Ok(found);
    }
    let anew = match anew(opened, &report)? {
        Ok(anew) => anew,
        Err(found) => return Ok(found),
    };
    if anew == bytes {
        return Ok(Comparison::Same);
    }
    if report.software != software() || report.tzdb != chrono_tz::IANA_TZDB_VERSION {
        let ours = (software(), chrono_tz::IANA_TZDB_VERSION);
        let (theirs, tzdb) = (&report.software, &report.tzdb);
        return Ok(cannot(format!(
            "{theirs} with time zones {tzdb} made it; {} with {} gives other bytes, and may count otherwise",
            ours.0, ours.1
        )));
    }
    Ok(Comparison::Different(differences(bytes, &anew)))
}

fn cannot(why: String) -> Comparison {
    Comparison::CannotTell(why)
}

/// Whether the report is of another log than the bundle, or of notes that the bundle has not.
fn another_log(opened: &Opened, report: &AnnualReport) -> Option<Comparison> {
    let (audit, said) = (&opened.audit, &report.collection.origin);
    let origin = audit.origin.clone().unwrap_or_default();
    if *said != origin {
        return Some(cannot(format!("the report is of the log {said}, the bundle of {origin}")));
    }
    if report.known_at > audit.size {
        return Some(cannot(format!(
            "the report rests on {} notes, and the bundle holds {}: take a newer one",
            report.known_at, audit.size
        )));
    }
    let root: Option<Hash> = opened.tree.root(report.known_at);
    if root.map(|root| base64(&root)).as_ref() != Some(&report.root) {
        return Some(Comparison::Different(vec![format!("/root: of {} notes the bundle has another root", report.known_at)]));
    }
    let gone = opened.withheld.iter().filter(|(target, _)| *target < report.known_at).count() as u64;
    if gone != report.withheld {
        let (then, now) = (report.withheld, gone);
        return Some(cannot(format!(
            "{then} bodies behind the report were withheld when it was made, and {now} are now: what they said cannot be counted any more"
        )));
    }
    None
}

/// The bytes that these notes give, or why there are none.
fn anew(opened: &Opened, report: &AnnualReport) -> Result<Result<Vec<u8>, Comparison>, Failure> {
    let key = opened.audit.log_keys.iter().find(|key| key.of == report.collection.log_vkey);
    let Some(key) = key else {
        return Ok(Err(cannot("the report names a log key that the bundle does not know".to_owned())));
    };
    let founding = opened.projections.founding().ok_or_else(|| Broken::new("a verified bundle without a founding"))?;
    let collection = Collection {
        name: founding.name,
        country: founding.country,
        time_zone: founding.zone.name().to_owned(),
        origin: founding.origin,
        log_vkey: report.collection.log_vkey.clone(),
        log_key_fingerprint: key.fingerprint.to_string(),
    };
    let identity = Identity {
        collection,
        known_at: report.known_at,
        root: report.root.clone(),
        withheld: report.withheld,
        simulated_clock: founding.simulated_clock,
        profile: report.profile.clone(),
        refused_writes: report.auditor.refused_writes.clone(),
        release: report.completeness.released_because.clone(),
    };
    let first = report.period.first_day;
    let twelve = Twelve { year: first.year(), month: first.month(), day: first.day() };
    let material = match opened.projections.at(report.as_of, report.known_at, |view| gather(view, twelve)) {
        Ok(material) => material,
        Err(not_yet) => return Ok(Err(Comparison::Different(vec![format!("/period: {not_yet}")]))),
    };
    let made = match compile(&identity, &material) {
        Ok(made) => made,
        Err(not_yet) => return Ok(Err(Comparison::Different(vec![format!("/period: {not_yet}")]))),
    };
    Ok(Ok(made.to_bytes().map_err(|error| Broken::new(format!("a report that is no JSON: {error}")))?))
}

/// Where two JSON texts differ, as pointers with both values.
fn differences(given: &[u8], anew: &[u8]) -> Vec<String> {
    let (Ok(given), Ok(anew)) = (serde_json::from_slice(given), serde_json::from_slice(anew)) else { return Vec::new() };
    let mut found = Vec::new();
    differ(&given, &anew, "", &mut found);
    if found.is_empty() {
        found.push("the values are the same, and they are written otherwise".to_owned());
    }
    let left_out = found.len().saturating_sub(DIFFERENCES_TOLD_MAX);
    found.truncate(DIFFERENCES_TOLD_MAX);
    if left_out > 0 {
        found.push(format!("and {left_out} more"));
    }
    found
}

fn differ(given: &Value, anew: &Value, at: &str, found: &mut Vec<String>) {
    match (given, anew) {
        (given, anew) if given == anew => {}
        (Value::Object(given), Value::Object(anew)) => {
            for name in given.keys().chain(anew.keys().filter(|name| !given.contains_key(*name))) {
                differ(given.get(name).unwrap_or(&Value::Null), anew.get(name).unwrap_or(&Value::Null), &format!("{at}/{name}"), found);
            }
        }
        (Value::Array(given), Value::Array(anew)) if given.len() == anew.len() => {
            given.iter().zip(anew).enumerate().for_each(|(index, (given, anew))| differ(given, anew, &format!("{at}/{index}"), found));
        }
        (Value::Array(given), Value::Array(anew)) => {
            found.push(format!("{at}: {} in the report, {} by the notes", given.len(), anew.len()));
        }
        (given, anew) => found.push(format!("{at}: {given} in the report, {anew} by the notes")),
    }
}
