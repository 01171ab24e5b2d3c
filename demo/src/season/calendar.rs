//! The invented season's days. All wall clocks are those of the collection's time zone, which
//! changes its clocks twice a year, so that days of 23 and 25 hours occur.

use chrono::{DateTime, Datelike as _, Duration, NaiveDate, TimeZone as _, Utc, Weekday};
use chrono_tz::Tz;
use selachron_schemas::time::{DAY_MS, Instant, MINUTE_MS};

/// The collection's time zone.
pub const ZONE: Tz = chrono_tz::Europe::Lisbon;
/// The day on which the record begins.
pub const FIRST_DAY: NaiveDate = day(2024, 10, 1);
/// The last day of the season.
pub const LAST_DAY: NaiveDate = day(2026, 2, 28);
/// The calendar year whose report is issued.
pub const REPORT_YEAR: i32 = 2025;
/// A heater fails in the warm system during the night before this day.
pub const CHILL_DAY: NaiveDate = day(2025, 1, 18);
/// The nursery's wireless network fails in the morning of this day; the tablets go on without.
pub const OFFLINE_FROM: NaiveDate = day(2025, 5, 12);
/// On this day it is mended.
pub const OFFLINE_UNTIL: NaiveDate = day(2025, 5, 14);
/// Keeper two's tablet is lost on this day.
pub const TABLET_LOST: NaiveDate = day(2025, 9, 10);
/// On this day its key is revoked and a new tablet's key is enrolled.
pub const TABLET_REVOKED: NaiveDate = day(2025, 9, 12);
/// The trainee works from this day.
pub const TRAINEE_FROM: NaiveDate = day(2025, 7, 1);
/// To this day.
pub const TRAINEE_UNTIL: NaiveDate = day(2025, 8, 29);

const fn day(year: i32, month: u32, of_month: u32) -> NaiveDate {
    match NaiveDate::from_ymd_opt(year, month, of_month) {
        Some(date) => date,
        None => panic!("no such day"),
    }
}

/// The instant at which the wall clock shows that hour and minute. No hour of a clock change is
/// ever asked for.
#[must_use]
pub fn at(date: NaiveDate, hour: u32, minute: u32) -> Instant {
    let wall = date.and_hms_opt(hour, minute, 0).unwrap_or_default();
    let time = ZONE.from_local_datetime(&wall).earliest();
    Instant(time.map_or_else(|| wall.and_utc().timestamp_millis(), |time| time.timestamp_millis()))
}

/// The date of an instant.
#[must_use]
pub fn date_of(time: Instant) -> NaiveDate {
    time.day(ZONE)
}

/// A date so many days later (or earlier).
#[must_use]
pub fn plus_days(date: NaiveDate, days: i64) -> NaiveDate {
    date + Duration::days(days)
}

/// A moment so many days later, by the length of days and not by the calendar.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss)]
pub fn after_days(time: Instant, days: f64) -> Instant {
    time.plus_ms((days * DAY_MS as f64) as i64)
}

/// Days between two moments, with their fraction.
#[must_use]
#[allow(clippy::cast_precision_loss)]
pub fn days_between(from: Instant, to: Instant) -> f64 {
    (to.0 - from.0) as f64 / DAY_MS as f64
}

/// The moment so many minutes later.
#[must_use]
pub fn after_minutes(time: Instant, minutes: i64) -> Instant {
    time.plus_ms(minutes * MINUTE_MS)
}

/// Every day of the season.
pub fn days() -> impl Iterator<Item = NaiveDate> {
    FIRST_DAY.iter_days().take_while(|date| *date <= LAST_DAY)
}

/// Days on which adults' tanks are searched while somebody lays.
#[must_use]
pub fn is_search_day(date: NaiveDate) -> bool {
    matches!(date.weekday(), Weekday::Mon | Weekday::Thu)
}

/// The F2 form of an instant, with the offset of the collection's clocks at that moment.
#[must_use]
pub fn text(time: Instant) -> String {
    let utc = DateTime::<Utc>::from_timestamp_millis(time.0).unwrap_or_default();
    utc.with_timezone(&ZONE).format("%Y-%m-%dT%H:%M:%S%:z").to_string()
}
