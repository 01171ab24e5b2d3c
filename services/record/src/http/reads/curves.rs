//! `GET /v1/figures/…`, continued: fates by age, when cases die, days to hatching by temperature, the
//! life table of the young, and kinship. `explain=true` names the notes, `format=svg` draws.

use super::figures::{CohortQuery, figure, watch};
use crate::domain::view::View;
use crate::domain::warmth::Readings;
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams};
use crate::http::page::Answered;
use crate::http::problem::Problem;
use crate::report::draw;
use crate::report::figures::{
    EggFates, IncubationFigure, LifeTableFigure, LossTiming, PedigreeFigure, egg_fates, incubation, loss_timing, pedigree, young_life_table,
};
use axum::extract::State;
use axum::response::Response;

/// What became of cases, by age: the parts hatched, died, left and still open, which add up to 1; `format=svg` stacks them.
#[utoipa::path(
    get, path = "/v1/figures/egg-fates", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<EggFates>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn egg_fates_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    let query = asked.query.clone();
    let make = move |view: &View<'_>, explain| Ok(egg_fates(&view.eggs(), &view.case_rows(), &query.cohort(view)?, view.zone(), explain));
    figure(&app, &asked, make, |found| Ok(draw::egg_fates(found))).await
}

/// When cases die, as a band: a death lies between two looks, and no day is made up for it; `format=svg` draws the band.
#[utoipa::path(
    get, path = "/v1/figures/loss-timing", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<LossTiming>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn loss_timing_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    let query = asked.query.clone();
    let make = move |view: &View<'_>, explain| Ok(loss_timing(&view.eggs(), &view.case_rows(), &query.cohort(view)?, view.zone(), explain));
    figure(&app, &asked, make, |found| Ok(draw::loss_timing(found))).await
}

/// Days to hatching against the temperature of the water, each species by itself; `format=svg` draws one of them.
#[utoipa::path(
    get, path = "/v1/figures/incubation", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<IncubationFigure>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn incubation_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    let query = asked.query.clone();
    let make = move |view: &View<'_>, explain| {
        let mut readings = Readings::default();
        let warmth = |id: &_| view.warmth_along(id, &mut readings);
        Ok(incubation(&view.eggs(), &view.case_rows(), &query.cohort(view)?, view.zone(), warmth, explain))
    };
    figure(&app, &asked, make, draw::incubation).await
}

/// The life table of young from hatch, by the day they hatched, and births by the age of the dam; `format=svg` draws the part that lives on.
#[utoipa::path(
    get, path = "/v1/figures/life-table", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<LifeTableFigure>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn life_table_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    let query = asked.query.clone();
    let make =
        move |view: &View<'_>, explain| Ok(young_life_table(&view.animals(), &view.eggs(), &query.cohort(view)?, watch(view), explain));
    figure(&app, &asked, make, |found| Ok(draw::life_table(found))).await
}

/// Kinship, founders and gene diversity, each species by itself; only `species` limits it, and `format=svg` draws one.
#[utoipa::path(
    get, path = "/v1/figures/pedigree", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<PedigreeFigure>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn pedigree_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    let query = asked.query.clone();
    let make = move |view: &View<'_>, explain| {
        Ok(pedigree(&view.animals(), &view.eggs(), &query.only_species()?.cohort(view)?, view.zone(), explain))
    };
    figure(&app, &asked, make, draw::pedigree).await
}
