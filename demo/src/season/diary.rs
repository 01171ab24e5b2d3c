//! Collects the season's notes and puts them into the order in which they were signed and sent.

use super::calendar::{OFFLINE_FROM, OFFLINE_UNTIL, after_minutes, at, date_of, plus_days};
use super::chance::Chance;
use super::note::{Handle, Planned, Sending, Step};
use chrono::NaiveDate;
use selachron_schemas::limits::{BATCH_EVENTS_MAX, LATE_MINUTES};
use selachron_schemas::time::{Instant, MINUTE_MS};
use std::collections::BTreeMap;

/// Why an observation was written down later the same day.
const LATE_REASONS: [&str; 5] = [
    "wet hands; the round came first",
    "tablet's battery was empty",
    "visitors at the tank; written after they had gone",
    "remembered when reading the round through",
    "called away to a pump alarm",
];

/// The notes as they come to mind, in any order.
pub struct Diary {
    notes: Vec<Planned>,
    chance: Chance,
}

impl Diary {
    /// An empty one.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self { notes: Vec::new(), chance: Chance::new(seed, "diary") }
    }

    /// Adds a note.
    pub fn add(&mut self, mut note: Planned) -> Handle {
        let handle = Handle(self.notes.len());
        note.handle = handle;
        self.notes.push(note);
        handle
    }

    /// Adds an observation of a round: now and then one is written down only later that day.
    pub fn observe(&mut self, note: Planned) -> Handle {
        let minutes = self.chance.whole(40, 150);
        if self.chance.happens(0.012) {
            let reason = self.chance.one_of(&LATE_REASONS.each_ref().map(|reason| *reason));
            return self.add(note.late(minutes, reason));
        }
        self.add(note)
    }

    /// What has been planned of a note, for whoever acts on it.
    #[must_use]
    pub fn note(&self, handle: Handle) -> &Planned {
        &self.notes[handle.0]
    }

    /// To change a note that has been planned already.
    pub fn note_mut(&mut self, handle: Handle) -> &mut Planned {
        &mut self.notes[handle.0]
    }

    /// All notes so far.
    pub fn notes(&self) -> impl Iterator<Item = &Planned> {
        self.notes.iter()
    }

    /// The notes in the order of signing, and the steps that send them.
    #[must_use]
    pub fn finish(mut self) -> (Vec<Planned>, Vec<Step>) {
        for note in &mut self.notes {
            keep_while_offline(note);
        }
        self.notes.sort_by_key(|note| (note.signed_at, note.handle));
        let mut sends: BTreeMap<Instant, Step> = BTreeMap::new();
        for note in &self.notes {
            let Some(clock) = sending_clock(note) else { continue };
            let step = sends.entry(clock).or_insert_with(|| Step { clock, sends: Vec::new(), after_offline: false });
            step.sends.push(note.handle);
            step.after_offline |= note.waited();
        }
        let steps: Vec<Step> = sends.into_values().collect();
        debug_assert!(steps.iter().all(|step| step.sends.len() <= BATCH_EVENTS_MAX));
        (self.notes, steps)
    }
}

/// While the wireless network is down the tablets keep what they sign.
fn keep_while_offline(note: &mut Planned) {
    let (down, up) = (at(OFFLINE_FROM, 7, 0), at(OFFLINE_UNTIL, 15, 0));
    let signed_inside = (down..up).contains(&note.signed_at);
    if signed_inside && note.author.is_wireless() && note.sending != Sending::Never {
        note.sending = Sending::Waits(at(OFFLINE_UNTIL, 16, 0));
        // Only who is on line can know the newest version (F5).
        note.expects_newest = false;
    }
}

/// When a note is sent, if ever.
fn sending_clock(note: &Planned) -> Option<Instant> {
    match note.sending {
        Sending::Evening => Some(evening_after(note.signed_at)),
        Sending::AtOnce => Some(note.signed_at.plus_ms(4_000)),
        Sending::Waits(until) => Some(until),
        Sending::Never => None,
    }
}

fn evening_after(time: Instant) -> Instant {
    let date = date_of(time);
    let evening = at(date, 18, 10);
    if time < evening { evening } else { at(plus_days(date, 1), 18, 10) }
}

/// A time of day for the one at that place in a row, so that no two are at the same moment.
#[must_use]
pub fn slot(date: NaiveDate, hour: u32, minute: u32, row: usize, seconds_each: i64) -> Instant {
    let row = i64::try_from(row).unwrap_or(0);
    at(date, hour, minute).plus_ms(row * seconds_each * 1_000)
}

/// Whether a note keeps the rule on lateness (F5).
#[must_use]
pub fn is_honest_about_lateness(note: &Planned) -> bool {
    let waited_ms = note.signed_at.0 - note.time.0;
    waited_ms >= 0 && (note.late_reason.is_some() || waited_ms <= LATE_MINUTES * MINUTE_MS)
}

/// A minute or so after another note.
#[must_use]
pub fn soon_after(time: Instant) -> Instant {
    after_minutes(time, 2)
}
