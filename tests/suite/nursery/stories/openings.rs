//! Openings of a case (DOMAIN section 5).

use crate::nursery::runner::check;

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
    assert!(world.odd(world.book.size() - 3).is_empty());
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
