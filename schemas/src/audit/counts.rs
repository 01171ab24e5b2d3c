//! The numbers that each key gives its notes: gaps and doubles are findings (F12).

use super::said::{About, Finding};
use crate::limits::GAP_HOURS;
use crate::names::KeyId;
use crate::time::{HOUR_MS, Instant};

/// Numbers as they were used.
#[derive(Debug, Default)]
pub(super) struct Counts(Vec<Used>);

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Used {
    key: KeyId,
    count: u64,
    seq: u64,
    recorded_at: Instant,
}

impl Counts {
    /// Notes that `key` used, or gave up, this number.
    pub fn add(&mut self, key: KeyId, count: u64, seq: u64, recorded_at: Instant) {
        self.0.push(Used { key, count, seq, recorded_at });
    }

    /// Gaps and doubles when the newest note was recorded at `newest`.
    pub fn findings(mut self, newest: Instant) -> Vec<Finding> {
        self.0.sort_unstable();
        let mut findings = Vec::new();
        for used in self.0.chunk_by(|a, b| a.key == b.key) {
            doubles(used, &mut findings);
            gaps(used, newest, &mut findings);
        }
        findings
    }
}

fn doubles(used: &[Used], findings: &mut Vec<Finding>) {
    for pair in used.windows(2).filter(|pair| pair[0].count == pair[1].count) {
        let says = format!("two notes with one number: the key {} used {} at seq {} already", pair[1].key, pair[1].count, pair[0].seq);
        findings.push(Finding::of_note(About::CountTwice, pair[1].seq, says));
    }
}

/// Walks down from the highest number, so that it knows since when a higher one is recorded.
fn gaps(used: &[Used], newest: Instant, findings: &mut Vec<Finding>) {
    let mut higher_since = Instant::END;
    for at in (0..used.len()).rev() {
        higher_since = higher_since.min(used[at].recorded_at);
        let below = if at == 0 { 0 } else { used[at - 1].count };
        if used[at].count <= below + 1 {
            continue;
        }
        let (first, last) = (below + 1, used[at].count - 1);
        let numbers = if first == last { format!("number {first}") } else { format!("numbers {first} to {last}") };
        let waited_h = (newest.0 - higher_since.0).div_euclid(HOUR_MS);
        let how = if waited_h >= GAP_HOURS {
            format!("for {waited_h} hours a higher one has been recorded")
        } else {
            "the notes may still be on their device".to_owned()
        };
        let says = format!("{numbers} of the key {} are missing before this note; {how}", used[at].key);
        findings.push(Finding::of_note(About::CountMissing, used[at].seq, says));
    }
}
