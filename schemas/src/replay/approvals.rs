//! Whose signature a note wants beside its author's: by the table of kinds (F19), and by what the
//! house's own policy asks of decisions. Facts never wait.

use super::Replay;
use super::judge::not_permitted;
use super::keys::Role;
use crate::catalogue::{Approval, Kind, Missing, When, catalogue};
use crate::event::Event;
use crate::refusal::{Refusal, Wanted};
use crate::signing::Verified;
use crate::time::Instant;
use serde::Deserialize;
use serde_json::{Map, Value};
use std::collections::BTreeSet;

/// One line of a policy's `approvals`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub(super) struct HouseApproval {
    kind: String,
    roles: Vec<String>,
    persons: u64,
}

fn lines(data: &Map<String, Value>) -> Option<Vec<HouseApproval>> {
    let listed = data.get("approvals")?.as_array()?;
    Some(listed.iter().filter_map(|line| HouseApproval::deserialize(line).ok()).collect())
}

fn roles_of(words: &[String]) -> Vec<Role> {
    words.iter().filter_map(|word| Role::deserialize(&Value::String(word.clone())).ok()).collect()
}

impl Replay {
    /// The newest policy that names approvals replaces the whole list.
    pub(super) fn set_approvals(&mut self, event: &Event) {
        if let Some(lines) = lines(&event.data) {
            self.approvals = lines;
        }
    }

    /// A policy can make decisions wait, and nothing else.
    pub(super) fn check_policy(event: &Event) -> Result<(), Refusal> {
        for (at, line) in lines(&event.data).unwrap_or_default().iter().enumerate() {
            if !catalogue().kind(&line.kind).is_some_and(Kind::may_wait) {
                let place = format!("/data/approvals/{at}/kind");
                let detail = format!("{} is no decision that may wait: what has happened is recorded at once", line.kind);
                return Err(not_permitted(&place, detail));
            }
        }
        Ok(())
    }

    /// Approvals without which a note is refused, by the table and by the house's policy.
    ///
    /// # Errors
    /// `not-permitted`, with all signatures that are wanting.
    pub(super) fn check_approvals(&self, note: &Verified, kind: &Kind, recorded_at: Instant) -> Result<(), Refusal> {
        let table = kind.roles.approval.as_ref().filter(|approval| approval.missing == Missing::Refused);
        let table = table.filter(|approval| self.wants_approval(note, approval));
        let mut wants: Vec<Wanted> = table.into_iter().flat_map(|approval| self.wanting_of_table(note, approval, recorded_at)).collect();
        let by_roots = self.keys().roots().contains_key(&note.event().keyid);
        if !by_roots {
            let house = self.approvals.iter().filter(|line| line.kind == kind.name);
            let persons = |line: &HouseApproval| usize::try_from(line.persons).unwrap_or(usize::MAX);
            wants.extend(house.filter_map(|line| self.wanting(note, &line.roles, persons(line), recorded_at)));
        }
        if wants.is_empty() {
            return Ok(());
        }
        let said: Vec<String> =
            wants.iter().map(|wanted| format!("{} other person(s): {}", wanted.persons, wanted.roles.join(" or "))).collect();
        let detail = format!("{} needs the approval of {}", kind.name, said.join(", and of "));
        Err(not_permitted("", detail).wanting(wants))
    }

    /// What the table's approval still wants: of a decision of several roles, one line for each that
    /// neither the author nor an approver holds, so that nobody is asked who cannot help.
    fn wanting_of_table(&self, note: &Verified, approval: &Approval, recorded_at: Instant) -> Vec<Wanted> {
        let persons = self.wanting(note, &approval.roles, approval.persons, recorded_at);
        if !approval.every_role {
            return persons.into_iter().collect();
        }
        let by_author: Vec<&str> = self.roles_of(&note.event().keyid).iter().map(|role| role.word()).collect();
        let others = approval.roles.iter().filter(|role| !by_author.contains(&role.as_str()));
        let roles = others.filter_map(|role| self.wanting(note, std::slice::from_ref(role), 1, recorded_at));
        let roles: Vec<Wanted> = roles.collect();
        if roles.is_empty() { persons.into_iter().collect() } else { roles }
    }

    /// What is wanting of so many approvers with one of these roles.
    fn wanting(&self, note: &Verified, roles: &[String], persons: usize, recorded_at: Instant) -> Option<Wanted> {
        let have = self.keys().approvers(note, self.size(), recorded_at, &roles_of(roles)).len();
        (have < persons).then(|| Wanted::roles(roles, persons - have))
    }

    /// Whether a note has the approval that its kind wants, or does not need it.
    #[must_use]
    pub fn approved(&self, note: &Verified, approval: &Approval, recorded_at: Instant) -> bool {
        !self.wants_approval(note, approval) || self.wanting(note, &approval.roles, approval.persons, recorded_at).is_none()
    }

    fn wants_approval(&self, note: &Verified, approval: &Approval) -> bool {
        match approval.when {
            None => true,
            Some(When::RegistrarsOwnNote) => self.registrars_own_note(note),
            Some(When::EnrolledByRegistrar) => !self.keys().roots().contains_key(&note.event().keyid),
        }
    }

    /// A registrar is never the only signer of a change to a note of their own.
    fn registrars_own_note(&self, note: &Verified) -> bool {
        let author = note.event().keyid;
        let target = note.event().data.get("target").and_then(Value::as_str).and_then(|id| self.seq_of(id));
        let target_author = target.and_then(|seq| self.past(seq)).map(|past| past.keyid);
        let same_person = target_author.is_some_and(|key| self.keys().person_of(&key) == self.keys().person_of(&author));
        self.roles_of(&author).contains(&Role::Registrar) && same_person
    }

    /// A registrar does not give a further key to themselves alone.
    pub(super) fn check_own_enrolment(&self, note: &Verified, person: &str, recorded_at: Instant) -> Result<(), Refusal> {
        let approval = catalogue().kind(&note.event().kind).and_then(|kind| kind.roles.approval.as_ref());
        let own = self.keys().person_of(&note.event().keyid) == Some(person);
        match approval.filter(|approval| own && self.wants_approval(note, approval)) {
            Some(approval) => match self.wanting(note, &approval.roles, approval.persons, recorded_at) {
                Some(wanted) => {
                    let detail =
                        format!("a registrar's own further key needs the approval of another person: {}", wanted.roles.join(" or "));
                    Err(not_permitted("/data/person", detail).wanting(vec![wanted]))
                }
                None => Ok(()),
            },
            None => Ok(()),
        }
    }

    /// All persons and keys that could give a signature which is wanting: keys in force with one
    /// of the roles, whose person is not the author's.
    #[must_use]
    pub fn possible_approvers(&self, author: &crate::names::KeyId, wants: &[Wanted], recorded_at: Instant) -> BTreeSet<String> {
        let roles: BTreeSet<Role> = wants.iter().flat_map(|wanted| roles_of(&wanted.roles)).collect();
        let author = self.keys().person_of(author);
        let in_force = self.keys().enrolled().filter(|(_, record)| record.in_force(self.size(), recorded_at));
        let able = in_force.filter(|(_, record)| record.roles.iter().any(|role| roles.contains(role)));
        able.map(|(_, record)| record.person.clone()).filter(|person| Some(person.as_str()) != author).collect()
    }
}
