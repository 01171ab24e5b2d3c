//! Where events are kept. A store knows order and bytes and no rules of a nursery; every store
//! keeps the same promises, and one suite asks each of them (`tests/promises.rs`).
//!
//! * What is staged is whole or not there at all.
//! * Nothing staged is seen by [`EventStore::read_all`] and its like before it is published.
//! * Nothing published ever changes or goes, but a body that a `body.withheld` names (F23).

pub mod memory;

pub mod sqlite;

use crate::failure::Failure;
use selachron_schemas::merkle::Hash;
use selachron_schemas::receipt::Leaf;
use std::path::Path;

/// An event that is about to be stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StagedEvent {
    /// Its leaf, with seq, version, hash and signatures.
    pub leaf: Leaf,
    /// The event's id.
    pub id: String,
    /// Kind and version.
    pub kind: String,
    /// What it is about.
    pub subject: String,
    /// The body's exact bytes.
    pub body: Vec<u8>,
    /// Of a `body.withheld`: the seq whose body goes in this very transaction.
    pub withholds: Option<u64>,
}

/// An event as it is stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredEvent {
    /// Its leaf.
    pub leaf: Leaf,
    /// The body; `None` if it was withheld.
    pub body: Option<Vec<u8>>,
}

/// What was published: so many leaves, their root, and the note that vouches for them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Number of leaves.
    pub size: u64,
    /// Root over them.
    pub root: Hash,
    /// The signed checkpoint.
    pub note: String,
}

/// A body that was withheld.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Withholding {
    /// Seq of the event whose body went.
    pub target: u64,
    /// Seq of the `body.withheld` that names it.
    pub by: u64,
}

/// A store of events.
pub trait EventStore: Send + Sync {
    /// Stores a group in one transaction that has reached the disk when this returns: events,
    /// bodies, leaves, and `root`, the root over all leaves including these.
    ///
    /// # Errors
    /// `Busy` if nothing was stored and it may be tried again, `Broken` otherwise. After an
    /// error it is not known whether the group is there: ask [`Self::staged`].
    fn stage(&self, events: &[StagedEvent], root: &Hash) -> Result<(), Failure>;

    /// Swaps the newest checkpoint, if it is still the one of size `before` (0: none yet).
    ///
    /// # Errors
    /// `Broken` if another checkpoint stands there, or if `head` is not what was staged.
    fn publish(&self, before: u64, head: &Head) -> Result<(), Failure>;

    /// The newest published checkpoint.
    ///
    /// # Errors
    /// The store cannot be read.
    fn head(&self) -> Result<Option<Head>, Failure>;

    /// Size and root of what is staged, published or not.
    ///
    /// # Errors
    /// The store cannot be read.
    fn staged(&self) -> Result<Option<(u64, Hash)>, Failure>;

    /// Published events from seq `from` on, at most `limit`.
    ///
    /// # Errors
    /// The store cannot be read.
    fn read_all(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure>;

    /// Events from seq `from` on, staged ones too: for the journal's own check only. They are
    /// read anew, over another connection than the one that wrote them.
    ///
    /// # Errors
    /// The store cannot be read.
    fn read_staged(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure>;

    /// Published events with exactly this subject, from version `from_version` (1 is the first)
    /// on, at most `limit`.
    ///
    /// # Errors
    /// The store cannot be read.
    fn read_subject(&self, subject: &str, from_version: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure>;

    /// The seq of the published event with this id.
    ///
    /// # Errors
    /// The store cannot be read.
    fn seq_of(&self, id: &str) -> Result<Option<u64>, Failure>;

    /// Bodies withheld, by events staged or published, in the order of these.
    ///
    /// # Errors
    /// The store cannot be read.
    fn withholdings(&self) -> Result<Vec<Withholding>, Failure>;

    /// Published checkpoints smaller than `below`, largest first, at most `limit`.
    ///
    /// # Errors
    /// The store cannot be read.
    fn checkpoints(&self, below: u64, limit: usize) -> Result<Vec<Head>, Failure>;

    /// Copies the store as it stands to a new file, while it goes on being written.
    ///
    /// # Errors
    /// The file is there already, or cannot be written.
    fn copy_to(&self, file: &Path) -> Result<(), Failure>;
}

impl<S: EventStore + ?Sized> EventStore for std::sync::Arc<S> {
    fn stage(&self, events: &[StagedEvent], root: &Hash) -> Result<(), Failure> {
        (**self).stage(events, root)
    }
    fn publish(&self, before: u64, head: &Head) -> Result<(), Failure> {
        (**self).publish(before, head)
    }
    fn head(&self) -> Result<Option<Head>, Failure> {
        (**self).head()
    }
    fn staged(&self) -> Result<Option<(u64, Hash)>, Failure> {
        (**self).staged()
    }
    fn read_all(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        (**self).read_all(from, limit)
    }
    fn read_staged(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        (**self).read_staged(from, limit)
    }
    fn read_subject(&self, subject: &str, from_version: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        (**self).read_subject(subject, from_version, limit)
    }
    fn seq_of(&self, id: &str) -> Result<Option<u64>, Failure> {
        (**self).seq_of(id)
    }
    fn withholdings(&self) -> Result<Vec<Withholding>, Failure> {
        (**self).withholdings()
    }
    fn checkpoints(&self, below: u64, limit: usize) -> Result<Vec<Head>, Failure> {
        (**self).checkpoints(below, limit)
    }
    fn copy_to(&self, file: &Path) -> Result<(), Failure> {
        (**self).copy_to(file)
    }
}
