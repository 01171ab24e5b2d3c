//! Files of loggers at the command line, against the real service.

use crate::keyboard::Desk;
use selachron_schemas::time::{HOUR_MS, Instant};
use selachron_tests::world::Who;
use serde_json::{Value, json};

const SETTINGS: &str = r#"
system = "Warm"
instrument = "Logger 4"
point = "sump"
time_zone = "UTC"
time_column = "when"
gap_hours = 6
columns = [{name = "t", quantity = "temperature", unit = "F", basis = "ITS-90"}]
"#;

fn desk() -> Desk {
    let mut desk = Desk::with(&["keeper"]);
    let system = desk.world.subject("system");
    desk.world.record(Who::Keeper, "system.set_up.v1", &system, &json!({"label": "Warm", "water": "tropical"}));
    desk
}

fn file(desk: &Desk, name: &str, text: &str) -> String {
    let path = desk.world.scratch().join(name);
    std::fs::write(&path, text).expect("a file");
    path.display().to_string()
}

/// A file with a reading every so many hours from `from` on.
fn rows(from: Instant, fahrenheit: &[f64]) -> String {
    let row = |(at, value): (i64, &f64)| {
        let time = from.plus_ms(at * HOUR_MS).utc_text();
        format!("{time},{value}\n")
    };
    "when,t\n".to_owned() + &(0_i64..).zip(fahrenheit).map(row).collect::<String>()
}

fn readings(desk: &Desk) -> Vec<Value> {
    desk.world.read("/v1/systems/Warm/water", &[])["item"]["readings"].as_array().cloned().unwrap_or_default()
}

fn import(desk: &Desk, file: &str, settings: &str) -> u8 {
    desk.run("keeper", &["water", "import", file, "--settings", settings])
}

#[test]
fn a_loggers_file_is_signed_once_however_often_it_is_read() {
    let desk = desk();
    let settings = file(&desk, "logger.toml", SETTINGS);
    let begin = desk.world.now().plus_ms(HOUR_MS);
    desk.world.pass_days(2);
    let first = file(&desk, "first.csv", &rows(begin, &[77.0, 77.9, 82.4]));
    assert_eq!(import(&desk, &first, &settings), 0);
    let read = readings(&desk);
    let told: Vec<&Value> = read.iter().map(|reading| &reading["temperature_c"]).collect();
    assert_eq!(told, [&json!(25.0), &json!(25.5), &json!(28.0)], "°F, as the settings say");
    assert_eq!(
        (&read[0]["instrument"], &read[0]["point"], &read[0]["temperature_scale"]),
        (&json!("Logger 4"), &json!("sump"), &json!("ITS-90"))
    );
    assert_eq!(import(&desk, &first, &settings), 0, "the second run sends nothing");
    // The logger went on; its file has the old rows too, and one that says otherwise.
    let grown = file(&desk, "grown.csv", &rows(begin, &[77.0, 78.8, 82.4, 77.0]));
    assert_eq!(import(&desk, &grown, &settings), 0);
    let read = readings(&desk);
    assert_eq!(read.len(), 4, "only what was new: {read:?}");
    assert_eq!(read[1]["temperature_c"], json!(25.5), "what stands is put right by a person, not by a file");
    let episodes = desk.items("/v1/water/episodes", &[]);
    assert!(episodes.iter().any(|episode| episode["quantity"] == "temperature_c" && episode["state"] == "over"), "{episodes:?}");
}

#[test]
fn what_cannot_be_a_reading_of_this_water_is_named_and_nothing_is_sent() {
    let desk = desk();
    desk.world.pass_days(2);
    let now = desk.world.now();
    let settings = file(&desk, "logger.toml", SETTINGS);
    let early = file(&desk, "early.csv", &rows(now.plus_ms(-49 * HOUR_MS), &[77.0, 77.0, 77.0]));
    assert_eq!(import(&desk, &early, &settings), 2, "the first row lies before the system was set up");
    let ahead = file(&desk, "ahead.csv", &rows(now.plus_ms(-HOUR_MS), &[77.0, 77.0, 77.0]));
    assert_eq!(import(&desk, &ahead, &settings), 2, "the last row is still to come");
    let celsius = file(&desk, "celsius.toml", &SETTINGS.replace("unit = \"F\"", "unit = \"C\""));
    let hot = file(&desk, "hot.csv", &rows(now.plus_ms(-5 * HOUR_MS), &[25.0, 77.0]));
    assert_eq!(import(&desk, &hot, &celsius), 2, "77 °C is no water that animals live in");
    let unsaid = file(&desk, "unsaid.toml", &SETTINGS.replace("unit = \"F\", ", ""));
    assert_eq!(import(&desk, &hot, &unsaid), 2, "a temperature without its unit");
    assert_eq!(readings(&desk), Vec::<Value>::new());
}

/// A probe's own key signs its readings and reads no more than it needs for that.
#[test]
fn a_loggers_file_is_signed_with_the_key_of_the_instrument() {
    let mut desk = Desk::with(&["keeper", "instrument"]);
    let system = desk.world.subject("system");
    desk.world.record(Who::Keeper, "system.set_up.v1", &system, &json!({"label": "Warm", "water": "tropical"}));
    let settings = file(&desk, "logger.toml", SETTINGS);
    let begin = desk.world.now().plus_ms(HOUR_MS);
    desk.world.pass_days(2);
    let import = |name: &str, text: &str| {
        let path = file(&desk, name, text);
        desk.run("instrument", &["water", "import", &path, "--settings", &settings])
    };
    assert_eq!(import("first.csv", &rows(begin, &[77.0, 77.9])), 0);
    assert_eq!(import("again.csv", &rows(begin, &[77.0, 77.9, 78.8])), 0, "what stands is not sent again");
    let read = readings(&desk);
    assert_eq!(read.iter().map(|reading| reading["temperature_c"].clone()).collect::<Vec<_>>(), [json!(25.0), json!(25.5), json!(26.0)]);
    let history = desk.world.read("/v1/systems/Warm/history", &[]);
    let by = |note: &Value| note["kind"] == "water.measured.v1" && note["by"]["roles"] == json!(["instrument"]);
    assert_eq!(history["notes"].as_array().map(|notes| notes.iter().filter(|note| by(note)).count()), Some(3), "{history}");
    assert_eq!(import("early.csv", &rows(begin.plus_ms(-9 * HOUR_MS), &[77.0])), 2, "before the system was set up");
    let unknown = file(&desk, "other.toml", &SETTINGS.replace("\"Warm\"", "\"Cold\""));
    let path = file(&desk, "third.csv", &rows(begin, &[77.0]));
    assert_eq!(desk.run("instrument", &["water", "import", &path, "--settings", &unknown]), 4, "there is no such system");
    assert_eq!(desk.run("instrument", &["due"]), 5, "it reads nothing else of the house");
    assert_eq!(readings(&desk).len(), 3);
}
