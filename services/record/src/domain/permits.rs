//! The register of permits: what authorities have permitted, as their papers say. It permits nothing and
//! forbids nothing; a use that the paper does not cover is recorded and asked about. And what sources say of
//! the legal status of a species: nothing, until somebody notes it.

use super::discrepancy::{Discrepancy, odd};
use super::house::{every, of};
use super::record::{DueItem, DueWhat};
use super::state::{LegalStatus, Noted, Permit, PermitEnded, PermitRecorded, PermitUsed};
use super::told_house::House;
use super::view::{Fact, View};
use chrono::{Days, NaiveDate};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;

/// So many days before its last day a permit is on the list of what is due: time to ask for another
/// (a convention of this project).
const RENEW_AHEAD: Days = Days::new(60);

impl<'a> View<'a> {
    /// Folds the notes about a permit; nothing where the document is none.
    pub(super) fn fold_permit(&self, id: &Subject) -> (Option<Permit>, Vec<Discrepancy>) {
        let (facts, mut found) = (self.house_facts(id), Vec::new());
        let recorded = facts.iter().find_map(|fact| fact.noted(of!(PermitRecorded)));
        let used: Vec<Noted<PermitUsed>> = every(&facts, of!(PermitUsed)).collect();
        let ended: Option<Noted<PermitEnded>> = every(&facts, of!(PermitEnded)).next();
        let Some(recorded) = recorded else {
            self.of_no_permit(id, &facts, &mut found);
            return (None, found);
        };
        self.closed_twice(id, &facts, |house| matches!(house, House::PermitEnded(_)), &mut found);
        self.odd_uses(id, &facts, &recorded, ended.as_ref(), &mut found);
        let today = self.day(self.as_of());
        let (from, until) = days_of(&recorded.told);
        let state = match (&ended, from, until) {
            (Some(_), ..) => "ended",
            (None, Some(from), _) if today < from => "not yet valid",
            (None, _, Some(until)) if until < today => "past its last day",
            _ => "valid",
        };
        let counts: Vec<Option<u64>> = used.iter().map(|used| self.specimens_taken(used, &recorded.told.species)).collect();
        let used_specimens = counts.iter().flatten().sum();
        let uses_not_counted = counts.iter().filter(|count| count.is_none()).count() as u64;
        let days_left = until.filter(|_| ended.is_none()).map(|until| (until - today).num_days());
        (
            Some(Permit {
                id: id.clone(),
                recorded,
                state,
                days_left,
                used,
                used_specimens,
                uses_not_counted,
                ended,
                discrepancies: Vec::new(),
            }),
            found,
        )
    }

    /// Uses and ends of a document that no note calls a permit.
    fn of_no_permit(&self, id: &Subject, facts: &[Fact<'a>], found: &mut Vec<Discrepancy>) {
        for fact in facts.iter().filter(|fact| matches!(fact.house(), Some(House::PermitUsed(_) | House::PermitEnded(_)))) {
            let says = format!("No note that stands records {} as a permit.", self.called(id));
            found.push(self.discrepancy(odd::NO_PERMIT, &[fact.note.seq], [id.clone()], says));
        }
    }

    fn odd_uses(
        &self,
        id: &Subject,
        facts: &[Fact<'a>],
        recorded: &Noted<PermitRecorded>,
        ended: Option<&Noted<PermitEnded>>,
        found: &mut Vec<Discrepancy>,
    ) {
        let ((from, until), mut total) = (days_of(&recorded.told), 0_u64);
        for fact in facts {
            let Some(used) = fact.noted(of!(PermitUsed)) else { continue };
            let day = self.day(used.when.time);
            let after_end = ended.is_some_and(|ended| ended.when.time < used.when.time);
            if from.is_some_and(|from| day < from) || until.is_some_and(|until| until < day) || after_end {
                let says = format!("The permit {:?} was used on {day}, on which it was not in force.", recorded.told.label);
                found.push(self.discrepancy(odd::PERMIT_NOT_IN_FORCE, &self.seqs(recorded, fact), [id.clone()], says));
            }
            total += self.specimens_taken(&used, &recorded.told.species).unwrap_or(0);
            if let Some(covers) = recorded.told.specimens.map(|count| count.0).filter(|covers| *covers < total) {
                let says = format!("The permit {:?} covers {covers}, and {total} were taken under it by {day}.", recorded.told.label);
                found.push(self.discrepancy(odd::PERMIT_OVERDRAWN, &self.seqs(recorded, fact), [id.clone()], says));
            }
        }
    }

    fn seqs(&self, recorded: &Noted<PermitRecorded>, fact: &Fact<'a>) -> Vec<u64> {
        self.nursery().seq_of(recorded.when.event).into_iter().chain([fact.note.seq]).collect()
    }

    /// All permits, in the order of their ids.
    #[must_use]
    pub fn permits(&self) -> Vec<Permit> {
        self.subjects("document").filter_map(|id| self.permit(id)).collect()
    }

    /// Permits in force, not yet in force or past their last day that end within so many days, those
    /// that end first at the head. One that a note has ended is not among them.
    #[must_use]
    pub fn permits_expiring(&self, within: Days) -> Vec<Permit> {
        let last = self.day(self.as_of()).checked_add_days(within);
        let ends = |permit: &Permit| days_of(&permit.recorded.told).1.filter(|_| permit.ended.is_none());
        let mut found: Vec<(NaiveDate, Permit)> = self
            .permits()
            .into_iter()
            .filter_map(|permit| Some((ends(&permit).filter(|ends| last.is_none_or(|last| *ends <= last))?, permit)))
            .collect();
        found.sort_by(|(a, one), (b, other)| (a, &one.id).cmp(&(b, &other.id)));
        found.into_iter().map(|(_, permit)| permit).collect()
    }

    /// What sources say of a species, by law or convention and first day. What is over never comes back by
    /// itself: after the last day of a newer status the older one holds only if it is noted anew.
    pub(super) fn legal_status(&self, species: &Subject) -> Vec<LegalStatus> {
        let today = self.day(self.as_of());
        let facts = self.house_facts(species);
        let mut all: Vec<LegalStatus> =
            every(&facts, of!(SpeciesStatusNoted)).map(|noted| LegalStatus { noted, in_force: false }).collect();
        // Of two from one day the one noted later counts.
        all.sort_by(|one, other| {
            let order =
                |status: &LegalStatus| (status.noted.told.under.clone(), status.noted.told.valid_from.clone(), status.noted.when.time);
            order(one).cmp(&order(other))
        });
        let begun = |status: &LegalStatus| status.noted.told.valid_from.parse().is_ok_and(|from: NaiveDate| from <= today);
        for at in 0..all.len() {
            let over =
                all[at].noted.told.valid_until.as_ref().and_then(|day| day.parse().ok()).is_some_and(|until: NaiveDate| until < today);
            let followed = all.get(at + 1).is_some_and(|next| next.noted.told.under == all[at].noted.told.under && begun(next));
            all[at].in_force = begun(&all[at]) && !over && !followed;
        }
        all
    }

    /// Permits that want another in time.
    pub(super) fn due_permits(&self, items: &mut Vec<DueItem>) {
        let open = self.subjects("document").filter_map(|id| self.fold_permit(id).0).filter(|permit| permit.ended.is_none());
        for permit in open {
            let Some(until) = days_of(&permit.recorded.told).1 else { continue };
            let Some(from) = until.checked_sub_days(RENEW_AHEAD) else { continue };
            let told = &permit.recorded.told;
            let why = format!("Number {} of {} is valid until {until}; no note ends or renews it.", told.number, told.authority);
            let due_at = Instant::start_of_day(from, self.zone());
            items.push(self.house_item(&permit.id, DueWhat::RenewPermit, due_at, why, &[permit.recorded.when.event]));
        }
    }
}

/// The first and the last day, as far as the paper has them.
fn days_of(told: &PermitRecorded) -> (Option<NaiveDate>, Option<NaiveDate>) {
    let day = |text: &Option<String>| text.as_ref().and_then(|day| day.parse().ok());
    (day(&told.valid_from), day(&told.valid_until))
}
