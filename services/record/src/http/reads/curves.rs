//! `GET /v1/figures/…`, continued: fates by age, when cases die, days to hatching by temperature, the
//! life table of the young, and kinship. All JSON; `explain=true` names the notes.

use super::figures::CohortQuery;
use crate::domain::view::View;
use crate::domain::warmth::Readings;
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams};
use crate::http::page::Answered;
use crate::http::problem::Problem;
use crate::report::figures::{
    EggFates, IncubationFigure, LifeTableFigure, LossTiming, PedigreeFigure, Watch, egg_fates, incubation, loss_timing, pedigree,
    young_life_table,
};
use axum::extract::State;
use axum::response::Response;

/// What became of cases, by age: the parts hatched, died, left and still open, which add up to 1.
#[utoipa::path(
    get, path = "/v1/figures/egg-fates", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<EggFates>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn egg_fates_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    asked.form(&["json"])?;
    let (explain, query) = (asked.explain, asked.query.clone());
    let work = move |view: &View<'_>| Ok(egg_fates(&view.eggs(), &view.case_rows(), &query.cohort(view)?, view.zone(), explain));
    let found: EggFates = app.view(&asked.at, work).await?;
    asked.answer(found)
}

/// When cases die, as a band: a death lies between two looks, and no day is made up for it.
#[utoipa::path(
    get, path = "/v1/figures/loss-timing", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<LossTiming>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn loss_timing_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    asked.form(&["json"])?;
    let (explain, query) = (asked.explain, asked.query.clone());
    let work = move |view: &View<'_>| Ok(loss_timing(&view.eggs(), &view.case_rows(), &query.cohort(view)?, view.zone(), explain));
    let found: LossTiming = app.view(&asked.at, work).await?;
    asked.answer(found)
}

/// Days to hatching against the temperature of the water, each species by itself.
#[utoipa::path(
    get, path = "/v1/figures/incubation", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<IncubationFigure>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn incubation_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    asked.form(&["json"])?;
    let (explain, query) = (asked.explain, asked.query.clone());
    let work = move |view: &View<'_>| {
        let mut readings = Readings::default();
        let warmth = |id: &_| view.warmth_along(id, &mut readings);
        Ok(incubation(&view.eggs(), &view.case_rows(), &query.cohort(view)?, view.zone(), warmth, explain))
    };
    let found: IncubationFigure = app.view(&asked.at, work).await?;
    asked.answer(found)
}

/// The life table of young from hatch, by the day they hatched.
#[utoipa::path(
    get, path = "/v1/figures/life-table", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<LifeTableFigure>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn life_table_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    asked.form(&["json"])?;
    let (explain, query) = (asked.explain, asked.query.clone());
    let work = move |view: &View<'_>| {
        let watch = Watch { as_of: view.as_of(), zone: view.zone(), unseen_days_max: view.policy().unseen_days_max };
        Ok(young_life_table(&view.animals(), &view.eggs(), &query.cohort(view)?, watch, explain))
    };
    let found: LifeTableFigure = app.view(&asked.at, work).await?;
    asked.answer(found)
}

/// Kinship, founders and gene diversity, each species by itself; only `species` limits it.
#[utoipa::path(
    get, path = "/v1/figures/pedigree", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<PedigreeFigure>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn pedigree_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    asked.form(&["json"])?;
    let (explain, query) = (asked.explain, asked.query.clone());
    let work =
        move |view: &View<'_>| Ok(pedigree(&view.animals(), &view.eggs(), &query.only_species()?.cohort(view)?, view.zone(), explain));
    let found: PedigreeFigure = app.view(&asked.at, work).await?;
    asked.answer(found)
}
