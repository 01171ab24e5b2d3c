//! A service, started: in its own process by `selachrond`, or within another by demo and tests.

use crate::config::{Network, Settings};
use crate::export::Scratch;
use crate::failure::{Failure, Setup, io};
use crate::http::access::Entrance;
use crate::http::app::App;
use crate::http::door::Door;
use crate::http::{self, server};
use crate::init;
use crate::journal::scrub::Scrub;
use crate::journal::{Journal, JournalHandle};
use crate::refusals::Refusals;
use crate::typesetter::Typesetter;
use std::fs::File;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::mpsc;
use std::thread::JoinHandle;
use tokio::sync::oneshot;

/// The service.
pub struct Service;

impl Service {
    /// Opens and checks the log, takes the address, and serves. Waits until it does.
    ///
    /// # Errors
    /// No log, a log that does not check, an address that is in use or would be open to others,
    /// or another process that has the log.
    pub fn start(settings: Settings) -> Result<Running, Failure> {
        settings.network.check(settings.listen)?;
        let lock = init::lock(&settings.data_dir)?;
        Scratch::sweep(&settings.data_dir);
        let journal = init::open_journal(&settings.data_dir, settings.clock.clone())?;
        check_founded(&settings, &journal.handle())?;
        let scrub = Scrub::start(journal.handle())?;
        let entrance = Entrance::new(settings.network.clone(), settings.listen);
        let refusals = Refusals::open(&settings.data_dir)?;
        let mut app = App::new(journal.handle(), settings.clock.clone(), settings.data_dir.clone(), entrance, refusals);
        app.typesetter = Arc::new(Typesetter::new(settings.typesetter));
        let scheme = if settings.network.tls.is_some() { "https" } else { "http" };
        let (addr, stop, thread) = serve(settings.listen, settings.network, app)?;
        Ok(Running {
            addr,
            scheme,
            journal: journal.handle(),
            stop: Some(stop),
            thread: Some(thread),
            held: Some(Held { scrub, journal, lock }),
        })
    }
}

fn check_founded(settings: &Settings, journal: &JournalHandle) -> Result<(), Failure> {
    let published = journal.published();
    let founding = published.founding().ok_or_else(|| Setup::NotFounded(settings.data_dir.clone()))?;
    if founding.simulated_clock && !settings.allow_simulated {
        let said = "this log says simulated_clock: it holds an invented season, and the real clock must not write into it";
        return Err(Setup::Refused(said.to_owned()).into());
    }
    Ok(())
}

type Serving = (SocketAddr, oneshot::Sender<()>, JoinHandle<()>);

/// A thread of its own holds the runtime, so that a service can be started and stopped from
/// anywhere, an asynchronous task included.
fn serve(listen: SocketAddr, network: Network, app: App) -> Result<Serving, Failure> {
    let (stop, stopped) = oneshot::channel();
    let (started, ready) = mpsc::channel();
    let work = move || {
        let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().thread_name("http").build() {
            Ok(runtime) => runtime,
            Err(error) => return drop(started.send(Err(io("starting the runtime", &error)))),
        };
        runtime.block_on(async {
            match open(listen, &network).await {
                Err(failure) => drop(started.send(Err(failure))),
                Ok((door, addr)) => {
                    let _ = started.send(Ok(addr));
                    let closing = app.closing.clone();
                    let stopped = async move {
                        let _ = stopped.await;
                        closing.close();
                    };
                    if let Err(failure) = server::serve(door, http::router(app), stopped).await {
                        tracing::error!(%failure, "the service stopped serving");
                    }
                }
            }
        });
    };
    let thread = std::thread::Builder::new().name("service".to_owned()).spawn(work).map_err(|error| io("starting a thread", &error))?;
    let addr = ready.recv().map_err(|_| Setup::Io("the service did not start".to_owned()))??;
    Ok((addr, stop, thread))
}

async fn open(listen: SocketAddr, network: &Network) -> Result<(Door, SocketAddr), Failure> {
    let (listener, addr) = server::bind(listen).await?;
    Ok((Door::open(listener, addr, network)?, addr))
}

/// What must outlive the last request, in the order in which it is let go.
struct Held {
    scrub: Scrub,
    journal: Journal,
    lock: File,
}

/// A service that runs until it is shut down or dropped.
pub struct Running {
    addr: SocketAddr,
    scheme: &'static str,
    journal: JournalHandle,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
    held: Option<Held>,
}

impl Running {
    /// Where it listens.
    #[must_use]
    pub fn addr(&self) -> SocketAddr {
        self.addr
    }

    /// Its address as clients write it.
    #[must_use]
    pub fn url(&self) -> String {
        format!("{}://{}", self.scheme, self.addr)
    }

    /// The journal, for tests and demonstrations in the same process.
    #[must_use]
    pub fn journal(&self) -> &JournalHandle {
        &self.journal
    }

    /// Answers what is under way, stops the journal and lets the log go.
    pub fn shutdown(mut self) {
        self.finish();
    }

    fn finish(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
        if let Some(Held { scrub, journal, lock }) = self.held.take() {
            drop(scrub);
            journal.stop();
            drop(journal);
            drop(lock);
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.finish();
    }
}
