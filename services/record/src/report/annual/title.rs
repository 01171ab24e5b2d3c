//! Whose an animal or a group is, by the loans that name it (DOMAIN section 7: loans change presence,
//! not ownership).

use super::stock::Basis;
use crate::domain::state::{AnimalFate, LifeState, Loan, LoanEnded, Moment, Noted};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;

/// Whose something is, on one of the two bases.
pub(super) struct Title<'l> {
    out: Vec<&'l Loan>,
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
    /// It is another's, by a loan of that moment.
    Never(Moment),
}

/// How a loan ended for one that was lent out.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Ending {
    /// It died on loan.
    Died,
    /// It is another's now, or is not expected back.
    Gone,
}

fn ends<'l>(loan: &'l Loan, id: &Subject) -> Option<&'l Noted<LoanEnded>> {
    loan.ended.iter().find(|end| end.told.which.is_empty() || end.told.which.iter().any(|thing| thing.0 == *id))
}

impl<'l> Title<'l> {
    /// By the loans agreed so far; on the basis of presence they change nothing.
    pub(super) fn of(id: &Subject, basis: Basis, loans: &'l [Loan]) -> Self {
        let by_loans = basis == Basis::Ownership;
        let named = loans.iter().filter(|loan| by_loans && loan.agreed.told.which.iter().any(|thing| thing.0 == *id));
        let (lent_in, out): (Vec<&Loan>, Vec<&Loan>) = named.partition(|loan| loan.agreed.told.direction == "in");
        let since = lent_in.iter().max_by_key(|loan| loan.agreed.when.time).map_or(Since::Coming, |loan| match ends(loan, id) {
            Some(end) if end.told.how == "given for good" => Since::Gift(end.when),
            _ => Since::Never(loan.agreed.when),
        });
        Self { out, by_loans, since }
    }

    /// Whether it is counted at all on this basis.
    pub(super) fn is_ours(&self) -> bool {
        !matches!(self.since, Since::Never(_))
    }

    /// When it became another's without leaving: it is lent to us since.
    pub(super) fn lent_to_us(&self) -> Option<Instant> {
        match self.since {
            Since::Never(when) => Some(when.time),
            _ => None,
        }
    }

    /// When it was given to us for good.
    pub(super) fn given_to_us(&self) -> Option<Instant> {
        match self.since {
            Since::Gift(when) => Some(when.time),
            _ => None,
        }
    }

    /// Whether what happened then happened to what was ours.
    pub(super) fn counts(&self, time: Instant) -> bool {
        match self.since {
            Since::Coming => true,
            Since::Gift(when) => when.time <= time,
            Since::Never(_) => false,
        }
    }

    /// Whether a leaving of that moment was a loan.
    pub(super) fn lends(&self, id: &Subject, when: Instant, reason: &str) -> bool {
        let agreed = |loan: &&Loan| loan.agreed.when.time <= when && ends(loan, id).is_none_or(|end| when <= end.when.time);
        self.by_loans && (reason == "loan" || self.out.iter().any(agreed))
    }

    /// How a loan ended under which it left then, where that changes whose it is. Of one that came back
    /// the note of its return tells.
    pub(super) fn ended(&self, id: &Subject, left: Instant) -> Option<(Moment, Ending)> {
        let ends = self.out.iter().filter_map(|loan| ends(loan, id)).filter(|end| left <= end.when.time);
        let end = ends.min_by_key(|end| end.when.time)?;
        match end.told.how.as_str() {
            "returned" => None,
            "died on loan" => Some((end.when, Ending::Died)),
            _ => Some((end.when, Ending::Gone)),
        }
    }

    /// Whether an animal of that fate is in the stock on this basis.
    pub(super) fn holds(&self, id: &Subject, fate: &AnimalFate) -> bool {
        match fate {
            AnimalFate::Present => self.is_ours(),
            AnimalFate::Departed { when, reason, alive, .. } if *alive != LifeState::Dead => {
                self.is_ours() && self.lends(id, when.time, reason) && self.ended(id, when.time).is_none()
            }
            _ => false,
        }
    }
}
