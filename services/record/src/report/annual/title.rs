//! Whose an animal or a group is, by the loans that name it (DOMAIN section 7: loans change presence,
//! not ownership). Whatever comes out of a lent group is lent as well.

use super::stock::Basis;
use crate::domain::state::{Animal, AnimalFate, AnimalOrigin, Group, LifeState, Loan, LoanEnded, Moment, Noted};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::collections::BTreeMap;

/// Loans by what they name, and out of which group somebody came.
#[derive(Debug, Clone, Default)]
pub struct Loans {
    /// By id.
    pub(super) all: Vec<Loan>,
    by_thing: BTreeMap<Subject, Vec<usize>>,
    /// A group that was split off, or an animal that was told apart: out of which, and when.
    out_of: BTreeMap<Subject, (Subject, Instant)>,
    /// Groups that came from elsewhere: which, of what species, and when.
    received: Vec<(Subject, Option<Subject>, Moment)>,
}

/// A loan of something, by the name that it has there.
#[derive(Clone, Copy)]
struct Named<'l> {
    loan: &'l Loan,
    thing: &'l Subject,
    id: &'l Subject,
}

impl<'l> Named<'l> {
    fn agreed(self) -> Moment {
        self.loan.agreed.when
    }

    /// How it ended for it, or else for what it came out of.
    fn end(self) -> Option<&'l Noted<LoanEnded>> {
        let names = |end: &&Noted<LoanEnded>, id: &Subject| end.told.which.is_empty() || end.told.which.iter().any(|thing| thing.0 == *id);
        let ended = || self.loan.ended.iter();
        ended().find(|end| names(end, self.id)).or_else(|| ended().find(|end| names(end, self.thing)))
    }

    fn runs_at(self, time: Instant) -> bool {
        self.agreed().time <= time && self.end().is_none_or(|end| time <= end.when.time)
    }
}

impl Loans {
    /// Loans agreed until some instant, with the groups and animals of then.
    pub(super) fn new(all: Vec<Loan>, groups: &[Group], animals: &[Animal]) -> Self {
        let mut by_thing: BTreeMap<Subject, Vec<usize>> = BTreeMap::new();
        for (at, loan) in all.iter().enumerate() {
            for thing in &loan.agreed.told.which {
                by_thing.entry(thing.0.clone()).or_default().push(at);
            }
        }
        let split = groups.iter().filter_map(|group| Some((group.id.clone(), (group.split_from.clone()?, group.formed.time))));
        let apart = animals.iter().filter_map(|animal| match &animal.origin {
            AnimalOrigin::ToldApart { group, told, .. } => Some((animal.id.clone(), (group.clone(), told.time))),
            _ => None,
        });
        let received = groups.iter().filter(|group| group.came == "received");
        let received = received.map(|group| (group.id.clone(), group.species.clone(), group.formed)).collect();
        Self { all, by_thing, out_of: split.chain(apart).collect(), received }
    }

    /// The loans of that direction that name it; where none does, those that named the group of which it
    /// came when it did.
    fn naming<'l>(&'l self, id: &'l Subject, direction: &str) -> Vec<Named<'l>> {
        let (mut thing, mut until) = (id, None::<Instant>);
        // Notes put right may name groups in a ring.
        for _ in 0..=self.out_of.len() {
            let named = self.by_thing.get(thing).into_iter().flatten().map(|at| Named { loan: &self.all[*at], thing, id });
            let in_time = |named: &Named<'_>| until.is_none_or(|until| named.agreed().time <= until);
            let found: Vec<_> = named.filter(|named| named.loan.agreed.told.direction == direction && in_time(named)).collect();
            let Some((group, came)) = self.out_of.get(thing).filter(|_| found.is_empty()) else { return found };
            until = Some(until.map_or(*came, |until| until.min(*came)));
            thing = group;
        }
        Vec::new()
    }

    /// Whether it is one of these, or came out of one, however often that was split.
    pub(super) fn is_of(&self, id: &Subject, things: &[&Subject]) -> bool {
        let mut source = id;
        for _ in 0..=self.out_of.len() {
            if things.contains(&source) {
                return true;
            }
            let Some((group, _)) = self.out_of.get(source) else { return false };
            source = group;
        }
        false
    }

    /// Those that came out of a group.
    pub(super) fn came_out(&self) -> impl Iterator<Item = &Subject> {
        self.out_of.keys()
    }

    /// When groups of that species came from elsewhere that are ours.
    pub(super) fn received_of<'l>(&'l self, group: &'l Group) -> impl Iterator<Item = Moment> + 'l {
        let alike = self.received.iter().filter(|(id, species, _)| *id != group.id && *species == group.species);
        alike.filter(|(id, ..)| Title::of(id, Basis::Ownership, self).is_ours()).map(|(.., when)| *when)
    }
}

/// Whose something is, on one of the two bases.
pub(super) struct Title<'l> {
    out: Vec<Named<'l>>,
    by_loans: bool,
    since: Since,
}

/// Since when it is counted.
#[derive(Clone, Copy, PartialEq)]
enum Since {
    /// From its coming on.
    Coming,
    /// It was lent to us and then given for good.
    Gift(Moment),
    /// It is another's, by a loan of that moment; when that ended, and whether with its death.
    Never(Moment, Option<(Instant, bool)>),
}

/// What loans made of one that is away.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Turn {
    /// It was given back, by the note of the loan.
    Returned,
    /// After that another loan was agreed.
    Renewed,
    /// It is another's now, or is not expected back.
    Gone,
    /// After that a loan says that it is ours all the same.
    Regained,
    /// It died on loan.
    Died,
}

/// Whether it is another's, or dead, after all these.
pub(super) fn is_gone(turns: &[(Moment, Turn)]) -> bool {
    matches!(turns.last(), Some((_, Turn::Gone | Turn::Died)))
}

impl<'l> Title<'l> {
    /// By the loans agreed so far; on the basis of presence they change nothing.
    pub(super) fn of(id: &'l Subject, basis: Basis, loans: &'l Loans) -> Self {
        let by_loans = basis == Basis::Ownership && !loans.all.is_empty();
        let naming = |direction: &str| if by_loans { loans.naming(id, direction) } else { Vec::new() };
        let lent_in = naming("in").into_iter().max_by_key(|named| named.agreed().time);
        let since = lent_in.map_or(Since::Coming, |named| match named.end() {
            Some(end) if end.told.how == "given for good" => Since::Gift(end.when),
            end => Since::Never(named.agreed(), end.map(|end| (end.when.time, end.told.how == "died on loan"))),
        });
        Self { out: naming("out"), by_loans: basis == Basis::Ownership, since }
    }

    /// Whether it is counted at all on this basis.
    pub(super) fn is_ours(&self) -> bool {
        !matches!(self.since, Since::Never(..))
    }

    /// When it became another's without leaving: it is lent to us since.
    pub(super) fn lent_to_us(&self) -> Option<Instant> {
        match self.since {
            Since::Never(when, _) => Some(when.time),
            _ => None,
        }
    }

    /// When the loan ended by which it was lent to us, and whether with its death.
    pub(super) fn no_more_lent_to_us(&self) -> Option<(Instant, bool)> {
        match self.since {
            Since::Never(_, ended) => ended,
            _ => None,
        }
    }

    /// When it was given to us for good.
    pub(super) fn given_to_us(&self) -> Option<Moment> {
        match self.since {
            Since::Gift(when) => Some(when),
            _ => None,
        }
    }

    /// Whether what happened then happened to what was ours.
    pub(super) fn counts(&self, time: Instant) -> bool {
        match self.since {
            Since::Coming => true,
            Since::Gift(when) => when.time <= time,
            Since::Never(..) => false,
        }
    }

    /// Whether a leaving of that moment was a loan. Of what came out of a lent group its own note says so:
    /// a part may be sold.
    pub(super) fn lends(&self, when: Instant, reason: &str) -> bool {
        let own = |named: &&Named<'_>| named.thing == named.id;
        self.by_loans && (reason == "loan" || self.out.iter().filter(own).any(|named| named.runs_at(when)))
    }

    /// What loans made of what left then and came back then, in order of time. The newest end holds, unless
    /// a loan runs that was agreed later.
    pub(super) fn turns(&self, left: Instant, back: Option<Instant>) -> Vec<(Moment, Turn)> {
        let away = |time: Instant| left <= time && back.is_none_or(|back| time < back);
        let agreed = self.out.iter().filter(|named| left < named.agreed().time).map(|named| (named.agreed(), *named, None));
        let ended = self.out.iter().filter_map(|named| named.end().map(|end| (end.when, *named, Some(end.told.how.as_str()))));
        let mut told: Vec<_> = agreed.chain(ended).filter(|(when, ..)| away(when.time)).collect();
        told.sort_by_key(|(when, _, how)| (when.time, how.is_some()));
        let mut turns: Vec<(Moment, Turn)> = Vec::new();
        told.retain(|(when, named, how)| how.is_none() || !self.runs_later(*named, when.time));
        for (when, _, how) in told {
            let next = next_turns(turns.last().map(|(_, turn)| *turn), how);
            turns.extend(next.iter().map(|turn| (when, *turn)));
        }
        turns
    }

    fn runs_later(&self, than: Named<'_>, time: Instant) -> bool {
        let is_later = |one: Named<'_>| (one.agreed().time, one.agreed().event) > (than.agreed().time, than.agreed().event);
        let runs = |one: Named<'_>| one.agreed().time <= time && one.end().is_none_or(|end| time < end.when.time);
        self.out.iter().any(|one| is_later(*one) && runs(*one))
    }

    /// When the first loan was agreed after that leaving under which others of these left: it says nothing of
    /// those who had left before.
    pub(super) fn lent_anew(&self, left: Instant, leavings: &[Instant]) -> Option<Instant> {
        let anew = |named: &&Named<'_>| left < named.agreed().time && leavings.iter().any(|time| named.runs_at(*time));
        self.out.iter().filter(anew).map(|named| named.agreed().time).min()
    }

    /// Whether an animal of that fate is in the stock on this basis.
    pub(super) fn holds(&self, fate: &AnimalFate) -> bool {
        match fate {
            AnimalFate::Present => self.is_ours(),
            AnimalFate::Departed { when, reason, alive, .. } if *alive != LifeState::Dead => {
                self.is_ours() && self.lends(when.time, reason) && !is_gone(&self.turns(when.time, None))
            }
            _ => false,
        }
    }
}

/// What follows from a loan that was agreed, or ended in that way, after the last turn.
fn next_turns(last: Option<Turn>, how: Option<&str>) -> &'static [Turn] {
    match (last, how) {
        (Some(Turn::Died), _) => &[],
        (Some(Turn::Gone), None) => &[Turn::Regained],
        (Some(Turn::Returned), None) => &[Turn::Renewed],
        (_, None) => &[],
        (Some(Turn::Gone), Some("returned")) => &[Turn::Regained, Turn::Returned],
        (Some(Turn::Gone), Some("died on loan")) => &[Turn::Regained, Turn::Died],
        (_, Some("returned")) => &[Turn::Returned],
        (_, Some("died on loan")) => &[Turn::Died],
        (Some(Turn::Gone), Some(_)) => &[],
        (_, Some(_)) => &[Turn::Gone],
    }
}
