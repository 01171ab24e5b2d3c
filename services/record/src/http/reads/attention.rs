//! `GET /v1/due` and `/v1/discrepancies`: what asks for somebody's attention. House rules ask and
//! refuse nothing; the licensed veterinarian and the institution's animal-welfare process decide
//! what is done, and local law and permits apply.

use crate::domain::discrepancy::Discrepancy;
use crate::domain::record::DueItem;
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams};
use crate::http::page::{Answered, Listed};
use crate::http::problem::Problem;
use axum::extract::State;
use axum::response::Response;
use selachron_schemas::limits::DUE_WITHIN_HOURS_MAX;
use selachron_schemas::time::HOUR_MS;
use serde::Deserialize;
use utoipa::IntoParams;

/// How far to look ahead.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct DueQuery {
    /// Also what will be due within so many hours of `as_of`; at most 8784, a leap year. Default 0.
    pub within_hours: Option<u32>,
}

impl DueQuery {
    fn ahead_ms(&self) -> Result<i64, Question> {
        let hours = self.within_hours.unwrap_or_default();
        let wrong = || Question::bad("within_hours", format!("{hours} is more than {DUE_WITHIN_HOURS_MAX} hours"));
        (hours <= DUE_WITHIN_HOURS_MAX).then_some(i64::from(hours) * HOUR_MS).ok_or_else(wrong)
    }
}

/// What is due: looks by house rules and band, looks at cases held apart, hatchlings not seen to
/// eat, openings still to be endorsed, discrepancies that nobody has settled. The longest due first.
#[utoipa::path(
    get, path = "/v1/due", tag = "attention", params(ReadParams, DueQuery),
    responses((status = 200, body = Answered<Listed<DueItem>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn due(State(app): State<App>, asked: Asked<DueQuery>) -> Result<Response, Failure> {
    let until = asked.at.as_of.plus_ms(asked.query.ahead_ms()?);
    let items = app.view(&asked.at, move |view| Ok(view.due(until))).await?;
    asked.answer_page(items, |item| format!("{:?} {} {}", item.what, item.subject, item.discrepancy.as_deref().unwrap_or_default()))
}

/// Which discrepancies.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct DiscrepancyQuery {
    /// `true`: only those that nobody has settled; `false`: only those that somebody has.
    pub open: Option<bool>,
}

/// What is at odds: possible in reality, but not with the rest of the record, with what was said
/// of it. The weightiest first.
#[utoipa::path(
    get, path = "/v1/discrepancies", tag = "attention", params(ReadParams, DiscrepancyQuery),
    responses((status = 200, body = Answered<Listed<Discrepancy>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn discrepancies(State(app): State<App>, asked: Asked<DiscrepancyQuery>) -> Result<Response, Failure> {
    let mut items = app.view(&asked.at, |view| Ok(view.discrepancies())).await?;
    items.retain(|item| asked.query.open.is_none_or(|open| open == item.open));
    asked.answer_page(items, |item| item.id.clone())
}
