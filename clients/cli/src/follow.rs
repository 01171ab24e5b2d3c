//! Following the log to its next key (F14). While keys overlap, the key that is pinned here still signs:
//! it vouches that the change stands in the log, and the root keys, whose signatures are checked from the
//! founding on, that it may be made. Then the pin goes on to the new key. After the overlap only a person
//! who has compared the new key by another way can move the pin.

use crate::client::Client;
use crate::fault::Fault;
use crate::trust::fingerprint;
use selachron_schemas::note::{SignedCheckpoint, VerifierKey};
use selachron_schemas::replay::following::{Followed, Shown, follow};
use serde_json::Value;

/// Where the service shows the last change of its key.
const REKEYED: &str = "/v1/log/rekeyed";

/// Whether another key of this log has signed beside the one that is pinned.
pub(crate) fn overlaps(note: &SignedCheckpoint, pinned: &VerifierKey) -> bool {
    note.signatures.iter().any(|line| line.name == pinned.name() && line.hash != pinned.hash())
}

impl Client {
    /// Moves the pin to the log's next key, if the pinned one and the root keys vouch for it.
    ///
    /// # Errors
    /// Broken, when what the service shows does not hold; unreachable.
    pub(crate) fn follow(&self, pinned: &VerifierKey) -> Result<VerifierKey, Fault> {
        let answer = self.ask_json(REKEYED, &[])?;
        let followed = change_of_key(&answer, pinned)
            .map_err(|reason| Fault::Broken(format!("the service shows a change of its log key that does not hold: {reason}")))?;
        self.keep_for_both(pinned, &followed)?;
        self.pin_instead(pinned, &followed.key)?;
        Ok(followed.key)
    }

    /// What is kept as seen must bear a line of the new key too before that is pinned.
    fn keep_for_both(&self, pinned: &VerifierKey, followed: &Followed) -> Result<(), Fault> {
        loop {
            let seen = self.trust().seen(pinned)?;
            if let Some(seen) = &seen {
                self.check_consistent(seen, &followed.checkpoint, None)?;
                if seen.signed_by(&followed.key) {
                    return Ok(());
                }
                if seen.checkpoint.size > followed.checkpoint.checkpoint.size {
                    let said = "a newer checkpoint than that of the change is kept here without a line of the new key";
                    return Err(Fault::Broken(format!("{said}; ask the registrar which key is right")));
                }
            }
            if self.trust().advance(pinned, seen.as_ref(), &followed.checkpoint)? {
                return Ok(());
            }
        }
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
        // Whoever compares the key that is pinned already has changed nothing.
        if *new == pinned { Ok(()) } else { self.pin_instead(&pinned, new) }
    }
}

/// Where the service's answer leads whoever has pinned `pinned`.
fn change_of_key(answer: &Value, pinned: &VerifierKey) -> Result<Followed, String> {
    fn shown(item: &Value) -> Shown<'_> {
        let text = |name: &str| item.get(name).and_then(Value::as_str).unwrap_or_default();
        Shown { envelope: text("envelope"), receipt: text("receipt") }
    }
    let roots = answer.get("roots").and_then(Value::as_array);
    let notes: Vec<Shown<'_>> = roots.into_iter().flatten().map(shown).chain([shown(answer)]).collect();
    follow(pinned, &notes)
}
