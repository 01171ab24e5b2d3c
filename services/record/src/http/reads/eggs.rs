//! `GET /v1/eggs` and `/v1/clutches`: cases, from the find on; a case keeps its identity after the hatch.

use super::{many, one};
use crate::domain::state::{Clutch, Egg};
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;

/// Cases, in the order of their ids.
#[utoipa::path(
    get, path = "/v1/eggs", tag = "eggs", params(ReadParams),
    responses((status = 200, body = Answered<Listed<Egg>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_eggs(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    many(app, asked, "egg", |view, id| view.egg(id)).await
}

/// One case by its id or label.
#[utoipa::path(
    get, path = "/v1/eggs/{id}", tag = "eggs", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<Egg>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_egg(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "egg", id, |view, id| view.egg(id)).await
}

/// Clutches that were put down as such, in the order of their ids.
#[utoipa::path(
    get, path = "/v1/clutches", tag = "eggs", params(ReadParams),
    responses((status = 200, body = Answered<Listed<Clutch>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_clutches(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    many(app, asked, "clutch", |view, id| view.clutch(id)).await
}

/// One clutch by its id or label.
#[utoipa::path(
    get, path = "/v1/clutches/{id}", tag = "eggs", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<Clutch>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_clutch(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "clutch", id, |view, id| view.clutch(id)).await
}
