//! Times as people write them: in full, or a day and a clock time of the collection's own zone.

use chrono::{LocalResult, NaiveDate, NaiveDateTime, NaiveTime, TimeZone as _};
use chrono_tz::Tz;
use selachron_schemas::time::Instant;

/// Reads `2026-03-09T09:30:00+10:00` (any form of F2), `2026-03-09 09:30`, or `09:30` for today;
/// the last two in the collection's zone.
///
/// # Errors
/// A sentence that says which forms are understood, or that the clock was set over that moment.
pub fn read_time(text: &str, zone: Tz, now: Instant) -> Result<Instant, String> {
    let text = text.trim();
    if let Ok(instant) = Instant::parse(text) {
        return Ok(instant);
    }
    let wall = wall_time(text, now.day(zone))
        .ok_or_else(|| format!("{text:?} is no time; write 09:30 (today), \"2026-03-09 09:30\", or 2026-03-09T09:30:00+10:00"))?;
    match zone.from_local_datetime(&wall) {
        LocalResult::Single(time) => Ok(Instant(time.timestamp_millis())),
        LocalResult::Ambiguous(first, second) => Err(format!(
            "{text} happened twice in {zone}, when the clock went back; write {} or {}",
            first.to_rfc3339(),
            second.to_rfc3339()
        )),
        LocalResult::None => Err(format!("{text} never was in {zone}: the clock went forward over it")),
    }
}

fn wall_time(text: &str, today: NaiveDate) -> Option<NaiveDateTime> {
    let clock = |text: &str| NaiveTime::parse_from_str(text, "%H:%M").or_else(|_| NaiveTime::parse_from_str(text, "%H:%M:%S")).ok();
    if let Some(time) = clock(text) {
        return Some(today.and_time(time));
    }
    let (day, time) = text.split_once([' ', 'T'])?;
    Some(day.parse::<NaiveDate>().ok()?.and_time(clock(time)?))
}

/// An instant as a person of the house reads it: `2026-03-09 09:30` in the collection's zone.
#[must_use]
pub fn local_text(instant: Instant, zone: Tz) -> String {
    instant.local(zone).format("%Y-%m-%d %H:%M").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ZONE: Tz = Tz::Europe__Lisbon;

    fn now() -> Instant {
        Instant::parse("2026-07-10T12:00:00Z").expect("a time")
    }

    fn read(text: &str) -> Result<String, String> {
        read_time(text, ZONE, now()).map(Instant::utc_text)
    }

    #[test]
    fn bare_times_are_of_today_in_the_collections_zone() {
        // Lisbon keeps UTC+1 in July (IANA tz database).
        assert_eq!(read("09:30").as_deref(), Ok("2026-07-10T08:30:00.000Z"));
        assert_eq!(read("2026-01-10 09:30").as_deref(), Ok("2026-01-10T09:30:00.000Z"));
        assert_eq!(read("2026-01-10T09:30:15").as_deref(), Ok("2026-01-10T09:30:15.000Z"));
        assert_eq!(read("2026-01-10T09:30:00+10:00").as_deref(), Ok("2026-01-09T23:30:00.000Z"));
    }

    #[test]
    fn times_that_never_were_or_were_twice_are_refused() {
        // Lisbon's clocks changed on 29 March and change on 25 October 2026, at 01:00 UTC.
        assert!(read("2026-03-29 01:30").is_err_and(|text| text.contains("never was")));
        assert!(read("2026-10-25 01:30").is_err_and(|text| text.contains("twice") && text.contains("+01:00")));
        for text in ["", "half past nine", "25:00", "2026-02-30 09:00", "09:30 2026-01-10"] {
            assert!(read(text).is_err(), "{text}");
        }
    }

    #[test]
    fn what_is_read_is_shown_in_the_same_zone() {
        assert_eq!(local_text(read_time("2026-07-10 09:30", ZONE, now()).expect("a time"), ZONE), "2026-07-10 09:30");
    }
}
