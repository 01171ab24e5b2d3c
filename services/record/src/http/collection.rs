//! `GET /v1/collection`: whose record this is, and its house rules.

use super::app::App;
use super::asked::{Asked, NoMore, ReadParams};
use super::page::Answered;
use super::problem::Problem;
use crate::domain::state::{Authorisation, Policy};
use crate::failure::{Broken, Failure};
use axum::extract::State;
use axum::response::Response;
use serde::Serialize;
use utoipa::ToSchema;

/// What the founding note fixed, and the policy.
#[derive(Debug, Serialize, ToSchema)]
pub struct Collection {
    /// The collection's name.
    pub name: String,
    /// Country, two capital letters.
    pub country: String,
    /// IANA time zone; days are dates in it.
    pub time_zone: String,
    /// The log's origin.
    pub origin: String,
    /// The log's newest key, as a C2SP verifier key.
    pub log_vkey: String,
    /// Number of notes published, whatever `known_at` is.
    pub size: u64,
    /// The house rules in force at `known_at`.
    pub policy: Policy,
    /// Authorisations of openings, withdrawn and expired ones included.
    pub opening_authorisations: Vec<Authorisation>,
}

/// Whose record this is.
#[utoipa::path(
    get, path = "/v1/collection", tag = "collection", params(ReadParams),
    responses((status = 200, body = Answered<Collection>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn collection(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let (policy, opening_authorisations) = app.view(&asked.at, |view| Ok((view.policy().clone(), view.authorisations()))).await?;
    let collection = {
        let published = app.journal.published();
        let founding = published.founding().ok_or_else(|| Broken::new("a read without a founding"))?;
        Collection {
            name: founding.name.clone(),
            country: founding.country.clone(),
            time_zone: founding.zone.name().to_owned(),
            origin: founding.origin.clone(),
            log_vkey: published.log_keys().newest().map(ToString::to_string).unwrap_or_default(),
            size: published.size(),
            policy,
            opening_authorisations,
        }
    };
    asked.answer(collection)
}
