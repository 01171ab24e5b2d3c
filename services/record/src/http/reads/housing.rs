//! `GET /v1/tanks`, `/v1/systems`, `/v1/species`: what cases and animals refer to.

use super::{many, one};
use crate::domain::state::{Species, System, Tank};
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;

/// Tanks with who is in them, in the order of their ids.
#[utoipa::path(
    get, path = "/v1/tanks", tag = "tanks", params(ReadParams),
    responses((status = 200, body = Answered<Listed<Tank>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_tanks(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    // Who is where is worked out once for all tanks.
    let tanks = app.view(&asked.at, |view| Ok(view.tanks())).await?;
    asked.answer_page(tanks, |tank| tank.id.to_string())
}

/// One tank by its id or label.
#[utoipa::path(
    get, path = "/v1/tanks/{id}", tag = "tanks", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<Tank>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_tank(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "tank", id, |view, id| view.tank(id)).await
}

/// Water systems, in the order of their ids.
#[utoipa::path(
    get, path = "/v1/systems", tag = "systems", params(ReadParams),
    responses((status = 200, body = Answered<Listed<System>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_systems(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    many(app, asked, "system", |view, id| view.system(id)).await
}

/// One system by its id or label.
#[utoipa::path(
    get, path = "/v1/systems/{id}", tag = "systems", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<System>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_system(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "system", id, |view, id| view.system(id)).await
}

/// Species, in the order of their ids.
#[utoipa::path(
    get, path = "/v1/species", tag = "species", params(ReadParams),
    responses((status = 200, body = Answered<Listed<Species>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_species(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    many(app, asked, "species", |view, id| view.species(id)).await
}

/// One species by its id or name.
#[utoipa::path(
    get, path = "/v1/species/{id}", tag = "species", params(ReadParams, ("id" = String, Path, description = "ULID, subject, or common or scientific name")),
    responses((status = 200, body = Answered<Item<Species>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_species(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "species", id, |view, id| view.species(id)).await
}
