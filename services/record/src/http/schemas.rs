//! `GET /v1/schemas/{file}` and the description of this API itself.

use super::app::App;
use super::problem::{OK, Problem};
use crate::failure::{Failure, Question};
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use selachron_schemas::catalogue;

/// A schema file, byte for byte as bundles carry it.
#[utoipa::path(
    get, path = "/v1/schemas/{file}", tag = "schemas", params(("file" = String, Path, description = "Such as egg.candled.v1.schema.json")),
    responses(
        (status = 200, description = "The file", body = Object, content_type = "application/schema+json"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn schema(Path(file): Path<String>) -> Result<Response, Failure> {
    let bytes = catalogue::files().get(&file).copied();
    let bytes = bytes.ok_or_else(|| Question::NotFound(format!("there is no schema file {file:?}; a kind's is <kind>.schema.json")))?;
    Ok((OK, [(header::CONTENT_TYPE, "application/schema+json")], bytes).into_response())
}

/// This API as OpenAPI 3.1, made from the code that answers.
#[utoipa::path(get, path = "/v1/openapi.json", tag = "schemas", responses((status = 200, description = "OpenAPI 3.1", body = Object)))]
pub async fn openapi(State(app): State<App>) -> Response {
    (OK, [(header::CONTENT_TYPE, "application/json")], app.openapi.to_string()).into_response()
}
