//! What a trade report wants: uses of permits by species and code, and the reasons for a source code.
//! Neither decides anything.

use super::exports::{CSV, described, headed};
use super::figures::year;
use super::one;
use crate::domain::source_codes::SourceCodes;
use crate::domain::trade::TradeLine;
use crate::export::trade::{TRADE, write_csv};
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::{OK, Problem};
use crate::http::reads::exports::YearQuery;
use axum::extract::{Path, State};
use axum::response::{IntoResponse as _, Response};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// The routes of trade.
#[must_use]
pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(trade)).routes(routes!(source_codes)).routes(routes!(source_codes_of_case))
}

/// Uses of permits, one line for each species, permit's word, and codes as they were signed; of a year or
/// of all years. JSON, CSV, or `csvw`, the description of that.
#[utoipa::path(
    get, path = "/v1/exports/trade", tag = "exports", params(ReadParams, YearQuery),
    responses((status = 200, body = Answered<Listed<TradeLine>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn trade(State(app): State<App>, asked: Asked<YearQuery>) -> Result<Response, Failure> {
    let year = asked.query.year.as_deref().map(year).transpose()?;
    let form = asked.form(&["json", "csv", "csvw"])?;
    if form == "csvw" {
        return described(&app, &asked, &TRADE, "Uses of permits by species and code");
    }
    let lines = app.view(&asked.at, move |view| Ok(view.trade_lines(year))).await?;
    if form == "csv" {
        let mut bytes = Vec::new();
        write_csv(&mut bytes, &lines)?;
        return Ok((OK, asked.headers(), headed(&asked, CSV, "trade.csv"), bytes).into_response());
    }
    asked.answer_page(lines, |line| format!("{:?} {} {:?}", line.species, line.what, line.codes))
}

/// What the record has to say for and against the source codes C, F, W and R of an animal, with the notes
/// behind, and what it asks. It decides nothing.
#[utoipa::path(
    get, path = "/v1/animals/{id}/source-codes", tag = "animals",
    params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<SourceCodes>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn source_codes(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "animal", id, |view, id| view.animal(id).map(|animal| view.source_codes(&animal))).await
}

/// The same of an egg case (live eggs are a trade of their own).
#[utoipa::path(
    get, path = "/v1/eggs/{id}/source-codes", tag = "eggs",
    params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<SourceCodes>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn source_codes_of_case(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    one(app, asked, "egg", id, |view, id| view.egg(id).map(|egg| view.source_codes_of_case(&egg))).await
}
