//! The forms of exports: what stands in them, and that they name where in the record they are from.

use super::{Exported, row_of, rows, rows_of};
use selachron_cli::fault::Fault;
use selachron_record::export::cell::unguarded;
use selachron_record::export::tables::TABLES;
use selachron_schemas::time::DAY_MS;
use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;
use std::io::Read as _;
use std::path::Path;

#[test]
fn the_studbook_says_parents_in_words_and_names_the_notes_behind_each_cell() {
    let told = Exported::told();
    let studbook = rows(told.text("/v1/exports/studbook", &[("format", "csv")]).as_bytes());
    let [male, female] = &told.parents;
    let young = row_of(&studbook, &told.hatched);
    assert_eq!((&young["dam_state"], &young["dams"]), (&json!("known"), &json!(female)));
    assert_eq!(young["sire_state"], "candidates");
    assert!(young["sires"].as_str().is_some_and(|sires| sires.starts_with(male.as_str())), "{young}");
    assert_eq!(young["sire_weights"], "0.75 0.25", "what is not weighed has the rest");
    assert_eq!((&young["state"], &young["apparent_cause"]), (&json!("died"), &json!("not determined")));
    assert_eq!((&young["hatched_on"], &young["hatch_day_is"]), (&young["came_on"], &json!("between_looks")));
    let parthenote = row_of(&studbook, &told.parthenote);
    assert_eq!((&parthenote["sire_state"], &parthenote["sires"]), (&json!("none"), &json!("")));
    let wild = row_of(&studbook, &told.wild);
    assert_eq!(
        (&wild["dam_state"], &wild["sire_state"], &wild["origin_before"]),
        (&json!("wild_caught"), &json!("wild_caught"), &json!("wild"))
    );
    assert!(wild["transfers"].as_str().is_some_and(|told| told.contains("arrived from another house (wild)")), "{wild}");
    let nameless = row_of(&studbook, &told.without_species);
    assert_eq!((&nameless["species"], &nameless["scientific_name"], &nameless["dam_state"]), (&json!(""), &json!(""), &json!("unknown")));

    let item = told.text("/v1/exports/studbook", &[]);
    let item: Value = serde_json::from_str(&item).expect("JSON");
    let young = row_of(item["items"].as_array().expect("items"), &told.hatched);
    let history = told.world.read(&format!("/v1/animals/{}/history", told.hatched.trim_start_matches("animal/")), &[]);
    let death = history["notes"].as_array().into_iter().flatten().find(|note| note["kind"] == "animal.died.v1").expect("a death");
    assert_eq!(young["notes"]["state"], json!([death["id"]]));
    assert_eq!(young["label"], "+tag", "JSON has a label as it was noted");
    assert!(young["notes"]["sires"][0].is_string() && young["notes"].get("loan").is_none(), "{young}");
}

/// A find says no more than that the young were out: the shared rules of survival rows have it so, and
/// other people's programs must not take the day of a find for the day of a hatch.
#[test]
fn the_day_of_a_hatch_that_nobody_saw_lies_between_looks() {
    let mut told = Exported::told();
    let seen = told.young("alpha", ("seen to hatch", &Map::new()), &json!({"status": "unknown"}));
    // Young come five days after this; the finder says that three days of them had passed.
    let before = told.world.now().plus_ms(3 * DAY_MS).utc_text();
    let since = json!({"timeafter": before}).as_object().cloned().expect("a member");
    let since = told.young("beta", ("found hatched", &since), &json!({"status": "unknown"}));
    let item = told.world.read("/v1/exports/studbook", &[]);
    let row = |animal: &str| row_of(item["items"].as_array().expect("items"), animal).clone();
    let note_of = |animal: &str, kind: &str| {
        let egg = row(animal)["egg"].as_str().expect("a case").trim_start_matches("egg/").to_owned();
        let history = told.world.read(&format!("/v1/eggs/{egg}/history"), &[]);
        history["notes"].as_array().into_iter().flatten().find(|note| note["kind"] == kind).expect("a note")["id"].clone()
    };
    let days = |from: &Value, to: &Value| {
        let day = |day: &Value| day.as_str().and_then(|day| day.parse::<chrono::NaiveDate>().ok()).expect("a day");
        (day(to) - day(from)).num_days()
    };
    let found = row(&told.hatched);
    assert_eq!((days(&found["hatched_after"], &found["hatched_on"]), &found["hatch_day_is"]), (100, &json!("between_looks")));
    assert_eq!(found["notes"]["hatched_after"], json!([note_of(&told.hatched, "egg.candled.v1")]), "the look is named");
    let seen = row(&seen);
    assert_eq!((&seen["hatched_after"], &seen["hatch_day_is"]), (&Value::Null, &json!("seen")));
    let by_word = row(&since);
    assert_eq!((days(&by_word["hatched_after"], &by_word["hatched_on"]), &by_word["hatch_day_is"]), (2, &json!("between_looks")));
    assert_eq!(by_word["notes"]["hatched_after"], json!([note_of(&since, "egg.hatched.v1")]), "the finder's own word");
}

#[test]
fn every_cell_of_the_studbook_that_says_something_names_notes_of_the_record() {
    let told = Exported::told();
    let folder = told.folder("/v1/exports/studbook", "studbook");
    let known: BTreeSet<String> = told.text("/v1/exports/events", &[]).lines().map(id_of).collect();
    let (studbook, notes) = (rows_of(&folder, "studbook.csv"), rows_of(&folder, "studbook_notes.csv"));
    let named: BTreeSet<(&str, &str)> =
        notes.iter().map(|row| (row["animal"].as_str().expect("an animal"), row["cell"].as_str().expect("a column"))).collect();
    assert!(notes.iter().all(|row| known.contains(row["note"].as_str().expect("a note"))));
    for row in &studbook {
        for (cell, value) in row.as_object().expect("a row").iter().filter(|(_, value)| **value != "") {
            // Of a parent of whom nobody ever said anything no note can be named.
            let nobody_said = value == "unknown" && cell.ends_with("_state");
            // That no note is suspect is said of all of them.
            let nothing_suspect = cell == "suspected" && value == "false";
            assert!(
                nobody_said || nothing_suspect || named.contains(&(row["animal"].as_str().expect("an animal"), cell.as_str())),
                "{cell}: {value} of {}",
                row["animal"]
            );
        }
    }
}

fn id_of(line: &str) -> String {
    let note: Value = serde_json::from_str(line).expect("one note a line");
    note["event"]["id"].as_str().expect("an id").to_owned()
}

#[test]
fn formulas_in_labels_are_guarded_and_come_back() {
    let told = Exported::told();
    let folder = told.folder("/v1/exports/tables", "tables");
    let mut labels = BTreeSet::new();
    for table in TABLES {
        let text = std::fs::read(folder.join(table.shape.file())).expect("a table");
        let mut reader = csv::Reader::from_reader(text.as_slice());
        for record in reader.records() {
            for (column, cell) in table.shape.columns.iter().zip(&record.expect("a row")) {
                let is_number = cell.parse::<f64>().is_ok();
                assert!(is_number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{}.{}: {cell:?}", table.shape.name, column.name);
                if column.name == "label" {
                    labels.insert(unguarded(cell).to_owned());
                }
            }
        }
    }
    for label in ["=M+1", "-M2", "'W", "+tag", "@Trays", "F 1, \"the\" dam"] {
        assert!(labels.contains(label), "{label}: {labels:?}");
    }
    let described = std::fs::read_to_string(folder.join("datapackage.json")).expect("a descriptor");
    assert!(described.contains("take one leading apostrophe away"), "the descriptor says how");
}

#[test]
fn tables_hold_what_the_reads_say() {
    let told = Exported::told();
    let folder = told.folder("/v1/exports/tables", "tables");
    for (table, path) in
        [("eggs.csv", "/v1/eggs"), ("animals.csv", "/v1/animals"), ("tanks.csv", "/v1/tanks"), ("species.csv", "/v1/species")]
    {
        let listed = told.world.read(path, &[]);
        let ids: Vec<&Value> = listed["items"].as_array().into_iter().flatten().map(|item| &item["id"]).collect();
        let rows = rows_of(&folder, table);
        let key = table.trim_end_matches(".csv").trim_end_matches('s');
        let key = if table == "species.csv" { "species" } else { key };
        assert_eq!(rows.iter().map(|row| &row[key]).collect::<Vec<_>>(), ids, "{table}");
    }
    let feeding = &rows_of(&folder, "feedings.csv")[0];
    assert_eq!((&feeding["offered"], &feeding["amount_g"], &feeding["eaten"]), (&json!("shrimp; squid"), &json!("0.75"), &json!("most")));
    let reading = &rows_of(&folder, "water_readings.csv")[0];
    assert_eq!((&reading["temperature_c"], &reading["instrument"]), (&json!("24.5"), &json!("'=probe")));
    let weights: Vec<f64> = rows_of(&folder, "parents.csv")
        .iter()
        .filter(|row| row["animal"] == told.hatched.as_str() && row["parent"] == "sire")
        .map(|row| row["weight"].as_str().and_then(|weight| weight.parse().ok()).expect("a weight"))
        .collect();
    assert_eq!(weights, [0.75, 0.25]);
    let moves: Vec<String> =
        rows_of(&folder, "transfers.csv").iter().map(|row| format!("{} {}", row["direction"], row["partner"])).collect();
    assert!(moves.contains(&"\"departed\" \"a third house\"".to_owned()), "{moves:?}");
}

#[test]
fn exports_name_the_clocks_and_the_root_and_stay_as_they_were_known() {
    let mut told = Exported::told();
    let size = told.world.read("/v1/collection", &[])["size"].as_u64().expect("a size").to_string();
    let at = [("known_at", size.as_str()), ("as_of", "2030-01-01T00:00:00Z"), ("format", "csv")];
    let before = told.text("/v1/exports/studbook", &at);
    let species = told.world.species("Inventus alter", "another");
    let later = told.world.subject("animal");
    let data = json!({"label": "late", "species": species, "sex": "male", "from": "x", "state": "alive", "origin": "unknown"});
    told.world.record(Who::Keeper, "animal.received.v1", &later, &data);
    assert_eq!(told.text("/v1/exports/studbook", &at), before);
    let csvw: Value = serde_json::from_str(&told.text("/v1/exports/studbook", &[("format", "csvw")])).expect("JSON");
    let root = told.world.read("/v1/collection", &[])["root"].as_str().expect("a root").to_owned();
    let says = csvw["dc:description"].as_str().expect("a description");
    assert!(says.contains(&root) && says.contains("Invented season, simulated clock"), "{says}");
    let folder = told.folder("/v1/exports/tables", "tables");
    let package: Value = serde_json::from_slice(&std::fs::read(folder.join("datapackage.json")).expect("a descriptor")).expect("JSON");
    assert_eq!(package["selachron"]["root"], root.as_str());
    assert_eq!(package["selachron"]["known_at"].as_u64(), Some(size.parse::<u64>().expect("a size") + 2));
}

#[test]
fn the_lists_of_a_year_are_those_of_its_report() {
    let told = Exported::told();
    told.world.pass_days(400);
    let report = told.world.read("/v1/reports/annual/2025", &[]);
    let list = told.world.read("/v1/exports/stock-list", &[("year", "2025")]);
    assert_eq!((&list["list"], &list["owned"]), (&report["stock"], &report["stock_owned"]));
    assert_eq!((&list["root"], &list["as_of"]), (&report["root"], &report["as_of"]));
    let csv = rows(told.text("/v1/exports/stock-list", &[("year", "2025"), ("format", "csv")]).as_bytes());
    let total = csv.iter().rfind(|row| row["list"] == "stock list").expect("a total");
    assert_eq!(csv.last().expect("the other basis")["list"], "stock list by ownership");
    assert_eq!(total["scientific_name"], "all species");
    let end: Vec<String> = ["males", "females", "sex_unknown"]
        .iter()
        .map(|class| total[format!("end_{class}")].as_str().expect("a count").to_owned())
        .collect();
    let counted: Vec<String> = report["stock"]["total"]["end"].as_array().into_iter().flatten().map(ToString::to_string).collect();
    assert_eq!(end, counted);
    let ledger = rows(told.text("/v1/exports/egg-ledger", &[("year", "2025"), ("format", "csv")]).as_bytes());
    assert_eq!(ledger.last().expect("a total")["collected"], report["ledger"]["total"]["collected"].to_string());
}

#[test]
fn questions_that_cannot_be_answered_say_what_is_wrong() {
    let world = World::new();
    for (path, query, wanted) in [
        ("/v1/exports/stock-list", vec![], "year: say which year"),
        ("/v1/exports/stock-list", vec![("year", "25")], "year: "),
        ("/v1/exports/stock-list", vec![("year", "2031")], "as_of: "),
        ("/v1/exports/egg-ledger", vec![("year", "2025"), ("format", "pdf")], "format: \"pdf\" is not offered here"),
        ("/v1/exports/studbook", vec![("format", "xlsx")], "there is json, csv, csvw, tar"),
        ("/v1/exports/events", vec![("known_at", "0")], "known_at: "),
        ("/v1/exports/tables", vec![("known_at", "999999")], "known_at: the log holds"),
        ("/v1/exports/tables", vec![("columns", "a")], "query: "),
    ] {
        match world.client().get_text(path, &query, "*/*") {
            Err(Fault::Usage(said)) => assert!(said.contains(wanted), "{path}: {said}"),
            other => panic!("{path} {query:?}: {other:?}"),
        }
    }
}

/// A year in which nothing was noted has lists without lines, and empty tables have their header.
#[test]
fn a_year_without_notes_is_no_fault() {
    let world = World::new();
    let list = world.read("/v1/exports/stock-list", &[("year", "2024")]);
    assert_eq!(list["list"]["lines"], json!([]));
    let csv = world.client().get_text("/v1/exports/egg-ledger", &[("year", "2024"), ("format", "csv")], "text/csv").expect("a table");
    assert_eq!(csv.lines().count(), 2, "a header and the total: {csv}");
    let studbook = world.client().get_text("/v1/exports/studbook", &[], "text/csv").expect("a table");
    assert!(studbook.starts_with("animal,label,") && studbook.lines().count() == 1, "{studbook}");
}

#[test]
fn the_pedigree_makes_nobody_up_and_says_what_its_forms_cannot() {
    let mut told = Exported::told();
    let dam = json!({"status": "known", "animals": [{"animal": told.parents[1]}]});
    let hybrid = told.young("alter", ("found hatched", &Map::new()), &dam);
    let folder = told.folder("/v1/exports/pedigree", "pedigree");
    let fam = std::fs::read_to_string(folder.join("pedigree.fam")).expect("a pedigree");
    let bare = |animal: &str| animal.trim_start_matches("animal/").to_owned();
    let line = fam.lines().find(|line| line.contains(&format!(" {} ", bare(&told.hatched)))).expect("a line");
    let [_, female] = &told.parents;
    assert_eq!(line.split(' ').collect::<Vec<_>>()[2..], ["0", &bare(female), "0", "-9"], "candidates are nobody");
    assert!(
        fam.lines().any(|line| line.starts_with("species_not_known ")) && fam.lines().any(|line| line.starts_with("Inventus_exemplaris "))
    );
    let losses = rows_of(&folder, "losses.csv");
    let of = |form: &str, animal: &str, of: &str| {
        let found = losses.iter().find(|loss| loss["form"] == form && loss["animal"] == animal && loss["of"] == of);
        found.map(|loss| loss["record_says"].as_str().expect("words").to_owned())
    };
    assert!(of("fam", &told.hatched, "sire").is_some_and(|says| says.starts_with("candidates: ") && says.contains("(0.75)")));
    assert_eq!(of("fam", &told.hatched, "dam"), None, "a known dam is written");
    assert_eq!(of("fam", &told.parthenote, "sire").as_deref(), Some("none"));
    assert_eq!(of("fam", &told.wild, "dam").as_deref(), Some("wild_caught"));
    assert!(of("linkage", &told.parthenote, "dam").is_some_and(|says| says.contains("the other parent is not")));
    // A dam of another species has no line in the family of her young.
    let line = fam.lines().find(|line| line.contains(&format!(" {} ", bare(&hybrid)))).expect("a line");
    assert_eq!(line.split(' ').collect::<Vec<_>>()[..4], ["Inventus_alter", bare(&hybrid).as_str(), "0", "0"]);
    for form in ["fam", "linkage"] {
        assert_eq!(of(form, &hybrid, "dam"), Some(format!("known: {female}, and of another species")), "{form}");
    }
    let nameless = of("fam", &told.without_species, "dam");
    assert_eq!(nameless.as_deref(), Some("unknown"), "whose dam nobody knows");
    assert_eq!((of("linkage", &hybrid, "sex").as_deref(), of("fam", &hybrid, "sex")), (Some("unknown"), None), "0 is a sex in one of them");
    assert_eq!(of("linkage", female, "sex"), None);
    let says = std::fs::read_to_string(folder.join("README.txt")).expect("a text");
    for left_out in ["dates", "labels", "transfers", "deaths", "animals in groups"] {
        assert!(says.contains(left_out), "{left_out}: {says}");
    }
    let listed = told.world.read("/v1/exports/pedigree", &[]);
    assert_eq!(listed["losses"].as_array().map(Vec::len), Some(losses.len()));
    assert_eq!(told.text("/v1/exports/pedigree", &[("format", "fam")]), fam);
    let pre = told.text("/v1/exports/pedigree", &[("format", "linkage")]);
    assert!(pre.lines().all(|line| line.split(' ').count() == 6 && line.split(' ').all(|cell| cell.parse::<u64>().is_ok())), "{pre}");
    let column =
        |at: usize| pre.lines().map(|line| line.split(' ').nth(at).and_then(|cell| cell.parse().ok()).expect("a number")).collect();
    let (families, numbers): (Vec<u64>, Vec<u64>) = (column(0), column(1));
    assert!(families.is_sorted() && families.last() == Some(&3), "a family stands together: {families:?}");
    assert!(numbers.iter().copied().eq(1..=numbers.len() as u64), "animal n is the n-th line");
    let ids = rows_of(&folder, "pedigree_ids.csv");
    let numbered: Vec<&Value> = ids.iter().map(|row| &row["family"]).collect();
    assert!(
        ids.iter().zip(1..).all(|(row, number)| row["number"].as_str() == Some(number.to_string().as_str()))
            && numbered.is_sorted_by_key(|one| one.as_str())
    );
}

/// A word that the files use and their descriptors do not have helps nobody.
#[test]
fn every_word_for_what_became_of_an_animal_stands_in_the_descriptors() {
    let mut told = Exported::told();
    let (group, animal) = (told.world.subject("group"), told.parents[0].clone());
    let species = told.world.read(&format!("/v1/animals/{}", animal.trim_start_matches("animal/")), &[])["item"]["species"].clone();
    let formed = json!({"label": "Brood", "species": species, "counts": {"males": 1, "females": 1, "unknown": 0},
        "how_counted": "each lifted once", "came": "received", "sender": "another house"});
    told.world.record(Who::Keeper, "group.formed.v1", &group, &formed);
    told.world.record(
        Who::Keeper,
        "animal.grouped.v1",
        &animal,
        &json!({"group": group, "counted_as": "male", "reason": "its mark is gone"}),
    );
    let (tables, studbook) = (told.folder("/v1/exports/tables", "tables"), told.folder("/v1/exports/studbook", "studbook"));
    for (folder, table, column) in [(&tables, "animals", "fate"), (&studbook, "studbook", "state")] {
        let words: BTreeSet<String> =
            rows_of(folder, &format!("{table}.csv")).iter().map(|row| row[column].as_str().expect("a word").to_owned()).collect();
        assert!(words.contains("grouped") && words.contains("died"), "{words:?}");
        for descriptor in ["datapackage.json", "csv-metadata.json"] {
            let text = std::fs::read_to_string(folder.join(descriptor)).expect("a descriptor");
            let about = text.lines().find(|line| line.contains("dead_at_hatch, dead_on_arrival")).expect("the words");
            assert!(words.iter().all(|word| about.contains(word.as_str())), "{table} {descriptor}: {words:?} of {about}");
        }
    }
}

/// Whoever opens a file weeks later sees which rows are in doubt: no mark stays behind in an answer.
#[test]
fn what_a_stolen_key_wrote_is_marked_in_every_export() {
    let mut told = Exported::told();
    let events = told.world.read("/v1/events", &[("limit", "1000")]);
    let of_kind =
        |kind: &str| events["items"].as_array().into_iter().flatten().find(|item| item["event"]["type"] == kind).expect("a note").clone();
    let (fed, first) = (of_kind("animal.fed.v1"), of_kind("animal.received.v1"));
    let (fed_id, first_id) = (fed["event"]["id"].clone(), first["event"]["id"].clone());
    let keyid = told.world.staff.keeper.keyid;
    let revoked = json!({"reason": "stolen with its tablet", "suspected_since": fed["recorded_at"]});
    told.trade();
    let late = told.young("late", ("found hatched", &Map::new()), &json!({"status": "unknown"}));
    told.world.record(Who::Registrar, "key.revoked.v1", &format!("key/{keyid}"), &revoked);
    // Fed, marked, died, a note taken back, a permit used; a tank, a case and a hatch: eight notes.
    let lines: Vec<Value> = told.text("/v1/exports/events", &[]).lines().map(|line| serde_json::from_str(line).expect("a line")).collect();
    let marked: Vec<&Value> = lines.iter().filter(|line| line["suspected"] == json!(true)).map(|line| &line["event"]["id"]).collect();
    assert!(marked.len() == 8 && marked[0] == &fed_id, "{marked:?}");

    let (yes, no) = (json!("true"), json!("false"));
    let (hatched, wild) = (json!(told.hatched), json!(told.wild));
    let folder = told.folder("/v1/exports/tables", "tables");
    let notes = rows_of(&folder, "notes.csv");
    assert_eq!((doubted(&notes, "note", &fed_id), doubted(&notes, "note", &first_id)), (yes.clone(), no.clone()));
    assert_eq!(doubted(&rows_of(&folder, "feedings.csv"), "note", &fed_id), yes);
    let animals = rows_of(&folder, "animals.csv");
    assert_eq!((doubted(&animals, "animal", &hatched), doubted(&animals, "animal", &wild)), (yes.clone(), no.clone()));
    assert_eq!(doubted(&rows_of(&folder, "keys.csv"), "key", &json!(format!("key/{keyid}"))), yes);
    assert!(rows_of(&folder, "discrepancies.csv").iter().any(|row| row["kind"] == "by a key under suspicion" && row["suspected"] == yes));
    let package: Value = serde_json::from_slice(&std::fs::read(folder.join("datapackage.json")).expect("a descriptor")).expect("JSON");
    assert_eq!(package["selachron"]["suspected"], json!(8));
    assert!(package["description"].as_str().is_some_and(|says| says.contains("8 of these notes were recorded while")));
    for resource in package["resources"].as_array().into_iter().flatten() {
        let fields = resource["schema"]["fields"].as_array().expect("fields");
        assert!(fields.iter().any(|field| field["name"] == "suspected"), "{}", resource["name"]);
    }

    let studbook = rows(told.text("/v1/exports/studbook", &[("format", "csv")]).as_bytes());
    assert_eq!((doubted(&studbook, "animal", &hatched), doubted(&studbook, "animal", &wild)), (yes.clone(), no));
    let json = told.world.read("/v1/exports/studbook", &[]);
    let row = json["items"].as_array().into_iter().flatten().find(|row| row["animal"] == hatched).expect("a row");
    assert_eq!((&row["suspected"], &json["suspected"]), (&json!(true), &json!(8)));
    let behind = rows_of(&told.folder("/v1/exports/studbook", "studbook"), "studbook_notes.csv");
    assert!(behind.iter().any(|row| row["animal"] == hatched && row["suspected"] == yes));
    assert!(behind.iter().filter(|row| row["animal"] == wild).all(|row| row["suspected"] == "false"));
    let pedigree = told.folder("/v1/exports/pedigree", "pedigree");
    assert!(std::fs::read_to_string(pedigree.join("README.txt")).expect("a text").contains("8 of these notes were recorded while"));

    marked_in_forms_of_others(&told, [&hatched, &json!(late)], &pedigree);

    told.world.pass_days(400);
    for list in ["/v1/exports/stock-list", "/v1/exports/egg-ledger"] {
        let lines = rows(told.text(list, &[("year", "2025"), ("format", "csv")]).as_bytes());
        let report = told.world.read("/v1/reports/annual/2025", &[]);
        let count = report["suspected"].as_array().map_or(0, Vec::len);
        assert!(count > 0 && lines.iter().all(|line| line["notes_suspected"].as_str() == Some(&count.to_string())), "{list}: {count}");
    }
}

/// Whether the row whose column is that is in doubt.
#[track_caller]
fn doubted(rows: &[Value], column: &str, is: &Value) -> Value {
    let row = rows.iter().find(|row| row[column] == *is).unwrap_or_else(|| panic!("no row whose {column} is {is}"));
    row["suspected"].clone()
}

/// What is beside the pedigree, in the lines of trade and in the Darwin Core archive.
fn marked_in_forms_of_others(told: &Exported, [hatched, late]: [&Value; 2], pedigree: &Path) {
    let (yes, no) = (json!("true"), json!("false"));
    assert_eq!(doubted(&rows_of(pedigree, "pedigree_ids.csv"), "animal", hatched), yes);
    let losses = rows_of(pedigree, "losses.csv");
    assert_eq!(doubted(&losses, "animal", hatched), no, "what it says of its parents was noted before");
    assert_eq!(doubted(&losses, "animal", late), yes, "by a hatch that is in doubt");

    let trade = rows(told.text("/v1/exports/trade", &[("format", "csv")]).as_bytes());
    let said = |source: &str| doubted(&trade, "source", &json!(source));
    assert_eq!((said("W"), said("C")), (yes, no), "whose key was stolen used it once");
    let remarks = occurrences(told);
    let remark = |animal: &Value| {
        let row = remarks.iter().find(|row| row["organismID"].as_str().is_some_and(|id| id.ends_with(animal.as_str().expect("an animal"))));
        row.expect("an occurrence")["occurrenceRemarks"].as_str().expect("words").to_owned()
    };
    let doubt = "a note behind it is by a key that was suspected then";
    assert!(remark(hatched).contains(doubt) && !remark(&json!(told.parents[1])).contains(doubt), "{remarks:?}");
}

/// The core of the Darwin Core archive.
fn occurrences(told: &Exported) -> Vec<Value> {
    let mut bytes = Vec::new();
    told.world.client().get_stream("/v1/exports/darwin-core", "*/*").expect("an archive").read_to_end(&mut bytes).expect("an archive");
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).expect("a zip");
    let mut table = Vec::new();
    archive.by_name("occurrence.csv").expect("a table").read_to_end(&mut table).expect("a table");
    rows(&table)
}

/// Whoever puts years below each other, or adds a line up (DOMAIN section 7), finds every column in every year.
#[test]
fn lists_have_the_same_columns_in_every_year_and_their_lines_add_up() {
    let told = Exported::told();
    told.world.pass_days(400);
    let csv = |list: &str, year: &str| told.text(list, &[("year", year), ("format", "csv")]);
    for (list, class) in [("/v1/exports/stock-list", "_males"), ("/v1/exports/egg-ledger", "")] {
        let heads: BTreeSet<String> =
            ["2025", "2026"].iter().map(|year| csv(list, year).lines().next().expect("a header").to_owned()).collect();
        assert_eq!(heads.len(), 1, "{heads:?}");
        let head = heads.first().expect("a header");
        assert!(head.ends_with("adds_up,notes_suspected") && head.contains(&format!("missing{class}")), "{head}");
    }
    let lines = rows(csv("/v1/exports/stock-list", "2025").as_bytes());
    assert!(lines.len() > 2, "{lines:?}");
    for (line, class) in lines.iter().flat_map(|line| ["males", "females", "sex_unknown"].map(|class| (line, class))) {
        let count = |name: &&str| line[format!("{name}_{class}")].as_str().expect("a cell").parse::<i64>().expect("a count");
        let comes = ["start", "arrived", "hatched", "recaptured", "found", "sexed", "recount"].iter().map(&count).sum::<i64>();
        let goes = ["died_within_30_days", "died_other", "died_day_undetermined", "departed", "escaped", "missing"];
        assert_eq!(comes - goes.iter().map(&count).sum::<i64>(), count(&"end"), "{class} of {line}");
    }
}

#[test]
fn whatever_travels_in_several_boxes_leaves_once() {
    let mut told = Exported::told();
    let (group, box_of) = (told.world.subject("group"), told.world.subject("consignment"));
    let species = told.world.species("Inventus quartus", "a fourth");
    let formed = json!({"label": "Brood", "species": species, "counts": {"males": 0, "females": 0, "unknown": 4}, "how_counted": "by photo", "came": "received",
        "sender": "another house"});
    told.world.record(Who::Keeper, "group.formed.v1", &group, &formed);
    told.world.pass_days(1);
    let items = json!([{"which": group, "alive": "alive", "container": "1"}, {"which": group, "alive": "alive", "container": "2"}]);
    let sent = json!({"label": "box", "to": "a third house", "carrier": "own van", "reason": "transfer", "items": items});
    told.world
        .say_with(Who::Keeper, "consignment.sent.v1", &box_of, &sent, &Map::new(), &[Who::Curator])
        .recorded()
        .expect("two containers of one group");
    let rows = rows_of(&told.folder("/v1/exports/tables", "tables"), "transfers.csv");
    let left: Vec<&Value> = rows.iter().filter(|row| row["which"] == json!(group) && row["direction"] == "departed").collect();
    assert_eq!(left.len(), 1, "note and which tell rows apart: {left:?}");
}

/// The table is put together from parts and put in order beside; the read has all in memory at once.
#[test]
fn the_table_of_what_is_at_odds_is_that_of_the_read_in_its_order() {
    let mut told = Exported::told();
    let keyid = told.world.staff.keeper.keyid;
    let fed = json!({"offered": [{"food": "shrimp"}], "eaten": "none"});
    let first = told.world.record(Who::Keeper, "animal.fed.v1", &told.hatched, &fed);
    let revoked = json!({"reason": "stolen with its tablet", "suspected_since": first.recorded_at.utc_text()});
    for number in 0..3 {
        told.world.record(Who::Trainee, "animal.fed.v1", &told.wild, &fed);
        told.young(&format!("alike {number}"), ("found hatched", &Map::new()), &json!({"status": "unknown"}));
    }
    told.world.record(Who::Registrar, "key.revoked.v1", &format!("key/{keyid}"), &revoked);
    let read = told.world.read("/v1/discrepancies", &[]);
    let items = read["items"].as_array().expect("items");
    let weights: BTreeSet<&str> = items.iter().filter_map(|item| item["weight"].as_str()).collect();
    assert!(weights.len() > 1 && items.len() > 8, "too little is at odds to be in any order: {read}");
    let joined = |item: &Value, member: &str| {
        item[member].as_array().expect("a list").iter().filter_map(Value::as_str).collect::<Vec<_>>().join(" ")
    };
    let wanted: Vec<[String; 8]> = items
        .iter()
        .map(|item| {
            let text = |member: &str| item[member].as_str().expect("text").to_owned();
            let doubted = item.get("suspected").is_some().to_string();
            [
                text("id"),
                text("kind"),
                text("weight"),
                joined(item, "subjects"),
                joined(item, "events"),
                text("says"),
                text("standing"),
                doubted,
            ]
        })
        .collect();
    let table = rows_of(&told.folder("/v1/exports/tables", "tables"), "discrepancies.csv");
    let columns = ["discrepancy", "kind", "weight", "subjects", "notes", "says", "standing", "suspected"];
    let found: Vec<[String; 8]> = table.iter().map(|row| columns.map(|column| row[column].as_str().expect("a cell").to_owned())).collect();
    assert_eq!(found, wanted);
}
