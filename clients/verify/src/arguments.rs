//! What the program is asked.

use clap::Parser;
use selachron_schemas::audit::policy::Policy;
use selachron_schemas::audit::trust::{Kept, Trust};
use selachron_schemas::note::VerifierKey;
use std::fs;
use std::path::{Path, PathBuf};

/// How the program ends, and what each number means.
pub mod exit {
    /// Nothing is wrong, and something that the auditor trusts vouches for the bundle.
    pub const SOUND: u8 = 0;
    /// Not tied to anything trusted, or it could not be read: no answer either way.
    pub const NO_ANSWER: u8 = 1;
    /// The command line, or a file given on it, cannot be understood.
    pub const USAGE: u8 = 2;
    /// Something is wrong with the bundle.
    pub const BROKEN: u8 = 3;
    /// There is no such folder or file.
    pub const NO_SUCH_THING: u8 = 4;
}

const AFTER: &str = "\
Exit status: 0 nothing is wrong; 1 nothing is wrong but nothing you trust vouches for it (say
--self-consistent if that is enough), or it could not be read; 2 usage; 3 broken, and the note or
the file and byte is named; 4 no such folder or file.

A bundle cannot vouch for itself: get the log key by another way than the bundle came, and keep
checkpoints and receipts. Without them nobody can see that the newest notes were left out.";

/// Checks a bundle of the record, off line.
#[derive(Debug, Parser)]
#[command(name = "selachron-verify", version, after_help = AFTER)]
pub struct Arguments {
    /// The bundle: a folder.
    pub bundle: PathBuf,
    /// The log's newest key as you got it by another way: name+hash+key.
    #[arg(long, value_name = "VKEY", value_parser = VerifierKey::parse)]
    pub log_key: Option<VerifierKey>,
    /// A policy file (C2SP tlog-policy): trusted logs, witnesses, quorum.
    #[arg(long, value_name = "FILE")]
    pub policy: Option<PathBuf>,
    /// A checkpoint or receipt that you kept; may be given again.
    #[arg(long, value_name = "FILE")]
    pub seen: Vec<PathBuf>,
    /// Succeed also when nothing you trust vouches for the bundle.
    #[arg(long)]
    pub self_consistent: bool,
    /// Answer in JSON.
    #[arg(long)]
    pub json: bool,
}

/// What is wrong with the command line or a file that it names.
#[derive(Debug, thiserror::Error)]
pub enum Misused {
    /// A file that is not there or cannot be read.
    #[error("{path}: {source}")]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A file that cannot be understood.
    #[error("{0}")]
    Malformed(String),
}

impl Misused {
    /// The exit status for it.
    #[must_use]
    pub fn status(&self) -> u8 {
        match self {
            Self::Unreadable { .. } => exit::NO_SUCH_THING,
            Self::Malformed(_) => exit::USAGE,
        }
    }
}

impl Arguments {
    /// What the auditor brings along, read from the files named.
    ///
    /// # Errors
    /// A file cannot be read, or is not what it should be.
    pub fn trust(&self) -> Result<Trust, Misused> {
        let policy = self.policy.as_deref().map(read_policy).transpose()?;
        let seen = self.seen.iter().map(|path| read_kept(path)).collect::<Result<_, _>>()?;
        Ok(Trust { log_key: self.log_key.clone(), policy, seen })
    }
}

fn bytes(path: &Path) -> Result<Vec<u8>, Misused> {
    fs::read(path).map_err(|source| Misused::Unreadable { path: path.to_owned(), source })
}

fn read_policy(path: &Path) -> Result<Policy, Misused> {
    Policy::parse(&bytes(path)?).map_err(|reason| Misused::Malformed(format!("{}: {reason}", path.display())))
}

fn read_kept(path: &Path) -> Result<Kept, Misused> {
    let name = path.display().to_string();
    let text = String::from_utf8(bytes(path)?).map_err(|_| Misused::Malformed(format!("{name} is not UTF-8")))?;
    Kept::parse(&name, &text).map_err(Misused::Malformed)
}
