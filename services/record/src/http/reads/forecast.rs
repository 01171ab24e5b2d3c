//! `GET /v1/forecast`, `/v1/eggs/{id}/forecast` and `/v1/species/{id}/incubation`: when cases may
//! hatch, as windows with probabilities, and what is known of how long their species take.

use super::one;
use crate::domain::forecast::windows;
use crate::domain::state::{EggForecast, SpeciesRates};
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;

/// When each case that is incubating may hatch, in the order of their ids; where nobody can say,
/// the reason.
#[utoipa::path(
    get, path = "/v1/forecast", tag = "forecast", params(ReadParams),
    responses((status = 200, body = Answered<Listed<EggForecast>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn forecast(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let items: Vec<EggForecast> = app.view(&asked.at, |view| Ok(windows(view).into_values().collect())).await?;
    asked.answer_page(items, |item| item.egg.to_string())
}

/// When one case may hatch, by its id or label.
#[utoipa::path(
    get, path = "/v1/eggs/{id}/forecast", tag = "forecast", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<EggForecast>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn egg_forecast(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "egg", id, |view, id| view.egg_forecast(id)).await
}

/// How long the cases of a species take: published alone, own completed incubations alone, both,
/// and the house's entry, each with its n.
#[utoipa::path(
    get, path = "/v1/species/{id}/incubation", tag = "forecast",
    params(ReadParams, ("id" = String, Path, description = "ULID, subject or name")),
    responses((status = 200, body = Answered<Item<SpeciesRates>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn species_incubation(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "species", id, |view, id| view.species_rates(id)).await
}
