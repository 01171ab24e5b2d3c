//! What can go wrong while a season is played, and how the program then ends.

use crate::facts::Unknown;
use selachron_cli::fault::Fault;
use selachron_record::failure::Failure;

/// Why the demo stopped. Every text is one sentence for a person.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// What was asked for cannot be done as asked.
    #[error("{0}")]
    Usage(String),
    /// This machine could not do it.
    #[error("{0}")]
    Failed(String),
    /// Something was checked and found broken.
    #[error("{0}")]
    Broken(String),
    /// The client library says why.
    #[error(transparent)]
    Client(#[from] Fault),
    /// The service says why.
    #[error("the service: {0}")]
    Service(#[from] Failure),
    /// The season asks for something too early: a fault of this program.
    #[error(transparent)]
    Season(#[from] Unknown),
}

impl Trouble {
    /// A file or folder that could not be read or written.
    #[must_use]
    pub fn io(what: &str, path: &std::path::Path, error: &std::io::Error) -> Self {
        Self::Failed(format!("cannot {what} {}: {error}", path.display()))
    }

    /// The exit code: 1 failed, 2 usage, 3 checked and found broken, 4 no such thing, 5 refused,
    /// 6 unreachable.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Failed(_) | Self::Service(_) | Self::Season(_) => 1,
            Self::Usage(_) => 2,
            Self::Broken(_) => 3,
            Self::Client(fault) => fault.exit_code(),
        }
    }
}
