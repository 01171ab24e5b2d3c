//! `GET /v1/figures/assisted`: opened cases, described; and compared, on request, in the two ways
//! that do not mistake the past for an effect.

use super::figures::{CohortQuery, figure};
use crate::domain::view::View;
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams};
use crate::http::page::Answered;
use crate::http::problem::Problem;
use crate::report::draw;
use crate::report::figures::{AskedOfAssisted, Assisted, assisted};
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;
use utoipa::IntoParams;

/// Which cases, and from which day on they are compared.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AssistedQuery {
    /// A calendar year of the collection: the year in which cases came.
    pub year: Option<String>,
    /// First day, such as 2026-03-01; not together with `year`.
    pub from: Option<String>,
    /// Last day, itself included; not together with `year`.
    pub to: Option<String>,
    /// A species, by id, subject or name.
    pub species: Option<String>,
    /// A dam, by id, subject or label; counted is only where she is known.
    pub dam: Option<String>,
    /// Whole days since laying from which a case still in its case is eligible; without it there is
    /// no comparison.
    pub eligible_from_days: Option<u32>,
    /// Days after that by which an opening counts at the landmark; 14 if not said.
    pub within_days: Option<u32>,
}

/// Opened cases: how many, why, at what age and band, what became of them and of their young; `format=svg` draws what became of them.
#[utoipa::path(
    get, path = "/v1/figures/assisted", tag = "figures", params(ReadParams, AssistedQuery),
    responses((status = 200, body = Answered<Assisted>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn assisted_of(State(app): State<App>, asked: Asked<AssistedQuery>) -> Result<Response, Failure> {
    let AssistedQuery { year, from, to, species, dam, eligible_from_days, within_days } = asked.query.clone();
    let (cohort, compare) = (CohortQuery { year, from, to, species, dam }, AskedOfAssisted { from_days: eligible_from_days, within_days });
    let make = move |view: &View<'_>, _| Ok(assisted(&view.eggs(), &view.animals(), &cohort.cohort(view)?, compare, view.zone()));
    figure(&app, &asked, make, |found: &Assisted| Ok(draw::assisted(found))).await
}
