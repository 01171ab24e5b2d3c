//! All figures of one table of animals, as they are printed.

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use super::lineage::Pedigree;
use super::pairing::Pair;
use super::refusal::Refusal;
use super::retention::{Drops, Method, Retention};
use super::row::Row;
use crate::reason::Reason;

/// Numbers by id, kept and printed in the order of the rows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ById(pub Vec<(String, f64)>);

impl ById {
    /// The number of one id.
    pub fn get(&self, id: &str) -> Option<f64> {
        self.0.iter().find(|(known, _)| known == id).map(|(_, number)| *number)
    }
}

/// Travels as one object, `{id: number}`.
impl Serialize for ById {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (id, number) in &self.0 {
            map.serialize_entry(id, number)?;
        }
        map.end()
    }
}

/// What is wanted beside what is always given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// The table of living males and females.
    pub pairs: bool,
    /// The kinship of all with all.
    pub kinship: bool,
    /// How genes are dropped if they must be.
    pub drops: Drops,
}

/// The population in numbers; `None` where there is none, and a sentence in the notes says why.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Animals in the table.
    pub n: usize,
    /// How many of them live.
    pub living: usize,
    /// MK, self included.
    pub mean_kinship: Option<f64>,
    /// `1 - MK`.
    pub gene_diversity: Option<f64>,
    /// `1/(2 MK)` (Lacy 1995).
    pub fge_from_mean_kinship: Option<f64>,
    /// `1/sum(p^2/r)` (Lacy 1989).
    pub fge_by_retention: Option<f64>,
    /// `f_e`.
    pub effective_founders: Option<f64>,
    /// `f_a`.
    pub effective_ancestors: Option<f64>,
    /// The part of the living's genes traced to founders with a row.
    pub known_fraction: Option<f64>,
}

/// All figures of a table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figures {
    /// Inbreeding of every animal.
    #[serde(rename = "F")]
    pub inbreeding: ById,
    /// Mean kinship of every living animal with the living.
    pub mean_kinship: ById,
    /// The population.
    pub summary: Summary,
    /// Founders and their expected shares in the living; empty when nobody lives.
    pub founder_contribution: ById,
    /// Lines and columns in the order of the rows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kinship: Option<Vec<Vec<f64>>>,
    /// Living males with living females.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pairs: Option<Vec<Pair>>,
    /// What a reader must know.
    pub notes: Vec<String>,
}

/// Computes everything for a table.
///
/// # Errors
/// As for [`Pedigree::new`]; [`Refusal::TableTooLarge`] for tables of pairs.
pub fn figures(rows: &[Row], wanted: Wanted) -> Result<Figures, Refusal> {
    let pedigree = Pedigree::new(rows)?;
    let kinship = wanted.kinship.then(|| pedigree.kinship_table()?.lines()).transpose()?;
    let pairs = wanted.pairs.then(|| pedigree.pairs()).transpose()?;
    let mut notes = Notes::default();
    let summary = summary(&pedigree, wanted.drops, &mut notes);
    conventions(&pedigree, pairs.is_some(), &mut notes);
    let ids = |values: Vec<f64>| pedigree.ids().iter().cloned().zip(values).collect::<Vec<_>>();
    let means = pedigree.mean_kinship().unwrap_or_default();
    let living = pedigree.living();
    let mean = |row: &usize| means.get(*row).map(|mean| (pedigree.ids()[*row].clone(), *mean));
    let founders = pedigree.founders().unwrap_or_default();
    Ok(Figures {
        inbreeding: ById(ids(pedigree.inbreeding())),
        mean_kinship: ById(living.iter().filter_map(mean).collect()),
        summary,
        founder_contribution: ById(founders.into_iter().map(|f| (f.id, f.contribution)).collect()),
        kinship,
        pairs,
        notes: notes.0,
    })
}

/// Sentences, each once.
#[derive(Default)]
struct Notes(Vec<String>);

impl Notes {
    fn add(&mut self, sentence: String) {
        if !self.0.contains(&sentence) {
            self.0.push(sentence);
        }
    }

    /// The value, or nothing and a note.
    fn value<T>(&mut self, what: &str, found: Result<T, Reason>) -> Option<T> {
        found.map_err(|reason| self.add(format!("{what}: {reason}"))).ok()
    }
}

fn summary(pedigree: &Pedigree, drops: Drops, notes: &mut Notes) -> Summary {
    let mean = notes.value("summary", pedigree.population_mean_kinship());
    // Nobody lives: one note says so for all.
    let told = |notes: &mut Notes| mean.is_some().then(|| further(pedigree, drops, notes));
    let (retention, ancestors) = told(notes).unwrap_or_default();
    Summary {
        n: pedigree.len(),
        living: pedigree.living().len(),
        mean_kinship: mean,
        gene_diversity: mean.map(|mean| 1.0 - mean),
        fge_from_mean_kinship: mean.map(|mean| 1.0 / (2.0 * mean)),
        fge_by_retention: retention,
        effective_founders: pedigree.effective_founders().ok(),
        effective_ancestors: ancestors,
        known_fraction: pedigree.known_fraction().ok(),
    }
}

fn further(pedigree: &Pedigree, drops: Drops, notes: &mut Notes) -> (Option<f64>, Option<f64>) {
    let retention = notes.value("fge_by_retention", pedigree.retention(drops));
    retention.iter().for_each(|found| tell_retention(found, notes));
    let ancestry = notes.value("effective_ancestors", pedigree.effective_ancestors());
    if ancestry.as_ref().is_some_and(|found| found.generations_mixed) {
        notes.add(
            "effective_ancestors: some of the living are ancestors of others, so it can exceed effective_founders; \
             mark one cohort as living to compare the two"
                .to_owned(),
        );
    }
    notes.add("effective_ancestors: ties go to the oldest, then to the lowest id".to_owned());
    (retention.map(|found| found.founder_genome_equivalents), ancestry.map(|found| found.effective))
}

fn tell_retention(found: &Retention, notes: &mut Notes) {
    match found.method {
        Method::Exact => notes.add("fge_by_retention: exact".to_owned()),
        Method::GeneDrop(Drops { count, seed }) => notes
            .add(format!("fge_by_retention: {count} gene drops from seed {seed}, standard error {}", found.se_founder_genome_equivalents)),
    }
}

fn conventions(pedigree: &Pedigree, pairs: bool, notes: &mut Notes) {
    notes.add("unknown and wild-caught parents count as unrelated and not inbred; means are over the living, self included".to_owned());
    if let (Ok(known), Ok(wild)) = (pedigree.known_fraction(), pedigree.wild_fraction()) {
        notes.add(format!(
            "known_fraction: {known} of the living's genes is traced to founders with a row; {wild} to parents recorded as wild-caught"
        ));
    }
    let both = pedigree.sires_and_dams();
    if !both.is_empty() {
        notes.add(format!("both sire and dam: {}; a shark is only one of the two", both.join(", ")));
    }
    if let (true, Ok((_, _, unsexed @ 1..))) = (pairs, pedigree.living_by_sex()) {
        notes.add(format!("pairs: {unsexed} living without a recorded sex are left out"));
    }
}
