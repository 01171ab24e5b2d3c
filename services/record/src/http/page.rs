//! How a read answers: with its two clocks, its root and its size, a page at a time.

use super::asked::{Asked, Reading};
use super::problem::OK;
use crate::failure::{Failure, Question};
use crate::report::words::doubt;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use selachron_schemas::encoding::{base64, base64url, from_base64url};
use selachron_schemas::note::plain_number;
use selachron_schemas::time::Instant;
use selachron_statistics::plot::with_words_beneath;
use serde::Serialize;
use utoipa::ToSchema;

/// Where a page ended, and at which clocks; opaque to the caller.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Cursor {
    pub(super) known_at: u64,
    pub(super) as_of: Instant,
    pub(super) after: String,
}

impl Cursor {
    pub(super) fn read(text: &str) -> Result<Self, Failure> {
        let wrong = || Question::bad("cursor", "it is not a cursor of this service; begin without one");
        let text = from_base64url(text).and_then(|bytes| String::from_utf8(bytes).ok()).ok_or_else(wrong)?;
        let mut parts = text.splitn(3, ' ');
        let mut next = || parts.next().ok_or_else(wrong);
        let known_at = plain_number(next()?).ok_or_else(wrong)?;
        let as_of = Instant(next()?.parse().map_err(|_| wrong())?);
        Ok(Self { known_at, as_of, after: next()?.to_owned() })
    }

    fn written(&self) -> String {
        base64url(format!("{} {} {}", self.known_at, self.as_of.0, self.after).as_bytes())
    }
}

/// What every answer says beside its content.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Answered<T> {
    /// The moment looked at (V).
    #[schema(value_type = String, format = DateTime)]
    pub as_of: Instant,
    /// Number of notes known (S).
    pub known_at: u64,
    /// Root over these notes, base64.
    pub root: String,
    /// Bodies withheld among the notes behind this answer.
    pub withheld: u64,
    /// Notes behind this answer that were recorded while their author's key was suspected (F11).
    pub suspected: u64,
    /// Present and true: an invented season with a simulated clock.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub simulated_clock: Option<bool>,
    /// The content.
    #[serde(flatten)]
    pub content: T,
}

impl<T> Answered<T> {
    /// Content, with the clocks that it was read at.
    #[must_use]
    pub fn new(at: &Reading, content: T) -> Self {
        Self {
            as_of: at.as_of,
            known_at: at.known_at,
            root: base64(&at.root),
            withheld: at.withheld,
            suspected: at.suspected,
            simulated_clock: at.simulated_clock.then_some(true),
            content,
        }
    }
}

/// A page of items.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Listed<T> {
    /// The items.
    pub items: Vec<T>,
    /// The cursor of the next page, if there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<String>,
}

/// One item.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Item<T> {
    /// The item.
    pub item: T,
}

impl<Q> Asked<Q> {
    /// The form wanted, one of `offered` (the first is the default): `?format=` before `Accept`.
    ///
    /// # Errors
    /// `?format=` names none of them.
    pub fn form(&self, offered: &[&'static str]) -> Result<&'static str, Failure> {
        let default = offered.first().copied().unwrap_or("json");
        let Some(format) = &self.format else {
            return Ok(self.accept.as_deref().and_then(|accept| preferred(accept, offered)).unwrap_or(default));
        };
        let found = offered.iter().find(|form| *form == format);
        let wrong = || Question::bad("format", format!("{format:?} is not offered here; there is {}", offered.join(", ")));
        Ok(found.copied().ok_or_else(wrong)?)
    }

    /// The answer, as JSON.
    ///
    /// # Errors
    /// Another form was asked for.
    pub fn answer<T: Serialize>(&self, content: T) -> Result<Response, Failure> {
        self.answer_as(&["json"], content)
    }

    /// The same, where there are other forms that the handler has made itself.
    ///
    /// # Errors
    /// A form was asked for that is not offered.
    pub fn answer_as<T: Serialize>(&self, offered: &[&'static str], content: T) -> Result<Response, Failure> {
        self.form(offered)?;
        let answered = Answered::new(&self.at, content);
        Ok((OK, self.headers(), axum::Json(answered)).into_response())
    }

    /// The page of `items` that was asked for. `items` are all there are, in an order that does
    /// not change for fixed clocks; `key` tells them apart.
    ///
    /// # Errors
    /// Another form was asked for, or the cursor names no item.
    pub fn answer_page<T: Serialize>(&self, items: Vec<T>, key: impl Fn(&T) -> String) -> Result<Response, Failure> {
        let skipped = match &self.after {
            None => 0,
            Some(after) => {
                let at = items.iter().position(|item| key(item) == *after);
                at.ok_or_else(|| Question::bad("cursor", "it belongs to another question; begin without one"))? + 1
            }
        };
        let more = items.len() > skipped + self.limit;
        let items: Vec<T> = items.into_iter().skip(skipped).take(self.limit).collect();
        let last = if more { items.last().map(key) } else { None };
        self.answer_listed(items, last)
    }

    /// A page that the handler has cut itself; `last` is the key of its last item if more follow.
    ///
    /// # Errors
    /// Another form was asked for.
    pub fn answer_listed<T: Serialize>(&self, items: Vec<T>, last: Option<String>) -> Result<Response, Failure> {
        let cursor = |after| Cursor { known_at: self.at.known_at, as_of: self.at.as_of, after };
        let next = last.map(|after| cursor(after).written());
        let link = next.as_ref().and_then(|next| HeaderValue::from_str(&self.link(next)).ok());
        let mut response = self.answer(Listed { items, next })?;
        if let Some(link) = link {
            response.headers_mut().insert(header::LINK, link);
        }
        Ok(response)
    }

    fn link(&self, next: &str) -> String {
        let kept = self.raw_query.split('&').filter(|pair| !pair.is_empty() && !pair.starts_with("cursor="));
        let pairs: Vec<String> = kept.map(str::to_owned).chain([format!("cursor={next}")]).collect();
        format!("<{}?{}>; rel=\"next\"", self.path, pairs.join("&"))
    }

    /// A drawing as the answer; where a note behind it is in doubt, it says so beneath.
    #[must_use]
    pub fn answer_drawn(&self, svg: &str) -> Response {
        let svg = doubt(self.at.suspected).map_or_else(|| svg.to_owned(), |words| with_words_beneath(svg, &words));
        (OK, self.headers(), [(header::CONTENT_TYPE, HeaderValue::from_static("image/svg+xml"))], svg).into_response()
    }

    /// Headers that go with every form of the answer.
    #[must_use]
    pub fn headers(&self) -> [(header::HeaderName, HeaderValue); 2] {
        let etag = HeaderValue::from_str(&self.etag).unwrap_or(HeaderValue::from_static("\"\""));
        [(header::ETAG, etag), vary_accept()]
    }
}

/// Said wherever `Accept` may have decided the form, so that no cache gives one for the other (RFC 9110
/// 12.5.5).
pub(super) fn vary_accept() -> (header::HeaderName, HeaderValue) {
    (header::VARY, HeaderValue::from_static("accept"))
}

/// The form that an `Accept` header wants most (RFC 9110 12.5.1); of those that it wants alike the first that
/// is offered. Where it wants none, the first that it does not refuse; `None` where it refuses all.
pub(super) fn preferred(accept: &str, offered: &[&'static str]) -> Option<&'static str> {
    let weighed = |form: &&'static str| (weight(accept, media_of(form)), *form);
    let wanted = offered.iter().rev().map(weighed).filter(|(weight, _)| weight.is_some_and(|weight| weight > 0));
    let unnamed = || offered.iter().map(weighed).find(|(weight, _)| weight.is_none());
    wanted.max_by_key(|(weight, _)| *weight).or_else(unnamed).map(|(_, form)| form)
}

fn media_of(form: &str) -> &'static str {
    match form {
        "html" => "text/html",
        "csv" => "text/csv",
        "svg" => "image/svg+xml",
        "csvw" => "application/csvm+json",
        "ndjson" => "application/x-ndjson",
        "tar" => "application/x-tar",
        "zip" => "application/zip",
        "pdf" => "application/pdf",
        "ics" => "text/calendar",
        "fam" | "linkage" => "text/plain",
        _ => "application/json",
    }
}

/// How much a media type is wanted, in thousandths: what the most specific range that fits it says (RFC 9110
/// 12.5.1). `None` where no range fits.
fn weight(accept: &str, media: &str) -> Option<u16> {
    let of_its_kind = format!("{}/*", media.split('/').next().unwrap_or_default());
    let fitting = accept.split(',').filter_map(|range| {
        let mut parts = range.split(';').map(str::trim);
        let name = parts.next().unwrap_or_default();
        let specific = [media, &of_its_kind, "*/*"].iter().position(|fits| name.eq_ignore_ascii_case(fits))?;
        let weight = parts.find_map(|part| part.split_once('=').filter(|(name, _)| name.trim().eq_ignore_ascii_case("q")));
        // A weight that is none says nothing.
        let weight = weight.map_or(Some(WHOLE), |(_, text)| thousandths(text.trim()))?;
        Some((std::cmp::Reverse(specific), weight))
    });
    fitting.max().map(|(_, weight)| weight)
}

const WHOLE: u16 = 1000;

/// A weight (RFC 9110 12.4.2): 0 to 1 with at most three digits after the point.
fn thousandths(text: &str) -> Option<u16> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let fits = ["0", "1"].contains(&whole) && part.len() <= 3 && part.bytes().all(|digit| digit.is_ascii_digit());
    let weight: u16 = format!("{whole}{part:0<3}").parse().ok().filter(|_| fits)?;
    (weight <= WHOLE).then_some(weight)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_reads_back_and_anything_else_is_refused() {
        let cursor = Cursor { known_at: 9, as_of: Instant(-5), after: "egg/A B".to_owned() };
        assert_eq!(Cursor::read(&cursor.written()).unwrap(), cursor);
        for wrong in ["", "9", "%%", &base64url(b"9 x y"), &base64url(b"9 5")] {
            assert!(Cursor::read(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn what_is_wanted_most_is_given() {
        let of = |accept: &str| preferred(accept, &["json", "csv", "svg", "html"]);
        for (accept, wanted) in [
            ("text/html,application/xhtml+xml;q=0.9,*/*;q=0.8", Some("html")),
            ("application/json; charset=utf-8", Some("json")),
            ("application/json;q=0.2, text/csv;q=0.7, image/svg+xml ; Q=0.699", Some("csv")),
            ("text/csv, application/json", Some("json")),
            ("*/*", Some("json")),
            ("TEXT/CSV", Some("csv")),
            ("text/*;q=0.5, application/json;q=0.4", Some("csv")),
            // The most specific range says it, whatever a wider one says.
            ("text/*;q=0.9, text/csv;q=0.1, */*;q=0.3", Some("html")),
            ("text/csv;q=0, */*;q=0.1", Some("json")),
            ("application/json;q=0, text/csv;q=0.001", Some("csv")),
            // Nothing wanted is offered: the first that is not refused.
            ("application/json;q=0", Some("csv")),
            ("text/csv;q=0", Some("json")),
            ("application/xml", Some("json")),
            ("*/*;q=0", None),
            // What is no weight says nothing.
            ("text/csv;q=2, application/json;q=0.1", Some("json")),
            ("text/csv;q=0.5000, image/svg+xml;q=0.4", Some("svg")),
            ("text/csv;q=1.001, image/svg+xml;q=1.000", Some("svg")),
        ] {
            assert_eq!(of(accept), wanted, "{accept}");
        }
    }
}
