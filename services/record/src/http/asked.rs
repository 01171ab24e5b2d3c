//! The question that every read is: at which two clocks, which page, in which form. Anything the
//! query says that is not understood is refused by name; a limit is refused, never clamped.

use super::app::App;
use super::page::{Cursor, vary_accept};
use super::problem::NOT_MODIFIED;
use super::query;
use crate::failure::{Failure, Question};
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Uri, header};
use axum::response::{IntoResponse, Response};
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::encoding::hex;
use selachron_schemas::limits::{LIST_ITEMS_DEFAULT, LIST_ITEMS_MAX, QUERY_BYTES_MAX};
use selachron_schemas::merkle::{Hash, sha256};
use selachron_schemas::note::plain_number;
use selachron_schemas::time::Instant;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use utoipa::IntoParams;

/// What every read may say in its query.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ReadParams {
    /// The moment to look at (V): an RFC 3339 time, or a date, meaning its last millisecond in
    /// the collection's time zone. Default: now.
    pub as_of: Option<String>,
    /// What was known (S): a number of notes, or a time, meaning those recorded by then.
    /// Default: all that is published.
    pub known_at: Option<String>,
    /// Most items in the answer, 1 to 1000. Default 100.
    pub limit: Option<String>,
    /// Where the page before ended, from its `next`.
    pub cursor: Option<String>,
    /// `true`: name the notes that each figure rests on.
    pub explain: Option<String>,
    /// The form of the answer. Default: `json`, or what `Accept` prefers.
    pub format: Option<String>,
}

const READ_PARAMS: [&str; 6] = ["as_of", "known_at", "limit", "cursor", "explain", "format"];

/// The query of a read that takes nothing but [`ReadParams`].
#[derive(Debug, Clone, Copy, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoMore {}

/// The two clocks of a read, settled (F20).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// V.
    pub as_of: Instant,
    /// S: known are the notes with a smaller seq.
    pub known_at: u64,
    /// The root of size S.
    pub root: Hash,
    /// Bodies withheld among the first S notes.
    pub withheld: u64,
    /// Notes among the first S that were recorded while their author's key was suspected.
    pub suspected: u64,
    /// Whether the collection's clock is simulated.
    pub simulated_clock: bool,
    /// The collection's time zone.
    pub zone: Tz,
}

/// A read, asked: its clocks, its page, and `Q`, what its own handler takes from the query.
#[derive(Debug, Clone)]
pub struct Asked<Q> {
    /// The two clocks.
    pub at: Reading,
    /// Most items on this page.
    pub limit: usize,
    /// Key of the last item on the page before.
    pub after: Option<String>,
    /// Whether the answer names the notes that it rests on.
    pub explain: bool,
    /// The handler's own parameters.
    pub query: Q,
    pub(super) format: Option<String>,
    pub(super) accept: Option<String>,
    pub(super) etag: String,
    pub(super) path: String,
    pub(super) raw_query: String,
}

impl Reading {
    /// The same V at another size of the log.
    ///
    /// # Errors
    /// The log does not hold so many notes.
    pub fn known(&self, size: u64, app: &App) -> Result<Self, Failure> {
        let published = app.journal.published();
        let beyond = || Question::bad("known_at", format!("the log holds {} notes", published.size()));
        let root = published.root(size).ok_or_else(beyond)?;
        let (withheld, suspected) = (published.withheld_below(size), published.suspected_below(size));
        Ok(Self { known_at: size, root, withheld, suspected, ..self.clone() })
    }
}

impl<Q: DeserializeOwned + Send> FromRequestParts<App> for Asked<Q> {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Response> {
        let asked = ask(parts, app).map_err(IntoResponse::into_response)?;
        let known = header_text(parts, header::IF_NONE_MATCH);
        if known.is_some_and(|tags| tags.split(',').any(|tag| tag.trim().trim_start_matches("W/") == asked.etag)) {
            let etag = HeaderValue::from_str(&asked.etag).map_err(|_| NOT_MODIFIED.into_response())?;
            return Err((NOT_MODIFIED, [(header::ETAG, etag), vary_accept()]).into_response());
        }
        Ok(asked)
    }
}

impl<Q> Asked<Q> {
    /// Whether the query itself names this parameter.
    #[must_use]
    pub fn says(&self, name: &str) -> bool {
        self.raw_query.split('&').any(|pair| pair.split('=').next() == Some(name))
    }
}

fn ask<Q: DeserializeOwned>(parts: &Parts, app: &App) -> Result<Asked<Q>, Failure> {
    let raw = parts.uri.query().unwrap_or_default();
    if raw.len() > QUERY_BYTES_MAX {
        return Err(Question::BadRequest(format!("the query has more than {QUERY_BYTES_MAX} bytes")).into());
    }
    let (common, own): (Vec<&str>, Vec<&str>) =
        raw.split('&').filter(|pair| !pair.is_empty()).partition(|pair| READ_PARAMS.contains(&pair.split('=').next().unwrap_or_default()));
    let common: ReadParams = read_query(&common)?;
    let query: Q = read_query(&own)?;
    let cursor = common.cursor.as_deref().map(Cursor::read).transpose()?;
    let at = settle(&common, cursor.as_ref(), app)?;
    let accept = accepted(&parts.headers);
    // What is preferred decides the form, so that each form has a tag of its own.
    let preferred = accept.as_deref().unwrap_or_default();
    let path = parts.uri.path();
    // A report also says what lies beside the log, a house's profile and refused writes, and has no lasting tag.
    let beside = if path.starts_with(REPORTS) { app.clock.now().0 } else { 0 };
    let etag = tag(&at, path, &format!("{raw}\n{preferred}\n{beside}"));
    Ok(Asked {
        limit: limit(common.limit.as_deref())?,
        explain: flag("explain", common.explain.as_deref())?,
        after: cursor.map(|cursor| cursor.after),
        query,
        format: common.format,
        accept,
        etag,
        path: parts.uri.path().to_owned(),
        raw_query: raw.to_owned(),
        at,
    })
}

/// Reads that say more than the log.
const REPORTS: &str = "/v1/reports/";

/// The tag of an answer. What is withheld or suspected later changes what was known before, and other software
/// may say it otherwise.
fn tag(at: &Reading, path: &str, asked: &str) -> String {
    let (known_at, as_of, withheld, suspected) = (at.known_at, at.as_of.0, at.withheld, at.suspected);
    let version = env!("CARGO_PKG_VERSION");
    let text = format!("{version}\n{known_at}\n{as_of}\n{withheld}\n{suspected}\n{path}\n{asked}");
    format!("\"{}\"", hex(&sha256(text.as_bytes())[..16]))
}

/// All that `Accept` says; several lines of it are one list (RFC 9110 5.3).
fn accepted(headers: &HeaderMap) -> Option<String> {
    let lines: Vec<&str> = headers.get_all(header::ACCEPT).iter().filter_map(|line| line.to_str().ok()).collect();
    (!lines.is_empty()).then(|| lines.join(","))
}

fn header_text(parts: &Parts, name: header::HeaderName) -> Option<String> {
    parts.headers.get(name)?.to_str().ok().map(str::to_owned)
}

/// Reads pairs as `T`, through the reader that axum uses for a whole query.
fn read_query<T: DeserializeOwned>(pairs: &[&str]) -> Result<T, Failure> {
    let uri = format!("/?{}", pairs.join("&")).parse::<Uri>();
    query::read(&uri.map_err(|_| Question::bad("query", "it is no query string"))?)
}

fn settle(common: &ReadParams, cursor: Option<&Cursor>, app: &App) -> Result<Reading, Failure> {
    let now = app.clock.now();
    let published = app.journal.published();
    let founding = published.founding().ok_or_else(|| Question::NotFound("this log is not founded yet".to_owned()))?;
    let asked_size = common.known_at.as_deref().map(|text| size(text, &published)).transpose()?;
    let asked_time = common.as_of.as_deref().map(|text| moment("as_of", text, founding.zone)).transpose()?;
    let known_at = agreed("known_at", asked_size, cursor.map(|cursor| cursor.known_at))?.unwrap_or(published.size());
    let as_of = agreed("as_of", asked_time, cursor.map(|cursor| cursor.as_of))?.unwrap_or(now);
    if known_at == 0 {
        return Err(Question::bad("known_at", "nothing was recorded by then; ask for at least 1 note").into());
    }
    let beyond = || Question::bad("known_at", format!("the log holds {} notes", published.size()));
    Ok(Reading {
        as_of,
        known_at,
        root: published.root(known_at).ok_or_else(beyond)?,
        withheld: published.withheld_below(known_at),
        suspected: published.suspected_below(known_at),
        simulated_clock: founding.simulated_clock,
        zone: founding.zone,
    })
}

/// A page stays at the clocks of the page before.
fn agreed<T: PartialEq>(name: &str, asked: Option<T>, cursor: Option<T>) -> Result<Option<T>, Failure> {
    match (asked, cursor) {
        (Some(asked), Some(cursor)) if asked != cursor => {
            Err(Question::bad(name, "the cursor belongs to another question; leave this out, or begin without the cursor").into())
        }
        (asked, cursor) => Ok(cursor.or(asked)),
    }
}

fn size(text: &str, published: &crate::journal::published::Published) -> Result<u64, Failure> {
    if let Some(size) = plain_number(text) {
        return Ok(size);
    }
    match Instant::parse(&plus(text)) {
        Ok(time) => Ok(published.size_at(time)),
        Err(_) => {
            Err(Question::bad("known_at", format!("{text:?} is neither a number of notes nor a time like 2026-03-01T09:14:00+10:00"))
                .into())
        }
    }
}

/// A time, or the end of a date.
pub(super) fn moment(name: &str, text: &str, zone: Tz) -> Result<Instant, Failure> {
    match date(text) {
        Some(day) => Ok(Instant::end_of_day(day, zone)),
        None => time(name, text),
    }
}

/// A time, or the beginning of a date.
pub(super) fn start(name: &str, text: &str, zone: Tz) -> Result<Instant, Failure> {
    match date(text) {
        Some(day) => Ok(Instant::start_of_day(day, zone)),
        None => time(name, text),
    }
}

fn date(text: &str) -> Option<NaiveDate> {
    NaiveDate::parse_from_str(text, "%Y-%m-%d").ok().filter(|_| text.len() == "2026-03-01".len())
}

fn time(name: &str, text: &str) -> Result<Instant, Failure> {
    let wrong = |_| Question::bad(name, format!("{text:?} is neither a date like 2026-03-01 nor a time like 2026-03-01T09:14:00+10:00"));
    Ok(Instant::parse(&plus(text)).map_err(wrong)?)
}

/// In a query string `+` means a space unless it is escaped; a time holds no space, so nothing
/// else can be meant.
fn plus(text: &str) -> String {
    text.replace(' ', "+")
}

fn limit(text: Option<&str>) -> Result<usize, Failure> {
    let Some(text) = text else { return Ok(LIST_ITEMS_DEFAULT) };
    let number = plain_number(text).and_then(|number| usize::try_from(number).ok());
    let wrong = || Question::bad("limit", format!("{text:?} is not a whole number from 1 to {LIST_ITEMS_MAX}"));
    Ok(number.filter(|number| (1..=LIST_ITEMS_MAX).contains(number)).ok_or_else(wrong)?)
}

fn flag(name: &str, text: Option<&str>) -> Result<bool, Failure> {
    match text {
        None | Some("false") => Ok(false),
        Some("true") => Ok(true),
        Some(other) => Err(Question::bad(name, format!("{other:?} is neither true nor false")).into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_changes_with_what_is_withheld_or_suspected_later() {
        let reading = |withheld, suspected| Reading {
            as_of: Instant(0),
            known_at: 7,
            root: [0; 32],
            withheld,
            suspected,
            simulated_clock: false,
            zone: Tz::UTC,
        };
        let of = |withheld, suspected| tag(&reading(withheld, suspected), "/v1/events", "");
        assert_eq!(of(0, 0), of(0, 0));
        assert!(of(0, 0) != of(1, 0) && of(0, 0) != of(0, 1));
        assert_ne!(of(0, 0), tag(&reading(0, 0), "/v1/events", "limit=3"));
    }
}
