//! `GET /v1/people`: who the pseudonyms are, now. Names are the institution's own list: they are
//! no part of the record, and no answer over two clocks holds one.

use super::app::App;
use super::problem::Problem;
use super::query::Strictly;
use crate::failure::Failure;
use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use utoipa::ToSchema;

/// A person who has or had a key.
#[derive(Debug, Default, Serialize, ToSchema)]
pub struct Person {
    /// Pseudonym.
    pub person: String,
    /// The name that the institution shows for it, if its list has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What the person's keys that are in force may do, sorted; `root` for a root key.
    pub roles: BTreeSet<&'static str>,
    /// All keys of the person.
    pub keys: BTreeSet<String>,
}

/// Everybody, by pseudonym.
#[derive(Debug, Serialize, ToSchema)]
pub struct People {
    /// The persons.
    pub items: Vec<Person>,
}

/// The query takes nothing.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Nothing {}

/// Who has keys now, with the names that the institution shows for the pseudonyms.
#[utoipa::path(
    get, path = "/v1/people", tag = "keys",
    responses((status = 200, body = People), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn people(State(app): State<App>, _query: Strictly<Nothing>) -> Result<Json<People>, Failure> {
    let names = app.blocking(|app| app.directory.read()).await?;
    Ok(Json(People { items: everybody(&app, &names) }))
}

fn everybody(app: &App, names: &BTreeMap<String, String>) -> Vec<Person> {
    let (now, published) = (app.clock.now(), app.journal.published());
    let (book, size) = (published.keys(), published.size());
    let mut people: BTreeMap<String, Person> = BTreeMap::new();
    for (id, person) in book.roots() {
        let known = people.entry(person.clone()).or_default();
        known.roles.insert("root");
        known.keys.insert(id.to_string());
    }
    for (id, record) in book.enrolled() {
        let known = people.entry(record.person.clone()).or_default();
        known.keys.insert(id.to_string());
        if record.in_force(size, now) {
            known.roles.extend(record.roles.iter().map(|role| role.word()));
        }
    }
    people.into_iter().map(|(person, known)| Person { name: names.get(&person).cloned(), person, ..known }).collect()
}
