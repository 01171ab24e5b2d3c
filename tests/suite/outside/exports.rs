//! What programs of others read in our exports: frictionless and csvw by the descriptors, pandas and R
//! by the lines that `ops/EXPORTS.md` shows, plink on the pedigree. The world is invented.

use super::{content, run};
use crate::exports::{BASIS, Exported};
use selachron_cli::bundle::unpack;
use selachron_tests::root;
use selachron_tests::world::Who;
use serde_json::{Value, json};
use std::fs;
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

/// Tables whose rows are the items of a read.
const LISTED: [(&str, &str); 4] = [("animals", "/v1/animals"), ("eggs", "/v1/eggs"), ("tanks", "/v1/tanks"), ("species", "/v1/species")];

fn items(told: &Exported, path: &str) -> Vec<Value> {
    told.world.read(path, &[]).get("items").and_then(Value::as_array).cloned().unwrap_or_default()
}

/// Other houses of that world, and what somebody wrote of one of its parents, which an archive does not name.
const UNNAMED: [&str; 3] = ["another house", "a third house", BASIS];

/// What a path is asked beside itself.
type Query = &'static [(&'static str, &'static str)];

/// Tables of one file each, with their CSV on the Web metadata beside them.
const SINGLE: [(&str, &str, Query); 4] = [
    ("trade.csv", "/v1/exports/trade", &[]),
    ("studbook_changes.csv", "/v1/exports/studbook", &[("since", "12")]),
    ("stock-list.csv", "/v1/exports/stock-list", &[("year", "2025")]),
    ("egg-ledger.csv", "/v1/exports/egg-ledger", &[("year", "2025")]),
];

fn of_both(measure: &Value) -> usize {
    ["length_cm", "mass_g"].iter().filter(|which| measure[**which].is_number()).count()
}

/// What the JSON says of what the exports hold.
fn said(told: &Exported) -> Value {
    let tables: serde_json::Map<String, Value> =
        LISTED.iter().map(|(table, path)| ((*table).to_owned(), items(told, path).len().into())).collect();
    let studbook = items(told, "/v1/exports/studbook");
    let of = |sex: &str| studbook.iter().filter(|row| row["sex"] == sex).count();
    let one_known = |row: &&Value| row["dam_state"] == "known" || row["sire_state"] == "known";
    let pedigree = json!({
        "animals": studbook.len(), "males": of("male"), "females": of("female"), "sex_unknown": of("unknown"),
        "nonfounders": studbook.iter().filter(one_known).count(),
    });
    let measured = |animal: &Value| animal["measures"].as_array().into_iter().flatten().map(of_both).sum::<usize>();
    let measures: usize = items(told, "/v1/animals").iter().map(measured).sum();
    let withheld: Vec<Value> = items(told, "/v1/tanks").iter().map(|tank| tank["label"].clone()).chain(UNNAMED.map(Value::from)).collect();
    let zone = told.world.read("/v1/collection", &[])["time_zone"].clone();
    assert!(zone.as_str().is_some_and(|zone| zone.contains('/')), "a zone names a place: {zone}");
    let withheld: Vec<Value> = withheld.into_iter().chain([zone]).collect();
    let losses = told.world.read("/v1/exports/pedigree", &[])["losses"].as_array().map_or(0, Vec::len);
    let changed = told.world.read("/v1/exports/studbook", &[("since", "12"), ("limit", "1000")]);
    let changed: usize = changed["items"].as_array().into_iter().flatten().map(|row| row["cells"].as_array().map_or(0, Vec::len)).sum();
    let lines = |list: &Value| list["lines"].as_array().map_or(0, Vec::len) + 1;
    let [stock, ledger] = [2, 3].map(|at| told.world.read(SINGLE[at].1, SINGLE[at].2));
    let single = json!({
        "trade.csv": items(told, "/v1/exports/trade").len(), "studbook_changes.csv": changed,
        "stock-list.csv": lines(&stock["list"]) + lines(&stock["owned"]), "egg-ledger.csv": lines(&ledger["list"]),
        "pedigree/losses.csv": losses, "pedigree/pedigree_ids.csv": studbook.len(),
    });
    json!({
        "tables": tables, "single": single, "studbook": studbook, "pedigree": pedigree, "measures": measures, "withheld": withheld,
        "events": told.world.read("/v1/collection", &[])["size"],
    })
}

/// Everything that can be taken away, in one folder, with what the JSON says beside it.
fn taken(told: &Exported) -> PathBuf {
    let folder = told.world.scratch().join("taken");
    fs::create_dir(&folder).expect("a folder");
    for name in ["tables", "studbook", "pedigree"] {
        let stream = told.world.client().get_stream(&format!("/v1/exports/{name}"), "application/x-tar").expect("an export");
        unpack(stream, &folder.join(name)).expect("a tar");
    }
    for (file, path, query) in SINGLE {
        for (form, file) in [("csv", file.to_owned()), ("csvw", format!("{file}-metadata.json"))] {
            fs::write(folder.join(file), told.text(path, &[query, &[("format", form)]].concat())).expect("a file");
        }
    }
    let mut archive = told.world.client().get_stream("/v1/exports/darwin-core", "application/zip").expect("an archive");
    let mut file = fs::File::create_new(folder.join("darwin-core.zip")).expect("a file");
    std::io::copy(&mut archive, &mut file).expect("an archive");
    fs::write(folder.join("events.ndjson"), told.text("/v1/exports/events", &[])).expect("a file");
    fs::write(folder.join("said.json"), said(told).to_string()).expect("a file");
    folder
}

/// The world, with permits used, codes that readers take for something else, and a label that is no number.
fn traded() -> Exported {
    let mut told = Exported::told();
    told.trade();
    let permit = told.world.subject("document");
    let recorded = json!({"label": "007", "what": "export", "number": "0012", "authority": "an invented authority"});
    told.world.record(Who::Registrar, "permit.recorded.v1", &permit, &recorded);
    for (source, country) in [("F", "NA"), ("D", "PT")] {
        let used = json!({"for_what": "shown", "which": [told.wild], "term": "LIV", "source": source, "purpose": "T", "country": country});
        told.world.record(Who::Keeper, "permit.used.v1", &permit, &used);
    }
    let mark = json!({"what": "given", "type": "implanted tag", "number": "0001", "label": "007"});
    told.world.record(Who::Keeper, "animal.identified.v1", &told.parthenote, &mark);
    told
}

fn page() -> PathBuf {
    root().join("ops/EXPORTS.md")
}

#[test]
fn exports_are_read_by_other_programs_as_the_json_says() {
    let told = traded();
    let said = content("exports.py", &[&taken(&told), &page()]);
    assert!(said.starts_with("read by frictionless, csvw, pandas"), "{said}");
}

/// Breaks a file in one place.
fn broken(path: &Path, from: &str, to: &str) {
    let whole = fs::read_to_string(path).expect("a file");
    assert!(whole.contains(from), "{}: no {from:?}", path.display());
    fs::write(path, whole.replacen(from, to, 1)).expect("a file");
}

/// Each break is one that an ordinary reader would take for a whole file.
#[test]
fn readers_of_exports_are_not_blind() {
    let told = traded();
    let folder = taken(&told);
    for (file, from, to, wanted) in [
        ("tables/measurements.csv", "14.5", "fourteen", "csvwvalidate: tables"),
        ("tables/animals.csv", "Z,", ",", "frictionless: tables"),
        ("studbook/studbook.csv", "candidates", "known", "studbook.sire_state of animal/"),
        ("trade.csv", "false\n", "perhaps\n", "csvwvalidate: trade.csv"),
        ("pedigree/losses.csv", "false\n", "perhaps\n", "csvwvalidate: pedigree"),
        ("pedigree/pedigree.pre", "1 1 ", "2 1 ", "pedigree.pre: "),
        ("tables/species.csv", "Inventus exemplaris", "Inventus exemplaris\"\n\"second", "species"),
    ] {
        let path = folder.join(file);
        let whole = fs::read(&path).expect("a file");
        broken(&path, from, to);
        let (content, said) = run("exports.py", &[&folder, &page()]);
        assert!(!content && said.contains(wanted), "{file}: {said}");
        fs::write(&path, whole).expect("a file");
    }
    let (content, said) = run("exports.py", &[&folder, &page()]);
    assert!(content, "as it was: {said}");
    lines_that_alter_what_they_read(&folder);
    a_member_that_no_schema_has(&folder);
}

/// Lines of the page that leave a column to be guessed.
fn lines_that_alter_what_they_read(folder: &Path) {
    let whole = fs::read_to_string(page()).expect("a page");
    let path = folder.with_file_name("EXPORTS.md");
    for (from, to, wanted) in [
        (
            ", dtype=kinds, keep_default_na=False, na_values=[\"\"])",
            ", dtype_backend=\"numpy_nullable\")",
            "pandas: trade.country: '', 'NA' in the file",
        ),
        ("dtype={\"list\": str, ", "dtype={", "pandas: stock.list: '7', '007' in the file"),
        ("(read.csv(\"trade.csv\", colClasses = \"character\", ", "(read.csv(\"trade.csv\", ", "R: trade.purpose: 'true', 'T' in the file"),
        ("c(list = \"character\", ", "c(", "R: stock.list: '7', '007' in the file"),
    ] {
        assert!(whole.contains(from), "{from}");
        fs::write(&path, whole.replacen(from, to, 1)).expect("a page");
        let (content, said) = run("exports.py", &[folder, &path]);
        assert!(!content && said.contains(wanted) || wanted.starts_with('R') && said.contains("SKIPPED: R "), "{to}: {said}");
    }
}

/// What only the XML Schema of `meta.xml` finds is found where there is that schema.
fn a_member_that_no_schema_has(folder: &Path) {
    let path = folder.join("darwin-core.zip");
    let bytes = fs::read(&path).expect("an archive");
    let mut whole = ZipArchive::new(std::io::Cursor::new(bytes)).expect("a zip");
    let mut broken = ZipWriter::new(fs::File::create(&path).expect("a file"));
    for at in 0..whole.len() {
        let mut text = String::new();
        let mut file = whole.by_index(at).expect("a file");
        let name = file.name().expect("a name").into_owned();
        file.read_to_string(&mut text).expect("text");
        broken.start_file(name, SimpleFileOptions::default()).expect("an entry");
        broken.write_all(text.replacen("<field index", "<field invented=\"yes\" index", 1).as_bytes()).expect("an entry");
    }
    broken.finish().expect("an archive");
    let (content, said) = run("exports.py", &[folder, &page()]);
    let has_schema = !said.contains("SKIPPED: the XSD check of meta.xml");
    assert_eq!(!content, has_schema, "{said}");
    assert!(!has_schema || said.contains("meta.xml: ") && said.contains("invented"), "{said}");
}

#[test]
fn a_pedigree_that_breaks_off_is_found_by_plink() {
    let told = traded();
    let folder = taken(&told);
    let path = folder.join("pedigree/pedigree.ped");
    let whole = fs::read_to_string(&path).expect("a pedigree");
    let (kept, _) = whole.trim_end().rsplit_once('\n').expect("lines");
    fs::write(&path, format!("{kept}\n")).expect("a file");
    let (content, said) = run("exports.py", &[&folder, &page()]);
    assert!(!content && said.contains("plink1.9: animals") || said.contains("SKIPPED: plink1.9"), "{said}");
}
