//! What was lost in a year, whenever it came, by apparent cause; and the openings of the year,
//! described and not compared.

use super::followed::death;
use super::material::{Population, Span};
use crate::domain::state::{Animal, AnimalFate, AnimalOrigin, Egg, EggFate, Opening};
use crate::report::figures::fates::{CAUSES, Count, cause, in_order, is_put_down_alive};
use crate::report::figures::{Cohort, Rearing, Watch, rearing};
use crate::report::numbers::is_none;
use crate::report::words::ASSISTED_CAVEAT;
use serde::{Deserialize, Serialize};

/// Apparent causes of death of an animal, in the order in which they are printed.
pub const ANIMAL_CAUSES: [&str; 9] = [
    "not determined",
    "never ate",
    "injury",
    "jumped out",
    "water or equipment incident",
    "illness",
    "after opening of the case",
    "killed by another animal",
    "other",
];

/// Losses and deaths of the year.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Losses {
    /// Cases lost.
    pub cases: u64,
    /// The same by apparent cause, in the order of the list.
    pub cases_by_cause: Vec<Count>,
    /// Of the embryos that died: by the band last seen, `band 3` or `band not known`.
    pub embryos_by_band_last_seen: Vec<Count>,
    /// Cases put down by decision: no losses.
    #[serde(default, skip_serializing_if = "is_none")]
    pub cases_put_down: u64,
    /// Among these: with an embryo that lived.
    #[serde(default, skip_serializing_if = "is_none")]
    pub cases_put_down_alive: u64,
    /// The same by reason, those with a living embryo apart.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cases_put_down_by_reason: Vec<Count>,
    /// Animals that died, young and old, those of groups included.
    pub animals: u64,
    /// The same by apparent cause, in the order of the list.
    pub animals_by_cause: Vec<Count>,
}

/// The losses of that span.
#[must_use]
pub fn losses(closing: &Population, span: Span) -> Losses {
    let lost = |egg: &&Egg| cause(&egg.fate).is_some() && egg.fate.when().is_some_and(|when| span.has(when.time));
    let lost: Vec<&Egg> = closing.eggs.iter().filter(lost).collect();
    let died = |animal: &&Animal| death(animal).is_some_and(|when| span.has(when.time));
    let died: Vec<&Animal> = closing.animals.iter().filter(died).collect();
    let in_groups = died_in_groups(closing, span);
    let put_down = |egg: &&Egg| matches!(egg.fate, EggFate::PutDown { when, .. } if span.has(when.time));
    let put_down: Vec<&Egg> = closing.eggs.iter().filter(put_down).collect();
    let bands: Vec<String> = lost.iter().filter_map(|egg| band_last_seen(&egg.fate)).collect();
    Losses {
        cases: lost.len() as u64,
        cases_by_cause: in_order(&CAUSES, lost.iter().filter_map(|egg| cause(&egg.fate))),
        embryos_by_band_last_seen: in_order(&[], bands.iter().map(String::as_str)),
        cases_put_down: put_down.len() as u64,
        cases_put_down_alive: put_down.iter().filter(|egg| is_put_down_alive(&egg.fate)).count() as u64,
        cases_put_down_by_reason: in_order(
            &[],
            put_down.iter().map(|egg| why_put_down(&egg.fate)).collect::<Vec<_>>().iter().map(String::as_str),
        ),
        animals: (died.len() + in_groups.len()) as u64,
        animals_by_cause: in_order(&ANIMAL_CAUSES, died.iter().map(|animal| cause_of_death(animal)).chain(in_groups)),
    }
}

/// The apparent cause of each death in a group, one for one.
fn died_in_groups(closing: &Population, span: Span) -> Vec<&str> {
    let changes = closing.groups.iter().flat_map(|group| &group.changes);
    let deaths = changes.filter(|change| change.what == "died" && span.has(change.when.time));
    let causes = deaths.flat_map(|change| {
        let died = usize::try_from(-change.change.total()).unwrap_or(0);
        std::iter::repeat_n(change.why.as_deref().unwrap_or("not determined"), died)
    });
    causes.collect()
}

fn band_last_seen(fate: &EggFate) -> Option<String> {
    match fate {
        EggFate::Lost { apparent_cause, band_last_seen, .. } if apparent_cause == "embryo died" => {
            Some(band_last_seen.map_or_else(|| "band not known".to_owned(), |band| format!("band {band}")))
        }
        _ => None,
    }
}

fn why_put_down(fate: &EggFate) -> String {
    match fate {
        EggFate::PutDown { reason, alive, .. } => format!("{reason}; embryo alive: {alive}"),
        _ => String::new(),
    }
}

fn cause_of_death(animal: &Animal) -> &str {
    match &animal.fate {
        AnimalFate::Died { apparent_cause, .. } => apparent_cause,
        _ => "not determined",
    }
}

/// Openings of the year, described.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Openings {
    /// Cases that hatched unaided in the year.
    pub hatched_unaided: u64,
    /// Cases that hatched in the year after an opening.
    pub hatched_after_opening: u64,
    /// Openings of cases not known dead.
    pub openings: u64,
    /// The same by how far they went.
    pub by_extent: Vec<Count>,
    /// The same by outcome, openings that ended without a hatch included.
    pub by_outcome: Vec<Count>,
    /// The same by why they could not wait; those that waited are `not urgent`.
    pub by_urgency: Vec<Count>,
    /// Openings of cases known dead: examinations, no assisted hatch.
    pub examinations: u64,
    /// Survival of all young that hatched after an opening up to V, by themselves.
    pub rearing_after_opening: Rearing,
    /// Why nothing is compared.
    pub caveat: String,
}

/// The openings of that span; the young are followed up to V.
#[must_use]
pub fn openings(closing: &Population, now: &Population, span: Span, watch: Watch) -> Openings {
    let of_span = closing.eggs.iter().flat_map(|egg| &egg.openings).filter(|opening| span.has(opening.when.time));
    let (examinations, openings): (Vec<&Opening>, Vec<&Opening>) = of_span.partition(|opening| opening.known_dead);
    let by = |word: fn(&Opening) -> &str| in_order(&[], openings.iter().map(|opening| word(opening)));
    let helped: Vec<Animal> = now.animals.iter().filter(|animal| is_after_opening(animal)).cloned().collect();
    Openings {
        hatched_unaided: hatched(closing, span, false),
        hatched_after_opening: hatched(closing, span, true),
        openings: openings.len() as u64,
        by_extent: by(|opening| &opening.extent),
        by_outcome: by(|opening| &opening.outcome),
        by_urgency: by(|opening| opening.urgent_reason.as_deref().unwrap_or("not urgent")),
        examinations: examinations.len() as u64,
        rearing_after_opening: rearing(&helped, &now.eggs, &Cohort::default(), watch, false),
        caveat: ASSISTED_CAVEAT.to_owned(),
    }
}

fn hatched(closing: &Population, span: Span, opened: bool) -> u64 {
    let wanted = |egg: &&Egg| match &egg.fate {
        EggFate::Hatched { when, after_opening, .. } => span.has(when.time) && after_opening.is_some() == opened,
        _ => false,
    };
    closing.eggs.iter().filter(wanted).count() as u64
}

fn is_after_opening(animal: &Animal) -> bool {
    matches!(animal.origin, AnimalOrigin::Hatched { alive: true, after_opening: Some(_), .. })
}
