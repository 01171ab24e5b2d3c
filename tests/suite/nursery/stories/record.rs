//! The record itself: names, labels, acts, counts, keys.

use crate::nursery::runner::{World, check};

#[test]
fn a_name_that_was_unknown_mends_itself() {
    let world = check(
        "
        day 0 animal F1 received             -> recorded
        [move] day 2 animal F1 moved to Pool -> recorded, discrepancy: names something unknown
        day 3 tank Pool set_up               -> recorded
        ",
    );
    assert!(world.odd(world.book.size() - 2).is_empty());
}

#[test]
fn labels_are_borne_by_one_that_is_present() {
    check(
        "
        day 0 egg A1 collected                 -> recorded
        day 1 egg A1' collected                -> recorded, discrepancy: label used by two that are present
        day 2 egg A1 lost plainly photo        -> recorded
        day 3 egg A1'' collected               -> recorded, discrepancy: label used by two that are present
        day 4 egg A1'' removed                 -> recorded
        day 5 egg A1' candled band 1 still     -> recorded
        # A hatchling may bear the label of its case.
        day 6 egg A1' hatched young A1 alive   -> recorded
        day 7 tank Nur' set_up                 -> recorded, discrepancy: label used by two that are present
        ",
    );
}

#[test]
fn a_thing_comes_once_and_is_told_of_afterwards() {
    check(
        "
        day 5 egg A1 collected                  -> recorded
        day 6 egg A1 collected                  -> recorded, discrepancy: created twice
        day 3 egg A1 candled band 1 still       -> recorded, discrepancy: told of before it came
        day 5 egg B1 collected                  -> recorded
        day 9 egg B1 hatched young Y1 alive     -> recorded
        day 9 egg A1 hatched young Y1 alive     -> recorded, discrepancy: created twice
        species Odd listed days 90 60           -> recorded, discrepancy: low above high
        [c] day 5 egg C1 collected              -> recorded
        [look] day 6 egg C1 candled band 1 still -> recorded
        day 7 retract c                         -> recorded, discrepancy: nothing says how it came
        egg C1 is not there
        known at look, egg C1 is open in Inc
        ",
    );
}

#[test]
fn what_is_put_right_is_as_it_should_have_been() {
    check(
        "
        day  0 egg A1 collected                              -> recorded
        day  0 egg B1 collected                              -> recorded
        [hatch] day 60 egg A1 hatched young Y1 alive         -> recorded
        egg A1 is hatched unaided
        [fix] day 61 correct hatch subject egg B1            -> recorded
        egg A1 is open in Inc
        egg B1 is hatched unaided
        known at hatch, egg A1 is hatched unaided
        [undo] day 62 retract fix                            -> recorded
        egg A1 is hatched unaided
        egg B1 is open in Inc
        day 63 correct hatch day 50                          -> recorded
        as of day 50, egg A1 is hatched unaided
        day 64 retract hatch                                 -> recorded
        egg A1 is open in Inc
        animal Y1 is not there
        ",
    );
}

#[test]
fn a_young_that_was_forgotten_exists_from_the_correction_on() {
    check(
        "
        day  0 egg A1 collected                              -> recorded
        [hatch] day 60 egg A1 hatched young Y1 alive         -> recorded
        day 61 correct hatch data egg A1 hatched young Y1 alive young Y2 alive -> recorded
        day 62 animal Y2 fed                                 -> recorded
        animal Y2 is present in Nur
        known at hatch, animal Y2 is not there
        ",
    );
}

#[test]
fn counts_clocks_and_keys_are_watched() {
    check(
        "
        day 0 egg A1 collected                                   -> recorded
        [first] day 1 by colleague egg A1 candled band 1 still   -> recorded
        day 2 by colleague count 1 egg A1 candled band 1 still   -> recorded, discrepancy: two notes with one number
        day 3 signed 4 arrives 3 egg A1 candled band 1 still     -> recorded, discrepancy: device clock
        day 4 by trainee egg A1 candled band 1 still             -> recorded, discrepancy: trainee's note not endorsed
        [mine] day 5 by trainee with keeper egg A1 candled band 1 still -> recorded
        day 6 by registrar revoke keeper suspected 5             -> recorded
        day 4 arrives 7 with registrar egg A1 candled band 1 still -> recorded, discrepancy: by a key under suspicion; vouched for
        ",
    );
}

#[test]
fn a_key_that_one_registrar_enrolled_is_asked_about() {
    // The second registrar's word, or anybody's who answers for the collection, is enough.
    check(
        "
        [key] day 1 by registrar enrol stranger           -> recorded, discrepancy: key enrolled on one person's word
        day 2 by curator endorse key                      -> recorded
        day 3 by registrar with vet enrol another         -> recorded
        ",
    );
}

#[test]
fn a_note_that_waited_too_long_is_vouched_for() {
    check(
        "
        day  0 egg A1 collected                                       -> recorded
        day  1 arrives 16 with registrar egg A1 candled band 1 still  -> recorded, discrepancy: vouched for
        ",
    );
}

#[test]
fn a_missing_count_ends_by_itself() {
    let world = check(
        "
        day 0 egg A1 collected                                  -> recorded
        day 1 by vet count 1 egg A1 candled band 1 still        -> recorded
        day 2 by vet count 4 egg A1 candled band 1 still        -> recorded
        day 5 by vet count 2 egg A1 candled band 1 still        -> recorded
        ",
    );
    let second = world.book.size() - 2;
    // Late in the story a day has passed since the higher count: the missing ones are noticed.
    let words =
        |world: &World| -> Vec<String> { world.odd(second).iter().map(|found| format!("{}: {}", found.kind, found.says)).collect() };
    assert!(words(&world)[0].starts_with("count missing: The count 3 of key"), "{:?}", words(&world));
    let id = world.odd(second)[0].id.clone();
    let world = check(
        "
        day 0 egg A1 collected                                  -> recorded
        day 1 by vet count 1 egg A1 candled band 1 still        -> recorded
        day 2 by vet count 4 egg A1 candled band 1 still        -> recorded
        day 5 egg A1 candled band 1 still                       -> recorded
        ",
    );
    assert!(words(&world)[0].starts_with("count missing: 2 counts from 2 to 3"), "{:?}", words(&world));
    assert_eq!(world.odd(second)[0].id, id, "the id stays while the gap closes");
    let world = check(
        "
        day 0 egg A1 collected                                  -> recorded
        day 1 by vet count 1 egg A1 candled band 1 still        -> recorded
        day 2 by vet count 3 egg A1 candled band 1 still        -> recorded
        day 5 by vet count 4 abandon 2                          -> recorded
        ",
    );
    assert!(world.odd(second).is_empty());
}

#[test]
fn a_discrepancy_is_closed_by_somebody_who_answers_for_it() {
    let world = check(
        "
        day 0 animal F1 received        -> recorded
        day 1 animal F1 died            -> recorded
        [fed] day 2 animal F1 fed       -> recorded, discrepancy: fed after death
        day 3 by colleague endorse fed  -> recorded
        ",
    );
    let fed = world.book.size() - 2;
    assert!(world.odd(fed)[0].open, "a keeper's word is not enough");
    let world = check(
        "
        day 0 animal F1 received        -> recorded
        day 1 animal F1 died            -> recorded
        [fed] day 2 animal F1 fed       -> recorded, discrepancy: fed after death
        day 3 by curator endorse fed    -> recorded
        ",
    );
    assert!(!world.odd(fed)[0].open);
}
