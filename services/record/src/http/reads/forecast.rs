//! `GET /v1/forecast`, `/v1/eggs/{id}/forecast` and `/v1/species/{id}/incubation`: when cases may
//! hatch, as windows with probabilities, and what is known of how long their species take.

use super::one;
use crate::domain::forecast::windows;
use crate::domain::state::{EggForecast, SpeciesRates};
use crate::domain::view::View;
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use crate::report::draw;
use axum::extract::{Path, State};
use axum::response::Response;
use selachron_schemas::limits::RIBBON_CASES_MAX;

/// When each case that is incubating may hatch, in the order of their ids; where nobody can say,
/// the reason. `format=svg` draws all of them.
#[utoipa::path(
    get, path = "/v1/forecast", tag = "forecast", params(ReadParams),
    responses((status = 200, body = Answered<Listed<EggForecast>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn forecast(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let form = asked.form(&["json", "svg"])?;
    let items: Vec<EggForecast> = app.view(&asked.at, |view| Ok(windows(view).into_values().collect())).await?;
    match form {
        "svg" => drawn(&asked, &items),
        _ => asked.answer_page(items, |item| item.egg.to_string()),
    }
}

/// As many leaves as a reader can tell apart; the ribbon of a large nursery is asked for case by case.
fn drawn(asked: &Asked<NoMore>, items: &[EggForecast]) -> Result<Response, Failure> {
    if items.len() > RIBBON_CASES_MAX {
        let says = format!("{} cases are more than the {RIBBON_CASES_MAX} of one drawing; ask for them one by one", items.len());
        return Err(Question::bad("format", says).into());
    }
    let today = asked.at.as_of.day(asked.at.zone);
    Ok(asked.answer_drawn(&draw::windows(items, today)))
}

/// When one case may hatch, by its id or label; `format=svg` draws it.
#[utoipa::path(
    get, path = "/v1/eggs/{id}/forecast", tag = "forecast", params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<EggForecast>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn egg_forecast(State(app): State<App>, Path(id): Path<String>, mut asked: Asked<NoMore>) -> Result<Response, Failure> {
    if asked.form(&["json", "svg"])? == "svg" {
        let find = move |view: &View<'_>| {
            let egg = view.find("egg", &id)?;
            let found = view.egg_forecast(&egg);
            let found = found.ok_or_else(|| Question::NotFound(format!("no note that stands says how {egg} came")))?;
            Ok((found, view.suspected_behind(&egg)))
        };
        let found: EggForecast;
        (found, asked.at.suspected) = app.view(&asked.at, find).await?;
        return drawn(&asked, &[found]);
    }
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
