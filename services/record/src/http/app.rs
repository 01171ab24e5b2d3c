//! What every handler can reach.

use crate::clock::Clock;
use crate::failure::{Broken, Failure};
use crate::journal::JournalHandle;
use serde_json::Value;
use std::path::PathBuf;
use std::sync::Arc;

/// What the projections say; the server asks, and does not know how they find it.
pub trait Findings: Send + Sync {
    /// Stable ids of the discrepancies in which each of these published notes takes part.
    ///
    /// # Errors
    /// The projections cannot be brought up to date.
    fn of_events(&self, seqs: &[u64]) -> Result<Vec<Vec<String>>, Failure>;

    /// The house rules in force when `known_at` notes are known.
    ///
    /// # Errors
    /// The projections cannot be brought up to date.
    fn policy(&self, known_at: u64) -> Result<Value, Failure>;
}

/// Shared by all handlers; cheap to clone.
#[derive(Clone)]
pub struct App {
    /// The log.
    pub journal: JournalHandle,
    /// The clock.
    pub clock: Arc<dyn Clock>,
    /// The projections, if there are any.
    pub findings: Option<Arc<dyn Findings>>,
    /// A folder in which exports are put together.
    pub scratch: PathBuf,
    /// The description of this API, as JSON.
    pub openapi: Arc<str>,
}

impl App {
    /// An app without projections.
    #[must_use]
    pub fn new(journal: JournalHandle, clock: Arc<dyn Clock>, scratch: PathBuf) -> Self {
        Self { journal, clock, findings: None, scratch, openapi: Arc::from("{}") }
    }

    /// Runs what reads the store or folds the log away from the threads that serve requests.
    ///
    /// # Errors
    /// What `work` returns; `Broken` if it panics.
    pub async fn blocking<T, F>(&self, work: F) -> Result<T, Failure>
    where
        T: Send + 'static,
        F: FnOnce(&Self) -> Result<T, Failure> + Send + 'static,
    {
        let app = self.clone();
        let outcome = tokio::task::spawn_blocking(move || work(&app)).await;
        outcome.unwrap_or_else(|error| {
            tracing::error!(%error, "a read panicked");
            Err(Broken::new("a read went wrong").into())
        })
    }
}
