//! Keys, and the counts of their notes (F11, F12).

use super::discrepancy::{Discrepancy, odd};
use super::record::Key;
use super::told::{Abandoned, KeyEnrolled, Told};
use super::view::View;
use selachron_schemas::limits::GAP_HOURS;
use selachron_schemas::names::{KeyId, Subject};
use selachron_schemas::replay::keys::key_of;
use selachron_schemas::time::HOUR_MS;
use std::collections::BTreeSet;

impl View<'_> {
    /// An enrolled key, or a root key that a founding or replacing note names.
    #[must_use]
    pub fn key(&self, subject: &Subject) -> Option<Key> {
        let keyid = key_of(subject)?;
        let enrolled = self.creations_by_position(subject).find_map(|seq| Some((seq, self.enrolment(seq)?)));
        match enrolled {
            Some((seq, told)) => Some(self.enrolled_key(subject, keyid, seq, told)),
            None => self.root_key(subject, keyid),
        }
    }

    /// All keys, root keys first, then in order of enrolment.
    #[must_use]
    pub fn keys(&self) -> Vec<Key> {
        let roots: BTreeSet<Subject> = self.root_keys().map(|(_, keyid, _)| Subject::key(keyid)).collect();
        let mut enrolled: Vec<Key> = self.subjects("key").filter_map(|subject| self.key(subject)).collect();
        enrolled.sort_by_key(|key| key.enrolled_seq);
        roots.iter().filter_map(|subject| self.key(subject)).chain(enrolled).collect()
    }

    fn creations_by_position(&self, subject: &Subject) -> impl Iterator<Item = u64> + '_ {
        let mentions = self.nursery().index().mentions.get(subject);
        let seqs = mentions.into_iter().flat_map(|mentions| mentions.creations.iter().map(|mention| mention.seq));
        seqs.filter(|seq| *seq < self.known_at())
    }

    fn enrolment(&self, seq: u64) -> Option<&KeyEnrolled> {
        match self.nursery().note(seq).written().map(|written| &*written.told) {
            Some(Told::KeyEnrolled(told)) => Some(told),
            _ => None,
        }
    }

    fn enrolled_key(&self, subject: &Subject, keyid: KeyId, seq: u64, told: &KeyEnrolled) -> Key {
        let revoked_seq = self.revocation(subject);
        let (notes, keycount_max) = self.counts(keyid);
        let suspicions = self.nursery().index().suspicions.get(&keyid).into_iter().flatten();
        Key {
            id: subject.clone(),
            person: told.person.clone(),
            roles: told.roles.iter().map(|role| role.word()).collect(),
            device: Some(told.device.clone()),
            enrolled_seq: seq,
            valid_until: told.valid_until,
            revoked_seq,
            suspected_since: suspicions.filter(|(seq, _)| *seq < self.known_at()).map(|(_, since)| *since).min(),
            in_force: revoked_seq.is_none() && told.valid_until.is_none_or(|until| self.as_of() <= until),
            notes,
            keycount_max,
            discrepancies: self.counts_missing(keyid),
        }
    }

    fn root_key(&self, subject: &Subject, keyid: KeyId) -> Option<Key> {
        let (enrolled_seq, _, person) = self.root_keys().find(|(_, root, _)| *root == keyid)?;
        let newest = self.root_keys().map(|(seq, _, _)| seq).max();
        let (notes, keycount_max) = self.counts(keyid);
        Some(Key {
            id: subject.clone(),
            person,
            roles: vec!["root"],
            device: None,
            enrolled_seq,
            valid_until: None,
            revoked_seq: None,
            suspected_since: None,
            in_force: self.root_keys().any(|(seq, root, _)| root == keyid && Some(seq) == newest),
            notes,
            keycount_max,
            discrepancies: self.counts_missing(keyid),
        })
    }

    /// Seq, key and person of every root key that was ever named, in seq order.
    fn root_keys(&self) -> impl Iterator<Item = (u64, KeyId, String)> + '_ {
        let known = self.nursery().index().roots.iter().copied().filter(|seq| *seq < self.known_at());
        known.flat_map(|seq| {
            let told = match self.nursery().note(seq).written().map(|written| &*written.told) {
                Some(Told::RootKeys(told)) => &told.root_keys[..],
                _ => &[],
            };
            told.iter().filter_map(move |root| Some((seq, root.keyid()?, root.person.clone())))
        })
    }

    fn revocation(&self, subject: &Subject) -> Option<u64> {
        let notes = self.nursery().index().mentions.get(subject)?.notes.iter().map(|mention| mention.seq);
        notes.filter(|seq| *seq < self.known_at()).find(|seq| self.nursery().note(*seq).kind == "key.revoked.v1")
    }

    fn counts(&self, keyid: KeyId) -> (u64, u32) {
        let counts = self.nursery().index().counts.get(&keyid).into_iter().flatten();
        counts.fold((0, 0), |(notes, max), (count, seqs)| {
            let known = seqs.iter().filter(|seq| **seq < self.known_at()).count() as u64;
            if known == 0 { (notes, max) } else { (notes + known, *count) }
        })
    }

    /// Counts that are missing for GAP_HOURS while a higher one is recorded (F12): one discrepancy
    /// for each run of missing counts, resting on the first note recorded with a higher count. It
    /// ends by itself once they arrive, or a `note.abandoned` accounts for them.
    #[must_use]
    pub fn counts_missing(&self, keyid: KeyId) -> Vec<Discrepancy> {
        let Some(counts) = self.nursery().index().counts.get(&keyid) else { return Vec::new() };
        let abandoned = self.abandoned(keyid);
        let mut found = Vec::new();
        // From the highest count down: the first note with a higher count is known at each step.
        let mut first_above: Option<u64> = None;
        let mut above: Option<u32> = None;
        let taken = counts.iter().filter_map(|(count, seqs)| Some((*count, seqs.iter().copied().find(|seq| *seq < self.known_at())?)));
        let taken: Vec<(u32, u64)> = taken.collect();
        for (count, seq) in taken.into_iter().rev().chain([(0, u64::MAX)]) {
            if let (Some(above), Some(first)) = (above, first_above) {
                let missing: Vec<u32> = (count + 1..above).filter(|missing| !abandoned.contains(missing)).collect();
                found.extend(self.gap(keyid, &missing, first));
            }
            above = Some(count);
            first_above = Some(first_above.map_or(seq, |first| first.min(seq)));
        }
        found
    }

    fn gap(&self, keyid: KeyId, missing: &[u32], first: u64) -> Option<Discrepancy> {
        let (low, high) = (missing.first()?, missing.last()?);
        let note = self.nursery().note(first);
        if self.as_of().0.saturating_sub(note.recorded_at.0) < GAP_HOURS * HOUR_MS {
            return None;
        }
        let which = if low == high { format!("The count {low}") } else { format!("{} counts from {low} to {high}", missing.len()) };
        let says = format!("{which} of key {keyid} did not arrive within {GAP_HOURS} hours of a higher one.");
        Some(self.discrepancy(odd::COUNT_MISSING, &[first], [Subject::key(keyid)], says))
    }

    fn abandoned(&self, keyid: KeyId) -> BTreeSet<u32> {
        let listed = self.nursery().index().abandoned.get(&keyid).into_iter().flatten();
        let told = listed.filter_map(|seq| match self.fact(*seq)?.told() {
            Told::Abandoned(Abandoned { keycount }) => *keycount,
            _ => None,
        });
        told.collect()
    }
}
