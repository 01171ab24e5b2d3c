//! Bundles that are right, and what is said of them.

use crate::log::{Who, about, assert_fault, assert_sound, by_key, by_seen, check, note, told};
use crate::season::{egg, season};
use selachron_schemas::audit::folder::Folder;
use selachron_schemas::audit::spread::OneByOne;
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::audit::{Scope, Verdict, audit};
use selachron_schemas::encoding::base64;
use serde_json::json;
use std::path::Path;

/// Made from the rules by independent code; its `data` is not meant to satisfy any schema.
#[test]
fn the_bundle_of_the_check_vectors_is_accepted() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/log/bundle");
    let audit = selachron_verify::bundle_of_scope(&path, &Trust::default(), Scope::EncodingsOnly).unwrap();
    assert_eq!(told(&audit), Vec::<String>::new());
    assert_eq!((audit.verdict, audit.size, audit.withheld), (Verdict::NotTied, 9, 1));
    assert_eq!(base64(&audit.root.unwrap()), "YZwjs1SlTSKL/P4J4O+Q0GjWLRbrBZhFWV6xkre5P38=");
    // The same bundle as a whole one lacks its schemas, and its data breaks them.
    let whole = selachron_verify::bundle(&path, &Trust::default()).unwrap();
    assert_eq!(whole.verdict, Verdict::Broken);
}

#[test]
fn a_season_is_accepted_with_each_sort_of_trust() {
    let log = season(1);
    let files = log.files();
    assert!(log.size() > 60, "{} notes", log.size());
    assert_sound(&check(&files, &by_key(&log)));
    let older = &log.checkpoints[&20];
    let newest = &log.checkpoints[&log.size()];
    let receipt = log.receipt(17);
    for kept in [older, newest, &receipt] {
        let audit = check(&files, &by_seen(&[kept]));
        assert_sound(&audit);
    }
    assert_eq!(check(&files, &by_seen(&[older, newest])).ties.kept_up_to, Some(log.size()));
    let alone = check(&files, &Trust::default());
    assert_eq!((alone.verdict, alone.faults.len()), (Verdict::NotTied, 0));
    assert!(alone.simulated_clock);
    assert_eq!(alone.log_keys[0].of, log.vkey().to_string());
    assert_eq!(alone.root_keys.len(), 2);
    assert_eq!(alone.root, Some(log.checkpoint().root));
}

#[test]
fn findings_are_no_faults() {
    let log = season(1);
    let audit = check(&log.files(), &by_key(&log));
    assert_sound(&audit);
    let expected = ["approval-missing", "vouched-for", "withheld"];
    assert_eq!(about(&audit).iter().map(String::as_str).collect::<Vec<_>>(), expected);
}

#[test]
fn counts_left_out_and_used_twice_are_findings() {
    let mut log = season(1);
    let skipped = note(Who::Keeper, "egg.candled.v1", &egg(1), json!({"seen_into": false})).over(json!({"keycount": 1000}));
    let seq = log.record(skipped);
    let twice = log.record(note(Who::Vet, "egg.candled.v1", &egg(1), json!({"seen_into": false})).over(json!({"keycount": 1})));
    let audit = check(&log.files(), &by_key(&log));
    assert_sound(&audit);
    let missing = audit.findings.iter().find(|finding| finding.seq == Some(seq)).unwrap();
    assert!(missing.says.contains("are missing") && missing.says.contains("may still be on their device"), "{missing}");
    assert!(audit.findings.iter().any(|finding| finding.seq == Some(twice) && finding.says.starts_with("two notes with one number")));
    log.wait_days(2);
    log.record(note(Who::Vet, "egg.candled.v1", &egg(1), json!({"seen_into": false})));
    let later = check(&log.files(), &by_key(&log));
    assert!(
        later.findings.iter().any(|finding| finding.seq == Some(seq) && finding.says.contains("for 48 hours")),
        "{:#?}",
        later.findings
    );
}

#[test]
fn a_count_given_up_is_no_gap() {
    let mut log = season(1);
    let key = format!("key/{}", log.keyid(Who::Vet));
    let next = log.events.iter().filter(|event| event["keyid"] == log.keyid(Who::Vet).to_string()).count() as u64 + 1;
    let given_up = json!({"keycount": next, "reason": "refused, and nothing takes its place"});
    log.record(note(Who::Vet, "note.abandoned.v1", &key, given_up).over(json!({"keycount": next + 1})));
    let audit = check(&log.files(), &by_key(&log));
    assert_sound(&audit);
    assert!(!about(&audit).contains("count-missing"), "{:#?}", audit.findings);
}

#[test]
fn a_suspected_key_and_a_fast_clock_are_findings() {
    let mut log = season(1);
    let since = log.notes[20].0.recorded_at;
    let ahead = log.now.plus_ms(3_600_000).utc_text();
    let fast = log.record(
        note(Who::Vet, "egg.candled.v1", &egg(1), json!({"seen_into": false}))
            .over(json!({"signedtime": ahead, "late": true, "latereason": "the clock is wrong"})),
    );
    let key = format!("key/{}", log.keyid(Who::Keeper));
    log.record(note(Who::Registrar, "key.revoked.v1", &key, json!({"reason": "seen by others", "suspected_since": since.utc_text()})));
    let audit = check(&log.files(), &by_key(&log));
    assert_sound(&audit);
    let clock = audit.findings.iter().find(|finding| finding.seq == Some(fast)).unwrap();
    assert_eq!(clock.says, "the device's clock was 3540 s ahead of the log's");
    let suspected: Vec<u64> =
        audit.findings.iter().filter(|finding| finding.says.contains("suspected")).filter_map(|finding| finding.seq).collect();
    assert!(suspected.contains(&20) && suspected.iter().all(|seq| *seq >= 20), "{suspected:?}");
}

#[test]
fn a_report_over_another_root_is_a_finding() {
    let mut log = season(1);
    let data = json!({
        "query": "/v1/reports/annual/2026", "as_of": log.now.utc_text(), "known_at": 9, "root": base64(&[7; 32]),
        "software": "selachrond 0.1.0", "tzdb": "2026a", "sha256": "0".repeat(64),
    });
    let seq = log.record(note(Who::Curator, "report.issued.v1", "collection", data));
    let audit = check(&log.files(), &by_key(&log));
    assert_sound(&audit);
    let says: Vec<_> = audit.findings.iter().filter(|finding| finding.seq == Some(seq)).map(|finding| finding.says.as_str()).collect();
    assert_eq!(says.len(), 2, "another root, and the report itself is not here: {says:?}");
}

#[test]
fn the_answer_does_not_depend_on_the_threads() {
    let log = season(1);
    let files = Folder::from(log.files());
    let trust = by_key(&log);
    let alone = audit(&files, &trust, Scope::Whole, &OneByOne);
    assert_eq!(alone, selachron_verify::files(&files, &trust, Scope::Whole));
    assert_sound(&alone);
}

/// A hatch that is withheld takes the young's beginning with it; their later notes stay good. A log
/// of today asks for a replacement that names the young; a bundle may come from one that did not.
#[test]
fn notes_about_young_whose_hatch_is_withheld_are_still_accepted() {
    let mut log = season(1);
    let hatch = log.events.iter().position(|event| event["type"] == "egg.hatched.v1").unwrap() as u64;
    log.slip_in(crate::season::withholding(&log, hatch));
    log.hide(hatch);
    let audit = check(&log.files(), &by_key(&log));
    assert_sound(&audit);
    assert_eq!(audit.withheld, 2);
    assert!(about(&audit).contains("cannot-tell"), "{:#?}", audit.findings);
    // A hatch brings in young, never a case.
    let seq = log.slip_in(crate::season::candled(99, 2));
    assert_fault(&check(&log.files(), &by_key(&log)), seq, "was never brought into this record");
}

#[test]
fn leaving_out_older_checkpoints_is_no_fault() {
    let log = season(1);
    let mut files = log.files();
    files.retain(|path, _| !path.starts_with("checkpoints/"));
    crate::log::mend_sums(&mut files);
    assert_sound(&check(&files, &by_key(&log)));
}
