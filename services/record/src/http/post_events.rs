//! `POST /v1/events`: notes come in, receipts or refusals go out (F18).

use super::app::App;
use super::body::{self, Form};
use super::problem::{CREATED, OK, Problem};
use crate::domain::discrepancy::Discrepancy;
use crate::failure::{Broken, Failure, Question};
use crate::journal::{Answer, Submitted};
use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use selachron_schemas::encoding::base64;
use selachron_schemas::limits::BATCH_EVENTS_MAX;
use selachron_schemas::receipt::Leaf;
use serde::Serialize;
use utoipa::ToSchema;

/// A note that stands in the log.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Recorded {
    /// `recorded`.
    pub status: &'static str,
    /// The note's id.
    pub id: String,
    /// Its place in the log.
    pub seq: u64,
    /// 1 + number of earlier notes with the same subject.
    pub subject_version: u64,
    /// Discrepancies in which it takes part, by their stable ids.
    pub discrepancies: Vec<String>,
    /// The receipt (F17), text.
    pub receipt: String,
    /// Consistency proof from the size its device had seen to the receipt's (RFC 9162 2.1.4),
    /// base64; there exactly when the note says what its device had seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub consistency: Option<Vec<String>>,
}

/// A note that was refused, on its line.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Refused {
    /// `refused`.
    pub status: &'static str,
    /// The note's id, where its body could be read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Why.
    pub problem: Problem,
}

/// One line of the answer to many notes.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[serde(untagged)]
pub enum Line {
    /// It stands in the log.
    Recorded(Recorded),
    /// It does not.
    Refused(Refused),
}

/// Records notes: a receipt or a refusal each, in order.
///
/// What has already happened to an animal is never refused for a missing signature or
/// authorisation: it is recorded, with a discrepancy.
#[utoipa::path(
    post, path = "/v1/events", tag = "events",
    request_body(description = "One DSSE envelope, or one a line", content((String = "application/json"), (String = "application/x-ndjson"))),
    responses(
        (status = 201, description = "Recorded", body = Recorded),
        (status = 200, description = "Recorded before; or one answer a line", body = Line),
        (status = "default", description = "Refused, or not now", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_events(State(app): State<App>, headers: HeaderMap, body: Body) -> Result<Response, Failure> {
    let form = body::form(&headers)?;
    let bytes = body::read(body).await?;
    match form {
        Form::One => post_one(&app, &bytes).await,
        Form::Lines => post_lines(&app, bytes).await,
    }
}

async fn post_one(app: &App, bytes: &[u8]) -> Result<Response, Failure> {
    app.journal.condition().check()?;
    // One note is opened here and now: handing it to another thread costs as much again.
    let note = Submitted::open(&app.journal.gate(), bytes);
    if let Some(refusal) = note.final_refusal() {
        return Ok(Problem::refused(refusal, note.id().map(str::to_owned)).into_response());
    }
    let answers = app.journal.record(vec![note]).await?;
    let new = matches!(answers.first(), Some(Answer::Recorded { new: true, .. }));
    match lines(app, answers).await?.pop() {
        Some(Line::Recorded(recorded)) => Ok((if new { CREATED } else { OK }, axum::Json(recorded)).into_response()),
        Some(Line::Refused(refused)) => Ok(refused.problem.into_response()),
        None => Err(Broken::new("the journal gave no answer").into()),
    }
}

async fn post_lines(app: &App, bytes: Bytes) -> Result<Response, Failure> {
    app.journal.condition().check()?;
    let notes = open_all(app, bytes).await?;
    let answers = app.journal.record(notes).await?;
    let mut text = String::new();
    for line in lines(app, answers).await? {
        let line = serde_json::to_string(&line).map_err(|error| Broken::new(format!("an answer cannot be written: {error}")))?;
        text.push_str(&line);
        text.push('\n');
    }
    Ok((OK, [(header::CONTENT_TYPE, "application/x-ndjson")], text).into_response())
}

/// Opens many envelopes on all processors.
async fn open_all(app: &App, bytes: Bytes) -> Result<Vec<Submitted>, Failure> {
    let text = bytes.strip_suffix(b"\n").unwrap_or(&bytes);
    let lines: Vec<Bytes> = text.split(|byte| *byte == b'\n').map(|line| bytes.slice_ref(line)).collect();
    if text.is_empty() {
        return Err(Question::BadRequest("the request holds no note".to_owned()).into());
    }
    if lines.len() > BATCH_EVENTS_MAX {
        return Err(Question::TooMany { count: lines.len(), limit: BATCH_EVENTS_MAX }.into());
    }
    let gate = app.journal.gate();
    let processors = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let share = lines.len().div_ceil(processors);
    let tasks: Vec<_> = lines
        .chunks(share)
        .map(|chunk| {
            let (gate, chunk) = (gate.clone(), chunk.to_vec());
            tokio::task::spawn_blocking(move || chunk.iter().map(|line| Submitted::open(&gate, line)).collect::<Vec<_>>())
        })
        .collect();
    let mut notes = Vec::with_capacity(lines.len());
    for task in tasks {
        notes.extend(task.await.map_err(|error| Broken::new(format!("opening envelopes went wrong: {error}")))?);
    }
    Ok(notes)
}

/// The journal's answers as the caller gets them. A group is recorded whole or not at all, so
/// one note that could not be taken now speaks for the request.
async fn lines(app: &App, answers: Vec<Answer>) -> Result<Vec<Line>, Failure> {
    let seqs: Vec<u64> = answers.iter().filter_map(recorded_seq).collect();
    let mut found = discrepancies(app, seqs).await.into_iter();
    let mut lines = Vec::with_capacity(answers.len());
    for answer in answers {
        lines.push(match answer {
            Answer::Recorded { id, leaf, seen_size, .. } => {
                Line::Recorded(recorded(app, id, &leaf, seen_size, found.next().unwrap_or_default())?)
            }
            Answer::Refused { id, refusal } => {
                Line::Refused(Refused { status: "refused", problem: Problem::refused(&refusal, id.clone()), id })
            }
            Answer::NotNow { failure, .. } => return Err(failure),
        });
    }
    Ok(lines)
}

fn recorded_seq(answer: &Answer) -> Option<u64> {
    match answer {
        Answer::Recorded { leaf, .. } => Some(leaf.seq),
        _ => None,
    }
}

/// The notes are recorded by now: whatever goes wrong here, their receipts go out.
async fn discrepancies(app: &App, seqs: Vec<u64>) -> Vec<Vec<String>> {
    let one = seqs.len() == 1;
    let ids = |found: Vec<Discrepancy>| found.into_iter().map(|discrepancy| discrepancy.id).collect();
    let find = move |app: &App| Ok(app.projections.discrepancies_of(&seqs).into_iter().map(ids).collect());
    let found: Result<Vec<Vec<String>>, Failure> = match app.catch_up().await {
        // One note is looked at here and now, as it was opened.
        Ok(()) if one => find(app),
        Ok(()) => app.blocking(find).await,
        Err(failure) => Err(failure),
    };
    found.inspect_err(|failure| tracing::error!(%failure, "discrepancies could not be found")).unwrap_or_default()
}

fn recorded(app: &App, id: String, leaf: &Leaf, seen_size: Option<u64>, discrepancies: Vec<String>) -> Result<Recorded, Failure> {
    let published = app.journal.published();
    let (receipt, size) = published.receipt(leaf)?;
    let proof = |seen| published.consistency(seen, size).ok_or_else(|| Broken::at(leaf.seq, "no proof from the size its device has seen"));
    let consistency = seen_size.map(proof).transpose()?;
    Ok(Recorded {
        status: "recorded",
        id,
        seq: leaf.seq,
        subject_version: leaf.subject_version,
        discrepancies,
        receipt,
        consistency: consistency.map(|hashes| hashes.iter().map(|hash| base64(hash)).collect()),
    })
}
