//! The one place where the client reads this machine's clock.

use crate::client::Clock;
use selachron_schemas::time::Instant;
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

/// The system's clock. A clock before 1970 reads as 1970, and notes are then not written.
#[must_use]
pub fn system() -> Clock {
    Arc::new(|| {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_millis());
        Instant(i64::try_from(since).unwrap_or(i64::MAX))
    })
}
