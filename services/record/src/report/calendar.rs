//! What is due as an iCalendar (RFC 5545): one all-day event a day and thing, on the day from which it
//! is due, so that a calendar program shows it. The text is the same for the same clocks.

use crate::domain::record::DueItem;
use chrono_tz::Tz;
use selachron_schemas::encoding::hex;
use selachron_schemas::merkle::sha256;
use selachron_schemas::time::Instant;

/// A line holds at most so many bytes without its break (RFC 5545 3.1).
const LINE_BYTES_MAX: usize = 75;

/// Bytes of the hash that names an event.
const NAME_BYTES: usize = 16;

/// PRIORITY by urgency: 1 is the highest (RFC 5545 3.8.1.9).
const PRIORITIES: [u8; 4] = [0, 1, 5, 9];

/// The calendar. `origin` is the log's, `as_of` the moment looked at.
#[must_use]
pub fn calendar(items: &[DueItem], origin: &str, as_of: Instant, zone: Tz) -> String {
    let mut text = String::new();
    for line in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Selachron//due//EN", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"] {
        put(&mut text, line);
    }
    put(&mut text, &format!("X-WR-CALNAME:Due in {}", escaped(origin)));
    items.iter().for_each(|item| event(&mut text, item, origin, as_of, zone));
    put(&mut text, "END:VCALENDAR");
    text
}

fn event(text: &mut String, item: &DueItem, origin: &str, as_of: Instant, zone: Tz) {
    let day = item.due_at.day(zone);
    let what = serde_json::to_value(item.what).ok().and_then(|what| what.as_str().map(str::to_owned)).unwrap_or_default();
    let place = item.place.as_ref().map_or(String::new(), |place| format!(", {}", place.label));
    let told = format!("{} {} {} {:?}", what, item.subject, item.due_at.0, item.discrepancy);
    let name = hex(&sha256(told.as_bytes())[..NAME_BYTES]);
    let notes: Vec<String> = item.events.iter().map(ToString::to_string).collect();
    put(text, "BEGIN:VEVENT");
    put(text, &format!("UID:{name}@{}", escaped(origin)));
    put(text, &format!("DTSTAMP:{}", as_of.local(Tz::UTC).format("%Y%m%dT%H%M%SZ")));
    put(text, &format!("DTSTART;VALUE=DATE:{}", day.format("%Y%m%d")));
    put(text, &format!("SUMMARY:{}", escaped(&format!("{what}: {}", item.label))));
    let suspected: Vec<String> = item.suspected.iter().map(ToString::to_string).collect();
    let doubt = if suspected.is_empty() { String::new() } else { format!("\nBy a key under suspicion: {}", suspected.join(", ")) };
    put(text, &format!("DESCRIPTION:{}", escaped(&format!("{}\nNotes: {}{doubt}", item.why, notes.join(", ")))));
    if let Some(tank) = &item.tank_label {
        put(text, &format!("LOCATION:{}", escaped(&format!("{tank}{place}"))));
    }
    put(text, &format!("PRIORITY:{}", PRIORITIES[usize::from(item.urgency).min(PRIORITIES.len() - 1)]));
    put(text, "TRANSP:TRANSPARENT");
    put(text, "END:VEVENT");
}

/// TEXT of RFC 5545 3.3.11.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '\\' | ';' | ',' => safe.extend(['\\', letter]),
            '\n' => safe.push_str("\\n"),
            letter if letter.is_control() => {}
            letter => safe.push(letter),
        }
    }
    safe
}

/// A content line, folded between letters, never within one.
fn put(text: &mut String, line: &str) {
    let mut room = LINE_BYTES_MAX;
    for letter in line.chars() {
        if letter.len_utf8() > room {
            text.push_str("\r\n ");
            room = LINE_BYTES_MAX - 1;
        }
        text.push(letter);
        room -= letter.len_utf8();
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::record::{DueWhat, RoundPlace};
    use selachron_schemas::names::Subject;

    fn item() -> DueItem {
        let subject = |text: &str| Subject::parse(text).expect("a subject");
        DueItem {
            what: DueWhat::Candle,
            subject: subject("egg/01JDH3G6C0TEST000000000001"),
            label: "A1; left, top".to_owned(),
            tank: Some(subject("tank/01JDH3G6C0TEST000000000002")),
            due_at: Instant::parse("2026-03-01T23:30:00Z").expect("a time"),
            overdue_days: 0,
            why: "Übersehen ".repeat(20),
            events: Vec::new(),
            whose: Vec::new(),
            discrepancy: None,
            suspected: Vec::new(),
            urgency: 2,
            tank_label: Some("Trays".to_owned()),
            place: Some(RoundPlace { place: subject("place/01JDH3G6C0TEST000000000003"), label: "T1-4".to_owned(), order: 4, row: None }),
        }
    }

    #[test]
    fn lines_are_folded_escaped_and_of_the_collections_day() {
        let as_of = Instant::parse("2026-03-02T00:00:00Z").expect("a time");
        let text = calendar(&[item()], "records.example.org/nursery", as_of, Tz::Europe__Lisbon);
        assert!(text.split("\r\n").all(|line| line.len() <= LINE_BYTES_MAX), "{text}");
        assert!(text.contains("SUMMARY:candle: A1\\; left\\, top\r\n"));
        assert!(text.contains("DTSTART;VALUE=DATE:20260301\r\n"), "the day where the collection is");
        assert!(text.contains("LOCATION:Trays\\, T1-4\r\n") && text.contains("PRIORITY:5\r\n"));
        assert!(text.replace("\r\n ", "").contains(&"Übersehen ".repeat(20)), "folding takes nothing away");
        let doubted = DueItem { suspected: vec![crate::domain::state::EventId(7)], ..item() };
        let told = calendar(&[doubted], "records.example.org/nursery", as_of, Tz::Europe__Lisbon).replace("\r\n ", "");
        assert!(told.contains("By a key under suspicion: 00000000000000000000000007") && !text.contains("suspicion"), "{told}");
        assert_eq!(text, calendar(&[item()], "records.example.org/nursery", as_of, Tz::Europe__Lisbon));
    }
}
