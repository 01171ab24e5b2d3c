//! The command line, run as a program.

use crate::world::World;
use selachron_cli::keyfile::Identity;
use serde_json::Value;
use std::process::{Command, Output, Stdio};

/// What one call said.
pub struct Said {
    code: i32,
    out: String,
    pub err: String,
}

impl Said {
    fn json(&self) -> Value {
        serde_json::from_str(self.out.trim()).unwrap_or_else(|error| panic!("{error}: {}\n{}", self.out, self.err))
    }

    #[track_caller]
    pub fn ok(self) -> Self {
        assert_eq!(self.code, 0, "{}\n{}", self.out, self.err);
        self
    }

    #[track_caller]
    pub fn fails(self, code: i32, words: &[&str]) -> Self {
        assert_eq!(self.code, code, "{}\n{}", self.out, self.err);
        for word in words {
            assert!(self.err.contains(word), "{word:?} is missing in: {}", self.err);
        }
        self
    }
}

impl From<Output> for Said {
    fn from(output: Output) -> Self {
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
        Self { code: output.status.code().unwrap_or(-1), out: text(output.stdout), err: text(output.stderr) }
    }
}

/// A nursery whose clock is this machine's: the program under test reads no other.
pub struct Desk {
    pub world: World,
}

impl Desk {
    pub fn new() -> Self {
        Self { world: World::founded_at((selachron_cli::clock::system())()) }
    }

    fn command(&self, key: &str, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_selachron"));
        command.args(arguments).env_clear().current_dir(self.world.folder.path());
        command.env("SELACHRON_URL", self.world.stub.url()).env("SELACHRON_STATE_DIR", self.world.path("cli-state"));
        command.env("SELACHRON_KEY", self.world.path(key)).stdin(Stdio::null());
        command
    }

    fn by(&self, key: &str, arguments: &[&str]) -> Said {
        self.command(key, arguments).output().expect("the program runs").into()
    }

    pub fn keeper(&self, arguments: &[&str]) -> Said {
        self.by("keeper.pem", arguments)
    }

    pub fn json(&self, arguments: &[&str]) -> Value {
        let mut arguments = arguments.to_vec();
        arguments.push("--json");
        self.keeper(&arguments).ok().json()
    }

    /// A species, a system, an adults' tank, an incubation tank and one egg, A-1.
    pub fn stocked() -> Self {
        let desk = Self::new();
        let species = desk.json(&[
            "species",
            "list",
            "--scientific-name",
            "Inventus exemplaris",
            "--common-name",
            "invented catshark",
            "--length-basis",
            "total",
        ]);
        desk.json(&["system", "set-up", "S1", "--water", "tropical"]);
        desk.json(&["tank", "set-up", "Adults 1", "--purpose", "adults", "--system", "S1"]);
        desk.json(&["tank", "set-up", "Tray 1", "--purpose", "incubation", "--system", "S1"]);
        let species = species["subject"].as_str().expect("a subject").to_owned();
        desk.json(&[
            "egg",
            "collect",
            "A-1",
            "--species",
            &species,
            "--from-tank",
            "Adults 1",
            "--laid",
            "single",
            "--case",
            "whole",
            "--yolk",
            "could-not-see",
            "--dam",
            "unknown;basis=four females share the water",
            "--to-tank",
            "Tray 1",
        ]);
        desk
    }

    /// The data of the newest note of a kind.
    pub fn newest(&self, kind: &str) -> Value {
        let state = self.world.stub.state();
        let bodies = state.notes.iter().rev().map(|(_, body)| serde_json::from_slice::<Value>(body).expect("JSON"));
        bodies.into_iter().find(|body| body["type"] == kind).unwrap_or_else(|| panic!("no {kind}"))
    }
}

#[test]
fn a_day_at_the_tanks() {
    let desk = Desk::stocked();
    let said = desk
        .keeper(&[
            "egg",
            "candle",
            "A-1",
            "--band",
            "3",
            "--movement",
            "moving",
            "--findings",
            "small animals,fouled",
            "--round",
            "round 1",
        ])
        .ok();
    assert!(said.out.starts_with("recorded: egg.candled.v1"), "{}", said.out);
    assert!(said.err.contains("signing: A case was looked at with a light behind it (A-1 = egg/"), "{}", said.err);
    assert!(said.err.contains("band 3 · movement moving"), "{}", said.err);
    let note = desk.newest("egg.candled.v1");
    assert_eq!(
        note["data"],
        serde_json::json!({"seen_into": true, "band": 3, "movement": "moving", "findings": ["small animals", "fouled"]})
    );
    assert_eq!(note["correlationid"], "round 1");

    desk.keeper(&["water", "measure", "S1", "--temperature-c", "24.6", "--ph", "8.1", "--ph-scale", "NBS", "--instrument", "probe 3"]).ok();
    assert_eq!(desk.newest("water.measured.v1")["data"]["temperature_c"], 24.6);
    desk.keeper(&["tank", "search", "Adults 1", "--eggs-found", "0", "--whole-tank"]).ok();

    let hatched =
        desk.json(&["egg", "hatch", "A-1", "--how-known", "found-hatched", "--young", "state=alive,label=Y-1,length_cm=16.2,tank=Tray 1"]);
    let young = hatched["created"][0].as_str().expect("a new animal").to_owned();
    assert!(young.starts_with("animal/"));
    desk.keeper(&[
        "animal",
        "feed",
        "Y-1",
        "--offered",
        "food=squid, minced,amount_g=2.5",
        "--offered",
        "food=shrimp,pieces=3",
        "--eaten",
        "some",
    ])
    .ok();
    let fed = desk.newest("animal.fed.v1");
    assert_eq!(fed["subject"], young.as_str());
    assert_eq!(fed["data"]["offered"], serde_json::json!([{"food": "squid, minced", "amount_g": 2.5}, {"food": "shrimp", "pieces": 3}]));
    desk.keeper(&["animal", "died", "Y-1", "--how-known", "found dead", "--apparent-cause", "not determined", "--body", "frozen"]).ok();
}

#[test]
fn faults_name_the_flag_and_nothing_is_signed() {
    let desk = Desk::stocked();
    let before = desk.world.keeper.next_count().expect("a count");
    desk.keeper(&["egg", "candle", "A-1", "--band", "9", "--movement", "moving"]).fails(2, &["--band", "9"]);
    desk.keeper(&["egg", "candle", "A-1", "--band", "three", "--movement", "moving"]).fails(2, &["--band", "whole number"]);
    desk.keeper(&["egg", "candle", "A-1", "--band", "3", "--movement", "wiggling"]).fails(2, &["--movement", "moving", "could not tell"]);
    desk.keeper(&["egg", "candle", "A-1"]).fails(2, &["--seen-into=false"]);
    desk.keeper(&["egg", "candle", "A-9", "--band", "3", "--movement", "still"]).fails(4, &["A-9"]);
    desk.keeper(&["egg", "candle", "Tray 1", "--band", "3", "--movement", "still"]).fails(4, &["egg", "Tray 1"]);
    desk.keeper(&["egg", "move", "A-1", "--to-tank", "Nowhere"]).fails(4, &["tank", "Nowhere"]);
    desk.keeper(&["egg", "hatch", "A-1", "--how-known", "camera", "--young", "state=alive,colour=red"])
        .fails(2, &["--young", "colour", "length_cm"]);
    desk.keeper(&["egg", "candle", "A-1", "--band", "3", "--movement", "still", "--time", "soon"]).fails(2, &["--time", "soon"]);
    desk.keeper(&["egg", "candle", "A-1", "--band", "3", "--movement", "still", "--time", "2020-01-01T00:00:00Z"]).fails(2, &["--late"]);
    desk.keeper(&["note", "egg.boiled", "new"]).fails(2, &["egg.boiled", "egg.candled.v1"]);
    desk.keeper(&["egg", "boil", "A-1"]).fails(2, &["boil"]);
    assert_eq!(desk.world.keeper.next_count().expect("a count"), before, "no count was spent");
    desk.by("nobody.pem", &["egg", "candle", "A-1", "--band", "3", "--movement", "still"]).fails(4, &["nobody.pem"]);
}

#[test]
fn a_refusal_exits_5_and_says_its_name() {
    let desk = Desk::stocked();
    let said = desk.keeper(&["policy", "set", "--candling-interval-days", "7", "--json"]).fails(5, &["not-permitted"]);
    assert_eq!(said.json()["problem"]["name"], "not-permitted");
    desk.by("curator.pem", &["policy", "set", "--candling-interval-days", "7"]).fails(5, &["approval"]);
    let registrar = desk.world.path("registrar.pem").display().to_string();
    desk.by("curator.pem", &["policy", "set", "--candling-interval-days", "7", "--with", &registrar]).ok();
    assert_eq!(desk.newest("policy.set.v1")["keycount"], 1, "the refused note's count was used again");
}

#[test]
fn second_signatures_travel_in_a_file() {
    let desk = Desk::stocked();
    desk.by("curator.pem", &["draft", "policy.set", "collection", "rule.json", "looks_before_loss_min=3"]).ok();
    assert!(desk.by("curator.pem", &["waiting"]).ok().out.contains("drafted, for others to approve"));
    assert!(desk.by("curator.pem", &["waiting", "send"]).ok().err.contains("nothing waits to be sent"), "a draft is not sent alone");
    desk.by("curator.pem", &["draft", "policy.set", "collection", "rule.json", "looks_before_loss_min=3"]).fails(2, &["--draft", "exists"]);
    let said = desk.by("registrar.pem", &["approve", "rule.json"]).ok();
    assert!(said.err.contains("looks before loss min 3"), "what is approved is read aloud: {}", said.err);
    desk.by("curator.pem", &["post", "rule.json"]).ok();
    assert!(desk.by("curator.pem", &["waiting"]).ok().out.contains("nothing waits"));
    assert_eq!(desk.newest("policy.set.v1")["data"]["looks_before_loss_min"], 3);
}

#[test]
fn an_opening_shows_the_cautions_first() {
    let desk = Desk::stocked();
    let said = desk.keeper(&[
        "egg",
        "open",
        "A-1",
        "--extent",
        "end-slit-widened",
        "--known-dead=false",
        "--left",
        "closed again",
        "--outcome",
        "left to hatch",
        "--steps",
        "slit widened, embryo moved",
        "--steps",
        "external yolk seen",
        "--stopped-because",
        "external yolk seen",
    ]);
    let said = said.ok();
    for caution in ["licensed veterinarian", "local law", "Reasons against weigh as much"] {
        assert!(said.err.contains(caution), "{caution}: {}", said.err);
    }
    assert!(said.err.find("licensed veterinarian") < said.err.find("signing:"));
    assert_eq!(desk.newest("egg.opened.v1")["data"]["steps"], serde_json::json!(["slit widened, embryo moved", "external yolk seen"]));
}

#[test]
fn help_says_what_a_verb_is_for_with_its_cautions() {
    let desk = Desk::new();
    assert!(desk.keeper(&["egg", "open", "-h"]).ok().out.starts_with("A case was opened by a person."));
    let help = desk.keeper(&["egg", "open", "--help"]).ok().out;
    for words in ["licensed veterinarian", "--known-dead", "end slit widened | end cut off", "--with <KEY>"] {
        assert!(help.contains(words), "{words}: {help}");
    }
}

#[test]
fn what_is_held_can_be_taken_back_and_what_waits_is_sent() {
    let desk = Desk::stocked();
    let count = desk.world.size();
    let held = desk.json(&["egg", "candle", "A-1", "--band", "3", "--movement", "still", "--hold"]);
    let id = held["id"].as_str().expect("an id").to_owned();
    assert_eq!(desk.world.size(), count);
    desk.keeper(&["waiting", "take-back", &id]).ok();
    desk.keeper(&["waiting", "take-back", &id]).fails(4, &[&id]);
    desk.json(&["egg", "candle", "A-1", "--band", "4", "--movement", "still", "--hold"]);
    assert!(desk.keeper(&["waiting"]).ok().out.contains("not sent"));
    desk.keeper(&["waiting", "send"]).ok();
    assert_eq!(desk.world.size(), count + 1);
    assert_eq!(desk.newest("egg.candled.v1")["data"]["band"], 4);
}

#[test]
fn off_line_notes_wait_and_are_saved_to_a_file() {
    let desk = Desk::stocked();
    let egg = desk.json(&["show", "A-1"])["item"]["id"].as_str().expect("an id").to_owned();
    let count = desk.world.size();
    desk.world.stub.state().hang_up = true;
    desk.keeper(&["egg", "candle", &egg, "--band", "3", "--movement", "still"]).fails(6, &["waits here", "waiting send"]);
    desk.world.stub.state().hang_up = false;
    desk.keeper(&["waiting", "save", "notes.ndjson"]).ok();
    assert_eq!(desk.by("curator.pem", &["post", "notes.ndjson"]).ok().out.lines().count(), 1);
    assert_eq!(desk.world.size(), count + 1);
    desk.keeper(&["waiting", "send"]).ok();
    assert_eq!(desk.world.size(), count + 1, "recorded once");
    assert!(desk.keeper(&["waiting"]).ok().out.contains("nothing waits"));
}

#[test]
fn a_note_is_put_right_with_all_that_stands() {
    let desk = Desk::stocked();
    let note = desk.json(&["egg", "candle", "A-1", "--band", "3", "--movement", "still"]);
    let id = note["id"].as_str().expect("an id").to_owned();
    desk.keeper(&["correct", &id, "--reason", "misread", "--set", "band=4", "--set", "movement=moving"]).ok();
    let acted = desk.newest("record.corrected.v1");
    assert_eq!(acted["data"]["replacement"], serde_json::json!({"data": {"seen_into": true, "band": 4, "movement": "moving"}}));
    // A second correction says again what the first one put right: members that it does not
    // name would fall back to what was first written (F21).
    desk.keeper(&["correct", &id, "--reason", "the time too", "--time", "2020-02-29T07:00:00Z"]).ok();
    let again = desk.newest("record.corrected.v1")["data"]["replacement"].clone();
    assert_eq!(again["data"]["band"], 4);
    assert_eq!(again["time"], "2020-02-29T07:00:00.000Z");
    desk.keeper(&["correct", &id, "--reason", "nothing"]).fails(2, &["--set"]);
    desk.keeper(&["correct", &id, "--reason", "x", "--set", "band=12"]).fails(2, &["--band"]);
    desk.keeper(&["correct", &id, "--reason", "x", "--unset", "eye"]).fails(2, &["--unset eye"]);
    let act = acted["id"].as_str().expect("an id").to_owned();
    desk.keeper(&["correct", &act, "--reason", "x", "--set", "band=2"]).fails(2, &[&id]);
    desk.keeper(&["retract", &act, "--reason", "it was right"]).ok();
    desk.keeper(&["retract", "01JDH3G6C0000000000000000A", "--reason", "x"]).fails(4, &["note"]);
    desk.by("curator.pem", &["endorse", &id]).ok();
    let endorsed = desk.newest("record.endorsed.v1");
    assert_eq!(endorsed["data"]["seq"], note["seq"]);
    desk.keeper(&["endorse", &id]).fails(5, &["another person"]);
}

#[test]
fn reading_answers_on_stdout_and_talks_on_stderr() {
    let desk = Desk::stocked();
    desk.keeper(&["egg", "candle", "A-1", "--band", "3", "--movement", "moving"]).ok();
    let said = desk.keeper(&["history", "A-1"]).ok();
    assert!(said.out.contains("egg candled  seen into true · band 3 · movement moving"), "{}", said.out);
    assert!(said.err.contains("notes known") && said.err.contains("simulated clock"), "{}", said.err);
    assert!(said.out.contains("from tank Adults 1"), "tanks are called by their labels: {}", said.out);
    let tanks = desk.json(&["list", "tanks"]);
    assert_eq!(tanks["items"].as_array().map(Vec::len), Some(2), "every page is read: {tanks}");
    assert!(tanks.get("next").is_none());
    assert_eq!(desk.json(&["list", "tanks", "--limit", "1"])["items"].as_array().map(Vec::len), Some(1));
    assert!(desk.keeper(&["due"]).ok().out.contains("nothing is due"));
    assert!(desk.keeper(&["discrepancies"]).ok().out.contains("an invented oddity"));
    desk.keeper(&["show", "no such label"]).fails(4, &["no such label"]);
}

#[test]
fn a_label_that_names_several_is_refused_with_their_ids() {
    let desk = Desk::stocked();
    let other = desk.json(&["tank", "set-up", "Tray 1", "--purpose", "incubation"]);
    desk.keeper(&["egg", "move", "A-1", "--to-tank", "Tray 1"]).fails(2, &["Tray 1", other["subject"].as_str().expect("a subject")]);
    let id = other["subject"].as_str().expect("a subject");
    desk.keeper(&["egg", "move", "A-1", "--to-tank", id]).ok();
    desk.json(&["system", "set-up", "Adults 1", "--water", "cold"]);
    desk.keeper(&["water", "measure", "Adults 1", "--temperature-c", "8", "--instrument", "x"]).fails(2, &["several", "system/", "tank/"]);
    desk.keeper(&["water", "measure", "system:Adults 1", "--temperature-c", "8", "--instrument", "x"]).ok();
}

#[test]
fn odd_notes_are_told_in_words() {
    let desk = Desk::stocked();
    desk.world.stub.state().odd = vec!["d1".to_owned()];
    let said = desk.keeper(&["egg", "candle", "A-1", "--band", "3", "--movement", "moving"]).ok();
    assert!(said.err.contains("the record finds this odd: an invented oddity"), "{}", said.err);
}

#[test]
fn a_broken_log_exits_3() {
    let desk = Desk::stocked();
    desk.keeper(&["check"]).ok();
    desk.world.stub.state().fork(2);
    desk.keeper(&["check"]).fails(3, &["forked"]);
    desk.keeper(&["due"]).fails(3, &["forked"]);
    desk.keeper(&["egg", "candle", "A-1", "--band", "3", "--movement", "moving"]).fails(3, &[]);
}

#[test]
fn receipts_reports_and_bundles_are_taken_away() {
    let desk = Desk::stocked();
    let note = desk.json(&["egg", "candle", "A-1", "--band", "3", "--movement", "moving"]);
    let id = note["id"].as_str().expect("an id");
    assert_eq!(desk.keeper(&["receipt", id]).ok().out.trim_end(), note["receipt"].as_str().expect("a receipt").trim_end());
    desk.keeper(&["bundle", "taken"]).ok();
    desk.keeper(&["bundle", "taken"]).fails(2, &["taken"]);
    let shown = desk.keeper(&["report", "2026"]).ok().out;
    let said = desk.by("curator.pem", &["report", "issue", "2026", "--out", "report.json"]).ok();
    assert!(said.err.contains("the service keeps it too"), "{}", said.err);
    let issued = desk.newest("report.issued.v1")["data"].clone();
    let kept = std::fs::read(desk.world.path("report.json")).expect("the report");
    assert_eq!(issued["sha256"], selachron_schemas::encoding::hex(&selachron_schemas::merkle::sha256(&kept)));
    let query = issued["query"].as_str().expect("a query");
    assert!(query.starts_with("/v1/reports/annual/2026?as_of=2") && query.contains("&known_at=10"), "{query}");
    assert_eq!((&issued["known_at"], &issued["tzdb"]), (&10.into(), &"2026a".into()));
    desk.by("curator.pem", &["report", "issue", "2026", "--out", "report.json"]).fails(2, &["never replaced"]);
    assert_eq!(shown.into_bytes(), kept, "what is printed is what is signed, byte for byte");
}

#[test]
fn keys_are_made_enrolled_and_revoked() {
    let desk = Desk::new();
    let new = desk.json(&["key", "new", "trainee.pem"]);
    desk.keeper(&["key", "new", "trainee.pem"]).fails(1, &["trainee.pem"]);
    let id = new["keyid"].as_str().expect("an id");
    desk.keeper(&["key", "enrol", "trainee.pem", "--roles", "trainee", "--device", "tablet 2"]).fails(5, &["registrar"]);
    desk.by("registrar.pem", &["key", "enrol", "trainee.pem", "--roles", "trainee", "--device", "tablet 2"]).ok();
    desk.by("trainee.pem", &["tank", "set-up", "T1", "--purpose", "nursery"]).fails(5, &["trainee"]);
    desk.by("registrar.pem", &["key", "revoke", id, "--reason", "lost in the sump", "--suspected-since", "2020-03-01T07:00:00Z"]).ok();
    assert_eq!(desk.newest("key.revoked.v1")["subject"], format!("key/{id}"));

    // A key on another machine signs its enrolment there.
    desk.keeper(&["key", "new", "far.pem"]).ok();
    let far = Identity::open(desk.world.path("far.pem")).expect("a key").public_key_base64();
    desk.by("registrar.pem", &["key", "enrol", "--public-key", &far, "--roles", "keeper", "--device", "tablet 3"]).fails(2, &["--draft"]);
    desk.by("registrar.pem", &["key", "enrol", "--public-key", &far, "--roles", "keeper", "--device", "tablet 3", "--draft", "enrol.json"])
        .ok();
    desk.by("registrar.pem", &["post", "enrol.json"]).fails(5, &["proof"]);
    desk.by("far.pem", &["key", "sign", "enrol.json"]).ok();
    desk.by("registrar.pem", &["post", "enrol.json"]).ok();
    desk.by("far.pem", &["tank", "set-up", "T1", "--purpose", "nursery"]).ok();
}

#[test]
fn a_passphrase_comes_from_the_environment_where_nobody_can_be_asked() {
    let desk = Desk::new();
    desk.keeper(&["key", "new", "locked.pem", "--passphrase"]).fails(2, &["SELACHRON_PASSPHRASE"]);
    let with = |passphrase: &str, arguments: &[&str]| -> Said {
        desk.command("locked.pem", arguments).env("SELACHRON_PASSPHRASE", passphrase).output().expect("the program runs").into()
    };
    with("", &["key", "new", "locked.pem", "--passphrase"]).fails(2, &["empty"]);
    with("invented", &["key", "new", "locked.pem", "--passphrase"]).ok();
    with("invented", &["key", "show"]).ok();
    with("another", &["key", "show"]).fails(1, &["does not open"]);
    desk.by("locked.pem", &["key", "show"]).fails(2, &["SELACHRON_PASSPHRASE"]);
}

#[test]
fn a_key_made_elsewhere_is_recounted_from_the_record() {
    let desk = Desk::stocked();
    let next = desk.world.keeper.next_count().expect("a count");
    std::fs::remove_file(desk.world.path("keeper.pem.count")).expect("a file");
    desk.keeper(&["egg", "candle", "A-1", "--band", "3", "--movement", "still"]).fails(2, &["key recount"]);
    assert_eq!(desk.json(&["key", "recount", "keeper.pem"])["next_count"], next);
    desk.keeper(&["egg", "candle", "A-1", "--band", "3", "--movement", "still"]).ok();
    assert_eq!(desk.json(&["key", "recount", "keeper.pem", "--next", "90"])["next_count"], 90);
}

#[test]
fn a_founding_is_gathered_from_its_root_keys() {
    let world = World::founded();
    std::fs::write(world.path("founding.body.json"), world.founding()).expect("a file");
    let desk = Desk { world };
    let said = desk.by("keeper.pem", &["found", "founding.body.json", "--root", "root-1.pem", "--out", "one.json"]).ok();
    let second = Identity::open(desk.world.path("root-2.pem")).expect("a key").keyid().to_string();
    assert!(said.err.contains("still to sign") && said.err.contains(&second), "{}", said.err);
    desk.by("keeper.pem", &["found", "founding.body.json", "--root", "root-2.pem", "--out", "two.json"]).ok();
    let said = desk.by("keeper.pem", &["found", "one.json", "two.json"]).ok();
    assert!(said.err.contains("All root keys have signed"), "{}", said.err);
    let log = selachron_schemas::replay::Replay::new(true);
    let verified = log.gate().open(said.out.trim().as_bytes()).expect("an envelope that holds");
    assert_eq!(verified.signatures().len(), 2);
    desk.by("keeper.pem", &["found", "founding.body.json", "--root", "keeper.pem"]).fails(2, &["--root"]);
}

#[test]
fn settings_say_where_they_come_from() {
    let desk = Desk::new();
    std::fs::write(desk.world.path("selachron.toml"), "[client]\nca = \"ca.pem\"\n").expect("a file");
    let said = desk.keeper(&["config", "show", "--log-key", "x"]).ok();
    for line in ["SELACHRON_URL", "the flag --log-key", "the file selachron.toml"] {
        assert!(said.out.contains(line), "{line}: {}", said.out);
    }
    assert_eq!(desk.json(&["config", "show"])["log_key"]["from"], "the default");
    std::fs::write(desk.world.path("selachron.toml"), "[client]\nkee = \"x\"\n").expect("a file");
    desk.keeper(&["config", "show"]).fails(2, &["kee"]);
}

#[test]
fn every_kind_can_be_written_by_name() {
    let desk = Desk::stocked();
    desk.keeper(&["note", "egg.held_apart", "A-1", "reason=no movement seen", "look_again_after_hours=48"]).ok();
    desk.keeper(&[
        "note",
        "animal.received",
        "new",
        "--data",
        r#"{"label":"F-1","sex":"female","from":"another invented house","state":"alive","origin":"bred in care"}"#,
        "species=x",
    ])
    .fails(4, &["species"]);
    std::fs::write(desk.world.path("data.json"), r#"{"eggs_found":2,"whole_tank":false}"#).expect("a file");
    desk.keeper(&["note", "tank.searched.v1", "Adults 1", "--data", "@data.json", "remark=two cases, left where they were"]).ok();
    assert_eq!(desk.newest("tank.searched.v1")["data"]["eggs_found"], 2);
    desk.keeper(&["note", "tank.searched.v1", "Adults 1", "eggs=2"]).fails(2, &["eggs", "eggs_found"]);
    desk.keeper(&["abandon", "400", "--reason", "x"]).fails(2, &["400"]);
    desk.json(&[
        "note",
        "species.listed",
        "new",
        "scientific_name=Inventus minor",
        "common_name=small invented skate",
        "length_basis=disc width",
        "incubation.grade=house",
        "incubation.days_low=90",
        "incubation.days_high=120",
        "incubation.temperature_c_low=20",
        "incubation.temperature_c_high=24",
        "incubation.source=the curator, own experience",
    ]);
    assert_eq!(desk.newest("species.listed.v1")["data"]["incubation"]["days_high"], 120);
}
