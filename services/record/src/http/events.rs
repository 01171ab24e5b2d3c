//! `GET /v1/events` and its like: notes as they were written, with their leaves.

use super::app::App;
use super::asked::{Asked, NoMore, ReadParams};
use super::page::{Answered, Item, Listed};
use super::problem::{OK, Problem};
use crate::failure::{Broken, Failure, Question};
use crate::store::StoredEvent;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use selachron_schemas::encoding::base64;
use selachron_schemas::names::is_ulid;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use utoipa::{IntoParams, ToSchema};

/// A recorded note.
#[derive(Debug, Serialize, ToSchema)]
pub struct EventItem {
    /// Its place in the log.
    pub seq: u64,
    /// When the log took it.
    #[schema(value_type = String, format = DateTime)]
    pub recorded_at: Instant,
    /// 1 + number of earlier notes with the same subject.
    pub subject_version: u64,
    /// SHA-256 of the body's bytes, base64.
    pub body_sha256: String,
    /// Who signed, ascending by key id.
    pub signatures: Vec<SignatureItem>,
    /// The body as it was written; absent if it is withheld.
    #[schema(value_type = Option<Object>)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub event: Option<Box<RawValue>>,
    /// Present and true: its body is withheld.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub withheld: Option<bool>,
    /// Present and true: it was recorded while its author's key was suspected (F11).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub suspected: Option<bool>,
}

/// A signature of a note.
#[derive(Debug, Serialize, ToSchema)]
pub struct SignatureItem {
    /// The key that verified it.
    pub keyid: String,
    /// Raw Ed25519 signature, base64.
    pub sig: String,
}

/// Where a list of notes begins.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct EventsQuery {
    /// Only notes with a greater seq.
    pub after: Option<u64>,
}

pub(super) fn item(app: &App, row: StoredEvent, known_at: u64) -> Result<EventItem, Failure> {
    let leaf = row.leaf;
    let suspected = app.journal.published().suspected(leaf.seq, known_at);
    let raw = |body: Vec<u8>| String::from_utf8(body).ok().and_then(|text| RawValue::from_string(text).ok());
    let event = row.body.map(|body| raw(body).ok_or_else(|| Broken::at(leaf.seq, "the body is not JSON"))).transpose()?;
    Ok(EventItem {
        seq: leaf.seq,
        recorded_at: leaf.recorded_at,
        subject_version: leaf.subject_version,
        body_sha256: base64(&leaf.body_sha256),
        signatures: leaf.signatures.iter().map(|(id, sig)| SignatureItem { keyid: id.to_string(), sig: base64(sig) }).collect(),
        withheld: event.is_none().then_some(true),
        suspected: suspected.then_some(true),
        event,
    })
}

/// Notes in the order in which they were recorded.
#[utoipa::path(
    get, path = "/v1/events", tag = "events", params(ReadParams, EventsQuery),
    responses((status = 200, body = Answered<Listed<EventItem>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_events(State(app): State<App>, asked: Asked<EventsQuery>) -> Result<Response, Failure> {
    let wrong = || Question::bad("cursor", "it belongs to another question; begin without one");
    let from = match &asked.after {
        Some(after) => after.parse::<u64>().map_err(|_| wrong())?.saturating_add(1),
        None => asked.query.after.map_or(0, |after| after.saturating_add(1)),
    };
    let known_at = asked.at.known_at;
    let wanted = asked.limit.min(usize::try_from(known_at.saturating_sub(from)).unwrap_or(usize::MAX));
    let rows = app.blocking(move |app| app.journal.store().read_all(from, wanted)).await?;
    let items = rows.into_iter().map(|row| item(&app, row, known_at)).collect::<Result<Vec<_>, _>>()?;
    let last = items.last().map(|item| item.seq).filter(|seq| seq + 1 < known_at);
    asked.answer_listed(items, last.map(|seq| seq.to_string()))
}

/// One note by its id.
#[utoipa::path(
    get, path = "/v1/events/{id}", tag = "events", params(ReadParams, ("id" = String, Path, description = "The note's ULID")),
    responses((status = 200, body = Answered<Item<EventItem>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_event(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let row = find(&app, id, asked.at.known_at).await?;
    asked.answer(Item { item: item(&app, row, asked.at.known_at)? })
}

/// The receipt of one note, under the newest checkpoint (F17).
#[utoipa::path(
    get, path = "/v1/events/{id}/receipt", tag = "events", params(("id" = String, Path, description = "The note's ULID")),
    responses(
        (status = 200, description = "A C2SP tlog-proof whose extra is the leaf", body = String, content_type = "text/plain"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn get_receipt(State(app): State<App>, Path(id): Path<String>) -> Result<Response, Failure> {
    let row = find(&app, id, u64::MAX).await?;
    let (receipt, _) = app.journal.published().receipt(&row.leaf)?;
    Ok((OK, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], receipt).into_response())
}

async fn find(app: &App, id: String, known_at: u64) -> Result<StoredEvent, Failure> {
    if !is_ulid(&id) {
        return Err(Question::NotFound(format!("{id:?} is not the id of a note: 26 upper-case Crockford characters")).into());
    }
    app.blocking(move |app| {
        let missing = || Question::NotFound(format!("no note with the id {id} is known"));
        let store = app.journal.store();
        let seq = store.seq_of(&id)?.filter(|seq| *seq < known_at).ok_or_else(missing)?;
        Ok(store.read_all(seq, 1)?.pop().filter(|row| row.leaf.seq == seq).ok_or_else(missing)?)
    })
    .await
}
