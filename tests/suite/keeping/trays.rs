//! Separating cases, round sheets and labels. Places and parentage are invented.

use super::House;
use proptest::prelude::*;
use selachron_record::domain::trays::{Case, Realm, Slot, TrayRules, conflict, propose};
use selachron_schemas::names::Subject;
use selachron_tests::fixture::ulid;
use selachron_tests::world::Who;
use serde_json::{Value, json};

fn subject(noun: &str, number: u64) -> Subject {
    Subject::parse(&format!("{noun}/{}", ulid(7, number))).expect("a subject")
}

fn case(at: usize, (place, band, clutch, flags): (usize, u8, u8, u8), slots: &[Slot]) -> Case {
    let slot = &slots[place % slots.len()];
    let realm =
        Realm { water: slot.water.clone(), quarantine: slot.quarantine.clone(), source: "collected here".to_owned(), species: None };
    Case {
        egg: subject("egg", at as u64),
        label: format!("E{at:02}"),
        tank: slot.tank.clone(),
        place: (flags % 8 != 7).then(|| slot.place.clone()),
        realm,
        uncertain_clutch: (clutch > 0).then(|| format!("clutch {clutch}")),
        band,
        is_open: flags & 8 != 0,
        stays: flags & 48 == 48,
        alone: flags & 112 == 112,
    }
}

fn slots(capacities: &[u64]) -> Vec<Slot> {
    let slot = |(at, most): (usize, &u64)| Slot {
        place: subject("place", at as u64),
        label: format!("P{at}"),
        tank: subject("tank", at as u64 / 4),
        // Every second tank has water of its own; the last is under quarantine.
        water: subject("tank", at as u64 / 8),
        quarantine: (at >= 12).then(|| "a quarantine".to_owned()),
        order: at as u64,
        cases_max: Some(*most),
    };
    capacities.iter().enumerate().map(slot).collect()
}

fn after(cases: &[Case], slots: &[Slot], rules: TrayRules) -> Vec<Case> {
    let mut cases = cases.to_vec();
    for step in propose(cases.clone().as_slice(), slots, rules).moves {
        let case = cases.iter_mut().find(|case| case.egg == step.egg).expect("a case that is there");
        case.tank = step.to_tank;
        case.place = Some(step.to_place);
    }
    cases
}

proptest! {
    #[test]
    fn no_move_breaks_a_rule_and_a_second_run_proposes_nothing(
        told in prop::collection::vec((0_usize..16, 0_u8..8, 0_u8..4, 0_u8..128), 1..24),
        capacities in prop::collection::vec(1_u64..5, 16),
        opened_apart: bool,
    ) {
        let (slots, rules) = (slots(&capacities), TrayRules { opened_apart });
        let cases: Vec<Case> = told.into_iter().enumerate().map(|(at, told)| case(at, told, &slots)).collect();
        let proposal = propose(&cases, &slots, rules);
        prop_assert_eq!(&proposal, &propose(&cases, &slots, rules), "the same again");
        let ended = after(&cases, &slots, rules);
        for step in &proposal.moves {
            let before = cases.iter().find(|case| case.egg == step.egg).unwrap();
            let slot = slots.iter().find(|slot| slot.place == step.to_place).unwrap();
            prop_assert!(!before.stays, "what rests or is held apart stays");
            prop_assert!(slot.water == before.realm.water && slot.quarantine == before.realm.quarantine, "never across");
            let here: Vec<&Case> = ended.iter().filter(|case| case.place.as_ref() == Some(&slot.place)).collect();
            prop_assert!(here.len() as u64 <= slot.cases_max.unwrap(), "capacity");
            for other in here.iter().filter(|other| other.egg != step.egg) {
                let case = ended.iter().find(|case| case.egg == step.egg).unwrap();
                prop_assert_eq!(conflict(case, other, rules), None);
                prop_assert!(!other.alone);
            }
        }
        let moved: std::collections::BTreeSet<&Subject> = proposal.moves.iter().map(|step| &step.egg).collect();
        prop_assert_eq!(moved.len(), proposal.moves.len(), "each is moved once");
        prop_assert_eq!(propose(&ended, &slots, rules).moves, vec![], "nothing is left to do");
    }
}

fn placed(house: &mut House) -> Vec<String> {
    let trays = house.trays.clone();
    let set_up = |house: &mut House, order: u64| {
        let place = house.fresh("place");
        house.note(
            "place.set_up",
            &place,
            &json!({"label": format!("T{order}"), "tank": trays, "order": order, "row": "A", "cases_max": 2}),
        );
        place
    };
    (1..=3).map(|order| set_up(house, order)).collect()
}

fn two_in_one_place(house: &mut House) -> Vec<String> {
    let places = placed(house);
    let (species, adults, trays) = (house.species.clone(), house.adults.clone(), house.trays.clone());
    let put = |house: &mut House, label: &str| {
        let egg = house.world.egg(label, &species, &adults, Some(&trays));
        house.note("egg.moved", &egg, &json!({"to_tank": trays, "place": places[0]}));
        egg
    };
    ["A1", "B1"].map(|label| put(house, label)).to_vec()
}

#[test]
fn two_clutches_of_uncertain_parentage_are_separated_move_by_move() {
    let mut house = House::open();
    let eggs = two_in_one_place(&mut house);
    let proposal = house.item("/v1/trays/proposal");
    let moves = proposal["moves"].as_array().expect("moves").clone();
    assert_eq!((moves.len(), &moves[0]["egg"], &moves[0]["to_label"]), (1, &json!(eggs[1]), &json!("T2")), "{proposal}");
    assert!(moves[0]["reason"].as_str().unwrap().contains("two clutches of uncertain parentage"), "{proposal}");
    let step = &moves[0];
    house.note("egg.moved", &eggs[1], &json!({"to_tank": step["to_tank"], "from_tank": step["from_tank"], "place": step["to_place"]}));
    assert_eq!(house.item("/v1/trays/proposal")["moves"], json!([]), "a second run proposes nothing");
    assert_eq!(house.item("/v1/places/T2")["eggs"], json!([eggs[1]]));
}

#[test]
fn a_case_that_rests_is_not_moved() {
    let mut house = House::open();
    let rest = json!({"rest_after_laying_days": 14});
    let set = house.world.say_with(Who::Curator, "policy.set.v1", "collection", &rest, &serde_json::Map::new(), &[Who::Registrar]);
    set.recorded().expect("the house rules are set");
    two_in_one_place(&mut house);
    assert_eq!(house.item("/v1/trays/proposal")["moves"], json!([]), "both were laid today");
    house.world.pass_days(15);
    assert_eq!(house.item("/v1/trays/proposal")["moves"].as_array().map(Vec::len), Some(1));
}

#[test]
fn a_round_sheet_has_every_place_and_a_hash_that_names_it() {
    let mut house = House::open();
    two_in_one_place(&mut house);
    let get = |house: &House, query: &[(&str, &str)]| house.world.read("/v1/rounds/sheet", query)["item"].clone();
    let sheet = get(&house, &[("tray", "Trays")]);
    let labels: Vec<&Value> = sheet["places"].as_array().unwrap().iter().map(|place| &place["label"]).collect();
    assert_eq!(labels, [&json!("T1"), &json!("T2"), &json!("T3")], "filled and empty, in the order of a round: {sheet}");
    let hash = sheet["page_hash"].as_str().unwrap().to_owned();
    let size = house.world.read("/v1/due", &[])["known_at"].as_u64().unwrap();
    assert_eq!(sheet["name"], format!("sheet {hash} of Trays, log size {size}"));
    let size = size.to_string();
    let as_of = house.world.now().utc_text();
    let clocks = [("tray", "Trays"), ("known_at", size.as_str()), ("as_of", as_of.as_str())];
    let page =
        house.world.client().get_text("/v1/rounds/sheet", &[&clocks[..], &[("format", "html")]].concat(), "text/html").expect("a page");
    assert!(page.contains(&hash) && page.contains("log size") && page.contains("<td>empty</td>"), "{page}");
    let egg = house.item("/v1/eggs/A1")["id"].as_str().unwrap().to_owned();
    house.world.pass_days(1);
    house.note("egg.candled", &egg, &json!({"seen_into": true, "band": 2, "movement": "moving"}));
    assert_eq!(get(&house, &clocks)["page_hash"], json!(hash), "the sheet of then is the same for ever");
    assert_ne!(get(&house, &[("tray", "Trays")])["page_hash"], json!(hash));
}

#[test]
fn a_labels_code_is_read_by_another_program() {
    let mut house = House::open();
    let eggs = two_in_one_place(&mut house);
    let page = house.world.client().get_text("/v1/labels", &[("of", "eggs"), ("format", "html")], "text/html").expect("a page");
    let read: Vec<String> =
        page.split("<svg").skip(1).map(|svg| decoded(&format!("<svg{}", svg.split("</svg>").next().unwrap()))).collect();
    assert_eq!(read, eggs, "in the order of the labels");
    let refused = house.world.client().get("/v1/labels", &[("of", "food")]).expect_err("no such labels");
    assert!(refused.to_string().contains("eggs, places, tanks"), "{refused}");
}

/// Paints the modules of an SVG and reads them with the crate `rqrr`, which shares no code with ours.
fn decoded(svg: &str) -> String {
    const SCALE: usize = 4;
    let side: usize = svg.split("viewBox=\"0 0 ").nth(1).and_then(|rest| rest.split(' ').next()?.parse().ok()).expect("a side");
    let mut dark = vec![false; side * side];
    for module in svg.split("d=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a path").split('M').skip(1) {
        let (x, y) = module.split('h').next().and_then(|at| at.split_once(',')).expect("a module");
        dark[y.parse::<usize>().unwrap() * side + x.parse::<usize>().unwrap()] = true;
    }
    let mut image = rqrr::PreparedImage::prepare_from_greyscale(side * SCALE, side * SCALE, |x, y| {
        if dark[(y / SCALE) * side + x / SCALE] { 0 } else { u8::MAX }
    });
    let grids = image.detect_grids();
    grids.first().expect("a code").decode().expect("it reads").1
}
