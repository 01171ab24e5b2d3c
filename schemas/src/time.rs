//! Instants and days. An instant is a number of milliseconds since 1970 in UTC; it is compared
//! as a number, never as text (F2). A day is a date in the collection's time zone.

use crate::limits::{YEAR_MAX, YEAR_MIN};
use chrono::{DateTime, Duration, LocalResult, NaiveDate, NaiveDateTime, TimeZone as _, Timelike as _, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Milliseconds in a second.
pub const SECOND_MS: i64 = 1000;
/// Milliseconds in a minute, an hour and a day of 24 hours.
pub const MINUTE_MS: i64 = 60 * SECOND_MS;
/// See [`MINUTE_MS`].
pub const HOUR_MS: i64 = 60 * MINUTE_MS;
/// See [`MINUTE_MS`].
pub const DAY_MS: i64 = 24 * HOUR_MS;

/// A moment, in milliseconds since 1970-01-01T00:00:00Z.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

impl Instant {
    /// Later than every time the format can write.
    pub const END: Self = Self(i64::MAX);

    /// Reads the form of F2; the error is a sentence that says what is wrong.
    ///
    /// # Errors
    /// The text is not of that form, names no real date, or lies outside the years 1800 to 9998.
    pub fn parse(text: &str) -> Result<Self, String> {
        parse_f2(text).ok_or_else(|| {
            format!("{text:?} is not a time of the form 2026-03-01T09:14:00+10:00 (real date, years {YEAR_MIN} to {YEAR_MAX})")
        })
    }

    /// `YYYY-MM-DDThh:mm:ss.mmmZ`, the form of `recorded_at`.
    #[must_use]
    pub fn utc_text(self) -> String {
        match DateTime::<Utc>::from_timestamp_millis(self.0) {
            Some(time) => time.format("%Y-%m-%dT%H:%M:%S%.3fZ").to_string(),
            None => "beyond the calendar".to_owned(),
        }
    }

    /// Reads exactly the form of `recorded_at`.
    #[must_use]
    pub fn parse_recorded(text: &str) -> Option<Self> {
        let instant = parse_f2(text)?;
        (text.len() == "2026-03-01T09:14:00.000Z".len() && text.ends_with('Z')).then_some(instant)
    }

    /// The date of this instant in the collection's time zone.
    #[must_use]
    pub fn day(self, zone: Tz) -> NaiveDate {
        self.local(zone).date()
    }

    /// The wall clock of this instant in the collection's time zone.
    #[must_use]
    pub fn local(self, zone: Tz) -> NaiveDateTime {
        match DateTime::<Utc>::from_timestamp_millis(self.0) {
            Some(time) => time.with_timezone(&zone).naive_local(),
            None => NaiveDateTime::MAX,
        }
    }

    /// The same moment, so many milliseconds later.
    #[must_use]
    pub fn plus_ms(self, ms: i64) -> Self {
        Self(self.0.saturating_add(ms))
    }

    /// The greatest millisecond whose date in `zone` is not after `day` (F20).
    #[must_use]
    pub fn end_of_day(day: NaiveDate, zone: Tz) -> Self {
        let Some(midnight) = day.succ_opt().and_then(|next| next.and_hms_opt(0, 0, 0)) else {
            return Self::END;
        };
        Self(first_instant(midnight, zone).0 - 1)
    }

    /// The first millisecond whose date in `zone` is `day`.
    #[must_use]
    pub fn start_of_day(day: NaiveDate, zone: Tz) -> Self {
        day.and_hms_opt(0, 0, 0).map_or(Self::END, |midnight| first_instant(midnight, zone))
    }
}

/// The first instant whose wall clock in `zone` is at or after `wall`: where a clock change
/// leaves midnight out, the day begins at the first moment after the gap.
fn first_instant(wall: NaiveDateTime, zone: Tz) -> Instant {
    let mut candidate = wall;
    for _ in 0..48 {
        match zone.from_local_datetime(&candidate) {
            LocalResult::Single(time) | LocalResult::Ambiguous(time, _) => return Instant(time.timestamp_millis()),
            LocalResult::None => candidate += Duration::minutes(30),
        }
    }
    Instant(wall.and_utc().timestamp_millis())
}

impl Serialize for Instant {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.utc_text())
    }
}

impl<'de> Deserialize<'de> for Instant {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).map_err(serde::de::Error::custom)
    }
}

/// Whole days from `start` to `end`: differences of dates, never of hours (F2).
#[must_use]
pub fn whole_days(start: NaiveDate, end: NaiveDate) -> i64 {
    end.signed_duration_since(start).num_days()
}

fn digits(text: &[u8]) -> Option<u32> {
    text.iter().try_fold(0, |sum: u32, byte| byte.is_ascii_digit().then(|| sum * 10 + u32::from(byte - b'0')))
}

fn parse_f2(text: &str) -> Option<Instant> {
    let bytes = text.as_bytes();
    if bytes.len() < "2026-03-01T09:14:00Z".len() || !text.is_ascii() {
        return None;
    }
    for (at, wanted) in [(4, b'-'), (7, b'-'), (10, b'T'), (13, b':'), (16, b':')] {
        if bytes[at] != wanted {
            return None;
        }
    }
    let number = |from: usize, to: usize| digits(&bytes[from..to]);
    let year = i32::try_from(number(0, 4)?).ok()?;
    if !(YEAR_MIN..=YEAR_MAX).contains(&year) {
        return None;
    }
    let date = NaiveDate::from_ymd_opt(year, number(5, 7)?, number(8, 10)?)?;
    let time = date.and_hms_opt(number(11, 13)?, number(14, 16)?, number(17, 19)?)?;
    let (milliseconds, zone) = fraction(&bytes[19..])?;
    let local = time.with_nanosecond(milliseconds * 1_000_000)?;
    Some(Instant(local.and_utc().timestamp_millis() - offset_ms(zone)?))
}

/// The optional fraction of a second, in milliseconds, and what follows it.
fn fraction(rest: &[u8]) -> Option<(u32, &[u8])> {
    if rest.first() != Some(&b'.') {
        return Some((0, rest));
    }
    let length = rest[1..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    if !(1..=3).contains(&length) {
        return None;
    }
    let scale = [100, 10, 1][length - 1];
    Some((digits(&rest[1..=length])? * scale, &rest[length + 1..]))
}

fn offset_ms(zone: &[u8]) -> Option<i64> {
    if zone == b"Z" {
        return Some(0);
    }
    if zone.len() != 6 || zone[3] != b':' {
        return None;
    }
    let (hours, minutes) = (digits(&zone[1..3])?, digits(&zone[4..6])?);
    if hours > 23 || minutes > 59 {
        return None;
    }
    let ms = i64::from(hours) * HOUR_MS + i64::from(minutes) * MINUTE_MS;
    match zone[0] {
        b'+' => Some(ms),
        b'-' if ms != 0 => Some(-ms),
        _ => None,
    }
}
