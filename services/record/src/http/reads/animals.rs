//! `GET /v1/animals`: animals, from the hatch or the arrival on.

use super::{many, one};
use crate::domain::state::Animal;
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;

/// Animals, in the order of their ids.
#[utoipa::path(
    get, path = "/v1/animals", tag = "animals", params(ReadParams),
    responses((status = 200, body = Answered<Listed<Animal>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_animals(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    many(app, asked, "animal", |view, id| view.animal(id)).await
}

/// One animal by its id or label.
#[utoipa::path(
    get, path = "/v1/animals/{id}", tag = "animals", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<Animal>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_animal(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "animal", id, |view, id| view.animal(id)).await
}
