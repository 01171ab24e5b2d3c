//! Files that notes name by their SHA-256: taken once a note names them, and given back.

use super::app::App;
use super::body;
use super::problem::{CREATED, OK, Problem};
use crate::failure::{Failure, Question};
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use selachron_schemas::encoding::{from_hex, hex};
use selachron_schemas::limits::EVIDENCE_BYTES_MAX;
use selachron_schemas::merkle::{Hash, sha256};
use serde::Serialize;
use utoipa::ToSchema;

/// A file that is kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptFile {
    /// Its SHA-256, in hexadecimal.
    pub sha256: String,
    /// How long it is.
    pub bytes: usize,
}

/// Keeps a file that a recorded note names: the JSON of an issued report, a photo, a paper.
/// Bundles carry it from then on.
#[utoipa::path(
    put, path = "/v1/evidence/{sha256}", tag = "log",
    params(("sha256" = String, Path, description = "SHA-256 of the file, 64 lower-case hexadecimal characters")),
    request_body(description = "The file's bytes", content_type = "application/octet-stream"),
    responses(
        (status = 201, description = "Kept", body = KeptFile),
        (status = 200, description = "Kept before", body = KeptFile),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn keep(State(app): State<App>, Path(name): Path<String>, body: Body) -> Result<Response, Failure> {
    let hash = hash_of(&name)?;
    app.catch_up().await?;
    if !app.projections.names_file(&hash) {
        let said = format!("no note names a file with the SHA-256 {name}; record the note first, then send its file");
        return Err(Question::NotFound(said).into());
    }
    let bytes = body::read_within(body, EVIDENCE_BYTES_MAX).await?;
    let found = sha256(&bytes);
    if found != hash {
        return Err(Question::BadRequest(format!("these bytes have the SHA-256 {}, not {name}; send the file itself", hex(&found))).into());
    }
    let kept = KeptFile { sha256: name, bytes: bytes.len() };
    let new = app.blocking(move |app| app.evidence.keep(&bytes)).await?;
    Ok((if new { CREATED } else { OK }, axum::Json(kept)).into_response())
}

/// A file that is kept, as its bytes.
#[utoipa::path(
    get, path = "/v1/evidence/{sha256}", tag = "log",
    params(("sha256" = String, Path, description = "SHA-256 of the file, 64 lower-case hexadecimal characters")),
    responses(
        (status = 200, description = "The file's bytes", body = String, content_type = "application/octet-stream"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn give(State(app): State<App>, Path(name): Path<String>) -> Result<Response, Failure> {
    let hash = hash_of(&name)?;
    let found = app.blocking(move |app| app.evidence.read(&hash)).await?;
    let bytes = found.ok_or_else(|| Question::NotFound(format!("no file with the SHA-256 {name} is kept here")))?;
    // Never shown by a browser as what somebody says it is.
    let headers = [(header::CONTENT_TYPE, "application/octet-stream"), (header::X_CONTENT_TYPE_OPTIONS, "nosniff")];
    Ok((OK, headers, bytes).into_response())
}

fn hash_of(name: &str) -> Result<Hash, Question> {
    from_hex::<32>(name).ok_or_else(|| Question::bad("sha256", format!("{name:?} is not 64 lower-case hexadecimal characters")))
}
