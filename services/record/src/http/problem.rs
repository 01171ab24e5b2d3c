//! The one place where failures become answers (RFC 9457). What the caller sees never has a
//! path, SQL or a key in it; the log of the service has the rest.

use crate::failure::{Busy, Failure, Question, Setup};
use axum::Json;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use selachron_schemas::limits::RETRY_AFTER_S;
use selachron_schemas::refusal::{Problem as Rule, Refusal, Wanted};
use serde::Serialize;
use std::any::Any;
use utoipa::ToSchema;

/// An error as RFC 9457 writes it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = Problem)]
pub struct Problem {
    /// `urn:selachron:problem:` and the problem's name.
    #[serde(rename = "type")]
    #[schema(example = "urn:selachron:problem:expect-failed")]
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

impl Problem {
    fn new(name: &str, status: StatusCode, title: &'static str, detail: impl Into<String>) -> Self {
        let kind = format!("urn:selachron:problem:{name}");
        Self {
            kind,
            title,
            status: status.as_u16(),
            detail: detail.into(),
            pointer: None,
            id: None,
            wants: Vec::new(),
            candidates: Vec::new(),
        }
    }

    /// A refusal by a rule of the log (F7).
    #[must_use]
    pub fn refused(refusal: &Refusal, id: Option<String>) -> Self {
        let (status, title) = rule(refusal.problem);
        let problem = Self::new(refusal.problem.name(), status, title, refusal.detail.clone());
        Self { pointer: refusal.pointer.clone(), wants: refusal.wants.clone(), id, ..problem }
    }

    /// Anything else.
    #[must_use]
    pub fn of(failure: &Failure) -> Self {
        match failure {
            Failure::Refused(refusal) => Self::refused(refusal, None),
            Failure::Busy(busy) => Self::new(busy_name(busy), StatusCode::SERVICE_UNAVAILABLE, "try again", busy.to_string()),
            Failure::Sealed(_) => Self::new(
                "sealed",
                StatusCode::SERVICE_UNAVAILABLE,
                "the log is sealed",
                format!("{failure}; it goes on reading and proving and takes no notes until whoever keeps it has looked"),
            ),
            Failure::Broken(broken) => Self::new(
                "broken",
                NO_STATUS,
                "the record cannot be vouched for",
                match broken.seq {
                    Some(seq) => format!("the record does not check at seq {seq}; whoever keeps this service must look"),
                    None => "the service cannot vouch for the record; whoever keeps it must look".to_owned(),
                },
            ),
            Failure::Question(question) => Self::question(question),
            Failure::Setup(setup) => Self::setup(setup),
        }
    }

    fn question(question: &Question) -> Self {
        let (name, status, title) = match question {
            Question::NotFound(_) => ("not-found", StatusCode::NOT_FOUND, "no such thing"),
            Question::BadQuery { .. } => ("bad-query", StatusCode::BAD_REQUEST, "the query cannot be understood"),
            Question::Ambiguous { .. } => ("ambiguous", StatusCode::CONFLICT, "more than one thing has that name"),
            Question::TooLarge { .. } | Question::TooMany { .. } => {
                ("too-large", StatusCode::PAYLOAD_TOO_LARGE, "the request is too large")
            }
            Question::Media(_) => ("media", StatusCode::UNSUPPORTED_MEDIA_TYPE, "that form is not spoken here"),
            Question::BadRequest(_) => ("bad-request", StatusCode::BAD_REQUEST, "the request cannot be understood"),
        };
        let problem = Self::new(name, status, title, question.to_string());
        match question {
            Question::Ambiguous { candidates, .. } => Self { candidates: candidates.clone(), ..problem },
            _ => problem,
        }
    }

    /// Texts of the operating system name paths: they go to the log only.
    fn setup(_setup: &Setup) -> Self {
        Self::new("broken", NO_STATUS, "something went wrong here", "the service could not do this; its log says why")
    }

    /// The method is not for this path.
    #[must_use]
    pub fn method() -> Self {
        Self::new(
            "method",
            StatusCode::METHOD_NOT_ALLOWED,
            "not that method",
            "this path answers other methods; /v1/openapi.json lists them",
        )
    }
}

fn busy_name(busy: &Busy) -> &'static str {
    match busy {
        Busy::ClockWentBack { .. } => "clock-went-back",
        Busy::DiskFull => "disk-full",
        Busy::WaitingFull => "waiting-full",
        Busy::QueueFull | Busy::StoreLocked | Busy::Stopping => "busy",
    }
}

fn rule(problem: Rule) -> (StatusCode, &'static str) {
    match problem {
        Rule::EnvelopeMalformed => (StatusCode::BAD_REQUEST, "the envelope cannot be read"),
        Rule::BodyMalformed => (StatusCode::BAD_REQUEST, "the body is not a note of that kind"),
        Rule::WrongLog => (StatusCode::UNPROCESSABLE_ENTITY, "written for another log"),
        Rule::SignerUnknown => (StatusCode::UNAUTHORIZED, "the signer is not enrolled"),
        Rule::SignatureInvalid => (StatusCode::UNAUTHORIZED, "a signature does not verify"),
        Rule::AuthorSignatureMissing => (StatusCode::UNAUTHORIZED, "the author did not sign"),
        Rule::IdReused => (StatusCode::CONFLICT, "the id is taken"),
        Rule::TimeInFuture => (StatusCode::UNPROCESSABLE_ENTITY, "the time lies in the future"),
        Rule::LateWithoutReason => (StatusCode::UNPROCESSABLE_ENTITY, "written afterwards without saying why"),
        Rule::SeenSignatureInvalid => (StatusCode::UNPROCESSABLE_ENTITY, "the checkpoint seen is not of this log"),
        Rule::KeyNotInForce => (StatusCode::UNAUTHORIZED, "the author's key is not in force"),
        Rule::NotPermitted => (StatusCode::FORBIDDEN, "not permitted"),
        Rule::TargetUnknown => (StatusCode::UNPROCESSABLE_ENTITY, "no such note"),
        Rule::SubjectUnknown => (StatusCode::UNPROCESSABLE_ENTITY, "no such subject"),
        Rule::ExpectFailed => (StatusCode::CONFLICT, "the subject has changed"),
    }
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
        problem.into_response()
    }
}

/// What a panic in a handler becomes: the caller learns that it happened, the log what it was.
#[must_use]
pub fn panicked(panic: Box<dyn Any + Send + 'static>) -> Response {
    let said = panic.downcast_ref::<String>().map(String::as_str).or_else(|| panic.downcast_ref::<&str>().copied());
    tracing::error!(panic = said.unwrap_or("no text"), "a handler panicked");
    Problem::new("broken", NO_STATUS, "something went wrong here", "the service could not do this; its log says why").into_response()
}

/// The statuses that handlers name themselves.
pub(super) const CREATED: StatusCode = StatusCode::CREATED;
/// See [`CREATED`].
pub(super) const OK: StatusCode = StatusCode::OK;
/// See [`CREATED`].
pub(super) const ACCEPTED: StatusCode = StatusCode::ACCEPTED;
pub(super) const NOT_MODIFIED: StatusCode = StatusCode::NOT_MODIFIED;
/// See [`CREATED`].
pub(super) const UNAVAILABLE: StatusCode = StatusCode::SERVICE_UNAVAILABLE;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::failure::Broken;

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
