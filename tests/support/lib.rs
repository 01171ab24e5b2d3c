//! What tests and benches share.

use std::path::PathBuf;

/// A file of `tests/reference`: check data with its source named beside it.
#[must_use]
pub fn reference(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("reference").join(name)
}
