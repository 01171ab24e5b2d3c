//! The program that sets a report as PDF, started as a child that may take so much time and memory and
//! no more. Where it is not installed the service does without.

use crate::config::TYPESETTER;
use crate::failure::{Broken, Failure, Unset};
use selachron_schemas::limits::TYPESET_SECONDS_MAX;
use std::path::PathBuf;
use std::process::Stdio;
use std::time::Duration;
use tokio::io::AsyncWriteExt;
use tokio::process::Command;
use tokio::sync::Semaphore;

/// The typesetter of this service.
#[derive(Debug)]
pub struct Typesetter {
    program: Option<PathBuf>,
    turn: Semaphore,
}

impl Typesetter {
    /// The program named, or the one beside the program that runs.
    #[must_use]
    pub fn new(named: Option<PathBuf>) -> Self {
        let beside = || std::env::current_exe().ok().map(|ours| ours.with_file_name(TYPESETTER));
        Self { program: named.or_else(beside), turn: Semaphore::new(1) }
    }

    /// The report of this JSON as PDF. One at a time: others wait their turn.
    ///
    /// # Errors
    /// [`Unset`]: no typesetter, or it did not do its work.
    pub async fn pdf(&self, report: Vec<u8>) -> Result<Vec<u8>, Failure> {
        let program = self.program.as_ref().filter(|program| program.is_file()).ok_or(Unset::NoTypesetter)?;
        let _turn = self.turn.acquire().await.map_err(|_| Broken::new("the typesetter's turns ended"))?;
        let started = Command::new(program)
            .env_clear()
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .kill_on_drop(true)
            .spawn();
        let mut child = started.map_err(|error| {
            tracing::error!(program = %program.display(), %error, "the typesetter could not be started");
            Unset::NotStarted
        })?;
        let given = child.stdin.take();
        let work = async {
            let give = async {
                if let Some(mut given) = given {
                    // A child that reads no further says why on its own.
                    let _ = given.write_all(&report).await;
                }
            };
            tokio::join!(give, child.wait_with_output()).1
        };
        let Ok(ended) = tokio::time::timeout(Duration::from_secs(TYPESET_SECONDS_MAX), work).await else {
            return Err(Unset::TooMuch.into());
        };
        let ended = ended.map_err(|error| {
            tracing::error!(%error, "the typesetter's answer could not be read");
            Unset::NotStarted
        })?;
        match ended.status.code() {
            Some(0) => Ok(ended.stdout),
            Some(_) => Err(Unset::Refused(String::from_utf8_lossy(&ended.stderr).trim().to_owned()).into()),
            // Ended by a signal: a limit was reached.
            None => Err(Unset::TooMuch.into()),
        }
    }
}
