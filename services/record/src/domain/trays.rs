//! Separating cases: a proposal of places by parentage and stage. It is computed from plain numbers,
//! so that the same nursery gives the same proposal; nothing is moved before a person says so, move by
//! move.
//!
//! Rules, none ever broken by a move: water, quarantine and source are never crossed; capacity is kept;
//! no two clutches of uncertain parentage stand in one place; bands in a place are alike (they differ by
//! one at most); cases with open slits stand apart from sealed ones if the house rules say so; cases
//! that rest or are held apart stay where they are, and nobody is moved to one held apart. Of all ways
//! to leave cases where they are, the one with the fewest moves is taken, place by place.

mod gather;

use super::state::{Proposal, TrayLeft, TrayMove};
use selachron_schemas::names::Subject;
use std::collections::{BTreeMap, BTreeSet};

/// Bands in one place differ by so much at most (a convention of this project).
pub const BANDS_APART_MAX: u8 = 1;

/// Most bands there are, one above the last.
const BANDS: u8 = 8;

/// A case, as far as the rules look at it.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// `egg/<ULID>`.
    pub egg: Subject,
    /// What stands on it.
    pub label: String,
    /// Its tank.
    pub tank: Subject,
    /// Its place; `None`: in no place.
    pub place: Option<Subject>,
    /// What may never be mixed or crossed: water, quarantine, source, species.
    pub realm: Realm,
    /// The clutch, if its parentage is uncertain.
    pub uncertain_clutch: Option<String>,
    /// Band last seen; yolk only where none was.
    pub band: u8,
    /// Its slits are open, or it was opened.
    pub is_open: bool,
    /// It rests or is held apart: it stays.
    pub stays: bool,
    /// Nobody is moved to it.
    pub alone: bool,
}

/// What a move never crosses.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Realm {
    /// System or tank whose water it is.
    pub water: Subject,
    /// Under quarantine, and which.
    pub quarantine: Option<String>,
    /// Collected here, or received from whom.
    pub source: String,
    /// Species.
    pub species: Option<Subject>,
}

/// A place for cases.
#[derive(Debug, Clone, PartialEq)]
pub struct Slot {
    /// `place/<ULID>`.
    pub place: Subject,
    /// What stands on it.
    pub label: String,
    /// Its tank.
    pub tank: Subject,
    /// The tank's water.
    pub water: Subject,
    /// The quarantine of the tank.
    pub quarantine: Option<String>,
    /// In the order of a round.
    pub order: u64,
    /// Cases it holds at most; `None`: nobody said.
    pub cases_max: Option<u64>,
}

/// What of the rules is the house's to say.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct TrayRules {
    /// Open and sealed cases stand apart.
    pub opened_apart: bool,
}

/// Why two cases may not stand together; `None`: they may.
#[must_use]
pub fn conflict(a: &Case, b: &Case, rules: TrayRules) -> Option<&'static str> {
    match () {
        () if a.realm.quarantine != b.realm.quarantine => Some("quarantine is kept apart"),
        () if a.realm.source != b.realm.source => Some("cases of different sources are kept apart"),
        () if a.realm.species != b.realm.species => Some("species are kept apart"),
        () if a.uncertain_clutch.is_some() && b.uncertain_clutch.is_some() && a.uncertain_clutch != b.uncertain_clutch => {
            Some("two clutches of uncertain parentage do not stand in one place")
        }
        () if rules.opened_apart && a.is_open != b.is_open => Some("open and sealed cases stand apart"),
        () if a.band.abs_diff(b.band) > BANDS_APART_MAX => Some("like bands stand together"),
        () => None,
    }
}

/// The proposal for these cases and places.
#[must_use]
pub fn propose(cases: &[Case], slots: &[Slot], rules: TrayRules) -> Proposal {
    let mut cases: Vec<Case> = cases.to_vec();
    cases.sort_by(|a, b| (&a.label, &a.egg).cmp(&(&b.label, &b.egg)));
    let mut slots: Vec<&Slot> = slots.iter().collect();
    slots.sort_by(|a, b| (&a.tank, a.order, &a.place).cmp(&(&b.tank, b.order, &b.place)));
    let mut moves: Vec<TrayMove> = Vec::new();
    // Each round moves some case for good, or ends.
    loop {
        let moved: BTreeSet<Subject> = moves.iter().map(|done| done.egg.clone()).collect();
        let next = Table { cases: &cases, slots: &slots, rules }.first_move(&moved);
        let Some((at, step)) = next else { break };
        cases[at].tank = step.to_tank.clone();
        cases[at].place = Some(step.to_place.clone());
        moves.push(step);
    }
    let left = Table { cases: &cases, slots: &slots, rules }.left();
    Proposal { moves, left }
}

/// Cases and places at one moment of the proposal.
struct Table<'t> {
    cases: &'t [Case],
    slots: &'t [&'t Slot],
    rules: TrayRules,
}

impl<'t> Table<'t> {
    fn in_place(&self, place: &Subject) -> Vec<usize> {
        (0..self.cases.len()).filter(|at| self.cases[*at].place.as_ref() == Some(place)).collect()
    }

    /// Cases that should stand elsewhere, with the reason.
    fn displaced(&self) -> Vec<(usize, String)> {
        let mut out: BTreeMap<usize, String> = BTreeMap::new();
        for slot in self.slots {
            let here = self.in_place(&slot.place);
            let kept = self.kept(&here, slot.cases_max);
            for at in here.iter().filter(|at| !kept.contains(at) && !self.cases[**at].stays) {
                let why = kept.iter().find_map(|other| Some((other, conflict(&self.cases[*at], &self.cases[*other], self.rules)?)));
                let reason = match why {
                    Some((other, why)) => format!("It stands with {} in {}: {why}.", self.cases[*other].label, slot.label),
                    None => format!("{} holds {} cases at most.", slot.label, slot.cases_max.unwrap_or_default()),
                };
                out.insert(*at, reason);
            }
        }
        let homeless = |at: &usize| {
            let case = &self.cases[*at];
            case.place.is_none() && !case.stays && self.slots.iter().any(|slot| slot.water == case.realm.water)
        };
        for at in (0..self.cases.len()).filter(homeless) {
            out.insert(at, "It stands in no place.".to_owned());
        }
        out.into_iter().collect()
    }

    /// The most cases that may stay together; those that stay anyway come first, then as many as may.
    fn kept(&self, here: &[usize], cases_max: Option<u64>) -> Vec<usize> {
        let mut best: Vec<usize> = Vec::new();
        let score = |kept: &[usize]| (kept.iter().filter(|at| self.cases[**at].stays).count(), kept.len());
        for seed in here {
            for low in 0..BANDS {
                let kept = self.around(*seed, low, here, cases_max);
                // Of two that keep as many the first by label is taken.
                if score(&kept) > score(&best) || (score(&kept) == score(&best) && kept < best) {
                    best = kept;
                }
            }
        }
        best
    }

    /// Those that may stand with `seed` when the bands from `low` are in the place.
    fn around(&self, seed: usize, low: u8, here: &[usize], cases_max: Option<u64>) -> Vec<usize> {
        let fits = |at: &usize| (low..=low + BANDS_APART_MAX).contains(&self.cases[*at].band);
        let mut order: Vec<usize> = here.iter().copied().filter(fits).collect();
        order.sort_by_key(|at| (*at != seed, !self.cases[*at].stays, *at));
        let mut kept: Vec<usize> = Vec::new();
        for at in order {
            let room = cases_max.is_none_or(|most| (kept.len() as u64) < most);
            if room && kept.iter().all(|other| conflict(&self.cases[at], &self.cases[*other], self.rules).is_none()) {
                kept.push(at);
            }
        }
        kept.sort_unstable();
        kept
    }

    /// The first case that should and can stand elsewhere; each is moved once.
    fn first_move(&self, moved: &BTreeSet<Subject>) -> Option<(usize, TrayMove)> {
        let displaced = self.displaced();
        let waiting: BTreeSet<usize> = displaced.iter().map(|(at, _)| *at).collect();
        displaced.into_iter().filter(|(at, _)| !moved.contains(&self.cases[*at].egg)).find_map(|(at, reason)| {
            let case = &self.cases[at];
            let slot = self.slot_for(at, &waiting)?;
            let step = TrayMove {
                egg: case.egg.clone(),
                label: case.label.clone(),
                from_tank: case.tank.clone(),
                from_place: case.place.clone(),
                to_tank: slot.tank.clone(),
                to_place: slot.place.clone(),
                to_label: slot.label.clone(),
                reason,
            };
            Some((at, step))
        })
    }

    /// Where a case may stand: nearest first, and with its like rather than alone.
    fn slot_for(&self, at: usize, waiting: &BTreeSet<usize>) -> Option<&'t Slot> {
        let case = &self.cases[at];
        let fits = |slot: &&&Slot| {
            let here = self.in_place(&slot.place);
            let room = slot.cases_max.is_none_or(|most| (here.len() as u64) < most);
            let realm = slot.water == case.realm.water && slot.quarantine == case.realm.quarantine;
            let company = here.iter().all(|other| {
                let other = &self.cases[*other];
                !other.alone && conflict(case, other, self.rules).is_none()
            });
            // A place in which something is still to be separated takes nobody.
            let settled = here.iter().all(|other| !waiting.contains(other));
            case.place.as_ref() != Some(&slot.place) && room && realm && company && settled
        };
        let near = |slot: &&&Slot| (slot.tank != case.tank, self.in_place(&slot.place).is_empty(), slot.order, slot.place.clone());
        self.slots.iter().filter(fits).min_by_key(near).copied()
    }

    /// What should stand elsewhere and cannot.
    fn left(&self) -> Vec<TrayLeft> {
        let told = |(at, reason): (usize, String)| {
            let case = &self.cases[at];
            let says = format!("{reason} No place of the same water, quarantine and source takes it: set one up.");
            TrayLeft { egg: case.egg.clone(), label: case.label.clone(), reason: says }
        };
        self.displaced().into_iter().map(told).collect()
    }
}
