//! What speaks for and against opening a case: criteria and reasons with equal weight, each with
//! its evidence and age; what became of comparable cases; and what a decision keeps of it.

use super::book::{day, subject};
use super::runner::{World, check};
use selachron_record::domain::state::{Holds, OpeningAssessment, Outcomes, Weighed};
use selachron_schemas::names::Subject;
use serde_json::{Value, json};
use std::fmt::Write as _;

const LISTED: &str = r#"day 0 by curator about species W species.listed {"scientific_name": "Inventus thermophilus", "common_name": "warm shark", "length_basis": "total", "incubation_points": [{"temperature_c": 24.95, "temperature_c_low": 24.4, "temperature_c_high": 25.5, "days": 140.3, "sd_days": 4.6, "cases": 7, "source": "Payne 2012 Zoo Biol 31:718-724", "confidence": "abstract"}]} -> recorded"#;

fn id(name: &str) -> Subject {
    Subject::parse(&subject("egg", name)).expect("a subject")
}

/// Cases found on day 0, of a species with data or without, in water of 25 °C.
fn story(eggs: &[&str], species: &str, days: i64) -> String {
    let mut text = format!("{LISTED}\n");
    for egg in eggs {
        writeln!(
            text,
            r#"day 0 after -1 about egg {egg} egg.collected {{"label": "{egg}", "species": "@species {species}", "from_tank": "@tank Adults", "laid": "single", "case": "whole", "yolk": "seen", "to_tank": "@tank Inc"}} -> recorded"#
        )
        .expect("text grows");
    }
    for day in 0..=days {
        writeln!(text, r#"day {day} about tank Inc water.measured {{"temperature_c": 25, "instrument": "probe 1"}} -> recorded"#)
            .expect("text grows");
    }
    text
}

fn assessed(world: &World, name: &str, at: i64) -> OpeningAssessment {
    world.projections.at(day(at), u64::MAX, |view| view.opening_assessment(&id(name))).expect("a case")
}

fn holds(weighed: &[Weighed]) -> Vec<(&'static str, Holds)> {
    weighed.iter().map(|one| (one.what, one.holds)).collect()
}

#[test]
fn criteria_and_reasons_stand_side_by_side_with_evidence() {
    let looks = r#"
        day 181 egg A1 candled {"seen_into": true, "band": 7, "movement": "moving", "yolk_fraction": 0, "findings": ["slits open"]} -> recorded
        day 184 egg A1 candled {"seen_into": true, "band": 7, "movement": "still", "yolk_fraction": 0} -> recorded
        day 185 egg A1 candled {"seen_into": true, "band": 7, "movement": "moving", "yolk_fraction": 0} -> recorded
        day 186 egg A1 candled {"seen_into": true, "band": 7, "movement": "still", "yolk_fraction": 0} -> recorded
        day 186 egg A2 candled {"seen_into": true, "band": 6, "movement": "moving", "yolk_fraction": 0.2} -> recorded
    "#;
    let world = check(&format!("{}{looks}", story(&["A1", "A2"], "W", 187)));
    let found = assessed(&world, "A1", 187);
    let yes = Holds::Yes;
    let wanted = [("past the window", yes), ("band 7", yes), ("external yolk gone", yes), ("alive on repeated looks", yes)];
    assert_eq!(holds(&found.criteria), wanted, "{found:?}");
    let against = [
        ("external yolk seen", Holds::No),
        ("wide spread of the window", yes),
        ("few looks", Holds::No),
        ("cool water", Holds::No),
        ("embryo merely still", yes),
        ("moving and well", Holds::No),
    ];
    assert_eq!(holds(&found.against), against, "{found:?}");
    let alive = &found.criteria[3].evidence;
    assert_eq!(alive.iter().map(|evidence| evidence.age_days).collect::<Vec<_>>(), [2, 6], "each with its age");
    assert!(found.says.starts_with("This is no recommendation") && found.cautions.len() == 7);
    assert!(found.meets_criteria && found.met_by == [id("A1")], "A2 does not meet them");
    assert!(found.agreement.says.contains("curator and veterinarian") && !found.sealed);
    let other = assessed(&world, "A2", 187);
    assert!(!other.meets_criteria && other.met_by == [id("A1")] && other.sealed);
    assert_eq!(other.criteria[1].holds, Holds::No, "band 6");
}

#[test]
fn without_a_forecast_it_is_judged_by_what_was_seen() {
    let text = story(&["A1"], "S", 10);
    let world = check(&format!("{text}day 150 egg A1 candled band 7 moving slits -> recorded\n"));
    let found = assessed(&world, "A1", 152);
    assert!(
        found.window.says.starts_with("window: not known, judged by band 7 and the days since laying, at least 152"),
        "{}",
        found.window.says
    );
    assert_eq!(found.criteria[0].holds, Holds::NotKnown);
    assert_eq!(found.criteria[2].holds, Holds::NotKnown, "no look says how much yolk is left");
    assert!(!found.meets_criteria, "what nobody knows is not met");
    assert_eq!(found.against[1].holds, Holds::NotKnown);
}

#[test]
fn the_house_says_which_criteria_it_wants() {
    let text = story(&["A1"], "S", 10);
    let rules =
        r#"{"opening_criteria": ["band 7", "alive on repeated looks"], "opening_alive_looks_min": 1, "opening_looks_within_days": 3}"#;
    let world = check(&format!(
        "{text}day 10 by curator with registrar policy {rules} -> recorded\nday 150 egg A1 candled band 7 moving -> recorded\n"
    ));
    let found = assessed(&world, "A1", 151);
    assert_eq!(holds(&found.criteria), [("band 7", Holds::Yes), ("alive on repeated looks", Holds::Yes)]);
    assert!(found.meets_criteria);
    assert_eq!(assessed(&world, "A1", 160).criteria[1].holds, Holds::NotKnown, "that look says nothing of today");
}

#[test]
fn comparable_cases_are_followed_from_the_same_landmark() {
    let text = story(&["A1", "L1", "L2", "L3", "O1", "E1", "N1"], "W", 0);
    // At 140 days: E1 hatched within the week, N1 before; O1 was opened; L1 and L2 were left.
    let text = format!(
        "{text}
        day 130 egg N1 hatched young YN alive         -> recorded
        day 141 egg O1 candled band 7 moving slits    -> recorded
        day 142 with curator,vet egg O1 opened        -> recorded
        day 143 egg O1 hatched young YO alive         -> recorded
        day 143 egg E1 hatched young YE alive         -> recorded
        day 150 egg L1 hatched young YL alive         -> recorded
        day 159 egg L2 candled band 7 still           -> recorded
        day 160 egg L2 lost cause embryo died         -> recorded
        "
    );
    let world = check(&text);
    let found = assessed(&world, "A1", 140).comparable;
    assert_eq!((found.left_alone.n, found.opened.n), (0, 0), "on day 140 nobody can say yet");
    // The same question, asked later of another case at 140 days.
    let later = check(&format!(
        "{text}day 60 after 59 about egg B1 egg.collected {{\"label\": \"B1\", \"species\": \"@species W\", \"from_tank\": \"@tank Adults\", \"laid\": \"single\", \"case\": \"whole\", \"yolk\": \"seen\", \"to_tank\": \"@tank Inc\"}} -> recorded\n"
    ));
    let found = assessed(&later, "B1", 200).comparable;
    assert_eq!(found.landmark_days, 140);
    let (left, opened) = (found.left_alone, found.opened);
    assert_eq!(
        left,
        Outcomes { n: 4, hatched_unaided: 1, lost: 1, still_in_case: 2, ..Outcomes::default() },
        "L1, L2, and A1 and L3 still"
    );
    assert_eq!(opened, Outcomes { n: 1, hatched_after_opening: 1, ..Outcomes::default() });
    assert_eq!(found.ended_within, 1, "E1 hatched within the week: neither left alone nor opened");
    assert!(found.caveat.contains("not an effect"));
}

/// What a decision keeps of an assessment, as the record says it at these clocks.
fn kept(world: &World, name: &str, at: i64, size: u64) -> Value {
    let told = world.projections.at(day(at), size, |view| view.opening_assessment(&id(name))).expect("a case");
    let of = |list: &[Weighed], holds: Holds| -> Vec<&str> { list.iter().filter(|one| one.holds == holds).map(|one| one.what).collect() };
    json!({
        "as_of": format!("@day {at}"), "known_at_size": size, "answer_sha256": "ab".repeat(32), "standing": told.window.standing,
        "criteria_met": of(&told.criteria, Holds::Yes), "criteria_not_met": of(&told.criteria, Holds::No),
        "criteria_not_known": of(&told.criteria, Holds::NotKnown), "reasons_against": of(&told.against, Holds::Yes),
        "met_by": told.met_by, "met_by_cases": told.met_by.len(),
    })
}

const OTHERWISE: &str = "the assessment kept is not what the record says";

/// The two decisions with this assessment, each with what is at odds about it.
fn decided(text: &str, kept: &Value, odd: &str) -> World {
    check(&format!(
        r#"{text}
        [given] day 3 by vet with curator about egg A1 opening.authorised {{"criteria": ["band 7"], "persons": ["@person keeper"], "from": "@day 3", "to": "@day 9", "assessment": {kept}}} -> recorded{odd}
        day 3 by keeper about egg A1 opening.left {{"reasons": ["few looks"], "decided_by": ["@person curator"], "assessment": {kept}}} -> recorded{odd}
        [late] day 1 arrives 8 about tank Inc water.measured {{"temperature_c": 24.5, "instrument": "probe 2"}} -> recorded
        "#
    ))
}

#[test]
fn a_decision_keeps_what_was_assessed_and_the_record_says_the_same() {
    let text = story(&["A1"], "W", 3);
    let before = check(&text);
    let size = before.book.notes.len() as u64;
    let kept = kept(&before, "A1", 2, size);
    let world = decided(&text, &kept, "");
    let egg = world.projections.at(day(9), u64::MAX, |view| view.egg(&id("A1"))).expect("a case");
    let authorised = egg.authorisations[0].assessment.as_ref().expect("kept");
    assert_eq!((authorised.met_by_cases.0, authorised.standing.as_str()), (0, "before the window"));
    assert_eq!(egg.left_to_hatch[0].assessment.as_ref(), Some(authorised));
    let odd = world.projections.at(day(9), u64::MAX, |view| view.discrepancies());
    assert!(odd.iter().all(|found| found.kind != OTHERWISE), "what came later changes nothing of what was so: {odd:?}");
}

#[test]
fn an_invented_assessment_is_kept_and_shown_as_at_odds() {
    let text = story(&["A1"], "W", 3);
    let before = check(&text);
    let size = before.book.notes.len() as u64;
    let sound = kept(&before, "A1", 2, size);
    let odd = format!(", discrepancy: {OTHERWISE}");
    let lies = [
        ("standing", json!("past the window"), "standing \"past the window\", not \"before the window\""),
        ("criteria_met", json!(["band 7"]), "criteria met: \"band 7\", not \"\""),
        ("reasons_against", json!([]), "reasons against: \"\", not"),
        ("met_by_cases", json!(3), "0 cases met the criteria, not 3"),
        ("known_at_size", json!(9999), "it names 9999 notes"),
        ("as_of", json!("@day 1"), "it is of 2026-01-01T23:00:00.000Z, and the decision of 2026-01-03T23:00:00.000Z"),
    ];
    for (member, lie, says) in lies {
        let mut invented = sound.clone();
        invented[member] = lie;
        let world = decided(&text, &invented, &odd);
        let told = world.odd(world.size_at("given") - 1);
        assert_eq!(told.len(), 1, "{member}: {told:?}");
        assert!(told[0].says.contains(says), "{member}: {}", told[0].says);
        assert!(told[0].open && told[0].subjects.contains(&id("A1")), "{member}: it stays and a person must look");
    }
}
