//! An assessment as a sheet for eyes: what speaks for and what speaks against, in the same form.

use super::render::{self, Column};
use chrono_tz::Tz;
use serde_json::Value;

const WEIGHED: [Column; 4] = [("holds", &["/holds"]), ("what", &["/what"]), ("days old", &["/age_days"]), ("why", &["/says"])];

const COMPARED: [Column; 8] = [
    ("cases", &["/which"]),
    ("n", &["/n"]),
    ("hatched unaided", &["/hatched_unaided"]),
    ("hatched after opening", &["/hatched_after_opening"]),
    ("lost", &["/lost"]),
    ("put down", &["/put_down"]),
    ("otherwise ended", &["/otherwise_ended"]),
    ("still in case", &["/still_in_case"]),
];

/// The sheet. Names stand for ids already; cautions are said by whoever shows it.
#[must_use]
pub fn sheet(item: &Value, zone: Tz) -> String {
    let of = |pointer: &str| item.pointer(pointer).map_or(String::new(), |value| render::words(value, zone));
    let list = |pointer: &str| item.pointer(pointer).and_then(Value::as_array).cloned().unwrap_or_default();
    let mut lines = vec![format!("{}  {}  {}", of("/label"), of("/species"), of("/egg")), of("/says"), String::new(), of("/window/says")];
    for (head, pointer) in [("What the house rules ask for", "/criteria"), ("What speaks against", "/against")] {
        lines.extend([String::new(), head.to_owned(), indented(&render::table(&WEIGHED, &list(pointer), zone))]);
    }
    let compared: Vec<Value> = [("left alone", "/comparable/left_alone"), ("opened", "/comparable/opened")]
        .into_iter()
        .filter_map(|(which, pointer)| {
            let mut row = item.pointer(pointer)?.clone();
            row["which"] = which.into();
            Some(row)
        })
        .collect();
    let within = format!("What became of comparable cases within {} days", of("/comparable/within_days"));
    let table = indented(&render::table(&COMPARED, &compared, zone));
    let agree = format!("Who must agree: {}. {}", of("/agreement/roles"), of("/agreement/says"));
    lines.extend([String::new(), within, of("/comparable/which"), table, of("/comparable/caveat"), String::new(), agree]);
    lines.join("\n")
}

fn indented(table: &str) -> String {
    table.lines().map(|line| format!("  {line}")).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn for_and_against_stand_in_the_same_form() {
        let weighed = |what: &str, holds: &str| json!([{"what": what, "holds": holds, "says": "Because.", "age_days": 3}]);
        let item = json!({
            "label": "A1", "species": "bamboo shark", "egg": "egg/1", "says": "No recommendation.",
            "window": {"standing": "no forecast", "says": "window: not known"},
            "criteria": weighed("band 7", "no"), "against": weighed("few looks", "yes"),
            "comparable": {"which": "Cases of the species.", "within_days": 7, "left_alone": {"n": 4, "lost": 0}, "opened": {"n": 1, "lost": 1}, "caveat": "Counts."},
            "agreement": {"roles": ["curator", "veterinarian"], "says": "Two people open."},
        });
        let sheet = sheet(&item, Tz::UTC);
        let has = |line: &str| assert!(sheet.lines().any(|one| one == line), "no line {line:?} in\n{sheet}");
        has("A1  bamboo shark  egg/1");
        has("  holds  what    days old  why");
        has("  no     band 7  3         Because.");
        has("  yes    few looks  3         Because.");
        has("  left alone  4  0");
        has("  opened      1  1");
        has("Who must agree: curator, veterinarian. Two people open.");
    }
}
