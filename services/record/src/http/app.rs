//! What every handler can reach.

use super::access::Entrance;
use super::asked::Reading;
use super::live::Closing;
use crate::clock::Clock;
use crate::directory::Directory;
use crate::domain::view::View;
use crate::evidence::Evidence;
use crate::failure::{Broken, Failure};
use crate::journal::JournalHandle;
use crate::projections::Projections;
use crate::refusals::Refusals;
use crate::typesetter::Typesetter;
use crate::waiting::Waiting;
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
    /// The institution's own list of names.
    pub directory: Directory,
    /// Half-signed bodies that wait for further signatures.
    pub waiting: Arc<Waiting>,
    /// Held by whoever lets the projections learn; the others wait for that instead of reading
    /// the same notes.
    learning: Arc<Mutex<()>>,
    /// Files that notes name.
    pub evidence: Evidence,
    /// A folder in which exports are put together.
    pub scratch: PathBuf,
    /// What decides who may read.
    pub entrance: Arc<Entrance>,
    /// What was refused.
    pub refusals: Arc<Refusals>,
    /// What sets reports as PDF.
    pub typesetter: Arc<Typesetter>,
    /// Ends live streams when the service stops.
    pub closing: Closing,
    /// The description of this API, as JSON.
    pub openapi: Arc<str>,
}

impl App {
    /// An app over the log in `data_dir`, whose projections have yet to learn it; the first to
    /// ask lets them.
    #[must_use]
    pub fn new(journal: JournalHandle, clock: Arc<dyn Clock>, data_dir: PathBuf, entrance: Entrance, refusals: Refusals) -> Self {
        let (entrance, refusals) = (Arc::new(entrance), Arc::new(refusals));
        let (evidence, directory) = (Evidence::of(&data_dir), Directory::in_folder(&data_dir));
        let (waiting, scratch) = (Arc::new(Waiting::in_folder(&data_dir)), data_dir);
        let (projections, learning, openapi) = (Arc::default(), Arc::default(), Arc::from("{}"));
        let typesetter = Arc::new(Typesetter::new(None));
        let closing = Closing::default();
        Self {
            journal,
            clock,
            projections,
            directory,
            waiting,
            learning,
            evidence,
            scratch,
            entrance,
            refusals,
            typesetter,
            closing,
            openapi,
        }
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
        self.blocking(move |app| app.projections.at_known(as_of, known_at, question)?).await
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
