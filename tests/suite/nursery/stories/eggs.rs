//! What becomes of a case (DOMAIN sections 2 and 4).

use crate::nursery::runner::check;

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
