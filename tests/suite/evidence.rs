//! Files that notes name by their SHA-256: kept once they are named, carried by bundles (F25).

use selachron_schemas::audit::said::About;
use selachron_schemas::encoding::hex;
use selachron_schemas::merkle::sha256;
use selachron_tests::world::{Who, World};
use serde_json::{Value, json};

fn world_with_a_photo(photo: &[u8]) -> World {
    let mut world = World::new();
    let species = world.species("Chiloscyllium punctatum", "brownbanded bamboo shark");
    let adults = world.tank("Adults", "adults");
    let egg = world.egg("A1", &species, &adults, None);
    let look = json!({"seen_into": true, "band": 3, "movement": "moving", "photo_sha256": hex(&sha256(photo))});
    world.record(Who::Keeper, "egg.candled.v1", &egg, &look);
    world
}

fn absent(world: &World) -> usize {
    world.verify().findings.iter().filter(|finding| finding.about == About::EvidenceAbsent).count()
}

#[test]
fn a_file_is_kept_once_a_note_names_it_and_bundles_carry_it() {
    let photo = b"the bytes of an invented photo";
    let mut world = world_with_a_photo(photo);
    assert_eq!(absent(&world), 1, "a named file that is not kept is told");
    let stranger = world.client().keep_file(b"nobody names this").expect_err("no note names it");
    assert!(stranger.to_string().contains("no note names"), "{stranger}");
    let name = world.client().keep_file(photo).expect("a named file is kept");
    assert_eq!(world.client().keep_file(photo).expect("twice is once"), name);
    assert_eq!(absent(&world), 0, "the bundle carries it");
    world.restart();
    assert_eq!(absent(&world), 0, "after a restart too");
    let given = world.client().get_text(&format!("/v1/evidence/{name}"), &[], "application/octet-stream").expect("it is given back");
    assert_eq!(given.as_bytes(), photo);
}

#[test]
fn a_file_under_another_name_is_not_kept() {
    let photo = b"the bytes of an invented photo";
    let world = world_with_a_photo(photo);
    let path = |name: &str| format!("/v1/evidence/{name}");
    let token = world.client().token().expect("a token");
    let put = |name: &str, bytes: &[u8]| world.client().transport().put(&path(name), bytes, token.as_deref());
    let other = put(&hex(&sha256(photo)), b"other bytes").expect_err("its hash is another");
    assert!(other.to_string().contains("send the file itself"), "{other}");
    let name = put("ABC", photo).expect_err("no hash");
    assert!(name.to_string().contains("64 lower-case"), "{name}");
    let huge = vec![0; selachron_schemas::limits::EVIDENCE_BYTES_MAX + 1];
    let large = put(&hex(&sha256(photo)), &huge).expect_err("too large");
    assert!(large.to_string().contains("more than 33554432 bytes"), "{large}");
    assert_eq!(absent(&world), 1);
}

/// Who signs for a report must be able to hand its very bytes to whoever asks.
#[test]
fn an_issued_report_goes_into_the_bundle() {
    let mut world = world_with_a_photo(b"a photo that stays elsewhere");
    let checkpoint = world.client().look().expect("a checkpoint").checkpoint;
    let known_at = checkpoint.size.to_string();
    let query = [("as_of", "2025-12-31"), ("known_at", known_at.as_str())];
    let text = world.client().get_text("/v1/reports/annual/2025", &query, "application/json").expect("a report");
    let report: Value = serde_json::from_str(&text).expect("JSON");
    let data = json!({
        "query": format!("/v1/reports/annual/2025?as_of=2025-12-31&known_at={known_at}"), "as_of": report["as_of"], "known_at": report["known_at"],
        "root": report["root"], "software": report["software"], "tzdb": report["tzdb"], "sha256": hex(&sha256(text.as_bytes())),
    });
    world.record(Who::Curator, "report.issued.v1", "collection", &data);
    assert_eq!(absent(&world), 2);
    world.client().keep_file(text.as_bytes()).expect("it is kept");
    assert_eq!(absent(&world), 1, "only the photo is elsewhere");
}
