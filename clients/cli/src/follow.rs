//! Following the log to its next key (F14). While keys overlap, the key that is pinned here still signs:
//! it vouches for the very note by which the root keys changed it, and the pin may go on to the new one.
//! After that only a person who has compared the new key by another way can move the pin.

use crate::client::Client;
use crate::fault::Fault;
use crate::trust::fingerprint;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::merkle::sha256;
use selachron_schemas::note::{SignedCheckpoint, VerifierKey};
use selachron_schemas::receipt::Receipt;
use serde_json::Value;

/// Where the service shows the last change of its key.
const REKEYED: &str = "/v1/log/rekeyed";

/// Whether another key of this log has signed beside the one that is pinned.
pub(crate) fn overlaps(note: &SignedCheckpoint, pinned: &VerifierKey) -> bool {
    note.signatures.iter().any(|line| line.name == pinned.name() && line.hash != pinned.hash())
}

impl Client {
    /// Moves the pin to the log's next key, if the pinned one vouches for the note that brings it in.
    ///
    /// # Errors
    /// Broken, when what the service shows does not hold; unreachable.
    pub(crate) fn follow(&self, pinned: &VerifierKey) -> Result<VerifierKey, Fault> {
        let answer = self.ask_json(REKEYED, &[])?;
        let text = |name: &str| answer.get(name).and_then(Value::as_str).unwrap_or_default();
        let new = change_of_key(text("envelope"), text("receipt"), pinned)
            .map_err(|reason| Fault::Broken(format!("the service shows a change of its log key that does not hold: {reason}")))?;
        self.pin_instead(pinned, &new)?;
        Ok(new)
    }

    fn pin_instead(&self, pinned: &VerifierKey, new: &VerifierKey) -> Result<(), Fault> {
        self.trust().replace(pinned, new)?;
        self.use_log_key(new.clone());
        self.talk(&format!("the log has changed its key from {} to {}; the new one is pinned now", fingerprint(pinned), fingerprint(new)));
        Ok(())
    }

    /// Pins another key of the same log, which a person has compared by another way. The service must
    /// sign with it, and hold all that this machine has verified before.
    ///
    /// # Errors
    /// Usage: the key is of another log; broken: the service does not sign with it, or its log is not
    /// the one that was verified here.
    pub fn trust_instead(&self, new: &VerifierKey) -> Result<(), Fault> {
        let pinned = self.log_key()?;
        if new.name() != pinned.name() {
            return Err(Fault::Usage(format!("this is a key of {}, and {} is pinned here", new.name(), pinned.name())));
        }
        let text = self.get_text("/v1/log/checkpoint", &[], "text/plain")?;
        let note =
            SignedCheckpoint::parse(&text).map_err(|reason| Fault::Broken(format!("the service's checkpoint cannot be read: {reason}")))?;
        if note.checkpoint.origin != new.name() || !note.signed_by(new) {
            return Err(Fault::Broken(format!("the service does not sign with {}; nothing was changed", fingerprint(new))));
        }
        let seen = self.trust().seen(&pinned)?;
        if let Some(seen) = &seen {
            self.check_consistent(seen, &note, None)?;
        }
        if !self.trust().advance(&pinned, seen.as_ref(), &note)? {
            return Err(Fault::Failed("another program has moved what was seen meanwhile; do it again".to_owned()));
        }
        self.pin_instead(&pinned, new)
    }
}

/// The key that a `log.rekeyed` brings in, whose receipt holds under `pinned`.
fn change_of_key(envelope: &str, receipt: &str, pinned: &VerifierKey) -> Result<VerifierKey, String> {
    let receipt = Receipt::parse(receipt)?;
    receipt.check(pinned)?;
    let envelope = Envelope::read(envelope.as_bytes()).map_err(|refusal| refusal.to_string())?;
    if sha256(&envelope.body) != receipt.leaf.body_sha256 {
        return Err("the receipt is of another note".to_owned());
    }
    let event = Event::parse(&envelope.body).map_err(|refusal| refusal.to_string())?;
    let vkey = event.data.get("log_vkey").and_then(Value::as_str).unwrap_or_default();
    if event.kind != "log.rekeyed.v1" {
        return Err(format!("{} changes no key", event.kind));
    }
    let new = VerifierKey::parse(vkey)?;
    if new.name() == pinned.name() { Ok(new) } else { Err(format!("the new key is of {}", new.name())) }
}
