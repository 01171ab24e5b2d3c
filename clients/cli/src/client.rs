//! The client: one service, one pinned log, and the promise that "recorded" is said only of
//! notes whose receipts were checked.

use crate::answer::{Line, Outcome, Recorded, Sent, read_hashes};
use crate::draft::Draft;
use crate::fault::{Fault, Refused};
use crate::follow::overlaps;
use crate::keyfile::Identity;
use crate::reading::{Current, ReadKey};
use crate::seal;
use crate::transport::Transport;
use crate::trust::{Trust, fingerprint, forked};
use ed25519_dalek::VerifyingKey;
use selachron_schemas::encoding::from_base64_32;
use selachron_schemas::event::Seen;
use selachron_schemas::limits::{BATCH_EVENTS_MAX, BODY_BYTES_MAX, CLIENT_ANSWER_BYTES_MAX, CLIENT_RETRIES_MAX, RETRY_AFTER_S};
use selachron_schemas::merkle::{Hash, consistent};
use selachron_schemas::names::KeyId;
use selachron_schemas::note::{SignedCheckpoint, VerifierKey};
use selachron_schemas::time::Instant;
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::{BufReader, Read as _};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

pub use crate::collection::Collection;

/// The clock of the device; the demo's can be moved.
pub type Clock = Arc<dyn Fn() -> Instant + Send + Sync>;
/// Where the client says what a person should know, such as the fingerprint at first contact.
pub type Talk = Arc<dyn Fn(&str) + Send + Sync>;

/// What a client needs to know.
#[derive(Clone)]
pub struct ClientSettings {
    /// Address of the service, such as `http://127.0.0.1:8470`.
    pub url: String,
    /// The log's verifier key, when it is known beforehand; else first contact pins it.
    pub log_vkey: Option<String>,
    /// Where pinned keys and checkpoints are kept.
    pub state_dir: PathBuf,
    /// PEM of the house's own certificate authority.
    pub ca_file: Option<PathBuf>,
    /// The key to read with; without one only what is open to all is read.
    pub reader: Option<ReadKey>,
    /// The device's clock.
    pub clock: Clock,
    /// Where the client talks to a person.
    pub talk: Talk,
}

impl ClientSettings {
    /// Settings with no key known beforehand, no own certificate authority, talking to stderr.
    #[must_use]
    pub fn new(url: &str, state_dir: impl Into<PathBuf>, clock: Clock) -> Self {
        let talk: Talk = Arc::new(|text| eprintln!("{text}"));
        Self { url: url.to_owned(), log_vkey: None, state_dir: state_dir.into(), ca_file: None, reader: None, clock, talk }
    }
}

/// A service and what this machine holds against it. It blocks; call it from a thread that may.
pub struct Client {
    settings: ClientSettings,
    transport: Transport,
    trust: Trust,
    log_key: Mutex<Option<VerifierKey>>,
    token: Current,
    authors: Mutex<BTreeMap<KeyId, VerifyingKey>>,
}

impl Client {
    /// A client; nothing is sent yet.
    ///
    /// # Errors
    /// The address or the log key cannot be read.
    pub fn new(settings: ClientSettings) -> Result<Self, Fault> {
        let transport = Transport::new(&settings.url, settings.ca_file.as_deref())?;
        let trust = Trust::in_folder(&settings.state_dir);
        let mut log_key = None;
        if let Some(text) = &settings.log_vkey {
            let key = VerifierKey::parse(text.trim()).map_err(|reason| Fault::Usage(format!("--log-key: {reason}")))?;
            log_key = Some(key);
        }
        let log_key = Mutex::new(log_key);
        Ok(Self { settings, transport, trust, log_key, token: Current::default(), authors: Mutex::default() })
    }

    /// The device's clock.
    #[must_use]
    pub fn now(&self) -> Instant {
        (self.settings.clock)()
    }

    /// The service's address as it was given.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.settings.url
    }

    /// What is pinned and kept about logs on this machine.
    #[must_use]
    pub fn trust(&self) -> &Trust {
        &self.trust
    }

    /// The log key in use: given, pinned before, or pinned now at first contact, which is said
    /// aloud with its fingerprint.
    ///
    /// # Errors
    /// Unreachable at first contact; broken, when the service shows another key than is pinned.
    pub fn log_key(&self) -> Result<VerifierKey, Fault> {
        if let Some(key) = self.known_log_key() {
            return Ok(key);
        }
        let key = match self.trust.pinned(&self.settings.url)? {
            Some(key) => key,
            None => self.meet()?,
        };
        self.use_log_key(key.clone());
        Ok(key)
    }

    fn known_log_key(&self) -> Option<VerifierKey> {
        self.log_key.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub(crate) fn use_log_key(&self, key: VerifierKey) {
        *self.log_key.lock().unwrap_or_else(PoisonError::into_inner) = Some(key);
    }

    pub(crate) fn talk(&self, says: &str) {
        (self.settings.talk)(says);
    }

    fn meet(&self) -> Result<VerifierKey, Fault> {
        let shown = self.transport.get_text("/v1/log/key", &[], "text/plain", None)?;
        let key = VerifierKey::parse(shown.trim()).map_err(|reason| Fault::Failed(format!("the service shows no log key: {reason}")))?;
        if self.trust.pin(&self.settings.url, &key)? {
            let print = fingerprint(&key);
            (self.settings.talk)(&format!(
                "first contact with {}: its log key is pinned now. Fingerprint {print}; compare it with what the registrar shows.",
                key.name()
            ));
        }
        Ok(key)
    }

    /// The log's origin.
    ///
    /// # Errors
    /// As [`Client::log_key`].
    pub fn origin(&self) -> Result<String, Fault> {
        Ok(self.log_key()?.name().to_owned())
    }

    /// The newest checkpoint that this machine has verified.
    ///
    /// # Errors
    /// A file cannot be read; broken, when it does not hold.
    pub fn seen(&self) -> Result<Option<Seen>, Fault> {
        let key = self.log_key()?;
        let seen = self.trust.seen(&key)?;
        Ok(seen.and_then(|note| {
            let signature = note.signature_of(&key)?;
            Some(Seen { size: note.checkpoint.size, root: note.checkpoint.root, signature })
        }))
    }

    /// Writes a draft: takes the author's count, keeps the body in the outbox. Nothing is signed.
    ///
    /// # Errors
    /// As [`Draft::write`] and [`Client::log_key`].
    pub fn write(&self, author: &Identity, draft: &Draft) -> Result<Vec<u8>, Fault> {
        let (origin, seen) = (self.origin()?, self.seen()?);
        draft.write(author, &origin, self.now(), seen.as_ref())
    }

    /// Writes, signs, sends and settles one note. `approvers` sign the same body.
    ///
    /// # Errors
    /// The refusal, or why it is not known to be recorded; then it waits in the outbox.
    pub fn record(&self, author: &Identity, draft: &Draft, approvers: &[&Identity]) -> Result<Recorded, Fault> {
        let body = self.write(author, draft)?;
        let outcomes = self.send(author, &[seal::sign(&body, &with(author, approvers))])?;
        outcomes.into_iter().next().ok_or_else(|| Fault::Failed("no answer".to_owned()))?.recorded()
    }

    /// Writes, signs, sends and settles several notes of one author, in their order.
    ///
    /// # Errors
    /// A draft that is malformed: those before it wait in the outbox and nothing is sent.
    pub fn record_all(&self, author: &Identity, drafts: &[Draft], approvers: &[&Identity]) -> Result<Vec<Outcome>, Fault> {
        let signers = with(author, approvers);
        let sealed = |draft| self.write(author, draft).map(|body| seal::sign(&body, &signers));
        let envelopes = drafts.iter().map(sealed).collect::<Result<Vec<_>, _>>()?;
        self.send(author, &envelopes)
    }

    /// Sends envelopes of one author, with the outbox told before and after.
    ///
    /// # Errors
    /// The outbox cannot be written. What happened to each envelope is in its outcome.
    pub fn send(&self, author: &Identity, envelopes: &[String]) -> Result<Vec<Outcome>, Fault> {
        self.know(author);
        for envelope in envelopes {
            let sent = Sent::read(envelope)?;
            author.outbox().keep_envelope(sent.body(), envelope)?;
            author.outbox().mark_sent(sent.body())?;
        }
        let outcomes = self.post(envelopes);
        author.settle(&outcomes)?;
        Ok(outcomes)
    }

    /// Remembers an author's public key, so that any valid signature of theirs in a leaf is
    /// accepted, not only the one that was sent.
    pub fn know(&self, author: &Identity) {
        if let Ok(key) = VerifyingKey::from_bytes(&author.public_key()) {
            self.authors.lock().unwrap_or_else(PoisonError::into_inner).insert(author.keyid(), key);
        }
    }

    /// Posts envelopes in their order, as many a request as fit, and checks every receipt. There
    /// is one outcome for each. After a broken proof or a lost connection nothing more is sent.
    pub fn post(&self, envelopes: &[String]) -> Vec<Outcome> {
        let mut outcomes = Vec::with_capacity(envelopes.len());
        let posted = batches(envelopes).try_for_each(|batch| self.post_batch(batch, &mut outcomes));
        if let Err(fault) = posted {
            let rest = envelopes.iter().skip(outcomes.len());
            let rest: Vec<Outcome> = rest.map(|envelope| unsettled(envelope, &fault)).collect();
            outcomes.extend(rest);
        }
        outcomes
    }

    /// Posts one batch; what was settled before a fault is in `outcomes`.
    fn post_batch(&self, envelopes: &[String], outcomes: &mut Vec<Outcome>) -> Result<(), Fault> {
        let log_key = self.log_key()?;
        let mut left = envelopes;
        for _ in 0..=CLIENT_RETRIES_MAX {
            let lines = self.ask(left)?;
            for (envelope, line) in left.iter().zip(&lines) {
                match self.settle_line(envelope, line, &log_key)? {
                    Some(outcome) => outcomes.push(outcome),
                    // Busy from here on: the order of the notes is kept, the rest is sent again.
                    None => break,
                }
                left = &left[1..];
            }
            if left.is_empty() {
                return Ok(());
            }
            std::thread::sleep(Duration::from_secs(RETRY_AFTER_S));
        }
        Err(Fault::Unreachable("the service is busy; the notes wait here and can be sent again".to_owned()))
    }

    fn ask(&self, envelopes: &[String]) -> Result<Vec<Value>, Fault> {
        let mut body = envelopes.join("\n");
        body.push('\n');
        let text = self.transport.post("/v1/events", "application/x-ndjson", &body)?;
        let lines: Result<Vec<Value>, _> = text.lines().filter(|line| !line.trim().is_empty()).map(serde_json::from_str).collect();
        let lines = lines.map_err(|error| Fault::Failed(format!("the service's answer is not JSON lines: {error}")))?;
        if lines.len() != envelopes.len() {
            return Err(Fault::Failed(format!("{} notes were sent and {} answers came back", envelopes.len(), lines.len())));
        }
        Ok(lines)
    }

    /// The outcome that an answer line stands for; `None` when the service was too busy for it.
    pub(crate) fn settle_line(&self, envelope: &str, line: &Value, log_key: &VerifierKey) -> Result<Option<Outcome>, Fault> {
        let Ok(sent) = Sent::read(envelope) else {
            // We could not read it ourselves; whatever the service says, it is not recorded.
            let refused = Refused::read(line.get("problem").unwrap_or(&Value::Null));
            return Ok(Some(Outcome::Refused { keyid: None, keycount: 0, refused }));
        };
        Ok(match Line::read(line, &sent.event.id)? {
            Line::Busy(_) => None,
            Line::Refused(refused) => Some(Outcome::Refused { keyid: Some(sent.event.keyid), keycount: sent.event.keycount, refused }),
            Line::Recorded(answer) => {
                sent.check(&answer, log_key, self.author(&sent.event.keyid).as_ref())?;
                let given = sent.event.seen.as_ref().zip(answer.consistency.clone());
                self.accept(&answer.receipt.checkpoint, log_key, given)?;
                Some(Outcome::Recorded(Box::new(sent.recorded(*answer))))
            }
        })
    }

    fn author(&self, id: &KeyId) -> Option<VerifyingKey> {
        self.authors.lock().unwrap_or_else(PoisonError::into_inner).get(id).copied()
    }

    /// Takes a checkpoint that verified under the pinned key as the newest seen, once it is
    /// proved consistent with the one before. `given` is a proof that came along, from the
    /// checkpoint that the note itself named.
    ///
    /// # Errors
    /// Broken, when the log has forked or its proof does not hold.
    pub fn accept(&self, new: &SignedCheckpoint, log_key: &VerifierKey, given: Option<(&Seen, Vec<Hash>)>) -> Result<(), Fault> {
        if new.checkpoint.origin != log_key.name() || !new.signed_by(log_key) {
            return Err(Fault::Broken("a checkpoint is not signed by the log key that is pinned here".to_owned()));
        }
        loop {
            let seen = self.trust.seen(log_key)?;
            if let Some(seen) = &seen {
                self.check_consistent(seen, new, given.as_ref())?;
                if seen.checkpoint.size >= new.checkpoint.size {
                    return Ok(());
                }
            }
            if self.trust.advance(log_key, seen.as_ref(), new)? {
                break;
            }
        }
        // Whoever cannot follow now, for want of a token say, follows at the next checkpoint.
        if overlaps(new, log_key)
            && let Err(fault) = self.follow(log_key)
        {
            self.talk(&format!("the log is changing its key, and this machine could not follow yet: {fault}"));
        }
        Ok(())
    }

    pub(crate) fn check_consistent(
        &self,
        seen: &SignedCheckpoint,
        new: &SignedCheckpoint,
        given: Option<&(&Seen, Vec<Hash>)>,
    ) -> Result<(), Fault> {
        let (seen, new) = (&seen.checkpoint, &new.checkpoint);
        if seen.size == new.size {
            return if seen.root == new.root { Ok(()) } else { Err(forked(seen.size, &seen.root, &new.root)) };
        }
        let (older, newer) = if seen.size < new.size { (seen, new) } else { (new, seen) };
        let fits = |at: &Seen| at.size == older.size && at.root == older.root;
        let proof = match given.filter(|(at, _)| seen.size < new.size && fits(at)) {
            Some((_, proof)) => proof.clone(),
            None => self.consistency(older.size, newer.size)?,
        };
        if consistent(older.size, &older.root, newer.size, &newer.root, &proof) {
            return Ok(());
        }
        let detail = "the log's newer checkpoint is not proved to hold all notes of the older one";
        Err(Fault::Broken(format!("{detail} (sizes {} and {}); keep this message and call the registrar", older.size, newer.size)))
    }

    fn consistency(&self, first: u64, second: u64) -> Result<Vec<Hash>, Fault> {
        let (first, second) = (first.to_string(), second.to_string());
        let answer = self.ask_json("/v1/log/proof/consistency", &[("first", &first), ("second", &second)])?;
        let hashes = answer.get("hashes").and_then(read_hashes);
        hashes.ok_or_else(|| Fault::Failed("the service's consistency proof is no list of hashes".to_owned()))
    }

    /// Fetches the newest checkpoint and takes it as seen once it is proved consistent.
    ///
    /// # Errors
    /// Unreachable; broken.
    pub fn look(&self) -> Result<SignedCheckpoint, Fault> {
        let log_key = self.log_key()?;
        let text = self.get_text("/v1/log/checkpoint", &[], "text/plain")?;
        let note =
            SignedCheckpoint::parse(&text).map_err(|reason| Fault::Broken(format!("the service's checkpoint cannot be read: {reason}")))?;
        self.accept(&note, &log_key, None)?;
        Ok(note)
    }

    /// Reads JSON. An answer that shows another root for a size that this machine has verified,
    /// or a newest size below it, is broken.
    ///
    /// # Errors
    /// Unreachable, no such thing, a query the service does not accept, broken.
    pub fn get(&self, path: &str, query: &[(&str, &str)]) -> Result<Value, Fault> {
        // What was seen is read before the question is asked: another process may go ahead of
        // the answer meanwhile.
        let seen = self.seen_without_asking()?;
        let answer = self.ask_json(path, query)?;
        check_head(&answer, query, seen.as_ref())?;
        Ok(answer)
    }

    /// The same, of an answer on which the service may work as long as on a piece of a stream.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn get_patiently(&self, path: &str, query: &[(&str, &str)]) -> Result<Value, Fault> {
        let seen = self.seen_without_asking()?;
        let answer = self.get_stream_of(path, query, "application/json")?.take(CLIENT_ANSWER_BYTES_MAX);
        let broken = |error| Fault::Failed(format!("the answer to GET {path} broke off, or is not JSON: {error}"));
        let answer = serde_json::from_reader(BufReader::new(answer)).map_err(broken)?;
        check_head(&answer, query, seen.as_ref())?;
        Ok(answer)
    }

    /// The newest checkpoint of a log that was met before; `None` before first contact.
    fn seen_without_asking(&self) -> Result<Option<SignedCheckpoint>, Fault> {
        let pinned = match self.known_log_key() {
            Some(key) => Some(key),
            None => self.trust.pinned(&self.settings.url)?,
        };
        pinned.map_or(Ok(None), |key| self.trust.seen(&key))
    }

    /// Reads text of a media type, such as a report's HTML.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn get_text(&self, path: &str, query: &[(&str, &str)], accept: &str) -> Result<String, Fault> {
        self.reading(|token| self.transport.get_text(path, query, accept, token))
    }

    pub(crate) fn ask_json(&self, path: &str, query: &[(&str, &str)]) -> Result<Value, Fault> {
        let text = self.get_text(path, query, "application/json")?;
        serde_json::from_str(&text).map_err(|error| Fault::Failed(format!("the answer to GET {path} is not JSON: {error}")))
    }

    /// Asks with a token. One that counts as used from elsewhere, because this machine has another
    /// address now, is thrown away and a new one made, once.
    pub(crate) fn reading<T>(&self, ask: impl Fn(Option<&str>) -> Result<T, Fault>) -> Result<T, Fault> {
        match ask(self.token()?.as_deref()) {
            Err(Fault::Refused(refused)) if refused.name == "token-replayed" => {
                self.token.forget();
                ask(self.token()?.as_deref())
            }
            answered => answered,
        }
    }

    /// The token to show: one of the key to read with, for the log that is pinned here.
    ///
    /// # Errors
    /// As [`Client::log_key`], if there is a key to read with.
    pub fn token(&self) -> Result<Option<String>, Fault> {
        let Some(reader) = &self.settings.reader else { return Ok(None) };
        Ok(Some(self.token.token(reader, &self.origin()?, self.now())?))
    }

    /// The wire itself, for what has no method here.
    #[must_use]
    pub fn transport(&self) -> &Transport {
        &self.transport
    }
}

fn check_head(answer: &Value, query: &[(&str, &str)], seen: Option<&SignedCheckpoint>) -> Result<(), Fault> {
    let size = answer.get("known_at").and_then(Value::as_u64);
    let root = answer.get("root").and_then(Value::as_str).and_then(from_base64_32);
    let (Some(size), Some(root), Some(seen)) = (size, root, seen.map(|seen| &seen.checkpoint)) else { return Ok(()) };
    if size == seen.size && root != seen.root {
        return Err(forked(size, &seen.root, &root));
    }
    // A question that names a size, or goes on from a page that did, is answered from that size.
    let asks_for_the_newest = !query.iter().any(|(name, _)| ["known_at", "cursor"].contains(name));
    if size < seen.size && asks_for_the_newest {
        let detail = format!("this machine has verified {} notes, the service now answers from {size}", seen.size);
        return Err(Fault::Broken(format!("the log has lost notes: {detail}; call the registrar")));
    }
    Ok(())
}

fn with<'a>(author: &'a Identity, approvers: &[&'a Identity]) -> Vec<&'a Identity> {
    let mut signers = vec![author];
    signers.extend(approvers);
    signers
}

fn unsettled(envelope: &str, fault: &Fault) -> Outcome {
    Outcome::Unsettled { id: Sent::read(envelope).ok().map(|sent| sent.event.id), fault: fault.clone() }
}

/// Envelopes cut into requests that the service accepts.
fn batches(envelopes: &[String]) -> impl Iterator<Item = &[String]> {
    let mut rest = envelopes;
    std::iter::from_fn(move || {
        let mut bytes = 0;
        let fits = |envelope: &&String| {
            bytes += envelope.len() + 1;
            bytes <= BODY_BYTES_MAX
        };
        // An envelope too large for any request still goes out, alone: the service says why not.
        let count = rest.iter().take(BATCH_EVENTS_MAX).take_while(fits).count().max(1);
        let (batch, after) = rest.split_at_checked(count).filter(|_| !rest.is_empty())?;
        rest = after;
        Some(batch)
    })
}
