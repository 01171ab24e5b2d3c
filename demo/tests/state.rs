//! What the record's own fold says of the season: which ends its cases come to, and what it
//! finds at odds: exactly what the season puts there on purpose.

use selachron_demo::rehearsal::Rehearsal;
use selachron_demo::season::Season;
use selachron_demo::season::calendar::{LAST_DAY, ZONE, at};
use selachron_record::domain::nursery::Nursery;
use selachron_record::domain::record::{DueWhat, HistoryNote, Standing};
use selachron_record::domain::state::{Egg, EggFate, EggOrigin};
use selachron_record::domain::view::View;
use selachron_schemas::replay::Replay;
use std::collections::BTreeSet;

fn nursery(season: &Season) -> Nursery {
    let mut rehearsal = Rehearsal::new(season);
    rehearsal.play().expect("nothing is refused");
    let (mut nursery, mut replay) = (Nursery::new(ZONE), Replay::new(true));
    for recorded in &rehearsal.log {
        nursery.learn(recorded.verified.event(), &recorded.leaf, replay.keys());
        replay.apply(recorded.verified.event(), &recorded.leaf);
    }
    nursery
}

fn at_the_end(nursery: &Nursery) -> View<'_> {
    nursery.at(at(LAST_DAY, 20, 0), nursery.size())
}

#[test]
fn what_is_at_odds_is_what_the_season_means_to_be() {
    let nursery = nursery(&Season::from_seed(selachron_demo::season::USUAL_SEED));
    let found = at_the_end(&nursery).discrepancies();
    let kinds: BTreeSet<&str> = found.iter().map(|discrepancy| discrepancy.kind).collect();
    let meant = BTreeSet::from([
        "by a key under suspicion",
        "count missing",
        "fed after death",
        "mass lost since the last weighing",
        "opened without a second person",
        "opened without the approval the policy asks",
        "trainee's note not endorsed",
        "vouched for",
    ]);
    assert_eq!(kinds, meant);
    assert!(found.len() < 16, "{} discrepancies", found.len());
}

#[test]
fn the_story_reads_differently_then_and_now() {
    let season = Season::from_seed(selachron_demo::season::USUAL_SEED);
    let (nursery, story) = (nursery(&season), &season.story);
    let told = |size: u64| {
        let history = nursery.at(at(LAST_DAY, 20, 0), size).history(&story.animal);
        history.into_iter().filter(|note| note.kind == "animal.measured.v1").nth(1).expect("measured at a month")
    };
    let (then, now) = (told(nursery.size_at(story.then)), told(nursery.size()));
    assert_eq!((then.standing, now.standing), (Standing::Stands, Standing::PutRight));
    assert_eq!(now.acts_told.len(), 2, "a correction, and a correction of it");
    let mass_g = |note: &HistoryNote| note.data["mass_g"].as_f64().expect("weighed");
    assert!(mass_g(&then) > 5.0 * mass_g(&now), "a point was left out: {} g, now {} g", mass_g(&then), mass_g(&now));
    let taken_back = nursery.at(at(LAST_DAY, 20, 0), nursery.size()).history(&story.animal);
    assert_eq!(taken_back.iter().filter(|note| note.standing == Standing::TakenBack).count(), 1);
}

#[test]
fn cases_end_as_the_trade_reports_whatever_the_seed() {
    for seed in 0..8 {
        let nursery = nursery(&Season::from_seed(seed));
        let eggs = at_the_end(&nursery).eggs();
        let collected: Vec<&Egg> = eggs.iter().filter(|egg| matches!(egg.origin, EggOrigin::Collected { .. })).collect();
        let hatched = |egg: &&&Egg| matches!(egg.fate, EggFate::Hatched { .. });
        let seen: Vec<&Egg> = collected.iter().copied().filter(|egg| egg.embryo_seen_alive.is_some()).collect();
        let rate = |eggs: &[&Egg]| eggs.iter().filter(hatched).count() as f64 / eggs.len() as f64;
        assert!((0.40..0.56).contains(&rate(&collected)), "seed {seed}: {} of those collected", rate(&collected));
        assert!((0.62..0.85).contains(&rate(&seen)), "seed {seed}: {} of those with an embryo seen", rate(&seen));
        assert!(eggs.iter().all(|egg| egg.fate != EggFate::Open), "seed {seed}: every case has come to its end");
    }
}

#[test]
fn nothing_but_what_a_person_must_say_is_due_when_the_season_ends() {
    let nursery = nursery(&Season::from_seed(selachron_demo::season::USUAL_SEED));
    let view = at_the_end(&nursery);
    let due = view.due(at(LAST_DAY, 20, 0));
    let (to_sign, to_settle): (Vec<_>, Vec<_>) = due.into_iter().partition(|item| item.what == DueWhat::SignAfterwards);
    assert_eq!(to_sign.len(), 1, "the urgent opening that nobody has endorsed: {to_sign:?}");
    assert!(to_settle.iter().all(|item| item.what == DueWhat::Discrepancy), "no look and no meal: {to_settle:?}");
    let mut words: Vec<&str> = to_settle.iter().filter_map(|item| item.why.split(':').next()).collect();
    words.sort_unstable();
    let wanted = [
        "By a key under suspicion",
        "By a key under suspicion",
        "Count missing",
        "Mass lost since the last weighing",
        "Trainee's note not endorsed",
        "Trainee's note not endorsed",
    ];
    assert_eq!(words, wanted);
    let settled = view.discrepancies().into_iter().filter(|found| !found.open).map(|found| found.kind).collect::<Vec<_>>();
    assert_eq!(settled, ["fed after death"], "the curator has said what became of it");
}

/// A discrepancy that is none is noise, and people stop reading where there is much of it.
#[test]
fn a_season_names_few_discrepancies_for_its_notes() {
    for seed in 0..8 {
        let nursery = nursery(&Season::from_seed(seed));
        let (found, notes) = (at_the_end(&nursery).discrepancies().len() as f64, nursery.size() as f64);
        assert!(found > 0.0 && 100.0 * found / notes < 1.0, "seed {seed}: {found} in {notes} notes");
    }
}
