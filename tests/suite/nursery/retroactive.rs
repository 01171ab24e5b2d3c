//! Notes that change what had been so already. The three cases are those of the pattern
//! “Retroactive Event” (M. Fowler's collection of patterns for temporal data; from memory): an event
//! that comes late, one that should never have been, and one that was otherwise than told.

use super::book::{day, subject};
use super::runner::{World, check};
use selachron_record::domain::compare::Comparison;
use selachron_schemas::names::Subject;
use selachron_schemas::time::HOUR_MS;
use selachron_tests::world::{Who, World as House};
use serde_json::{Map, Value, json};

fn id(noun: &str, name: &str) -> Subject {
    Subject::parse(&subject(noun, name)).unwrap()
}

/// What changed about a thing between the notes up to one tag and those up to the end, at day 400.
fn compared(world: &World, tag: &str, about: &Subject) -> Comparison {
    let from = world.size_at(tag);
    world.projections.at(day(400), u64::MAX, |view| view.nursery().compare(about, day(400), (from, view.known_at())))
}

#[test]
fn an_event_that_comes_late() {
    let world = check(
        "
        day  0 egg A1 collected                               -> recorded
        day 12 egg A1 candled band 3 moving                   -> recorded
        [before] day 20 egg A1 candled band 4 moving          -> recorded
        # A move of day 10 is told on day 21: the case was elsewhere all the time.
        [late] day 10 signed 21 arrives 21 egg A1 moved to Nur from Inc -> recorded
        as of day 15, known at before, egg A1 is open in Inc
        as of day 15, egg A1 is open in Nur
        as of day 9, egg A1 is open in Inc
        # And one of day 11, older in the log and newer in time, is not undone by it.
        day 11 signed 22 arrives 22 egg A1 moved to Inc from Nur -> recorded
        as of day 10, egg A1 is open in Nur
        as of day 15, egg A1 is open in Inc
        ",
    );
    let found = compared(&world, "before", &id("egg", "A1"));
    assert_eq!((found.new.len(), found.changed.len(), found.gone.len()), (2, 0, 0));
    assert!(found.new.iter().all(|note| note.latereason.is_some() && note.time < day(12)), "both are told late");
    assert!(found.item.iter().any(|change| change.at == "/place/since/time"), "{:?}", found.item);
}

#[test]
fn an_event_that_should_never_have_been() {
    let world = check(
        "
        day  0 egg A1 collected                               -> recorded
        day  0 egg B1 collected                               -> recorded
        [lost] day 30 egg A1 lost plainly photo               -> recorded
        [before] day 31 egg B1 candled band 2 moving          -> recorded
        # It was B1 that was lost: the note is taken back, and written where it belongs.
        [back] day 32 retract lost                            -> recorded
        day 30 signed 32 arrives 32 egg B1 lost plainly photo -> recorded, discrepancy: seen alive after loss
        egg A1 is open in Inc
        known at before, egg A1 is lost, not determined
        as of day 30, known at before, egg B1 is open in Inc
        # Taking back was itself a mistake: taken back in its turn, the first note stands again.
        [again] day 33 retract back                           -> recorded
        egg A1 is lost, not determined
        known at back, egg A1 is open in Inc
        ",
    );
    let found = compared(&world, "back", &id("egg", "A1"));
    let standing: Vec<String> = found.changed[0].members.iter().map(|change| change.at.clone()).collect();
    assert!(standing.contains(&"/standing".to_owned()), "{standing:?}");
}

#[test]
fn an_event_that_was_otherwise_than_told() {
    let world = check(
        "
        day  0 egg A1 collected                               -> recorded
        day  0 egg B1 collected                               -> recorded
        [look] day 20 egg A1 candled band 5 moving            -> recorded
        # The band, then the day, then the case it was: each correction says all that was wrong.
        [band] day 21 correct look data egg A1 candled band 3 moving  -> recorded
        [day] day 22 correct look day 18 after 16 data egg A1 candled band 3 moving -> recorded
        [case] day 23 correct look day 18 after 16 subject egg B1 data egg B1 candled band 3 moving -> recorded
        # The last one is wrong itself and is put right: it was A1 after all.
        [fix] day 24 correct case subject egg A1              -> recorded
        ",
    );
    let bands = |about: &str, known_at: u64| -> Vec<Option<u8>> {
        world.projections.at(day(400), known_at, |view| view.egg(&id("egg", about)).unwrap().looks.iter().map(|look| look.band).collect())
    };
    let sizes: Vec<u64> = ["look", "band", "day", "case", "fix"].iter().map(|tag| world.size_at(tag)).collect();
    let a1: Vec<_> = sizes.iter().map(|size| bands("A1", *size)).collect();
    assert_eq!(a1, [vec![Some(5)], vec![Some(3)], vec![Some(3)], vec![], vec![Some(3)]]);
    let b1: Vec<_> = sizes.iter().map(|size| bands("B1", *size).len()).collect();
    assert_eq!(b1, [0, 0, 0, 1, 0]);
    // The history tells each corrected pair, and B1's still shows that the note was once its own.
    world.projections.at(day(400), u64::MAX, |view| {
        let history = view.history(&id("egg", "A1"));
        let look = history.iter().find(|note| note.kind == "egg.candled.v1").unwrap();
        let pairs: Vec<String> = look.put_right.iter().map(|pair| format!("{} {:?} {:?}", pair.at, pair.before, pair.after)).collect();
        assert_eq!(pairs.len(), 3, "{pairs:?}");
        assert!(pairs.iter().any(|pair| pair == "/data/band Some(Number(5)) Some(Number(3))"), "{pairs:?}");
        assert!(pairs.iter().any(|pair| pair.starts_with("/time ")) && pairs.iter().any(|pair| pair.starts_with("/timeafter None ")));
        assert_eq!((look.time, look.timeafter), (day(18), Some(day(16))));
        let other = view.history(&id("egg", "B1"));
        assert!(other.iter().any(|note| note.seq == look.seq && note.subject == id("egg", "A1")));
    });
    // As of day 17 nothing had been seen yet; as of day 19 it had, which on day 20 nobody knew.
    let looks = |on: i64, size: u64| world.projections.at(day(on), size, |view| view.egg(&id("egg", "A1")).unwrap().looks.len());
    assert_eq!((looks(17, u64::MAX), looks(19, u64::MAX), looks(19, sizes[0])), (0, 1, 0));
}

#[test]
fn a_time_that_passed_the_bound_of_its_interval_drops_it() {
    check(
        "
        day  0 egg A1 collected                                     -> recorded
        [hatch] day 60 after 58 egg A1 hatched young Y1 alive       -> recorded
        day 61 correct hatch day 57                                 -> recorded
        as of day 57, egg A1 is hatched unaided
        as of day 56, egg A1 is open in Inc
        ",
    );
}

#[test]
fn a_history_says_what_was_not_known_then_and_what_changed_since() {
    let mut house = House::new();
    let species = house.species("Inventus exemplaris", "invented shark");
    let (adults, trays) = (house.tank("Adults", "adults"), house.tank("Trays", "incubation"));
    let egg = house.egg("A1", &species, &adults, Some(&trays));
    house.pass_days(7);
    let look = house.record(Who::Keeper, "egg.candled.v1", &egg, &json!({"seen_into": true, "band": 5, "movement": "moving"}));
    let size = |house: &House| house.read("/v1/collection", &[])["size"].as_u64().unwrap();
    let before = size(&house);
    let right = json!({"seen_into": true, "band": 3, "movement": "moving"});
    house.record(
        Who::Keeper,
        "record.corrected.v1",
        &egg,
        &json!({"target": look.id, "reason": "tapped 5 for 3", "replacement": {"data": right}}),
    );
    house.pass_days(1);
    // Written on a sheet of paper two hours ago, while the tablet was charging.
    let told_at = house.now().plus_ms(-2 * HOUR_MS);
    let mut more = Map::new();
    more.insert("time".to_owned(), json!(told_at.utc_text()));
    more.insert("late".to_owned(), json!(true));
    more.insert("latereason".to_owned(), json!("from paper: round sheet of the morning, by the second keeper"));
    let held = json!({"reason": "no movement seen"});
    let paper = house.say_with(Who::Keeper, "egg.held_apart.v1", &egg, &held, &more, &[]).recorded().unwrap();
    let path = format!("/v1/eggs/{}/history", &egg[4..]);
    let (before, after) = (before.to_string(), size(&house).to_string());

    let then = house.read(&path, &[("known_at", &before), ("not_yet", "true")]);
    assert_eq!(then["notes"].as_array().unwrap().len(), 2);
    let later: Vec<&Value> = then["not_yet"].as_array().unwrap().iter().collect();
    assert!(later.len() == 1 && later[0]["id"] == json!(paper.id) && later[0]["from_paper"] == json!(true), "{later:?}");
    assert_eq!(house.read(&path, &[("known_at", &before)]).get("not_yet"), None, "only when it is asked for");

    let diff = house.read(&path, &[("diff", &format!("{before},{after}"))]);
    assert_eq!((&diff["from"], &diff["to"]), (&json!(look.seq + 1), &json!(paper.seq + 1)));
    assert_eq!(diff["known_at"], diff["to"]);
    assert_eq!(diff["root"], house.read(&path, &[("known_at", &after)])["root"]);
    assert_eq!(diff["from_root"], house.read(&path, &[("known_at", &before)])["root"]);
    assert_eq!(diff["new"][0]["id"], json!(paper.id));
    assert_eq!(diff["changed"][0]["after"]["put_right"], json!([{"at": "/data/band", "before": 5, "after": 3}]));
    let item: Vec<&str> = diff["item"].as_array().unwrap().iter().filter_map(|change| change["at"].as_str()).collect();
    assert!(item.contains(&"/band") && item.contains(&"/held_apart"), "{item:?}");
    assert_eq!(house.read(&path, &[("diff", &format!("{},{after}", paper.seq))])["changed"], json!([]), "the correction lies before");

    for wrong in ["5", "0,5", "5,5", "6,5", "5,5000", "a,b"] {
        assert!(house.client().get(&path, &[("diff", wrong)]).is_err(), "{wrong}");
    }
    assert!(house.client().get(&path, &[("diff", "5,6"), ("known_at", "6")]).is_err(), "two ways to say what was known");
}
