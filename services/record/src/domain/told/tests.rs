use super::Told;
use selachron_schemas::catalogue::{catalogue, files};
use serde_json::{Value, json};

/// Kinds of which the fold needs nothing but their place, or which other code reads.
const UNREAD: [&str; 6] =
    ["report.issued.v1", "copy.verified.v1", "log.rekeyed.v1", "body.withheld.v1", "record.corrected.v1", "record.retracted.v1"];

#[test]
fn every_good_example_of_every_kind_is_read() {
    let examples: Value = serde_json::from_slice(files()["examples.json"]).unwrap();
    for kind in catalogue().kinds().filter(|kind| !UNREAD.contains(&kind.name.as_str())) {
        for data in examples[&kind.name]["good"].as_array().unwrap() {
            let told = Told::read(&kind.name, data.as_object().unwrap());
            assert_ne!(told, Told::Nothing, "{}: {data}", kind.name);
        }
    }
}

#[test]
fn a_whole_number_is_read_however_it_is_written() {
    for text in [r#"{"seen_into":true,"band":3,"movement":"still"}"#, r#"{"seen_into":true,"band":3.0,"movement":"still"}"#] {
        let data: Value = serde_json::from_str(text).unwrap();
        let Told::EggCandled(look) = Told::read("egg.candled.v1", data.as_object().unwrap()) else { panic!("{text}") };
        assert_eq!(look.band, Some(3));
    }
    let part = json!({"seen_into": true, "band": 2.5, "movement": "still"});
    assert_eq!(Told::read("egg.candled.v1", part.as_object().unwrap()), Told::Nothing);
}
