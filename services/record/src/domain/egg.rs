//! The fold of an egg case: one note after the other in order of time, each weighed against what
//! is so already.

use super::discrepancy::{Discrepancy, Oddity, odd};
use super::state::{
    Afterwards, Circumstances, Egg, EggFate, EggOrigin, HeldApart, LaidBasis, LaidWindow, LifeState, Look, Moment, Parentage, Place,
    YolkLook, Young,
};
use super::told::{EggCandled, EggCollected, EggHatched, EggHeldApart, EggLost, EggNote, EggReceived, Left, Moved, Told};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;

/// Why a case is gone that a consignment took, in the words of `egg.removed.v1`.
const SENT_OUT: &str = "sent out";

/// A case as it is folded.
pub(super) struct EggFold<'v, 'a> {
    pub view: &'v View<'a>,
    pub egg: Egg,
    /// The note that rests behind the current band, place, end and so on.
    pub seqs: Seqs,
    pub found: Vec<Discrepancy>,
}

/// Seqs of the notes that the next one is compared with.
#[derive(Default)]
pub(super) struct Seqs {
    /// The note by which it came.
    pub came: u64,
    band: Option<u64>,
    place: Option<u64>,
    pub end: Option<u64>,
    /// The note by which it is missing.
    pub missing: Option<u64>,
    /// The first hatch note.
    pub hatch: Option<u64>,
    no_yolk: Option<u64>,
    /// The newest sighting alive.
    pub alive: Option<u64>,
    /// Openings in the order of the egg's own list.
    pub openings: Vec<u64>,
    /// Local days on which it was looked at, or set apart, without a sign of life since the last.
    pub suspect_days: Vec<chrono::NaiveDate>,
}

/// How a case ended, for choosing words.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    Hatch,
    Loss,
    Leaving,
    PutDown,
}

impl<'a> View<'a> {
    /// Folds the notes about a case. `None` if none that stands says how it came; what is at odds
    /// is told all the same.
    pub(super) fn fold_egg(&self, id: &Subject, facts: &[Fact<'a>]) -> (Option<Egg>, Vec<Discrepancy>) {
        let concerns = |fact: &&Fact<'a>| fact.sends(id).is_some() || (fact.subject() == id && !fact.told().is_about_a_note());
        let own: Vec<&Fact<'a>> = facts.iter().filter(concerns).collect();
        let mut found = Vec::new();
        let Some(first) = self.came_first(id, &own, |fact| fact.subject() == id && fact.creates_subject(), &mut found) else {
            return (None, found);
        };
        let mut fold = EggFold { view: self, egg: case_came(id, first), seqs: Seqs::default(), found };
        fold.seqs.place = Some(first.note.seq);
        fold.seqs.came = first.note.seq;
        fold.no_yolk_at(first);
        for fact in own {
            fold.take(fact);
        }
        fold.in_clutches(facts);
        fold.finish();
        fold.found.extend(self.withdraws_nothing(id, facts));
        let EggFold { mut egg, found, .. } = fold;
        egg.laid_window = self.laid_window(first);
        egg.authorisations = self.authorised().iter().map(|one| &one.says).filter(|given| given.subject == *id).cloned().collect();
        (Some(egg), found)
    }
}

fn case_came(id: &Subject, first: &Fact<'_>) -> Egg {
    let mut egg = Egg::bare(id, first.moment());
    match first.told() {
        Told::EggCollected(told) => egg.collected(told),
        Told::EggReceived(told) => egg.received(told),
        _ => {}
    }
    egg
}

impl Egg {
    /// A case of which no more is known than that it came.
    pub(crate) fn bare(id: &Subject, came: Moment) -> Self {
        Self {
            id: id.clone(),
            label: String::new(),
            species: None,
            came,
            origin: EggOrigin::Withheld,
            laid_window: LaidWindow {
                not_before: None,
                not_after: came.time,
                basis: LaidBasis::NotKnown,
                estimate: None,
                estimate_basis: None,
                event: came.event,
            },
            clutch: None,
            dam: Parentage::default(),
            sire: Parentage::default(),
            place: None,
            taken_in: None,
            looks: Vec::new(),
            yolk: YolkLook::CouldNotSee,
            embryo_seen_alive: None,
            last_seen_alive: None,
            band: None,
            slits_open: None,
            held_apart: None,
            openings: Vec::new(),
            authorisations: Vec::new(),
            left_to_hatch: Vec::new(),
            tended: Vec::new(),
            absences: Vec::new(),
            afterwards: Afterwards::default(),
            fate: EggFate::Open,
            circumstances: Circumstances::default(),
            discrepancies: Vec::new(),
        }
    }

    fn collected(&mut self, told: &EggCollected) {
        self.label.clone_from(&told.label);
        self.species = Some(told.species.clone());
        self.clutch.clone_from(&told.clutch);
        self.dam = told.dam.clone().unwrap_or_default();
        self.sire = told.sire.clone().unwrap_or_default();
        self.yolk = told.yolk;
        self.taken_in = told.to_tank.is_some().then_some(self.came);
        let tank = told.to_tank.as_ref().unwrap_or(&told.from_tank).clone();
        self.place = Some(Place { tank, note: None, since: self.came });
        let (from_tank, laid, pair_mate) = (Some(told.from_tank.clone()), told.laid.clone(), told.pair_mate.clone());
        self.origin = EggOrigin::Collected { from_tank, laid, pair_mate };
    }

    fn received(&mut self, told: &EggReceived) {
        self.label.clone_from(&told.label);
        self.species = Some(told.species.clone());
        self.clutch.clone_from(&told.clutch);
        self.dam = told.dam.clone().unwrap_or_default();
        self.sire = told.sire.clone().unwrap_or_default();
        self.yolk = told.yolk;
        self.taken_in = told.to_tank.is_some().then_some(self.came);
        self.place = told.to_tank.clone().map(|tank| Place { tank, note: None, since: self.came });
        self.origin = EggOrigin::Received { from: told.from.clone(), state: told.state };
        if told.state == LifeState::Dead {
            self.fate = EggFate::DeadOnArrival { when: self.came };
        }
    }
}

impl<'a> EggFold<'_, 'a> {
    fn take(&mut self, fact: &Fact<'a>) {
        self.here_after_all(fact);
        match fact.told() {
            Told::EggCandled(told) => self.looked_at(fact, look_of(fact, told)),
            Told::Moved(told) => self.moved(fact, told),
            Told::EggHeldApart(told) => self.held_apart(fact, told),
            Told::EggLost(told) => self.lost(fact, told),
            Told::EggRemoved(told) => self.removed(fact, told),
            Told::EggOpened(told) => self.opened(fact, told),
            Told::EggHatched(told) => self.hatched(fact, told),
            // Why a consignment leaves is its own word; a case that is in it was sent out.
            Told::House(_) => fact.sends(&self.egg.id).into_iter().for_each(|sent| {
                self.removed(fact, &Left { reason: SENT_OUT.to_owned(), ..sent });
            }),
            Told::EggNote(note) => self.care(fact, note),
            Told::AnimalNote(note) => self.content(fact, note),
            _ => {}
        }
    }

    pub(super) fn find(&mut self, kind: Oddity, seqs: &[u64], says: String) {
        let id = self.egg.id.clone();
        self.found.push(self.view.discrepancy(kind, seqs, [id], says));
    }

    /// The end as it stands, and the note behind it.
    pub(super) fn end(&self) -> Option<(End, u64)> {
        let end = match self.egg.fate {
            // A missing case may be found: it has not ended.
            EggFate::Open | EggFate::Missing { .. } => return None,
            EggFate::PutDown { .. } => End::PutDown,
            EggFate::Hatched { .. } | EggFate::YoungNotFound { .. } => End::Hatch,
            EggFate::Lost { .. } | EggFate::DeadOnArrival { .. } => End::Loss,
            EggFate::Removed { .. } => End::Leaving,
        };
        Some((end, self.seqs.end.or(self.seqs.place).unwrap_or_default()))
    }

    pub(super) fn days(&self, earlier: u64, fact: &Fact<'_>) -> (String, String) {
        let before = self.view.fact(earlier).map_or(fact.time(), |fact| fact.time());
        (self.view.day(before).to_string(), self.view.day(fact.time()).to_string())
    }

    fn no_yolk_at(&mut self, fact: &Fact<'_>) {
        if self.egg.yolk == YolkLook::NotSeen {
            self.seqs.no_yolk = Some(fact.note.seq);
        }
    }

    fn yolk_seen(&mut self, fact: &Fact<'_>) {
        if let (YolkLook::NotSeen, Some(earlier)) = (self.egg.yolk, self.seqs.no_yolk) {
            let (then, now) = self.days(earlier, fact);
            self.find(odd::YOLK_AFTER_NONE, &[earlier, fact.note.seq], format!("No yolk was seen on {then}, and there was one by {now}."));
        }
        self.egg.yolk = YolkLook::Seen;
    }

    /// A look, by whatever means.
    pub(super) fn looked_at(&mut self, fact: &Fact<'a>, look: Look) {
        let alive = look.is_alive();
        self.after_end(fact, alive);
        if let (true, Some(band)) = (look.seen_into, look.band) {
            self.band_seen(fact, band);
        }
        if self.egg.slits_open.is_none() && look.findings.iter().any(|finding| finding == "slits open") {
            self.egg.slits_open = Some(fact.moment());
        }
        self.looked(fact);
        if alive {
            self.alive(fact);
        }
        self.egg.looks.push(look);
    }

    fn after_end(&mut self, fact: &Fact<'a>, alive: bool) {
        let Some((end, earlier)) = self.end() else { return };
        let (then, now) = self.days(earlier, fact);
        let (kind, says) = match (end, alive) {
            (End::Hatch, _) => (odd::CANDLED_AFTER_HATCH, format!("Candled on {now}, after it had hatched on {then}.")),
            (End::Loss, false) => (odd::CANDLED_AFTER_LOSS, format!("Candled on {now}, after it was taken for lost on {then}.")),
            (End::Leaving, false) => (odd::CANDLED_AFTER_LEAVING, format!("Candled on {now}, after it had left on {then}.")),
            (End::Loss, true) => (odd::ALIVE_AFTER_LOSS, format!("Seen alive on {now}, after it was taken for lost on {then}.")),
            (End::PutDown, false) => (odd::TOLD_AFTER_PUT_DOWN, format!("Looked at on {now}, after it was put down on {then}.")),
            (End::PutDown, true) => (odd::ALIVE_AFTER_PUT_DOWN, format!("Seen alive on {now}, after it was put down on {then}.")),
            (End::Leaving, true) => (odd::ALIVE_AFTER_LEAVING, format!("Seen alive here on {now}, after it had left on {then}.")),
        };
        self.find(kind, &[earlier, fact.note.seq], says);
        if alive && end != End::Hatch {
            // A later sighting alive lifts a loss (DOMAIN section 2).
            self.egg.fate = EggFate::Open;
            self.seqs.end = None;
        }
    }

    fn band_seen(&mut self, fact: &Fact<'_>, band: u8) {
        if let (Some(before), Some(earlier)) = (self.egg.band, self.seqs.band)
            && band + 2 <= before
        {
            let (then, now) = self.days(earlier, fact);
            self.find(odd::BAND_BACK, &[earlier, fact.note.seq], format!("Band {before} was seen on {then} and band {band} on {now}."));
        }
        (self.egg.band, self.seqs.band) = (Some(band), Some(fact.note.seq));
        match (band, self.egg.yolk) {
            (0, YolkLook::CouldNotSee) => {
                self.egg.yolk = YolkLook::NotSeen;
                self.no_yolk_at(fact);
            }
            (1.., YolkLook::CouldNotSee | YolkLook::NotSeen) => self.yolk_seen(fact),
            _ => {}
        }
    }

    /// A look, or a finding that set it apart: counts towards the looks before a loss.
    fn looked(&mut self, fact: &Fact<'_>) {
        let day = self.view.day(fact.time());
        if self.seqs.suspect_days.last() != Some(&day) {
            self.seqs.suspect_days.push(day);
        }
        if let (Some(held), Told::EggCandled(_) | Told::EggNote(EggNote::Examined(_))) = (&mut self.egg.held_apart, fact.told()) {
            held.looks_since += 1;
            held.last_look = Some(fact.moment());
        }
    }

    fn alive(&mut self, fact: &Fact<'_>) {
        self.seqs.alive = Some(fact.note.seq);
        self.seqs.suspect_days.clear();
        self.egg.held_apart = None;
        self.egg.embryo_seen_alive.get_or_insert(fact.moment());
        if self.egg.fate == EggFate::Open {
            self.egg.last_seen_alive = Some(fact.moment());
        }
    }

    fn moved(&mut self, fact: &Fact<'a>, told: &Moved) {
        if let Some((_, earlier)) = self.end() {
            let (then, now) = self.days(earlier, fact);
            self.find(odd::CASE_MOVED_AFTER_END, &[earlier, fact.note.seq], format!("Moved on {now}, after its end on {then}."));
        }
        if let (Some(from), Some(place), Some(earlier)) = (&told.from_tank, &self.egg.place, self.seqs.place)
            && *from != place.tank
        {
            let says = format!("Moved out of {}, while the record has it in {}.", self.view.called(from), self.view.called(&place.tank));
            self.find(odd::MOVED_FROM_ELSEWHERE, &[earlier, fact.note.seq], says);
        }
        self.put(fact, &told.to_tank, told.place_note.clone());
    }

    pub(super) fn put(&mut self, fact: &Fact<'_>, tank: &Subject, note: Option<String>) {
        self.egg.place = Some(Place { tank: tank.clone(), note, since: fact.moment() });
        self.seqs.place = Some(fact.note.seq);
        if self.egg.taken_in.is_none() && self.view.takes_cases(tank) {
            self.egg.taken_in = Some(fact.moment());
        }
    }

    fn held_apart(&mut self, fact: &Fact<'a>, told: &EggHeldApart) {
        if let Some((_, earlier)) = self.end() {
            let (then, now) = self.days(earlier, fact);
            self.find(odd::HELD_APART_AFTER_END, &[earlier, fact.note.seq], format!("Held apart on {now}, after its end on {then}."));
            return;
        }
        self.looked(fact);
        let (since, reason) = (fact.moment(), told.reason.clone());
        let look_again_after_hours = told.look_again_after_hours;
        self.egg.held_apart = Some(HeldApart { since, reason, look_again_after_hours, looks_since: 0, last_look: None });
        if let Some(tank) = &told.to_tank {
            self.put(fact, tank, None);
        }
    }

    fn lost(&mut self, fact: &Fact<'a>, told: &EggLost) {
        if let Some((end, earlier)) = self.end() {
            if matches!(self.egg.fate, EggFate::DeadOnArrival { .. }) {
                return;
            }
            let (then, now) = self.days(earlier, fact);
            let (kind, how) = match end {
                End::Hatch => (odd::LOST_AFTER_HATCH, "it had hatched"),
                End::Loss => (odd::LOST_TWICE, "it was taken for lost already"),
                End::Leaving => (odd::LOST_AFTER_LEAVING, "it had left"),
                End::PutDown => (odd::TOLD_AFTER_PUT_DOWN, "it was put down"),
            };
            self.find(kind, &[earlier, fact.note.seq], format!("Taken for lost on {now}, after {how} on {then}."));
            return;
        }
        self.too_few_looks(fact, told);
        let band_last_seen = told.band_last_seen.or(self.egg.band);
        let fate = EggFate::Lost { when: fact.moment(), apparent_cause: told.apparent_cause.clone(), band_last_seen, young: Vec::new() };
        self.ended(fact, fate);
    }

    /// DOMAIN section 2: at least two looks (or what the policy says), a loss on the first only
    /// when plainly dead, with a photo. Looks are counted by local days without a sign of life,
    /// the day of the loss included: several notes of one visit are one look.
    fn too_few_looks(&mut self, fact: &Fact<'_>, told: &EggLost) {
        self.looked(fact);
        let looks = u32::try_from(self.seqs.suspect_days.len()).unwrap_or(u32::MAX);
        let wanted = self.view.policy_at(fact.note.seq).looks_before_loss_min;
        if looks >= wanted || (told.plainly_dead && (looks > 1 || told.photo_sha256.is_some())) {
            return;
        }
        if looks > 1 {
            let says = format!("Taken for lost after {looks} looks; the policy asks for {wanted}.");
            return self.find(odd::LOST_WITH_FEW_LOOKS, &[fact.note.seq], says);
        }
        let missing = if told.plainly_dead { "without a photo" } else { "without being plainly dead" };
        let says = format!("Taken for lost on the first look, {missing}: no movement is not death, look again.");
        self.find(odd::LOST_ON_FIRST_LOOK, &[fact.note.seq], says);
    }

    pub(super) fn ended(&mut self, fact: &Fact<'_>, fate: EggFate) {
        self.egg.fate = fate;
        self.egg.held_apart = None;
        self.seqs.end = Some(fact.note.seq);
    }

    fn removed(&mut self, fact: &Fact<'a>, told: &Left) {
        if let Some((end, earlier)) = self.end() {
            // Each case leaves once, by its first leaving; disposal later changes nothing
            // (DOMAIN section 7).
            let (then, now) = self.days(earlier, fact);
            if end == End::Leaving && self.view.one_leaving(earlier, fact.note.seq) {
                return;
            }
            if end == End::Leaving {
                self.find(odd::LEFT_TWICE, &[earlier, fact.note.seq], format!("Left on {now}, after it had left on {then}."));
            } else if told.alive == LifeState::Alive {
                self.find(odd::LEFT_ALIVE_AFTER_END, &[earlier, fact.note.seq], format!("Left alive on {now}, after its end on {then}."));
            }
            return;
        }
        let fate = EggFate::Removed { when: fact.moment(), reason: told.reason.clone(), to: told.to.clone(), alive: told.alive };
        self.ended(fact, fate);
    }

    fn hatched(&mut self, fact: &Fact<'a>, told: &EggHatched) {
        if let Some(earlier) = self.seqs.hatch {
            let (then, now) = self.days(earlier, fact);
            self.find(odd::HATCHED_TWICE, &[earlier, fact.note.seq], format!("A hatch is noted on {then} and again on {now}."));
        }
        self.dead_with_tank(fact, told);
        let young = told.young.iter().map(|young| Young { animal: young.animal.clone(), alive: young.alive(), event: fact.note.id });
        let young: Vec<Young> = young.collect();
        if young.iter().any(|young| young.alive) {
            self.hatched_alive(fact, told, young);
        } else if young.is_empty() {
            self.found_empty(fact);
        } else {
            self.found_dead(fact, young);
        }
        self.seqs.hatch.get_or_insert(fact.note.seq);
    }

    fn dead_with_tank(&mut self, fact: &Fact<'_>, told: &EggHatched) {
        let dead: Vec<Subject> =
            told.young.iter().filter(|young| !young.alive() && young.tank.is_some()).map(|young| young.animal.clone()).collect();
        if !dead.is_empty() {
            let says = "A young that was dead at the first look is listed with a tank that it was put in.".to_owned();
            let subjects = dead.into_iter().chain([self.egg.id.clone()]);
            self.found.push(self.view.discrepancy(odd::DEAD_YOUNG_WITH_TANK, &[fact.note.seq], subjects, says));
        }
    }

    fn hatched_alive(&mut self, fact: &Fact<'a>, told: &EggHatched, new: Vec<Young>) {
        if self.egg.yolk != YolkLook::Seen {
            self.yolk_seen(fact);
        }
        self.egg.embryo_seen_alive.get_or_insert(fact.moment());
        match (self.end(), &mut self.egg.fate) {
            // Another young of the same case: the first hatch is the case's.
            (_, EggFate::Hatched { young, .. }) => return young.extend(new),
            (Some((End::Hatch, _)), _) | (None, _) => {}
            (Some((end, earlier)), _) => self.hatched_after(fact, end, earlier),
        }
        let (when, how_known) = (fact.moment(), told.how_known.clone());
        self.ended(fact, EggFate::Hatched { when, how_known, after_opening: None, young: new });
    }

    fn hatched_after(&mut self, fact: &Fact<'_>, end: End, earlier: u64) {
        let (then, now) = self.days(earlier, fact);
        let (kind, how) = match end {
            End::Loss => (odd::HATCHED_AFTER_LOSS, "it was taken for lost"),
            End::PutDown => (odd::ALIVE_AFTER_PUT_DOWN, "it was put down"),
            _ => (odd::HATCHED_AFTER_LEAVING, "it had left"),
        };
        self.find(kind, &[earlier, fact.note.seq], format!("Hatched on {now}, after {how} on {then}."));
    }

    fn found_empty(&mut self, fact: &Fact<'_>) {
        if self.end().is_some() {
            return;
        }
        let says = "The case was found empty and no young was found: search the tank and its outflow.".to_owned();
        self.find(odd::YOUNG_NOT_FOUND, &[fact.note.seq], says);
        self.ended(fact, EggFate::YoungNotFound { when: fact.moment(), after_opening: None });
    }

    /// Dead in the case or half out is a lost case, trapped at hatching (DOMAIN section 2).
    fn found_dead(&mut self, fact: &Fact<'_>, new: Vec<Young>) {
        match &mut self.egg.fate {
            EggFate::Hatched { young, .. } | EggFate::Lost { young, .. } => return young.extend(new),
            EggFate::Open => {}
            _ => return,
        }
        let apparent_cause = "trapped at hatching".to_owned();
        self.ended(fact, EggFate::Lost { when: fact.moment(), apparent_cause, band_last_seen: self.egg.band, young: new });
    }
}

fn look_of(fact: &Fact<'_>, told: &EggCandled) -> Look {
    Look {
        when: fact.moment(),
        method: None,
        seen_into: told.seen_into,
        band: told.band,
        movement: told.movement,
        heartbeat: None,
        yolk_fraction: told.yolk_fraction,
        findings: told.findings.clone(),
        eye: told.eye.clone(),
        prompted: told.prompted,
        person: fact.note.person().map(str::to_owned),
    }
}
