//! What every handler can reach.

use super::asked::Reading;
use crate::clock::Clock;
use crate::domain::view::View;
use crate::evidence::Evidence;
use crate::failure::{Broken, Failure};
use crate::journal::JournalHandle;
use crate::projections::Projections;
use std::path::PathBuf;
use std::sync::Arc;
use tokio::sync::Mutex;

/// Shared by all handlers; cheap to clone.
#[derive(Clone)]
pub struct App {
    /// The log.
    pub journal: JournalHandle,
    /// The clock.
    pub clock: Arc<dyn Clock>,
    /// What the notes say of the nursery.
    pub projections: Arc<Projections>,
    /// Held by whoever lets the projections learn; the others wait for that instead of reading
    /// the same notes.
    learning: Arc<Mutex<()>>,
    /// Files that notes name.
    pub evidence: Evidence,
    /// A folder in which exports are put together.
    pub scratch: PathBuf,
    /// The description of this API, as JSON.
    pub openapi: Arc<str>,
}

impl App {
    /// An app over the log in `data_dir`, whose projections have yet to learn it; the first to
    /// ask lets them.
    #[must_use]
    pub fn new(journal: JournalHandle, clock: Arc<dyn Clock>, data_dir: PathBuf) -> Self {
        let (evidence, scratch) = (Evidence::of(&data_dir), data_dir);
        Self { journal, clock, projections: Arc::default(), learning: Arc::default(), evidence, scratch, openapi: Arc::from("{}") }
    }

    /// Lets the projections learn all that is published.
    ///
    /// # Errors
    /// The store cannot be read, or does not hold what was published.
    pub async fn catch_up(&self) -> Result<(), Failure> {
        let size = self.journal.published().size();
        if self.projections.size() >= size {
            return Ok(());
        }
        let _turn = self.learning.lock().await;
        if self.projections.size() >= size {
            return Ok(());
        }
        self.blocking(move |app| app.projections.catch_up(&**app.journal.store(), size)).await
    }

    /// Asks the projections, once they know all that is published: no read answers from an older
    /// size than a receipt that this process has sent.
    ///
    /// # Errors
    /// Of the catching up, or what `question` returns.
    pub async fn view<T, F>(&self, at: &Reading, question: F) -> Result<T, Failure>
    where
        T: Send + 'static,
        F: FnOnce(&View<'_>) -> Result<T, Failure> + Send + 'static,
    {
        let (as_of, known_at) = (at.as_of, at.known_at);
        self.catch_up().await?;
        self.blocking(move |app| app.projections.at(as_of, known_at, question)).await
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
