//! `GET /v1/refused`: writes that were refused, for auditor, curator and registrar: who was turned
//! away, when and why, without what the notes said. It stands beside the log and is no part of it.

use super::access::Whence;
use super::app::App;
use super::problem::{OK, Problem};
use super::query::Strictly;
use crate::failure::{Failure, Question};
use crate::refusals::RefusedWrite;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use selachron_schemas::encoding::hex;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::limits::{LIST_ITEMS_DEFAULT, LIST_ITEMS_MAX};
use selachron_schemas::merkle::sha256;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::{IntoParams, ToSchema};

/// How a note came.
#[derive(Debug, Clone, Copy)]
pub(super) struct Came {
    /// From which address.
    pub(super) from: Whence,
    /// Whether its signatures were found valid.
    pub(super) signed: bool,
}

/// Notes the refusal of a note that came as `bytes`.
pub(super) fn note_refusal(app: &App, came: Came, bytes: &[u8], problem: &Problem) {
    let body = Envelope::read(bytes).ok().map(|envelope| envelope.body);
    let keyid = body.as_ref().and_then(|body| Event::parse(body).ok()).map(|event| event.keyid);
    let person = keyid.and_then(|id| app.journal.published().keys().person_of(&id).map(str::to_owned));
    app.refusals.note(RefusedWrite {
        keyid: keyid.map(|id| id.to_string()),
        signed: came.signed,
        person,
        sha256: Some(hex(&sha256(body.as_deref().unwrap_or(bytes)))),
        ..of_problem(app, came.from, problem)
    });
}

/// Notes the refusal of a whole request.
pub(super) fn note_request(app: &App, from: Whence, problem: &Problem) {
    app.refusals.note(of_problem(app, from, problem));
}

fn of_problem(app: &App, from: Whence, problem: &Problem) -> RefusedWrite {
    RefusedWrite {
        at: app.clock.now(),
        problem: problem.name().to_owned(),
        // A pointer names members, and a body may give them names of any length.
        pointer: problem.pointer.as_ref().map(|pointer| pointer.chars().take(LIST_ITEMS_DEFAULT).collect()),
        keyid: None,
        signed: false,
        person: None,
        id: problem.id.clone(),
        sha256: None,
        peer: from.0.map(|peer| peer.to_string()),
    }
}

/// Which page.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct RefusedQuery {
    /// Only refusals with a smaller number.
    pub before: Option<i64>,
    /// Most items in the answer, 1 to 1000. Default 100.
    pub limit: Option<usize>,
}

/// A refused write.
#[derive(Debug, Serialize, ToSchema)]
pub struct RefusedItem {
    /// Its number; they only grow.
    pub number: i64,
    /// When, by the service's clock.
    #[schema(value_type = String, format = DateTime)]
    pub at: Instant,
    /// The problem by name.
    pub problem: String,
    /// JSON pointer into the body.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pointer: Option<String>,
    /// The note's id.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// The key that the body names as its author's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub keyid: Option<String>,
    /// Whether its signature was found valid; without that, key and person are only a claim.
    pub signed: bool,
    /// The pseudonym of who holds that key.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// SHA-256 in hex, of the body, or of what came where no body could be read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sha256: Option<String>,
    /// The address that it came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peer: Option<String>,
}

/// A page of refused writes.
#[derive(Debug, Serialize, ToSchema)]
pub struct RefusedList {
    /// How many were ever refused, by problem; `not kept` counts those that came too fast to keep.
    pub counts: BTreeMap<String, i64>,
    /// Number of the oldest that is still kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub oldest_kept: Option<i64>,
    /// Newest first.
    pub items: Vec<RefusedItem>,
    /// The `before` of the next page, if there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<i64>,
}

fn item((number, refused): (i64, RefusedWrite)) -> RefusedItem {
    RefusedItem {
        number,
        at: refused.at,
        problem: refused.problem,
        pointer: refused.pointer,
        id: refused.id,
        keyid: refused.keyid,
        signed: refused.signed,
        person: refused.person,
        sha256: refused.sha256,
        peer: refused.peer,
    }
}

/// Writes that were refused, newest first.
#[utoipa::path(
    get, path = "/v1/refused", tag = "attention", params(RefusedQuery),
    responses((status = 200, body = RefusedList), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_refused(State(app): State<App>, Strictly(asked): Strictly<RefusedQuery>) -> Result<Response, Failure> {
    let limit = asked.limit.unwrap_or(LIST_ITEMS_DEFAULT);
    if !(1..=LIST_ITEMS_MAX).contains(&limit) {
        return Err(Question::bad("limit", format!("{limit} is not a whole number from 1 to {LIST_ITEMS_MAX}")).into());
    }
    let page = app.blocking(move |app| app.refusals.read(asked.before, limit)).await?;
    let last = page.items.last().map(|(number, _)| *number);
    let next = last.filter(|last| page.oldest.is_some_and(|oldest| oldest < *last));
    let items = page.items.into_iter().map(item).collect();
    let list = RefusedList { counts: page.counts, oldest_kept: page.oldest, items, next };
    Ok((OK, [(header::CACHE_CONTROL, "no-store")], axum::Json(list)).into_response())
}
