//! Reading a request body whole, within the limit.

use crate::failure::{Failure, Question};
use axum::body::{Body, Bytes, HttpBody};
use axum::http::{HeaderMap, header};
use selachron_schemas::limits::{BODY_BYTES_MAX, BODY_DRAIN_BYTES_MAX};
use std::pin::Pin;
use std::task::{Context, Poll};

/// How the notes of a request are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// One envelope.
    One,
    /// One envelope a line.
    Lines,
}

/// The form that a request's `Content-Type` names.
pub(super) fn form(headers: &HeaderMap) -> Result<Form, Failure> {
    let value = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    match value.split(';').next().unwrap_or_default().trim().to_ascii_lowercase().as_str() {
        "application/json" => Ok(Form::One),
        "application/x-ndjson" => Ok(Form::Lines),
        other => {
            let said =
                format!("content type {other:?} is not taken here: application/json for one envelope, application/x-ndjson for one a line");
            Err(Question::Media(said).into())
        }
    }
}

/// Reads a body of at most `BODY_BYTES_MAX`.
pub(super) async fn read(body: Body) -> Result<Bytes, Failure> {
    read_within(body, BODY_BYTES_MAX).await
}

/// Reads a body of at most `limit_bytes`. What is beyond is read and thrown away up to a
/// bound, since a sender that is cut off in the middle would never see why.
pub(super) async fn read_within(mut body: Body, limit_bytes: usize) -> Result<Bytes, Failure> {
    let mut kept = Vec::new();
    let mut seen = 0;
    while let Some(frame) = std::future::poll_fn(|context: &mut Context<'_>| next(&mut body, context)).await {
        let bytes = frame.map_err(|_| Question::BadRequest("the request broke off; send it again".to_owned()))?;
        seen += bytes.len();
        if seen <= limit_bytes {
            kept.extend_from_slice(&bytes);
        } else if seen > BODY_DRAIN_BYTES_MAX {
            break;
        }
    }
    if seen > limit_bytes {
        return Err(Question::TooLarge { limit_bytes }.into());
    }
    Ok(kept.into())
}

fn next(body: &mut Body, context: &mut Context<'_>) -> Poll<Option<Result<Bytes, axum::Error>>> {
    Pin::new(body).poll_frame(context).map(|frame| frame.map(|frame| frame.map(|frame| frame.into_data().unwrap_or_default())))
}
