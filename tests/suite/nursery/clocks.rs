//! Labels and ids, histories, bodies that are withheld, at both clocks.

use super::book::{Book, Draft, Who, day, subject};
use super::runner::{all_of, check, everything};
use selachron_record::domain::record::Standing;
use selachron_record::failure::Question;
use selachron_record::projections::Projections;
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

fn id(noun: &str, name: &str) -> Subject {
    Subject::parse(&subject(noun, name)).unwrap()
}

#[test]
fn a_thing_is_found_by_ulid_subject_or_label_and_never_by_chance() {
    let world = check(
        "
        day 0 egg A1 collected                 -> recorded
        day 1 egg A1' collected                -> recorded, discrepancy: label used by two that are present
        day 1 egg B1 collected                 -> recorded
        day 2 animal B1 received               -> recorded
        ",
    );
    world.projections.at(day(9), u64::MAX, |view| {
        let egg = id("egg", "B1");
        for text in ["B1", egg.as_str(), egg.id()] {
            assert_eq!(view.find("egg", text).unwrap(), egg);
        }
        assert_eq!(view.find("animal", "B1").unwrap(), id("animal", "B1"));
        assert_eq!(view.find("species", "Invented shark").unwrap(), id("species", "S"));
        let Err(Question::Ambiguous { candidates, .. }) = view.find("egg", "A1") else { panic!("A1 is borne by two") };
        let mut wanted = vec![subject("egg", "A1"), subject("egg", "A1'")];
        wanted.sort();
        assert_eq!(candidates, wanted);
        for unknown in ["Z9", id("egg", "Z9").id(), id("animal", "B1").as_str()] {
            assert!(matches!(view.find("egg", unknown), Err(Question::NotFound(_))), "{unknown}");
        }
    });
    // On day 0 only one was there to bear the label.
    world.projections.at(day(0), u64::MAX, |view| assert_eq!(view.find("egg", "A1").unwrap(), id("egg", "A1")));
}

#[test]
fn a_label_goes_where_the_note_that_gave_it_goes() {
    let world = check(
        "
        [came] day 0 egg A1 collected            -> recorded
        [fix] day 1 correct came subject egg C1  -> recorded
        ",
    );
    world.projections.at(day(9), u64::MAX, |view| {
        assert_eq!(view.find("egg", "A1").unwrap(), id("egg", "C1"));
        assert_eq!(view.label(&id("egg", "A1")), None);
    });
    world.projections.at(day(9), world.book.size() - 1, |view| assert_eq!(view.find("egg", "A1").unwrap(), id("egg", "A1")));
}

#[test]
fn a_history_shows_what_was_written_and_what_became_of_it() {
    let world = check(
        "
        day  0 egg A1 collected                                        -> recorded
        [look] day 7 by trainee egg A1 candled band 2 still            -> recorded, discrepancy: trainee's note not endorsed
        day 8 by colleague endorse look                                -> recorded
        [fix] day 9 correct look data egg A1 candled band 3 moving     -> recorded
        [move] day 10 egg A1 moved to Nur from Inc                     -> recorded
        [wrong] day 11 retract move                                    -> recorded
        day 12 egg A1 hatched young Y1 alive                           -> recorded
        ",
    );
    world.projections.at(day(400), u64::MAX, |view| {
        let history = view.history(&id("egg", "A1"));
        let kinds: Vec<&str> = history.iter().map(|note| note.kind.as_str()).collect();
        let wanted = ["egg.collected.v1", "egg.candled.v1", "record.endorsed.v1", "egg.moved.v1", "egg.hatched.v1"];
        assert_eq!(kinds, wanted, "acts are joined to what they are on");
        let look = &history[1];
        assert_eq!((look.standing, look.data["band"].clone()), (Standing::PutRight, json!(3)));
        assert_eq!(look.as_written.as_ref().unwrap().data["band"], json!(2));
        assert_eq!((look.acts.len(), look.acts_told[0].reason.as_str()), (1, "a slip of the pen"));
        assert_eq!(look.by.roles, ["trainee"]);
        assert_eq!(look.endorsed_by[0].person.as_deref(), Some(Who::Colleague.person().as_str()));
        assert_eq!(history[3].standing, Standing::TakenBack);
        // The tank out of which it was never moved still shows the note, as taken back.
        let tank = view.history(&id("tank", "Nur"));
        assert_eq!(tank.iter().map(|note| note.kind.as_str()).collect::<Vec<_>>(), ["tank.set_up.v1", "egg.moved.v1", "egg.hatched.v1"]);
        assert_eq!(view.history(&id("animal", "Y1")).len(), 1);
        assert_eq!(view.history(&Subject::key(Who::Keeper.keyid())).len(), 1);
        assert_eq!(view.history(&Subject::collection()).len(), 1);
    });
    world
        .projections
        .at(day(7), u64::MAX, |view| assert_eq!(view.history(&id("egg", "A1")).len(), 2, "notes of later days are not there yet"));
}

/// A look with a remark, corrected, then withheld with a replacement or without.
fn with_a_withheld_look(replacement: Option<Value>) -> (Book, Projections, u64) {
    let mut book = Book::founded();
    let projections = Projections::new();
    let egg = subject("egg", "A1");
    let found = json!({"label": "A1", "species": subject("species", "S"), "from_tank": subject("tank", "Adults"), "laid": "unknown",
        "case": "whole", "yolk": "seen", "to_tank": subject("tank", "Inc")});
    book.write(Draft::new("egg.collected", &egg, day(0), found));
    let named = json!({"seen_into": true, "band": 4, "movement": "moving", "remark": "a visitor's name"});
    let look = book.write(Draft::new("egg.candled", &egg, day(7), named));
    let corrected = json!({"target": book.event(look).id, "reason": "the band", "replacement":
        {"data": {"seen_into": true, "band": 5, "movement": "moving", "remark": "a visitor's name"}}});
    book.write(Draft::new("record.corrected", &egg, day(8), corrected));
    projections.catch_up(&book.store, book.size()).unwrap();
    book.withhold(look, replacement);
    projections.catch_up(&book.store, book.size()).unwrap();
    (book, projections, look)
}

#[test]
fn a_withheld_body_leaves_its_place_or_what_replaces_it() {
    let (book, live, look) = with_a_withheld_look(None);
    let everything_said = everything(&live);
    assert!(!everything_said.contains("a visitor's name"), "not even through the correction");
    assert_eq!(everything_said, everything(&book.learned()), "a rebuild without the body says the same");
    live.at(day(9), u64::MAX, |view| {
        let egg = view.egg(&id("egg", "A1")).unwrap();
        assert!(egg.looks.is_empty());
        assert_eq!((view.withheld(), view.withheld_behind(&egg.id)), (1, 1));
        let history = view.history(&egg.id);
        assert!(history[1].withheld && history[1].data.is_empty() && history[1].seq == look);
    });
    let (book, live, _) = with_a_withheld_look(Some(json!({"seen_into": true, "band": 5, "movement": "moving"})));
    assert_eq!(everything(&live), everything(&book.learned()));
    // For every S: also when only the look itself is known, and not what withheld it (F23).
    for known_at in [look + 1, u64::MAX] {
        live.at(day(9), known_at, |view| assert_eq!(view.egg(&id("egg", "A1")).unwrap().band, Some(5)));
    }
}

#[test]
fn a_withheld_creation_keeps_its_place() {
    let mut book = Book::founded();
    let live = Projections::new();
    let egg = subject("egg", "A1");
    let found = json!({"label": "A1", "species": subject("species", "S"), "from_tank": subject("tank", "Adults"), "laid": "unknown",
        "case": "whole", "yolk": "seen", "to_tank": subject("tank", "Inc")});
    let came = book.write(Draft::new("egg.collected", &egg, day(0), found));
    book.write(Draft::new("egg.lost", &egg, day(9), json!({"apparent_cause": "case damaged", "plainly_dead": true})));
    live.catch_up(&book.store, book.size()).unwrap();
    book.withhold(came, None);
    live.catch_up(&book.store, book.size()).unwrap();
    assert_eq!(everything(&live), everything(&book.learned()));
    live.at(day(10), u64::MAX, |view| {
        let egg = view.egg(&id("egg", "A1")).unwrap();
        assert_eq!((egg.label.as_str(), egg.species), ("", None));
        assert!(egg.fate.when().is_some());
    });
}

#[test]
fn what_was_forgotten_is_learned_anew_and_the_same() {
    let world = check("day 0 egg A1 collected -> recorded\n day 9 egg A1 lost plainly photo -> recorded");
    let before = everything(&world.projections);
    world.projections.forget();
    assert_eq!(world.projections.size(), 0);
    world.projections.catch_up(&world.book.store, world.book.size()).unwrap();
    assert_eq!(everything(&world.projections), before);
    // A size the store does not hold is a broken store, not an empty answer.
    assert!(world.projections.catch_up(&world.book.store, world.book.size() + 1).is_err());
}

#[test]
fn keys_are_as_they_were_when_so_much_was_known() {
    let world = check(
        "
        day 0 egg A1 collected                          -> recorded
        [revoked] day 5 by registrar revoke keeper suspected 4 -> recorded
        ",
    );
    let key = Subject::key(Who::Keeper.keyid());
    world.projections.at(day(6), u64::MAX, |view| {
        let keeper = view.key(&key).unwrap();
        assert!(!keeper.in_force && keeper.suspected_since == Some(day(4)) && keeper.roles == ["keeper"]);
        let roots: Vec<_> = view.keys().into_iter().filter(|key| key.roles == ["root"]).collect();
        assert_eq!(roots.len(), 2);
        assert!(view.key(&Subject::key(Who::RootA.keyid())).unwrap().in_force);
    });
    world.projections.at(day(6), world.book.size() - 1, |view| assert!(view.key(&key).unwrap().in_force));
    // Everything can be asked of any size, none at all included.
    for known_at in 0..world.book.size() {
        world.projections.at(day(6), known_at, |view| drop(all_of(view)));
    }
}
