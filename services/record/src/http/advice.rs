//! `GET /problems/{name}`: what a problem means and what mends it. A problem's `type` leads here.

use super::problem::{OK, Problem};
use crate::failure::{Failure, Question};
use axum::Json;
use axum::extract::Path;
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use selachron_schemas::problems::{Page, page, pages, type_of};
use serde::Serialize;
use utoipa::ToSchema;

/// A problem's page, for programs.
#[derive(Debug, Serialize, ToSchema)]
pub struct Advice {
    /// The problem's name.
    pub name: &'static str,
    /// The HTTP status that it is answered with.
    pub status: u16,
    /// What sort of problem it is.
    pub title: &'static str,
    /// How it comes about.
    pub cause: &'static str,
    /// What to do.
    pub remedy: &'static str,
}

impl From<&'static Page> for Advice {
    fn from(page: &'static Page) -> Self {
        Self { name: &page.name, status: page.status, title: &page.title, cause: &page.cause, remedy: &page.remedy }
    }
}

fn wants_json(headers: &HeaderMap) -> bool {
    let accept = headers.get(header::ACCEPT).and_then(|accept| accept.to_str().ok()).unwrap_or_default();
    accept.contains("json") && !accept.contains("text/html")
}

fn html(title: &str, body: &str) -> Response {
    let text = format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\">\
         <title>{title}</title></head>\n<body><main>\n{body}</main></body></html>\n"
    );
    let headers = [(header::CONTENT_TYPE, "text/html; charset=utf-8"), (header::CONTENT_SECURITY_POLICY, "default-src 'none'")];
    (OK, headers, text).into_response()
}

/// The file's texts are ours and hold no markup; what they quote in it is shown as it stands.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// All problems that an answer can name.
#[utoipa::path(
    get, path = "/problems", tag = "problems",
    responses((status = 200, description = "A page, or JSON if that is what Accept names", body = Vec<Advice>))
)]
pub async fn list_problems(headers: HeaderMap) -> Response {
    if wants_json(&headers) {
        return Json(pages().iter().map(Advice::from).collect::<Vec<_>>()).into_response();
    }
    let line = |page: &Page| format!("<li><a href=\"{}\">{}</a>: {}</li>\n", type_of(&page.name), page.name, escaped(&page.title));
    html("Problems", &format!("<h1>Problems that an answer can name</h1>\n<ul>\n{}</ul>\n", pages().iter().map(line).collect::<String>()))
}

/// One problem: cause and remedy.
#[utoipa::path(
    get, path = "/problems/{name}", tag = "problems", params(("name" = String, Path, description = "Such as expect-failed")),
    responses(
        (status = 200, description = "A page, or JSON if that is what Accept names", body = Advice),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn get_problem(Path(name): Path<String>, headers: HeaderMap) -> Result<Response, Failure> {
    let page = page(&name).ok_or_else(|| Question::NotFound(format!("there is no problem {name:?}; /problems lists them")))?;
    if wants_json(&headers) {
        return Ok(Json(Advice::from(page)).into_response());
    }
    let (title, cause, remedy) = (escaped(&page.title), escaped(&page.cause), escaped(&page.remedy));
    let body = format!(
        "<h1>{title}</h1>\n<p><code>{}</code>, HTTP status {}</p>\n<h2>Cause</h2>\n<p>{cause}</p>\n<h2>Remedy</h2>\n<p>{remedy}</p>\n\
         <p><a href=\"/problems\">All problems</a></p>\n",
        page.name, page.status
    );
    Ok(html(&title, &body))
}
