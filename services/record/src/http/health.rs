//! Whether the process lives, and whether it takes notes.

use super::app::App;
use super::problem::{OK, UNAVAILABLE};
use crate::journal::published::Condition;
use axum::Json;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

/// How the service is.
#[derive(Debug, Serialize, ToSchema)]
pub struct Health {
    /// `ok`, `sealed` or `broken`.
    pub status: &'static str,
    /// Number of notes published.
    pub size: u64,
    /// Why it takes no notes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// The process answers.
#[utoipa::path(get, path = "/healthz", tag = "health", responses((status = 200, body = Health)))]
pub async fn healthz(State(app): State<App>) -> Json<Health> {
    Json(Health { status: "ok", size: app.journal.published().size(), reason: None })
}

/// The service takes notes.
#[utoipa::path(get, path = "/readyz", tag = "health", responses((status = 200, body = Health), (status = 503, body = Health)))]
pub async fn readyz(State(app): State<App>) -> Response {
    let size = app.journal.published().size();
    match app.journal.condition() {
        Condition::Writing => (OK, Json(Health { status: "ok", size, reason: None })).into_response(),
        Condition::Sealed(reason) => (UNAVAILABLE, Json(Health { status: "sealed", size, reason: Some(reason) })).into_response(),
        Condition::Stopped(broken) => {
            let reason = broken.seq.map(|seq| format!("the record does not check at seq {seq}"));
            (UNAVAILABLE, Json(Health { status: "broken", size, reason })).into_response()
        }
    }
}
