//! A verb for each kind of the house, run as a program: labels are looked up, lists and groups are
//! read, and a file is named by its hash.

use crate::command::Desk;
use selachron_schemas::encoding::hex;
use selachron_schemas::merkle::sha256;
use serde_json::{Value, json};

/// Runs a verb; the data of the note that it made.
fn told(desk: &Desk, kind: &str, arguments: &[&str]) -> Value {
    desk.keeper(arguments).ok();
    desk.newest(kind)["data"].clone()
}

#[test]
fn tanks_and_instruments() {
    let desk = Desk::stocked();
    let checked = told(&desk, "tank.checked.v1", &["tank", "check", "Tray 1", "--all-well", "--cases-seen", "1", "--whole-tank"]);
    assert_eq!(checked, json!({"all_well": true, "cases_seen": 1, "whole_tank": true}));
    desk.keeper(&["tank", "check", "Tray 1", "--all-well", "--findings", "dead"]).fails(2, &["--findings", "dead"]);
    let changed =
        told(&desk, "system.water_changed.v1", &["water", "change", "S1", "--volume-percent", "20", "--source", "mixed sea water"]);
    assert_eq!(changed["volume_percent"], 20);
    let fault = ["equipment", "fault", "S1", "--equipment", "pump", "--which", "return 2", "--effects", "no flow,oxygen falling"];
    assert_eq!(told(&desk, "equipment.faulted.v1", &fault)["effects"], json!(["no flow", "oxygen falling"]));
    told(&desk, "equipment.restored.v1", &["equipment", "restore", "S1", "--equipment", "pump", "--done", "repaired"]);
    let install =
        ["instrument", "install", "probe 3", "--measures", "temperature,pH", "--system", "S1", "--calibration-interval-days", "30"];
    assert_eq!(told(&desk, "instrument.installed.v1", &install)["measures"], json!(["temperature", "pH"]));
    let calibrate = ["instrument", "calibrate", "probe 3", "--quantity", "pH", "--standard", "buffer 7.00", "--result", "adjusted"];
    assert_eq!(told(&desk, "instrument.calibrated.v1", &calibrate)["result"], "adjusted");
    let place = told(&desk, "place.set_up.v1", &["place", "set-up", "A-1", "--tank", "Tray 1", "--order", "1"]);
    assert!(place["tank"].as_str().is_some_and(|tank| tank.starts_with("tank/")), "{place}");
}

#[test]
fn people_and_papers() {
    let desk = Desk::stocked();
    told(&desk, "round.opened.v1", &["round", "open", "Mon", "--what", "candling", "--tanks", "Tray 1"]);
    let close = ["round", "close", "Mon", "--not-looked-at", "which=A-1,reason=left in peace,words=about to hatch, it seems"];
    let closed = told(&desk, "round.closed.v1", &close);
    assert!(closed["not_looked_at"][0]["which"].as_str().is_some_and(|egg| egg.starts_with("egg/")), "{closed}");
    assert_eq!(closed["not_looked_at"][0]["words"], "about to hatch, it seems");
    let person = "person/01JDH3G6C0PERS000000000001";
    let handed = ["duty", "hand-over", "--to", person, "--matters", "words=slits open,about=egg/A-1"];
    assert_eq!(told(&desk, "duty.handed_over.v1", &handed)["to"], person);
    told(
        &desk,
        "incident.opened.v1",
        &["incident", "open", "power", "--what", "power failure", "--summary", "none", "--about", "S1,Tray 1"],
    );
    told(&desk, "incident.closed.v1", &["incident", "close", "power", "--outcome", "nothing lost"]);
    told(&desk, "quarantine.started.v1", &["quarantine", "start", "Tray 1", "--reason", "arrival"]);
    let send = ["consignment", "send", "box", "--to", "x", "--carrier", "y", "--reason", "transfer", "--items", "which=A-1,alive=alive"];
    assert_eq!(told(&desk, "consignment.sent.v1", &send)["items"][0]["alive"], "alive");
    told(&desk, "sample.taken.v1", &["sample", "take", "W-1", "--what", "water", "--of", "S1"]);
    told(&desk, "sample.sent.v1", &["sample", "send", "W-1", "--to", "x", "--tests-wanted", "culture"]);
    std::fs::write(desk.world.path("cert.pdf"), b"an invented certificate").expect("a file");
    let attach = ["document", "attach", "cert", "--title", "certificate", "--file-sha256", "@cert.pdf", "--about", "A-1"];
    let attached = told(&desk, "document.attached.v1", &attach);
    assert_eq!(attached["file_sha256"], json!(hex(&sha256(b"an invented certificate"))));
    desk.keeper(&["document", "attach", "other", "--title", "x", "--file-sha256", "@nowhere.pdf"]).fails(2, &["nowhere.pdf"]);
}
