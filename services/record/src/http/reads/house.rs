//! `GET /v1/instruments`, `/v1/rounds` and their like: the things of the house, each one or all,
//! with its history.

use super::history::{History, HistoryQuery, history};
use super::{many, one};
use crate::domain::state::{
    Consignment, Document, FoodBatch, HandOver, Incident, Instrument, Loan, Permit, PlaceWithin, Quarantine, Round, Sample,
};
use crate::failure::Failure;
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

macro_rules! things {
    ($($module:ident $noun:literal $about:literal $state:ident $read:ident $list:literal $one:literal $history:literal)*) => {
        $(
            mod $module {
                use super::*;

                #[doc = concat!("All of them, in the order of their ids: ", $about)]
                #[utoipa::path(
                    get, path = $list, tag = "house", operation_id = concat!("list_", stringify!($module)), params(ReadParams),
                    responses((status = 200, body = Answered<Listed<$state>>), (status = "default", body = Problem, content_type = "application/problem+json"))
                )]
                pub async fn all(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
                    many(app, asked, $noun, |view, id| view.$read(id)).await
                }

                #[doc = concat!("One by its id or label: ", $about)]
                #[utoipa::path(
                    get, path = $one, tag = "house", operation_id = concat!("get_", stringify!($module)),
                    params(ReadParams, ("id" = String, Path, description = "ULID, subject or label")),
                    responses((status = 200, body = Answered<Item<$state>>), (status = "default", body = Problem, content_type = "application/problem+json"))
                )]
                pub async fn get(State(app): State<App>, Path(id): Path<String>, asked: Asked<NoMore>) -> Result<Response, Failure> {
                    one(app, asked, $noun, id, |view, id| view.$read(id)).await
                }

                #[doc = concat!("Every note that names it, as it stands and as it was written: ", $about)]
                #[utoipa::path(
                    get, path = $history, tag = "house", operation_id = concat!("history_of_", stringify!($module)),
                    params(ReadParams, HistoryQuery, ("id" = String, Path, description = "ULID, subject or label")),
                    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
                )]
                pub async fn told(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
                    history(app, asked, move |view| view.find($noun, &id)).await
                }
            }
        )*

        /// The routes of the house.
        #[must_use]
        pub fn routes() -> OpenApiRouter<App> {
            OpenApiRouter::new()
                $(.routes(routes!($module::all)).routes(routes!($module::get)).routes(routes!($module::told)))*
                .routes(routes!(quarantines))
                .routes(routes!(duty))
        }
    };
}

things! {
    instruments "instrument" "instruments, with their calibrations" Instrument instrument "/v1/instruments" "/v1/instruments/{id}" "/v1/instruments/{id}/history"
    places "place" "places in tanks, with the cases in them" PlaceWithin place "/v1/places" "/v1/places/{id}" "/v1/places/{id}/history"
    foods "food" "batches of food" FoodBatch food "/v1/foods" "/v1/foods/{id}" "/v1/foods/{id}/history"
    rounds "round" "rounds, with what was looked at and what was not" Round round "/v1/rounds" "/v1/rounds/{id}" "/v1/rounds/{id}/history"
    incidents "incident" "incidents" Incident incident "/v1/incidents" "/v1/incidents/{id}" "/v1/incidents/{id}/history"
    consignments "consignment" "consignments, with what is in transit and what was dead on arrival" Consignment consignment "/v1/consignments" "/v1/consignments/{id}" "/v1/consignments/{id}/history"
    loans "loan" "loans: presence, not ownership" Loan loan "/v1/loans" "/v1/loans/{id}" "/v1/loans/{id}/history"
    samples "sample" "samples, with their results" Sample sample "/v1/samples" "/v1/samples/{id}" "/v1/samples/{id}/history"
    documents "document" "documents, by the hash of their bytes" Document document "/v1/documents" "/v1/documents/{id}" "/v1/documents/{id}/history"
    permits "document" "permits: what authorities permitted, as their papers say" Permit permit "/v1/permits" "/v1/permits/{id}" "/v1/permits/{id}/history"
}

/// Quarantines, the newest first; one that is not cleared goes on, whatever was planned.
#[utoipa::path(
    get, path = "/v1/quarantines", tag = "house", params(ReadParams),
    responses((status = 200, body = Answered<Listed<Quarantine>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn quarantines(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let items = app.view(&asked.at, |view| Ok(view.quarantines())).await?;
    asked.answer_page(items, |item| item.started.when.event.to_string())
}

/// Hand-overs of duty, the newest first.
#[utoipa::path(
    get, path = "/v1/duty", tag = "house", params(ReadParams),
    responses((status = 200, body = Answered<Listed<HandOver>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn duty(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let items = app.view(&asked.at, |view| Ok(view.hand_overs())).await?;
    asked.answer_page(items, |item| item.handed.when.event.to_string())
}
