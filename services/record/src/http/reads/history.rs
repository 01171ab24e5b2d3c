//! `GET /v1/…/{id}/history`: every note that names a thing in any of its versions, with what was
//! done to that note since.

use crate::domain::record::HistoryNote;
use crate::domain::view::View;
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::Answered;
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

/// A history, whole: it is never cut into pages, for a history with a page missing is none.
#[derive(Debug, Serialize, ToSchema)]
pub struct History {
    /// Whose.
    #[schema(value_type = String)]
    pub item_id: Subject,
    /// In order of (effective time, seq).
    pub notes: Vec<HistoryNote>,
}

async fn history(
    app: App,
    mut asked: Asked<NoMore>,
    find: impl FnOnce(&View<'_>) -> Result<Subject, Question> + Send + 'static,
) -> Result<Response, Failure> {
    let told = move |view: &View<'_>| {
        let item_id = find(view)?;
        let (notes, withheld) = (view.history(&item_id), view.withheld_behind(&item_id));
        Ok((History { item_id, notes }, withheld))
    };
    let (history, withheld) = app.view(&asked.at, told).await?;
    asked.at.withheld = withheld;
    asked.answer(history)
}

/// Every note that names a case, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/eggs/{id}/history", tag = "eggs", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn egg_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("egg", &id)).await
}

/// Every note that names a clutch, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/clutches/{id}/history", tag = "eggs", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn clutch_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("clutch", &id)).await
}

/// Every note that names an animal, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/animals/{id}/history", tag = "animals", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn animal_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("animal", &id)).await
}

/// Every note that names a tank, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/tanks/{id}/history", tag = "tanks", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn tank_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("tank", &id)).await
}

/// Every note that names a water system, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/systems/{id}/history", tag = "systems", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn system_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("system", &id)).await
}

/// Every note that names a species, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/species/{id}/history", tag = "species", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn species_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("species", &id)).await
}

/// Every note that names a key, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/keys/{id}/history", tag = "keys", params(ReadParams, ("id" = String, Path, description = "Key id, with or without key/")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn key_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("key", &id)).await
}

/// Every note about the collection as a whole: founding, house rules, reports, bodies withheld.
#[utoipa::path(
    get, path = "/v1/collection/history", tag = "collection", params(ReadParams),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn collection_history(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    history(app, asked, |_| Ok(Subject::collection())).await
}
