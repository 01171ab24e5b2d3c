//! What each reader's part says, and from which notes.

use super::{Told, YEAR, cell, table};
use selachron_cli::fault::Fault;
use selachron_tests::root;
use selachron_tests::world::Who;
use serde_json::{Value, json};

/// Fits its published schema, parts and all.
#[track_caller]
pub(super) fn fits(report: &Value) {
    let schema = std::fs::read(root().join("schemas/report/annual-report.v1.schema.json")).expect("the schema");
    let validator = jsonschema::validator_for(&serde_json::from_slice(&schema).expect("JSON")).expect("a sound schema");
    let faults: Vec<String> = validator.iter_errors(report).map(|error| format!("{}: {error}", error.instance_path())).collect();
    assert_eq!(faults, Vec::<String>::new());
}

#[test]
fn the_authority_reads_deaths_absences_loans_groups_and_who_answers() {
    let told = Told::new();
    let report = told.report(&[]);
    fits(&report);
    let of = |id: &str| table(&report, "authority", id);
    let deaths = of("deaths")["rows"].as_array().expect("rows");
    assert_eq!(deaths.len(), 1, "the dead when first seen is no death of an animal of the stock: {deaths:?}");
    assert_eq!((&deaths[0]["cells"][5], &deaths[0]["cells"][7]), (&json!(2), &json!("never ate")));
    assert_eq!(of("without_necropsy")["rows"][0]["cells"][3], "nothing noted");
    assert_eq!(cell(of("absences"), "M-2", "what"), "escaped");
    assert_eq!(cell(of("incidents"), "power", "what"), "power failure");
    assert_eq!(cell(of("quarantines"), "Adults", "cleared_on"), &Value::Null);
    assert_eq!(cell(of("put_down"), "E-3", "embryo_alive"), "yes");
    assert_eq!((cell(of("loans"), "loan 1", "direction"), cell(of("loans"), "loan 1", "still_lent")), (&json!("out"), &json!("F-1")));
    assert_eq!((cell(of("permits_used"), "P-1", "which"), cell(of("permits_used"), "P-1", "specimens")), (&json!("F-1"), &json!(1)));
    let due = ["valid_until", "state", "days_left", "used", "covers"].map(|column| cell(of("permits_due"), "P-1", column).clone());
    assert_eq!(due, [json!("2025-09-30"), json!("valid"), json!(83), json!(1), json!(5)]);
    assert_eq!(cell(of("groups"), "Brood", "how_counted"), "each lifted once into a second basket");
    let registrar = &of("responsible")["rows"][0]["cells"];
    assert_eq!((&registrar[0], &registrar[1]), (&json!("registrar"), &json!(told.world.staff.registrar.person)));
    assert_eq!(of("copies")["rows"][0]["cells"][1], "safe in the other town");
    // Every row that is about single things names its notes, and they are notes of this log.
    for part in ["authority", "studbook"] {
        for row in report[part]["tables"].as_array().into_iter().flatten().flat_map(|table| table["rows"].as_array().into_iter().flatten())
        {
            let event = row["events"][0].as_str().unwrap_or_else(|| panic!("{part}: no note behind {row}"));
            assert!(told.world.read(&format!("/v1/events/{event}"), &[]).to_string().contains(event), "{event}");
        }
    }
}

#[test]
fn the_studbook_keeper_reads_parents_advice_and_samples() {
    let told = Told::new();
    let report = told.report(&[]);
    let of = |id: &str| table(&report, "studbook", id);
    assert_eq!(cell(of("living"), "F-1", "mated_in_care"), "no: from the wild");
    assert_eq!(cell(of("living"), "M-1", "mated_in_care"), "yes, by the sender's word");
    assert_eq!(cell(of("founders"), "F-1", "origin"), "wild");
    assert_eq!((cell(of("incubating"), "E-4", "dam"), cell(of("incubating"), "E-4", "sire")), (&json!("known: F-1"), &json!("known: M-1")));
    let unnumbered: Vec<&Value> = of("unnumbered")["rows"].as_array().into_iter().flatten().map(|row| &row["cells"][0]).collect();
    assert_eq!(unnumbered, ["E-1", "E-2"], "one died after two days, one was dead when first seen");
    assert_eq!(cell(of("advice"), "F-1", "followed"), "yes: cases of both since");
    assert_eq!(cell(of("samples"), "S-1", "kept"), "in ethanol");
}

#[test]
fn the_curator_reads_years_dams_and_changes_side_by_side() {
    let told = Told::new();
    let report = told.report(&[]);
    let years = report["curator"]["years"].as_array().expect("years");
    assert_eq!(years.len(), 1, "years in which nothing was known are left out");
    assert_eq!((&years[0]["rates"][0]["x"], &years[0]["rates"][0]["n"]), (&report["hatch_rates"]["collected"][0]["x"], &json!(4)));
    let of = |id: &str| table(&report, "curator", id);
    let dam = ["cases", "hatched", "open"].map(|column| cell(of("per_dam"), "F-1", column).clone());
    assert_eq!(dam, [json!(4.0), json!(1.0), json!(1.0)]);
    assert_eq!(cell(of("per_group"), "Adults", "cases"), &json!(4.0));
    assert_eq!(cell(of("between_pairs"), "F-1", "days_median"), &json!(7.0));
    for id in ["per_dam", "per_group"] {
        for row in of(id)["rows"].as_array().expect("rows") {
            let numbers: Vec<f64> = row["cells"].as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
            let [cases, ends @ ..] = &numbers[..] else { panic!("{row}") };
            assert_eq!(*cases, ends.iter().sum::<f64>(), "{id}: the ends of a row add up to its cases: {row}");
        }
    }
    assert_eq!(cell(of("per_dam"), "F-1", "other_end"), &json!(1.0), "one was put down");
    // Each side of a change is a row with a figure of its own days, which counts the same.
    let sides = of("changes")["rows"].as_array().expect("rows");
    assert_eq!(
        (&sides[0]["cells"][1], &sides[0]["cells"][3], &sides[1]["cells"][3]),
        (&json!("house rules: candling interval days"), &json!(3), &json!(1))
    );
    for side in sides {
        let address = side["figure"].as_str().expect("an address");
        let asked = followed(&told, address).expect("a figure");
        let figure: Value = serde_json::from_str(&asked).expect("JSON");
        assert_eq!(figure["collected"][0]["n"], side["cells"][3], "{address}");
    }
    let march = &of("places")["rows"][2]["cells"];
    assert_eq!((&march[0], &march[1], &march[2]), (&json!("2025-03-31"), &json!(4), &json!(2)));
    assert_eq!(report["curator"]["egg_fates"]["n"], json!(4));
}

#[test]
fn the_auditor_reads_delays_corrections_rounds_and_refusals() {
    let mut told = Told::new();
    let keeper = told.world.staff.keeper.person.clone();
    told.world.pass_ms(60_000);
    let seen =
        told.world.record(Who::Keeper, "egg.candled.v1", &told.egg.clone(), &json!({"seen_into": true, "band": 5, "movement": "moving"}));
    let right = json!({"target": seen.id, "reason": "wrong band tapped",
        "replacement": {"data": {"seen_into": true, "band": 6, "movement": "moving"}}});
    told.world.record(Who::Keeper, "record.corrected.v1", &told.egg.clone(), &right);
    told.world.refusal(Who::Keeper, "egg.candled.v1", "egg/01JDH3G6C0NEVER00000000001", &json!({"seen_into": false}));
    // The log takes each note a moment after the one before, also while this clock stands.
    told.world.pass_ms(60_000);
    let report = told.report(&[]);
    fits(&report);
    let of = |id: &str| table(&report, "auditor", id);
    assert_eq!(cell(of("delays"), "all", "signing_to_receiving_median_h"), &json!(0.0));
    let notes = report["known_at"].as_u64().expect("a size");
    assert_eq!(cell(of("delays"), "all", "notes").as_u64(), Some(notes));
    let row = ["corrections", "retractions", "of_own_notes"].map(|column| cell(of("persons"), &keeper, column).as_u64());
    assert_eq!(row, [Some(1), Some(0), Some(1)]);
    let round = ["looked_at", "named_not_seen", "not_accounted_for"].map(|column| cell(of("rounds"), "Mon", column).as_u64());
    assert_eq!(round, [Some(0), Some(1), Some(0)]);
    assert_eq!(of("keys_twice")["rows"], json!([]));
    let refused = &report["auditor"]["refused_writes"];
    assert_eq!((&refused["reaches_back"], refused["by_problem"].as_array().map(Vec::len)), (&json!(true), Some(1)), "{refused}");
}

/// Cells with a number that lead nowhere: the table's title, the row's first cell and the cell.
fn unlinked(page: &str) -> Vec<String> {
    let mut found = Vec::new();
    for table in page.split("<table>").skip(1) {
        let title = between(table, "<strong>", "</strong>");
        for row in table.split("<tbody>").nth(1).unwrap_or_default().split("<tr").skip(1) {
            let named = between(row, "<th scope=\"row\"", "</th>");
            for cell in row.split("<td").skip(1).filter_map(|cell| cell.split("</td>").next()) {
                let text = cell.split_once('>').map_or(cell, |(_, text)| text);
                if text.contains(|letter: char| letter.is_ascii_digit()) && !text.contains("<a href=") {
                    found.push(format!("{title}: {named}: {text}"));
                }
            }
        }
    }
    found
}

fn between<'t>(text: &'t str, from: &str, to: &str) -> &'t str {
    text.split(from).nth(1).and_then(|rest| rest.split(to).next()).unwrap_or_default()
}

#[test]
fn the_page_links_every_cell_to_its_notes() {
    let mut told = Told::new();
    told.world.refusal(Who::Keeper, "egg.candled.v1", "egg/01JDH3G6C0NEVER00000000001", &json!({"seen_into": false}));
    told.world.pass_ms(60_000);
    let page = told.world.client().get_text(YEAR, &[("format", "html")], "text/html").expect("a page");
    for wanted in
        ["For the licensing authority", "For the studbook keeper", "For the auditor", "Breeding advice, and whether it was followed"]
    {
        assert!(page.contains(wanted), "{wanted}");
    }
    // Refused writes are no notes: they stand beside the log.
    let (refused, others): (Vec<String>, Vec<String>) =
        unlinked(&page).into_iter().partition(|cell| cell.starts_with("Refused in these months"));
    assert_eq!((refused.len(), others), (1, Vec::new()));
    let mut links: Vec<String> =
        page.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next()).map(|link| link.replace("&amp;", "&")).collect();
    links.sort();
    links.dedup();
    let leads = |start: &str| links.iter().filter(|link| link.contains(start)).count();
    let counts = ["/cells?cell=", "cell=tables/", "cell=discrepancies/", "cell=delays/", "/v1/figures/", "/v1/events/"].map(leads);
    assert!(counts.iter().all(|count| *count >= 4), "{counts:?}");
    for link in links.iter().filter(|link| !link.starts_with('#')) {
        let answer = followed(&told, link).unwrap_or_else(|fault| panic!("{link}: {fault}"));
        assert!(answer.contains("\"known_at\"") || link.starts_with("/v1/events/"), "{link}");
    }
}

#[test]
fn a_row_is_asked_by_its_place_in_its_table() {
    let told = Told::new();
    let report = told.report(&[]);
    let deaths = table(&report, "authority", "deaths");
    let row = told.world.read(&format!("{YEAR}/cells"), &[("cell", "tables/deaths/1")]);
    let named = deaths["rows"][0]["events"].as_array().expect("notes");
    let mut notes: Vec<&Value> =
        row["rests_on"].as_array().into_iter().flatten().filter_map(|one| one["events"].as_array()).flatten().collect();
    notes.sort_by_key(|note| note.to_string());
    let mut wanted: Vec<&Value> = named.iter().collect();
    wanted.sort_by_key(|note| note.to_string());
    assert_eq!((notes, &row["value"]), (wanted, &json!([named.len() as f64])));
    let line = told.world.read(&format!("{YEAR}/cells"), &[("cell", "delays/all/notes")]);
    assert_eq!(line["value"][0].as_f64(), cell(table(&report, "auditor", "delays"), "all", "notes").as_f64());
    let of_weight = |line: &Value| ["open_to_7_days", "open_8_to_30_days", "open_over_30_days", "settled"].map(|age| line[age].as_f64());
    for line in report["discrepancies_counted"].as_array().expect("lines") {
        let weight = line["weight"].as_str().expect("a weight");
        let told = ["open_to_7_days", "open_8_to_30_days", "open_over_30_days", "settled"].map(|age| {
            told.world.read(&format!("{YEAR}/cells"), &[("cell", &format!("discrepancies/{weight}/{age}"))])["value"][0].as_f64()
        });
        assert_eq!(told, of_weight(line), "{weight}");
    }
    for (cell, wanted) in [
        ("tables/deaths/99", "that table has rows 1 to"),
        ("tables/deaths/x", "that table has rows 1 to"),
        ("tables/births/1", "its tables are restatements"),
        ("delays/nobody/notes", "there are delays/all"),
        ("discrepancies/light/settled", "the weights are"),
    ] {
        let said = told.world.client().get(&format!("{YEAR}/cells"), &[("cell", cell)]).expect_err("no such cell").to_string();
        assert!(said.contains(wanted), "{said}");
    }
}

#[test]
fn a_line_of_water_is_asked_from_which_readings_it_is() {
    let mut told = Told::new();
    let tank = told.world.read("/v1/tanks/Trays", &[])["item"]["id"].as_str().expect("a tank").to_owned();
    let mut notes = Vec::new();
    for (instrument, temperature_c) in [("probe 3", 24.1), ("probe 3", 24.9), ("probe 4", 24.5), ("probe 3", 24.3)] {
        told.world.pass_ms(60_000);
        let read = json!({"instrument": instrument, "temperature_c": temperature_c, "temperature_scale": "ITS-90"});
        notes.push(told.world.record(Who::Keeper, "water.measured.v1", &tank, &read).id);
    }
    told.world.pass_ms(60_000);
    let cells = |name: &str| {
        let cell = format!("water/tank Trays/temperature/ITS-90/{name}");
        let told = told.world.read(&format!("{YEAR}/cells"), &[("cell", &cell)]);
        let behind = told["rests_on"].as_array().into_iter().flatten();
        let at = |one: &Value| notes.iter().position(|note| *note == one["events"][0]).expect("a reading of these");
        (told["value"][0].as_f64().expect("a number"), behind.map(at).collect::<Vec<usize>>())
    };
    assert_eq!(cells("readings"), (4.0, vec![0, 1, 2, 3]));
    assert_eq!(cells("instruments"), (2.0, vec![0, 2]));
    assert_eq!((cells("min"), cells("max")), ((24.1, vec![0]), (24.9, vec![1])));
    assert_eq!(cells("median"), (24.4, vec![3, 2]), "the two in the middle");
}

/// What was written with `%` and two digits (RFC 3986, section 2.1).
fn plain(text: &str) -> String {
    let mut pieces = text.split('%');
    let mut bytes = pieces.next().unwrap_or_default().as_bytes().to_vec();
    for piece in pieces {
        let (digits, rest) = piece.split_at(2);
        bytes.push(u8::from_str_radix(digits, 16).expect("two digits"));
        bytes.extend(rest.bytes());
    }
    String::from_utf8(bytes).expect("UTF-8")
}

/// Follows an address that a page names, as a browser does.
fn followed(told: &Told, link: &str) -> Result<String, Fault> {
    let (path, query) = link.split_once('?').unwrap_or((link, ""));
    let pairs: Vec<(String, String)> =
        query.split('&').filter_map(|pair| pair.split_once('=')).map(|(name, value)| (plain(name), plain(value))).collect();
    let pairs: Vec<(&str, &str)> = pairs.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    told.world.client().get_text(path, &pairs, "application/json")
}

#[test]
fn a_cell_is_asked_from_which_notes_it_is() {
    let told = Told::new();
    let cells = |cell: &str| told.world.read(&format!("{YEAR}/cells"), &[("cell", cell)]);
    let put_down = cells("ledger/all species/put_down");
    assert_eq!((&put_down["value"], &put_down["rests_on"][0]["label"]), (&json!([1.0]), &json!("E-3")));
    let history = told.world.read("/v1/eggs/E-3/history", &[]);
    let ids: Vec<&Value> = history["notes"].as_array().into_iter().flatten().map(|note| &note["id"]).collect();
    let events = put_down["rests_on"][0]["events"].as_array().expect("events");
    assert!(events.len() >= 2 && events.iter().all(|event| ids.contains(&event)), "{events:?}");
    let escaped = cells("stock/Inventus exemplaris/escaped");
    assert_eq!((&escaped["value"], &escaped["rests_on"][0]["gives"]), (&json!([1.0, 0.0, 0.0]), &json!([1.0, 0.0, 0.0])));
    let share = cells("hatch_rates/collected/collected/estimate");
    assert_eq!((&share["told"], share["rests_on"].as_array().map(Vec::len)), (&json!("hatch_rates/collected/collected/n"), Some(4)));
    assert_eq!(cells("losses/animals_by_cause/never ate")["value"], json!([1.0]));
    // A column of a profile is several cells of one line.
    let gone = cells("stock/Inventus exemplaris/departed+escaped+missing");
    assert_eq!((&gone["value"], gone["rests_on"].as_array().map(Vec::len)), (&json!([1.0, 0.0, 0.0]), Some(1)));
    let keeper = &told.world.staff.keeper.person;
    let wrote = cells(&format!("writers/{keeper}/notes_of_year"));
    let events = wrote["rests_on"][0]["events"].as_array().map(Vec::len).unwrap_or_default();
    assert!(events > 10 && wrote["value"] == json!([events as f64]), "{wrote}");
    for (cell, wanted) in [
        ("stock/Inventus exemplaris/birthed", "there are stock/Inventus exemplaris/"),
        ("stock/Inventus exemplaris/departed+birthed", "there are stock/Inventus exemplaris/"),
        ("prices/all", "its parts are hatch_rates"),
        ("writers/nobody/notes", "there are writers/"),
        ("water/tank Adults/pH/total/min", "its table has no line"),
    ] {
        let said = told.world.client().get(&format!("{YEAR}/cells"), &[("cell", cell)]).expect_err("no such cell").to_string();
        assert!(said.contains(wanted), "{said}");
    }
}
