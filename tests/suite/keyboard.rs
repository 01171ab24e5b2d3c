//! Settling, signing together and comparing, at the command line against the real service.

use selachron_cli::client::Clock;
use selachron_cli::keyfile::Identity;
use selachron_schemas::limits::{BATCH_EVENTS_MAX, LIST_ITEMS_MAX};
use selachron_schemas::time::{DAY_MS, HOUR_MS, Instant};
use selachron_tests::fixture::envelope;
use selachron_tests::world::{Who, World};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::ffi::OsString;
use std::path::PathBuf;
use std::sync::Arc;

/// People with key files of their own beside the hands of a world.
pub(crate) struct Desk {
    pub(crate) world: World,
}

impl Desk {
    /// A world in which each of these roles has a key file, enrolled by registrar and curator.
    pub(crate) fn with(roles: &[&str]) -> Self {
        let mut desk = Self { world: World::new() };
        for (role, number) in roles.iter().zip(40..) {
            let key = Identity::create(desk.key(role)).expect("a key file");
            let person = format!("person/{}", selachron_tests::fixture::ulid(0, number));
            let data = json!({"public_key": key.public_key_base64(), "person": person, "roles": [role], "device": "desk"});
            let now = desk.world.now();
            let staff = &mut desk.world.staff;
            let administers = matches!(*role, "curator" | "registrar");
            let author = if administers { &mut staff.roots[0] } else { &mut staff.registrar };
            let body = author.body("key.enrolled.v1", &format!("key/{}", key.keyid()), now, &data);
            let hands = if administers {
                [staff.roots[0].clone(), staff.roots[1].clone()]
            } else {
                [staff.registrar.clone(), staff.curator.clone()]
            };
            let signed =
                selachron_cli::seal::add_signatures(envelope(&body, &[&hands[0], &hands[1]]).as_bytes(), &[&key]).expect("it signs");
            desk.world.post(&signed).recorded().expect("enrolled");
        }
        desk
    }

    fn key(&self, role: &str) -> PathBuf {
        self.world.scratch().join(format!("{role}.pem"))
    }

    /// Runs one call; its exit code.
    pub(crate) fn run(&self, role: &str, arguments: &[&str]) -> u8 {
        let key = self.key(role).display().to_string();
        let (url, state) = (self.world.service().url(), self.world.scratch().join("desk").display().to_string());
        let environment = |name: &str| match name {
            "SELACHRON_URL" => Some(url.clone()),
            "SELACHRON_STATE_DIR" => Some(state.clone()),
            "SELACHRON_KEY" => Some(key.clone()),
            _ => None,
        };
        let now: Instant = self.world.now();
        let clock: Clock = Arc::new(move || now);
        let arguments = ["selachron"].iter().chain(arguments).map(|argument| OsString::from(*argument));
        selachron_cli::command::run(arguments, &environment, clock)
    }

    pub(crate) fn items(&self, path: &str, query: &[(&str, &str)]) -> Vec<Value> {
        self.world.read(path, query)["items"].as_array().cloned().unwrap_or_default()
    }
}

fn an_egg(world: &mut World) -> String {
    let species = world.species("Inventus exemplaris", "invented shark");
    let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
    world.egg("A1", &species, &adults, Some(&trays))
}

#[test]
fn a_discrepancy_is_settled_by_its_id() {
    let mut desk = Desk::with(&["keeper"]);
    let egg = an_egg(&mut desk.world);
    for band in [5, 2] {
        desk.world.pass_days(7);
        desk.world.record(Who::Keeper, "egg.candled.v1", &egg, &json!({"seen_into": true, "band": band, "movement": "moving"}));
    }
    let open = desk.items("/v1/discrepancies", &[("open", "true")]);
    assert_eq!(open.len(), 1, "{open:?}");
    let id = open[0]["id"].as_str().unwrap();
    assert_eq!(desk.run("keeper", &["discrepancies", "--open"]), 0);
    assert_eq!(desk.run("keeper", &["settle", "ffffffff", "slip"]), 4, "there is no such discrepancy");
    assert_eq!(desk.run("keeper", &["settle", id, "ask"]), 2, "whom?");
    assert_eq!(desk.run("keeper", &["settle", &id[..8], "slip", "--remark", "the tray beside it"]), 0);
    assert_eq!(desk.items("/v1/discrepancies", &[("open", "true")]), [Value::Null; 0]);
    let settled = desk.items("/v1/discrepancies", &[("open", "false")]);
    assert_eq!((&settled[0]["standing"], &settled[0]["said"][0]["counts"]), (&json!("was a slip"), &json!(true)));
}

#[test]
fn a_decision_is_put_to_wait_found_and_signed() {
    let desk = Desk::with(&["curator", "veterinarian"]);
    assert_eq!(desk.run("curator", &["policy", "set", "--candling-interval-days", "5", "--wait"]), 0);
    assert_eq!(desk.run("curator", &["waiting", "for-me"]), 0);
    let curator = desk.world.staff.curator.clone();
    let waiting = desk.items("/v1/waiting", &[("key", &curator.keyid.to_string())]);
    let id = waiting[0]["id"].as_str().unwrap();
    assert_eq!(desk.run("veterinarian", &["waiting", "sign", id]), 4, "it does not wait for a veterinarian");
    assert_eq!(desk.run("curator", &["waiting", "sign", id]), 0, "the author's own signature changes nothing");
    // Another curator's hand signs it elsewhere, and the author's outbox is settled by asking again.
    let item = waiting[0]["envelope"].as_str().unwrap();
    let body = selachron_schemas::envelope::Envelope::read(item.as_bytes()).unwrap();
    let signatures =
        body.signatures.iter().map(|(hint, sig)| (selachron_schemas::names::KeyId::parse(hint.as_ref().unwrap()).unwrap(), *sig));
    let own = (curator.keyid, selachron_schemas::signing::sign(&curator.key, &body.body));
    let both = selachron_schemas::envelope::Envelope::written(&body.body, &signatures.chain([own]).collect::<Vec<_>>());
    assert!(matches!(desk.world.client().offer(&both), Ok(selachron_cli::offer::Offered::Settled(_))));
    assert_eq!(desk.items("/v1/waiting", &[("key", &curator.keyid.to_string())]), [Value::Null; 0]);
    let outbox = || Identity::open(desk.key("curator")).unwrap().waiting().unwrap().len();
    assert_eq!(outbox(), 1);
    assert_eq!(desk.run("curator", &["waiting", "send", id]), 0);
    assert_eq!(outbox(), 0, "its receipt has come");
}

#[test]
fn a_sheet_of_paper_is_transcribed_and_sizes_are_compared() {
    let mut desk = Desk::with(&["keeper"]);
    let egg = an_egg(&mut desk.world);
    desk.world.pass_ms(DAY_MS);
    let before = desk.world.read("/v1/collection", &[])["size"].as_u64().unwrap();
    let time = desk.world.now().plus_ms(-3 * HOUR_MS).utc_text();
    let candle = ["egg", "candle", "A1", "--band", "2", "--movement", "moving", "--time", &time];
    assert_eq!(desk.run("keeper", &candle), 2, "late, and no word why");
    let paper = [&candle[..], &["--paper", "round sheet of the morning"]].concat();
    assert_eq!(desk.run("keeper", &paper), 0);
    let history = desk.world.read(&format!("/v1/eggs/{}/history", &egg[4..]), &[]);
    let look = history["notes"].as_array().unwrap().last().unwrap();
    assert_eq!((&look["from_paper"], &look["latereason"]), (&json!(true), &json!("from paper: round sheet of the morning")));
    let sizes = format!("{before},{}", before + 1);
    assert_eq!(desk.run("keeper", &["history", "A1", "--diff", &sizes]), 0);
    assert_eq!(desk.run("keeper", &["history", "A1", "--known-at", &before.to_string(), "--not-yet"]), 0);
    assert_eq!(desk.run("keeper", &["history", "A1", "--diff", "9,2"]), 2);
    assert_eq!(desk.run("keeper", &["history", "A1", "--diff", &sizes, "--known-at", "5"]), 2);
}

#[test]
fn a_window_is_read_and_a_choice_to_leave_keeps_what_was_assessed() {
    let mut desk = Desk::with(&["keeper", "curator"]);
    let listing = ["species", "list", "--scientific-name", "Hemiscyllium ocellatum", "--common-name", "epaulette shark"];
    let unknown =
        ["species", "list", "--scientific-name", "Inventus ignotus", "--common-name", "x", "--length-basis", "total", "--published"];
    assert_eq!(desk.run("curator", &unknown), 2, "nothing is published of an invented species");
    assert_eq!(desk.run("curator", &[&listing[..], &["--length-basis", "total", "--published"]].concat()), 0);
    let listed = desk.items("/v1/species", &[])[0].clone();
    assert_eq!(listed["incubation_points"][0]["cases"], json!(7), "{listed}");
    let species = listed["id"].as_str().expect("an id").to_owned();
    let (adults, tray) = (desk.world.tank("Adults", "adults"), desk.world.tank("Tray 1", "incubation"));
    desk.world.record(Who::Keeper, "tank.searched.v1", &adults, &json!({"eggs_found": 0, "whole_tank": true}));
    desk.world.pass_ms(HOUR_MS);
    desk.world.egg("A1", &species, &adults, Some(&tray));
    for tank in [&adults, &tray] {
        desk.world.record(Who::Keeper, "water.measured.v1", tank, &json!({"temperature_c": 25, "instrument": "probe 1"}));
    }
    desk.world.pass_ms(HOUR_MS);
    for read in [
        &["forecast"][..],
        &["forecast", "A1"],
        &["forecast", "--species", "Hemiscyllium ocellatum"],
        &["opening", "assess", "A1"],
        &["figures", "assisted"],
    ] {
        assert_eq!(desk.run("keeper", read), 0, "{read:?}");
    }
    let person = desk.world.staff.curator.person.clone();
    assert_eq!(desk.run("keeper", &["opening", "leave", "A1", "--reasons", "few looks", "--decided-by", &person]), 0);
    let kept = desk.world.read("/v1/eggs/A1", &[])["item"]["left_to_hatch"][0]["assessment"].clone();
    assert_eq!((&kept["standing"], &kept["met_by_cases"]), (&json!("before the window"), &json!(0)), "{kept}");
    let size = kept["known_at_size"].to_string();
    let query = [("as_of", kept["as_of"].as_str().expect("a time")), ("known_at", size.as_str())];
    let egg = desk.items("/v1/eggs", &[])[0]["id"].as_str().expect("an id").replace("egg/", "");
    let again = desk.world.client().get_text(&format!("/v1/eggs/{egg}/opening"), &query, "application/json").expect("an answer");
    let hash = selachron_schemas::encoding::hex(&selachron_schemas::merkle::sha256(again.as_bytes()));
    assert_eq!(kept["answer_sha256"], json!(hash), "the same address gives the same answer again");
    let odd = desk.items("/v1/discrepancies", &[]);
    assert!(odd.iter().all(|found| found["kind"] != "the assessment kept is not what the record says"), "{odd:?}");
}

/// What the record says of source codes is read at the desk; of a tank there is nothing to say.
#[test]
fn source_codes_are_shown_of_an_egg_and_of_nothing_that_has_none() {
    let mut desk = Desk::with(&["keeper"]);
    an_egg(&mut desk.world);
    assert_eq!(desk.run("keeper", &["show", "A1", "--source-codes"]), 0);
    assert_eq!(desk.run("keeper", &["show", "Trays", "--source-codes"]), 2, "a tank is neither an animal nor an egg");
}

#[test]
fn exports_are_taken_whole_or_not_at_all() {
    let mut desk = Desk::with(&["keeper"]);
    an_egg(&mut desk.world);
    let out = |name: &str| desk.world.scratch().join(name);
    let take = |what: &str, name: &str, more: &[&str]| {
        let out = out(name).display().to_string();
        desk.run("keeper", &[&["export", what, out.as_str()], more].concat())
    };
    assert_eq!(take("tables", "tables", &[]), 0);
    assert!(out("tables/datapackage.json").is_file() && out("tables/eggs.csv").is_file());
    assert_eq!(take("studbook", "studbook.csv", &[]), 0);
    assert!(std::fs::read_to_string(out("studbook.csv")).unwrap().starts_with("animal,label,"));
    assert_eq!(take("events", "events.ndjson", &["--known-at", "3"]), 0);
    assert_eq!(std::fs::read_to_string(out("events.ndjson")).unwrap().lines().count(), 3);
    assert_eq!(take("pedigree", "pedigree.tar", &[]), 0, "a name that ends in .tar is a tar");
    assert!(out("pedigree.tar").is_file());
    assert_eq!(take("stock-list", "stock.csv", &["--year", "2025"]), 0);
    assert_eq!(take("egg-ledger", "ledger.csv", &["--year", "2025"]), 0);
    assert!(std::fs::read_to_string(out("ledger.csv")).unwrap().starts_with("list,"));
    assert_eq!(take("trade", "trade.csv", &["--year", "2025"]), 0);
    assert!(std::fs::read_to_string(out("trade.csv")).unwrap().starts_with("what,species,"));
    assert_eq!(take("trade", "trade.csv-metadata.json", &["--format", "csvw"]), 0);
    assert!(std::fs::read_to_string(out("trade.csv-metadata.json")).unwrap().contains("\"url\": \"trade.csv\""));
    assert_eq!(take("trade", "trade.json", &[]), 0);
    assert_eq!(take("studbook", "studbook.json", &[]), 0);
    let of_nobody = |name: &str| serde_json::from_slice::<Value>(&std::fs::read(out(name)).unwrap()).unwrap()["items"] == json!([]);
    assert!(of_nobody("trade.json") && of_nobody("studbook.json"), "a list of nothing is a list");
    assert_eq!(take("pedigree", "animals.fam", &[]), 0);
    assert_eq!(take("pedigree", "animals.pre", &[]), 0);
    assert!(out("animals.fam").is_file() && out("animals.pre").is_file());
    assert_eq!(take("darwin-core", "animals.zip", &["--target", "obis", "--with-country"]), 0);
    assert!(std::fs::read(out("animals.zip")).unwrap().starts_with(b"PK"));
    assert_eq!(take("darwin-core", "other.zip", &["--target", "nobody"]), 2);
    assert_eq!(take("studbook", "changes.csv", &["--since", "3"]), 0);
    assert!(std::fs::read_to_string(out("changes.csv")).unwrap().starts_with("animal,cell,change,old,new,"));
    assert_eq!(take("studbook", "other.csv", &["--since", "99999"]), 2, "the log holds fewer notes");
    assert_eq!(take("stock-list", "other.csv", &[]), 2, "of which year?");
    assert_eq!(take("studbook", "other.csv", &["--format", "xlsx"]), 2);
    assert_eq!(take("studbook", "studbook.csv", &[]), 2, "nothing is written over");
    let left = std::fs::read_dir(desk.world.scratch()).unwrap().flatten().map(|entry| entry.file_name().to_string_lossy().into_owned());
    let left: Vec<String> = left.filter(|name| name.contains("partial") || name.starts_with("other")).collect();
    assert_eq!(left, [""; 0], "nothing is left of what was refused");
}

/// More animals than a page of the service holds.
#[test]
fn a_list_of_many_pages_is_taken_as_one_document() {
    let mut desk = Desk::with(&["keeper"]);
    let (species, tank) = (desk.world.species("Inventus exemplaris", "invented shark"), desk.world.tank("Adults", "adults"));
    let now = desk.world.now();
    let mut lines = Vec::new();
    for number in 0..=LIST_ITEMS_MAX {
        let data = json!({"label": format!("M-{number}"), "species": species, "sex": "male", "from": "another house", "state": "alive",
            "origin": "unknown", "tank": tank});
        let animal = desk.world.subject("animal");
        let keeper = &mut desk.world.staff.keeper;
        let body = keeper.body("animal.received.v1", &animal, now, &data);
        lines.push(envelope(&body, &[&*keeper]) + "\n");
    }
    for batch in lines.chunks(BATCH_EVENTS_MAX) {
        desk.world.client().transport().post("/v1/events", "application/x-ndjson", &batch.concat()).expect("an answer");
    }
    let first = desk.items("/v1/exports/studbook", &[]);
    for (name, more) in [("studbook.json", &[][..]), ("changes.json", &["--since", "3"]), ("other", &["--format", "json"])] {
        let out = desk.world.scratch().join(name);
        let named = out.display().to_string();
        assert_eq!(desk.run("keeper", &[&["export", "studbook", named.as_str()], more].concat()), 0, "{name}");
        let document: Value = serde_json::from_slice(&std::fs::read(&out).expect("a file")).expect("JSON");
        let items = document["items"].as_array().expect("a list");
        let animals: BTreeSet<&str> = items.iter().filter_map(|item| item["animal"].as_str()).collect();
        assert_eq!((items.len(), animals.len()), (LIST_ITEMS_MAX + 1, LIST_ITEMS_MAX + 1), "{name}: each animal once");
        assert_eq!(document["known_at"], desk.world.read("/v1/collection", &[])["size"], "{name}");
        assert!(document.get("next").is_none() && document["root"].is_string(), "{name}: it is whole, and says of what");
        assert!(more.contains(&"--since") || items.starts_with(&first), "{name}: as the service tells them");
    }
}

/// What is said of a report and cannot be meant is refused, not passed over.
#[test]
fn a_report_that_is_compared_says_itself_what_it_is_of() {
    let desk = Desk::with(&["curator"]);
    let file = desk.world.scratch().join("report.json").display().to_string();
    std::fs::write(&file, "{}").expect("a file");
    let compared = ["report", "--verify", file.as_str()];
    assert_eq!(desk.run("curator", &compared), 1, "a report that says nothing cannot be told");
    for more in [
        &["--begins", "04-01"][..],
        &["--profile", "plain"],
        &["--as-of", "2025-12-31"],
        &["--known-at", "3"],
        &["--release", "a legal date"],
        &["--cell", "stock/all species/hatched"],
        &["--explain"],
    ] {
        assert_eq!(desk.run("curator", &[&compared[..], more].concat()), 2, "{more:?}");
    }
    assert_eq!(desk.run("curator", &["report", "2025"]), 0);
    assert_eq!(desk.run("curator", &["report", "2025", "--explain"]), 2, "a report names its notes, or tells them by --cell");
}

#[test]
fn a_group_is_kept_by_its_verbs_and_a_diet_is_set_for_it() {
    let mut desk = Desk::with(&["keeper"]);
    let species = desk.world.species("Inventus exemplaris", "invented shark");
    for (label, purpose) in [("Nursery", "nursery"), ("Trays", "incubation")] {
        desk.world.tank(label, purpose);
    }
    let run = |arguments: &[&str]| desk.run("keeper", arguments);
    let form = ["group", "form", "Brood 3", "--species", &species, "--how-counted", "each lifted once", "--came", "received"];
    assert_eq!(run(&form), 2, "how many?");
    assert_eq!(run(&[&form[..], &["--counts", r#"{"males": 0, "females": 0, "unknown": 12}"#, "--tank", "Nursery"]].concat()), 0);
    assert_eq!(run(&["group", "count", "Brood 3", "--counts", r#"{"males": 0, "females": 5, "unknown": 7}"#, "--full"]), 0);
    assert_eq!(
        run(&["group", "count", "Brood 9", "--counts", r#"{"males": 0, "females": 0, "unknown": 1}"#, "--full"]),
        4,
        "there is no such group"
    );
    let split =
        ["group", "split", "Brood 3", "--label", "Brood 3b", "--counts", r#"{"males": 0, "females": 0, "unknown": 3}"#, "--tank", "Trays"];
    assert_eq!(run(&split), 0, "its subject is made here");
    assert_eq!(run(&["group", "move", "Brood 3b", "--to-tank", "Nursery"]), 0);
    assert_eq!(run(&["group", "feed", "Brood 3b", "--offered", r#"{"food": "squid", "pieces": 3}"#, "--eaten", "some"]), 0);
    let died = ["group", "died", "Brood 3b", "--counts", r#"{"males": 0, "females": 0, "unknown": 1}"#, "--how-known", "found dead"];
    assert_eq!(run(&[&died[..], &["--apparent-cause", "not determined", "--body", "frozen"]].concat()), 0);
    assert_eq!(
        run(&["group", "merge", "Brood 3", "--from-group", "Brood 3b", "--counts", r#"{"males": 0, "females": 0, "unknown": 2}"#]),
        0
    );
    assert_eq!(
        run(&[
            "group",
            "depart",
            "Brood 3",
            "--counts",
            r#"{"males": 0, "females": 1, "unknown": 0}"#,
            "--to",
            "another house",
            "--reason",
            "transfer"
        ]),
        0
    );
    assert_eq!(run(&["diet", "set", "Brood 3", "--foods", r#"{"food": "squid", "amount_g": 4}"#, "--times-a-week", "3"]), 0);
    let group = desk.items("/v1/groups", &[]).into_iter().find(|group| group["label"] == json!("Brood 3")).expect("a group");
    assert_eq!(group["counts"], json!({"males": 0, "females": 4, "unknown": 6}), "{group}");
    assert_eq!(desk.items("/v1/discrepancies", &[("open", "true")]), [Value::Null; 0]);
}

#[test]
fn a_new_key_reads_what_waits_for_it_and_signs_its_own_enrolment() {
    let mut desk = Desk::with(&[]);
    let new = Identity::create(desk.key("newcomer")).expect("a key file");
    assert_eq!(desk.run("newcomer", &["waiting", "for-me"]), 5, "nobody has heard of this key");
    let data = json!({"public_key": new.public_key_base64(), "person": format!("person/{}", selachron_tests::fixture::ulid(0, 50)),
        "roles": ["keeper"], "device": "desk"});
    let now = desk.world.now();
    let body = desk.world.staff.registrar.body("key.enrolled.v1", &format!("key/{}", new.keyid()), now, &data);
    let signed = envelope(&body, &[&desk.world.staff.registrar, &desk.world.staff.curator]);
    let waits = match desk.world.client().offer(&signed).expect("it is taken") {
        selachron_cli::offer::Offered::Waits(item) => item,
        selachron_cli::offer::Offered::Settled(outcome) => panic!("it was to wait: {outcome:?}"),
    };
    let id = waits["id"].as_str().expect("an id");
    assert_eq!(desk.run("newcomer", &["waiting", "for-me"]), 0);
    assert_eq!(desk.run("newcomer", &["discrepancies"]), 5, "and nothing else");
    assert_eq!(desk.run("newcomer", &["waiting", "sign", id]), 0);
    let keys = desk.items("/v1/keys", &[]);
    let enrolled = keys.iter().find(|key| key["keyid"] == json!(new.keyid())).expect("the new key");
    assert_eq!(enrolled["device"], "desk");
    assert_eq!(desk.run("newcomer", &["discrepancies"]), 0, "enrolled, it reads what keepers read");
}

#[test]
fn the_keys_of_a_demonstration_can_be_used_at_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let plan = selachron_record::init::Plan {
        origin: "records.example.org/demo".to_owned(),
        name: "Invented Nursery".to_owned(),
        country: "AU".to_owned(),
        time_zone: "Australia/Brisbane".to_owned(),
        roots: Vec::new(),
        root_threshold: 2,
        simulated_clock: true,
    };
    let clock = Arc::new(selachron_record::clock::SimulatedClock::new(selachron_tests::world::START));
    let keys = selachron_record::init::demo::found_with_new_roots(&folder.path().join("log"), plan, clock).expect("founded");
    let next: Vec<u32> = keys.iter().map(|key| Identity::open(key).expect("a key").next_count().expect("a count")).collect();
    assert_eq!(next, [2, 1], "the first root key has written the founding note");
}

/// Trays, sheets, labels, what is due and the water: read, printed once, and accepted move by move.
#[test]
fn the_round_is_kept_at_the_keyboard() {
    let mut desk = Desk::with(&["keeper"]);
    let species = desk.world.species("Inventus exemplaris", "invented shark");
    let (adults, trays) = (desk.world.tank("Adults", "adults"), desk.world.tank("Trays", "incubation"));
    let places: Vec<String> = (1..=2).map(|_| desk.world.subject("place")).collect();
    for (order, place) in (1..).zip(&places) {
        let data = json!({"label": format!("T{order}"), "tank": trays, "order": order, "cases_max": 2});
        desk.world.record(Who::Keeper, "place.set_up.v1", place, &data);
    }
    for label in ["A1", "B1"] {
        let egg = desk.world.egg(label, &species, &adults, Some(&trays));
        desk.world.record(Who::Keeper, "egg.moved.v1", &egg, &json!({"to_tank": trays, "place": places[0]}));
    }
    desk.world.record(
        Who::Keeper,
        "water.measured.v1",
        &trays,
        &json!({"temperature_c": 25, "oxygen_percent": 60, "instrument": "probe 1"}),
    );
    desk.world.pass_days(8);
    let out = |name: &str| desk.world.scratch().join(name).display().to_string();
    let written = |name: &str| std::fs::read_to_string(out(name)).unwrap_or_default();

    assert_eq!(desk.run("keeper", &["tray", "propose"]), 0);
    assert_eq!(desk.run("keeper", &["tray", "accept", "Z9"]), 4, "no such move is proposed");
    assert_eq!(desk.run("keeper", &["tray", "accept", "B1"]), 0);
    let moves = desk.world.read("/v1/trays/proposal", &[])["item"]["moves"].clone();
    assert_eq!((moves, desk.world.read("/v1/eggs/B1", &[])["item"]["place"]["tank"].clone()), (json!([]), json!(trays)));
    assert_eq!(desk.world.read("/v1/places/T2", &[])["item"]["eggs"].as_array().map(Vec::len), Some(1), "it was noted by accepting it");
    assert_eq!(desk.run("keeper", &["tray", "accept", "--all"]), 0, "nothing is left to be moved");

    assert_eq!(desk.run("keeper", &["round", "sheet", "Trays", "--out", &out("sheet.html")]), 0);
    assert!(written("sheet.html").contains("log size") && written("sheet.html").contains("A1"));
    assert_eq!(desk.run("keeper", &["round", "sheet", "Trays", "--out", &out("sheet.html")]), 1, "nothing is written over");
    assert_eq!(desk.run("keeper", &["round", "sheet", "Nowhere", "--out", &out("none.html")]), 4);
    assert_eq!(desk.run("keeper", &["labels", "eggs", "--tank", "Trays", "--out", &out("labels.html")]), 0);
    assert_eq!(written("labels.html").matches("<svg").count(), 2);
    assert_eq!(desk.run("keeper", &["labels", "food", "--out", &out("food.html")]), 2);

    assert_eq!(desk.run("keeper", &["due", "--by", "walk"]), 0);
    assert_eq!(desk.run("keeper", &["due", "--ics", &out("due.ics")]), 0);
    assert!(written("due.ics").starts_with("BEGIN:VCALENDAR\r\n") && written("due.ics").contains("SUMMARY:candle: A1\r\n"));

    assert_eq!(desk.run("keeper", &["water", "show", "Trays"]), 0);
    assert_eq!(desk.run("keeper", &["water", "show", "Trays", "--svg", &out("water.svg")]), 0);
    assert!(written("water.svg").starts_with("<svg ") && written("water.svg").contains("<desc"));
    assert_eq!(desk.run("keeper", &["water", "show", "Nowhere"]), 4);
    assert_eq!(desk.run("keeper", &["water", "episodes", "--open"]), 0);
    let open = desk.items("/v1/water/episodes", &[("open", "true")]);
    assert!(open.iter().any(|episode| episode["quantity"] == "oxygen_percent"), "{open:?}");
}

#[test]
fn a_permit_is_recorded_used_and_ended_by_its_label() {
    let desk = Desk::with(&["curator"]);
    let record = ["permit", "record", "K-7", "--what", "keeping", "--number", "INV-7", "--authority", "an invented authority"];
    assert_eq!(desk.run("curator", &[&record[..], &["--valid-until", "2026-06-30"]].concat()), 0);
    assert_eq!(desk.run("curator", &["permit", "use", "K-7", "--for-what", "two young kept"]), 0);
    assert_eq!(desk.run("curator", &["list", "permits"]), 0);
    let read = desk.world.read("/v1/permits/K-7", &[]);
    assert_eq!((&read["item"]["number"], &read["item"]["used"][0]["for_what"]), (&json!("INV-7"), &json!("two young kept")));
    assert_eq!(desk.run("curator", &["permit", "end", "K-7", "--how", "lost"]), 2, "an end of no list");
    assert_eq!(desk.run("curator", &["permit", "end", "K-7", "--how", "returned"]), 0);
    assert_eq!(desk.world.read("/v1/permits/K-7", &[])["item"]["state"], "ended");
}
