//! The part for the licensing authority, beside stock list and egg ledger: who died and was not examined,
//! who is not where it should be, incidents, quarantine, lives ended by decision, loans, how groups are
//! counted, and who answers for the record. Permits have a register of their own.

use super::followed;
use super::table::{Behind, Part, PartTable, number, words};
use super::window::Window;
use crate::domain::state::{Absence, Animal, AnimalFate, Egg, EggFate, EventId, Moment};
use selachron_schemas::names::Subject;
use selachron_schemas::time::whole_days;
use serde_json::{Value, json};

/// How a death by a veterinarian's decision is told.
const BY_DECISION: &str = "by a veterinarian's decision";

/// The authority's part.
pub fn authority(window: &Window<'_, '_>) -> Part {
    let tables = vec![
        deaths(window),
        without_necropsy(window),
        absences(window),
        incidents(window),
        quarantines(window),
        put_down(window),
        loans(window),
        groups(window),
        responsible(window),
        copies(window),
    ];
    Part { tables }
}

/// Animals that died in the months, in order of time.
fn dead<'w>(window: &'w Window<'_, '_>) -> Vec<(&'w Animal, Moment)> {
    let died = |animal: &'w Animal| Some((animal, followed::death(animal).filter(|when| window.has(*when))?));
    let mut dead: Vec<(&Animal, Moment)> = window.closing.animals.iter().filter_map(died).collect();
    dead.sort_by(|a, b| (a.1.time, &a.0.id).cmp(&(b.1.time, &b.0.id)));
    dead
}

fn deaths(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "deaths",
        "Deaths",
        "Every animal that died in these months. A cause as determined comes from a veterinarian or a laboratory; every other is apparent.",
        vec![
            words("animal", "Animal"),
            words("species", "species"),
            words("sex", "sex"),
            words("died_on", "day"),
            number("age_days", "age, days"),
            words("how_known", "how known"),
            words("apparent_cause", "apparent cause"),
            words("cause_determined", "cause determined"),
            words("necropsy", "post-mortem"),
        ],
    );
    for (animal, when) in dead(window) {
        let (how_known, cause) = match &animal.fate {
            AnimalFate::Died { how_known, apparent_cause, .. } => (json!(how_known), json!(apparent_cause)),
            _ => (Value::Null, Value::Null),
        };
        let necropsies = &animal.afterwards.necropsies;
        let cells = [
            window.called(&animal.id),
            window.species(animal.species.as_ref()),
            json!(animal.sex),
            window.day(when),
            age_days(window, animal, when),
            how_known,
            cause,
            json!(animal.afterwards.cause_determined),
            json!(necropsies.last().map_or("nothing noted", |necropsy| &necropsy.told.state)),
        ];
        table.row(cells, Behind::of(&animal.id).on([when.event]).on(necropsies.iter().map(|necropsy| necropsy.when.event)));
    }
    table
}

fn age_days(window: &Window<'_, '_>, animal: &Animal, when: Moment) -> Value {
    let hatched = animal.hatched_alive().map(|hatch| window.view.day(hatch.time));
    hatched.map_or(Value::Null, |day| json!(whole_days(day, window.view.day(when.time))))
}

fn without_necropsy(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "without_necropsy",
        "Deaths without the result of a post-mortem",
        "Why there is none, as far as it was noted.",
        vec![words("animal", "Animal"), words("died_on", "day"), words("necropsy", "post-mortem"), words("because", "because")],
    );
    for (animal, when) in dead(window) {
        let last = animal.afterwards.necropsies.last();
        if last.is_some_and(|necropsy| necropsy.told.state == "reported") {
            continue;
        }
        let state = last.map_or("nothing noted", |necropsy| &necropsy.told.state);
        let because = last.and_then(|necropsy| necropsy.told.declined_because.as_ref());
        let cells = [window.called(&animal.id), window.day(when), json!(state), json!(because)];
        table.row(cells, Behind::of(&animal.id).on([when.event]).on(last.map(|necropsy| necropsy.when.event)));
    }
    table
}

fn absences(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "absences",
        "Escaped and missing",
        "Begun in these months, or not over at their end. Missing is no death until a dated decision of two persons writes it off.",
        vec![
            words("which", "Case or animal"),
            words("what", "what"),
            words("since", "since"),
            words("how", "how"),
            words("found_on", "found again"),
            words("written_off_on", "written off"),
        ],
    );
    let of_eggs = window.closing.eggs.iter().flat_map(|egg| egg.absences.iter().map(|absence| (&egg.id, absence)));
    let of_animals = window.closing.animals.iter().flat_map(|animal| animal.absences.iter().map(|absence| (&animal.id, absence)));
    let over = |absence: &Absence| absence.found.or(absence.written_off).is_some();
    let meant = |(_, absence): &(&Subject, &Absence)| absence.what != "departed" && (window.has(absence.since) || !over(absence));
    let mut all: Vec<(&Subject, &Absence)> = of_eggs.chain(of_animals).filter(meant).collect();
    all.sort_by(|a, b| (a.1.since.time, a.0).cmp(&(b.1.since.time, b.0)));
    for (which, absence) in all {
        let cells = [
            window.called(which),
            json!(absence.what),
            window.day(absence.since),
            json!(absence.how),
            window.day_of(absence.found),
            window.day_of(absence.written_off),
        ];
        let events = [Some(absence.since), absence.found, absence.written_off].into_iter().flatten().map(|moment| moment.event);
        table.row(cells, Behind::of(which).on(events));
    }
    table
}

fn incidents(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "incidents",
        "Incidents",
        "Opened in these months, or not closed before them.",
        vec![
            words("incident", "Incident"),
            words("what", "what"),
            words("summary", "summary"),
            words("reported_to", "reported to"),
            words("opened_on", "opened"),
            words("closed_on", "closed"),
            words("outcome", "outcome"),
        ],
    );
    let view = window.closing_view;
    let mut all: Vec<_> = view.subjects("incident").filter_map(|id| view.incident(id)).collect();
    all.retain(|incident| incident.closed.as_ref().is_none_or(|closed| closed.when.time >= window.span.from));
    all.sort_by(|a, b| (a.opened.when.time, &a.id).cmp(&(b.opened.when.time, &b.id)));
    for incident in all {
        let (opened, closed) = (&incident.opened, incident.closed.as_ref());
        let cells = [
            json!(opened.told.label),
            json!(opened.told.what),
            json!(opened.told.summary),
            json!(opened.told.reported_to),
            window.day(opened.when),
            window.day_of(closed.map(|closed| closed.when)),
            json!(closed.map(|closed| &closed.told.outcome)),
        ];
        let notes = incident.notes.iter().map(|note| note.when.event);
        table.row(cells, Behind::of(&incident.id).on([opened.when.event]).on(notes).on(closed.map(|closed| closed.when.event)));
    }
    table
}

fn quarantines(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "quarantines",
        "Quarantine",
        "Begun in these months, or not cleared before them. It ends by the veterinarian's word.",
        vec![
            words("of", "Of"),
            words("reason", "reason"),
            words("authority", "authority"),
            words("started_on", "started"),
            words("planned_until", "planned until"),
            words("cleared_on", "cleared"),
            words("basis", "on what basis"),
        ],
    );
    let all = window.closing_view.quarantines();
    let meant = all.iter().rev().filter(|one| one.cleared.as_ref().is_none_or(|cleared| cleared.when.time >= window.span.from));
    for quarantine in meant {
        let (started, cleared) = (&quarantine.started, quarantine.cleared.as_ref());
        let cells = [
            window.called(&quarantine.of),
            json!(started.told.reason),
            json!(started.told.authority),
            window.day(started.when),
            json!(quarantine.planned_until),
            window.day_of(cleared.map(|cleared| cleared.when)),
            json!(cleared.map(|cleared| &cleared.told.basis)),
        ];
        table.row(cells, Behind::of(&quarantine.of).on([started.when.event]).on(cleared.map(|cleared| cleared.when.event)));
    }
    table
}

/// A life that was ended by decision.
struct PutDown<'w> {
    which: &'w Subject,
    species: Option<&'w Subject>,
    what: &'static str,
    alive: &'w str,
    reason: Option<&'w String>,
    decided_by: Vec<String>,
    authority: Option<&'w String>,
    when: Moment,
}

fn put_down(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "put_down",
        "Ended by decision",
        "Cases put down, and animals that died by a veterinarian's decision. Where the embryo lived, that is said.",
        vec![
            words("which", "Case or animal"),
            words("species", "species"),
            words("what", "what"),
            words("embryo_alive", "embryo alive"),
            words("day", "day"),
            words("reason", "reason"),
            words("decided_by", "decided by"),
            words("authority", "authority"),
        ],
    );
    let mut all: Vec<PutDown> = window.closing.eggs.iter().filter_map(case_put_down).collect();
    all.extend(window.closing.animals.iter().filter_map(animal_put_down));
    all.retain(|one| window.has(one.when));
    all.sort_by(|a, b| (a.when.time, a.which).cmp(&(b.when.time, b.which)));
    for one in all {
        let cells = [
            window.called(one.which),
            window.species(one.species),
            json!(one.what),
            json!(one.alive),
            window.day(one.when),
            json!(one.reason),
            json!(one.decided_by.join(", ")),
            json!(one.authority),
        ];
        table.row(cells, Behind::of(one.which).on([one.when.event]));
    }
    table
}

fn case_put_down(egg: &Egg) -> Option<PutDown<'_>> {
    let EggFate::PutDown { when, reason, decided_by, alive, authority, .. } = &egg.fate else { return None };
    Some(PutDown {
        which: &egg.id,
        species: egg.species.as_ref(),
        what: "case",
        alive,
        reason: Some(reason),
        decided_by: decided_by.clone(),
        authority: authority.as_ref(),
        when: *when,
    })
}

fn animal_put_down(animal: &Animal) -> Option<PutDown<'_>> {
    let AnimalFate::Died { when, how_known, apparent_cause, .. } = &animal.fate else { return None };
    (how_known == BY_DECISION).then_some(PutDown {
        which: &animal.id,
        species: animal.species.as_ref(),
        what: "animal",
        alive: "",
        reason: Some(apparent_cause),
        decided_by: vec!["veterinarian".to_owned()],
        authority: None,
        when: *when,
    })
}

fn loans(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "loans",
        "Loans, both ways",
        "Agreed until the end of these months and not over before them. A loan changes where an animal is, not whose it is.",
        vec![
            words("loan", "Loan"),
            words("direction", "direction"),
            words("partner", "partner"),
            words("which", "which"),
            words("agreed_on", "agreed"),
            words("until", "until"),
            words("young_belong_to", "young belong to"),
            words("still_lent", "still lent"),
        ],
    );
    let view = window.closing_view;
    for loan in view.subjects("loan").filter_map(|id| view.loan(id)) {
        let (agreed, last_end) = (&loan.agreed, loan.ended.iter().map(|ended| ended.when.time).max());
        if loan.still_lent.is_empty() && last_end.is_some_and(|end| end < window.span.from) {
            continue;
        }
        let cells = [
            json!(agreed.told.label),
            json!(agreed.told.direction),
            json!(agreed.told.partner),
            window.called_all(agreed.told.which.iter().map(|thing| &thing.0)),
            window.day(agreed.when),
            json!(agreed.told.until),
            json!(agreed.told.young_belong_to),
            window.called_all(loan.still_lent.iter().map(|thing| &thing.0)),
        ];
        table.row(cells, Behind::of(&loan.id).on([agreed.when.event]).on(loan.ended.iter().map(|ended| ended.when.event)));
    }
    table
}

fn groups(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "groups",
        "Groups, and how they are counted",
        "Animals that cannot be told apart: the statement under which each group was formed, and its number (males.females.unknown).",
        vec![
            words("group", "Group"),
            words("species", "species"),
            words("how_counted", "how it is counted"),
            words("counts", "number"),
            words("last_full_count_on", "last full count"),
            words("ended_on", "ended"),
        ],
    );
    for group in window.closing_view.groups() {
        if group.ended.is_some_and(|ended| ended.time < window.span.from) {
            continue;
        }
        let cells = [
            json!(group.label),
            window.species(group.species.as_ref()),
            json!(group.how_counted),
            json!(group.counts.told()),
            window.day_of(group.last_full_count),
            window.day_of(group.ended),
        ];
        let changes = group.changes.iter().map(|change| change.when.event).chain(group.last_full_count.map(|count| count.event));
        table.row(cells, Behind::of(&group.id).on([group.formed.event]).on(changes));
    }
    table
}

/// Roles of those who answer for the record, in the order in which they are named.
const ANSWER: [&str; 3] = ["registrar", "curator", "veterinarian"];

fn responsible(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "responsible",
        "Who answers for the record",
        "The registrar is the responsible person; names stand in the institution's own list, beside the record.",
        vec![words("role", "Role"), words("person", "person"), words("device", "device"), words("since", "since")],
    );
    let view = window.closing_view;
    let keys = view.keys();
    for (role, key) in ANSWER.into_iter().flat_map(|role| keys.iter().map(move |key| (role, key))) {
        if !key.in_force || !key.roles.contains(&role) {
            continue;
        }
        let note = view.nursery().note(key.enrolled_seq);
        let cells = [json!(role), json!(key.person), json!(key.device), json!(view.day(note.recorded_at))];
        table.row(cells, Behind::of(&key.id).on([note.id]));
    }
    table
}

/// Copies elsewhere that somebody has checked, the newest first.
fn copies(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "copies",
        "Copies elsewhere",
        "When the whole record was last checked at another place, and how many notes that copy held.",
        vec![
            words("checked_on", "Checked"),
            words("place", "where"),
            words("person", "by"),
            number("notes", "notes in it"),
            words("root", "root"),
        ],
    );
    let view = window.closing_view;
    let kept = view.nursery().index().copies.iter().filter_map(|seq| view.fact(*seq));
    let mut facts: Vec<_> = kept.filter(|fact| fact.time() <= window.span.until).collect();
    facts.sort_by_key(|fact| std::cmp::Reverse((fact.time(), fact.note.seq)));
    for fact in facts.iter().take(COPIES_TOLD_MAX) {
        let data: Value = serde_json::from_str(&fact.value.data).unwrap_or_default();
        let said = |name: &str| data.get(name).cloned().unwrap_or_default();
        let cells = [json!(view.day(fact.time())), said("where"), json!(fact.note.person()), said("size"), said("root")];
        let event: EventId = fact.note.id;
        table.row(cells, Behind::default().on([event]));
    }
    if table.rows.is_empty() {
        table.footnote("No note says that a copy elsewhere was checked (`copy.verified`).");
    }
    table
}

/// So many checks of copies are told.
const COPIES_TOLD_MAX: usize = 3;
