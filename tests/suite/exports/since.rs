//! What changed in the studbook between two sizes of the log, and the Darwin Core archive. Invented.

use super::{Exported, row_of, rows};
use selachron_cli::fault::Fault;
use selachron_tests::world::{Who, World};
use serde_json::{Value, json};

fn size(told: &Exported) -> String {
    told.world.read("/v1/collection", &[])["size"].as_u64().expect("a size").to_string()
}

fn changes(told: &Exported, since: &str) -> Vec<Value> {
    told.world.read("/v1/exports/studbook", &[("since", since)])["items"].as_array().cloned().unwrap_or_default()
}

fn cell<'c>(change: &'c Value, name: &str) -> &'c Value {
    let cells = change["cells"].as_array().expect("cells");
    cells.iter().find(|cell| cell["cell"] == name).unwrap_or_else(|| panic!("no cell {name}: {change}"))
}

fn arrive(world: &mut World, label: &str) -> (String, Value) {
    let (species, animal) = (world.species("Inventus tertius", "a third"), world.subject("animal"));
    let data = json!({"label": label, "species": species, "sex": "male", "from": "x", "state": "alive", "origin": "unknown"});
    let recorded = world.record(Who::Keeper, "animal.received.v1", &animal, &data);
    (animal, recorded.id.into())
}

#[test]
fn changes_since_an_export_are_new_corrected_gone_on_or_withdrawn() {
    let mut told = Exported::told();
    let (mistaken, arrival) = arrive(&mut told.world, "B-7");
    let since = size(&told);
    assert_eq!(changes(&told, &since), Vec::<Value>::new(), "nothing was noted since");
    let note_of = |told: &Exported, animal: &str, kind: &str| {
        let history = told.world.read(&format!("/v1/animals/{}/history", animal.trim_start_matches("animal/")), &[]);
        history["notes"].as_array().into_iter().flatten().find(|note| note["kind"] == kind).expect("a note").clone()
    };
    // New: one arrives. Corrected: a death was otherwise. Went on: a sex is told. Withdrawn: one never was.
    let (new, _) = arrive(&mut told.world, "B-8");
    let death = note_of(&told, &told.hatched, "animal.died.v1");
    let replacement = json!({"data": {"how_known": "seen to die", "apparent_cause": "not determined", "body": "fixed"}});
    let corrected = json!({"target": death["id"], "reason": "a colleague stood by", "replacement": replacement});
    told.world.record(Who::Keeper, "record.corrected.v1", &told.hatched, &corrected);
    told.world.record(Who::Keeper, "animal.sexed.v1", &told.parthenote, &json!({"sex": "female", "how": "ultrasound"}));
    told.world.record(Who::Keeper, "record.retracted.v1", &mistaken, &json!({"target": arrival, "reason": "another animal was meant"}));

    let found = changes(&told, &since);
    let of = |animal: &str| row_of(&found, animal);
    assert_eq!(found.len(), 4, "{found:#?}");
    assert_eq!(
        (&of(&new)["change"], &cell(of(&new), "label")["new"], &cell(of(&new), "label")["old"]),
        (&json!("new"), &json!("B-8"), &Value::Null)
    );
    let how = cell(of(&told.hatched), "death_how_known");
    assert_eq!((&how["change"], &how["old"], &how["new"]), (&json!("corrected"), &json!("found dead"), &json!("seen to die")));
    assert_eq!((&how["old_notes"], &how["new_notes"]), (&json!([death["id"]]), &json!([death["id"]])));
    assert_eq!(of(&told.hatched)["change"], "corrected");
    let sex = cell(of(&told.parthenote), "sex");
    assert_eq!((&sex["change"], &sex["old"], &sex["new"]), (&json!("went_on"), &json!("unknown"), &json!("female")));
    assert_ne!(sex["old_notes"], sex["new_notes"], "each value has the notes behind it");
    let gone = of(&mistaken);
    assert_eq!(
        (&gone["change"], &cell(gone, "label")["old"], &cell(gone, "label")["new"]),
        (&json!("withdrawn"), &json!("B-7"), &Value::Null)
    );
    assert_eq!(cell(gone, "label")["old_notes"], json!([arrival]));

    let csv = rows(told.text("/v1/exports/studbook", &[("since", &since), ("format", "csv")]).as_bytes());
    assert_eq!(csv.len(), found.iter().map(|change| change["cells"].as_array().map_or(0, Vec::len)).sum::<usize>());
    assert!(csv.iter().any(|row| row["cell"] == "death_how_known" && row["old"] == "found dead" && row["change"] == "corrected"));
}

/// Old rows with the changes of every cell put in are the rows of today.
#[test]
fn an_old_studbook_with_its_changes_is_todays() {
    let mut told = Exported::told();
    let (as_of, since) = ("2030-01-01T00:00:00Z", size(&told));
    let old = told.text("/v1/exports/studbook", &[("known_at", &since), ("as_of", as_of)]);
    arrive(&mut told.world, "=late");
    told.world.record(Who::Keeper, "animal.sexed.v1", &told.parthenote, &json!({"sex": "female", "how": "ultrasound"}));
    let items = |text: &str| serde_json::from_str::<Value>(text).expect("JSON")["items"].as_array().cloned().unwrap_or_default();
    let bare = |mut row: Value| {
        row.as_object_mut().expect("a row").remove("notes");
        row
    };
    let mut rows: Vec<Value> = items(&old).into_iter().map(bare).collect();
    for change in told.world.read("/v1/exports/studbook", &[("since", &since), ("as_of", as_of)])["items"].as_array().expect("changes") {
        if !rows.iter().any(|row| row["animal"] == change["animal"]) {
            rows.push(json!({}));
        }
        let row = rows.iter_mut().find(|row| row["animal"] == change["animal"] || row.get("animal").is_none()).expect("a row");
        for cell in change["cells"].as_array().expect("cells") {
            row[cell["cell"].as_str().expect("a column")] = cell["new"].clone();
        }
    }
    let today: Vec<Value> = items(&told.text("/v1/exports/studbook", &[("as_of", as_of)])).into_iter().map(bare).collect();
    // What says nothing is null in a row and no change of a new one.
    let said = |rows: &[Value]| {
        let told = |row: &Value| {
            row.as_object()
                .expect("a row")
                .iter()
                .filter(|(_, value)| !value.is_null())
                .map(|(name, value)| format!("{name} {value}"))
                .collect()
        };
        rows.iter().map(told).collect::<std::collections::BTreeSet<std::collections::BTreeSet<String>>>()
    };
    assert_eq!(said(&rows), said(&today));
}

#[test]
fn an_archive_says_the_country_only_when_it_is_asked_to_and_is_the_same_twice() {
    let told = Exported::told();
    let taken = |query: &[(&str, &str)]| {
        let mut bytes = Vec::new();
        let mut stream = told.world.client().get_stream_of("/v1/exports/darwin-core", query, "*/*").expect("an archive");
        std::io::Read::read_to_end(&mut stream, &mut bytes).expect("an archive");
        bytes
    };
    let at = size(&told);
    let at = [("known_at", at.as_str()), ("as_of", "2030-01-01T00:00:00Z")];
    assert_eq!(taken(&at), taken(&at), "two archives of one moment are the same bytes");
    assert_ne!(taken(&at), taken(&[at[0], at[1], ("with", "country")]));
    assert_ne!(taken(&at), taken(&[at[0], at[1], ("target", "obis")]), "which words it uses is said");
}

#[test]
fn changes_and_archives_that_cannot_be_had_say_why() {
    let world = World::new();
    for (path, query, wanted) in [
        ("/v1/exports/studbook", ("since", "0"), "since: say a number of notes"),
        ("/v1/exports/studbook", ("since", "99999"), "since: say a number of notes"),
        ("/v1/exports/studbook", ("since", "yesterday"), "since: say a number of notes"),
        ("/v1/exports/darwin-core", ("target", "nobody"), "target: there is gbif, obis"),
        ("/v1/exports/darwin-core", ("with", "places"), "with: there is country"),
        ("/v1/exports/darwin-core", ("format", "csv"), "there is zip"),
    ] {
        match world.client().get_text(path, &[query], "*/*") {
            Err(Fault::Usage(said)) => assert!(said.contains(wanted), "{path}: {said}"),
            other => panic!("{path} {query:?}: {other:?}"),
        }
    }
    let both = world.client().get_text("/v1/exports/studbook", &[("since", "1"), ("format", "tar")], "*/*");
    assert!(matches!(&both, Err(Fault::Usage(said)) if said.contains("there is json, csv")), "{both:?}");
}
