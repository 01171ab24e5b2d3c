//! Who asks. Reads carry no token yet and the service listens on this machine only, so a reader
//! names the key that asks in the query (`?key=`); what is shown is what that key's holder may see.
//! Whoever brings proof of the key replaces this one extractor.

use super::app::App;
use super::query::Strictly;
use crate::failure::{Failure, Question};
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use selachron_schemas::names::KeyId;
use selachron_schemas::refusal::Wanted;
use selachron_schemas::replay::keys::Role;
use serde::Deserialize;
use utoipa::IntoParams;

/// How a reader says who asks.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AskerQuery {
    /// The key id of whoever asks, 32 hexadecimal characters.
    pub key: String,
}

/// Whoever asks, as the log knows the key now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asker {
    /// The key.
    pub keyid: KeyId,
    /// Its holder; `None` for a key that is not known yet, such as one that is being enrolled.
    pub person: Option<String>,
    /// Roles it has while it is in force.
    pub roles: Vec<Role>,
    /// Whether it is a root key.
    pub root: bool,
}

impl FromRequestParts<App> for Asker {
    type Rejection = Failure;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Failure> {
        let Strictly(query) = Strictly::<AskerQuery>::from_request_parts(parts, app).await?;
        let wrong = || Question::bad("key", format!("{:?} is no key id: 32 lower-case hexadecimal characters", query.key));
        Ok(Self::of(app, KeyId::parse(&query.key).ok_or_else(wrong)?))
    }
}

impl Asker {
    fn of(app: &App, keyid: KeyId) -> Self {
        let (now, published) = (app.clock.now(), app.journal.published());
        let book = published.keys();
        let in_force = book.get(&keyid).filter(|record| record.in_force(published.size(), now));
        let person = book.person_of(&keyid).map(str::to_owned);
        let roles = in_force.map(|record| record.roles.clone()).unwrap_or_default();
        Self { keyid, person, roles, root: book.roots().contains_key(&keyid) }
    }

    /// Whether this key could give a signature that is wanting on a note by `author`.
    #[must_use]
    pub fn could_sign(&self, wants: &[Wanted], author: Option<&str>) -> bool {
        wants.iter().any(|wanted| match &wanted.key {
            Some(key) => *key == self.keyid.to_string(),
            None => self.has_one_of(&wanted.roles) && self.person.as_deref() != author,
        })
    }

    fn has_one_of(&self, words: &[String]) -> bool {
        words.iter().any(|word| (self.root && word == "root") || self.roles.iter().any(|role| role.word() == word))
    }
}
