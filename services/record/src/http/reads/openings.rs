//! `GET /v1/eggs/{id}/opening` and `/v1/openings`: what speaks for and against opening a case.
//! Never a recommendation; the licensed veterinarian and the institution's animal-welfare process
//! decide, and local law and permits apply.

use super::one;
use crate::domain::state::OpeningAssessment;
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;

/// One case: criteria and reasons against, each with its evidence and its age; comparable cases;
/// who must agree; the cautions.
#[utoipa::path(
    get, path = "/v1/eggs/{id}/opening", tag = "forecast", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<OpeningAssessment>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn egg_opening(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "egg", id, |view, id| view.opening_assessment(id)).await
}

/// Every case that meets all criteria of the house rules at that moment, by id. No recommendation.
#[utoipa::path(
    get, path = "/v1/openings", tag = "forecast", params(ReadParams),
    responses((status = 200, body = Answered<Listed<OpeningAssessment>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn openings(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let items: Vec<OpeningAssessment> = app.view(&asked.at, |view| Ok(view.opening_assessments())).await?;
    asked.answer_page(items, |item| item.egg.to_string())
}
