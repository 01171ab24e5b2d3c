//! The waiting place: `POST /v1/waiting` takes a half-signed body or a further signature on one,
//! and hands it to the journal once it has all it wants; `GET /v1/waiting` shows those that whoever
//! asks wrote or could sign. What has already happened never waits: it is recorded at once.

use super::app::App;
use super::asker::{Asker, AskerQuery};
use super::body;
use super::post_events::{Line, Recorded, lines};
use super::problem::{ACCEPTED, CREATED, OK, Problem};
use crate::failure::{Broken, Failure, Question};
use crate::journal::{Answer, Submitted};
use crate::waiting::Held;
use axum::Json;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use selachron_schemas::refusal::Wanted;
use selachron_schemas::signing::Verified;
use selachron_schemas::time::Instant;
use serde::Serialize;
use utoipa::ToSchema;

/// A body that waits for signatures.
#[derive(Debug, Serialize, ToSchema)]
pub struct WaitingItem {
    /// `waiting`.
    pub status: &'static str,
    /// The note's id.
    pub id: String,
    /// Kind and version.
    pub kind: String,
    /// What it is about.
    pub subject: String,
    /// Its author's key.
    pub author: String,
    /// The author's pseudonym.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// When it was put here.
    #[schema(value_type = String, format = DateTime)]
    pub since: Instant,
    /// When it is forgotten.
    #[schema(value_type = String, format = DateTime)]
    pub until: Instant,
    /// The signatures that are wanting still.
    #[schema(value_type = Vec<Object>)]
    pub wants: Vec<Wanted>,
    /// Keys that have signed.
    pub signed_by: Vec<String>,
    /// Whether whoever asks could give a signature that is wanting, and has not.
    pub yours_to_sign: bool,
    /// The envelope in its written form: what a further signer reads and signs.
    pub envelope: String,
}

/// All that whoever asks wrote or could sign, the longest waiting first.
#[derive(Debug, Serialize, ToSchema)]
pub struct WaitingList {
    /// The bodies.
    pub items: Vec<WaitingItem>,
}

/// Puts a half-signed body into the waiting place, or adds signatures to one that is there. With
/// all that it wants it goes to the log at once.
#[utoipa::path(
    post, path = "/v1/waiting", tag = "waiting",
    request_body(description = "One DSSE envelope: the author's signature at least", content((String = "application/json"))),
    responses(
        (status = 201, description = "Recorded", body = Recorded),
        (status = 200, description = "Recorded before", body = Recorded),
        (status = 202, description = "It waits for further signatures", body = WaitingItem),
        (status = "default", description = "Refused, or not now", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_waiting(State(app): State<App>, body: Body) -> Result<Response, Failure> {
    app.journal.condition().check()?;
    let bytes = body::read(body).await?;
    let note = match app.journal.gate().open(&bytes) {
        Ok(note) => note,
        Err(stopped) => return Ok(Problem::refused(&stopped.refusal, stopped.id).into_response()),
    };
    let now = app.clock.now();
    let joined = app.blocking(move |app| app.waiting.joined(&note, now)).await?;
    let note = match app.journal.gate().open(joined.as_bytes()) {
        Ok(note) => note,
        Err(stopped) => return Ok(Problem::refused(&stopped.refusal, stopped.id).into_response()),
    };
    hand_over(&app, note, now).await
}

async fn hand_over(app: &App, note: Verified, now: Instant) -> Result<Response, Failure> {
    let id = note.event().id.clone();
    let answers = app.journal.record(vec![Submitted::Opened(Box::new(note.clone()))]).await?;
    match answers.first() {
        Some(Answer::Refused { refusal, .. }) if !refusal.wants.is_empty() => {
            let wants = refusal.wants.clone();
            let held = app.blocking(move |app| app.waiting.keep(&note, &wants, now)).await?;
            Ok((ACCEPTED, Json(item(app, held, None))).into_response())
        }
        Some(Answer::NotNow { .. }) => settled(app, answers).await,
        // Recorded, or refused for something that no signature mends: either way it waits no more.
        _ => {
            app.blocking(move |app| app.waiting.forget(&id)).await?;
            settled(app, answers).await
        }
    }
}

async fn settled(app: &App, answers: Vec<Answer>) -> Result<Response, Failure> {
    let new = matches!(answers.first(), Some(Answer::Recorded { new: true, .. }));
    match lines(app, answers).await?.pop() {
        Some(Line::Recorded(recorded)) => Ok((if new { CREATED } else { OK }, Json(recorded)).into_response()),
        Some(Line::Refused(refused)) => Ok(refused.problem.into_response()),
        None => Err(Broken::new("the journal gave no answer").into()),
    }
}

/// What waits for whoever asks: notes by the same person, and those that wait for a signature of
/// this key.
#[utoipa::path(
    get, path = "/v1/waiting", tag = "waiting", params(AskerQuery),
    responses((status = 200, body = WaitingList), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn list_waiting(State(app): State<App>, asker: Asker) -> Result<Json<WaitingList>, Failure> {
    Ok(Json(WaitingList { items: shown(&app, &asker).await? }))
}

/// One of them by the note's id.
#[utoipa::path(
    get, path = "/v1/waiting/{id}", tag = "waiting", params(AskerQuery, ("id" = String, Path, description = "The note's ULID")),
    responses((status = 200, body = WaitingItem), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn get_waiting(State(app): State<App>, Path(id): Path<String>, asker: Asker) -> Result<Json<WaitingItem>, Failure> {
    let found = shown(&app, &asker).await?.into_iter().find(|item| item.id == id);
    Ok(Json(found.ok_or_else(|| Question::NotFound(format!("no note {id:?} waits here for this key")))?))
}

async fn shown(app: &App, asker: &Asker) -> Result<Vec<WaitingItem>, Failure> {
    let now = app.clock.now();
    let mut held = app.blocking(move |app| app.waiting.all(now)).await?;
    held.sort_by(|a, b| (a.since, &a.id).cmp(&(b.since, &b.id)));
    let readable = |item: &WaitingItem| item.yours_to_sign || is_own(item, asker) || item.signed_by.contains(&asker.keyid.to_string());
    Ok(held.into_iter().map(|held| item(app, held, Some(asker))).filter(readable).collect())
}

fn is_own(item: &WaitingItem, asker: &Asker) -> bool {
    item.author == asker.keyid.to_string() || (item.person.is_some() && item.person == asker.person)
}

fn item(app: &App, held: Held, asker: Option<&Asker>) -> WaitingItem {
    let person = app.journal.published().keys().person_of(&held.author).map(str::to_owned);
    let yours = |asker: &Asker| !held.signers.contains(&asker.keyid) && asker.could_sign(&held.wants, person.as_deref());
    WaitingItem {
        status: "waiting",
        yours_to_sign: asker.is_some_and(yours),
        until: held.until(),
        signed_by: held.signers.iter().map(ToString::to_string).collect(),
        author: held.author.to_string(),
        id: held.id,
        kind: held.kind,
        subject: held.subject,
        person,
        since: held.since,
        wants: held.wants,
        envelope: held.envelope,
    }
}
