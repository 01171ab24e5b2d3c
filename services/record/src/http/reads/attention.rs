//! `GET /v1/due` and `/v1/discrepancies`: what asks for somebody's attention. House rules ask and
//! refuse nothing; the licensed veterinarian and the institution's animal-welfare process decide
//! what is done, and local law and permits apply.

use crate::domain::discrepancy::Discrepancy;
use crate::domain::due_order::{DueOrder, arrange};
use crate::domain::record::DueItem;
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams};
use crate::http::page::{Answered, Listed};
use crate::http::problem::{OK, Problem};
use crate::report::calendar::calendar;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
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
    /// `urgency`: what needs a person soonest first; `walk`: by tank and, in it, by the order of a
    /// round. Default `urgency`.
    pub by: Option<String>,
}

impl DueQuery {
    fn order(&self) -> Result<DueOrder, Question> {
        match self.by.as_deref() {
            None | Some("urgency") => Ok(DueOrder::Urgency),
            Some("walk") => Ok(DueOrder::Walk),
            Some(other) => Err(Question::bad("by", format!("{other:?} is neither urgency nor walk"))),
        }
    }

    fn ahead_ms(&self) -> Result<i64, Question> {
        let hours = self.within_hours.unwrap_or_default();
        let wrong = || Question::bad("within_hours", format!("{hours} is more than {DUE_WITHIN_HOURS_MAX} hours"));
        (hours <= DUE_WITHIN_HOURS_MAX).then_some(i64::from(hours) * HOUR_MS).ok_or_else(wrong)
    }
}

/// What is due: looks by house rules and band, looks at cases held apart, hatchlings not seen to
/// eat, openings still to be endorsed, hatch windows, water out of band, discrepancies that nobody
/// has settled, and more. Each says why, since when, and by which notes.
#[utoipa::path(
    get, path = "/v1/due", tag = "attention", params(ReadParams, DueQuery),
    responses((status = 200, body = Answered<Listed<DueItem>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn due(State(app): State<App>, asked: Asked<DueQuery>) -> Result<Response, Failure> {
    let until = asked.at.as_of.plus_ms(asked.query.ahead_ms()?);
    let order = asked.query.order()?;
    let mut items = app.view(&asked.at, move |view| Ok(view.due(until))).await?;
    arrange(&mut items, order);
    asked.answer_page(items, |item| {
        let (id, at) = (item.discrepancy.as_deref().unwrap_or_default(), item.due_at.0);
        let first = item.events.first().map(ToString::to_string).unwrap_or_default();
        format!("{:?} {} {id} {at} {first}", item.what, item.subject)
    })
}

/// The same as an iCalendar (RFC 5545), one all-day event for each thing. A calendar program cannot
/// sign a token for every look; `selachron due --ics FILE` writes this answer to a file that it reads.
#[utoipa::path(
    get, path = "/v1/due.ics", tag = "attention", params(ReadParams, DueQuery),
    responses((status = 200, body = String, content_type = "text/calendar"), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn due_calendar(State(app): State<App>, asked: Asked<DueQuery>) -> Result<Response, Failure> {
    asked.form(&["ics"])?;
    let (until, order) = (asked.at.as_of.plus_ms(asked.query.ahead_ms()?), asked.query.order()?);
    let mut items = app.view(&asked.at, move |view| Ok(view.due(until))).await?;
    arrange(&mut items, order);
    let origin = app.journal.published().founding().map(|founding| founding.origin.clone()).unwrap_or_default();
    let text = calendar(&items, &origin, asked.at.as_of, asked.at.zone);
    let kind = [(header::CONTENT_TYPE, HeaderValue::from_static("text/calendar; charset=utf-8"))];
    Ok((OK, asked.headers(), kind, text).into_response())
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
