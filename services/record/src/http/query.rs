//! A query string that is not that of a read over two clocks, with errors as RFC 9457 wants them.

use crate::failure::{Failure, Question};
use axum::extract::{FromRequestParts, Query};
use axum::http::request::Parts;
use selachron_schemas::limits::QUERY_BYTES_MAX;
use serde::de::DeserializeOwned;

/// Like axum's `Query`, but its refusals are problem+json. Give `T` `deny_unknown_fields`.
#[derive(Debug, Clone)]
pub struct Strictly<T>(pub T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequestParts<S> for Strictly<T> {
    type Rejection = Failure;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Failure> {
        if parts.uri.query().is_some_and(|query| query.len() > QUERY_BYTES_MAX) {
            return Err(Question::BadRequest(format!("the query has more than {QUERY_BYTES_MAX} bytes")).into());
        }
        read(&parts.uri).map(Self)
    }
}

/// Reads the query of `uri` as `T`.
pub(super) fn read<T: DeserializeOwned>(uri: &axum::http::Uri) -> Result<T, Failure> {
    let query = Query::<T>::try_from_uri(uri).map_err(|error| {
        let said = std::error::Error::source(&error).map_or_else(|| error.to_string(), ToString::to_string);
        Question::bad("query", format!("{said}; /v1/openapi.json lists what this path takes"))
    })?;
    Ok(query.0)
}
