//! The JSON API. A handler is a sentence; what it needs stands beside it.
//!
//! * [`problem`]: failures as answers, and every status code;
//! * [`door`]: connections, with TLS and without;
//! * [`rates`], [`tokens`], [`access`]: who comes in, how often, and who may read what;
//! * [`app`]: what handlers reach;
//! * [`asked`] and [`page`]: the question and the answer of every read; [`query`]: other queries;
//! * `body` and [`post_events`]: writing;
//! * [`asker`] and [`waiting`]: half-signed bodies, and who may see them;
//! * [`evidence`]: files that notes name;
//! * [`events`], [`keys`], [`people`], [`collection`], [`log`], [`schemas`], [`health`]: reading the record;
//! * [`reads`]: reading what it says of the nursery;
//! * [`refused`]: what was turned away; [`advice`]: a page for each problem;
//! * [`live`]: hearing that the log has grown; [`pages`]: the browser client, served as it is;
//! * [`server`]: the socket.

pub mod problem;

pub mod door;

pub mod rates;

pub mod tokens;

pub mod access;

pub mod app;

pub mod asked;

pub mod page;

pub mod query;

mod body;

pub mod post_events;

pub mod asker;

pub mod waiting;

pub mod evidence;

pub mod events;

pub mod keys;

pub mod people;

pub mod collection;

pub mod log;

pub mod schemas;

pub mod health;

pub mod reads;

pub mod refused;

pub mod advice;

pub mod live;

pub mod pages;

pub mod server;

use crate::failure::Question;
use app::App;
use axum::extract::{DefaultBodyLimit, Request};
use axum::response::IntoResponse;
use axum::{Router, middleware};
use problem::Problem;
use std::sync::Arc;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::trace::TraceLayer;
use utoipa::OpenApi;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// The API's description, before the handlers add theirs.
#[derive(OpenApi)]
#[openapi(info(
    title = "Selachron",
    description = "The record of a nursery for egg-laying sharks and skates: signed notes in an append-only log, and what they say at two clocks."
))]
struct Description;

/// Everything that answers under this service, described by itself.
fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::with_openapi(Description::openapi())
        .routes(routes!(post_events::post_events, events::list_events))
        .routes(routes!(live::live))
        .routes(routes!(events::get_event))
        .routes(routes!(events::get_receipt))
        .routes(routes!(waiting::post_waiting, waiting::list_waiting))
        .routes(routes!(waiting::get_waiting))
        .routes(routes!(people::people))
        .routes(routes!(keys::list_keys))
        .routes(routes!(keys::get_key))
        .routes(routes!(collection::collection))
        .routes(routes!(reads::history::collection_history))
        .merge(nursery_routes())
        .routes(routes!(log::key))
        .routes(routes!(log::rekeyed))
        .routes(routes!(log::checkpoint))
        .routes(routes!(log::inclusion))
        .routes(routes!(log::consistency))
        .routes(routes!(log::bundle))
        .routes(routes!(refused::list_refused))
        .routes(routes!(advice::list_problems))
        .routes(routes!(advice::get_problem))
        .routes(routes!(evidence::keep, evidence::give))
        .routes(routes!(schemas::schema))
        .routes(routes!(schemas::openapi))
        .routes(routes!(health::healthz))
        .routes(routes!(health::readyz))
}

fn nursery_routes() -> OpenApiRouter<App> {
    use reads::{animals, assisted, attention, curves, eggs, exposure, figures, forecast, groups, history, house, housing, openings};
    OpenApiRouter::new()
        .routes(routes!(eggs::list_eggs))
        .routes(routes!(eggs::get_egg))
        .routes(routes!(history::egg_history))
        .routes(routes!(forecast::forecast))
        .routes(routes!(forecast::egg_forecast))
        .routes(routes!(forecast::species_incubation))
        .routes(routes!(openings::egg_opening))
        .routes(routes!(openings::openings))
        .routes(routes!(eggs::list_clutches))
        .routes(routes!(eggs::get_clutch))
        .routes(routes!(history::clutch_history))
        .routes(routes!(animals::list_animals))
        .routes(routes!(animals::get_animal))
        .routes(routes!(history::animal_history))
        .routes(routes!(groups::list_groups))
        .routes(routes!(groups::get_group))
        .routes(routes!(history::group_history))
        .routes(routes!(housing::list_tanks))
        .routes(routes!(housing::get_tank))
        .routes(routes!(history::tank_history))
        .routes(routes!(housing::list_systems))
        .routes(routes!(housing::get_system))
        .routes(routes!(history::system_history))
        .routes(routes!(housing::list_species))
        .routes(routes!(housing::get_species))
        .routes(routes!(history::species_history))
        .routes(routes!(history::key_history))
        .routes(routes!(attention::due))
        .routes(routes!(attention::due_calendar))
        .routes(routes!(attention::discrepancies))
        .routes(routes!(exposure::exposure))
        .routes(routes!(reads::trays::trays_proposal))
        .routes(routes!(reads::trays::round_sheet))
        .routes(routes!(reads::trays::labels))
        .routes(routes!(reads::water::system_water))
        .routes(routes!(reads::water::tank_water))
        .routes(routes!(reads::water::water_episodes))
        .merge(house::routes())
        .routes(routes!(figures::hatch_rates_of))
        .routes(routes!(figures::rearing_of))
        .routes(routes!(assisted::assisted_of))
        .routes(routes!(curves::egg_fates_of))
        .routes(routes!(curves::loss_timing_of))
        .routes(routes!(curves::incubation_of))
        .routes(routes!(curves::life_table_of))
        .routes(routes!(curves::pedigree_of))
        .routes(routes!(figures::annual))
        .merge(reads::exports::routes())
        .merge(reads::trade::routes())
}

/// The whole API over `app`, without a socket.
pub fn router(mut app: App) -> Router {
    let (router, openapi) = routes().split_for_parts();
    app.openapi = Arc::from(openapi.to_pretty_json().unwrap_or_default());
    router
        .fallback(pages::give)
        .method_not_allowed_fallback(|| async { Problem::method() })
        .layer(middleware::from_fn_with_state(app.clone(), access::guard))
        .layer(middleware::from_fn(plain_errors))
        .layer(CatchPanicLayer::custom(problem::panicked))
        .layer(TraceLayer::new_for_http().make_span_with(span))
        .layer(DefaultBodyLimit::disable())
        .with_state(app)
}

/// What axum itself refuses (a path that is no UTF-8, say) is plain text; here it becomes a
/// problem like any other.
async fn plain_errors(request: Request, next: middleware::Next) -> axum::response::Response {
    let response = next.run(request).await;
    let typed = response.headers().get("content-type").and_then(|value| value.to_str().ok()).unwrap_or_default();
    if response.status().is_client_error() && typed.starts_with("text/plain") {
        return Question::BadRequest("the request cannot be understood".to_owned()).into_response();
    }
    response
}

impl IntoResponse for Question {
    fn into_response(self) -> axum::response::Response {
        crate::failure::Failure::from(self).into_response()
    }
}

/// One span a request; the caller's trace (W3C Trace Context) is named in it.
fn span(request: &Request) -> tracing::Span {
    let trace = request.headers().get("traceparent").and_then(|value| value.to_str().ok()).unwrap_or_default();
    tracing::debug_span!("request", method = %request.method(), path = request.uri().path(), traceparent = trace)
}
