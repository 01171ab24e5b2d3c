//! Cases, looks at them, openings, clutches.

use super::super::cell::{Cell, row, several};
use super::super::folder::{Rows, Table};
use super::super::shape::{Of, Row, Shape, column};
use super::{scientific_name, when, word};
use crate::domain::parents::Parent;
use crate::domain::state::{Egg, EggFate, EggOrigin, Parentage};
use crate::domain::view::View;
use selachron_schemas::names::Subject;

/// Cases.
pub const EGGS: Table = Table { shape: &EGGS_SHAPE, rows: Rows::OfThings(&["egg"], egg_row) };
/// Looks at cases.
pub const LOOKS: Table = Table { shape: &LOOKS_SHAPE, rows: Rows::OfThings(&["egg"], look_rows) };
/// Openings.
pub const OPENINGS: Table = Table { shape: &OPENINGS_SHAPE, rows: Rows::OfThings(&["egg"], opening_rows) };
/// Clutches.
pub const CLUTCHES: Table = Table { shape: &CLUTCHES_SHAPE, rows: Rows::OfThings(&["clutch"], clutch_row) };

const EGGS_SHAPE: Shape = Shape {
    name: "eggs",
    about: "Egg cases. A case keeps its identity after the hatch; the animal is another thing.",
    columns: &[
        column("egg", Of::Text, "The case."),
        column("label", Of::Text, "What stands on the case."),
        column("species", Of::Text, "Its species."),
        column("scientific_name", Of::Text, "Name of the species as the collection lists it."),
        column("came_at", Of::Time, "When it was found or received."),
        column("came_after", Of::Time, "It came after this and not after came_at."),
        column("origin", Of::Text, "collected, received, or withheld."),
        column("sender", Of::Text, "Who sent it, a pseudonym where it is a person."),
        column("found_in", Of::Text, "The tank it was found in."),
        column("laid_not_before", Of::Time, "It was not laid before this; empty where nobody knows."),
        column("laid_not_after", Of::Time, "It was laid by then."),
        column("laid_basis", Of::Text, "What the window of laying rests on."),
        column("clutch", Of::Text, "The clutch it belongs to."),
        column("dam_state", Of::Text, "known, candidates, unknown, none or wild_caught."),
        column("dams", Of::Several, "The dam, or those who may be."),
        column(
            "sire_state",
            Of::Text,
            "known, candidates, unknown, none or wild_caught; none: the embryo developed from an unfertilised egg.",
        ),
        column("sires", Of::Several, "The sire, or those who may be."),
        column("tank", Of::Text, "Where it is, or was when it ended."),
        column("taken_in_at", Of::Time, "When it was first put in an incubation place."),
        column("looks", Of::Count, "Number of looks at it."),
        column("yolk", Of::Text, "seen, not seen or could not see, at the first look that could see in."),
        column("embryo_seen_alive_at", Of::Time, "First sighting of a living embryo."),
        column("last_seen_alive_at", Of::Time, "Newest sighting of a living embryo in the case."),
        column("band", Of::Count, "Candling band 0 to 7 at the last look that could see in (a convention of Selachron)."),
        column("slits_open_at", Of::Time, "First look at which the slits were seen open."),
        column("openings", Of::Count, "Number of times it was opened."),
        column("fate", Of::Text, "open, hatched, young_not_found, lost, dead_on_arrival, put_down, missing or removed."),
        column("fate_at", Of::Time, "When it ended."),
        column("fate_after", Of::Time, "It ended after this and not after fate_at."),
        column("cause", Of::Text, "Apparent cause of a loss, or the reason why it was put down or removed."),
        column("young", Of::Several, "Young named by its hatch notes, dead ones too."),
        column("hatched_after_opening", Of::Flag, "Whether an opening came before or with the hatch; empty unless it hatched."),
        column("came_by_note", Of::Text, "The note by which it came."),
        column("ended_by_note", Of::Text, "The note by which it ended."),
    ],
    key: &["egg"],
    refers: &[],
};

fn egg_row(view: &View<'_>, id: &Subject) -> Vec<Row> {
    view.egg(id).map(|egg| of_egg(view, &egg)).into_iter().collect()
}

fn of_egg(view: &View<'_>, egg: &Egg) -> Row {
    let (came_at, came_after) = when(Some(egg.came));
    let (origin, sender, found_in) = match &egg.origin {
        EggOrigin::Collected { from_tank, .. } => ("collected", None, from_tank.as_ref()),
        EggOrigin::Received { from, .. } => ("received", Some(from), None),
        EggOrigin::Withheld => ("withheld", None, None),
    };
    let (fate_at, fate_after) = when(egg.fate.when());
    let (fate, cause, young, after_opening) = fate(&egg.fate);
    row![
        &egg.id,
        &egg.label,
        egg.species.as_ref(),
        scientific_name(view, egg.species.as_ref()),
        came_at,
        came_after,
        origin,
        sender,
        found_in,
        egg.laid_window.not_before,
        egg.laid_window.not_after,
        word(&egg.laid_window.basis),
        egg.clutch.as_ref(),
        egg.dam.status.word(),
        named(&egg.dam),
        egg.sire.status.word(),
        named(&egg.sire),
        egg.place.as_ref().map(|place| &place.tank),
        egg.taken_in.map(|moment| moment.time),
        egg.looks.len(),
        word(&egg.yolk),
        egg.embryo_seen_alive.map(|moment| moment.time),
        egg.last_seen_alive.map(|moment| moment.time),
        egg.band,
        egg.slits_open.map(|moment| moment.time),
        egg.openings.len(),
        fate,
        fate_at,
        fate_after,
        cause,
        several(young),
        after_opening,
        egg.came.event,
        egg.fate.when().map(|moment| moment.event),
    ]
}

/// The animals that a parentage names.
pub(in crate::export) fn named(parentage: &Parentage) -> Cell {
    several(parentage.animals.iter().map(|one| &one.animal))
}

/// The animals and the weights of a parent: two cells.
pub(in crate::export) fn weighed(parent: &Parent) -> (Cell, Cell) {
    (several(parent.animals.iter().map(|one| &one.animal)), several(parent.animals.iter().map(|one| one.weight)))
}

type Fate<'e> = (&'static str, Option<&'e String>, Vec<&'e Subject>, Option<bool>);

fn fate(fate: &EggFate) -> Fate<'_> {
    match fate {
        EggFate::Open => ("open", None, Vec::new(), None),
        EggFate::Hatched { young, after_opening, .. } => {
            ("hatched", None, young.iter().map(|young| &young.animal).collect(), Some(after_opening.is_some()))
        }
        EggFate::YoungNotFound { .. } => ("young_not_found", None, Vec::new(), None),
        EggFate::Lost { apparent_cause, young, .. } => {
            ("lost", Some(apparent_cause), young.iter().map(|young| &young.animal).collect(), None)
        }
        EggFate::DeadOnArrival { .. } => ("dead_on_arrival", None, Vec::new(), None),
        EggFate::PutDown { reason, .. } => ("put_down", Some(reason), Vec::new(), None),
        EggFate::Missing { .. } => ("missing", None, Vec::new(), None),
        EggFate::Removed { reason, .. } => ("removed", Some(reason), Vec::new(), None),
    }
}

const LOOKS_SHAPE: Shape = Shape {
    name: "looks",
    about: "Looks at cases, with a light or by other means. Still says nothing about life.",
    columns: &[
        column("note", Of::Text, "The note."),
        column("egg", Of::Text, "The case."),
        column("at", Of::Time, "When."),
        column("after", Of::Time, "It was after this and not after at."),
        column("method", Of::Text, "ultrasound, lens or camera; empty: a light."),
        column("seen_into", Of::Flag, "Whether it showed the inside."),
        column("band", Of::Count, "Candling band 0 to 7 (a convention of Selachron)."),
        column("movement", Of::Text, "moving, still or could not tell."),
        column("heartbeat", Of::Text, "seen, not seen or could not tell."),
        column("yolk_fraction", Of::Number, "External yolk left, 0 to 1."),
        column("findings", Of::Text, "Odd things seen, with semicolons between them."),
        column("eye", Of::Text, "The embryo's eye."),
        column("prompted", Of::Flag, "Looked because of a suspicion, not on schedule."),
        column("person", Of::Text, "Pseudonym of who looked."),
    ],
    key: &["note"],
    refers: &[("egg", "eggs", "egg")],
};

fn look_rows(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(egg) = view.egg(id) else { return Vec::new() };
    let rows = egg.looks.into_iter().map(|look| {
        row![
            look.when.event,
            id,
            look.when.time,
            look.when.timeafter,
            look.method,
            look.seen_into,
            look.band,
            word(&look.movement),
            look.heartbeat,
            look.yolk_fraction,
            look.findings.join("; "),
            look.eye,
            look.prompted,
            look.person,
        ]
    });
    rows.collect()
}

const OPENINGS_SHAPE: Shape = Shape {
    name: "openings",
    about: "Openings of cases. The opening of a case known dead is an examination, never an assisted hatch.",
    columns: &[
        column("note", Of::Text, "The note."),
        column("egg", Of::Text, "The case."),
        column("at", Of::Time, "When."),
        column("after", Of::Time, "It was after this and not after at."),
        column("extent", Of::Text, "How far."),
        column("known_dead", Of::Flag, "Known dead before."),
        column("outcome", Of::Text, "What came of it."),
        column("left_how", Of::Text, "How the case was left."),
        column("urgent_reason", Of::Text, "Why it could not wait for signatures."),
        column("criteria_met", Of::Text, "Criteria of the written protocol that were met, with semicolons between them."),
        column("approved_by", Of::Several, "Pseudonyms of others who signed or endorsed it."),
        column("signatures_missing", Of::Text, "Roles whose signature is still wanted, with semicolons between them."),
        column("authorised_by_notes", Of::Several, "Authorisations that covered it."),
    ],
    key: &["note"],
    refers: &[("egg", "eggs", "egg")],
};

fn opening_rows(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(egg) = view.egg(id) else { return Vec::new() };
    let rows = egg.openings.into_iter().map(|opening| {
        row![
            opening.when.event,
            id,
            opening.when.time,
            opening.when.timeafter,
            opening.extent,
            opening.known_dead,
            opening.outcome,
            opening.left,
            opening.urgent_reason,
            opening.criteria_met.join("; "),
            several(opening.approved_by),
            opening.signatures_missing.join("; "),
            several(opening.authorised_by),
        ]
    });
    rows.collect()
}

const CLUTCHES_SHAPE: Shape = Shape {
    name: "clutches",
    about: "Cases that one dam laid together, as somebody put them down.",
    columns: &[
        column("clutch", Of::Text, "The clutch."),
        column("label", Of::Text, "What the house calls it."),
        column("formed_at", Of::Time, "When it was put down as a clutch."),
        column("eggs", Of::Several, "Its cases."),
        column("basis", Of::Text, "What the grouping rests on."),
        column("dam_state", Of::Text, "known, candidates, unknown, none or wild_caught."),
        column("dams", Of::Several, "The dam, or those who may be."),
        column("sire_state", Of::Text, "known, candidates, unknown, none or wild_caught."),
        column("sires", Of::Several, "The sire, or those who may be."),
        column("formed_by_note", Of::Text, "The note."),
    ],
    key: &["clutch"],
    refers: &[],
};

fn clutch_row(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(clutch) = view.clutch(id) else { return Vec::new() };
    vec![row![
        id,
        clutch.label,
        clutch.formed.time,
        several(&clutch.eggs),
        clutch.basis,
        clutch.dam.status.word(),
        named(&clutch.dam),
        clutch.sire.status.word(),
        named(&clutch.sire),
        clutch.formed.event,
    ]]
}
