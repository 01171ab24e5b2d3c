//! A story for every refusal: one bad note each, posted by the real client to the real service.
//! The sentences are read out of the sources, so that a refusal which nobody tells of is noticed.

use ed25519_dalek::SigningKey;
use selachron_cli::answer::Outcome;
use selachron_schemas::encoding::base64;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::note::VerifierKey;
use selachron_schemas::problems::page;
use selachron_schemas::refusal::{Problem, Refusal};
use selachron_schemas::replay::Replay;
use selachron_schemas::signing::sign;
use selachron_schemas::time::{DAY_MS, HOUR_MS};
use selachron_tests::fixture::{Hand, ORIGIN, envelope, ulid};
use selachron_tests::root;
use selachron_tests::world::{START, Who, World};
use serde_json::{Map, Value, json};

/// Where refusals are worded that need more than the form of a note.
const SOURCES: [&str; 3] = ["gate.rs", "judge.rs", "administration.rs"];

/// Sentences that no note can bring about, each with why.
const NEVER: &[(&str, &str)] = &[
    ("this record knows no kind {}", "the catalogue has refused the kind before"),
    ("a device has seen {} notes", "no refusal: the log seals itself (services/record tells of it)"),
    ("a device has seen another root", "no refusal: the log seals itself"),
    ("root keys are needed, each 32 bytes", "the schema has refused the list before"),
    ("is no pseudonym of the form", "the schema has refused the name before"),
    ("the public key must be 32 bytes in base64", "the schema has refused it before"),
];

/// What was refused, and in which words.
#[derive(Default)]
struct Told(Vec<(String, String)>, Vec<String>);

impl Told {
    #[track_caller]
    fn post(&mut self, world: &World, envelope: &str) -> &str {
        match world.post(envelope) {
            Outcome::Refused { refused, .. } => self.0.push((refused.name, refused.detail)),
            other => panic!("this was to be refused: {other:?}"),
        }
        &self.0.last().expect("just told").0
    }

    /// A note as `author` would write it now, signed by all of `hands`.
    #[track_caller]
    fn say(&mut self, world: &World, hands: &mut [Hand], kind: &str, subject: &str, data: &Value, more: &Value) -> &str {
        let mut more = more.as_object().cloned().unwrap_or_default();
        // Hands are copies that count alike, so an id of its own must come from elsewhere.
        more.entry("id").or_insert_with(|| json!(ulid(1, 1_000_000 + self.0.len() as u64)));
        let body = hands[0].body_with(kind, subject, world.now(), data, &more);
        self.post(world, &envelope(&body, &hands.iter().collect::<Vec<_>>()))
    }

    /// The same, and it must be refused as `name`; all that are not are told together.
    fn case(&mut self, world: &World, hands: &mut [Hand], (kind, subject, data): (&str, &str, &Value), name: &str) {
        let found = self.say(world, hands, kind, subject, data, &Value::Null).to_owned();
        if found != name {
            self.1.push(format!("{found}, not {name}: {kind} about {subject}: {data}"));
        }
    }

    fn refusal(&mut self, refusal: &Refusal) {
        self.0.push((refusal.problem.name().to_owned(), refusal.detail.clone()));
    }
}

fn candled(band: u8) -> Value {
    json!({"seen_into": true, "band": band, "movement": "moving"})
}

struct Nursery {
    world: World,
    egg: String,
    look: String,
}

impl Nursery {
    fn new() -> Self {
        let mut world = World::new();
        let species = world.species("Chiloscyllium punctatum", "brownbanded bamboo shark");
        let adults = world.tank("Adults", "adults");
        let egg = world.egg("A1", &species, &adults, None);
        let look = world.record(Who::Keeper, "egg.candled.v1", &egg, &candled(2)).id;
        Self { world, egg, look }
    }

    fn hand(&mut self, who: Who) -> Hand {
        self.world.hand(who).clone()
    }
}

const NO_MORE: Value = Value::Null;

/// Form, signatures, times: what needs no more of the record than its keys and its clock.
fn of_form(n: &mut Nursery, told: &mut Told) {
    let (mut keeper, curator, egg) = (n.hand(Who::Keeper), n.hand(Who::Curator), n.egg.clone());
    let stranger = Hand::new(99);
    let world = &n.world;
    assert_eq!(told.post(world, "{"), "envelope-malformed");
    let mut say = |data: &Value, more: Value| told.say(world, &mut [keeper.clone()], "egg.candled.v1", &egg, data, &more).to_owned();
    assert_eq!(say(&json!({"seen_into": true, "band": 99}), NO_MORE), "body-malformed");
    assert_eq!(say(&candled(2), json!({"source": "https://records.example.org/other"})), "wrong-log");
    assert_eq!(say(&candled(2), json!({"time": "2099-01-01T00:00:00Z"})), "time-in-future");
    assert_eq!(say(&candled(2), json!({"time": "2025-03-01T00:00:00Z"})), "late-without-reason");
    let seen = json!({"seensize": 1, "seenroot": base64(&[1; 32]), "seensig": base64(&[1; 68])});
    assert_eq!(say(&candled(2), seen), "seen-signature-invalid");
    assert_eq!(say(&candled(2), json!({"expect": 0})), "expect-failed");
    assert_eq!(say(&candled(3), json!({"id": n.look})), "id-reused");
    let body = keeper.body("egg.candled.v1", &egg, world.now(), &candled(2));
    assert_eq!(told.post(world, &envelope(&body, &[&keeper, &stranger])), "signer-unknown");
    let forged = Envelope::written(&body, &[(keeper.keyid, sign(&stranger.key, &body))]);
    assert_eq!(told.post(world, &forged), "signature-invalid");
    assert_eq!(told.post(world, &envelope(&body, &[&curator])), "author-signature-missing");
    let waited = keeper.body("egg.candled.v1", &egg, world.now().plus_ms(-15 * DAY_MS), &candled(2));
    assert_eq!(told.post(world, &envelope(&waited, &[&keeper])), "key-not-in-force");
    let nobody = "egg/01JDH3G6C0NNE0000000000001";
    assert_eq!(told.say(world, &mut [keeper], "egg.candled.v1", nobody, &candled(2), &NO_MORE), "subject-unknown");
}

/// Roles, approvals, acts and endorsements.
fn of_permission(n: &mut Nursery, told: &mut Told) {
    let egg = n.egg.clone();
    let (keeper, curator) = (n.hand(Who::Keeper), n.hand(Who::Curator));
    let enrolment = n.world.read("/v1/events", &[("limit", "3")])["items"][1]["event"].clone();
    let act = |target: &str, replacement: Value| json!({"target": target, "reason": "x", "replacement": replacement});
    let other = n.world.subject("egg");
    let retracted = n.world.record(Who::Keeper, "record.retracted.v1", &egg, &json!({"target": n.look, "reason": "a slip"})).id;
    let world = &n.world;
    let policy = json!({"candling_interval_days": 7});
    let item = world.read(&format!("/v1/events/{}", n.look), &[])["item"].clone();
    let sealed = json!({"seq": item["seq"], "body_sha256": item["body_sha256"]});
    let governs = enrolment["subject"].as_str().expect("a subject").to_owned();
    let tank = world.read("/v1/tanks", &[])["items"][0]["id"].as_str().expect("a tank").to_owned();
    let own_key = format!("key/{}", keeper.keyid);
    let explained = json!({"odd": "fed after death", "events": [n.look], "explanation": "was a slip"});
    for (hand, kind, subject, data, name) in [
        (&keeper, "policy.set.v1", "collection", policy.clone(), "not-permitted"),
        (&curator, "policy.set.v1", "collection", policy, "not-permitted"),
        (&keeper, "note.abandoned.v1", &governs, json!({"keycount": 7, "reason": "x"}), "not-permitted"),
        (&keeper, "record.corrected.v1", &egg, act("01JDH3G6C0NNE0000000000001", json!({"data": candled(3)})), "target-unknown"),
        (&curator, "record.retracted.v1", &governs, json!({"target": enrolment["id"], "reason": "x"}), "not-permitted"),
        (&keeper, "record.corrected.v1", &egg, act(&retracted, json!({"data": candled(3)})), "not-permitted"),
        (&keeper, "record.corrected.v1", &own_key, act(&n.look, json!({"data": candled(3)})), "not-permitted"),
        (&keeper, "record.corrected.v1", &egg, act(&n.look, json!({"subject": tank})), "body-malformed"),
        (&keeper, "record.corrected.v1", &egg, act(&n.look, json!({"time": "2099-01-01T00:00:00Z"})), "time-in-future"),
        (&curator, "record.endorsed.v1", &egg, json!({"seq": 9999, "body_sha256": item["body_sha256"]}), "target-unknown"),
        (&curator, "record.endorsed.v1", &other, sealed.clone(), "not-permitted"),
        (&keeper, "record.endorsed.v1", &egg, sealed, "not-permitted"),
        (&keeper, "discrepancy.explained.v1", &tank, explained, "not-permitted"),
    ] {
        told.case(world, &mut [hand.clone()], (kind, subject, &data), name);
    }
}

/// Withholding (F23).
fn of_withholding(n: &mut Nursery, told: &mut Told) {
    let young = json!([{"animal": n.world.subject("animal"), "state": "alive"}]);
    let hatch = n.world.record(Who::Keeper, "egg.hatched.v1", &n.egg, &json!({"how_known": "seen to hatch", "young": young})).id;
    let mut hands = [n.hand(Who::Registrar), n.hand(Who::Veterinarian)];
    let (world, look) = (&n.world, n.world.read(&format!("/v1/events/{}", n.look), &[])["item"].clone());
    let note = &look["event"];
    let facts = json!({
        "seq": look["seq"], "id": n.look, "kind": "egg.candled.v1", "subject": n.egg, "time": note["time"], "keyid": note["keyid"],
        "keycount": note["keycount"], "reason": "a name in a remark", "authority": "the house's privacy rule",
    });
    let governing = world.read("/v1/events", &[("limit", "2")])["items"][1].clone();
    let hatch = world.read(&format!("/v1/events/{hatch}"), &[])["item"].clone();
    let bare = json!({
        "seq": hatch["seq"], "id": hatch["event"]["id"], "kind": "egg.hatched.v1", "time": hatch["event"]["time"],
        "keyid": hatch["event"]["keyid"], "keycount": hatch["event"]["keycount"],
    });
    for (more, name) in [
        (json!({"seq": 9999}), "target-unknown"),
        (json!({"seq": governing["seq"], "id": governing["event"]["id"]}), "not-permitted"),
        (json!({"keycount": 77}), "not-permitted"),
        (bare, "not-permitted"),
    ] {
        let mut data = facts.clone();
        data.as_object_mut().expect("an object").extend(more.as_object().cloned().unwrap_or_default());
        told.case(world, &mut hands, ("body.withheld.v1", "collection", &data), name);
    }
}

/// Enrolling, revoking, replacing (F8 to F11).
fn of_keys(n: &mut Nursery, told: &mut Told) {
    let (new, other) = (Hand::new(51), Hand::new(52));
    let [first, second] = n.world.staff.roots.clone();
    let (registrar, keeper, curator) = (n.hand(Who::Registrar), n.hand(Who::Keeper), n.hand(Who::Curator));
    let enrol =
        |hand: &Hand, role: &str| json!({"public_key": hand.public_key(), "person": hand.person, "roles": [role], "device": "test device"});
    let key = |hand: &Hand| format!("key/{}", hand.keyid);
    let revoke = json!({"reason": "lost"});
    let roots = |one: &Hand, two: &Hand, threshold: usize| {
        let root = |hand: &Hand| json!({"public_key": hand.public_key(), "person": hand.person});
        json!({"root_keys": [root(one), root(two)], "root_threshold": threshold, "reason": "a holder left"})
    };
    let vkey = |name: &str, key: u8| VerifierKey::new(name, SigningKey::from_bytes(&[key; 32]).verifying_key()).to_string();
    let own = n.world.client().log_key().expect("a pinned key").to_string();
    let rekeyed = |vkey: &str, until: Option<u64>| match until {
        Some(until) => json!({"log_vkey": vkey, "overlap_until_size": until, "reason": "the machine is replaced"}),
        None => json!({"log_vkey": vkey, "reason": "the machine is replaced"}),
    };
    let mut twice = other.clone();
    twice.person.clone_from(&new.person);
    let world = &n.world;
    let cases: Vec<(Vec<&Hand>, &str, String, Value)> = vec![
        (vec![&registrar, &new], "key.enrolled.v1", key(&other), enrol(&new, "keeper")),
        (vec![&registrar, &keeper], "key.enrolled.v1", key(&keeper), enrol(&keeper, "keeper")),
        (vec![&registrar], "key.enrolled.v1", key(&new), enrol(&new, "keeper")),
        (vec![&registrar, &new], "key.enrolled.v1", key(&new), enrol(&new, "curator")),
        (vec![&first, &second, &new], "key.enrolled.v1", key(&new), enrol(&new, "keeper")),
        (vec![&curator, &new], "key.enrolled.v1", key(&new), enrol(&new, "keeper")),
        (vec![&first], "key.revoked.v1", key(&keeper), revoke),
        (vec![&first], "root.replaced.v1", "collection".to_owned(), roots(&new, &other, 2)),
        (vec![&first, &second], "root.replaced.v1", "collection".to_owned(), roots(&new, &twice, 2)),
        (vec![&first, &second], "root.replaced.v1", "collection".to_owned(), roots(&new, &other, 3)),
        (vec![&first, &second], "log.rekeyed.v1", "collection".to_owned(), rekeyed("nonsense", None)),
        (vec![&first, &second], "log.rekeyed.v1", "collection".to_owned(), rekeyed(&vkey("records.example.org/other", 91), None)),
        (vec![&first, &second], "log.rekeyed.v1", "collection".to_owned(), rekeyed(&own, None)),
        (vec![&first, &second], "log.rekeyed.v1", "collection".to_owned(), rekeyed(&vkey(ORIGIN, 91), Some(1))),
        (vec![&first], "log.rekeyed.v1", "collection".to_owned(), rekeyed(&vkey(ORIGIN, 91), None)),
        (vec![&registrar, &curator], "log.rekeyed.v1", "collection".to_owned(), rekeyed(&vkey(ORIGIN, 91), None)),
        (vec![&first, &second], "log.rekeyed.v1", "collection".to_owned(), rekeyed(&vkey(ORIGIN, 91), None)),
    ];
    for (hands, kind, subject, data) in cases {
        let mut hands: Vec<Hand> = hands.into_iter().cloned().collect();
        told.case(world, &mut hands, (kind, &subject, &data), "not-permitted");
    }
    let log_key = VerifierKey::parse(&own).expect("the log's key");
    let mut listed = roots(&new, &other, 2);
    listed["root_keys"][1]["public_key"] = json!(base64(log_key.public_key().as_bytes()));
    let mut both = [first.clone(), second.clone()];
    told.case(world, &mut both, ("root.replaced.v1", "collection", &listed), "not-permitted");
    let mut revoked = [n.hand(Who::SecondKeeper)];
    n.world.record(Who::Registrar, "key.revoked.v1", &key(&revoked[0]), &json!({"reason": "lost"}));
    assert_eq!(told.say(&n.world, &mut revoked, "egg.candled.v1", &n.egg, &candled(2), &NO_MORE), "key-not-in-force");
}

/// The first note: asked of the rules themselves, for a log that is served is founded already.
fn of_founding(n: &Nursery, told: &mut Told) {
    let roots = [Hand::new(1), Hand::new(2)];
    let vkey = |name: &str, key: u8| VerifierKey::new(name, SigningKey::from_bytes(&[key; 32]).verifying_key()).to_string();
    let data = json!({
        "name": "Invented Nursery", "country": "PT", "time_zone": "Europe/Lisbon", "origin": ORIGIN, "root_threshold": 2,
        "root_keys": roots.clone().map(|root| json!({"public_key": root.public_key(), "person": root.person})), "log_vkey": vkey(ORIGIN, 99),
    });
    let signed = |data: &Value, more: Value, signers: &[&Hand]| {
        let more: Map<String, Value> = more.as_object().cloned().unwrap_or_default();
        let body = roots[0].clone().body_with("collection.founded.v1", "collection", START, data, &more);
        envelope(&body, signers)
    };
    let both = [&roots[0], &roots[1]];
    let with = |name: &str, value: Value| {
        let mut data = data.clone();
        data[name] = value;
        data
    };
    assert_eq!(told.post(&n.world, &signed(&data, NO_MORE, &both)), "not-permitted", "a second founding");
    for bad in [
        signed(&data, json!({"keycount": 2}), &both),
        signed(&data, NO_MORE, &both[..1]),
        signed(&with("time_zone", json!("Europe/Atlantis")), NO_MORE, &both),
        signed(&with("log_vkey", json!(vkey("records.example.org/other", 99))), NO_MORE, &both),
        signed(&with("log_vkey", json!(vkey(ORIGIN, 1))), NO_MORE, &both),
    ] {
        let log = Replay::new(true);
        let note = log.gate().open(bad.as_bytes()).unwrap_or_else(|stopped| panic!("{stopped:?}"));
        let refusal = log.judge(&note, START.plus_ms(HOUR_MS)).expect_err("a founding that is none");
        assert_eq!(refusal.problem, Problem::NotPermitted, "{refusal}");
        told.refusal(&refusal);
    }
}

/// Every sentence of three words and more in a source's code, its tests apart.
fn sentences(source: &str) -> Vec<String> {
    let code = source.split("#[cfg(test)]").next().unwrap_or_default();
    let mut found = Vec::new();
    for line in code.lines().filter(|line| !line.trim_start().starts_with("//")) {
        let mut rest = line.replace("\\\"", "\u{1}");
        while let Some((_, after)) = rest.split_once('"') {
            let Some((text, after)) = after.split_once('"') else { break };
            found.push(text.replace('\u{1}', "\""));
            rest = after.to_owned();
        }
    }
    found.retain(|text| text.split(' ').filter(|word| !word.is_empty()).count() > 3);
    found
}

/// Whether a sentence was told: what stands between its placeholders, in order.
fn is_told(sentence: &str, detail: &str) -> bool {
    let mut rest = detail;
    let mut parts = sentence.split('{').map(|part| part.split_once('}').map_or(part, |(_, after)| after));
    parts.all(|part| match rest.find(part) {
        Some(at) => {
            rest = &rest[at + part.len()..];
            true
        }
        None => false,
    })
}

#[test]
fn every_refusal_is_told_in_a_story() {
    let (mut nursery, mut told) = (Nursery::new(), Told::default());
    of_form(&mut nursery, &mut told);
    of_withholding(&mut nursery, &mut told);
    of_permission(&mut nursery, &mut told);
    of_founding(&nursery, &mut told);
    of_keys(&mut nursery, &mut told);
    assert!(told.1.is_empty(), "{}", told.1.join("\n"));
    let untold: Vec<&str> =
        Problem::ALL.iter().map(|problem| problem.name()).filter(|name| told.0.iter().all(|(told, _)| told != name)).collect();
    assert!(untold.is_empty(), "no story is refused as {untold:?}");
    let mut missing = Vec::new();
    for file in SOURCES {
        let source = std::fs::read_to_string(root().join("schemas/src/replay").join(file)).expect("a source");
        let never = |sentence: &String| NEVER.iter().any(|(words, _)| sentence.contains(words));
        let of_file = sentences(&source);
        assert!(!of_file.is_empty(), "{file}");
        missing
            .extend(of_file.into_iter().filter(|sentence| !never(sentence) && !told.0.iter().any(|(_, detail)| is_told(sentence, detail))));
    }
    assert!(missing.is_empty(), "tell a story that is refused with each of these (tests/suite/refusals.rs):\n{}", missing.join("\n"));
    for (name, detail) in &told.0 {
        let advice = page(name).unwrap_or_else(|| panic!("{name} has no page"));
        assert!(!advice.remedy.is_empty() && detail.split(' ').count() > 3, "{name}: {detail}");
    }
}

#[test]
fn an_untold_sentence_is_noticed() {
    let source = "fn f() {\n    // \"no sentence of the code is this\"\n    let a = format!(\"{id} was never \\\"brought\\\" into it\");\n}\n#[cfg(test)] \"this one is of a test\"";
    assert_eq!(sentences(source), ["{id} was never \"brought\" into it"]);
    assert!(is_told("{} was never seen {there}", "egg/1 was never seen here"));
    assert!(!is_told("{} was never seen {there} again", "egg/1 was never seen here"));
}
