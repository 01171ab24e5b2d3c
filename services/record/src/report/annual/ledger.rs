//! The egg ledger of a year (DOMAIN section 7), per species: cases incubating at the end = at the
//! start + collected + received + found again − every first leaving. Each case leaves once. Above the
//! balance stand, as what they are of it, cases left among the adults and those found empty there, and the
//! young of which nobody knows the case.

use super::material::{Population, Span, species_name};
use super::notes::notes_of_case;
use super::shape::FailingLine;
use crate::domain::state::{Absence, Counts, Egg, EggFate, EggOrigin, Group, GroupChange, Moment, Species};
use selachron_schemas::names::Subject;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The egg ledger.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EggLedger {
    /// One column of figures for each species that had cases, by scientific name.
    pub lines: Vec<LedgerLine>,
    /// All species together.
    pub total: LedgerLine,
    /// Cases of the year that nobody has put in an incubation place yet; they are in the lines.
    pub not_taken_in: u64,
}

/// The cases of one species.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LedgerLine {
    /// Scientific name, or `all species`.
    pub scientific_name: String,
    /// Open at the last instant before the year.
    pub start: i64,
    /// Found here.
    pub collected: i64,
    /// Received from elsewhere, those that arrived dead included.
    pub received: i64,
    /// Came, but the note that says how is withheld.
    pub came_withheld: i64,
    /// Missing and found again; taken for lost or gone before the year, and seen alive again since.
    pub found_again: i64,
    /// Hatched without help (cases, not young).
    pub hatched_unaided: i64,
    /// Hatched after opening.
    pub hatched_after_opening: i64,
    /// Lost, of any apparent cause but the next.
    pub dead: i64,
    /// Lost for want of a yolk.
    pub no_yolk: i64,
    /// Arrived dead.
    pub dead_on_arrival: i64,
    /// Sent out.
    pub sent_out: i64,
    /// Sampled.
    pub sampled: i64,
    /// Removed for another reason: shown to visitors, other.
    pub removed_other: i64,
    /// Put down by decision.
    #[serde(default, skip_serializing_if = "is_nought")]
    pub put_down: i64,
    /// Went missing; those found since are under `found_again`.
    #[serde(default, skip_serializing_if = "is_nought")]
    pub missing: i64,
    /// Found empty, and no young was found.
    pub young_not_found: i64,
    /// Open at the end.
    pub end: i64,
    /// Of the end: found here and left in the adults' tank, never put in an incubation place.
    #[serde(default, skip_serializing_if = "is_nought")]
    pub left_with_adults: i64,
    /// Of those found empty: never put in an incubation place, so that they hatched among the adults.
    #[serde(default, skip_serializing_if = "is_nought")]
    pub found_empty_with_adults: i64,
    /// Young found here of which nobody knows the case; no cases, and in no line of the balance.
    #[serde(default, skip_serializing_if = "is_nought")]
    pub young_case_unknown: i64,
}

/// Names of the figures that stand above the balance and are no part of it.
pub const ABOVE_CELLS: [&str; 3] = ["left_with_adults", "found_empty_with_adults", "young_case_unknown"];

/// Names of the cells, in the order in which [`LedgerLine::signed`] gives them.
pub const LEDGER_CELLS: [&str; 16] = [
    "start",
    "collected",
    "received",
    "came_withheld",
    "found_again",
    "hatched_unaided",
    "hatched_after_opening",
    "dead",
    "no_yolk",
    "dead_on_arrival",
    "sent_out",
    "sampled",
    "removed_other",
    "put_down",
    "missing",
    "young_not_found",
];

impl LedgerLine {
    /// The lines with their sign, as they are printed: +1 comes, −1 goes.
    #[must_use]
    pub fn signed(&self) -> [(&'static str, i64, i64); 16] {
        [
            ("incubating at the start", 1, self.start),
            ("collected", 1, self.collected),
            ("received", 1, self.received),
            ("came, how is withheld", 1, self.came_withheld),
            ("found again", 1, self.found_again),
            ("hatched unaided", -1, self.hatched_unaided),
            ("hatched after opening", -1, self.hatched_after_opening),
            ("lost, causes other than no yolk", -1, self.dead),
            ("lost, no yolk", -1, self.no_yolk),
            ("dead on arrival", -1, self.dead_on_arrival),
            ("sent out", -1, self.sent_out),
            ("sampled", -1, self.sampled),
            ("removed, other", -1, self.removed_other),
            ("put down by decision", -1, self.put_down),
            ("missing", -1, self.missing),
            ("found empty, young not found", -1, self.young_not_found),
        ]
    }

    /// What stands above the balance, as it is printed, in the order of [`ABOVE_CELLS`].
    #[must_use]
    pub fn above(&self) -> [(&'static str, i64); 3] {
        [
            ("of the end: left in the adults' tank", self.left_with_adults),
            ("of those collected: found empty in the adults' tank", self.found_empty_with_adults),
            ("young that hatched here, case unknown", self.young_case_unknown),
        ]
    }

    /// The end by arithmetic.
    #[must_use]
    pub fn arithmetic(&self) -> i64 {
        self.signed().iter().map(|(_, sign, count)| sign * count).sum()
    }

    fn cells(&mut self) -> [&mut i64; 20] {
        [
            &mut self.start,
            &mut self.collected,
            &mut self.received,
            &mut self.came_withheld,
            &mut self.found_again,
            &mut self.hatched_unaided,
            &mut self.hatched_after_opening,
            &mut self.dead,
            &mut self.no_yolk,
            &mut self.dead_on_arrival,
            &mut self.sent_out,
            &mut self.sampled,
            &mut self.removed_other,
            &mut self.put_down,
            &mut self.missing,
            &mut self.young_not_found,
            &mut self.end,
            &mut self.left_with_adults,
            &mut self.found_empty_with_adults,
            &mut self.young_case_unknown,
        ]
    }

    /// One of which no cell is nought, so that each has its name when it is written.
    #[must_use]
    pub fn every_cell() -> Self {
        let mut line = Self::default();
        line.cells().into_iter().for_each(|cell| *cell = 1);
        line
    }

    fn plus(&mut self, mut other: Self) {
        for (mine, theirs) in self.cells().into_iter().zip(other.cells()) {
            *mine += *theirs;
        }
    }

    fn leaving(&mut self, fate: &EggFate) -> Option<&mut i64> {
        Some(match fate {
            // A missing case is counted by its absences: it may be found, and be missing again.
            EggFate::Open | EggFate::Missing { .. } => return None,
            EggFate::PutDown { .. } => &mut self.put_down,
            EggFate::Hatched { after_opening: None, .. } => &mut self.hatched_unaided,
            EggFate::Hatched { .. } => &mut self.hatched_after_opening,
            EggFate::Lost { apparent_cause, .. } if apparent_cause == "no yolk" => &mut self.no_yolk,
            EggFate::Lost { .. } => &mut self.dead,
            EggFate::DeadOnArrival { .. } => &mut self.dead_on_arrival,
            EggFate::YoungNotFound { .. } => &mut self.young_not_found,
            EggFate::Removed { reason, .. } if reason == "sent out" => &mut self.sent_out,
            EggFate::Removed { reason, .. } if reason == "sampled" => &mut self.sampled,
            EggFate::Removed { .. } => &mut self.removed_other,
        })
    }

    /// The year of one case, as a ledger of its own.
    fn of(before: Option<&Egg>, closing: &Egg, span: Span) -> Self {
        let mut line = Self::default();
        let was_open = before.is_some_and(|egg| egg.fate == EggFate::Open);
        let ends_in_span = closing.fate.when().is_some_and(|when| span.has(when.time));
        line.start = i64::from(was_open);
        if span.has(closing.came.time) {
            match closing.origin {
                EggOrigin::Collected { .. } => line.collected = 1,
                EggOrigin::Received { .. } => line.received = 1,
                EggOrigin::Withheld => line.came_withheld = 1,
            }
        }
        let is_back = closing.fate == EggFate::Open || ends_in_span;
        let was_missing = before.is_some_and(|egg| matches!(egg.fate, EggFate::Missing { .. }));
        let absences = |wanted: fn(&Absence) -> Option<Moment>| {
            closing.absences.iter().filter_map(wanted).filter(|moment| span.has(moment.time)).count() as i64
        };
        line.missing = absences(|absence| Some(absence.since));
        line.found_again = i64::from(before.is_some() && !was_open && !was_missing && is_back) + absences(|absence| absence.found);
        if let Some(cell) = line.leaving(&closing.fate).filter(|_| ends_in_span) {
            *cell = 1;
        }
        line.end = i64::from(closing.fate == EggFate::Open);
        let stayed = closing.taken_in.is_none() && matches!(closing.origin, EggOrigin::Collected { .. });
        line.left_with_adults = i64::from(stayed && closing.fate == EggFate::Open);
        line.found_empty_with_adults = i64::from(stayed && line.young_not_found == 1 && line.collected == 1);
        line
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde wants a reference")]
fn is_nought(count: &i64) -> bool {
    *count == 0
}

/// Young of a group that hatched here in that span, of a case that nobody knows; those told apart since too.
fn case_unknown(group: &Group, span: Span) -> i64 {
    let formed = |change: &&GroupChange| change.what == "formed" && span.has(change.when.time);
    let young = |change: &GroupChange| change.change.total() + change.left_out.map_or(0, Counts::total);
    if group.came == "hatched here, case unknown" { group.changes.iter().filter(formed).map(young).sum() } else { 0 }
}

/// The ledger of that span, and the lines that do not add up.
#[must_use]
pub fn ledger(before: &Population, closing: &Population, species: &[Species], span: Span) -> (EggLedger, Vec<FailingLine>) {
    let mut at_start: BTreeMap<&Subject, &Egg> = before.eggs.iter().map(|egg| (&egg.id, egg)).collect();
    let mut lines: BTreeMap<String, (LedgerLine, Vec<&Egg>)> = BTreeMap::new();
    for egg in &closing.eggs {
        let one = LedgerLine::of(at_start.remove(&egg.id), egg, span);
        let (line, odd) = lines.entry(species_name(species, egg.species.as_ref())).or_default();
        if one.arithmetic() != one.end {
            odd.push(egg);
        }
        line.plus(one);
    }
    for group in &closing.groups {
        let (line, _) = lines.entry(species_name(species, group.species.as_ref())).or_default();
        line.young_case_unknown += case_unknown(group, span);
    }
    // A case that was there before and is not heard of any more is at odds as well.
    for (_, egg) in at_start.into_iter().filter(|(_, egg)| egg.fate == EggFate::Open) {
        let (line, odd) = lines.entry(species_name(species, egg.species.as_ref())).or_default();
        line.start += 1;
        odd.push(egg);
    }
    let mut ledger = EggLedger::default();
    let mut failing = Vec::new();
    for (name, (mut line, odd)) in lines {
        ledger.total.plus(line.clone());
        line.scientific_name = name;
        if !odd.is_empty() || line.arithmetic() != line.end {
            failing.push(fails(&line, &odd));
        }
        if line.cells().iter().any(|cell| **cell != 0) {
            ledger.lines.push(line);
        }
    }
    ledger.total.scientific_name = "all species".to_owned();
    ledger.not_taken_in = closing.eggs.iter().filter(|egg| span.has(egg.came.time) && egg.taken_in.is_none()).count() as u64;
    (ledger, failing)
}

fn fails(line: &LedgerLine, odd: &[&Egg]) -> FailingLine {
    FailingLine {
        table: "egg ledger".to_owned(),
        species: line.scientific_name.clone(),
        class: "cases".to_owned(),
        end_by_arithmetic: line.arithmetic(),
        end_counted: line.end,
        subjects: odd.iter().map(|egg| egg.id.to_string()).collect(),
        events: odd.iter().flat_map(|egg| notes_of_case(egg)).map(|event| event.to_string()).collect(),
    }
}
