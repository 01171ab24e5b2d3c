//! What can go wrong, sorted by who must act. The command line's exit codes are these.

use selachron_schemas::problems::{name_in, page};
use selachron_schemas::refusal::Refusal;
use serde_json::Value;

/// Why something was not done. Every text is one sentence for a person; where a flag or a field
/// mends it, the sentence names it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// This machine could not do it: a file, a lock, an answer that makes no sense.
    #[error("{0}")]
    Failed(String),
    /// What was asked for is not well formed; nothing was signed or sent.
    #[error("{0}")]
    Usage(String),
    /// Something was checked and found broken: a receipt, a proof, a log key, a checkpoint.
    #[error("{0}")]
    Broken(String),
    /// There is no such egg, animal, tank, note.
    #[error("{0}")]
    NoSuchThing(String),
    /// The service refused a note, by the rules of the format.
    #[error("{0}")]
    Refused(Refused),
    /// The service was not reached, or cannot take anything just now.
    #[error("{0}")]
    Unreachable(String),
}

/// A refusal as the service worded it (RFC 9457, F18).
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("refused ({name}): {detail}")]
pub struct Refused {
    /// The note's id, where it could be read.
    pub id: Option<String>,
    /// The problem by name, such as `subject-unknown` (F7).
    pub name: String,
    /// One sentence.
    pub detail: String,
    /// JSON pointer into the body.
    pub pointer: Option<String>,
}

impl Refused {
    /// Reads a problem; members that are missing or of another type are left empty.
    #[must_use]
    pub fn read(problem: &Value) -> Self {
        let text = |name: &str| problem.get(name).and_then(Value::as_str).map(str::to_owned);
        let kind = text("type").unwrap_or_default();
        let name = name_in(&kind).to_owned();
        let detail = text("detail").or_else(|| text("title")).unwrap_or_else(|| "the service gave no reason".to_owned());
        Self { id: text("id"), name, detail, pointer: text("pointer") }
    }

    /// What mends it, as the problem's page says.
    #[must_use]
    pub fn remedy(&self) -> Option<&'static str> {
        page(&self.name).map(|page| page.remedy.as_str())
    }
}

impl Fault {
    /// The exit code of the command line: 1 failed, 2 usage, 3 checked and found broken, 4 no
    /// such thing, 5 refused, 6 unreachable.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Failed(_) => 1,
            Self::Usage(_) => 2,
            Self::Broken(_) => 3,
            Self::NoSuchThing(_) => 4,
            Self::Refused(_) => 5,
            Self::Unreachable(_) => 6,
        }
    }
}

/// A body that this machine itself would refuse was never signed: the writer's move.
impl From<Refusal> for Fault {
    fn from(refusal: Refusal) -> Self {
        match &refusal.pointer {
            Some(pointer) if !pointer.is_empty() => Self::Usage(format!("{pointer}: {}", refusal.detail)),
            _ => Self::Usage(refusal.detail),
        }
    }
}
