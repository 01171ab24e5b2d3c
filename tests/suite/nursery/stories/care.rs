//! The care of cases, cases that are missing or put down, and the authorisation of openings.

use crate::nursery::book::{day, subject};
use crate::nursery::runner::{World, check};
use selachron_record::domain::state::Egg;
use selachron_schemas::names::Subject;

fn egg(world: &World, name: &str) -> Egg {
    let id = Subject::parse(&subject("egg", name)).unwrap();
    world.projections.at(day(400), u64::MAX, |view| view.egg(&id)).expect("the case is there")
}

#[test]
fn a_case_is_tended_from_outside() {
    let world = check(
        r#"
        day  0 egg A1 collected                                                  -> recorded
        day  1 egg A1 tended {"done": ["air let out", "turned upright"]}          -> recorded
        day  2 egg A1 tended {"done": ["threads trimmed"]}                        -> recorded, discrepancy: sealed case trimmed or entered without a veterinarian
        day  3 with vet egg A1 tended {"done": ["threads trimmed"]}               -> recorded
        day  4 egg A1 tended {"done": ["air let out"], "entered_case": true}      -> recorded, discrepancy: sealed case trimmed or entered without a veterinarian
        day 50 egg A1 candled band 5 moving slits                                 -> recorded
        day 51 egg A1 tended {"done": ["wiped"], "entered_case": true}            -> recorded
        day 90 egg A1 hatched young Y1 alive                                      -> recorded
        day 91 egg A1 tended {"done": ["wiped"]}                                  -> recorded, discrepancy: tended after its end
        "#,
    );
    let tended = egg(&world, "A1").tended;
    assert_eq!(tended.len(), 6);
    assert_eq!(tended[0].done, ["air let out", "turned upright"]);
}

#[test]
fn a_look_by_other_means_is_a_look() {
    let world = check(
        r#"
        day  0 egg A1 collected                                                                               -> recorded
        day 20 egg A1 held_apart                                                                              -> recorded
        day 21 egg A1 examined {"method": "ultrasound", "seen_into": true, "movement": "still", "heartbeat": "seen"} -> recorded
        egg A1 is open in Inc
        day 30 egg A1 candled band 4 still                                                                    -> recorded
        day 31 egg A1 examined {"method": "lens", "seen_into": true, "band": 2, "movement": "still"}          -> recorded, discrepancy: band going back two or more
        day 32 egg A1 lost cause embryo died                                                                  -> recorded
        day 33 egg A1 examined {"method": "camera", "seen_into": false}                                       -> recorded, discrepancy: candled after loss
        day 34 egg A1 examined {"method": "ultrasound", "seen_into": true, "movement": "still", "heartbeat": "seen"} -> recorded, discrepancy: seen alive after loss
        egg A1 is open in Inc
        "#,
    );
    let egg = egg(&world, "A1");
    assert_eq!((egg.looks[0].method.as_deref(), egg.looks[0].heartbeat.as_deref()), (Some("ultrasound"), Some("seen")));
    assert_eq!(egg.embryo_seen_alive.map(|seen| seen.event), Some(egg.looks[0].when.event), "a heartbeat is a sighting alive");
}

#[test]
fn a_missing_case_is_no_loss_and_may_be_found() {
    let world = check(
        r#"
        day  0 egg A1 collected                                                           -> recorded
        day 10 egg A1 missing {"noticed_at": "a full count", "searched": ["the tank"]}     -> recorded
        egg A1 is missing
        day 11 egg A1 missing {"noticed_at": "a search"}                                   -> recorded, discrepancy: missing already
        day 12 egg A1 found {"where": "filter", "to_tank": "@tank Nur"}                    -> recorded
        egg A1 is open in Nur
        as of day 11, egg A1 is missing
        day 13 egg A1 found {"where": "filter"}                                            -> recorded, discrepancy: found, though not missing
        day  0 egg A2 collected                                                           -> recorded
        day 10 egg A2 missing {"noticed_at": "the daily look"}                             -> recorded
        day 12 egg A2 candled band 3 moving                                                -> recorded, discrepancy: told of while missing, not noted as found
        egg A2 is open in Inc
        day 20 egg A2 removed                                                              -> recorded
        day 21 egg A2 missing {"noticed_at": "a search"}                                   -> recorded, discrepancy: missing after its end
        "#,
    );
    let absence = &egg(&world, "A1").absences[0];
    assert_eq!((absence.since.time, absence.found.map(|found| found.time)), (day(10), Some(day(12))));
    assert_eq!(absence.searched, ["the tank"]);
}

#[test]
fn what_was_told_of_while_missing_mends_itself_when_the_find_arrives() {
    let world = check(
        r#"
        day  0 egg A1 collected                                    -> recorded
        day 10 egg A1 missing {"noticed_at": "a full count"}        -> recorded
        day 12 egg A1 candled band 3 moving                         -> recorded, discrepancy: told of while missing, not noted as found
        day 11 arrives 13 egg A1 found {"where": "filter"}          -> recorded
        "#,
    );
    assert!(world.odd(world.book.size() - 2).is_empty());
}

#[test]
fn writing_off_is_a_decision_of_curator_and_registrar() {
    check(
        r#"
        day  0 egg A1 collected                                                          -> recorded
        day 10 egg A1 missing {"noticed_at": "a full count"}                              -> recorded
        day 40 by curator with registrar egg A1 written_off {"reason": "three full counts"} -> recorded
        egg A1 is written off
        day 41 egg A1 found {"where": "under the floor"}                                  -> recorded
        egg A1 is open in Inc
        day 42 by curator with vet egg A1 written_off {"reason": "by mistake"}            -> recorded, discrepancy: written off without both curator and registrar; written off, though not missing
        "#,
    );
}

#[test]
fn a_case_put_down_is_a_line_of_its_own() {
    check(
        r#"
        day  0 egg A1 collected                                                                                       -> recorded
        day 60 by curator egg A1 put_down {"decided_by": ["@person curator"], "reason": "no embryo", "alive": "no"}    -> recorded
        egg A1 is put down, no embryo
        day 61 egg A1 candled band 1 still                                                                            -> recorded, discrepancy: told of after it was put down
        day 61 10:00 egg A1 lost                                                                                      -> recorded, discrepancy: told of after it was put down
        day 61 11:00 with colleague egg A1 opened dead outcome no embryo                                              -> recorded
        day 61 12:00 egg A1 removed dead                                                                              -> recorded
        day 62 by curator egg A1 put_down {"decided_by": ["@person curator"], "reason": "other", "alive": "no"}        -> recorded, discrepancy: put down after its end
        egg A1 is put down, no embryo
        day  0 egg A2 collected                                                                                       -> recorded
        day 60 egg A2 put_down {"decided_by": ["@person vet"], "reason": "deformed", "alive": "yes"}                   -> recorded, discrepancy: put down without the signature of anyone who decided
        day 61 egg A2 candled band 5 moving                                                                           -> recorded, discrepancy: alive after it was put down
        egg A2 is open in Inc
        [down] day 62 egg A2 put_down {"decided_by": ["@person vet"], "reason": "deformed", "alive": "yes"}            -> recorded, discrepancy: put down without the signature of anyone who decided
        day 63 by vet endorse down                                                                                    -> recorded
        day 64 egg A2 hatched young Y2 alive                                                                          -> recorded, discrepancy: alive after it was put down
        egg A2 is hatched unaided
        "#,
    );
}

#[test]
fn an_authorisation_for_a_period_stands_behind_an_opening() {
    let world = check(
        r#"
        [given] day 90 by curator with vet about collection opening.authorised {"criteria": ["band 7"], "persons": ["@person keeper"], "from": "@day 90", "to": "@day 120", "species": "@species S"} -> recorded
        day   0 egg A1 collected                                -> recorded
        day 100 egg A1 candled band 7 moving                    -> recorded
        day 101 with colleague egg A1 opened {"extent": "end slit widened", "known_dead": false, "left": "closed again", "outcome": "left to hatch", "criteria_met": ["band 7"]} -> recorded
        day   0 egg A2 collected                                -> recorded
        day 100 egg A2 candled band 7 moving slits              -> recorded
        day 102 with colleague egg A2 opened                    -> recorded, discrepancy: opened without every criterion of its authorisation
        # Neither somebody who is not named, nor a later day, nor a withdrawn authorisation.
        day 103 by colleague with curator egg A2 opened         -> recorded, discrepancy: opened without the approval the policy asks
        day 121 with colleague egg A2 opened                    -> recorded, discrepancy: opened without the approval the policy asks
        day 110 by vet about collection opening.withdrawn {"authorisation": "@note given", "reason": "under review"} -> recorded
        day 111 with colleague egg A2 opened                    -> recorded, discrepancy: opened without the approval the policy asks
        day 112 by vet about egg A2 opening.withdrawn {"authorisation": "@note given", "reason": "for this case"} -> recorded, discrepancy: withdraws an authorisation that is not known
        "#,
    );
    assert_eq!(egg(&world, "A1").openings[0].authorised_by.len(), 1);
    let known = world.projections.at(day(105), u64::MAX, |view| view.authorisations());
    assert!(known[0].in_force && known[0].withdrawn.is_none(), "{known:?}");
    let later = world.projections.at(day(111), u64::MAX, |view| view.authorisations());
    assert!(!later[0].in_force && later[0].withdrawn.is_some(), "{later:?}");
}

/// What an author says of the record is held against the record.
#[test]
fn an_assessment_that_nobody_made_is_at_odds() {
    check(
        r#"
        day  0 egg A1 collected -> recorded
        day 10 by keeper about egg A1 opening.left {"reasons": ["few looks"], "decided_by": ["@person curator"], "assessment": {"as_of": "@day 10", "known_at_size": 12, "answer_sha256": "abababababababababababababababababababababababababababababababab", "standing": "past the window", "met_by": ["@egg A1"], "met_by_cases": 1}} -> recorded, discrepancy: the assessment kept is not what the record says
        "#,
    );
}

#[test]
fn an_authorisation_of_one_case_is_no_authorisation_of_another() {
    let world = check(
        r#"
        day   0 egg A1 collected                                -> recorded
        day   0 egg A2 collected                                -> recorded
        day 100 egg A1 candled band 7 moving slits              -> recorded
        day 100 egg A2 candled band 7 moving slits              -> recorded
        day 100 by vet with curator about egg A1 opening.authorised {"criteria": ["band 7"], "persons": ["@person keeper"], "from": "@day 100", "to": "@day 105", "extents": ["end slit widened"]} -> recorded
        day 101 with colleague egg A1 opened {"extent": "end slit widened", "known_dead": false, "left": "closed again", "outcome": "left to hatch", "criteria_met": ["band 7"]} -> recorded
        day 102 with colleague egg A1 opened {"extent": "window", "known_dead": false, "left": "closed again", "outcome": "left to hatch", "criteria_met": ["band 7"]} -> recorded, discrepancy: opened without the approval the policy asks
        day 101 with colleague egg A2 opened                    -> recorded, discrepancy: opened without the approval the policy asks
        # One that is recorded only afterwards covers nothing.
        day 100 arrives 103 by vet with curator about egg A2 opening.authorised {"criteria": ["band 7"], "persons": ["@person keeper"], "from": "@day 100", "to": "@day 105"} -> recorded
        "#,
    );
    assert_eq!((egg(&world, "A1").authorisations.len(), egg(&world, "A2").authorisations.len()), (1, 1));
    assert!(egg(&world, "A2").openings[0].authorised_by.is_empty());
}

#[test]
fn left_to_hatch_is_a_choice() {
    let world = check(
        r#"
        day   0 egg A1 collected                                -> recorded
        day 100 egg A1 candled band 7 moving                    -> recorded
        day 101 by vet about egg A1 opening.left {"reasons": ["moving and well"], "decided_by": ["@person vet"], "look_again_after_hours": 24} -> recorded
        day 104 egg A1 hatched young Y1 alive                   -> recorded
        day 105 by vet about egg A1 opening.left {"reasons": ["few looks"], "decided_by": ["@person vet"]} -> recorded, discrepancy: left to hatch after its end
        egg A1 is hatched unaided
        "#,
    );
    assert_eq!(egg(&world, "A1").left_to_hatch[0].reasons, ["moving and well"]);
}

#[test]
fn a_clutch_gathers_its_cases_and_speaks_for_them() {
    let world = check(
        r#"
        day 0 animal F1 received    -> recorded
        day 1 egg A1 collected      -> recorded
        day 1 egg A2 collected      -> recorded
        day 2 clutch C1 formed {"label": "C-1", "eggs": ["@egg A1", "@egg A2"], "basis": "same colour and condition", "dam": {"status": "candidates", "animals": [{"animal": "@animal F1"}]}} -> recorded
        day 3 clutch C2 formed {"eggs": ["@egg A2"], "basis": "assumed"} -> recorded, discrepancy: in two clutches
        "#,
    );
    let clutch = Subject::parse(&subject("clutch", "C1")).unwrap();
    for name in ["A1", "A2"] {
        let egg = egg(&world, name);
        assert_eq!((egg.clutch.as_ref(), egg.dam.animals.len()), (Some(&clutch), 1), "{name}");
    }
    let told = world.projections.at(day(400), u64::MAX, |view| view.clutch(&clutch)).expect("a clutch");
    assert_eq!((told.eggs.len(), told.label.as_deref()), (2, Some("C-1")));
    let before = world.projections.at(day(1), u64::MAX, |view| view.egg(&told.eggs[0])).expect("the case");
    assert_eq!(before.clutch, None, "nobody had put them together yet");
}
