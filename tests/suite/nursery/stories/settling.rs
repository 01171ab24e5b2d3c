//! Discrepancies from their first day to their end: who may settle them, who is asked, what makes
//! them go, and when they are due.

use crate::nursery::book::{Who, day, subject};
use crate::nursery::runner::{World, check};
use selachron_record::domain::discrepancy::{Discrepancy, Settled};

/// The one discrepancy of that kind, at the end of the story.
fn found(world: &World, kind: &str) -> Option<Discrepancy> {
    let mut all = world.projections.at(day(400), u64::MAX, |view| view.discrepancies());
    all.retain(|found| found.kind == kind);
    assert!(all.len() < 2, "{kind} is there {} times", all.len());
    all.pop()
}

fn standing(world: &World, kind: &str) -> (Settled, bool) {
    found(world, kind).map(|found| (found.standing, found.open)).unwrap_or_else(|| panic!("nothing is {kind}"))
}

const FED_AFTER_DEATH: &str = "
        day 0 animal F1 received        -> recorded
        day 1 animal F1 died            -> recorded
        [fed] day 2 animal F1 fed       -> recorded, discrepancy: fed after death
";

const BAND_BACK: &str = "
        day 0 egg A1 collected                        -> recorded
        day 7 egg A1 candled band 5 moving            -> recorded
        [look] day 14 egg A1 candled band 2 moving    -> recorded, discrepancy: band going back two or more
";

#[test]
fn a_colleague_settles_what_may_wait() {
    let world = check(&format!("{BAND_BACK} day 15 explain look slip band going back two or more -> recorded"));
    assert_eq!(standing(&world, "band going back two or more"), (Settled::Slip, false));
    let found = found(&world, "band going back two or more").unwrap();
    assert_eq!(found.said[0].person.as_deref(), Some(Who::Keeper.person().as_str()));
    // A trainee's word is kept and settles nothing.
    let story = format!("{BAND_BACK} day 15 by trainee with keeper explain look meant band going back two or more -> recorded");
    let world = check(&story);
    assert_eq!(standing(&world, "band going back two or more"), (Settled::Open, true));
}

#[test]
fn what_needs_a_person_today_is_settled_by_somebody_who_answers_for_it() {
    let keeper = check(&format!("{FED_AFTER_DEATH} day 3 explain fed slip fed after death -> recorded"));
    assert_eq!(standing(&keeper, "fed after death"), (Settled::Open, true));
    let found = found(&keeper, "fed after death").unwrap();
    assert!(found.said.len() == 1 && !found.said[0].counts, "what the keeper says is shown: {found:?}");
    let curator = check(&format!("{FED_AFTER_DEATH} day 3 by curator explain fed meant fed after death -> recorded"));
    assert_eq!(standing(&curator, "fed after death"), (Settled::Meant, false));
}

#[test]
fn another_person_is_asked_and_the_newest_word_counts() {
    let asked = format!("{FED_AFTER_DEATH} day 3 explain fed ask vet fed after death -> recorded\n");
    let world = check(&asked);
    assert_eq!(standing(&world, "fed after death"), (Settled::Asked, true));
    let whose = |world: &World| {
        let due = world.projections.at(day(4), u64::MAX, |view| view.due(day(4)));
        due.into_iter().find(|item| item.discrepancy.is_some()).map(|item| item.whose)
    };
    assert_eq!(whose(&world), Some(vec![Who::Vet.person()]), "it is on that person's list");
    let world = check(&format!("{asked} day 4 by vet explain fed meant fed after death -> recorded"));
    assert_eq!((standing(&world, "fed after death"), whose(&world)), ((Settled::Meant, false), None));
    // Two people may disagree: both words stay, and the curator's later one opens it again.
    let world = check(&format!(
        "{asked} day 4 by vet explain fed meant fed after death -> recorded
        day 5 by curator explain fed ask registrar fed after death -> recorded"
    ));
    assert_eq!(standing(&world, "fed after death"), (Settled::Asked, true));
    assert_eq!(found(&world, "fed after death").unwrap().said.len(), 3);
    // A keeper cannot open again what somebody who answers for it has settled.
    let world = check(&format!(
        "{asked} day 4 by vet explain fed meant fed after death -> recorded
        day 5 explain fed ask registrar fed after death -> recorded"
    ));
    assert_eq!(standing(&world, "fed after death"), (Settled::Meant, false));
}

#[test]
fn a_correction_makes_it_go_and_a_word_taken_back_counts_no_more() {
    let world = check(&format!("{FED_AFTER_DEATH} day 3 retract fed -> recorded"));
    assert!(found(&world, "fed after death").is_none());
    let world = check(&format!(
        "{FED_AFTER_DEATH} [word] day 3 by curator explain fed meant fed after death -> recorded
        day 4 by curator retract word -> recorded"
    ));
    assert_eq!(standing(&world, "fed after death"), (Settled::Open, true));
}

#[test]
fn an_explanation_tells_nothing_of_its_subject() {
    // It stands in the history, and an animal told of before it came is not told of by it.
    let world = check(
        "
        day 5 egg A1 collected                        -> recorded
        [look] day 3 egg A1 candled band 1 still      -> recorded, discrepancy: told of before it came
        day 4 explain look meant told of before it came -> recorded
        ",
    );
    let id = selachron_schemas::names::Subject::parse(&subject("egg", "A1")).unwrap();
    world.projections.at(day(400), u64::MAX, |view| {
        let kinds: Vec<String> = view.history(&id).into_iter().map(|note| note.kind).collect();
        assert_eq!(kinds, ["egg.candled.v1", "discrepancy.explained.v1", "egg.collected.v1"]);
        assert_eq!(view.egg(&id).unwrap().discrepancies.len(), 1);
    });
}

#[test]
fn a_key_under_suspicion_settles_nothing() {
    let world = check(
        &format!(
            "{FED_AFTER_DEATH} day 3 by curator explain fed meant fed after death -> recorded, discrepancy: by a key under suspicion
        day 4 by registrar revoke curator suspected 2 -> recorded"
        )
        .replace(", discrepancy: by a key under suspicion", ""),
    );
    assert_eq!(standing(&world, "fed after death"), (Settled::Open, true));
}

/// `days ahead of the note: what is due` for each weight.
#[test]
fn each_weight_has_its_day_on_the_list() {
    let due = |story: &str, on: i64| -> Vec<String> {
        let items = check(story).projections.at(day(on), u64::MAX, |view| view.due(day(on)));
        items.into_iter().filter(|item| item.discrepancy.is_some()).map(|item| item.why).collect()
    };
    assert_eq!(due(FED_AFTER_DEATH, 2).len(), 1, "needs a person today");
    assert_eq!((due(BAND_BACK, 20).len(), due(BAND_BACK, 21).len()), (0, 1), "a week may pass");
    let unknown = "
        day 0 animal F1 received       -> recorded
        day 2 animal F1 moved to Pool  -> recorded, discrepancy: names something unknown
    ";
    assert_eq!((due(unknown, 15).len(), due(unknown, 16).len()), (0, 1), "two weeks, while a device may be out of reach");
    assert!(due(FED_AFTER_DEATH, 2)[0].starts_with("Fed after death: "), "{:?}", due(FED_AFTER_DEATH, 2));
}

#[test]
fn an_urgent_opening_asks_for_its_signatures_afterwards() {
    let story = r#"
        day  0 egg A1 collected                            -> recorded
        day 60 egg A1 candled band 7 moving slits          -> recorded
        [open] day 70 egg A1 opened urgently               -> recorded, discrepancy: opened without a second person; opened without the approval the policy asks
    "#;
    let waiting = |story: &str| {
        let items = check(story).projections.at(day(71), u64::MAX, |view| view.due(day(71)));
        items.into_iter().filter(|item| format!("{:?}", item.what) == "SignAfterwards").flat_map(|item| item.whose).collect::<Vec<_>>()
    };
    assert_eq!(waiting(story), ["curator", "second person", "veterinarian"]);
    let signed = format!("{story} day 70 by vet endorse open -> recorded\n");
    assert_eq!(waiting(&signed), ["curator"], "the veterinarian is a second person too");
    assert_eq!(waiting(&format!("{signed} day 71 by curator endorse open -> recorded")), [""; 0]);
}
