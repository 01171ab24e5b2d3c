//! What a client knows of the collection whose log it reads.

use crate::client::Client;
use crate::fault::Fault;
use crate::trust::fingerprint;
use selachron_schemas::note::VerifierKey;
use serde_json::Value;

/// What `GET /v1/collection` says, as far as the client uses it.
#[derive(Debug, Clone, PartialEq)]
pub struct Collection {
    /// The collection's name.
    pub name: String,
    /// Its IANA time zone.
    pub time_zone: String,
    /// The log's origin.
    pub origin: String,
    /// The newest log key, as text.
    pub log_vkey: String,
    /// Invented season, simulated clock (F10).
    pub simulated_clock: bool,
    /// The whole answer.
    pub whole: Value,
}

impl Client {
    /// What the service says of the collection; its log key must be the pinned one.
    ///
    /// # Errors
    /// Unreachable; broken, when the log key differs.
    pub fn collection(&self) -> Result<Collection, Fault> {
        let collection = read_collection(self.ask_json("/v1/collection", &[])?)?;
        let shown =
            VerifierKey::parse(&collection.log_vkey).map_err(|reason| Fault::Failed(format!("the service shows no log key: {reason}")))?;
        let pinned = self.log_key()?;
        if shown != pinned && self.follow(&pinned).ok().as_ref() != Some(&shown) {
            let (shown, pinned) = (fingerprint(&shown), fingerprint(&pinned));
            return Err(Fault::Broken(format!(
                "the service shows the log key {shown}, pinned is {pinned}; ask the registrar which is right"
            )));
        }
        Ok(collection)
    }
}

fn read_collection(whole: Value) -> Result<Collection, Fault> {
    let text = |name: &str| {
        let value = whole.get(name).and_then(Value::as_str).map(str::to_owned);
        value.ok_or_else(|| Fault::Failed(format!("the service's answer about the collection lacks {name}")))
    };
    Ok(Collection {
        name: text("name")?,
        time_zone: text("time_zone")?,
        origin: text("origin")?,
        log_vkey: text("log_vkey")?,
        simulated_clock: whole.get("simulated_clock").and_then(Value::as_bool).unwrap_or(false),
        whole,
    })
}
