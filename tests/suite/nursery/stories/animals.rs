//! What is done to animals, and where they are.

use crate::nursery::runner::check;

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
