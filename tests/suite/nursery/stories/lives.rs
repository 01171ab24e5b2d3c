//! Lives of animals: sightings, treatments, marks, parents, absences, and what becomes of a body.

use crate::nursery::book::{day, subject};
use crate::nursery::runner::{World, check};
use selachron_record::domain::state::{Animal, ParentStatus, Sex};
use selachron_schemas::names::Subject;

fn animal(world: &World, name: &str) -> Animal {
    let id = Subject::parse(&subject("animal", name)).unwrap();
    world.projections.at(day(400), u64::MAX, |view| view.animal(&id)).expect("the animal is there")
}

#[test]
fn an_animal_is_seen_examined_and_treated_as_ordered() {
    let world = check(
        r#"
        day 0 animal F1 received                                                         -> recorded
        day 1 animal F1 observed {"state": "as usual", "tank": "@tank Nur"}               -> recorded
        day 2 animal F1 observed {"state": "not as usual", "signs": ["not eating"], "tank": "@tank Inc"} -> recorded, discrepancy: moved from a tank it was not in
        day 3 animal F1 examined {"by": ["eye"], "keepers_opinion": "rubbed"}             -> recorded
        day 3 10:00 animal F1 examined {"by": ["eye"], "diagnosis": "as told"}            -> recorded, discrepancy: diagnosis or cause as determined without a veterinarian or laboratory
        day 3 11:00 animal F1 examined {"by": ["eye"], "treatment_order": "as ordered"}   -> recorded, discrepancy: prognosis or treatment order without a veterinarian
        day 3 12:00 by vet animal F1 examined {"by": ["blood"], "diagnosis": "as told"}   -> recorded, discrepancy: may need a licence, no reference given
        [order] day 4 by vet animal F1 examined {"by": ["hand"], "prognosis": "good", "treatment_order": "as ordered"} -> recorded
        day 5 animal F1 treated {"order": "as ordered", "given": "as ordered", "ordered_in": "@note order"} -> recorded
        day 6 animal F1 treated {"order": "as ordered", "given": "as ordered"}            -> recorded, discrepancy: treated without a veterinarian's order
        [given] day 7 animal F1 treated {"order": "as ordered", "given": "not given", "why_not": "not caught"} -> recorded, discrepancy: treated without a veterinarian's order
        day 8 by vet endorse given                                                        -> recorded
        day 9 animal F1 died                                                              -> recorded
        day 10 animal F1 observed {"state": "as usual"}                                   -> recorded, discrepancy: seen alive after death
        day 11 with vet animal F1 treated {"order": "as ordered", "given": "as ordered"}  -> recorded, discrepancy: treated after its end
        day 0 animal F2 received                                                         -> recorded
        day 1 animal F2 departed                                                         -> recorded
        day 2 animal F2 observed {"state": "as usual"}                                    -> recorded, discrepancy: seen here after departure
        "#,
    );
    let animal = animal(&world, "F1");
    assert_eq!((animal.observations.len(), animal.examinations.len(), animal.treatments.len()), (3, 5, 4));
    assert_eq!(animal.last_seen_alive.map(|seen| seen.time), Some(day(7)), "the dead are not seen alive");
}

#[test]
fn sex_marks_and_labels_are_told() {
    let world = check(
        r#"
        day 0 egg A1 collected                                                            -> recorded
        day 9 egg A1 hatched young Y1 alive                                               -> recorded
        day 20 animal Y1 identified {"what": "given", "type": "label", "label": "Y-17"}    -> recorded
        day 21 animal Y1 identified {"what": "given", "type": "temporary colour", "temporary": true, "until": "2026-02-28"} -> recorded
        day 22 animal Y1 identified {"what": "given", "type": "implanted tag", "number": "1"} -> recorded, discrepancy: may need a licence, no reference given
        day 30 animal Y1 sexed {"sex": "male", "how": "claspers seen"}                     -> recorded
        day 31 animal Y1 sexed {"sex": "female", "how": "genotype", "licence_reference": "licence 1"} -> recorded, discrepancy: sex told differently
        day 40 animal Y1 introduced {"to_tank": "@tank Inc", "purpose": "rearing", "went": "quiet"} -> recorded
        animal Y1 is present in Inc
        "#,
    );
    let young = animal(&world, "Y1");
    assert_eq!((young.label.as_deref(), young.sex), (Some("Y-17"), Sex::Female));
    assert_eq!(young.marks.iter().map(|mark| mark.expired).collect::<Vec<_>>(), [false, true, false]);
    let found = world.projections.at(day(400), u64::MAX, |view| view.find("animal", "Y-17")).expect("it is found by its new label");
    assert_eq!(found, young.id);
    let before = world.projections.at(day(22), u64::MAX, |view| view.animal(&young.id)).expect("the animal");
    assert!(before.marks.iter().all(|mark| !mark.expired), "on that day the colour could still be trusted");
}

#[test]
fn claims_of_parentage_stand_side_by_side() {
    let world = check(
        r#"
        day 0 animal F1 received                                                          -> recorded
        day 0 animal M1 received                                                          -> recorded
        day 0 animal F2 received                                                          -> recorded
        day 1 animal F2 parentage_claimed {"basis": "shared the water", "sire": {"status": "known", "animals": [{"animal": "@animal M1"}]}} -> recorded, discrepancy: parent called known without a genotype
        day 2 animal F2 parentage_claimed {"basis": "genotype", "sire": {"status": "none"}} -> recorded
        day 3 animal F2 parentage_claimed {"basis": "seen laying", "dam": {"status": "known", "animals": [{"animal": "@animal F1"}]}} -> recorded
        day 4 animal F2 parentage_claimed {"basis": "other", "sire": {"status": "unknown"}}  -> recorded
        "#,
    );
    let animal = animal(&world, "F2");
    assert_eq!((animal.sire.status, animal.dam.status), (ParentStatus::None, ParentStatus::Known));
    assert_eq!(animal.parentage_claims.len(), 4);
    check(
        r#"
        day 0 animal F2 received                                                          -> recorded
        day 1 animal F2 parentage_claimed {"basis": "genotype", "sire": {"status": "none"}} -> recorded
        day 2 animal F2 parentage_claimed {"basis": "genotype", "sire": {"status": "wild_caught"}} -> recorded, discrepancy: genotypes that name different parents
        "#,
    );
}

#[test]
fn the_missing_and_the_escaped_are_no_deaths() {
    let world = check(
        r#"
        day  0 animal F1 received                                                         -> recorded
        day 10 animal F1 missing {"noticed_at": "a full count", "last_seen_alive": "@day 9"} -> recorded
        animal F1 is missing
        day 11 animal F1 missing {"noticed_at": "a search"}                                -> recorded, discrepancy: missing already
        day 12 animal F1 fed                                                               -> recorded, discrepancy: told of while missing, not noted as found
        animal F1 is missing
        day 13 animal F1 found {"where": "behind the overflow", "to_tank": "@tank Inc"}    -> recorded
        animal F1 is present in Inc
        day 14 animal F1 found {"where": "there"}                                          -> recorded, discrepancy: found, though not missing
        day 15 animal F1 recaptured {"where": "there"}                                     -> recorded, discrepancy: recaptured, though not escaped
        day 20 animal F1 escaped {"how": "through the outflow", "into": "the drain"}       -> recorded
        animal F1 is at large
        day 21 animal F1 measured mass 20                                                  -> recorded, discrepancy: told of while missing, not noted as found
        day 22 animal F1 escaped {"how": "not known", "into": "not known"}                 -> recorded
        day 23 animal F1 recaptured {"where": "sump", "to_tank": "@tank Nur"}              -> recorded
        day 24 animal F1 missing {"noticed_at": "other"}                                   -> recorded
        day 25 animal F1 died                                                              -> recorded
        animal F1 is dead
        day 26 animal F1 missing {"noticed_at": "other"}                                   -> recorded, discrepancy: missing after its end
        day  0 animal F2 received                                                         -> recorded
        day 10 animal F2 missing {"noticed_at": "a full count"}                            -> recorded
        day 40 by registrar with curator animal F2 written_off {"reason": "three full counts"} -> recorded
        animal F2 is written off
        day  0 animal F3 received                                                         -> recorded
        day  9 by curator with curator animal F3 written_off {"reason": "a slip"}          -> recorded, discrepancy: written off without both curator and registrar; written off, though not missing
        "#,
    );
    let told: Vec<(&str, Option<i64>)> =
        animal(&world, "F1").absences.iter().map(|a| (a.what, a.found.map(|found| (found.time.0 - day(0).0) / 86_400_000))).collect();
    assert_eq!(told, [("missing", Some(13)), ("escaped", Some(21)), ("escaped", Some(23)), ("missing", Some(25))]);
    let seen = world.projections.at(day(11), u64::MAX, |view| view.animal(&animal(&world, "F1").id)).expect("the animal");
    assert_eq!(seen.last_seen_alive.map(|seen| seen.time), Some(day(9)), "censored at the last sighting alive");
}

#[test]
fn an_animal_may_come_back() {
    let world = check(
        r#"
        day  0 animal F1 received                                                         -> recorded
        day 10 animal F1 departed                                                         -> recorded
        day 50 animal F1 returned {"from": "another house", "reason": "end of a loan", "to_tank": "@tank Inc"} -> recorded
        animal F1 is present in Inc
        as of day 20, animal F1 is gone
        day 51 animal F1 returned {"from": "another house", "reason": "other"}             -> recorded, discrepancy: returned, though it had not left
        "#,
    );
    assert_eq!(animal(&world, "F1").absences[0].what, "departed");
}

#[test]
fn a_cause_as_determined_has_a_veterinarian_or_laboratory_behind_it() {
    let world = check(
        r#"
        day  0 animal F1 received                                                         -> recorded
        day  1 about animal F1 necropsy.reported {"state": "asked"}                        -> recorded, discrepancy: post-mortem or carcass of one not noted dead
        day  0 animal F2 received                                                         -> recorded
        day  1 animal F2 died                                                             -> recorded
        day  1 10:00 about animal F2 carcass.kept {"how": "frozen", "where": "freezer 2"}  -> recorded
        day  2 about animal F2 necropsy.reported {"state": "reported", "cause_determined": "as I see it"} -> recorded, discrepancy: diagnosis or cause as determined without a veterinarian or laboratory
        day  3 by vet about animal F2 necropsy.reported {"state": "reported", "cause_determined": "as reported"} -> recorded
        day  4 about animal F2 carcass.disposed {"how": "licensed carrier"}                -> recorded
        day  5 about animal F2 carcass.kept {"how": "frozen", "where": "freezer 2"}        -> recorded, discrepancy: body kept after it was disposed of
        day  0 egg A1 collected                                                           -> recorded
        day  1 egg A1 lost plainly photo                                                  -> recorded
        day  2 by vet about egg A1 necropsy.reported {"state": "reported", "cause_determined": "as reported"} -> recorded
        "#,
    );
    assert_eq!(animal(&world, "F2").afterwards.cause_determined.as_deref(), Some("as reported"));
}
