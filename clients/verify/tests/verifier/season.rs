//! The invented season: founding, keys, tanks, cases, young, second thoughts, one withheld body.

use crate::log::{Draft, Log, ORIGIN, Who, note, ulid};
use Who::{Curator, Keeper, Registrar, RootA, RootB, Second, Vet};
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::merkle::sha256;
use serde_json::{Value, json};

pub fn subject(noun: &str, word: &str, number: u64) -> String {
    format!("{noun}/{}", ulid(word, number))
}

pub fn egg(number: u64) -> String {
    subject("egg", "EGG0", number)
}

pub fn animal(number: u64) -> String {
    subject("animal", "ANMA", number)
}

pub fn tank(number: u64) -> String {
    subject("tank", "TANK", number)
}

pub fn person(who: Who) -> String {
    format!("person/{}", ulid("PERS", who as u64))
}

/// The founding of a log, signed by both its root keys.
pub fn founding(log: &Log) -> Draft {
    let root = |who| json!({"public_key": log.public(who), "person": person(who)});
    let data = json!({
        "name": "Invented Nursery", "country": "AU", "time_zone": "Australia/Brisbane", "origin": ORIGIN,
        "root_keys": [root(RootA), root(RootB)], "root_threshold": 2, "log_vkey": log.vkey().to_string(), "simulated_clock": true,
    });
    note(RootA, "collection.founded.v1", "collection", data).with(&[RootB])
}

/// An enrolment of `who`, written by `by`.
pub fn enrolment(log: &Log, who: Who, roles: Value, by: Who) -> Draft {
    let data = json!({"public_key": log.public(who), "person": person(who), "roles": roles, "device": "invented tablet"});
    note(by, "key.enrolled.v1", &format!("key/{}", log.keyid(who)), data)
}

/// Founded, with all keys enrolled, and the house in order.
pub fn opened(seed: u8) -> Log {
    let mut log = Log::new(seed);
    log.record(founding(&log));
    let first = enrolment(&log, Registrar, json!(["registrar"]), RootA).with(&[RootB, Registrar]);
    log.record(first);
    let curator = enrolment(&log, Curator, json!(["curator"]), RootA).with(&[RootB, Curator]);
    log.record(curator);
    for (who, role) in [(Keeper, "keeper"), (Second, "keeper"), (Vet, "veterinarian")] {
        let draft = enrolment(&log, who, json!([role]), Registrar).with(&[who]);
        log.record(draft);
    }
    log.record(note(Curator, "policy.set.v1", "collection", json!({"candling_interval_days": 7})).with(&[Registrar]));
    log.record(note(
        Keeper,
        "species.listed.v1",
        &subject("species", "SPEC", 1),
        json!({"scientific_name": "Chiloscyllium punctatum", "common_name": "brownbanded bamboo shark", "length_basis": "total"}),
    ));
    log.record(note(Keeper, "system.set_up.v1", &subject("system", "SYST", 1), json!({"label": "Warm 1", "water": "tropical"})));
    for number in 1..=2 {
        let data = json!({"label": format!("N-{number}"), "purpose": "nursery", "system": subject("system", "SYST", 1)});
        log.record(note(Keeper, "tank.set_up.v1", &tank(number), data));
    }
    log
}

pub fn collected(number: u64) -> Draft {
    let data = json!({"label": format!("CP-26-{number:03}"), "species": subject("species", "SPEC", 1), "from_tank": tank(1), "laid": "single", "case": "whole", "yolk": "seen"});
    note(Keeper, "egg.collected.v1", &egg(number), data)
}

pub fn candled(number: u64, band: u64) -> Draft {
    note(Keeper, "egg.candled.v1", &egg(number), json!({"seen_into": true, "band": band, "movement": "moving"}))
}

/// Some seventy notes.
pub fn season(seed: u8) -> Log {
    let mut log = opened(seed);
    // Four cases come in together: one commit.
    log.commit(collected(1));
    for number in 2..=4 {
        log.join(collected(number));
    }
    log.publish();
    let personal = log.record(note(
        Keeper,
        "water.measured.v1",
        &subject("system", "SYST", 1),
        json!({"temperature_c": 25.1, "instrument": "probe 3", "remark": "Somebody's name"}),
    ));
    for week in 1..=6 {
        log.wait_days(7);
        log.seen = Some(log.size());
        for number in 1..=4 {
            log.record(candled(number, week));
        }
    }
    withhold(&mut log, personal);
    let photo = b"the pixels of an invented photo".to_vec();
    let lost = json!({"apparent_cause": "cloudy or decomposed", "plainly_dead": true, "photo_sha256": hex(&sha256(&photo))});
    log.attachments.push(photo);
    log.record(note(Keeper, "egg.lost.v1", &egg(4), lost));
    second_thoughts(&mut log);
    hatching(&mut log);
    keys_come_and_go(&mut log);
    report(&mut log);
    log
}

pub fn withhold(log: &mut Log, seq: u64) {
    log.record(withholding(log, seq));
    log.hide(seq);
}

pub fn withholding(log: &Log, seq: u64) -> Draft {
    note(Registrar, "body.withheld.v1", "collection", log.facts_of(seq)).with(&[Curator])
}

fn second_thoughts(log: &mut Log) {
    let wrong = log.record(candled(1, 7));
    let corrected = json!({"target": log.id_of(wrong), "reason": "wrong band tapped", "replacement": {"data": {"seen_into": true, "band": 6, "movement": "moving"}}});
    let act = log.record(note(Keeper, "record.corrected.v1", &egg(1), corrected).over(json!({"expect": 8})));
    log.record(note(Curator, "record.retracted.v1", &egg(1), json!({"target": log.id_of(act), "reason": "it was band 7 after all"})));
    let leaf = &log.notes[usize::try_from(wrong).unwrap()].0;
    let endorsed = json!({"seq": wrong, "body_sha256": base64(&leaf.body_sha256)});
    log.record(note(Vet, "record.endorsed.v1", &egg(1), endorsed));
}

fn hatching(log: &mut Log) {
    let opened = json!({"extent": "end slit widened", "known_dead": false, "left": "open in the water", "outcome": "left to hatch"});
    log.record(note(Keeper, "egg.opened.v1", &egg(1), opened.clone()).with(&[Vet]));
    log.record(note(Keeper, "egg.opened.v1", &egg(2), opened));
    for number in 1..=3 {
        let young = json!({"how_known": "found hatched", "young": [{"animal": animal(number), "state": "alive", "label": format!("Y{number}"), "tank": tank(2)}]});
        log.record(note(Keeper, "egg.hatched.v1", &egg(number), young));
        for _ in 0..3 {
            log.wait_days(2);
            log.seen = Some(log.size());
            log.record(note(Second, "animal.fed.v1", &animal(number), json!({"offered": [{"food": "squid mantle"}], "eaten": "not seen"})));
        }
        log.record(note(Vet, "animal.measured.v1", &animal(number), json!({"mass_g": 19.9})));
    }
    log.record(note(Keeper, "animal.moved.v1", &animal(1), json!({"to_tank": tank(1), "from_tank": tank(2)})));
}

/// The second keeper's tablet is lost; a note that was on it is vouched for.
fn keys_come_and_go(log: &mut Log) {
    let key = format!("key/{}", log.keyid(Second));
    log.record(note(Registrar, "key.revoked.v1", &key, json!({"reason": "tablet lost"})));
    let fed = json!({"offered": [{"food": "prawn", "pieces": 2}], "eaten": "not seen"});
    log.record(note(Second, "animal.fed.v1", &animal(2), fed).with(&[Registrar]));
}

fn report(log: &mut Log) {
    let report = b"{\"invented\":true}".to_vec();
    let checkpoint = log.checkpoint();
    let data = json!({
        "query": "/v1/reports/annual/2026", "as_of": log.now.utc_text(), "known_at": checkpoint.size, "root": base64(&checkpoint.root),
        "software": "selachrond 0.1.0", "tzdb": "2026a", "sha256": hex(&sha256(&report)),
    });
    log.reports.push(report);
    log.record(note(Curator, "report.issued.v1", "collection", data));
}
