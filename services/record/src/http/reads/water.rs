//! `GET /v1/systems/{id}/water`, `/v1/tanks/{id}/water` and `/v1/water/episodes`: readings over time
//! with what follows from them, and the times outside a band. Whether animals are in danger is judged
//! at the tank; the licensed veterinarian and the institution's animal-welfare process decide.

use crate::domain::state::{Quantity, WaterEpisode, WaterSeries};
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams, moment, start};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use crate::report::water;
use axum::extract::{Path, State};
use axum::response::Response;
use selachron_schemas::limits::WATER_READINGS_MAX;
use serde::Deserialize;
use utoipa::IntoParams;

/// Which readings.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct WaterQuery {
    /// From this time, or the beginning of this date.
    pub from: Option<String>,
    /// To this time, or the end of this date.
    pub to: Option<String>,
    /// What `format=svg` draws: `temperature_c`, `salinity_psu`, `ph`, `un_ionised_ammonia_mg_l_n`,
    /// `nitrite_mg_l_n`, `nitrate_mg_l_n`, `oxygen_percent`. Default `temperature_c`.
    pub quantity: Option<String>,
}

/// Readings of a system's water, by probe, with derived values, bands and gaps; `format=svg` draws one quantity.
#[utoipa::path(
    get, path = "/v1/systems/{id}/water", tag = "systems", params(ReadParams, WaterQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<WaterSeries>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn system_water(State(app): State<App>, Path(id): Path<String>, asked: Asked<WaterQuery>) -> Result<Response, Failure> {
    series(app, id, asked, "system").await
}

/// Readings of a tank's own probes; of a tank that shares a system's water the system has the others.
#[utoipa::path(
    get, path = "/v1/tanks/{id}/water", tag = "tanks", params(ReadParams, WaterQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<Item<WaterSeries>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn tank_water(State(app): State<App>, Path(id): Path<String>, asked: Asked<WaterQuery>) -> Result<Response, Failure> {
    series(app, id, asked, "tank").await
}

async fn series(app: App, id: String, asked: Asked<WaterQuery>, noun: &'static str) -> Result<Response, Failure> {
    let (form, zone) = (asked.form(&["json", "svg"])?, asked.at.zone);
    let from = asked.query.from.as_deref().map(|text| start("from", text, zone)).transpose()?;
    let to = asked.query.to.as_deref().map(|text| moment("to", text, zone)).transpose()?;
    if from.zip(to).is_some_and(|(from, to)| to < from) {
        return Err(Question::bad("to", "it lies before from").into());
    }
    let quantity = drawn(asked.query.quantity.as_deref())?;
    let read = move |view: &crate::domain::view::View<'_>| {
        let water = view.find(noun, &id)?;
        let found = view.water_series(&water, from, to);
        Ok(found.ok_or_else(|| Question::NotFound(format!("no note that stands says how {water} came")))?)
    };
    let item: WaterSeries = app.view(&asked.at, read).await?;
    if item.readings.len() > WATER_READINGS_MAX {
        let says = format!("there are {} readings, more than {WATER_READINGS_MAX}; ask for a shorter time", item.readings.len());
        return Err(Question::bad("from", says).into());
    }
    if form == "svg" {
        return Ok(asked.answer_drawn(&water::water(&item, quantity, zone)));
    }
    asked.answer(Item { item })
}

/// What can be drawn: what is read or derived at one moment.
fn drawn(text: Option<&str>) -> Result<Quantity, Question> {
    let Some(text) = text else { return Ok(Quantity::TemperatureC) };
    let drawn = || Quantity::ALL.into_iter().filter(|quantity| *quantity != Quantity::TemperatureChangeCPerDay);
    let names = || drawn().map(Quantity::name).collect::<Vec<_>>().join(", ");
    drawn().find(|quantity| quantity.name() == text).ok_or_else(|| Question::bad("quantity", format!("{text:?} is none of {}", names())))
}

/// Which episodes.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct EpisodeQuery {
    /// `true`: only those that are open; `false`: only those that are over.
    pub open: Option<bool>,
}

/// Times for which a water was outside a band, with peak, tanks and the cases that were in it.
#[utoipa::path(
    get, path = "/v1/water/episodes", tag = "systems", params(ReadParams, EpisodeQuery),
    responses((status = 200, body = Answered<Listed<WaterEpisode>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn water_episodes(State(app): State<App>, asked: Asked<EpisodeQuery>) -> Result<Response, Failure> {
    let mut items = app.view(&asked.at, |view| Ok(view.water_episodes())).await?;
    items.retain(|item| asked.query.open.is_none_or(|open| open == (item.state == "open")));
    let key = |item: &WaterEpisode| {
        let of = |subject: &Option<selachron_schemas::names::Subject>| subject.as_ref().map(ToString::to_string).unwrap_or_default();
        format!("{} {} {} {}", item.start.event, item.quantity.name(), of(&item.band.told.tank), of(&item.band.told.species))
    };
    asked.answer_page(items, key)
}
