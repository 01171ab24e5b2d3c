//! Who asks: the key of the token. Where the service is open to this machine and no token is
//! shown, a reader names the key in the query (`?key=`); what is shown is what its holder may see.

use super::access::Reader;
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
    /// The key id of whoever asks, 32 hexadecimal characters; with a token it is the token's.
    pub key: Option<String>,
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
        let proved = parts.extensions.get::<Reader>().map(|reader| reader.keyid);
        let named = query.key.as_deref().map(|key| {
            let wrong = || Question::bad("key", format!("{key:?} is no key id: 32 lower-case hexadecimal characters"));
            KeyId::parse(key).ok_or_else(wrong)
        });
        match (proved, named.transpose()?) {
            (Some(proved), Some(named)) if proved != named => {
                Err(Question::bad("key", format!("the token is of the key {proved}; ask with a token of {named}")).into())
            }
            (Some(keyid), _) | (None, Some(keyid)) => Ok(Self::of(app, keyid)),
            (None, None) => Err(Question::bad("key", "say which key asks, or show a token").into()),
        }
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
