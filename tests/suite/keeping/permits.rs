//! The register of permits: what a paper covers, uses, ends, and what comes due. Numbers are invented.

use super::House;
use selachron_tests::world::Who;
use serde_json::{Value, json};

impl House {
    fn permit(&mut self, label: &str, more: &Value) -> String {
        let permit = self.fresh("document");
        let mut told = json!({"label": label, "what": "export", "number": format!("INV-{label}"), "authority": "an invented authority"});
        for (name, value) in more.as_object().expect("members") {
            told[name] = value.clone();
        }
        assert_eq!(self.odd(Who::Registrar, "permit.recorded", &permit, &told), [""; 0]);
        permit
    }
}

#[test]
fn nothing_is_permitted_until_a_paper_is_recorded() {
    let mut house = House::open();
    assert_eq!(house.world.read("/v1/permits", &[])["items"], json!([]));
    let told = json!({"label": "K-1", "what": "keeping", "number": "7", "authority": "x"});
    let document = house.fresh("document");
    for who in [Who::Keeper, Who::Trainee] {
        assert_eq!(house.world.refusal(who, "permit.recorded.v1", &document, &told), "not-permitted");
    }
    assert_eq!(house.world.refusal(Who::Curator, "permit.used.v1", &document, &json!({"for_what": "x"})), "subject-unknown");
    assert_eq!(
        house.world.refusal(Who::Curator, "permit.recorded.v1", &document, &json!({"label": "K-1", "what": "keeping"})),
        "body-malformed"
    );
}

#[test]
fn a_permit_is_used_within_its_days_and_its_number_or_asked_about() {
    let mut house = House::open();
    // The world begins on 1 March 2025.
    let terms = json!({"valid_from": "2025-03-03", "valid_until": "2025-03-20", "specimens": 3, "conditions": ["each case marked"]});
    let permit = house.permit("E-12", &terms);
    let state = |house: &House| house.item("/v1/permits/E-12")["state"].clone();
    assert_eq!(state(&house), "not yet valid");
    let used = |specimens: u32| json!({"for_what": "young to another house", "specimens": specimens});
    assert_eq!(house.odd(Who::Keeper, "permit.used", &permit, &used(1)), ["permit used while it was not in force"]);
    house.world.pass_days(5);
    assert_eq!(state(&house), "valid");
    assert_eq!(house.odd(Who::Keeper, "permit.used", &permit, &used(2)), [""; 0]);
    assert_eq!(house.odd(Who::Keeper, "permit.used", &permit, &used(1)), ["permit used for more than it covers"]);
    let read = house.item("/v1/permits/E-12");
    assert_eq!((&read["used_specimens"], &read["used"].as_array().map(Vec::len), &read["days_left"]), (&json!(4), &Some(3), &json!(14)));
    assert_eq!(house.item("/v1/documents/E-12")["permit"]["number"], "INV-E-12", "it is a document too");
    house.world.pass_days(20);
    assert_eq!(state(&house), "past its last day");
    assert_eq!(house.item("/v1/permits/E-12")["days_left"], -6);
    assert_eq!(house.odd(Who::Curator, "permit.ended", &permit, &json!({"how": "used up"})), [""; 0]);
    assert_eq!(house.odd(Who::Curator, "permit.ended", &permit, &json!({"how": "returned"})), ["closed twice"]);
    assert_eq!((state(&house), house.item("/v1/permits/E-12")["ended"]["how"].clone()), (json!("ended"), json!("used up")));
}

#[test]
fn a_permit_is_due_before_its_last_day_and_no_more_once_it_is_renewed() {
    let mut house = House::open();
    let (soon, later) = (json!({"valid_until": "2025-06-30"}), json!({"valid_until": "2026-06-30"}));
    let (old, _) = (house.permit("K-25", &soon), house.permit("open end", &json!({})));
    let is_due = |house: &House| house.due().iter().any(|(what, label)| what == "renew permit" && label == "K-25");
    assert!(!is_due(&house), "four months are time enough");
    house.world.pass_days(70);
    assert!(is_due(&house), "60 days before its last day");
    let new = house.permit("K-26", &later);
    assert!(is_due(&house), "that another is there does not end it");
    assert_eq!(house.odd(Who::Registrar, "permit.ended", &old, &json!({"how": "renewed", "renewed_by": new})), [""; 0]);
    assert!(house.due().is_empty(), "{:?}", house.due());
}

#[test]
fn a_use_of_what_is_no_permit_is_asked_about() {
    let mut house = House::open();
    let paper = house.fresh("document");
    let told = json!({"label": "letter", "title": "a letter", "file_sha256": "93".repeat(32)});
    house.note("document.attached", &paper, &told);
    assert_eq!(house.odd(Who::Keeper, "permit.used", &paper, &json!({"for_what": "x"})), ["use or end of what is no permit"]);
    assert_eq!(house.world.read("/v1/permits", &[])["items"], json!([]));
}

#[test]
fn uses_become_lines_by_species_and_code_and_unknown_codes_are_said() {
    let mut house = House::open();
    let (permit, nursery) = (house.permit("E-1", &json!({"specimens": 9})), house.nursery.clone());
    let (one, other) = (house.animal("F1", &nursery), house.animal("F2", &nursery));
    let codes = |more: Value| {
        let mut told = json!({"for_what": "to another house", "term": "LIV", "purpose": "Z", "source": "C", "unit": "NO", "country": "PT"});
        more.as_object().expect("members").iter().for_each(|(name, value)| told[name] = value.clone());
        told
    };
    house.note("permit.used", &permit, &codes(json!({"which": [one]})));
    house.note("permit.used", &permit, &codes(json!({"which": [other]})));
    house.note("permit.used", &permit, &codes(json!({"which": [other], "source": "Y"})));
    house.note("permit.used", &permit, &json!({"for_what": "eggs", "specimens": 4}));
    let lines = house.world.read("/v1/exports/trade", &[("year", "2025")])["items"].clone();
    let line = |source: &Value| lines.as_array().into_iter().flatten().find(|line| &line["source"] == source).expect("a line").clone();
    let bred = line(&json!("C"));
    assert_eq!((&bred["quantity"], &bred["species"], &bred["country"]), (&json!(2), &json!(house.species), &json!("PT")));
    assert_eq!((bred["events"].as_array().map(Vec::len), &bred["not_in_the_list"]), (Some(2), &json!([])));
    assert_eq!(line(&json!("Y"))["not_in_the_list"], json!(["source Y"]));
    let uncoded = line(&Value::Null);
    assert_eq!(
        (&uncoded["quantity"], &uncoded["species"], &uncoded["term"]),
        (&json!(4), &Value::Null, &Value::Null),
        "nothing is made up"
    );
    assert_eq!(house.world.read("/v1/exports/trade", &[("year", "2024")])["items"], json!([]));
    let csv = house.world.client().get_text("/v1/exports/trade", &[], "text/csv").expect("a table");
    assert!(csv.starts_with("what,species,scientific_name,term,") && csv.lines().count() == 4, "{csv}");
}

#[test]
fn source_codes_are_shown_with_their_reasons_and_none_is_chosen() {
    let mut house = House::open();
    let (adults, trays) = (house.adults.clone(), house.trays.clone());
    let wild = house.fresh("animal");
    let data =
        json!({"label": "W", "species": house.species, "sex": "female", "from": "x", "state": "alive", "origin": "wild", "tank": adults});
    let arrival = house.world.record(Who::Keeper, "animal.received.v1", &wild, &data).id;
    let (egg, young) = (house.fresh("egg"), house.fresh("animal"));
    let found = json!({"label": "E", "species": house.species, "from_tank": adults, "laid": "single", "case": "whole", "yolk": "seen",
        "to_tank": trays, "dam": {"status": "known", "animals": [{"animal": wild}], "basis": "seen laying"}});
    house.note("egg.collected", &egg, &found);
    house.world.pass_days(120);
    let hatched = json!({"how_known": "found hatched", "young": [{"animal": young, "state": "alive", "tank": trays}]});
    let hatch = house.world.record(Who::Keeper, "egg.hatched.v1", &egg, &hatched).id;
    let read = house.item(&format!("/v1/animals/{}/source-codes", young.trim_start_matches("animal/")));
    let code =
        |read: &Value, code: &str| read["codes"].as_array().into_iter().flatten().find(|one| one["code"] == code).expect("a code").clone();
    let (bred, born) = (code(&read, "C"), code(&read, "F"));
    let home = &bred["speaks_for"][0];
    assert_eq!((&home["says"], &home["events"][0]), (&json!("It hatched here, from a case that was found here."), &json!(hatch)));
    let against = bred["speaks_against"].as_array().expect("reasons");
    assert!(against.iter().any(|reason| reason["events"] == json!([arrival])), "the dam arrived from the wild: {against:?}");
    assert!(against.iter().any(|reason| reason["says"] == "Nobody knows its sire."));
    assert!(bred["asks"].as_array().is_some_and(|asks| asks.iter().any(|ask| ask.as_str().is_some_and(|ask| ask.contains("stored")))));
    assert_eq!(born["speaks_for"].as_array().map(Vec::len), Some(1 + against.len()), "what speaks against C speaks for F");
    assert!(read.get("code").is_none() && read["says"].as_str().is_some_and(|says| says.starts_with("This decides nothing")));
    let of_wild = house.item("/v1/animals/W/source-codes");
    assert_eq!(code(&of_wild, "W")["speaks_for"][0]["events"], json!([arrival]));
    let taken = code(&of_wild, "W");
    assert_eq!(
        (&taken["meaning"], &taken["valid_from"], &taken["source_document"], &taken["basis"]),
        (&json!("taken from the wild"), &json!("2002-11-15"), &json!("Res. Conf. 12.3"), &json!("from memory"))
    );
    // Not bred in captivity is not yet born there, and what is so of both parents is said once.
    assert_eq!(code(&of_wild, "F")["speaks_for"], json!([]));
    assert_eq!(says(&code(&of_wild, "F")["speaks_against"]), ["It arrived as from the wild."]);
    assert_eq!(says(&code(&of_wild, "C")["speaks_against"]), ["Its parents lived in the wild.", "It arrived as from the wild."]);
}

fn says(reasons: &Value) -> Vec<String> {
    let words = |reason: &Value| reason["says"].as_str().or(reason.as_str()).expect("words").to_owned();
    reasons.as_array().expect("reasons").iter().map(words).collect()
}

/// Where a case was laid that came from elsewhere nobody here has seen: hatching here speaks for no code.
#[test]
fn a_young_of_a_case_from_elsewhere_is_asked_about_and_nothing_is_inferred() {
    let mut house = House::open();
    let (egg, young, trays) = (house.fresh("egg"), house.fresh("animal"), house.trays.clone());
    let arrived = json!({"label": "R-1", "species": house.species, "from": "an invented shore", "state": "alive", "case": "whole", "yolk": "seen",
        "to_tank": trays, "sire": {"status": "none"}});
    house.note("egg.received", &egg, &arrived);
    let read = |house: &House, path: &str| house.item(path)["codes"].as_array().expect("codes").clone();
    let question = "Its case came from an invented shore: where it was laid is to be asked.";
    house.world.pass_days(40);
    house.note("egg.hatched", &egg, &json!({"how_known": "seen to hatch", "young": [{"animal": young, "state": "alive", "tank": trays}]}));
    let codes = read(&house, &format!("/v1/animals/{}/source-codes", young.trim_start_matches("animal/")));
    for code in &codes {
        let (speaks_for, against) = (says(&code["speaks_for"]), says(&code["speaks_against"]));
        assert_eq!(speaks_for, [""; 0], "{code}");
        assert_eq!(against, if code["code"] == "C" { vec!["Nobody knows its dam."] } else { Vec::new() }, "{code}");
        assert!(says(&code["asks"]).contains(&question.to_owned()), "{code}");
    }
    let asks = |code: &str| says(&codes.iter().find(|one| one["code"] == code).expect("a code")["asks"]);
    assert!(asks("R").iter().any(|ask| ask.starts_with("Was it taken from the wild as an egg")), "ranching is asked about");
    assert!(asks("C").contains(&"It has no sire: was its mother in care when development began?".to_owned()), "nothing is asserted of her");

    let of_case = read(&house, "/v1/eggs/R-1/source-codes");
    assert!(
        of_case
            .iter()
            .all(|code| says(&code["asks"]).contains(&"It came from an invented shore: where it was laid is to be asked.".to_owned()))
    );
    let (laid_here, adults) = (house.fresh("egg"), house.adults.clone());
    let found = json!({"label": "H-1", "species": house.species, "from_tank": adults, "laid": "single", "case": "whole", "yolk": "seen"});
    house.note("egg.collected", &laid_here, &found);
    let of_own = house.item("/v1/eggs/H-1/source-codes");
    assert_eq!((&of_own["egg"], of_own.get("animal")), (&json!(laid_here), None));
    assert_eq!(says(&of_own["codes"][0]["speaks_for"]), ["It was found here."]);
    assert_eq!(says(&of_own["codes"][2]["speaks_against"]), ["It was found here."], "and so against W");
}

/// A group is many: its number is signed, or the record's own and said to be, or none.
#[test]
fn trade_lines_count_groups_as_signed_or_as_the_record_counts_them() {
    let mut house = House::open();
    let (permit, nursery) = (house.permit("E-2", &json!({})), house.nursery.clone());
    let (first, group, other) = (house.animal("F1", &nursery), house.fresh("group"), house.fresh("group"));
    let of = |species: &str, label: &str| {
        json!({"label": label, "species": species, "counts": {"males": 0, "females": 0, "unknown": 12}, "how_counted": "each lifted once",
            "came": "received", "sender": "another house", "tank": nursery})
    };
    house.note("group.formed", &group, &of(&house.species.clone(), "Brood"));
    let second = house.world.species("Inventus alter", "another");
    house.note("group.formed", &other, &of(&second, "Others"));
    let mut use_of = |source: &str, which: Value, specimens: Option<u64>| {
        let mut told = json!({"for_what": "to another house", "source": source, "which": which});
        specimens.iter().for_each(|count| told["specimens"] = json!(count));
        json!(house.world.record(Who::Keeper, "permit.used.v1", &permit, &told).id)
    };
    let of_record = use_of("C", json!([group]), None);
    use_of("F", json!([group]), Some(5));
    let too_many = use_of("W", json!([group]), Some(13));
    let mixed = use_of("R", json!([group, first]), None);
    let at_odds = use_of("U", json!([first]), Some(3));
    let two_species = use_of("I", json!([group, other, first]), Some(20));
    use_of("O", json!([group, other, first]), Some(25));
    let lines = house.world.read("/v1/exports/trade", &[])["items"].as_array().expect("lines").clone();
    let lines_of = |source: &str| lines.iter().filter(|line| line["source"] == source).cloned().collect::<Vec<Value>>();
    let line = |source: &str| {
        let [line] = <[Value; 1]>::try_from(lines_of(source)).expect("one line");
        (line["quantity"].clone(), line["counted_by_record"].clone(), line["not_counted"].clone())
    };
    assert_eq!(line("C"), (json!(12), json!([of_record]), json!([])), "the record's own number, and said to be");
    assert_eq!(line("F"), (json!(5), json!([]), json!([])), "as signed: not all of them went");
    assert_eq!(line("W"), (Value::Null, json!([]), json!([too_many])), "more than there were");
    assert_eq!(line("R"), (json!(13), json!([mixed]), json!([])), "a group and one by itself");
    assert_eq!(line("U"), (Value::Null, json!([]), json!([at_odds])), "one is named and three are signed");
    let split = lines_of("I");
    assert!(
        split.len() == 2 && split.iter().all(|line| line["quantity"].is_null() && line["not_counted"] == json!([two_species])),
        "{split:?}"
    );
    let whole: Vec<(Value, Value)> = lines_of("O").iter().map(|line| (line["species"].clone(), line["quantity"].clone())).collect();
    assert!(whole.contains(&(json!(house.species), json!(13))) && whole.contains(&(json!(second), json!(12))), "{whole:?}");
    let csv = house.world.client().get_text("/v1/exports/trade", &[], "text/csv").expect("a table");
    assert!(
        csv.lines().next().is_some_and(|head| head.ends_with(",counted_by_record,not_counted,not_in_the_list,events,suspected")),
        "{csv}"
    );
}

#[test]
fn the_legal_status_of_a_species_is_what_a_dated_source_says_and_nothing_by_itself() {
    let mut house = House::open();
    let species = house.species.clone();
    let path = format!("/v1/species/{}", species.trim_start_matches("species/"));
    assert!(house.item(&path).get("legal_status").is_none(), "nothing is listed by itself");
    let status = |under: &str, status: &str, from: &str, until: Option<&str>| {
        let mut told = json!({"under": under, "status": status, "valid_from": from, "source": "an invented list"});
        until.iter().for_each(|until| told["valid_until"] = json!(until));
        told
    };
    assert_eq!(
        house.world.refusal(Who::Keeper, "species.status_noted.v1", &species, &status("A", "x", "2025-01-01", None)),
        "not-permitted"
    );
    // The world begins on 1 March 2025.
    for told in [
        status("A", "second list", "2025-03-10", None),
        status("A", "not listed", "2024-01-01", None),
        status("B", "licence needed", "2024-01-01", Some("2025-03-05")),
    ] {
        assert_eq!(house.odd(Who::Registrar, "species.status_noted", &species, &told), [""; 0]);
    }
    let read = |house: &House| -> Vec<(String, String, bool)> {
        let text = |one: &Value, name: &str| one[name].as_str().unwrap_or_default().to_owned();
        let all = house.item(&path)["legal_status"].clone();
        all.as_array().expect("some").iter().map(|one| (text(one, "under"), text(one, "status"), one["in_force"] == json!(true))).collect()
    };
    let line = |under: &str, status: &str, holds: bool| (under.to_owned(), status.to_owned(), holds);
    assert_eq!(read(&house), [line("A", "not listed", true), line("A", "second list", false), line("B", "licence needed", true)]);
    house.world.pass_days(9);
    assert_eq!(read(&house), [line("A", "not listed", false), line("A", "second list", true), line("B", "licence needed", false)]);
    let then = house.world.read(&path, &[("as_of", "2025-03-02T12:00:00Z")])["item"]["legal_status"].clone();
    assert_eq!((&then[0]["in_force"], &then[1]["in_force"]), (&json!(true), &json!(false)), "as of then");
    // A newer one that has ended itself does not bring back what was before it, which had no last day.
    assert_eq!(
        house.odd(Who::Registrar, "species.status_noted", &species, &status("A", "interim list", "2025-03-12", Some("2025-03-15"))),
        [""; 0]
    );
    house.world.pass_days(10);
    let in_force: Vec<String> = read(&house).into_iter().filter(|(_, _, holds)| *holds).map(|(_, status, _)| status).collect();
    assert_eq!(in_force, [""; 0], "what holds now is for a source to say");
    assert_eq!(house.odd(Who::Registrar, "species.status_noted", &species, &status("A", "second list", "2025-03-16", None)), [""; 0]);
    let in_force: Vec<String> = read(&house).into_iter().filter(|(_, _, holds)| *holds).map(|(_, status, _)| status).collect();
    assert_eq!(in_force, ["second list"]);
}
