//! The one place where the clock is read. Demo and tests hand in a clock that they move
//! themselves, so that an invented season has a real history of `recorded_at`.

use selachron_schemas::time::Instant;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// Where the time comes from.
pub trait Clock: Send + Sync {
    /// Now.
    fn now(&self) -> Instant;

    /// Lets time pass until the clock reaches `instant`, if it moves by itself.
    fn wait_until(&self, instant: Instant);
}

/// The machine's clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Instant {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        Instant(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
    }

    fn wait_until(&self, instant: Instant) {
        let wait_ms = u64::try_from(instant.0.saturating_sub(self.now().0)).unwrap_or(0);
        std::thread::sleep(Duration::from_millis(wait_ms));
    }
}

/// A clock that stands still until it is moved; for logs that say `simulated_clock` (F10).
#[derive(Debug)]
pub struct SimulatedClock(AtomicI64);

impl SimulatedClock {
    /// A clock that says `start`.
    #[must_use]
    pub fn new(start: Instant) -> Self {
        Self(AtomicI64::new(start.0))
    }

    /// Moves it to `instant`, which may lie in the past: tests do that on purpose.
    pub fn set(&self, instant: Instant) {
        self.0.store(instant.0, Ordering::SeqCst);
    }

    /// Moves it on by so many milliseconds.
    pub fn advance_ms(&self, ms: i64) {
        self.0.fetch_add(ms, Ordering::SeqCst);
    }
}

impl Clock for SimulatedClock {
    fn now(&self) -> Instant {
        Instant(self.0.load(Ordering::SeqCst))
    }

    /// Nobody else moves it, so waiting would never end.
    fn wait_until(&self, _instant: Instant) {}
}

/// How long something has gone on, whatever any clock is set to: rates are reckoned by it.
#[derive(Debug, Clone, Copy)]
pub struct Stopwatch(std::time::Instant);

impl Default for Stopwatch {
    fn default() -> Self {
        Self(std::time::Instant::now())
    }
}

impl Stopwatch {
    /// Milliseconds since it was started.
    #[must_use]
    pub fn elapsed_ms(&self) -> u64 {
        u64::try_from(self.0.elapsed().as_millis()).unwrap_or(u64::MAX)
    }
}
