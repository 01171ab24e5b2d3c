//! The season: the same from the same seed, true to its own calendar, and never refused.

use selachron_demo::rehearsal::Rehearsal;
use selachron_demo::season::Season;
use selachron_demo::season::calendar::{FIRST_DAY, LAST_DAY, date_of};
use selachron_demo::season::diary::is_honest_about_lateness;
use selachron_demo::season::note::Sending;
use selachron_demo::season::people::Signer;
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::audit::{Scope, Verdict};
use selachron_schemas::catalogue::catalogue;
use std::collections::{BTreeMap, BTreeSet};

fn usual() -> Season {
    Season::from_seed(selachron_demo::season::USUAL_SEED)
}

fn counts(season: &Season) -> BTreeMap<&'static str, usize> {
    season.notes.iter().filter(|note| note.sending != Sending::Never).fold(BTreeMap::new(), |mut counts, note| {
        *counts.entry(note.kind).or_insert(0) += 1;
        counts
    })
}

#[test]
fn the_same_seed_tells_the_same_season() {
    let (season, other) = (usual(), Season::from_seed(8));
    assert_eq!(season, usual());
    assert_ne!(season.notes, other.notes);
}

#[test]
fn nothing_is_refused_under_any_of_many_seeds() {
    for seed in 0..12 {
        let season = Season::from_seed(seed);
        let mut rehearsal = Rehearsal::new(&season);
        rehearsal.play().unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
        assert_eq!(rehearsal.log.len(), season.sent(), "seed {seed}");
    }
}

#[test]
fn a_beginning_of_the_season_is_a_log_too() {
    let season = usual();
    let mut rehearsal = Rehearsal::new(&season);
    rehearsal.play_first(40).expect("nothing is refused");
    let size = rehearsal.replay.size();
    rehearsal.play_first(0).expect("nothing is refused");
    assert_eq!(rehearsal.replay.size(), size);
    assert!(rehearsal.checkpoint().contains(&format!("\n{size}\n")), "the checkpoint names the size");
}

#[test]
fn the_auditors_verifier_finds_no_fault_in_it() {
    let season = usual();
    let mut rehearsal = Rehearsal::new(&season);
    rehearsal.play().expect("nothing is refused");
    let trust = Trust { log_key: Some(rehearsal.log_vkey()), ..Trust::default() };
    let audit = selachron_verify::files(&rehearsal.bundle().into(), &trust, Scope::Whole);
    assert_eq!(audit.verdict, Verdict::Sound, "{:?}", audit.faults);
    assert!(audit.simulated_clock);
    let words = selachron_verify::words::text(&audit);
    assert!(words.contains("invented season, simulated clock"), "{words}");
}

/// What a season does not hold, if all goes well: an animal or a case that stays missing and is written
/// off by curator and registrar. And permits and legal status: an invented season lists none;
/// nor a copy elsewhere, which nobody keeps of an invented record.
const NOT_IN_THE_SEASON: &[&str] = &[
    "animal.written_off.v1",
    "copy.verified.v1",
    "egg.written_off.v1",
    "permit.ended.v1",
    "permit.recorded.v1",
    "permit.used.v1",
    "species.status_noted.v1",
];

#[test]
fn every_kind_that_a_nursery_writes_occurs() {
    let season = usual();
    let used: BTreeSet<&str> = counts(&season).into_keys().collect();
    let unused: Vec<&str> = catalogue().kinds().map(|kind| kind.name.as_str()).filter(|name| !used.contains(name)).collect();
    let unused: Vec<&str> = unused.into_iter().filter(|name| !NOT_IN_THE_SEASON.contains(name)).collect();
    // Withholding a body and replacing keys of the log or the roots are rare administration, no part of a usual year.
    assert_eq!(unused, ["body.withheld.v1", "log.rekeyed.v1", "root.replaced.v1"]);
}

#[test]
fn the_size_is_that_of_a_small_nursery() {
    for seed in 0..12 {
        let season = Season::from_seed(seed);
        let counts = counts(&season);
        let cases = counts["egg.collected.v1"];
        assert!((60..=110).contains(&cases), "seed {seed}: {cases} cases");
        assert!((1500..=3700).contains(&season.sent()), "seed {seed}: {} notes", season.sent());
    }
}

#[test]
fn times_keep_their_order() {
    let season = usual();
    let sent: BTreeMap<_, _> = season.steps.iter().flat_map(|step| step.sends.iter().map(move |handle| (*handle, step.clock))).collect();
    for note in &season.notes {
        let told = format!("{} of {:?}", note.kind, date_of(note.time));
        assert!(note.time <= note.signed_at, "{told} is signed before it happened");
        assert!(note.timeafter.is_none_or(|after| after < note.time), "{told} happened before it could");
        assert!(is_honest_about_lateness(note), "{told} is late and says nothing");
        assert!((FIRST_DAY..=LAST_DAY).contains(&date_of(note.time)), "{told} lies outside the season");
        if let Some(clock) = sent.get(&note.handle) {
            assert!(note.signed_at <= *clock, "{told} is sent before it is signed");
        }
    }
    assert!(season.steps.windows(2).all(|pair| pair[0].clock < pair[1].clock), "the clock only goes on");
}

#[test]
fn what_should_happen_to_notes_happens() {
    let season = usual();
    let late = season.notes.iter().filter(|note| note.late_reason.is_some()).count();
    assert!((5..60).contains(&late), "{late} late notes");
    assert!(season.steps.iter().any(|step| step.after_offline && step.sends.len() > 10), "the tablets waited for two days");
    assert_eq!(season.notes.iter().filter(|note| note.sending == Sending::Never).count(), 2);
    let trainee = season.notes.iter().filter(|note| note.author == Signer::Trainee).count();
    let endorsed = season.notes.iter().filter(|note| note.kind == "record.endorsed.v1").count();
    assert_eq!(endorsed + 2, trainee);
    assert!(endorsed > 3, "{endorsed} endorsements");
}
