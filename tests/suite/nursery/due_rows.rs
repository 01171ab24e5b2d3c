//! The rows of what is due that rest on forecasts, choices, marks and counts: each comes on its day
//! and goes when what it asks for is done.

use super::book::{day, subject};
use super::runner::{World, check};
use super::windows::{PAYNE, Story};
use selachron_record::domain::record::{DueItem, DueWhat};
use selachron_schemas::names::Subject;
use selachron_schemas::time::DAY_MS;

/// Rows of one kind on a day, with what comes due so many days ahead.
fn rows_ahead(world: &World, on: i64, ahead: i64, what: DueWhat) -> Vec<DueItem> {
    world.projections.at(day(on), u64::MAX, |view| {
        let items = view.due(day(on).plus_ms(ahead * DAY_MS));
        items.into_iter().filter(|item| item.what == what).collect()
    })
}

fn rows(world: &World, on: i64, what: DueWhat) -> Vec<DueItem> {
    rows_ahead(world, on, 0, what)
}

/// The only row of its kind: it names why, since when, and its notes.
#[track_caller]
fn row(world: &World, on: i64, what: DueWhat) -> DueItem {
    let rows = rows(world, on, what);
    let [row] = rows.as_slice() else { panic!("one row of {what:?} on day {on}: {rows:?}") };
    assert!(!row.why.is_empty() && !row.events.is_empty() && row.urgency > 0 && row.due_at <= day(on), "{row:?}");
    row.clone()
}

#[track_caller]
fn none(world: &World, on: i64, what: DueWhat) {
    assert_eq!(rows(world, on, what), [], "day {on}");
}

#[test]
fn no_embryo_seen_by_the_day_that_the_species_names() {
    let story = Story::listing(r#""first_embryo_seen_day": 30"#).egg("A1").egg("A2").egg("A3");
    let story = story.line(20, "egg A1 candled band 1").line(20, "egg A2 candled band 1").line(20, "egg A3 candled");
    let world = story.line(25, "egg A2 candled band 2 moving").line(33, "egg A1 candled band 2 moving").tell();
    none(&world, 29, DueWhat::NoEmbryoSeen);
    let row = row(&world, 31, DueWhat::NoEmbryoSeen);
    assert_eq!((row.label.as_str(), row.urgency, row.overdue_days), ("A1", 2, 1), "an embryo was seen in A2, and nobody saw into A3");
    assert!(row.why.contains("day 30 since laying") && row.why.contains("another person"), "{}", row.why);
    none(&world, 33, DueWhat::NoEmbryoSeen);
}

#[test]
fn no_embryo_seen_by_a_quarter_of_incubation_where_no_day_is_named() {
    // 140 days at 25 °C: a quarter is done by day 35.
    let story = Story::new(PAYNE).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=60, "Inc", 25.0);
    let world = story.line(20, "egg A1 candled band 1").line(50, "egg A1 held_apart").tell();
    none(&world, 28, DueWhat::NoEmbryoSeen);
    let row = row(&world, 45, DueWhat::NoEmbryoSeen);
    assert!(row.why.contains("past 0.25 of incubation") && row.why.contains("proves nothing"), "{}", row.why);
    none(&world, 51, DueWhat::NoEmbryoSeen);
}

#[test]
fn slits_not_seen_open_by_their_day() {
    // They open at 0.32 ± 0.08 of 140 days: two deviations above it is 0.48, day 67.
    let story = Story::new(PAYNE).egg("A1").reads(-1..=0, "Adults", 25.0).reads(0..=95, "Inc", 25.0);
    let world = story.line(30, "egg A1 candled band 3 moving").line(90, "egg A1 candled band 5 moving slits").tell();
    none(&world, 50, DueWhat::SlitsNotOpen);
    let row = row(&world, 88, DueWhat::SlitsNotOpen);
    assert!(row.why.contains("they open at about 0.32") && row.why.contains("from outside"), "{}", row.why);
    none(&world, 91, DueWhat::SlitsNotOpen);
}

#[test]
fn a_window_opens_and_passes() {
    let story = Story::new(PAYNE).egg("A1").egg("A2").reads(-1..=0, "Adults", 25.0).reads(0..=190, "Inc", 25.0);
    let world = story.line(120, "egg A2 hatched young Y2 alive").line(186, "egg A1 candled band 7 moving").tell();
    none(&world, 95, DueWhat::WindowOpen);
    let ahead = rows_ahead(&world, 95, 30, DueWhat::WindowOpen);
    assert_eq!(ahead.iter().map(|row| row.label.as_str()).collect::<Vec<_>>(), ["A1", "A2"], "what is to come is looked up ahead");
    assert!(ahead[0].why.starts_with("Its window will open") && ahead[0].due_at > day(95), "{}", ahead[0].why);
    let open = row(&world, 140, DueWhat::WindowOpen);
    assert_eq!((open.label.as_str(), open.urgency), ("A1", 2), "A2 has hatched");
    assert!(open.why.contains("(5 % to 95 %, grade single)"), "{}", open.why);
    none(&world, 140, DueWhat::PastWindow);
    let past = row(&world, 190, DueWhat::PastWindow);
    assert!(past.why.contains("Look again and leave it") && past.urgency == 1, "{}", past.why);
    none(&world, 190, DueWhat::WindowOpen);
}

#[test]
fn a_case_left_to_hatch_is_looked_at_again_when_the_choice_says_so() {
    let world = check(
        r#"
        day  0 egg A1 collected -> recorded
        day 10 by keeper about egg A1 opening.left {"reasons": ["few looks"], "decided_by": ["@person curator"], "look_again_after_hours": 48} -> recorded
        day 13 egg A1 candled band 6 moving -> recorded
        day 14 by keeper about egg A1 opening.left {"reasons": ["few looks"], "decided_by": ["@person curator"]} -> recorded
        "#,
    );
    none(&world, 11, DueWhat::LookAtLeft);
    let row = row(&world, 12, DueWhat::LookAtLeft);
    assert!(row.why.contains("look again 48 hours later") && row.urgency == 1, "{}", row.why);
    none(&world, 13, DueWhat::LookAtLeft);
    none(&world, 20, DueWhat::LookAtLeft);
}

#[test]
fn an_animal_told_by_its_pattern_is_photographed_again_and_a_temporary_mark_is_renewed() {
    let world = check(
        r#"
        day  0 animal F1 received -> recorded
        day  0 animal F2 received -> recorded
        day  1 animal F1 identified {"what": "given", "type": "natural pattern"} -> recorded
        day  1 animal F2 identified {"what": "given", "type": "temporary colour", "temporary": true, "until": "2026-01-21", "place_on_body": "tail"} -> recorded
        [rule] day 2 by curator with registrar policy {"photo_interval_days": 30} -> recorded
        day 25 animal F2 identified {"what": "given", "type": "temporary colour", "temporary": true, "until": "2026-02-20", "place_on_body": "tail"} -> recorded
        day 40 animal F1 identified {"what": "read", "type": "natural pattern"} -> recorded
        "#,
    );
    let before_the_rule = world.size_at("rule") - 1;
    let photographs = |on: i64, size: u64| {
        world.projections.at(day(on), size, |view| view.due(day(on)).iter().filter(|item| item.what == DueWhat::Photograph).count())
    };
    assert_eq!(photographs(39, before_the_rule), 0, "only where the house says how often");
    none(&world, 30, DueWhat::Photograph);
    let row_of_f1 = row(&world, 31, DueWhat::Photograph);
    assert!(row_of_f1.label == "F1" && row_of_f1.why.contains("every 30 days") && row_of_f1.urgency == 3, "{row_of_f1:?}");
    none(&world, 41, DueWhat::Photograph);
    none(&world, 19, DueWhat::MarkExpiring);
    let fading = row(&world, 21, DueWhat::MarkExpiring);
    assert!(fading.label == "F2" && fading.why.contains("until 2026-01-21"), "{fading:?}");
    none(&world, 26, DueWhat::MarkExpiring);
    assert_eq!(row(&world, 51, DueWhat::MarkExpiring).why.matches("2026-02-20").count(), 1, "the newer mark fades too");
}

#[test]
fn a_group_is_walked_to_and_seen_to_eat() {
    let world = check(
        r#"
        day 0 by curator with registrar policy {"walk_interval_hours": 24} -> recorded
        day 0 about group G1 group.formed {"label": "Brood 1", "species": "@species S", "counts": {"males": 0, "females": 0, "unknown": 8}, "how_counted": "each lifted once", "came": "received", "sender": "another house", "tank": "@tank Nur"} -> recorded
        day 2 about tank Nur tank.checked {"all_well": true} -> recorded
        day 4 about group G1 group.fed {"offered": [{"food": "squid"}], "eaten": "most"} -> recorded
        "#,
    );
    let walk = row(&world, 1, DueWhat::WalkGroup);
    assert!(walk.label == "Brood 1" && walk.why.contains("a walk every 24 hours") && walk.tank.is_some(), "{walk:?}");
    none(&world, 2, DueWhat::WalkGroup);
    assert_eq!(row(&world, 9, DueWhat::WalkGroup).overdue_days, 4, "from a day after it was fed");
    none(&world, 13, DueWhat::NotSeenToEat);
    let hungry = row(&world, 14, DueWhat::NotSeenToEat);
    assert!(hungry.why.starts_with("Last seen to eat") && hungry.why.contains("10 days"), "{}", hungry.why);
}

/// A count that did not arrive waits on a device; later it is a discrepancy to be settled.
#[test]
fn counts_that_a_device_still_holds() {
    let world = check(
        "
        day 0 by colleague count 1 egg A1 collected -> recorded
        day 1 by colleague count 3 egg B1 collected -> recorded
        ",
    );
    let missing = |on: i64| rows(&world, on, DueWhat::DeviceNotesMissing);
    assert_eq!(missing(1), [], "it may be on its way");
    let row = row(&world, 6, DueWhat::DeviceNotesMissing);
    assert!(row.why.contains("bring it on line") && row.subject.noun() == "key", "{row:?}");
    assert_eq!(missing(40), [], "by now nobody can hold it any more");
    let odd = rows(&world, 40, DueWhat::Discrepancy);
    assert_eq!(odd.iter().filter(|row| row.why.starts_with("Count missing")).count(), 1, "{odd:?}");
}

#[test]
fn a_loss_of_mass_is_one_row_until_somebody_who_may_has_said_what_it_is() {
    let world = check(
        "
        day  0 animal F1 received                -> recorded
        day  1 animal F1 measured mass 100       -> recorded
        [thin] day 9 animal F1 measured mass 80  -> recorded, discrepancy: mass lost since the last weighing
        day 11 by keeper explain thin meant mass lost since the last weighing -> recorded
        day 12 by vet explain thin meant mass lost since the last weighing -> recorded
        day 20 animal F1 measured mass 79        -> recorded
        ",
    );
    let about = |on: i64| -> Vec<DueWhat> {
        let id = Subject::parse(&subject("animal", "F1")).expect("a subject");
        world
            .projections
            .at(day(on), u64::MAX, |view| view.due(day(on)).iter().filter(|item| item.subject == id).map(|item| item.what).collect())
    };
    assert_eq!(about(8), []);
    assert_eq!(about(10), [DueWhat::MassLost], "once, with its discrepancy");
    let row = row(&world, 10, DueWhat::MassLost);
    assert!(row.discrepancy.is_some() && row.why.contains("20.0 % lost") && row.why.contains("veterinarian"), "{row:?}");
    assert_eq!(about(11), [DueWhat::MassLost], "a keeper's word does not settle what needs a person today");
    assert_eq!(about(13), []);
    assert_eq!(about(21), [], "one gram since is no loss");
}
