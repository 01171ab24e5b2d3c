//! One story for each rule of the fold (DOMAIN sections 2, 4 and 5), told in the words of
//! `runner`. All of it is invented.

use super::runner::check;
use selachron_record::domain::discrepancy::odd;

#[test]
fn an_egg_hatches_once() {
    check(
        "
        day  0  egg A1 collected                    -> recorded
        day 20  egg A1 candled band 2 moving        -> recorded
        day 61  egg A1 hatched young Y1 alive       -> recorded
        day 61 10:00 egg A1 hatched young Y2 alive  -> recorded, discrepancy: hatched twice
        day 60  egg A1 candled band 7               -> recorded
        egg A1 is hatched unaided
        animal Y1 is present in Nur
        animal Y2 is present in Nur
        as of day 60, egg A1 is open in Inc
        as of day 60, animal Y1 is not there
        as of day -1, egg A1 is not there
        ",
    );
}

#[test]
fn a_case_is_alive_until_it_was_looked_at_again() {
    check(
        "
        day  0  egg A1 collected             -> recorded
        day 14  egg A1 candled band 3 moving -> recorded
        [held] day 21  egg A1 held_apart     -> recorded
        day 23  egg A1 candled band 3 still  -> recorded
        known at held, egg A1 is held apart in Inc
        egg A1 is held apart in Inc
        day 25  egg A1 candled band 4 moving -> recorded
        egg A1 is open in Inc
        day 32  egg A1 lost                  -> recorded, discrepancy: lost on the first look
        egg A1 is lost, not determined
        day 33  egg A1 candled band 4 still  -> recorded, discrepancy: candled after loss
        day 34  egg A1 candled band 4 moving -> recorded, discrepancy: seen alive after loss
        egg A1 is open in Inc
        as of day 33, egg A1 is lost, not determined
        ",
    );
}

#[test]
fn a_loss_wants_two_looks_or_a_photo_of_what_is_plainly_dead() {
    check(
        "
        day  0 egg A1 collected                              -> recorded
        day  7 egg A1 candled band 1 still                   -> recorded
        day 14 egg A1 lost cause yolk, no embryo ever seen   -> recorded
        day  0 egg A2 collected                              -> recorded
        day 14 egg A2 lost plainly photo cause case damaged  -> recorded
        day  0 egg A3 collected                              -> recorded
        day 14 egg A3 lost plainly cause case damaged        -> recorded, discrepancy: lost on the first look
        day 15 egg A3 lost                                   -> recorded, discrepancy: lost twice
        day  0 egg A4 collected                              -> recorded
        # Several notes of one visit are one look.
        day  7 egg A4 candled band 1 still                   -> recorded
        day  7 10:00 egg A4 held_apart                       -> recorded
        day  7 11:00 egg A4 lost                             -> recorded, discrepancy: lost on the first look
        egg A4 is lost, not determined
        ",
    );
}

#[test]
fn the_policy_may_ask_for_more_looks() {
    check(
        r#"
        day 0 by curator with registrar policy {"looks_before_loss_min": 3}  -> recorded
        day 0 egg A1 collected             -> recorded
        day 7 egg A1 candled band 1 still  -> recorded
        day 9 egg A1 lost                  -> recorded, discrepancy: lost with fewer looks than the policy asks
        "#,
    );
}

#[test]
fn dead_young_are_trapped_at_hatching_and_no_hatch() {
    check(
        "
        day  0 egg A1 collected                                      -> recorded
        day 90 egg A1 hatched young Y1 dead nowhere                  -> recorded
        egg A1 is lost, trapped at hatching
        animal Y1 is dead at the hatch
        day  0 egg A2 collected                                      -> recorded
        day 90 egg A2 hatched young Y2 dead nowhere young Y3 alive   -> recorded
        egg A2 is hatched unaided
        animal Y2 is dead at the hatch
        animal Y3 is present in Nur
        day  0 egg A3 collected                                      -> recorded
        day 90 egg A3 hatched young Y4 dead                          -> recorded, discrepancy: dead young listed with a tank
        day  0 egg A4 collected                                      -> recorded
        day 90 egg A4 hatched                                        -> recorded, discrepancy: hatched, young not found
        egg A4 is empty
        # The body of a young that was dead at the hatch may be noted too.
        day 91 animal Y1 died                                        -> recorded
        ",
    );
}

#[test]
fn a_hatch_after_an_opening_is_told_from_an_unaided_one() {
    check(
        "
        day   0 egg A1 collected                           -> recorded
        day 100 egg A1 candled band 7 moving slits         -> recorded
        day 101 with curator,vet egg A1 opened             -> recorded
        day 102 egg A1 hatched young Y1 alive              -> recorded
        egg A1 is hatched after opening
        day   0 egg A2 collected                           -> recorded
        day 100 egg A2 hatched young Y2 alive              -> recorded
        day 101 with curator,vet egg A2 opened dead outcome no embryo -> recorded, discrepancy: opened after hatch
        egg A2 is hatched unaided
        ",
    );
}

#[test]
fn an_opening_wants_a_second_person_and_the_approval_of_the_policy() {
    check(
        "
        day   0 egg A1 collected                           -> recorded
        day 100 egg A1 candled band 7 moving slits         -> recorded
        day 101 egg A1 opened urgently                     -> recorded, discrepancy: opened without a second person; opened without the approval the policy asks
        day   0 egg A2 collected                           -> recorded
        day 100 egg A2 candled band 7 moving               -> recorded
        [open] day 101 with colleague egg A2 opened        -> recorded, discrepancy: opened without the approval the policy asks; sealed case opened without a veterinarian
        [curator] day 102 by curator endorse open          -> recorded
        [vet] day 102 11:00 by vet endorse open            -> recorded
        day   0 egg A3 collected                           -> recorded
        day 100 egg A3 candled band 7 moving slits         -> recorded
        day 101 by vet with curator egg A3 opened          -> recorded
        # The same person with the wanted role is no second person.
        day   0 egg A4 collected                           -> recorded
        day 100 egg A4 candled band 7 moving slits         -> recorded
        day 101 by curator with trainee egg A4 opened      -> recorded, discrepancy: opened without a second person; opened without the approval the policy asks
        ",
    );
}

#[test]
fn a_standing_protocol_may_be_the_approval() {
    check(
        r#"
        day   0 egg A1 collected                               -> recorded
        day 100 egg A1 candled band 7 moving slits             -> recorded
        day 100 by curator with registrar policy {"opening_approval_roles": []} -> recorded
        day 101 with colleague egg A1 opened                   -> recorded
        "#,
    );
}

#[test]
fn approvals_afterwards_close_what_was_missing() {
    let world = check(
        "
        day   0 egg A1 collected                           -> recorded
        day 100 egg A1 candled band 7 moving slits         -> recorded
        [open] day 101 egg A1 opened urgently              -> recorded, discrepancy: opened without a second person; opened without the approval the policy asks
        day 102 by curator endorse open                    -> recorded
        day 103 by vet endorse open                        -> recorded
        ",
    );
    assert!(world.projections.discrepancies_of(world.book.size() - 3).is_empty());
}

#[test]
fn an_examination_is_no_assisted_hatch_and_no_way_round_the_rules() {
    check(
        "
        day   0 egg A1 collected                                    -> recorded
        day 100 egg A1 candled band 7 moving slits                  -> recorded
        day 101 with colleague egg A1 opened dead outcome hatched   -> recorded, discrepancy: opened as known dead, yet alive; opening says hatched, no hatch noted
        day 101 10:00 egg A1 hatched young Y1 alive                 -> recorded, discrepancy: opened as known dead, yet alive
        egg A1 is hatched unaided
        day   0 egg A2 collected                                    -> recorded
        day 100 egg A2 candled band 4 still                         -> recorded
        day 101 with colleague egg A2 opened dead outcome found dead -> recorded, discrepancy: opening found it dead, no loss noted
        day 101 10:00 egg A2 lost cause embryo died                 -> recorded
        day 102 with curator,vet egg A2 opened                      -> recorded, discrepancy: opened as living after loss
        day   0 egg A3 collected                                    -> recorded
        day 100 egg A3 candled band 4 still                         -> recorded
        day 101 with colleague egg A3 opened dead                   -> recorded
        day 102 egg A3 hatched young Y3 alive                       -> recorded, discrepancy: opened as known dead, yet alive
        ",
    );
}

#[test]
fn a_case_leaves_once() {
    check(
        "
        day 0  egg A1 collected               -> recorded
        day 10 egg A1 removed                 -> recorded
        egg A1 is removed, sent out
        day 11 egg A1 removed                 -> recorded, discrepancy: left twice
        day 12 egg A1 candled band 2 still    -> recorded, discrepancy: candled after leaving
        day 12 10:00 egg A1 moved to Nur      -> recorded, discrepancy: case moved after its end
        day 12 11:00 egg A1 held_apart        -> recorded, discrepancy: held apart after its end
        day 13 egg A1 lost                    -> recorded, discrepancy: lost after leaving
        day 13 10:00 with curator,vet egg A1 opened -> recorded, discrepancy: opened after leaving
        egg A1 is removed, sent out
        day 14 egg A1 candled band 2 moving   -> recorded, discrepancy: seen alive after leaving
        egg A1 is open in Nur
        day 0  egg A2 collected               -> recorded
        day 1  egg A2 lost plainly photo      -> recorded
        # Disposal later changes nothing.
        day 2  egg A2 removed dead            -> recorded
        egg A2 is lost, not determined
        day 3  egg A2 removed                 -> recorded, discrepancy: left alive after its end
        day 0  egg A3 collected               -> recorded
        day 1  egg A3 removed                 -> recorded
        day 9  egg A3 hatched young Y3 alive  -> recorded, discrepancy: hatched after leaving
        day 0  egg A4 collected               -> recorded
        day 1  egg A4 lost plainly photo      -> recorded
        day 9  egg A4 hatched young Y4 alive  -> recorded, discrepancy: hatched after loss
        egg A4 is hatched unaided
        day 10 egg A4 candled band 7 still    -> recorded, discrepancy: candled after hatch
        day 11 egg A4 lost                    -> recorded, discrepancy: lost after hatch
        egg A4 is hatched unaided
        ",
    );
}

#[test]
fn a_case_may_arrive_dead() {
    check(
        "
        day 0 egg A1 received dead            -> recorded
        egg A1 is dead on arrival
        day 1 egg A1 lost cause case damaged  -> recorded
        egg A1 is dead on arrival
        ",
    );
}

#[test]
fn bands_and_yolk_are_compared_with_what_was_seen_before() {
    check(
        "
        day 0  egg A1 collected no-yolk       -> recorded
        day 14 egg A1 candled band 3 moving   -> recorded, discrepancy: yolk seen where none was
        day 21 egg A1 candled band 2 moving   -> recorded
        day 28 egg A1 candled band 4 moving   -> recorded
        day 35 egg A1 candled                 -> recorded
        day 42 egg A1 candled band 2 moving   -> recorded, discrepancy: band going back two or more
        ",
    );
}

#[test]
fn things_are_where_the_record_has_them() {
    check(
        "
        day 0 egg A1 collected               -> recorded
        day 1 egg A1 moved to Nur from Inc   -> recorded
        day 2 egg A1 moved to Inc from Inc   -> recorded, discrepancy: moved from a tank it was not in
        egg A1 is open in Inc
        day 0 animal F1 received             -> recorded
        day 1 animal F1 moved to Inc from Adults -> recorded, discrepancy: moved from a tank it was not in
        animal F1 is present in Inc
        day 2 animal F1 moved to Pool        -> recorded, discrepancy: names something unknown
        day 3 tank Pool set_up               -> recorded
        animal F1 is present in Pool
        ",
    );
}

#[test]
fn a_name_that_was_unknown_mends_itself() {
    let world = check(
        "
        day 0 animal F1 received             -> recorded
        [move] day 2 animal F1 moved to Pool -> recorded, discrepancy: names something unknown
        day 3 tank Pool set_up               -> recorded
        ",
    );
    assert!(world.projections.discrepancies_of(world.book.size() - 2).is_empty());
}

#[test]
fn what_is_done_to_the_dead_and_the_departed_is_odd() {
    check(
        "
        day  0 animal F1 received           -> recorded
        day 10 animal F1 died               -> recorded
        animal F1 is dead
        day 11 animal F1 fed                -> recorded, discrepancy: fed after death
        day 11 10:00 animal F1 moved to Inc -> recorded, discrepancy: moved after death
        day 12 animal F1 measured mass 20   -> recorded, discrepancy: measured after death
        day 13 animal F1 died               -> recorded, discrepancy: died twice
        day 14 animal F1 departed dead      -> recorded
        day 15 animal F1 departed           -> recorded, discrepancy: departed alive after death
        day  0 animal F2 received           -> recorded
        day 10 animal F2 departed           -> recorded
        animal F2 is gone
        day 11 animal F2 fed                -> recorded, discrepancy: fed after departure
        day 12 animal F2 moved to Inc       -> recorded, discrepancy: moved after departure
        day 13 animal F2 measured mass 20   -> recorded, discrepancy: measured after departure
        day 14 animal F2 died               -> recorded, discrepancy: died after departure
        day 15 animal F2 departed           -> recorded, discrepancy: departed twice
        day  0 animal F3 received           -> recorded
        day 10 animal F3 departed dead      -> recorded, discrepancy: departed dead, no death noted
        # A feeding that arrives late, from before the death, is in order.
        day  9 arrives 16 animal F1 fed -> recorded
        ",
    );
}

#[test]
fn a_death_noted_after_the_feeding_is_found_too() {
    check(
        "
        day  0 animal F1 received             -> recorded
        day 11 animal F1 fed                  -> recorded
        day 10 arrives 12 animal F1 died      -> recorded, discrepancy: fed after death
        ",
    );
}

#[test]
fn mass_is_compared_with_the_last_weighing_of_the_same_kind() {
    check(
        r#"
        day  0 animal F1 received                    -> recorded
        day  1 animal F1 measured mass 100           -> recorded
        day  8 animal F1 measured mass 90            -> recorded
        day 15 animal F1 measured mass 80            -> recorded, discrepancy: mass lost since the last weighing
        day 16 animal F1 measured mass 50 in-water   -> recorded
        day 20 by curator with registrar policy {"mass_loss_percent_max": 50} -> recorded
        day 22 animal F1 measured mass 45            -> recorded
        "#,
    );
}

#[test]
fn a_veterinarians_decision_carries_a_veterinarians_signature() {
    check(
        "
        day 0 animal F1 received                    -> recorded
        day 1 with vet animal F1 died by-decision   -> recorded
        day 0 animal F2 received                    -> recorded
        day 1 animal F2 died by-decision            -> recorded, discrepancy: death by a veterinarian's decision without a veterinarian
        ",
    );
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
    let words = |world: &super::runner::World| -> Vec<String> {
        world.projections.discrepancies_of(second).iter().map(|found| format!("{}: {}", found.kind, found.says)).collect()
    };
    assert!(words(&world)[0].starts_with("count missing: The count 3 of key"), "{:?}", words(&world));
    let id = world.projections.discrepancies_of(second)[0].id.clone();
    let world = check(
        "
        day 0 egg A1 collected                                  -> recorded
        day 1 by vet count 1 egg A1 candled band 1 still        -> recorded
        day 2 by vet count 4 egg A1 candled band 1 still        -> recorded
        day 5 egg A1 candled band 1 still                       -> recorded
        ",
    );
    assert!(words(&world)[0].starts_with("count missing: 2 counts from 2 to 3"), "{:?}", words(&world));
    assert_eq!(world.projections.discrepancies_of(second)[0].id, id, "the id stays while the gap closes");
    let world = check(
        "
        day 0 egg A1 collected                                  -> recorded
        day 1 by vet count 1 egg A1 candled band 1 still        -> recorded
        day 2 by vet count 3 egg A1 candled band 1 still        -> recorded
        day 5 by vet count 4 abandon 2                          -> recorded
        ",
    );
    assert!(world.projections.discrepancies_of(second).is_empty());
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
    assert!(world.projections.discrepancies_of(fed)[0].open, "a keeper's word is not enough");
    let world = check(
        "
        day 0 animal F1 received        -> recorded
        day 1 animal F1 died            -> recorded
        [fed] day 2 animal F1 fed       -> recorded, discrepancy: fed after death
        day 3 by curator endorse fed    -> recorded
        ",
    );
    assert!(!world.projections.discrepancies_of(fed)[0].open);
}

#[test]
fn every_kind_of_discrepancy_occurs_in_a_story() {
    let stories = include_str!("stories.rs");
    for kind in odd::ALL {
        assert!(stories.contains(kind.words), "no story tells of {:?}", kind.words);
    }
}
