//! Who died: each animal by itself and those of groups by their numbers, those that died elsewhere on loan,
//! deaths without a post-mortem, and lives that were ended by decision.

use super::followed::{death, died_on_loan, hatch_day};
use super::lent::group_died_on_loan;
use super::stock::{Basis, Cell};
use super::table::{Behind, PartTable, number, words};
use super::title::Title;
use super::window::Window;
use crate::domain::state::{Animal, AnimalFate, Egg, EggFate, Group, GroupChange, Moment};
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;
use selachron_schemas::time::whole_days;
use serde_json::{Value, json};

/// How a death by a veterinarian's decision is told.
const BY_DECISION: &str = "by a veterinarian's decision";

/// Who died: one animal, or so many of a group.
#[derive(Clone, Copy)]
enum Dead<'w> {
    Animal(&'w Animal),
    OfGroup(&'w Group, &'w GroupChange),
}

impl<'w> Dead<'w> {
    fn id(self) -> &'w Subject {
        match self {
            Self::Animal(animal) => &animal.id,
            Self::OfGroup(group, _) => &group.id,
        }
    }

    fn species(self) -> Option<&'w Subject> {
        match self {
            Self::Animal(animal) => animal.species.as_ref(),
            Self::OfGroup(group, _) => group.species.as_ref(),
        }
    }

    /// How many of each class, as the stock list counts them.
    fn number(self) -> Cell {
        match self {
            Self::Animal(animal) => Cell::one(animal.sex),
            Self::OfGroup(_, change) => Cell::default().less(change.change.into()),
        }
    }

    fn how_known(self) -> Option<&'w String> {
        match self {
            Self::Animal(animal) => match &animal.fate {
                AnimalFate::Died { how_known, .. } => Some(how_known),
                _ => None,
            },
            Self::OfGroup(_, change) => change.how_known.as_ref(),
        }
    }

    fn apparent_cause(self) -> Option<&'w String> {
        match self {
            Self::Animal(animal) => match &animal.fate {
                AnimalFate::Died { apparent_cause, .. } => Some(apparent_cause),
                _ => None,
            },
            Self::OfGroup(_, change) => change.why.as_ref(),
        }
    }
}

/// Whole days from its hatch, or from the estimated day of it, as the stock list has it.
fn age_days(window: &Window<'_, '_>, dead: Dead<'_>, when: Moment) -> Value {
    let hatched = match dead {
        Dead::Animal(animal) => hatch_day(animal, window.view.zone()),
        Dead::OfGroup(group, _) => group.hatched_on_estimate,
    };
    hatched.map_or(Value::Null, |day| json!(whole_days(day, window.view.day(when.time))))
}

/// Whoever died in the months, in order of time.
fn dead<'w>(window: &'w Window<'_, '_>) -> Vec<(Dead<'w>, Moment)> {
    let animals = window.closing.animals.iter().filter_map(|animal| Some((Dead::Animal(animal), death(animal)?)));
    let changes = window.closing.groups.iter().flat_map(|group| group.changes.iter().map(move |change| (group, change)));
    let of_groups = changes.filter(|(_, change)| change.what == "died").map(|(group, change)| (Dead::OfGroup(group, change), change.when));
    let mut dead: Vec<(Dead<'_>, Moment)> = animals.chain(of_groups).filter(|(_, when)| window.has(*when)).collect();
    dead.sort_by_key(|(dead, when)| (when.time, dead.id().clone(), when.event));
    dead
}

/// Deaths of the months.
pub(super) fn deaths(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "deaths",
        "Deaths",
        "Every animal that died here in these months; of a group how many, males.females.unknown. The age is by the estimated day of hatch where none was seen. A \
         cause as determined comes from a veterinarian or a laboratory; every other is apparent.",
        vec![
            words("animal", "Animal or group"),
            words("species", "species"),
            words("sex", "sex"),
            words("died", "number"),
            words("died_on", "day"),
            number("age_days", "age, days"),
            words("how_known", "how known"),
            words("apparent_cause", "apparent cause"),
            words("cause_determined", "cause determined"),
            words("necropsy", "post-mortem"),
        ],
    );
    for (dead, when) in dead(window) {
        let (sex, determined, necropsies) = match dead {
            Dead::Animal(animal) => (json!(animal.sex), json!(animal.afterwards.cause_determined), &animal.afterwards.necropsies[..]),
            Dead::OfGroup(..) => (Value::Null, Value::Null, &[][..]),
        };
        let cells = [
            window.called(dead.id()),
            window.species(dead.species()),
            sex,
            json!(dead.number().to_string()),
            window.day(when),
            age_days(window, dead, when),
            json!(dead.how_known()),
            json!(dead.apparent_cause()),
            determined,
            json!(necropsies.last().map_or("nothing noted", |necropsy| &necropsy.told.state)),
        ];
        table.row(cells, Behind::of(dead.id()).on([when.event]).on(necropsies.iter().map(|necropsy| necropsy.when.event)));
    }
    table
}

/// Deaths of ours that were lent out: they count in the list by ownership alone.
pub(super) fn deaths_on_loan(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "deaths_on_loan",
        "Deaths on loan",
        "Ours that died elsewhere while lent out, by the note that ended the loan. They count in the stock list by ownership and not in that by \
         presence; what became of the body is for the partner's record.",
        vec![words("animal", "Animal or group"), words("species", "species"), words("died", "number"), words("died_on", "loan ended")],
    );
    let loans = &window.closing.loans;
    let title = |id| Title::of(id, Basis::Ownership, loans);
    let animals = window.closing.animals.iter().filter_map(|animal| {
        let when = died_on_loan(animal, &title(&animal.id))?;
        Some((&animal.id, animal.species.as_ref(), Cell::one(animal.sex), when))
    });
    let of_groups = window.closing.groups.iter().flat_map(|group| {
        let died = group_died_on_loan(group, &title(&group.id), loans);
        died.into_iter().map(|(when, number)| (&group.id, group.species.as_ref(), number, when))
    });
    let mut all: Vec<_> = animals.chain(of_groups).filter(|(.., when)| window.has(*when)).collect();
    all.sort_by_key(|(id, _, _, when)| (when.time, (*id).clone()));
    for (id, species, number, when) in all {
        let cells = [window.called(id), window.species(species), json!(number.to_string()), window.day(when)];
        table.row(cells, Behind::of(id).on([when.event]));
    }
    table
}

/// Deaths of the months of which no post-mortem has said anything.
pub(super) fn without_necropsy(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "without_necropsy",
        "Deaths without the result of a post-mortem",
        "Why there is none, as far as it was noted. No note tells of a post-mortem of animals of a group, which cannot be told apart.",
        vec![
            words("animal", "Animal or group"),
            words("died", "number"),
            words("died_on", "day"),
            words("necropsy", "post-mortem"),
            words("because", "because"),
        ],
    );
    for (dead, when) in dead(window) {
        let last = match dead {
            Dead::Animal(animal) => animal.afterwards.necropsies.last(),
            Dead::OfGroup(..) => None,
        };
        if last.is_some_and(|necropsy| necropsy.told.state == "reported") {
            continue;
        }
        let state = last.map_or("nothing noted", |necropsy| &necropsy.told.state);
        let because = last.and_then(|necropsy| necropsy.told.declined_because.as_ref());
        let cells = [window.called(dead.id()), json!(dead.number().to_string()), window.day(when), json!(state), json!(because)];
        table.row(cells, Behind::of(dead.id()).on([when.event]).on(last.map(|necropsy| necropsy.when.event)));
    }
    table
}

/// A life, or several of a group, that was ended by decision.
struct PutDown<'w> {
    which: &'w Subject,
    species: Option<&'w Subject>,
    what: &'static str,
    number: String,
    alive: &'w str,
    reason: Option<&'w String>,
    decided_by: Vec<String>,
    authority: Option<&'w String>,
    when: Moment,
}

/// Lives that were ended by decision in the months.
pub(super) fn put_down(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "put_down",
        "Ended by decision",
        "Cases put down, and animals that died by a veterinarian's decision: decided by the veterinarians who signed, by pseudonym. Where the \
         embryo lived, that is said.",
        vec![
            words("which", "Case, animal or group"),
            words("species", "species"),
            words("what", "what"),
            words("number", "number"),
            words("embryo_alive", "embryo alive"),
            words("day", "day"),
            words("reason", "reason"),
            words("decided_by", "decided by"),
            words("authority", "authority"),
        ],
    );
    let mut all: Vec<PutDown<'_>> = window.closing.eggs.iter().filter_map(case_put_down).filter(|one| window.has(one.when)).collect();
    all.extend(dead(window).into_iter().filter_map(|(dead, when)| animal_put_down(window, dead, when)));
    all.sort_by(|a, b| (a.when.time, a.which).cmp(&(b.when.time, b.which)));
    for one in all {
        let cells = [
            window.called(one.which),
            window.species(one.species),
            json!(one.what),
            json!(one.number),
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
        number: "1".to_owned(),
        alive,
        reason: Some(reason),
        decided_by: decided_by.clone(),
        authority: authority.as_ref(),
        when: *when,
    })
}

fn animal_put_down<'w>(window: &Window<'_, '_>, dead: Dead<'w>, when: Moment) -> Option<PutDown<'w>> {
    (dead.how_known()? == BY_DECISION).then(|| PutDown {
        which: dead.id(),
        species: dead.species(),
        what: if matches!(dead, Dead::Animal(_)) { "animal" } else { "animals of a group" },
        number: dead.number().to_string(),
        alive: "",
        reason: dead.apparent_cause(),
        decided_by: veterinarians(window, when),
        authority: None,
        when,
    })
}

/// Veterinarians who signed the note, or endorsed it since.
fn veterinarians(window: &Window<'_, '_>, when: Moment) -> Vec<String> {
    let (view, role) = (window.view, &[Role::Veterinarian]);
    let Some(note) = view.nursery().seq_of(when.event).map(|seq| view.nursery().note(seq)) else { return Vec::new() };
    let author = note.author().filter(|author| author.has_one_of(role)).and_then(|author| author.person());
    let signed: Vec<String> = author.into_iter().chain(view.approvers(note, role)).map(str::to_owned).collect();
    if signed.is_empty() { vec!["no veterinarian has signed".to_owned()] } else { signed }
}
