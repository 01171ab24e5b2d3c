//! `GET /v1/trays/proposal`, `/v1/rounds/sheet` and `/v1/labels`: how cases could be separated, and
//! what is printed for the hands. A GET moves nothing: each move that a person makes is a note.

use crate::domain::sheet::StickersOf;
use crate::domain::state::{Proposal, RoundSheet, Sticker};
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::page::{Answered, Item, Listed};
use crate::http::problem::{OK, Problem};
use crate::report::print::{self, Footing};
use axum::extract::State;
use axum::http::{HeaderName, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use selachron_schemas::encoding::base64;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// A proposal of places by parentage and stage, with the reason of each move; nothing is moved by it.
#[utoipa::path(
    get, path = "/v1/trays/proposal", tag = "eggs", params(ReadParams),
    responses((status = 200, body = Answered<Item<Proposal>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn trays_proposal(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let item = app.view(&asked.at, |view| Ok(view.trays_proposal())).await?;
    asked.answer(Item { item })
}

/// Which tray.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct SheetQuery {
    /// A tank or tray, by id, subject or label.
    pub tray: String,
}

/// A sheet with what names it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NamedSheet {
    /// The sheet.
    #[serde(flatten)]
    pub sheet: RoundSheet,
    /// The first digits of the SHA-256 of what it says.
    pub page_hash: String,
    /// How it is named when it is written down: `--paper "NAME, by WHOM"`.
    pub name: String,
}

/// The sheet of a round through one tray, for paper: labels, places, last look, empty boxes, page hash, log size; `format=html` prints.
#[utoipa::path(
    get, path = "/v1/rounds/sheet", tag = "house", params(ReadParams, SheetQuery),
    responses((status = 200, body = Answered<Item<NamedSheet>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn round_sheet(State(app): State<App>, asked: Asked<SheetQuery>) -> Result<Response, Failure> {
    let (form, tray) = (asked.form(&["json", "html"])?, asked.query.tray.clone());
    let read = move |view: &crate::domain::view::View<'_>| {
        let tank = view.find("tank", &tray)?;
        Ok(view.round_sheet(&tank).ok_or_else(|| Question::NotFound(format!("no note that stands says how {tank} came")))?)
    };
    let sheet: RoundSheet = app.view(&asked.at, read).await?;
    let footing = footing(&app, &asked);
    if form == "html" {
        return Ok(printed(&asked, print::sheet(&sheet, &footing)));
    }
    let (page_hash, name) = (print::page_hash(&sheet, &footing), print::sheet_name(&sheet, &footing));
    asked.answer(Item { item: NamedSheet { sheet, page_hash, name } })
}

/// Which labels.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct LabelsQuery {
    /// `eggs`, `places` or `tanks`.
    pub of: String,
    /// Only those of this tank, by id, subject or label.
    pub tank: Option<String>,
}

/// Labels for cases, places or tanks; `format=html` prints them with a QR code that says the id.
#[utoipa::path(
    get, path = "/v1/labels", tag = "house", params(ReadParams, LabelsQuery),
    responses((status = 200, body = Answered<Listed<Sticker>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn labels(State(app): State<App>, asked: Asked<LabelsQuery>) -> Result<Response, Failure> {
    let (form, query) = (asked.form(&["json", "html"])?, asked.query.clone());
    let what = match query.of.as_str() {
        "eggs" => StickersOf::Eggs,
        "places" => StickersOf::Places,
        "tanks" => StickersOf::Tanks,
        other => return Err(Question::bad("of", format!("{other:?} is none of eggs, places, tanks")).into()),
    };
    let read = move |view: &crate::domain::view::View<'_>| {
        let tank = query.tank.as_deref().map(|tank| view.find("tank", tank)).transpose()?;
        Ok(view.stickers(what, tank.as_ref()))
    };
    let stickers: Vec<Sticker> = app.view(&asked.at, read).await?;
    if form == "html" {
        return Ok(printed(&asked, print::labels(&stickers, &footing(&app, &asked))));
    }
    asked.answer_page(stickers, |sticker| sticker.subject.to_string())
}

fn footing<Q>(app: &App, asked: &Asked<Q>) -> Footing {
    let name = app.journal.published().founding().map(|founding| founding.name.clone()).unwrap_or_default();
    let at = &asked.at;
    Footing {
        collection: name,
        as_of: at.as_of.local(at.zone).format("%Y-%m-%d %H:%M").to_string(),
        known_at: at.known_at,
        root: base64(&at.root),
        suspected: at.suspected,
        simulated: at.simulated_clock,
    }
}

/// A page that may load nothing and run nothing.
fn printed<Q>(asked: &Asked<Q>, html: String) -> Response {
    let closed = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
    let headers: [(HeaderName, HeaderValue); 3] = [
        (header::CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8")),
        (header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(closed)),
        (header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff")),
    ];
    (OK, asked.headers(), headers, html).into_response()
}
