//! The API over the wire.

use crate::support::house::House;
use crate::support::wire::{get, post_lines, post_one, send};
use crate::support::{ORIGIN, START, body_of};
use selachron_schemas::catalogue;
use selachron_schemas::encoding::{base64, from_base64_32, hex};
use selachron_schemas::limits::{BATCH_EVENTS_MAX, BODY_BYTES_MAX};
use selachron_schemas::merkle::{consistent, includes, sha256};
use selachron_schemas::note::{Checkpoint, SignedCheckpoint};
use selachron_schemas::receipt::{Leaf, Receipt};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::Read as _;

#[test]
fn one_note_is_created_then_repeated() {
    let (house, service) = House::served();
    let note = house.cast.water(&house.system, START, json!({}));
    let first = post_one(service.addr(), &note);
    assert_eq!(first.status, 201, "{}", first.text());
    let said = first.json();
    assert_eq!((&said["status"], &said["seq"], &said["subject_version"]), (&json!("recorded"), &json!(5), &json!(2)));
    assert_eq!((&said["id"], &said["discrepancies"]), (&body_of(&note)["id"], &json!([])));
    assert!(said.get("consistency").is_none(), "the note says nothing of what its device had seen");
    let receipt = Receipt::parse(said["receipt"].as_str().unwrap()).unwrap();
    receipt.check(&house.cast.log_vkey()).unwrap();
    let again = post_one(service.addr(), &note);
    assert_eq!((again.status, &again.json()["receipt"]), (200, &said["receipt"]));
    let read = get(service.addr(), &format!("/v1/events/{}/receipt", said["id"].as_str().unwrap()));
    assert_eq!((read.status, read.text()), (200, said["receipt"].as_str().unwrap()));
}

#[test]
fn a_note_that_says_what_its_device_had_seen_gets_the_proof() {
    let (house, service) = House::served();
    let note = get(service.addr(), "/v1/log/checkpoint");
    let seen = SignedCheckpoint::parse(note.text()).unwrap();
    let (size, root) = (seen.checkpoint.size, seen.checkpoint.root);
    let signature = base64(&seen.signature_of(&house.cast.log_vkey()).unwrap());
    let more = json!({"seensize": size, "seenroot": base64(&root), "seensig": signature});
    let said = post_one(service.addr(), &house.cast.water(&house.system, START, more)).json();
    let receipt = Receipt::parse(said["receipt"].as_str().unwrap()).unwrap().checkpoint.checkpoint;
    let proof: Vec<_> =
        said["consistency"].as_array().unwrap().iter().map(|hash| from_base64_32(hash.as_str().unwrap()).unwrap()).collect();
    assert!(consistent(size, &root, receipt.size, &receipt.root, &proof));
}

#[test]
fn lines_are_answered_in_order() {
    let (house, service) = House::served();
    let water = || house.cast.water(&house.system, START, json!({}));
    let first = water();
    let wrong = house.cast.water(&house.system, START, json!({"expect": 0}));
    let reply = post_lines(service.addr(), &[first.clone(), b"{".to_vec(), wrong.clone(), first, water()]);
    assert_eq!((reply.status, reply.headers["content-type"].as_str()), (200, "application/x-ndjson"));
    let lines: Vec<Value> = reply.text().lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let said = |at: usize| (lines[at]["status"].as_str().unwrap(), lines[at]["seq"].as_u64(), lines[at]["problem"]["type"].as_str());
    assert_eq!(said(0), ("recorded", Some(5), None));
    assert_eq!(said(1), ("refused", None, Some("/problems/envelope-malformed")));
    assert_eq!(said(2), ("refused", None, Some("/problems/expect-failed")));
    assert_eq!((&lines[2]["id"], &lines[2]["problem"]["pointer"]), (&body_of(&wrong)["id"], &json!("/expect")));
    assert_eq!(said(3), ("recorded", Some(5), None));
    assert_eq!(said(4), ("recorded", Some(6), None));
    assert_eq!(lines.len(), 5);
}

#[test]
fn each_refusal_has_its_status() {
    let (house, service) = House::served();
    let water = |more| house.cast.water(&house.system, START, more);
    let with = |more: Value| post_one(service.addr(), &water(more)).problem();
    assert_eq!(with(json!({"source": "https://other.example.org"})), (422, "wrong-log".to_owned()));
    assert_eq!(with(json!({"time": "2030-01-01T00:00:00Z"})), (422, "time-in-future".to_owned()));
    assert_eq!(with(json!({"late": true})), (422, "late-without-reason".to_owned()));
    assert_eq!(with(json!({"expect": 9})), (409, "expect-failed".to_owned()));
    assert_eq!(with(json!({"type": "egg.juggled.v1"})), (400, "body-malformed".to_owned()));
    assert_eq!(with(json!({"subject": "system/01JDH3G6C0TEST000000000001"})), (422, "subject-unknown".to_owned()));
    assert_eq!(with(json!({"signedtime": "2026-01-01T00:00:00Z", "time": "2026-01-01T00:00:00Z"})), (401, "key-not-in-force".to_owned()));
    let stranger = crate::support::Signer::new(77);
    let body = house.cast.body(&stranger, "tank.searched.v1", &house.system, START, json!({}), json!({}));
    assert_eq!(post_one(service.addr(), &crate::support::envelope(&body, &[&stranger])).problem(), (400, "body-malformed".to_owned()));
    let data = json!({"temperature_c": 1, "instrument": "probe 3"});
    let body = house.cast.body(&stranger, "water.measured.v1", &house.system, START, data, json!({}));
    assert_eq!(post_one(service.addr(), &crate::support::envelope(&body, &[&stranger])).problem(), (401, "signer-unknown".to_owned()));
    let enrolment = house.cast.enrolment(&house.cast.keeper, &[&house.cast.keeper], &stranger, &["keeper"], START);
    assert_eq!(post_one(service.addr(), &enrolment).problem(), (403, "not-permitted".to_owned()));
    assert_eq!(get(service.addr(), "/healthz").json()["size"], 5, "nothing was recorded");
}

#[test]
fn requests_that_are_none_are_told_why() {
    let (house, service) = House::served();
    let addr = service.addr();
    let note = house.cast.water(&house.system, START, json!({}));
    assert_eq!(post_one(addr, &note[..note.len() - 9]).problem(), (400, "envelope-malformed".to_owned()));
    assert_eq!(post_one(addr, b"").problem(), (400, "envelope-malformed".to_owned()));
    assert_eq!(post_lines(addr, &[]).problem(), (400, "bad-request".to_owned()));
    assert_eq!(send(addr, "POST", "/v1/events", &[("content-type", "text/plain")], &note).problem(), (415, "media".to_owned()));
    assert_eq!(send(addr, "POST", "/v1/events", &[], &note).problem(), (415, "media".to_owned()));
    assert_eq!(post_one(addr, &vec![b' '; 20_000_000]).problem(), (413, "too-large".to_owned()));
    assert_eq!(post_one(addr, &vec![b' '; BODY_BYTES_MAX + 1]).problem(), (413, "too-large".to_owned()));
    assert_eq!(post_one(addr, &vec![b' '; BODY_BYTES_MAX]).problem(), (400, "envelope-malformed".to_owned()));
    assert_eq!(post_lines(addr, &vec![b"{}".to_vec(); BATCH_EVENTS_MAX + 1]).problem(), (413, "too-large".to_owned()));
    assert_eq!(post_lines(addr, &vec![b"{}".to_vec(); BATCH_EVENTS_MAX]).text().lines().count(), BATCH_EVENTS_MAX);
    assert_eq!(get(addr, "/v1/nothing").problem(), (404, "not-found".to_owned()));
    assert_eq!(get(addr, "/v1/events/%FF").problem().0, 400);
    assert_eq!(send(addr, "DELETE", "/v1/events", &[], b"").problem(), (405, "method".to_owned()));
    assert_eq!(get(addr, "/v1/events/01JDH3G6C0TEST000000000001").problem(), (404, "not-found".to_owned()));
    assert_eq!(get(addr, "/v1/keys/nobody").problem(), (404, "not-found".to_owned()));
    assert_eq!(get(addr, "/v1/schemas/none").problem(), (404, "not-found".to_owned()));
}

#[test]
fn queries_are_refused_never_clamped() {
    let (_house, service) = House::served();
    for wrong in [
        "limit=0",
        "limit=1001",
        "limit=-1",
        "limit=x",
        "limit=1&limit=2",
        "known_at=0",
        "known_at=6",
        "known_at=yesterday",
        "as_of=2026-02-30",
        "as_of=2026-1-1",
        "explain=maybe",
        "cursor=x",
        "format=pdf",
        "colour=red",
        "known_at=2020-01-01T00:00:00Z",
    ] {
        assert_eq!(get(service.addr(), &format!("/v1/events?{wrong}")).problem(), (400, "bad-query".to_owned()), "{wrong}");
    }
    for wrong in [
        "inclusion",
        "inclusion?seq=5",
        "inclusion?seq=0&size=6",
        "inclusion?seq=0&sise=5",
        "consistency?first=0",
        "consistency?first=2&second=1",
        "consistency?first=1&second=6",
    ] {
        assert_eq!(get(service.addr(), &format!("/v1/log/proof/{wrong}")).problem(), (400, "bad-query".to_owned()), "{wrong}");
    }
    assert_eq!(get(service.addr(), &format!("/v1/events?after={}", "1".repeat(5000))).problem().0, 400);
}

#[test]
fn a_read_says_at_which_clocks_it_was_read() {
    let (house, service) = House::served();
    let addr = service.addr();
    let now = get(addr, "/v1/events").json();
    assert_eq!((&now["as_of"], &now["known_at"], &now["withheld"]), (&json!("2026-02-28T23:14:00.000Z"), &json!(5), &json!(0)));
    assert_eq!(now["simulated_clock"], json!(true));
    house.clock.advance_ms(60_000);
    post_one(addr, &house.cast.water(&house.system, START, json!({})));
    let earlier = get(addr, "/v1/events?known_at=2026-02-28T23:14:30Z&as_of=2026-03-01T09:14:00%2B10:00").json();
    assert_eq!(earlier, now, "what was known then does not change");
    let day = get(addr, "/v1/collection?as_of=2026-02-28").json();
    assert_eq!(day["as_of"], "2026-02-28T13:59:59.999Z", "the last millisecond of that day in Brisbane");
    assert_eq!((&day["known_at"], &day["origin"], &day["time_zone"]), (&json!(6), &json!(ORIGIN), &json!("Australia/Brisbane")));
    let root = from_base64_32(now["root"].as_str().unwrap()).unwrap();
    assert_eq!(service.journal().published().root(5), Some(root));
}

#[test]
fn pages_follow_each_other_at_the_clocks_of_the_first() {
    let (house, service) = House::served();
    let addr = service.addr();
    let first = get(addr, "/v1/events?limit=2");
    let link = first.headers["link"].clone();
    post_one(addr, &house.cast.water(&house.system, START, json!({})));
    house.clock.advance_ms(1_000);
    let path = link.trim_start_matches('<').split('>').next().unwrap().to_owned();
    assert!(link.ends_with("rel=\"next\"") && path.starts_with("/v1/events?limit=2&cursor="), "{link}");
    let second = get(addr, &path).json();
    let last = get(addr, &format!("/v1/events?limit=2&cursor={}", second["next"].as_str().unwrap()));
    let seqs = |page: &Value| page["items"].as_array().unwrap().iter().map(|item| item["seq"].as_u64().unwrap()).collect::<Vec<_>>();
    assert_eq!((seqs(&first.json()), seqs(&second), seqs(&last.json())), (vec![0, 1], vec![2, 3], vec![4]));
    assert_eq!((&second["known_at"], &second["as_of"]), (&first.json()["known_at"], &first.json()["as_of"]));
    assert!(last.json().get("next").is_none() && !last.headers.contains_key("link"));
    assert_eq!(get(addr, &format!("{path}&known_at=4")).problem().0, 400, "a cursor belongs to its question");
    let keys = get(addr, "/v1/keys?limit=3").json();
    let more = get(addr, &format!("/v1/keys?limit=3&cursor={}", keys["next"].as_str().unwrap())).json();
    assert_eq!((keys["items"].as_array().unwrap().len(), more["items"].as_array().unwrap().len()), (3, 2));
}

#[test]
fn an_unchanged_answer_is_not_sent_again() {
    let (house, service) = House::served();
    let path = "/v1/events?known_at=3&as_of=2026-03-01";
    let etag = get(service.addr(), path).headers["etag"].clone();
    post_one(service.addr(), &house.cast.water(&house.system, START, json!({})));
    let again = send(service.addr(), "GET", path, &[("if-none-match", &etag)], b"");
    assert_eq!((again.status, again.body.len()), (304, 0));
    let other = send(service.addr(), "GET", "/v1/events?known_at=4&as_of=2026-03-01", &[("if-none-match", &etag)], b"");
    assert_eq!(other.status, 200);
}

#[test]
fn a_note_is_read_back_as_it_was_written() {
    let (house, service) = House::served();
    let note = house.cast.water(&house.system, START, json!({"keycount": 7}));
    post_one(service.addr(), &note);
    let id = body_of(&note)["id"].as_str().unwrap().to_owned();
    let item = get(service.addr(), &format!("/v1/events/{id}")).json()["item"].clone();
    assert_eq!((&item["event"], &item["seq"]), (&body_of(&note), &json!(5)));
    assert_eq!(get(service.addr(), &format!("/v1/events/{id}?known_at=5")).problem().0, 404, "not known then");
    let key = get(service.addr(), &format!("/v1/keys/{}", house.cast.keeper.id())).json()["item"].clone();
    assert_eq!((&key["roles"], &key["in_force"], &key["enrolled_seq"]), (&json!(["keeper"]), &json!(true), &json!(3)));
}

#[test]
fn proofs_lead_to_the_checkpoint() {
    let (house, service) = House::served();
    let addr = service.addr();
    post_one(addr, &house.cast.water(&house.system, START, json!({})));
    let checkpoint = SignedCheckpoint::parse(get(addr, "/v1/log/checkpoint").text()).unwrap();
    assert!(checkpoint.signed_by(&house.cast.log_vkey()));
    let Checkpoint { size, root, .. } = checkpoint.checkpoint;
    let hashes = |path: &str| -> Vec<_> {
        let proof = get(addr, path).json();
        proof["hashes"].as_array().unwrap().iter().map(|hash| from_base64_32(hash.as_str().unwrap()).unwrap()).collect()
    };
    let leaf = service.journal().published().leaf_hash(2).unwrap();
    assert!(includes(&root, size, 2, &leaf, &hashes("/v1/log/proof/inclusion?seq=2")));
    let old = service.journal().published().root(3).unwrap();
    assert!(consistent(3, &old, size, &root, &hashes("/v1/log/proof/consistency?first=3")));
}

#[test]
fn a_bundle_holds_exactly_its_files_and_their_sums() {
    let (house, service) = House::served();
    post_one(service.addr(), &house.cast.water(&house.system, START, json!({})));
    let reply = get(service.addr(), "/v1/log/bundle");
    assert_eq!(reply.headers["content-type"], "application/x-tar");
    let mut files: BTreeMap<String, Vec<u8>> = BTreeMap::new();
    for entry in tar::Archive::new(&reply.body[..]).entries().unwrap() {
        let mut entry = entry.unwrap();
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).unwrap();
        files.insert(entry.path().unwrap().to_str().unwrap().to_owned(), bytes);
    }
    let text = |name: &str| String::from_utf8(files[name].clone()).unwrap();
    let sums: String =
        files.iter().filter(|(name, _)| *name != "SHA256SUMS").map(|(name, bytes)| format!("{}  {name}\n", hex(&sha256(bytes)))).collect();
    assert_eq!(text("SHA256SUMS"), sums);
    assert_eq!(text("log.vkey"), format!("{}\n", house.cast.log_vkey()));
    let leaves: Vec<Leaf> =
        text("leaves").split_terminator("\n\n").map(|leaf| Leaf::parse(&format!("{leaf}\n")).expect("a leaf")).collect();
    let mut tree = selachron_schemas::merkle::Tree::default();
    leaves.iter().for_each(|leaf| tree.push(leaf.hash()));
    let checkpoint = SignedCheckpoint::parse(&text("checkpoint")).unwrap().checkpoint;
    assert_eq!((tree.size(), tree.root(tree.size()).unwrap()), (checkpoint.size, checkpoint.root));
    assert_eq!(text("envelopes.ndjson").lines().count(), 6);
    assert!(files.contains_key("checkpoints/1") && files.contains_key("checkpoints/5"));
    let schemas = files.keys().filter(|name| name.starts_with("schemas/")).count();
    assert_eq!(schemas, catalogue::files().len());
    assert_eq!(files.len(), schemas + 7, "{:?}", files.keys());
    drop(service);
    let left: Vec<_> = std::fs::read_dir(house.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert!(left.iter().all(|name| !name.to_string_lossy().starts_with("export.")), "{left:?}");
}

#[test]
fn a_sealed_log_proves_and_takes_nothing() {
    let (house, service) = House::served();
    let addr = service.addr();
    let lost = Checkpoint { origin: ORIGIN.to_owned(), size: 99, root: [3; 32] };
    let signature = SignedCheckpoint::parse(&lost.sign(&[&house.cast.log])).unwrap().signature_of(&house.cast.log_vkey()).unwrap();
    let more = json!({"seensize": 99, "seenroot": base64(&[3; 32]), "seensig": base64(&signature)});
    let evidence = house.cast.water(&house.system, START, more);
    let reply = post_one(addr, &evidence);
    assert_eq!((reply.problem(), reply.headers["retry-after"].as_str()), ((503, "sealed".to_owned()), "1"));
    assert_eq!(post_one(addr, &house.cast.water(&house.system, START, json!({}))).problem(), (503, "sealed".to_owned()));
    assert_eq!((get(addr, "/readyz").status, get(addr, "/healthz").status), (503, 200));
    assert_eq!(
        (get(addr, "/v1/log/checkpoint").status, get(addr, "/v1/log/bundle").status, get(addr, "/v1/events").status),
        (200, 200, 200)
    );
    let id = body_of(&evidence)["id"].as_str().unwrap().to_owned();
    assert_eq!(std::fs::read(house.path().join(format!("fork-{id}.json"))).unwrap(), evidence);
    service.shutdown();
    let service = house.start().unwrap();
    assert_eq!(post_one(service.addr(), &evidence).problem(), (503, "sealed".to_owned()));
}

#[test]
fn the_description_names_every_path_and_its_problems() {
    let (_house, service) = House::served();
    let api = get(service.addr(), "/v1/openapi.json").json();
    assert_eq!(api["openapi"], "3.1.0");
    let paths = api["paths"].as_object().unwrap();
    for path in [
        "/v1/events",
        "/v1/events/{id}",
        "/v1/events/{id}/receipt",
        "/v1/keys",
        "/v1/collection",
        "/v1/log/bundle",
        "/v1/log/proof/inclusion",
        "/healthz",
    ] {
        assert!(paths.contains_key(path), "{path}");
    }
    let names: Vec<&str> =
        api["paths"]["/v1/events"]["get"]["parameters"].as_array().unwrap().iter().map(|p| p["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["as_of", "known_at", "limit", "cursor", "explain", "format", "after"]);
    let schema = get(service.addr(), "/v1/schemas/egg.candled.v1.schema.json");
    assert_eq!(schema.body, catalogue::files()["egg.candled.v1.schema.json"]);
}

#[test]
fn many_writers_at_once_each_get_their_receipt() {
    let (house, service) = House::served();
    let notes: Vec<Vec<u8>> = (0..64).map(|_| house.cast.water(&house.system, START, json!({}))).collect();
    let addr = service.addr();
    std::thread::scope(|scope| {
        let tasks: Vec<_> = notes
            .chunks(8)
            .map(|chunk| scope.spawn(move || chunk.iter().map(|note| post_one(addr, note).json()).collect::<Vec<_>>()))
            .collect();
        let mut seqs: Vec<u64> = Vec::new();
        for said in tasks.into_iter().flat_map(|task| task.join().unwrap()) {
            let receipt = Receipt::parse(said["receipt"].as_str().unwrap()).unwrap();
            receipt.check(&house.cast.log_vkey()).unwrap();
            seqs.push(receipt.leaf.seq);
        }
        seqs.sort_unstable();
        assert_eq!(seqs, (5..69).collect::<Vec<_>>());
    });
}
