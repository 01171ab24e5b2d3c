//! The part for the licensing authority, beside stock list and egg ledger: who died and was not examined,
//! who is not where it should be, incidents, quarantine, lives ended by decision, loans, how groups are
//! counted, and who answers for the record. Permits are told as
//! their papers are noted; law and authority decide what they permit.

use super::deaths::{deaths, deaths_on_loan, put_down, without_necropsy};
use super::table::{Behind, Part, PartTable, number, words};
use super::window::Window;
use crate::domain::state::{Absence, EventId};
use chrono::Days;
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

/// The authority's part.
pub fn authority(window: &Window<'_, '_>) -> Part {
    let tables = vec![
        deaths(window),
        deaths_on_loan(window),
        without_necropsy(window),
        absences(window),
        incidents(window),
        quarantines(window),
        put_down(window),
        permits_used(window),
        permits_due(window),
        loans(window),
        groups(window),
        responsible(window),
        copies(window),
    ];
    Part { tables }
}

fn absences(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "absences",
        "Escaped and missing",
        "Begun or ended in these months, or not over at their end. Missing is no death until a dated decision of two persons writes it off.",
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
    let of_months = |absence: &Absence| {
        let over = [absence.found, absence.written_off];
        let told = over.into_iter().flatten().chain([absence.since]).any(|moment| window.has(moment));
        told || over.iter().all(Option::is_none)
    };
    let meant = |(_, absence): &(&Subject, &Absence)| absence.what != "departed" && of_months(absence);
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

fn permits_used(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "permits_used",
        "Permits used",
        "Each use in these months, in order of time, as it was noted. Specimens: how many were taken under it at that use, of so many that the \
         paper covers.",
        vec![
            words("permit", "Permit"),
            words("number", "number"),
            words("authority", "authority"),
            words("used_on", "used on"),
            words("for_what", "for what"),
            words("which", "which"),
            number("specimens", "specimens"),
            number("covers", "of"),
        ],
    );
    // A paper may be noted after the months in which it was used.
    let permits = window.view.permits();
    let uses = permits.iter().flat_map(|permit| permit.used.iter().map(move |used| (permit, used)));
    let mut uses: Vec<_> = uses.filter(|(_, used)| window.has(used.when)).collect();
    uses.sort_by(|a, b| (a.1.when.time, &a.0.id).cmp(&(b.1.when.time, &b.0.id)));
    for (permit, used) in uses {
        let paper = &permit.recorded;
        let cells = [
            json!(paper.told.label),
            json!(paper.told.number),
            json!(paper.told.authority),
            window.day(used.when),
            json!(used.told.for_what),
            window.called_all(used.told.which.iter().map(|thing| &thing.0)),
            json!(used.told.specimens.map(|count| count.0)),
            json!(paper.told.specimens.map(|count| count.0)),
        ];
        table.row(cells, Behind::of(&permit.id).on([paper.when.event, used.when.event]));
    }
    table
}

/// So long before its last day a permit is told as due.
const DUE_WITHIN: Days = Days::new(180);

fn permits_due(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "permits_due",
        "Permits due",
        "Permits whose last day has passed or comes within 180 days of the end of these months, and that no note ends or renews; those that \
         end first stand first.",
        vec![
            words("permit", "Permit"),
            words("what", "what"),
            words("number", "number"),
            words("authority", "authority"),
            words("valid_until", "valid until"),
            words("state", "state"),
            number("days_left", "days left"),
            number("used", "specimens used"),
            number("covers", "of"),
        ],
    );
    for permit in window.closing_view.permits_expiring(DUE_WITHIN) {
        let paper = &permit.recorded;
        let cells = [
            json!(paper.told.label),
            json!(paper.told.what),
            json!(paper.told.number),
            json!(paper.told.authority),
            json!(paper.told.valid_until),
            json!(permit.state),
            json!(permit.days_left),
            json!((permit.uses_not_counted == 0).then_some(permit.used_specimens)),
            json!(paper.told.specimens.map(|count| count.0)),
        ];
        table.row(cells, Behind::of(&permit.id).on([paper.when.event]).on(permit.used.iter().map(|used| used.when.event)));
    }
    table
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
        "The registrar is the responsible person; names stand in the institution's own list, beside the record. Keys as they stand by the notes \
         that this report knows, which may be later than these months.",
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
        "When the whole record was last checked at another place, up to this report and also after these months, and how many notes that copy \
         held.",
        vec![
            words("checked_on", "Checked"),
            words("place", "where"),
            words("person", "by"),
            number("notes", "notes in it"),
            words("root", "root"),
        ],
    );
    let view = window.view;
    let mut facts: Vec<_> = view.nursery().index().copies.iter().filter_map(|seq| view.fact(*seq)).collect();
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
