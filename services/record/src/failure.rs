//! What can go wrong, by who must act: the caller, nobody but time, or whoever keeps this
//! service. Status codes are not known here; `http` knows them.

use selachron_schemas::refusal::Refusal;
use selachron_schemas::token::TokenFault;
use std::path::PathBuf;

/// Anything that can go wrong in the service.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Failure {
    /// The caller asked for something that the rules of the log forbid. Their move.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// Full, locked or not caught up. Nothing was recorded; the same request may be sent again.
    #[error(transparent)]
    Busy(#[from] Busy),
    /// We can no longer vouch for the record: writing stops until somebody has looked.
    #[error(transparent)]
    Broken(#[from] Broken),
    /// The log goes on reading and proving and signs nothing (F24).
    #[error("the log is sealed: {0}")]
    Sealed(String),
    /// A question that has no answer as it was put.
    #[error(transparent)]
    Question(#[from] Question),
    /// Somebody may not read this, or not so fast.
    #[error(transparent)]
    Closed(#[from] Closed),
    /// A report is there, but not as a PDF.
    #[error(transparent)]
    Unset(#[from] Unset),
    /// The service cannot start, or a command cannot do its work, here.
    #[error(transparent)]
    Setup(#[from] Setup),
}

/// Try again.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Busy {
    /// As many requests wait for the journal as may.
    #[error("more notes are waiting than the journal can take; nothing was recorded, send the same note again")]
    QueueFull,
    /// The clock has gone back too far to give times that only grow (F16).
    #[error("the service's clock has gone back {back_ms} ms behind the newest note; nothing is recorded until it has caught up")]
    ClockWentBack {
        /// By how much.
        back_ms: i64,
    },
    /// No room for the store.
    #[error("the disk is full; nothing was recorded, make room and send the same note again")]
    DiskFull,
    /// Somebody else holds the store's lock.
    #[error("the store is locked by another program; nothing was recorded, send the same note again")]
    StoreLocked,
    /// What the notes say is being worked out anew.
    #[error("what the notes say is being worked out anew after a fault; ask again")]
    Relearning,
    /// As many half-signed bodies wait as may.
    #[error("as many notes wait for signatures as there is room for; have some of them signed, or let them be forgotten")]
    WaitingFull,
    /// The service is going down.
    #[error("the service is stopping; send the same note again when it is back")]
    Stopping,
}

/// The record does not check, or can no longer be read or written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}{detail}", at(*seq))]
pub struct Broken {
    /// The note at fault, where one is.
    pub seq: Option<u64>,
    /// One sentence.
    pub detail: String,
}

fn at(seq: Option<u64>) -> String {
    seq.map_or_else(String::new, |seq| format!("seq {seq}: "))
}

impl Broken {
    /// A fault that lies at one note.
    pub fn at(seq: u64, detail: impl Into<String>) -> Self {
        Self { seq: Some(seq), detail: detail.into() }
    }

    /// A fault without a place.
    pub fn new(detail: impl Into<String>) -> Self {
        Self { seq: None, detail: detail.into() }
    }
}

/// What is wrong with a question.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Question {
    /// Nothing of that name is known.
    #[error("{0}")]
    NotFound(String),
    /// A parameter of the query.
    #[error("{name}: {detail}")]
    BadQuery {
        /// The parameter.
        name: String,
        /// What is wrong and what to do.
        detail: String,
    },
    /// A label that several subjects bear.
    #[error("{label:?} could be {}; ask for one of them by its id", candidates.join(" or "))]
    Ambiguous {
        /// The label.
        label: String,
        /// Subjects that bear it.
        candidates: Vec<String>,
    },
    /// A request body beyond the limit.
    #[error("the request has more than {limit_bytes} bytes; send fewer notes at once, or a smaller file")]
    TooLarge {
        /// The limit.
        limit_bytes: usize,
    },
    /// A batch beyond the limit.
    #[error("the request has {count} notes; at most {limit} go in one request")]
    TooMany {
        /// Lines in the request.
        count: usize,
        /// The limit.
        limit: usize,
    },
    /// A content type or a representation that we do not speak.
    #[error("{0}")]
    Media(String),
    /// The request broke off, or is no request.
    #[error("{0}")]
    BadRequest(String),
}

impl Question {
    /// A parameter with something wrong about it.
    pub fn bad(name: &str, detail: impl Into<String>) -> Self {
        Self::BadQuery { name: name.to_owned(), detail: detail.into() }
    }
}

/// Why a request is turned away before it is looked at.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Closed {
    /// No token was shown.
    #[error("this needs a token that an enrolled key signs: name your key with --key, SELACHRON_KEY or key in selachron.toml")]
    NoToken,
    /// The token does not hold.
    #[error(transparent)]
    Token(#[from] TokenFault),
    /// The token is another's, or was used from elsewhere.
    #[error("{0}")]
    Replayed(&'static str),
    /// The key's roles do not read this.
    #[error("this key holds {held}, and this is read by {readers}")]
    NotReadable {
        /// Roles of the reader.
        held: String,
        /// Roles that read it.
        readers: String,
    },
    /// More requests than one address may make.
    #[error("too many requests came from this address; send it again in {wait_s} s")]
    TooMany {
        /// Seconds to wait.
        wait_s: u64,
    },
}

/// Why a report was not set as a PDF. The report itself can be had as JSON and HTML all the same.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unset {
    /// No typesetter stands beside the service.
    #[error(
        "the typesetter is not installed here: `cargo build --release -p selachron-typeset` builds it, beside selachrond it is found; the report can be had as HTML and JSON meanwhile"
    )]
    NoTypesetter,
    /// It could not be started.
    #[error("the typesetter could not be started; the service's log says why")]
    NotStarted,
    /// It took longer, or more memory, than it may.
    #[error("the typesetter needed more time or memory than it may have; the report can be had as HTML and JSON")]
    TooMuch,
    /// It refused.
    #[error("{0}")]
    Refused(String),
}

/// Why the service does not start, or a command does nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Setup {
    /// There is no log in that folder.
    #[error("{path} holds no log; `selachrond init` makes one", path = .0.display())]
    NoLog(PathBuf),
    /// The log was prepared and never founded.
    #[error("the log in {path} is not founded yet; have the root keys sign founding.body.json, then `selachrond init DIR --found ENVELOPE.json`", path = .0.display())]
    NotFounded(PathBuf),
    /// Something is there already.
    #[error("{0}")]
    Exists(String),
    /// A file that is not ours, or not as it should be.
    #[error("{0}")]
    NotOurs(String),
    /// Another process has the log.
    #[error("another process has the log in {path} open; one log, one process", path = .0.display())]
    InUse(PathBuf),
    /// A value or combination that the caller must change.
    #[error("{0}")]
    Refused(String),
    /// The operating system said no.
    #[error("{0}")]
    Io(String),
}

/// An error of the file system, with what was being done.
pub fn io(doing: impl std::fmt::Display, error: &std::io::Error) -> Failure {
    Setup::Io(format!("{doing}: {error}")).into()
}
