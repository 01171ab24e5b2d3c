//! The one place where failures become answers (RFC 9457). What the caller sees never has a
//! path, SQL or a key in it; the log of the service has the rest.

use crate::failure::{Busy, Closed, Failure, Question};
use axum::Json;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use selachron_schemas::limits::RETRY_AFTER_S;
use selachron_schemas::problems::{page, type_of};
use selachron_schemas::refusal::{Refusal, Wanted};
use serde::Serialize;
use std::any::Any;
use utoipa::ToSchema;

/// An error as RFC 9457 writes it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = Problem)]
pub struct Problem {
    /// Where the problem's page is, with cause and remedy; the problem's name comes last in it.
    #[serde(rename = "type")]
    #[schema(example = "/problems/expect-failed")]
    pub kind: String,
    /// What sort of problem it is, in a few words.
    pub title: &'static str,
    /// The HTTP status.
    pub status: u16,
    /// What is wrong here, and what to do.
    pub detail: String,
    /// JSON pointer into the body, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pointer: Option<String>,
    /// The note's id, where its body could be read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Signatures that are wanting on the same body, where nothing else is.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<Object>)]
    pub wants: Vec<Wanted>,
    /// Of an ambiguous label: the subjects that bear it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub candidates: Vec<String>,
}

const NO_STATUS: StatusCode = StatusCode::INTERNAL_SERVER_ERROR;

/// Texts of the operating system name paths: they go to the log only.
const INSIDE: &str = "the service could not do this; its log says why";

impl Problem {
    /// A problem by name; what sort it is and its status stand on its page.
    fn new(name: &str, detail: impl Into<String>) -> Self {
        let (title, status) = page(name).map_or(("", NO_STATUS.as_u16()), |page| (page.title.as_str(), page.status));
        let (kind, detail) = (type_of(name), detail.into());
        Self { kind, title, status, detail, pointer: None, id: None, wants: Vec::new(), candidates: Vec::new() }
    }

    /// A refusal by a rule of the log (F7).
    #[must_use]
    pub fn refused(refusal: &Refusal, id: Option<String>) -> Self {
        let problem = Self::new(refusal.problem.name(), refusal.detail.clone());
        Self { pointer: refusal.pointer.clone(), wants: refusal.wants.clone(), id, ..problem }
    }

    /// Anything else.
    #[must_use]
    pub fn of(failure: &Failure) -> Self {
        match failure {
            Failure::Refused(refusal) => Self::refused(refusal, None),
            Failure::Busy(busy) => Self::new(busy_name(busy), busy.to_string()),
            Failure::Sealed(_) => Self::new(
                "sealed",
                format!("{failure}; it goes on reading and proving and takes no notes until whoever keeps it has looked"),
            ),
            Failure::Broken(broken) => Self::new(
                "broken",
                match broken.seq {
                    Some(seq) => format!("the record does not check at seq {seq}; whoever keeps this service must look"),
                    None => "the service cannot vouch for the record; whoever keeps it must look".to_owned(),
                },
            ),
            Failure::Question(question) => Self::question(question),
            Failure::Closed(closed) => Self::new(closed_name(closed), closed.to_string()),
            Failure::Unset(unset) => Self::new("not-typeset", unset.to_string()),
            Failure::Setup(_) => Self::new("broken", INSIDE),
        }
    }

    fn question(question: &Question) -> Self {
        let name = match question {
            Question::NotFound(_) => "not-found",
            Question::BadQuery { .. } => "bad-query",
            Question::Ambiguous { .. } => "ambiguous",
            Question::TooLarge { .. } | Question::TooMany { .. } => "too-large",
            Question::Media(_) => "media",
            Question::BadRequest(_) => "bad-request",
        };
        let problem = Self::new(name, question.to_string());
        match question {
            Question::Ambiguous { candidates, .. } => Self { candidates: candidates.clone(), ..problem },
            _ => problem,
        }
    }

    /// The method is not for this path.
    #[must_use]
    pub fn method() -> Self {
        Self::new("method", "this path answers other methods; /v1/openapi.json lists them")
    }

    /// The problem's name.
    #[must_use]
    pub fn name(&self) -> &str {
        selachron_schemas::problems::name_in(&self.kind)
    }
}

fn busy_name(busy: &Busy) -> &'static str {
    match busy {
        Busy::ClockWentBack { .. } => "clock-went-back",
        Busy::DiskFull => "disk-full",
        Busy::WaitingFull => "waiting-full",
        Busy::QueueFull | Busy::StoreLocked | Busy::Relearning | Busy::Stopping => "busy",
    }
}

fn closed_name(closed: &Closed) -> &'static str {
    match closed {
        Closed::NoToken => "token-missing",
        Closed::Token(_) => "token-invalid",
        Closed::Replayed(_) => "token-replayed",
        Closed::NotReadable { .. } => "not-readable",
        Closed::TooMany { .. } => "too-many-requests",
    }
}

/// A whole answer to somebody who speaks plain HTTP where TLS is spoken.
pub(super) fn plain_to_tls() -> String {
    let problem = Problem::new("tls-needed", "this port speaks TLS: use an address that begins with https://");
    let body = serde_json::to_string(&problem).unwrap_or_default();
    let (status, length) = (problem.status, body.len());
    format!(
        "HTTP/1.1 {status} Bad Request\r\ncontent-type: application/problem+json\r\ncontent-length: {length}\r\nconnection: close\r\n\r\n{body}"
    )
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).unwrap_or(NO_STATUS);
        let mut response = (status, Json(self)).into_response();
        response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/problem+json"));
        if status == StatusCode::SERVICE_UNAVAILABLE {
            response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from(RETRY_AFTER_S));
        }
        response
    }
}

impl IntoResponse for Failure {
    fn into_response(self) -> Response {
        let problem = Problem::of(&self);
        if problem.status >= NO_STATUS.as_u16() {
            tracing::warn!(status = problem.status, failure = ?self, "request failed");
        }
        let mut response = problem.into_response();
        if let Self::Closed(Closed::TooMany { wait_s }) = self {
            response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from(wait_s));
        }
        response
    }
}

/// What a panic in a handler becomes: the caller learns that it happened, the log what it was.
#[must_use]
pub fn panicked(panic: Box<dyn Any + Send + 'static>) -> Response {
    let said = panic.downcast_ref::<String>().map(String::as_str).or_else(|| panic.downcast_ref::<&str>().copied());
    tracing::error!(panic = said.unwrap_or("no text"), "a handler panicked");
    Problem::new("broken", INSIDE).into_response()
}

/// The statuses that handlers name themselves.
pub(super) const CREATED: StatusCode = StatusCode::CREATED;
/// See [`CREATED`].
pub(super) const OK: StatusCode = StatusCode::OK;
/// See [`CREATED`].
pub(super) const ACCEPTED: StatusCode = StatusCode::ACCEPTED;
/// See [`CREATED`].
pub(super) const NOT_MODIFIED: StatusCode = StatusCode::NOT_MODIFIED;
/// See [`CREATED`].
pub(super) const UNAVAILABLE: StatusCode = StatusCode::SERVICE_UNAVAILABLE;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::failure::{Broken, Setup};
    use selachron_schemas::names::KeyId;
    use selachron_schemas::problems::pages;
    use selachron_schemas::token::TokenFault;
    use std::collections::BTreeSet;

    /// One of everything that can be answered, refusals by rule apart.
    fn everything() -> Vec<Problem> {
        let text = String::new;
        let failures: Vec<Failure> = vec![
            Busy::QueueFull.into(),
            Busy::ClockWentBack { back_ms: 1 }.into(),
            Busy::DiskFull.into(),
            Busy::StoreLocked.into(),
            Busy::Relearning.into(),
            Busy::Stopping.into(),
            Broken::new("x").into(),
            Failure::Sealed(text()),
            Question::NotFound(text()).into(),
            Question::bad("x", "y").into(),
            Question::Ambiguous { label: text(), candidates: Vec::new() }.into(),
            Question::TooLarge { limit_bytes: 1 }.into(),
            Question::TooMany { count: 2, limit: 1 }.into(),
            Question::Media(text()).into(),
            Question::BadRequest(text()).into(),
            Closed::NoToken.into(),
            Closed::Token(TokenFault::KeyUnknown(KeyId([0; 16]))).into(),
            Closed::Replayed("x").into(),
            Closed::NotReadable { held: text(), readers: text() }.into(),
            Closed::TooMany { wait_s: 1 }.into(),
            crate::failure::Unset::NoTypesetter.into(),
            Setup::Io(text()).into(),
        ];
        let plain: serde_json::Value = serde_json::from_str(plain_to_tls().split_once("\r\n\r\n").unwrap().1).unwrap();
        let tls = Problem::new(selachron_schemas::problems::name_in(plain["type"].as_str().unwrap()), "x");
        failures.iter().map(Problem::of).chain([Problem::method(), tls]).collect()
    }

    #[test]
    fn every_problem_has_a_page_and_every_page_a_problem() {
        let rules = selachron_schemas::refusal::Problem::ALL.map(|rule| Problem::refused(&Refusal::new(rule, "x"), None));
        let problems: Vec<Problem> = everything().into_iter().chain(rules).collect();
        let named: BTreeSet<&str> = problems.iter().map(Problem::name).collect();
        let paged: BTreeSet<&str> = pages().iter().map(|page| page.name.as_str()).collect();
        assert_eq!(named, paged);
        assert!(problems.iter().all(|problem| !problem.title.is_empty()));
    }

    async fn sent(response: Response) -> String {
        let bytes = axum::body::to_bytes(response.into_body(), usize::MAX).await.unwrap();
        String::from_utf8(bytes.to_vec()).unwrap()
    }

    #[tokio::test]
    async fn what_goes_wrong_inside_stays_inside() {
        let secrets = ["/var/lib/selachron/log.key", "SELECT seq FROM events"];
        let inside = [
            Failure::from(Setup::Io(secrets.join(": "))).into_response(),
            Failure::from(Broken::new(secrets.join(": "))).into_response(),
            Failure::from(Broken::at(7, secrets.join(": "))).into_response(),
            panicked(Box::new(secrets.join(": "))),
            panicked(Box::new("SELECT seq FROM events")),
        ];
        for response in inside {
            assert_eq!(response.status(), NO_STATUS);
            assert_eq!(response.headers()[header::CONTENT_TYPE], "application/problem+json");
            let said = sent(response).await;
            assert!(secrets.iter().all(|secret| !said.contains(secret)), "{said}");
        }
    }

    #[tokio::test]
    async fn a_broken_record_names_its_seq_and_busy_says_when() {
        let said = sent(Failure::from(Broken::at(7, "x")).into_response()).await;
        assert!(said.contains("seq 7"), "{said}");
        let busy = Failure::from(Busy::QueueFull).into_response();
        assert_eq!((busy.status().as_u16(), busy.headers()[header::RETRY_AFTER].to_str().unwrap()), (503, "1"));
    }
}
