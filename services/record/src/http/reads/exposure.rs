//! `GET /v1/exposure`: who shared water with whom.

use crate::domain::exposure::Shared;
use crate::domain::view::View;
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams, moment, start};
use crate::http::page::{Answered, Listed};
use crate::http::problem::Problem;
use axum::extract::State;
use axum::response::Response;
use selachron_schemas::names::Subject;
use serde::Deserialize;
use utoipa::IntoParams;

/// Of whom, and between when and when.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ExposureQuery {
    /// A case, an animal or a group: `egg/ULID`, `animal/ULID`, `group/ULID`, `egg/LABEL`, or a label that one of them bears.
    pub subject: String,
    /// From this time, or the beginning of this date.
    pub from: Option<String>,
    /// To this time, or the end of this date; else to `as_of`.
    pub to: Option<String>,
}

/// Cases, animals and groups that shared water with the one asked about, through moves and systems; of
/// an animal that hatched here also with its case, of one told apart with its group. In order of time. That they shared water does not
/// show that anything passed between them; the veterinarian judges.
#[utoipa::path(
    get, path = "/v1/exposure", tag = "attention", params(ReadParams, ExposureQuery),
    responses((status = 200, body = Answered<Listed<Shared>>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn exposure(State(app): State<App>, asked: Asked<ExposureQuery>) -> Result<Response, Failure> {
    let (query, zone) = (asked.query.clone(), asked.at.zone);
    let from = query.from.as_deref().map(|text| start("from", text, zone)).transpose()?;
    let to = query.to.as_deref().map(|text| moment("to", text, zone)).transpose()?;
    if from.zip(to).is_some_and(|(from, to)| to < from) {
        return Err(Question::bad("to", "it lies before from").into());
    }
    let items = app.view(&asked.at, move |view| Ok(view.exposure(&creature(view, &query.subject)?, from, to))).await?;
    asked.answer_page(items, |item| format!("{} {} {} {}", item.from.0, item.with, item.water, item.in_case))
}

/// The nouns of what can be exposed.
const CREATURES: [&str; 3] = ["egg", "animal", "group"];

/// The case, animal or group that `text` means.
fn creature(view: &View<'_>, text: &str) -> Result<Subject, Question> {
    for noun in CREATURES {
        if let Some(label) = text.strip_prefix(noun).and_then(|rest| rest.strip_prefix('/')) {
            return view.find(noun, label);
        }
    }
    let mut found = Vec::new();
    for noun in CREATURES {
        match view.find(noun, text) {
            Ok(one) => found.push(one),
            Err(ambiguous @ Question::Ambiguous { .. }) => return Err(ambiguous),
            Err(_) => {}
        }
    }
    match found.len() {
        0 => Err(Question::NotFound(format!("no egg, animal or group is known by {text:?}; a tank is not exposed, what is in it is"))),
        1 => Ok(found.remove(0)),
        _ => Err(Question::Ambiguous { label: text.to_owned(), candidates: found.iter().map(ToString::to_string).collect() }),
    }
}
