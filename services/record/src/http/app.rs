//! What every handler can reach.

use super::asked::Reading;
use crate::clock::Clock;
use crate::directory::Directory;
use crate::domain::view::View;
use crate::failure::{Broken, Failure};
use crate::journal::JournalHandle;
use crate::projections::Projections;
use crate::waiting::Waiting;
use std::path::PathBuf;
use std::sync::Arc;

/// Shared by all handlers; cheap to clone.
#[derive(Clone)]
pub struct App {
    /// The log.
    pub journal: JournalHandle,
    /// The clock.
    pub clock: Arc<dyn Clock>,
    /// What the notes say of the nursery.
    pub projections: Arc<Projections>,
    /// The institution's own list of names.
    pub directory: Directory,
    /// Half-signed bodies that wait for further signatures.
    pub waiting: Arc<Waiting>,
    /// A folder in which exports are put together.
    pub scratch: PathBuf,
    /// The description of this API, as JSON.
    pub openapi: Arc<str>,
}

impl App {
    /// An app whose projections have yet to learn the log; the first to ask lets them.
    #[must_use]
    pub fn new(journal: JournalHandle, clock: Arc<dyn Clock>, scratch: PathBuf) -> Self {
        let (directory, waiting) = (Directory::in_folder(&scratch), Arc::new(Waiting::in_folder(&scratch)));
        Self { journal, clock, projections: Arc::default(), directory, waiting, scratch, openapi: Arc::from("{}") }
    }

    /// Lets the projections learn all that is published.
    ///
    /// # Errors
    /// The store cannot be read, or does not hold what was published.
    pub fn catch_up(&self) -> Result<(), Failure> {
        let size = self.journal.published().size();
        self.projections.catch_up(&**self.journal.store(), size)
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
        self.blocking(move |app| {
            app.catch_up()?;
            app.projections.at(as_of, known_at, question)
        })
        .await
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
