//! `GET /v1/log/…`: checkpoint, proofs and the bundle that an auditor takes away.

use super::app::App;
use super::problem::{OK, Problem};
use super::query::Strictly;
use crate::export::place::Tar;
use crate::export::{self, Source, stream};
use crate::failure::{Broken, Failure, Question};
use axum::Json;
use axum::body::Body;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use selachron_schemas::encoding::base64;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::merkle::Hash;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// A proof: hashes from the leaves up (RFC 9162 2.1.3 and 2.1.4).
#[derive(Debug, Serialize, ToSchema)]
pub struct Proof {
    /// Base64 of 32 bytes each.
    pub hashes: Vec<String>,
}

/// A note as it was signed, with its receipt under the newest checkpoint.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Receipted {
    /// The note as it was signed (F7).
    pub envelope: String,
    /// Its receipt (F17).
    pub receipt: String,
}

/// A change of the log's key, and what its signatures are checked by. All receipts are under one checkpoint.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Rekeyed {
    /// The change.
    #[serde(flatten)]
    pub change: Receipted,
    /// The founding and every replacement of the root keys before the change, in their order.
    pub roots: Vec<Receipted>,
}

/// Which leaf, in which tree.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct InclusionQuery {
    /// The leaf's seq.
    pub seq: u64,
    /// Tree size; the newest if absent.
    pub size: Option<u64>,
}

/// Between which trees.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ConsistencyQuery {
    /// The smaller tree's size, at least 1.
    pub first: u64,
    /// The larger tree's size; the newest if absent.
    pub second: Option<u64>,
}

fn text(body: impl Into<Body>, media: &'static str) -> Response {
    (OK, [(header::CONTENT_TYPE, media)], body.into()).into_response()
}

/// The log's newest verifier key: what a device pins at first contact, before it has a key that
/// could sign a token. Its name is the log's origin, which is the `aud` of tokens.
#[utoipa::path(
    get, path = "/v1/log/key", tag = "log",
    responses(
        (status = 200, description = "A C2SP verifier key, one line", body = String, content_type = "text/plain"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn key(State(app): State<App>) -> Result<Response, Failure> {
    let key = app.journal.published().log_keys().newest().map(|key| format!("{key}\n"));
    let key = key.ok_or_else(|| Question::NotFound("this log is not founded yet".to_owned()))?;
    Ok(text(key, "text/plain; charset=utf-8"))
}

/// The last change of the log's key and the notes that named the root keys until then, with receipts under
/// the newest checkpoint: while keys overlap, whoever pinned the former one can follow (F14).
#[utoipa::path(
    get, path = "/v1/log/rekeyed", tag = "log",
    responses((status = 200, body = Rekeyed), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn rekeyed(State(app): State<App>) -> Result<Json<Rekeyed>, Failure> {
    let (change, named) = {
        let published = app.journal.published();
        (published.log_keys().last_change(), published.keys().root_lists().iter().map(|list| list.seq).collect::<Vec<u64>>())
    };
    let seq = change.ok_or_else(|| Question::NotFound("this log has never changed its key".to_owned()))?.seq;
    let seqs: Vec<u64> = named.into_iter().filter(|named| *named < seq).chain([seq]).collect();
    let mut shown = app.blocking(move |app| receipted(app, &seqs)).await?;
    let change = shown.pop().ok_or_else(|| Broken::at(seq, "published, but not in the store"))?;
    Ok(Json(Rekeyed { change, roots: shown }))
}

fn receipted(app: &App, seqs: &[u64]) -> Result<Vec<Receipted>, Failure> {
    let mut rows = Vec::new();
    for seq in seqs {
        let missing = || Broken::at(*seq, "published, but not in the store");
        let row = app.journal.store().read_all(*seq, 1)?.pop().ok_or_else(missing)?;
        let body = row.body.ok_or_else(missing)?;
        rows.push((Envelope::written(&body, &row.leaf.signatures), row.leaf));
    }
    // Held for all of them, so that one checkpoint stands under them all.
    let published = app.journal.published();
    let shown = |(envelope, leaf)| Ok(Receipted { envelope, receipt: published.receipt(&leaf)?.0 });
    rows.into_iter().map(shown).collect()
}

/// The newest checkpoint: a C2SP signed note.
#[utoipa::path(
    get, path = "/v1/log/checkpoint", tag = "log",
    responses(
        (status = 200, description = "A C2SP tlog-checkpoint", body = String, content_type = "text/plain"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn checkpoint(State(app): State<App>) -> Result<Response, Failure> {
    let note = app.journal.published().head().map(|head| head.note.clone());
    let note = note.ok_or_else(|| Question::NotFound("nothing has been recorded yet".to_owned()))?;
    Ok(text(note, "text/plain; charset=utf-8"))
}

/// That a leaf stands in a tree.
#[utoipa::path(
    get, path = "/v1/log/proof/inclusion", tag = "log", params(InclusionQuery),
    responses((status = 200, body = Proof), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn inclusion(State(app): State<App>, Strictly(asked): Strictly<InclusionQuery>) -> Result<Json<Proof>, Failure> {
    let published = app.journal.published();
    let size = asked.size.unwrap_or(published.size());
    proof(published.inclusion(asked.seq, size), || {
        Question::bad("seq", format!("there is no leaf {} in a tree of size {size}; the log holds {} notes", asked.seq, published.size()))
    })
}

/// That one tree is the beginning of another.
#[utoipa::path(
    get, path = "/v1/log/proof/consistency", tag = "log", params(ConsistencyQuery),
    responses((status = 200, body = Proof), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn consistency(State(app): State<App>, Strictly(asked): Strictly<ConsistencyQuery>) -> Result<Json<Proof>, Failure> {
    let published = app.journal.published();
    let second = asked.second.unwrap_or(published.size());
    proof(published.consistency(asked.first, second), || {
        let size = published.size();
        Question::bad(
            "first",
            format!("first must be at least 1 and at most second, second at most {size}; asked for {} and {second}", asked.first),
        )
    })
}

fn proof(hashes: Option<Vec<Hash>>, wrong: impl FnOnce() -> Question) -> Result<Json<Proof>, Failure> {
    let hashes = hashes.ok_or_else(wrong)?;
    Ok(Json(Proof { hashes: hashes.iter().map(|hash| base64(hash)).collect() }))
}

/// Everything that an auditor needs, at the newest checkpoint: a tar of the folder of F25.
#[utoipa::path(
    get, path = "/v1/log/bundle", tag = "log",
    responses(
        (status = 200, description = "A tar of the bundle", body = String, content_type = "application/x-tar"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn bundle(State(app): State<App>) -> Result<Response, Failure> {
    // What cannot be had at all is refused before anything is sent.
    Source::of(&app.journal, &app.evidence)?;
    let body = stream::produced(move |out| {
        let mut tar = Tar::begun(out, &app.scratch)?;
        export::write_into(&mut tar, &Source::of(&app.journal, &app.evidence)?)?;
        tar.finish()
    });
    let name = "attachment; filename=\"bundle.tar\"";
    let body = Body::from_stream(body);
    Ok((OK, [(header::CONTENT_TYPE, "application/x-tar"), (header::CONTENT_DISPOSITION, name)], body).into_response())
}
