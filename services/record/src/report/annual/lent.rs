//! A group by ownership: those lent out are in it, guests are not. Its changes are put so that its numbers
//! are their sum, as by presence.
//!
//! No note tells that some of a group came back from a loan. Those that a loan gave back stay ours; they are
//! counted here again by the next full count, or by a count before the loan's end that found more than the
//! record had, or as another group of their species that came from elsewhere since they had left. From then
//! on they are not counted a second time.

use super::stock::{Basis, Cell};
use super::title::{Loans, Title, Turn};
use crate::domain::state::{Counts, Group, GroupChange, Moment};
use selachron_schemas::time::Instant;
use std::borrow::Cow;

/// A change by ownership: some died elsewhere.
pub(super) const DIED_ON_LOAN: &str = "died on loan";
/// A change by ownership: some are ours, or ours again, and were not before.
pub(super) const BACK: &str = "ours";

/// The group without guests and with those lent out, which is ours.
pub(super) fn by_ownership<'g>(group: &'g Group, title: &Title<'_>, loans: &Loans) -> Cow<'g, Group> {
    let lent = |change: &GroupChange| change.what == "departed" && title.lends(change.when.time, change.why.as_deref().unwrap_or_default());
    let guests = |change: &GroupChange| guest(change, loans).is_some();
    if !group.changes.iter().any(|change| lent(change) || guests(change)) {
        return Cow::Borrowed(group);
    }
    let (left, here): (Vec<GroupChange>, Vec<GroupChange>) = group.changes.iter().cloned().partition(lent);
    let (joined, mut changes): (Vec<GroupChange>, Vec<GroupChange>) = here.into_iter().partition(guests);
    let leavings: Vec<Instant> = left.iter().map(|change| change.when.time).collect();
    for change in &left {
        let turns = title.turns(change.when.time, title.lent_anew(change.when.time, &leavings));
        changes.extend(became_of(group, change, &turns, loans));
    }
    changes.sort_by_key(|change| change.when.time);
    joined.iter().for_each(|change| without_guest(&mut changes, change, loans));
    changes.sort_by_key(|change| change.when.time);
    let counts = changes.iter().fold(Counts::default(), |sum, change| sum.and(change.change, |sum, more| sum + more));
    Cow::Owned(Group { changes, counts, ..group.clone() })
}

fn told(when: Moment, what: &'static str, change: Counts) -> GroupChange {
    GroupChange { when, what, change, with: None, left_out: None, why: None, how_known: None }
}

fn negative(counts: Counts) -> Counts {
    Counts::default().and(counts, |nought, count| nought - count)
}

/// What became of some that were lent out, until they are counted here again.
fn became_of(group: &Group, lent: &GroupChange, turns: &[(Moment, Turn)], loans: &Loans) -> Vec<GroupChange> {
    let mut changes = Vec::new();
    for (at, (when, turn)) in turns.iter().enumerate() {
        match turn {
            Turn::Gone => changes.push(told(*when, "departed", lent.change)),
            Turn::Regained => changes.push(told(*when, BACK, negative(lent.change))),
            Turn::Died => changes.push(told(*when, DIED_ON_LOAN, lent.change)),
            Turn::Renewed => {}
            Turn::Returned => {
                let next = turns.get(at + 1).map(|(next, _)| next.time);
                let here = here_again(group, lent.when.time, *when, loans).filter(|here| next.is_none_or(|next| here.time < next));
                if let Some(here) = here {
                    changes.push(told(here, "recount", lent.change));
                    break;
                }
            }
        }
    }
    changes
}

/// When those that a loan gave back, having left then, are counted among those here.
fn here_again(group: &Group, left: Instant, ended: Moment, loans: &Loans) -> Option<Moment> {
    let counts = group.full_counts.iter().copied().filter(|count| ended.time <= count.time);
    let found_more = group.changes.iter().filter(|change| change.what == "recount" && change.change.total() > 0);
    let shown = counts.chain(found_more.map(|change| change.when)).chain(loans.received_of(group)).filter(|shown| left < shown.time);
    let known = shown.map(|shown| if shown.time < ended.time { ended } else { shown });
    known.min_by_key(|known| (known.time, known.event))
}

/// Whose they are that joined the group and are not ours.
fn guest<'l>(change: &'l GroupChange, loans: &'l Loans) -> Option<Title<'l>> {
    let joined = change.with.as_ref().filter(|_| ["put in", "merged in"].contains(&change.what))?;
    let title = Title::of(joined, Basis::Ownership, loans);
    (!title.counts(change.when.time)).then_some(title)
}

/// A guest is ours once it is given to us. Where its loan ended otherwise, the last death or leaving until
/// then that may be its own is, or else the first after.
fn without_guest(changes: &mut Vec<GroupChange>, joined: &GroupChange, loans: &Loans) {
    let Some(title) = guest(joined, loans) else { return };
    if let Some(given) = title.given_to_us() {
        return changes.push(told(given, BACK, joined.change));
    }
    let Some((ended, died)) = title.no_more_lent_to_us() else { return };
    let what = if died { "died" } else { "departed" };
    let may_be =
        |change: &GroupChange| change.what == what && joined.when.time <= change.when.time && negative(change.change).holds(joined.change);
    let at = changes.iter().rposition(|change| may_be(change) && change.when.time <= ended);
    if let Some(own) = at.or_else(|| changes.iter().position(may_be)).map(|at| &mut changes[at]) {
        own.change = own.change.and(joined.change, |all, guest| all + guest);
    }
}

/// When loans ended on which some of a group died, and how many of each class.
pub(super) fn group_died_on_loan(group: &Group, title: &Title<'_>, loans: &Loans) -> Vec<(Moment, Cell)> {
    let died = |change: &GroupChange| (change.what == DIED_ON_LOAN).then(|| (change.when, Cell::default().less(change.change.into())));
    if title.is_ours() { by_ownership(group, title, loans).changes.iter().filter_map(died).collect() } else { Vec::new() }
}
