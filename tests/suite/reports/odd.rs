//! Questions and records that are odd: the answer is clear, and no file is left half written.

use super::{Told, YEAR, table};
use selachron_tests::world::{Who, World};
use serde_json::{Map, json};

#[test]
fn a_year_without_notes_is_told_as_empty_and_one_to_come_is_refused() {
    let told = Told::new();
    let report = told.world.read("/v1/reports/annual/2024", &[]);
    assert_eq!((&report["stock"]["lines"], &report["ledger"]["lines"], &report["water"]), (&json!([]), &json!([]), &json!([])));
    assert_eq!(
        report["completeness"],
        json!({"complete": false, "because": ["the record knows of no case, animal or group until the end of these months"], "failing": []})
    );
    assert_eq!(report["hatch_rates"]["collected"][0]["n"], json!(0));
    let page = told.world.client().get_text("/v1/reports/annual/2024", &[("format", "html")], "text/html").expect("a page");
    for sentence in ["No animals were in the collection.", "No cases were in the collection.", "No readings were noted."] {
        assert!(page.contains(sentence), "{sentence}");
    }
    for (year, wanted) in [("2031", "before 2031 began"), ("31", "not a year"), ("2025.5", "not a year"), ("99999", "not a year")] {
        let said = told.world.client().get(&format!("/v1/reports/annual/{year}"), &[]).expect_err("no such year").to_string();
        assert!(said.contains(wanted), "{year}: {said}");
    }
}

/// Nobody notes a case without its species. Where the body that said it was withheld, the animals are
/// still counted, and it is said that their species is not known.
#[test]
fn animals_without_a_species_stand_in_a_line_of_their_own() {
    let mut world = World::new();
    let (species, tank) = (world.species("Inventus exemplaris", "invented shark"), world.tank("Nursery", "nursery"));
    let egg = world.subject("egg");
    let mut collected = json!({"label": "E-1", "from_tank": tank, "to_tank": tank, "laid": "single", "case": "whole", "yolk": "seen"});
    let said = world.say(Who::Keeper, "egg.collected.v1", &egg, &collected).recorded().expect_err("without a species").to_string();
    assert!(said.contains("\"species\" is a required property"), "{said}");
    collected["species"] = json!(species);
    let found = world.record(Who::Keeper, "egg.collected.v1", &egg, &collected);
    let hatched = json!({"how_known": "found hatched", "young": [{"animal": world.subject("animal"), "state": "alive", "label": "Y-1"}]});
    world.pass_days(1);
    world.record(Who::Keeper, "egg.hatched.v1", &egg, &hatched);
    world.pass_days(1);
    let event = world.read(&format!("/v1/events/{}", found.id), &[])["item"]["event"].clone();
    let withheld = json!({"seq": found.seq, "id": found.id, "kind": event["type"], "subject": event["subject"], "time": event["time"],
        "keyid": event["keyid"], "keycount": event["keycount"], "reason": "a visitor's name stood in it", "authority": "privacy rule"});
    world.say_with(Who::Registrar, "body.withheld.v1", "collection", &withheld, &Map::new(), &[Who::Curator]).recorded().expect("withheld");
    let report = world.read(YEAR, &[]);
    let line = &report["stock"]["lines"][0];
    assert_eq!((&line["scientific_name"], &line["end"]), (&json!("species not known"), &json!([0, 0, 1])), "{report}");
    let cell = world.read(&format!("{YEAR}/cells"), &[("cell", "stock/species not known/end")]);
    assert_eq!((&cell["value"], &cell["rests_on"][0]["label"]), (&json!([0.0, 0.0, 1.0]), &json!("Y-1")));
}

/// A label may be anything of one line. In a report it is text wherever it stands; in a table for a
/// spreadsheet it is no formula (as `exports` shows).
#[test]
fn labels_that_look_like_formulas_or_markup_stay_text() {
    let mut world = World::new();
    let species = world.species("Inventus exemplaris", "=1+1");
    let tank = world.tank("<b>+T</b>", "adults");
    world.egg("=HYPERLINK(A1)", &species, &tank, Some(&tank));
    world.pass_days(1);
    let report = world.read(YEAR, &[]);
    assert_eq!(table(&report, "studbook", "incubating")["rows"][0]["cells"][0], "=HYPERLINK(A1)");
    let page = world.client().get_text(YEAR, &[("format", "html")], "text/html").expect("a page");
    assert!(page.contains("&lt;b&gt;+T&lt;/b&gt;") && !page.contains("<b>+T"), "markup in a label is text");
    let csv = world.client().get_text("/v1/exports/egg-ledger", &[("year", "2025"), ("format", "csv")], "text/csv").expect("a table");
    let formula = |cell: &str| matches!(cell.trim_matches('"').bytes().next(), Some(b'=' | b'+' | b'@' | b'-' | b'\t'));
    let cells: Vec<&str> = csv.lines().flat_map(|line| line.split(',')).filter(|cell| formula(cell)).collect();
    assert_eq!(cells, Vec::<&str>::new(), "{csv}");
}

#[test]
fn every_table_without_rows_says_so_in_words() {
    let mut world = World::new();
    world.tank("Adults", "adults");
    world.pass_days(1);
    let page = world.client().get_text(YEAR, &[("format", "html")], "text/html").expect("a page");
    let report = world.read(YEAR, &[]);
    for part in ["curator", "authority", "studbook", "auditor"] {
        for table in report[part]["tables"].as_array().into_iter().flatten().filter(|table| table["rows"] == json!([])) {
            let title = table["title"].as_str().unwrap_or_default();
            let said = page.split(&format!("<h3>{title}</h3>")).nth(1).unwrap_or_else(|| panic!("{title} is not told"));
            assert!(said.split("</p>").next().is_some_and(|words| words.ends_with("None.")), "{title}");
        }
    }
    assert!(!page.contains("<tbody></tbody>"), "no empty table");
}
