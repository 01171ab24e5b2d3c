//! Readings of water over time: what follows from them, bands, times outside them, and loggers' files.

use super::House;
use selachron_schemas::time::{DAY_MS, HOUR_MS};
use selachron_tests::world::Who;
use serde_json::{Value, json};

/// A warm system with the trays in it, and a case in them.
fn warm(house: &mut House) -> String {
    let (system, trays) = (house.fresh("system"), house.trays.clone());
    house.note("system.set_up", &system, &json!({"label": "Warm", "water": "tropical"}));
    house.note("tank.joined", &trays, &json!({"system": system}));
    system
}

fn read(house: &mut House, system: &str, data: &Value) {
    let mut data = data.clone();
    data["instrument"] = json!("probe 3");
    house.note("water.measured", system, &data);
}

fn items(house: &House, path: &str, query: &[(&str, &str)]) -> Vec<Value> {
    house.world.read(path, query)["items"].as_array().cloned().unwrap_or_default()
}

#[test]
fn derived_values_are_told_with_their_form_or_the_reason_why_there_is_none() {
    let mut house = House::open();
    let system = warm(&mut house);
    house.world.pass_ms(HOUR_MS);
    // 25 °C, S 35, pH 8.0 on the total scale: fraction 0.0556 (Clegg & Whitfield 1995, STATISTICS 3.9).
    read(&mut house, &system, &json!({"temperature_c": 25, "salinity_psu": 35, "ph": 8.0, "ph_scale": "total"}));
    house.world.pass_ms(HOUR_MS);
    read(&mut house, &system, &json!({"ammonia_total_mg_l_n": 1.0, "oxygen_mg_l": 6.0}));
    house.world.pass_ms(HOUR_MS);
    read(&mut house, &system, &json!({"ammonia_total_mg_l_n": 1.0, "ph": 8.0, "ph_scale": "unknown"}));
    let series = house.item("/v1/systems/Warm/water");
    let derived = |at: usize| series["readings"][at]["derived"].clone();
    // UNESCO 1981: S 35, t 25 is 1023.34306 kg/m³ (on IPTS-68; ITS-90 moves it by 0.002).
    assert!((derived(0)["density_kg_m3"]["value"].as_f64().unwrap() - 1023.343).abs() < 0.01, "{series}");
    let ammonia = &derived(1)["un_ionised_ammonia_mg_l_n"];
    assert!((ammonia["value"].as_f64().unwrap() - 0.0556).abs() < 0.0002 && ammonia["events"].as_array().unwrap().len() == 1, "{ammonia}");
    assert!(ammonia["by"].as_str().unwrap().ends_with("pH scale total"), "{ammonia}");
    let oxygen = &derived(1)["oxygen_percent"];
    assert!(oxygen["value"].is_null() && oxygen["why_not"].as_str().unwrap().contains("air pressure"), "{oxygen}");
    let unknown = &derived(2)["un_ionised_ammonia_mg_l_n"];
    assert!(unknown["value"].is_null() && !unknown["why_not"].as_str().unwrap().is_empty(), "no scale, no figure: {unknown}");
    assert_eq!(series["readings"][1]["outside"], json!(["un_ionised_ammonia_mg_l_n"]));
    assert_eq!(series["bands"].as_array().unwrap().iter().filter(|band| band["basis"] == "common practice, no source").count(), 7);
}

#[test]
fn a_water_outside_its_band_is_one_episode_with_the_cases_in_it() {
    let mut house = House::open();
    let system = warm(&mut house);
    let (species, adults, trays) = (house.species.clone(), house.adults.clone(), house.trays.clone());
    let egg = house.world.egg("A1", &species, &adults, Some(&trays));
    house.world.egg("B1", &species, &adults, None);
    for temperature_c in [25.0, 27.8, 28.4, 27.2] {
        house.world.pass_days(2);
        read(&mut house, &system, &json!({"temperature_c": temperature_c}));
    }
    let open = items(&house, "/v1/water/episodes", &[("open", "true")]);
    let [episode] = open.as_slice() else { panic!("one: {open:?}") };
    assert_eq!((&episode["quantity"], &episode["state"], &episode["readings"]), (&json!("temperature_c"), &json!("open"), &json!(3)));
    assert_eq!((&episode["peak"]["value"], &episode["eggs"]), (&json!(28.4), &json!([egg])), "{episode}");
    assert!(episode["not_before"]["time"].as_str() < episode["start"]["time"].as_str());
    let due = items(&house, "/v1/due", &[]);
    assert_eq!(due[0]["what"], "water out of band", "it needs a person today: {due:?}");
    assert!(due[0]["why"].as_str().unwrap().contains("common practice, no source"), "{due:?}");
    let then = house.world.now();
    house.world.pass_days(1);
    read(&mut house, &system, &json!({"temperature_c": 26.5}));
    let over = items(&house, "/v1/water/episodes", &[]);
    assert_eq!((over.len(), &over[0]["state"]), (1, &json!("over")), "{over:?}");
    assert!(over[0]["end"]["time"].is_string());
    let as_of = then.utc_text();
    assert_eq!(items(&house, "/v1/water/episodes", &[("as_of", &as_of)])[0]["state"], "open", "as it was then");
}

#[test]
fn the_house_sets_bands_per_species_and_the_nearest_counts() {
    let mut house = House::open();
    let system = warm(&mut house);
    let (species, adults, trays) = (house.species.clone(), house.adults.clone(), house.trays.clone());
    let other = house.world.species("Inventus frigidus", "invented cold shark");
    let cool = house.world.egg("C1", &other, &adults, Some(&trays));
    house.world.egg("A1", &species, &adults, Some(&trays));
    let bands =
        json!({"water_bands": [{"quantity": "temperature_c", "low": 18, "high": 22, "species": other, "source": "own experience"}]});
    let set = house.world.say_with(Who::Curator, "policy.set.v1", "collection", &bands, &serde_json::Map::new(), &[Who::Registrar]);
    set.recorded().expect("the house rules are set");
    house.world.pass_ms(HOUR_MS);
    read(&mut house, &system, &json!({"temperature_c": 25.0}));
    let open = items(&house, "/v1/water/episodes", &[]);
    assert_eq!(open.len(), 1, "25 °C is right for tropical water, and too warm for that species: {open:?}");
    assert_eq!((&open[0]["eggs"], &open[0]["band"]["basis"]), (&json!([cool]), &json!("own experience")));
}

#[test]
fn animals_and_groups_in_a_water_outside_its_band_are_exposed_too() {
    let mut house = House::open();
    let system = warm(&mut house);
    let (nursery, adults) = (house.nursery.clone(), house.adults.clone());
    house.note("tank.joined", &nursery, &json!({"system": system}));
    let (stays, leaves, elsewhere) = (house.animal("F1", &nursery), house.animal("F2", &nursery), house.animal("F3", &adults));
    let group = house.fresh("group");
    let formed = json!({"label": "Brood 1", "species": house.species, "counts": {"males": 0, "females": 0, "unknown": 9},
        "how_counted": "each lifted once", "came": "received", "sender": "another house", "tank": nursery});
    house.note("group.formed", &group, &formed);
    house.world.pass_days(1);
    house.note("animal.moved", &leaves, &json!({"to_tank": adults, "from_tank": nursery}));
    house.world.pass_days(1);
    read(&mut house, &system, &json!({"temperature_c": 28.4}));
    let open = items(&house, "/v1/water/episodes", &[("open", "true")]);
    let [episode] = open.as_slice() else { panic!("one: {open:?}") };
    assert_eq!((&episode["animals"], &episode["groups"], &episode["eggs"]), (&json!([stays]), &json!([group]), &json!([])), "{elsewhere}");
    let why = items(&house, "/v1/due", &[])[0]["why"].as_str().expect("why").to_owned();
    assert!(why.contains("exposed: 1 animal, 1 group."), "{why}");
    // A band of its own species concerns a water as long as somebody of it is there.
    let bands = json!({"water_bands": [{"quantity": "temperature_c", "low": 18, "high": 22, "species": house.species, "source": "own experience"}]});
    let set = house.world.say_with(Who::Curator, "policy.set.v1", "collection", &bands, &serde_json::Map::new(), &[Who::Registrar]);
    set.recorded().expect("the house rules are set");
    let open = items(&house, "/v1/water/episodes", &[("open", "true")]);
    let of_species = open.iter().find(|episode| episode["band"]["basis"] == "own experience").expect("an episode of the species' band");
    assert_eq!((&of_species["animals"], &of_species["groups"]), (&json!([stays]), &json!([group])));
    house.note("group.moved", &group, &json!({"from_tank": nursery, "to_tank": adults}));
    house.world.pass_days(1);
    read(&mut house, &system, &json!({"temperature_c": 25.0}));
    house.world.pass_days(1);
    read(&mut house, &system, &json!({"temperature_c": 28.0}));
    let open = items(&house, "/v1/water/episodes", &[("open", "true")]);
    assert!(
        open.iter().all(|episode| episode["groups"] == json!([])) || open.iter().any(|e| e["band"]["basis"] == "own experience"),
        "{open:?}"
    );
    let common = open.iter().find(|episode| episode["quantity"] == "temperature_c" && episode["band"]["basis"] != "own experience");
    assert_eq!(common.map(|episode| &episode["animals"]), Some(&json!([])), "the species has its own band now, which is nearer");
}

#[test]
fn gaps_are_named_and_left_open_in_the_drawing() {
    let mut house = House::open();
    let system = warm(&mut house);
    let instrument = house.fresh("instrument");
    let data = json!({"label": "probe 3", "measures": ["temperature"], "calibration_interval_days": 3});
    house.note("instrument.installed", &instrument, &data);
    for hours in [1, 5, 90, 4] {
        house.world.pass_ms(hours * HOUR_MS);
        read(&mut house, &system, &json!({"temperature_c": 25.0 + 0.1 * hours as f64 / 10.0}));
    }
    let series = house.item("/v1/systems/Warm/water");
    assert_eq!(series["gaps"].as_array().unwrap().len(), 1, "{series}");
    let probe = &series["probes"][0];
    assert_eq!((&probe["hollow"], &probe["calibration"]), (&json!(2), &json!("past its interval: readings are hollow")), "{probe}");
    let svg = house.world.client().get_text("/v1/systems/Warm/water", &[("format", "svg")], "image/svg+xml").expect("a drawing");
    assert_eq!(svg.matches("<path").count(), 2, "the line is broken: {svg}");
    assert!(svg.contains("<desc") && svg.contains("2 were taken past the calibration of the instrument; 1 gaps are left open."), "{svg}");
}

#[test]
fn a_fahrenheit_value_in_a_celsius_member_is_refused() {
    let mut house = House::open();
    let system = warm(&mut house);
    let sent = json!({"temperature_c": 77, "instrument": "probe 3"});
    assert_eq!(house.world.refusal(Who::Keeper, "water.measured.v1", &system, &sent), "body-malformed");
    let said = house.world.say_with(Who::Keeper, "water.measured.v1", &system, &sent, &serde_json::Map::new(), &[]);
    let selachron_cli::fault::Fault::Refused(said) = said.recorded().expect_err("refused") else { panic!("refused by the service") };
    assert_eq!(said.pointer.as_deref(), Some("/data/temperature_c"), "the member is named");
    assert!(said.detail.contains("77 is greater than the maximum of 40"), "and its value: {}", said.detail);
    assert_eq!(house.item("/v1/systems/Warm/water")["readings"], json!([]), "and nothing was kept");
}

#[test]
fn what_is_due_is_told_by_urgency_along_one_walk_and_as_a_calendar() {
    let mut house = House::open();
    let (species, adults, trays) = (house.species.clone(), house.adults.clone(), house.trays.clone());
    let places: Vec<String> = (1..=2)
        .map(|order| {
            let place = house.fresh("place");
            house.note("place.set_up", &place, &json!({"label": format!("T{order}"), "tank": trays, "order": order}));
            place
        })
        .collect();
    // The first case stands in the second place.
    for (label, place) in [("A1", &places[1]), ("A2", &places[0])] {
        let egg = house.world.egg(label, &species, &adults, Some(&trays));
        house.note("egg.moved", &egg, &json!({"to_tank": trays, "place": place}));
    }
    house.world.pass_days(8);
    let labels = |by: &str| -> Vec<String> {
        items(&house, "/v1/due", &[("by", by)]).iter().map(|item| item["label"].as_str().unwrap_or_default().to_owned()).collect()
    };
    assert_eq!(labels("walk"), ["A2", "A1"], "in the order of the places");
    let refused = house.world.client().get("/v1/due", &[("by", "name")]).expect_err("no such order");
    assert!(refused.to_string().contains("neither urgency nor walk"), "{refused}");
    let calendar = house.world.client().get_text("/v1/due.ics", &[], "text/calendar").expect("a calendar");
    assert_eq!(calendar.matches("BEGIN:VEVENT\r\n").count(), 2, "{calendar}");
    assert!(calendar.contains("SUMMARY:candle: A1\r\n") && calendar.contains("LOCATION:Trays\\, T2\r\n"), "{calendar}");
}

#[test]
fn marks_fade_and_mass_is_lost() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let shark = house.animal("F1", &nursery);
    let mark = json!({"what": "given", "type": "temporary colour", "temporary": true, "until": "2025-03-10", "place_on_body": "tail"});
    house.note("animal.identified", &shark, &mark);
    house.note("animal.measured", &shark, &json!({"mass_g": 100.0, "mass_how": "drained"}));
    house.world.pass_ms(DAY_MS);
    house.note("animal.measured", &shark, &json!({"mass_g": 91.0, "mass_how": "drained"}));
    assert_eq!(house.due(), [], "9 % is below the limit, and the mark still holds");
    house.world.pass_days(9);
    let odd = house.odd(Who::Keeper, "animal.measured", &shark, &json!({"mass_g": 80.0, "mass_how": "drained"}));
    assert_eq!(odd, ["mass lost since the last weighing"]);
    let due: Vec<String> = house.due().into_iter().map(|(what, _)| what).collect();
    assert_eq!(due, ["mass lost", "mark expiring"], "the loss is told once");
    let row = house.world.read("/v1/due", &[])["items"][0].clone();
    let found = house.world.read("/v1/discrepancies", &[("open", "true")])["items"][0].clone();
    assert_eq!((&row["discrepancy"], &row["events"]), (&found["id"], &found["events"]), "with the discrepancy to settle");
    let says = json!({"odd": found["kind"], "events": found["events"], "explanation": "seen and meant it"});
    house.odd(Who::Veterinarian, "discrepancy.explained", &shark, &says);
    let due: Vec<String> = house.due().into_iter().map(|(what, _)| what).collect();
    assert_eq!(due, ["mark expiring"], "a veterinarian has seen it");
}
