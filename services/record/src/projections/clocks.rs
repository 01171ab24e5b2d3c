//! `as_of` and `known_at` as a caller writes them (F20).

use super::question::Question;
use crate::domain::nursery::Nursery;
use chrono::{DateTime, NaiveDate};
use chrono_tz::Tz;
use selachron_schemas::time::Instant;

/// The two clocks of a question, as written; absent: now, and everything.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Clocks {
    /// An RFC 3339 time, or a date: the last moment of that day where the collection is.
    pub as_of: Option<String>,
    /// A size, or an RFC 3339 time: all that was recorded by then.
    pub known_at: Option<String>,
}

impl Clocks {
    /// V and S.
    ///
    /// # Errors
    /// A clock that cannot be read, or a size beyond the log.
    pub fn read(&self, nursery: &Nursery, now: Instant) -> Result<(Instant, u64), Question> {
        let as_of = self.as_of.as_deref().map_or(Ok(now), |text| as_of(text, nursery.zone()))?;
        let known_at = self.known_at.as_deref().map_or(Ok(nursery.size()), |text| known_at(text, nursery, now))?;
        Ok((as_of, known_at))
    }
}

fn as_of(text: &str, zone: Tz) -> Result<Instant, Question> {
    if let Some(instant) = rfc3339(text) {
        return Ok(instant);
    }
    let date = (text.len() == "2026-03-01".len()).then(|| NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()).flatten();
    date.map(|day| Instant::end_of_day(day, zone)).ok_or_else(|| {
        let detail =
            format!("{text:?} is neither a time such as 2026-03-09T09:30:00Z nor a date such as 2026-03-09 (in a URL write + as %2B)");
        Question::bad("as_of", detail)
    })
}

fn known_at(text: &str, nursery: &Nursery, now: Instant) -> Result<u64, Question> {
    if !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit()) {
        let size = text.parse().ok().filter(|size| *size <= nursery.size());
        return size.ok_or_else(|| Question::bad("known_at", format!("the log holds {} notes, not {text}", nursery.size())));
    }
    match rfc3339(text) {
        Some(time) if time >= now => Ok(nursery.size()),
        Some(time) => Ok(nursery.size_at(time)),
        None => {
            let detail = format!("{text:?} is neither a number of notes nor a time such as 2026-03-09T09:30:00Z (in a URL write + as %2B)");
            Err(Question::bad("known_at", detail))
        }
    }
}

fn rfc3339(text: &str) -> Option<Instant> {
    let time = DateTime::parse_from_rfc3339(text).ok().filter(|_| !text.contains(' '))?;
    Some(Instant(time.timestamp_millis()))
}

#[cfg(test)]
mod tests {
    use super::{as_of, rfc3339};
    use chrono_tz::Tz;

    #[test]
    fn a_date_is_its_last_millisecond_where_the_collection_is() {
        let brisbane: Tz = "Australia/Brisbane".parse().unwrap();
        assert_eq!(as_of("2026-03-09", brisbane).unwrap().utc_text(), "2026-03-09T13:59:59.999Z");
        // Clocks in Adelaide went back on 5 April 2026: that day has 25 hours.
        let adelaide: Tz = "Australia/Adelaide".parse().unwrap();
        assert_eq!(as_of("2026-04-05", adelaide).unwrap().utc_text(), "2026-04-05T14:29:59.999Z");
        assert_eq!(as_of("2026-04-04", adelaide).unwrap().utc_text(), "2026-04-04T13:29:59.999Z");
    }

    #[test]
    fn a_time_has_an_offset_and_a_date_is_a_real_one() {
        assert_eq!(rfc3339("2026-03-09T19:30:00+10:00").unwrap().utc_text(), "2026-03-09T09:30:00.000Z");
        for text in ["2026-03-09T19:30:00", "2026-02-30", "9 March", "2026-3-9", "", "2026-03-09T19:30:00 10:00", "12"] {
            let said = as_of(text, Tz::UTC).unwrap_err().to_string();
            assert!(said.starts_with("as_of: "), "{said}");
        }
    }
}
