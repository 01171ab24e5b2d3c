//! What is known only while a season is played (ids, seqs, hashes, keys), and how it fills the
//! gaps that the season left in its notes.

use crate::season::note::{About, Handle, Known, Planned, ReportPart};
use crate::season::people::{Signer, TRUSTEES};
use crate::season::{Season, calendar};
use selachron_schemas::encoding::base64;
use selachron_schemas::merkle::Hash;
use selachron_schemas::names::{KeyId, Subject};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// The annual report that is being issued.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// The address it was read from.
    pub query: String,
    /// The instant it is about, in the form of F2.
    pub as_of: String,
    /// The tree size it knew.
    pub known_at: u64,
    /// The root of that size, in base64.
    pub root: String,
    /// SHA-256 of its JSON, in hexadecimal.
    pub sha256: String,
    /// What computed it.
    pub software: String,
    /// The time zone database it used.
    pub time_zones: String,
}

/// A note once it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Its id.
    pub id: String,
    /// Its count.
    pub keycount: u32,
    /// SHA-256 of its body.
    pub body_sha256: Hash,
    /// Its seq, once it is recorded.
    pub seq: Option<u64>,
}

/// All that has become known so far.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// Public keys, raw.
    pub keys: BTreeMap<Signer, [u8; 32]>,
    /// Pseudonyms of the root keys' holders.
    pub trustees: BTreeMap<Signer, String>,
    /// The log's verifier key.
    pub log_vkey: String,
    /// Notes that have been written.
    pub written: BTreeMap<Handle, Written>,
    /// The newest version of each subject that the log has told.
    pub versions: BTreeMap<Subject, u32>,
    /// The report that is being issued.
    pub report: Option<Report>,
}

/// A gap that cannot be filled yet: the season asks for something in the wrong order.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the season asks for {0} before it is known")]
pub struct Unknown(String);

impl Facts {
    /// What is known before the first note: keys, pseudonyms, the log's key.
    #[must_use]
    pub fn new(season: &Season, keys: BTreeMap<Signer, [u8; 32]>, log_vkey: String) -> Self {
        let trustees = TRUSTEES.into_iter().map(|trustee| (trustee, season.person(trustee))).collect();
        Self { keys, trustees, log_vkey, ..Self::default() }
    }

    /// The subject of a note.
    ///
    /// # Errors
    /// The key it is about has not been made.
    pub fn subject_of(&self, note: &Planned) -> Result<Subject, Unknown> {
        match &note.about {
            About::Subject(subject) => Ok(subject.clone()),
            About::KeyOf(signer) => Ok(Subject::key(KeyId::of(self.key(*signer)?))),
        }
    }

    /// The whole `data` of a note.
    ///
    /// # Errors
    /// Something it rests on is not known yet.
    pub fn data_of(&self, note: &Planned) -> Result<Map<String, Value>, Unknown> {
        let mut data = note.data.clone();
        for (member, known) in &note.gaps {
            data.insert((*member).to_owned(), self.value(*known)?);
        }
        Ok(data)
    }

    /// The version that the note expects of its subject, if it expects one.
    ///
    /// # Errors
    /// As [`Self::subject_of`].
    pub fn expected(&self, note: &Planned) -> Result<Option<u32>, Unknown> {
        let subject = self.subject_of(note)?;
        Ok(note.expects_newest.then(|| self.versions.get(&subject).copied().unwrap_or(0)))
    }

    fn value(&self, known: Known) -> Result<Value, Unknown> {
        Ok(match known {
            Known::IdOf(handle) => json!(self.written(handle)?.id),
            Known::IdsOf([one, other]) => json!([self.written(one)?.id, self.written(other)?.id]),
            Known::CountOf(handle) => json!(self.written(handle)?.keycount),
            Known::BodyHashOf(handle) => json!(base64(&self.written(handle)?.body_sha256)),
            Known::SeqOf(handle) => json!(self.written(handle)?.seq.ok_or_else(|| Unknown(format!("the seq of note {}", handle.0)))?),
            Known::PublicKeyOf(signer) => json!(base64(self.key(signer)?)),
            Known::RootKeys => self.root_keys()?,
            Known::LogKey => json!(self.log_vkey),
            Known::Report(part) => self.report_part(part)?,
        })
    }

    fn root_keys(&self) -> Result<Value, Unknown> {
        let of = |trustee: &Signer| Ok(json!({"public_key": base64(self.key(*trustee)?), "person": self.trustees.get(trustee)}));
        TRUSTEES.iter().map(of).collect()
    }

    fn report_part(&self, part: ReportPart) -> Result<Value, Unknown> {
        let report = self.report.as_ref().ok_or_else(|| Unknown("the annual report".to_owned()))?;
        Ok(match part {
            ReportPart::Query => json!(report.query),
            ReportPart::AsOf => json!(report.as_of),
            ReportPart::KnownAt => json!(report.known_at),
            ReportPart::Root => json!(report.root),
            ReportPart::Sha256 => json!(report.sha256),
            ReportPart::Software => json!(report.software),
            ReportPart::TimeZones => json!(report.time_zones),
        })
    }

    fn key(&self, signer: Signer) -> Result<&[u8; 32], Unknown> {
        self.keys.get(&signer).ok_or_else(|| Unknown(format!("the key of {}", signer.called())))
    }

    fn written(&self, handle: Handle) -> Result<&Written, Unknown> {
        self.written.get(&handle).ok_or_else(|| Unknown(format!("note {}", handle.0)))
    }
}

/// The address of the annual report that the season issues, over what the log knew at a size.
#[must_use]
pub fn report_query(known_at: u64) -> String {
    let year = calendar::REPORT_YEAR;
    format!("/v1/reports/annual/{year}?as_of={year}-12-31&known_at={known_at}")
}
