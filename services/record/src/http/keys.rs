//! `GET /v1/keys`: who may sign.

use super::app::App;
use super::asked::{Asked, NoMore, ReadParams, Reading};
use super::page::{Answered, Item, Listed};
use super::problem::Problem;
use crate::failure::{Failure, Question};
use axum::extract::{Path, State};
use axum::response::Response;
use selachron_schemas::encoding::base64;
use selachron_schemas::names::KeyId;
use selachron_schemas::replay::keys::{KeyBook, KeyRecord, Revocation};
use selachron_schemas::time::Instant;
use serde::Serialize;
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// A key, as known at S.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeyItem {
    /// Its id (F8).
    pub keyid: String,
    /// `key/` and its id.
    pub subject: String,
    /// The holder's pseudonym.
    pub person: String,
    /// What the holder may do; empty for a root key, whose powers are F10.
    pub roles: Vec<&'static str>,
    /// Whether it is a root key of the collection.
    pub root: bool,
    /// Raw public key, base64; root keys have theirs in the founding note.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub public_key: Option<String>,
    /// The device, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    /// Seq of the enrolment; of a root key, of the first note that named it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub enrolled_seq: Option<u64>,
    /// Not in force for notes recorded after this.
    #[schema(value_type = Option<String>, format = DateTime)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub valid_until: Option<Instant>,
    /// Revocations, oldest first.
    pub revoked: Vec<RevocationItem>,
    /// Whether a note that came at S and V would find it in force (F11).
    pub in_force: bool,
}

/// A revocation.
#[derive(Debug, Serialize, ToSchema)]
pub struct RevocationItem {
    /// Its seq.
    pub seq: u64,
    /// From when the key is suspected, compared with `recorded_at`.
    #[schema(value_type = Option<String>, format = DateTime)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub suspected_since: Option<Instant>,
}

fn enrolled(id: &KeyId, record: &KeyRecord, at: &Reading) -> KeyItem {
    let item = |revocation: &Revocation| RevocationItem { seq: revocation.seq, suspected_since: revocation.suspected_since };
    KeyItem {
        keyid: id.to_string(),
        subject: format!("key/{id}"),
        person: record.person.clone(),
        roles: record.roles.iter().map(|role| role.word()).collect(),
        root: false,
        public_key: Some(base64(&record.public_key)),
        device: Some(record.device.clone()),
        enrolled_seq: Some(record.enrolled),
        valid_until: record.valid_until,
        revoked: record.revoked.iter().filter(|revocation| revocation.seq < at.known_at).map(item).collect(),
        in_force: record.in_force(at.known_at, at.as_of),
    }
}

fn root(id: &KeyId, person: &str, named_seq: u64, in_force: bool) -> KeyItem {
    KeyItem {
        keyid: id.to_string(),
        subject: format!("key/{id}"),
        person: person.to_owned(),
        roles: Vec::new(),
        root: true,
        public_key: None,
        device: None,
        enrolled_seq: Some(named_seq),
        valid_until: None,
        revoked: Vec::new(),
        in_force,
    }
}

fn known(book: &KeyBook, at: &Reading) -> Vec<KeyItem> {
    let others = book.enrolled().filter(|(_, record)| record.enrolled < at.known_at);
    roots(book, at.known_at).into_iter().chain(others.map(|(id, record)| enrolled(id, record, at))).collect()
}

/// Root keys that a note below `size` named: in force are those that the newest such note names.
fn roots(book: &KeyBook, size: u64) -> Vec<KeyItem> {
    let known: Vec<_> = book.root_lists().iter().filter(|list| list.seq < size).collect();
    let mut first: BTreeMap<KeyId, (&str, u64)> = BTreeMap::new();
    for list in &known {
        for (id, person) in &list.persons {
            first.entry(*id).or_insert((person, list.seq));
        }
    }
    let in_force = |id: &KeyId| known.last().is_some_and(|newest| newest.persons.contains_key(id));
    first.iter().map(|(id, (person, seq))| root(id, person, *seq, in_force(id))).collect()
}

/// Root keys, then enrolled keys by id.
#[utoipa::path(
    get, path = "/v1/keys", tag = "keys", params(ReadParams),
    responses((status = 200, body = Answered<Listed<KeyItem>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_keys(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let book = app.journal.published().keys().clone();
    asked.answer_page(known(&book, &asked.at), |key| key.keyid.clone())
}

/// One key by its id.
#[utoipa::path(
    get, path = "/v1/keys/{id}", tag = "keys", params(ReadParams, ("id" = String, Path, description = "Key id, with or without key/")),
    responses((status = 200, body = Answered<Item<KeyItem>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_key(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let book = app.journal.published().keys().clone();
    let wanted = id.strip_prefix("key/").unwrap_or(&id);
    let found = known(&book, &asked.at).into_iter().find(|key| key.keyid == wanted);
    let item = found.ok_or_else(|| Question::NotFound(format!("no key {id:?} is known; a key id has 32 hexadecimal characters")))?;
    asked.answer(Item { item })
}
