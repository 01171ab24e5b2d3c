//! What can be wrong with a question.

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
}

impl Question {
    /// A parameter with something wrong about it.
    pub fn bad(name: &str, detail: impl Into<String>) -> Self {
        Self::BadQuery { name: name.to_owned(), detail: detail.into() }
    }
}
