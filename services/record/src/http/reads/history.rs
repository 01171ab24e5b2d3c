//! `GET /v1/…/{id}/history`: every note that names a thing in any of its versions, with what was
//! done to that note since.

use crate::domain::compare::Comparison;
use crate::domain::record::HistoryNote;
use crate::domain::view::View;
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams};
use crate::http::page::Answered;
use crate::http::problem::Problem;
use axum::extract::{Path, State};
use axum::response::Response;
use selachron_schemas::encoding::base64;
use selachron_schemas::names::Subject;
use selachron_schemas::note::plain_number;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// A history, whole: it is never cut into pages, for a history with a page missing is none.
#[derive(Debug, Serialize, ToSchema)]
pub struct History {
    /// Whose.
    #[schema(value_type = String)]
    pub item_id: Subject,
    /// In order of (effective time, seq).
    pub notes: Vec<HistoryNote>,
    /// Notes that are known now and were not at S, at the same V; only if they are asked for, for
    /// they change as the log grows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_yet: Option<Vec<HistoryNote>>,
}

/// What changed in a history between two sizes.
#[derive(Debug, Serialize, ToSchema)]
pub struct HistoryDiff {
    /// Whose.
    #[schema(value_type = String)]
    pub item_id: Subject,
    /// The older size.
    pub from: u64,
    /// Root of that size, base64.
    pub from_root: String,
    /// The newer size; the answer's own S.
    pub to: u64,
    /// What lies between them.
    #[serde(flatten)]
    pub changes: Comparison,
}

/// What may be asked of a history beside its clocks.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct HistoryQuery {
    /// `S1,S2`: what changed between these two sizes of the log, instead of the history; without
    /// `known_at`.
    pub diff: Option<String>,
    /// `true`: also the notes that are known now and were not at S.
    pub not_yet: Option<bool>,
}

impl HistoryQuery {
    /// The two sizes, in order and within the log.
    fn sizes(&self, published: u64) -> Result<Option<(u64, u64)>, Question> {
        let Some(text) = &self.diff else { return Ok(None) };
        let read = text.split_once(',').and_then(|(from, to)| Some((plain_number(from)?, plain_number(to)?)));
        let wrong = |detail: String| Question::bad("diff", detail);
        let (from, to) = read.ok_or_else(|| wrong(format!("{text:?} is not two numbers of notes like 120,180")))?;
        if from == 0 || from >= to || to > published {
            return Err(wrong(format!("{from} must be at least 1 and less than {to}, and the log holds {published} notes")));
        }
        Ok(Some((from, to)))
    }
}

pub(super) async fn history(
    app: App,
    mut asked: Asked<HistoryQuery>,
    find: impl FnOnce(&View<'_>) -> Result<Subject, Question> + Send + 'static,
) -> Result<Response, Failure> {
    let published = app.journal.published().size();
    if let Some(sizes) = asked.query.sizes(published)? {
        return difference(app, asked, sizes, find).await;
    }
    let with_later = asked.query.not_yet == Some(true);
    let told = move |view: &View<'_>| {
        let item_id = find(view)?;
        let (withheld, suspected) = (view.withheld_behind(&item_id), view.suspected_behind(&item_id));
        let later = |id: &Subject| view.nursery().compare(id, view.as_of(), (view.known_at(), view.nursery().size())).new;
        let not_yet = with_later.then(|| later(&item_id));
        Ok((History { notes: view.history(&item_id), item_id, not_yet }, withheld, suspected))
    };
    let history;
    (history, asked.at.withheld, asked.at.suspected) = app.view(&asked.at, told).await?;
    asked.answer(history)
}

/// The answer is read at the newer of the two sizes, and says its root.
async fn difference(
    app: App,
    mut asked: Asked<HistoryQuery>,
    (from, to): (u64, u64),
    find: impl FnOnce(&View<'_>) -> Result<Subject, Question> + Send + 'static,
) -> Result<Response, Failure> {
    if asked.says("known_at") || asked.query.not_yet.is_some() {
        return Err(Question::bad("diff", "it says what was known by itself; leave known_at and not_yet out").into());
    }
    asked.at = asked.at.known(to, &app)?;
    let from_root = app.journal.published().root(from).map(|root| base64(&root)).unwrap_or_default();
    let told = move |view: &View<'_>| {
        let item_id = find(view)?;
        let (withheld, suspected) = (view.withheld_behind(&item_id), view.suspected_behind(&item_id));
        let changes = view.nursery().compare(&item_id, view.as_of(), (from, to));
        Ok((HistoryDiff { item_id, from, from_root, to, changes }, withheld, suspected))
    };
    let diff;
    (diff, asked.at.withheld, asked.at.suspected) = app.view(&asked.at, told).await?;
    asked.answer(diff)
}

/// Every note that names a case, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/eggs/{id}/history", tag = "eggs", params(ReadParams, HistoryQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn egg_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("egg", &id)).await
}

/// Every note that names a clutch, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/clutches/{id}/history", tag = "eggs", params(ReadParams, HistoryQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn clutch_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("clutch", &id)).await
}

/// Every note that names an animal, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/animals/{id}/history", tag = "animals", params(ReadParams, HistoryQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn animal_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("animal", &id)).await
}

/// Every note that names a group, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/groups/{id}/history", tag = "animals", params(ReadParams, HistoryQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn group_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("group", &id)).await
}

/// Every note that names a tank, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/tanks/{id}/history", tag = "tanks", params(ReadParams, HistoryQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn tank_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("tank", &id)).await
}

/// Every note that names a water system, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/systems/{id}/history", tag = "systems", params(ReadParams, HistoryQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn system_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("system", &id)).await
}

/// Every note that names a species, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/species/{id}/history", tag = "species", params(ReadParams, HistoryQuery, ("id" = String, Path, description = "ULID, subject or label")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn species_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("species", &id)).await
}

/// Every note that names a key, as it stands and as it was written.
#[utoipa::path(
    get, path = "/v1/keys/{id}/history", tag = "keys", params(ReadParams, HistoryQuery, ("id" = String, Path, description = "Key id, with or without key/")),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn key_history(State(app): State<App>, Path(id): Path<String>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, move |view| view.find("key", &id)).await
}

/// Every note about the collection as a whole: founding, house rules, reports, bodies withheld.
#[utoipa::path(
    get, path = "/v1/collection/history", tag = "collection", params(ReadParams, HistoryQuery),
    responses((status = 200, body = Answered<History>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn collection_history(State(app): State<App>, asked: Asked<HistoryQuery>) -> Result<Response, Failure> {
    history(app, asked, |_| Ok(Subject::collection())).await
}
