//! Hatch windows and what speaks for and against an opening, through the real client and the real
//! service: what was shown on a day is shown for ever, byte for byte.

use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};

/// A species with published points, a tray with readings, and a case laid between two searches.
fn begun(world: &mut World) -> (String, String, String) {
    let species = world.subject("species");
    let points = selachron_schemas::published::incubation_points("Hemiscyllium ocellatum");
    let listed = json!({"scientific_name": "Hemiscyllium ocellatum", "common_name": "epaulette shark", "length_basis": "total",
        "incubation_points": points});
    world.record(Who::Curator, "species.listed.v1", &species, &listed);
    let (adults, tray) = (world.tank("Adults", "adults"), world.tank("Tray 1", "incubation"));
    world.record(Who::Keeper, "tank.searched.v1", &adults, &json!({"eggs_found": 0, "whole_tank": true}));
    read(world, &adults, 25.0);
    world.pass_days(1);
    let egg = world.egg("A1", &species, &adults, Some(&tray));
    (species, tray, egg)
}

fn read(world: &mut World, tank: &str, temperature_c: f64) -> String {
    let data = json!({"temperature_c": temperature_c, "instrument": "probe 1"});
    world.record(Who::Keeper, "water.measured.v1", tank, &data).id
}

fn candle(world: &mut World, egg: &str, band: u8) -> String {
    let data = json!({"seen_into": true, "band": band, "movement": "moving", "yolk_fraction": if band == 7 { 0.0 } else { 0.5 },
        "findings": if band > 3 { json!(["slits open"]) } else { json!([]) }});
    world.record(Who::Keeper, "egg.candled.v1", egg, &data).id
}

/// What a decision about an opening rests on, and what stands beside it.
const PATHS: [&str; 9] = [
    "/v1/eggs/A1/forecast",
    "/v1/eggs/A1/opening",
    "/v1/forecast",
    "/v1/openings",
    "/v1/figures/assisted",
    "/v1/due",
    "/v1/water/episodes",
    "/v1/tanks/Tray%201/water",
    "/v1/trays/proposal",
];

/// What is shown at two clocks, as bytes.
fn shown(world: &World, as_of: &str, known_at: &str) -> Vec<String> {
    let query = [("as_of", as_of), ("known_at", known_at)];
    let ask = |path: &&str, form: &str| world.client().get_text(path, &query, form).expect("an answer");
    let drawn = ["/v1/eggs/A1/forecast", "/v1/forecast", "/v1/figures/assisted", "/v1/tanks/Tray%201/water"];
    let told = PATHS.iter().map(|path| ask(path, "application/json"));
    told.chain(drawn.iter().map(|path| ask(path, "image/svg+xml"))).collect()
}

#[test]
fn what_was_shown_when_it_was_opened_is_shown_for_ever() {
    let mut world = World::new();
    let (_, tray, egg) = begun(&mut world);
    let mut readings = Vec::new();
    for day in 0..170 {
        readings.push(read(&mut world, &tray, 25.0 + f64::from(day % 3) / 10.0));
        world.pass_days(1);
    }
    let looks = [candle(&mut world, &egg, 6)];
    world.pass_days(2);
    candle(&mut world, &egg, 7);
    world.pass_days(1);
    candle(&mut world, &egg, 7);
    let opened = json!({"extent": "end slit widened", "known_dead": false, "left": "open in the water", "outcome": "left to hatch"});
    world
        .say_with(Who::Keeper, "egg.opened.v1", &egg, &opened, &Map::new(), &[Who::Curator, Who::Veterinarian])
        .recorded()
        .expect("recorded");
    let (as_of, size) = (world.now().utc_text(), world.client().look().expect("a checkpoint").checkpoint.size.to_string());
    let first = shown(&world, &as_of, &size);
    let told: Value = serde_json::from_str(&first[0]).expect("JSON");
    assert!(told["item"]["expected"]["p95"].is_string(), "a window was shown: {told}");
    // Later: the hatch, a reading that was put right, a look that was taken back, other rules.
    world.pass_days(1);
    let young = world.subject("animal");
    let hatched = json!({"young": [{"animal": young, "state": "alive", "label": "Y1", "tank": tray}], "how_known": "found hatched"});
    world.record(Who::Keeper, "egg.hatched.v1", &egg, &hatched);
    let right = json!({"target": readings[80], "reason": "a slip of the pen", "replacement": {"data": {"temperature_c": 24.6, "instrument": "probe 1"}}});
    world.record(Who::Keeper, "record.corrected.v1", &tray, &right);
    world.record(Who::Keeper, "record.retracted.v1", &egg, &json!({"target": looks[0], "reason": "another case was meant"}));
    let rules = json!({"temperature_gap_hours_max": 12, "opening_alive_looks_min": 3});
    world.say_with(Who::Curator, "policy.set.v1", "collection", &rules, &Map::new(), &[Who::Registrar]).recorded().expect("recorded");
    world.pass_days(30);
    assert_eq!(shown(&world, &as_of, &size), first, "byte for byte");
    world.restart();
    assert_eq!(shown(&world, &as_of, &size), first, "and after a restart");
    let now = shown(&world, &as_of, &world.client().look().expect("a checkpoint").checkpoint.size.to_string());
    assert_ne!(now[0], first[0], "what is known now of that day differs");
}

/// The ribbon has the days of the answer, counted from its own day, one leaf a case.
#[test]
fn the_ribbon_is_drawn_from_the_windows_of_the_answer() {
    let mut world = World::new();
    let (_, tray, _) = begun(&mut world);
    for _ in 0..30 {
        read(&mut world, &tray, 25.0);
        world.pass_days(1);
    }
    let told = world.read("/v1/eggs/A1/forecast", &[])["item"].clone();
    let draw = |path: &str| world.client().get_text(path, &[("format", "svg")], "image/svg+xml").expect("a drawing");
    for path in ["/v1/eggs/A1/forecast", "/v1/forecast"] {
        let svg = draw(path);
        assert_eq!(svg.matches("<path").count(), 2, "a leaf in a leaf: {svg}");
        let window = &told["window"];
        let days = |name: &str| window[name].as_str().expect("a day").to_owned();
        let said = format!("A1 is next: {} to {} (5 % to 95 %), middle {}.", days("p05"), days("p95"), days("p50"));
        assert!(svg.contains(&said) && svg.contains(">single<") && svg.contains("A window is no date."), "{svg}");
        let places = places(&svg);
        let day = |name: &str| days(name).parse::<chrono::NaiveDate>().expect("a day");
        let days = |from: &str, to: &str| (day(to) - day(from)).num_days() as f64;
        // Both leaves lie on one scale: what they span is in the proportion of the days.
        let (outer, inner) = (places[0], places[1]);
        let proportion = (inner.1 - inner.0) / (outer.1 - outer.0);
        assert!((proportion - days("p25", "p75") / days("p05", "p95")).abs() < 0.01, "{places:?} {window}");
    }
    let refused = world.client().get("/v1/forecast", &[("format", "pdf")]).expect_err("no such form").to_string();
    assert!(refused.contains("json, svg"), "{refused}");
}

/// Where each leaf of a ribbon begins and ends.
fn places(svg: &str) -> Vec<(f64, f64)> {
    let numbers = |data: &str| -> Vec<f64> {
        data.split(|letter: char| !(letter.is_ascii_digit() || letter == '.' || letter == '-'))
            .filter_map(|text| text.parse().ok())
            .collect()
    };
    let leaf = |data: &str| {
        let numbers = numbers(data);
        (numbers[0], numbers[4])
    };
    svg.split("<path d=\"").skip(1).filter_map(|rest| rest.split('"').next()).map(leaf).collect()
}

#[test]
fn a_temperature_in_fahrenheit_is_refused_by_name() {
    let mut world = World::new();
    let (_, tray, _) = begun(&mut world);
    assert_eq!(
        world.refusal(Who::Keeper, "water.measured.v1", &tray, &json!({"temperature_c": 77, "instrument": "probe 1"})),
        "body-malformed"
    );
}
