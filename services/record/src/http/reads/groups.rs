//! `GET /v1/groups`: animals that cannot be told apart, counted together.

use super::{many, one};
use crate::domain::state::Group;
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;

/// Groups, in the order of their ids.
#[utoipa::path(
    get, path = "/v1/groups", tag = "animals", params(ReadParams),
    responses((status = 200, body = Answered<Listed<Group>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_groups(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    many(app, asked, "group", |view, id| view.group(id)).await
}

/// One group by its id or label.
#[utoipa::path(
    get, path = "/v1/groups/{id}", tag = "animals", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<Group>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_group(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "group", id, |view, id| view.group(id)).await
}
