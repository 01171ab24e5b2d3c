//! Hashes the published log again, slowly and for ever: a disk that forgets is noticed before an
//! auditor does.

use super::JournalHandle;
use crate::failure::{Broken, Failure, io};
use selachron_schemas::limits::{SCRUB_EVENTS, SCRUB_REST_MS};
use selachron_schemas::merkle::sha256;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// A running scrub; dropping it stops it.
pub struct Scrub {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Scrub {
    /// Starts it.
    ///
    /// # Errors
    /// No thread could be started.
    pub fn start(journal: JournalHandle) -> Result<Self, Failure> {
        let (stop, stopped) = channel::<()>();
        let rest = Duration::from_millis(SCRUB_REST_MS);
        let work = move || {
            let mut from = 0;
            while stopped.recv_timeout(rest) == Err(RecvTimeoutError::Timeout) {
                match pass(&journal, from) {
                    Ok(next) => from = next,
                    Err(Failure::Broken(broken)) => return journal.stop_writing(broken),
                    Err(failure) => tracing::warn!(%failure, "the scrub could not read"),
                }
            }
        };
        let thread = std::thread::Builder::new().name("scrub".to_owned()).spawn(work).map_err(|e| io("starting the scrub", &e))?;
        Ok(Self { stop: Some(stop), thread: Some(thread) })
    }
}

impl Drop for Scrub {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Hashes some notes from `from` on; the seq to go on with, 0 at the end of the log.
///
/// # Errors
/// `Broken` at the first note that is not what was published.
pub fn pass(journal: &JournalHandle, from: u64) -> Result<u64, Failure> {
    let rows = journal.store().read_all(from, SCRUB_EVENTS)?;
    let mut next = from;
    for row in &rows {
        let published = journal.published().leaf_hash(next);
        let body_fits = row.body.as_ref().is_none_or(|body| sha256(body) == row.leaf.body_sha256);
        // A body that is gone without a note that withholds it is found when the log is opened.
        if row.leaf.seq != next || !body_fits || published != Some(row.leaf.hash()) {
            return Err(Broken::at(next, "the note in the store is no longer the note that was published").into());
        }
        next += 1;
    }
    Ok(if rows.len() < SCRUB_EVENTS { 0 } else { next })
}
