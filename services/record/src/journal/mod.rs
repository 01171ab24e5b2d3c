//! The journal: one thread owns store, tree and log key, and takes notes from a bounded queue.
//! Signatures are verified by whoever submits, in parallel, before the queue.
//!
//! * [`outside`]: what is kept outside the store;
//! * [`published`]: what everybody else may see;
//! * `recovery`: opening a log;
//! * [`writer`]: life of a note, step by step;
//! * [`scrub`]: hashing the log again, slowly.

pub mod outside;

pub mod published;

mod recovery;

pub mod writer;

pub mod scrub;

use crate::failure::{Broken, Busy, Failure, io};
use crate::store::EventStore;
use published::{Condition, Published, Shared};
use selachron_schemas::limits::{COMMIT_EVENTS_MAX, JOURNAL_QUEUE_MAX};
use selachron_schemas::receipt::Leaf;
use selachron_schemas::refusal::{Problem, Refusal};
use selachron_schemas::replay::Replay;
use selachron_schemas::replay::gate::{Gate, Stopped};
use selachron_schemas::signing::Verified;
use std::sync::{Arc, Mutex, PoisonError, RwLockReadGuard};
use std::thread::JoinHandle;
use tokio::sync::{mpsc, oneshot, watch};
use writer::{Parts, Writer};

/// Reads and checks a whole log, what is staged included, without writing anything.
///
/// # Errors
/// `Broken`, naming the seq where it can.
pub fn read_whole(store: &dyn EventStore) -> Result<Replay, Failure> {
    Ok(recovery::read(store)?.replay)
}

/// A note that is handed to the journal.
#[derive(Debug, Clone)]
pub enum Submitted {
    /// Opened ahead of the queue.
    Opened(Box<Verified>),
    /// Stopped ahead of the queue; if only for want of a key, it is opened again with the keys
    /// then known, for the key may be enrolled earlier in the same request.
    Stopped {
        /// The envelope as it came.
        bytes: Vec<u8>,
        /// Why it was stopped.
        stopped: Stopped,
        /// How many keys were known.
        keys_known: usize,
    },
}

impl Submitted {
    /// Opens an envelope with what is known at this moment. Costly; needs no order.
    #[must_use]
    pub fn open(gate: &Gate, bytes: &[u8]) -> Self {
        match gate.open(bytes) {
            Ok(note) => Self::Opened(Box::new(note)),
            Err(stopped) => Self::Stopped { bytes: bytes.to_vec(), stopped, keys_known: gate.ring.len() },
        }
    }

    /// The note's id, where its body could be read.
    #[must_use]
    pub fn id(&self) -> Option<&str> {
        match self {
            Self::Opened(note) => Some(&note.event().id),
            Self::Stopped { stopped, .. } => stopped.id.as_deref(),
        }
    }

    /// The refusal, if no key that may yet be enrolled could mend it.
    #[must_use]
    pub fn final_refusal(&self) -> Option<&Refusal> {
        match self {
            Self::Stopped { stopped, .. } if !may_be_mended(stopped.refusal.problem) => Some(&stopped.refusal),
            _ => None,
        }
    }

    fn opened_with(self, replay: &Replay) -> Result<Box<Verified>, Stopped> {
        match self {
            Self::Opened(note) => Ok(note),
            Self::Stopped { bytes, stopped, keys_known } => {
                if may_be_mended(stopped.refusal.problem) && replay.ring().len() != keys_known {
                    replay.gate().open(&bytes).map(Box::new)
                } else {
                    Err(stopped)
                }
            }
        }
    }
}

/// Before the founding no source is right either, so `wrong-log` too may be mended.
fn may_be_mended(problem: Problem) -> bool {
    matches!(problem, Problem::SignerUnknown | Problem::SignatureInvalid | Problem::WrongLog)
}

/// What the journal says of one note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// It stands in the published log.
    Recorded {
        /// The note's id.
        id: String,
        /// Its leaf.
        leaf: Leaf,
        /// Whether it was recorded now, rather than before.
        new: bool,
        /// The size its device had seen, if it says so.
        seen_size: Option<u64>,
    },
    /// It breaks a rule.
    Refused {
        /// The note's id, where its body could be read.
        id: Option<String>,
        /// Why.
        refusal: Refusal,
    },
    /// It may be sent again, now or when somebody has looked after the service.
    NotNow {
        /// The note's id, where its body could be read.
        id: Option<String>,
        /// Why.
        failure: Failure,
    },
}

struct Request {
    notes: Vec<Submitted>,
    reply: oneshot::Sender<Vec<Answer>>,
}

enum Message {
    Record(Request),
    Stop,
}

/// A running journal. Dropping it stops the thread after the group under way.
pub struct Journal {
    handle: JournalHandle,
    thread: Mutex<Option<JoinHandle<()>>>,
}

/// What the rest of the service holds of the journal; cheap to clone.
#[derive(Clone)]
pub struct JournalHandle {
    queue: mpsc::Sender<Message>,
    shared: Arc<Shared>,
    store: Arc<dyn EventStore>,
}

impl Journal {
    /// Opens the log: reads and checks all of it, publishes what was staged, starts the thread.
    ///
    /// # Errors
    /// `Broken` if the log does not check, naming the seq where it can.
    pub fn open(parts: Parts) -> Result<Self, Failure> {
        let shared = Arc::new(Shared::new());
        let store = parts.store.clone();
        let writer = Writer::open(parts, shared.clone())?;
        let (queue, receiver) = mpsc::channel(JOURNAL_QUEUE_MAX);
        let thread = std::thread::Builder::new().name("journal".to_owned()).spawn(move || run(writer, receiver));
        let thread = thread.map_err(|error| io("starting the journal", &error))?;
        Ok(Self { handle: JournalHandle { queue, shared, store }, thread: Mutex::new(Some(thread)) })
    }

    /// The handle for everybody else.
    #[must_use]
    pub fn handle(&self) -> JournalHandle {
        self.handle.clone()
    }

    /// Finishes the group under way and stops; notes still waiting are told so. Not to be called
    /// from an asynchronous task: it waits.
    pub fn stop(&self) {
        let Some(thread) = self.thread.lock().unwrap_or_else(PoisonError::into_inner).take() else { return };
        // A full queue is drained by the thread itself, so this only ever waits for that.
        let queue = self.handle.queue.clone();
        let sender = std::thread::spawn(move || queue.blocking_send(Message::Stop));
        let _ = sender.join();
        let _ = thread.join();
    }
}

impl Drop for Journal {
    fn drop(&mut self) {
        self.stop();
    }
}

/// Takes what waits, up to a commit's limit, without ever waiting for more.
fn run(mut writer: Writer, mut queue: mpsc::Receiver<Message>) {
    let mut held: Option<Request> = None;
    loop {
        let first = match held.take() {
            Some(request) => request,
            None => match queue.blocking_recv() {
                Some(Message::Record(request)) => request,
                Some(Message::Stop) | None => return,
            },
        };
        let mut count = first.notes.len();
        let mut requests = vec![first];
        let mut stop = false;
        while !stop && held.is_none() {
            match queue.try_recv() {
                Ok(Message::Record(request)) if count + request.notes.len() <= COMMIT_EVENTS_MAX => {
                    count += request.notes.len();
                    requests.push(request);
                }
                Ok(Message::Record(request)) => held = Some(request),
                Ok(Message::Stop) => stop = true,
                Err(_) => break,
            }
        }
        serve(&mut writer, requests);
        if stop {
            return;
        }
    }
}

fn serve(writer: &mut Writer, requests: Vec<Request>) {
    let mut notes = Vec::new();
    let mut replies = Vec::with_capacity(requests.len());
    for request in requests {
        replies.push((request.notes.len(), request.reply));
        notes.extend(request.notes);
    }
    let mut answers = writer.commit(notes).into_iter();
    for (count, reply) in replies {
        // Who has gone away meanwhile asks again and gets the same leaf.
        let _ = reply.send(answers.by_ref().take(count).collect());
    }
}

impl JournalHandle {
    /// The published size, whenever it changes.
    #[must_use]
    pub fn grown(&self) -> watch::Receiver<u64> {
        self.shared.grown()
    }

    /// Hands notes to the journal and waits for its answers, one a note, in order.
    ///
    /// # Errors
    /// `Busy` if the queue is full or the service is stopping, `Sealed`, or `Broken`.
    pub async fn record(&self, notes: Vec<Submitted>) -> Result<Vec<Answer>, Failure> {
        let answers = self.submit(notes)?;
        answers.await.map_err(|_| self.gone())
    }

    /// The same, for a thread of its own.
    ///
    /// # Errors
    /// See [`Self::record`].
    pub fn record_blocking(&self, notes: Vec<Submitted>) -> Result<Vec<Answer>, Failure> {
        let answers = self.submit(notes)?;
        answers.blocking_recv().map_err(|_| self.gone())
    }

    fn submit(&self, notes: Vec<Submitted>) -> Result<oneshot::Receiver<Vec<Answer>>, Failure> {
        self.condition().check()?;
        let (reply, answers) = oneshot::channel();
        self.queue.try_send(Message::Record(Request { notes, reply })).map_err(|error| match error {
            mpsc::error::TrySendError::Full(_) => Failure::from(Busy::QueueFull),
            mpsc::error::TrySendError::Closed(_) => self.gone(),
        })?;
        Ok(answers)
    }

    fn gone(&self) -> Failure {
        match self.condition().check() {
            Err(failure) => failure,
            Ok(()) => Busy::Stopping.into(),
        }
    }

    /// What is needed to open envelopes, as of the newest checkpoint.
    #[must_use]
    pub fn gate(&self) -> Arc<Gate> {
        self.shared.gate()
    }

    /// The published log. Hold it briefly: the journal waits for it to publish.
    pub fn published(&self) -> RwLockReadGuard<'_, Published> {
        self.shared.published()
    }

    /// Whether the journal writes.
    #[must_use]
    pub fn condition(&self) -> Condition {
        self.shared.condition()
    }

    /// The store, for reading.
    #[must_use]
    pub fn store(&self) -> &Arc<dyn EventStore> {
        &self.store
    }

    /// Stops writing: somebody found the record broken.
    pub(crate) fn stop_writing(&self, broken: Broken) {
        tracing::error!(%broken, "the record is broken; nothing more is written");
        self.shared.set_condition(Condition::Stopped(broken));
    }
}
