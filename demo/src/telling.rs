//! What the demo says when a season has been played: a few calm lines, made from what the
//! service answered and what the verifier found, never from the season itself.

use crate::season::calendar::{REPORT_YEAR, date_of};
use chrono::NaiveDate;
use selachron_schemas::time::Instant;
use serde_json::Value;
use std::collections::BTreeMap;

/// What stands at the top, and on everything else that the demo makes.
pub const INVENTED: &str = "Invented season, simulated clock. No such collection, people or animals exist.";
/// Most lines about one animal's notes.
const HISTORY_LINES_MAX: usize = 7;
/// Most lines about discrepancies.
const DISCREPANCY_LINES_MAX: usize = 8;

/// The four hatch rates of a report, with their intervals.
#[must_use]
pub fn hatch_rates(report: &Value) -> Vec<String> {
    let rates = report["hatch_rates"]["collected"].as_array().map(Vec::as_slice).unwrap_or_default();
    let behind = &report["hatch_rates"]["behind"];
    let mut lines = vec![format!(
        "Hatch rates of {REPORT_YEAR} by four denominators, Wilson 95 % ({} cases of {} clutches)",
        behind["eggs"], behind["clutches"]
    )];
    lines.extend(rates.iter().map(rate));
    lines
}

fn rate(rate: &Value) -> String {
    let name = rate["name"].as_str().unwrap_or_default();
    let of = format!("{} of {}", rate["x"], rate["n"]);
    let told = match (rate["estimate"].as_f64(), limits(&rate["wilson_95"])) {
        (Some(estimate), Some(limits)) => format!("{}   {limits}", percent(estimate)),
        (Some(estimate), None) => percent(estimate),
        _ => format!("{} open, so only bounds: {}", rate["open"], limits(&rate["bounds"]).unwrap_or_default()),
    };
    let beside = [("could_not_be_judged", "could not be judged"), ("end_not_known", "left before the end was seen")];
    let beside =
        beside.iter().filter(|(member, _)| rate[*member].as_u64() > Some(0)).map(|(member, words)| format!("{} {words}", rate[*member]));
    let beside: Vec<String> = beside.collect();
    let beside = if beside.is_empty() { String::new() } else { format!("   ({})", beside.join(", ")) };
    format!("  {name:<24}{of:>9}   {told}{beside}")
}

/// Survival of all young at the ages that the figure names.
#[must_use]
pub fn rearing(rearing: &Value, until: Instant) -> Vec<String> {
    let mut lines = vec![format!(
        "Rearing from hatch, Kaplan-Meier, log-log 95 % ({} animals, {} deaths, until {})",
        rearing["n"],
        rearing["deaths"],
        day(date_of(until))
    )];
    lines.extend(rearing["points"].as_array().into_iter().flatten().map(point));
    lines
}

fn point(point: &Value) -> String {
    let age = format!("{} days", point["age_days"]);
    let told = match (point["survival"].as_f64(), limits(&point["loglog_95"])) {
        (Some(survival), Some(limits)) => format!("{}   {limits}", percent(survival)),
        (Some(survival), None) => percent(survival),
        _ => point["absent"]["says"].as_str().unwrap_or("not known").to_owned(),
    };
    format!("  {age:<24}{told}   {} at risk", point["at_risk"])
}

fn percent(share: f64) -> String {
    format!("{:5.1} %", 100.0 * share)
}

fn limits(limits: &Value) -> Option<String> {
    let (low, high) = (limits[0].as_f64()?, limits[1].as_f64()?);
    Some(format!("{:.1} to {:.1} %", 100.0 * low, 100.0 * high))
}

/// One animal's history as it was known on a day, and as it is known now.
#[must_use]
pub fn two_clocks(label: &str, then: (&Value, NaiveDate), now: &Value) -> Vec<String> {
    let (notes_then, notes_now) = (notes(then.0), notes(now));
    let mut lines = vec![format!("One animal on two clocks: {label}")];
    lines.push(format!("  as known on {} ({} notes about it):", day(then.1), notes_then.len()));
    let skipped = notes_then.len().saturating_sub(HISTORY_LINES_MAX);
    if skipped > 0 {
        lines.push(format!("    … {skipped} before, then"));
    }
    lines.extend(notes_then.iter().skip(skipped).map(|note| format!("    {}  {}", date(note), said(note, "data"))));
    lines.push(format!("  as known now ({} notes), the same but for:", notes_now.len()));
    lines.extend(notes_now.iter().filter(|note| note["standing"] != "stands").flat_map(changed));
    lines
}

fn notes(history: &Value) -> Vec<&Value> {
    history["notes"].as_array().into_iter().flatten().collect()
}

/// A note that was put right or taken back, with who did it and why.
fn changed(note: &&Value) -> Vec<String> {
    let standing = note["standing"].as_str().unwrap_or_default();
    let mut lines = match note.get("as_written") {
        Some(first) => vec![format!("    {}  {}   (first written: {})", date(note), said(note, "data"), words(kind(note), &first["data"]))],
        None => vec![format!("    {}  {}   ({standing})", date(note), said(note, "data"))],
    };
    lines.extend(note["acts_told"].as_array().into_iter().flatten().map(|act| {
        let who = act["by"]["roles"][0].as_str().unwrap_or("somebody");
        format!("      {} by a {who}: {}", date(act), act["reason"].as_str().unwrap_or_default())
    }));
    lines
}

fn said(note: &Value, member: &str) -> String {
    words(kind(note), &note[member])
}

fn kind(note: &Value) -> &str {
    note["kind"].as_str().unwrap_or_default()
}

/// A note in a few words.
fn words(kind: &str, data: &Value) -> String {
    let text = |name: &str| data[name].as_str().unwrap_or_default().to_owned();
    let number = |name: &str, unit: &str| data[name].as_f64().map(|value| format!("{value} {unit}"));
    match kind {
        "egg.hatched.v1" => format!("hatched: {}", text("how_known")),
        "animal.fed.v1" => format!("offered {}: {}", data["offered"][0]["food"].as_str().unwrap_or_default(), eaten(&text("eaten"))),
        "animal.measured.v1" => {
            let measures: Vec<String> = [number("length_cm", "cm"), number("mass_g", "g")].into_iter().flatten().collect();
            format!("measured: {}", measures.join(", "))
        }
        "animal.moved.v1" => "moved to another tank".to_owned(),
        other => other.trim_end_matches(".v1").replace(['.', '_'], " "),
    }
}

fn eaten(how_much: &str) -> String {
    match how_much {
        "not seen" => "not seen to eat".to_owned(),
        "spat out" => "spat it out".to_owned(),
        other => format!("ate {other}"),
    }
}

fn date(note: &Value) -> String {
    let time = note["time"].as_str().and_then(|text| Instant::parse(text).ok());
    time.map_or_else(String::new, |time| date_of(time).to_string())
}

/// What is at odds and open, in short.
#[must_use]
pub fn discrepancies(answer: &Value) -> Vec<String> {
    let open: Vec<&Value> = answer["items"].as_array().into_iter().flatten().filter(|item| item["open"] != false).collect();
    let mut alike: BTreeMap<(u8, &str), (usize, &str)> = BTreeMap::new();
    for item in &open {
        let weight = item["weight"].as_str().unwrap_or_default();
        let kind = item["kind"].as_str().unwrap_or_default();
        alike.entry((urgency(weight), kind)).or_insert((0, weight)).0 += 1;
    }
    let mut lines = vec![format!("Open discrepancies: {}", open.len())];
    let more = alike.len().saturating_sub(DISCREPANCY_LINES_MAX);
    lines.extend(alike.iter().take(DISCREPANCY_LINES_MAX).map(|((_, kind), (count, weight))| format!("  {count} × {kind:<48}{weight}")));
    if more > 0 {
        lines.push(format!("  and {more} kinds more"));
    }
    lines
}

/// How often the record found something at odds, settled or not: more than a little is noise.
#[must_use]
pub fn noise(answer: &Value, notes: usize) -> String {
    let found = answer["items"].as_array().map_or(0, Vec::len);
    format!("  {found} discrepancies in {notes} notes: {:.2} per 100", 100.0 * found as f64 / notes.max(1) as f64)
}

fn urgency(weight: &str) -> u8 {
    match weight {
        "needs a person today" => 0,
        "when convenient" => 1,
        _ => 2,
    }
}

/// A day as people say it.
#[must_use]
pub fn day(date: NaiveDate) -> String {
    date.format("%-d %B %Y").to_string()
}
