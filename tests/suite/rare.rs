//! What is rarely done, at the keyboard: a body withheld, root keys replaced, and the log's key changed.

use crate::keyboard::Desk;
use selachron_cli::keyfile::Identity;
use selachron_tests::fixture::{envelope, ulid};
use selachron_tests::world::Who;
use serde_json::{Value, json};

fn file(desk: &Desk, name: &str) -> String {
    desk.world.scratch().join(format!("{name}.pem")).display().to_string()
}

#[test]
fn a_body_is_withheld_by_two_people() {
    let mut desk = Desk::with(&["curator", "registrar"]);
    let opened = json!({"label": "spill", "what": "other", "summary": "a visitor's name stood here"});
    let incident = desk.world.subject("incident");
    let note = desk.world.record(Who::Keeper, "incident.opened.v1", &incident, &opened);
    let event = desk.world.read(&format!("/v1/events/{}", note.id), &[])["item"]["event"].clone();
    let members = [
        format!("seq={}", note.seq),
        format!("id={}", note.id),
        "kind=incident.opened.v1".to_owned(),
        format!("subject={incident}"),
        format!("time={}", event["time"].as_str().expect("a time")),
        format!("keyid={}", event["keyid"].as_str().expect("a key id")),
        format!("keycount={}", event["keycount"]),
        "reason=a name stood in it".to_owned(),
        "authority=the institution's privacy rule".to_owned(),
    ];
    let members: Vec<&str> = members.iter().map(String::as_str).collect();
    let withhold = [&["note", "body.withheld", "collection"][..], &members].concat();
    assert_eq!(desk.run("registrar", &withhold), 5, "one person alone withholds nothing");
    assert_eq!(desk.run("registrar", &[&withhold[..], &["--with", &file(&desk, "curator")]].concat()), 0);
    let item = desk.world.read(&format!("/v1/events/{}", note.id), &[])["item"].clone();
    assert_eq!((&item["withheld"], &item["event"]), (&json!(true), &Value::Null));
}

/// A desk whose log has two new root keys, with key files of their own.
fn with_root_files() -> (Desk, Vec<Identity>) {
    let mut desk = Desk::with(&[]);
    let keys: Vec<Identity> = (1..=4).map(|number| Identity::create(file(&desk, &format!("root-{number}"))).expect("a key file")).collect();
    let now = desk.world.now();
    let old = desk.world.staff.roots.clone();
    let body = desk.world.staff.roots[0].body("root.replaced.v1", "collection", now, &roots(&keys[..2]));
    let signed = envelope(&body, &[&old[0], &old[1]]);
    let signed = selachron_cli::seal::add_signatures(signed.as_bytes(), &[&keys[0], &keys[1]]).expect("it signs");
    desk.world.post(&signed).recorded().expect("the first holders hand over");
    desk.world.pass_ms(1_000);
    (desk, keys)
}

fn roots(keys: &[Identity]) -> Value {
    let root =
        |(key, number): (&Identity, u64)| json!({"public_key": key.public_key_base64(), "person": format!("person/{}", ulid(0, number))});
    let keys: Vec<Value> = keys.iter().zip(60..).map(root).collect();
    json!({"root_keys": keys, "root_threshold": 2, "reason": "a holder has left"})
}

fn newest(desk: &Desk) -> Value {
    desk.items("/v1/events", &[("after", "0"), ("limit", "1000")]).pop().expect("a note")
}

#[test]
fn root_keys_are_replaced_by_their_holders() {
    let (desk, keys) = with_root_files();
    let data = roots(&keys[2..]).to_string();
    let replace = ["note", "root.replaced", "collection", "--data", &data];
    let [second, third, fourth] = [2, 3, 4].map(|number| file(&desk, &format!("root-{number}")));
    assert_eq!(desk.run("root-1", &replace), 5, "one holder of two");
    assert_eq!(desk.run("root-1", &[&replace[..], &["--with", &second, "--with", &third, "--with", &fourth]].concat()), 0);
    let newest = newest(&desk);
    assert_eq!((&newest["event"]["type"], newest["signatures"].as_array().map(Vec::len)), (&json!("root.replaced.v1"), Some(4)));
}

#[test]
fn the_logs_key_is_changed_by_the_holders_of_root_keys() {
    let (desk, _) = with_root_files();
    let (_, vkey) = selachron_record::upkeep::rekey(&desk.world.log_folder()).expect("a new log key");
    // Both keys sign for a while, so that this client, which has the old one pinned, can follow.
    let data = json!({"log_vkey": vkey.to_string(), "overlap_until_size": 1000, "reason": "the machine that holds the key is replaced"});
    let data = data.to_string();
    let rekey = ["note", "log.rekeyed", "collection", "--data", &data];
    assert_eq!(desk.run("root-1", &rekey), 5, "one holder of two");
    assert_eq!(desk.run("root-1", &[&rekey[..], &["--with", &file(&desk, "root-2")]].concat()), 0);
    assert_eq!(newest(&desk)["event"]["data"]["log_vkey"], json!(vkey.to_string()));
}
