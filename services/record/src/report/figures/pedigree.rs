//! Kinship of the animals, from what is known of their parents: each species by itself. It says
//! nothing of age, health, behaviour or permits and does not decide who is bred; a young case is not
//! counted before it is an animal.

use super::{Absent, Behind, Cohort, Counted, Head};
use crate::domain::state::{Animal, AnimalFate, AnimalOrigin, Egg, ParentStatus, Parentage, Sex};
use crate::report::numbers;
use chrono_tz::Tz;
use selachron_schemas::names::Subject;
use selachron_statistics::pedigree::{Born, Candidate, Figures, Mode, Parent, Row, Wanted, figures};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use utoipa::ToSchema;

/// How the figures are made, as every answer says.
pub const METHOD: &str = "kinship from recorded parents; unknown and wild-caught parents count as unrelated and not inbred; candidates by \
    their weights, shared within a clutch; a sire of none is automixis with both alleles alike (rho 1); means over the living, self included \
    (Lacy 1989, Boichard et al. 1997); gene diversity = 1 - mean kinship";

/// Which interval stands beside: none is possible.
pub const INTERVAL: &str = "none: the figures are exact for the parents as recorded";

/// Decimals of kinship.
const KINSHIP_DECIMALS: u32 = 6;

/// Kinship, founders and gene diversity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PedigreeFigure {
    /// Which species is meant; days and dams limit nothing here. What is counted, of what, and how.
    #[serde(flatten)]
    pub head: Head,
    /// Each species by itself.
    pub species: Vec<PedigreeOfSpecies>,
}

/// The animals of one species.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PedigreeOfSpecies {
    /// `species/<ULID>`; `null` where the note that says so is withheld.
    pub species: Option<String>,
    /// Animals of the record, and animals that it names only as parents.
    pub n: u64,
    /// Living and here.
    pub living: u64,
    /// Mean kinship of the living, 6 decimals.
    pub mean_kinship: Option<f64>,
    /// 1 less that, 6 decimals.
    pub gene_diversity: Option<f64>,
    /// Founder genome equivalents by mean kinship, 6 decimals.
    pub founder_genome_equivalents: Option<f64>,
    /// Founder genome equivalents by retention (Lacy 1989), another number, 6 decimals.
    pub founder_genome_equivalents_by_retention: Option<f64>,
    /// Effective founders, 6 decimals.
    pub effective_founders: Option<f64>,
    /// Effective ancestors, 6 decimals.
    pub effective_ancestors: Option<f64>,
    /// Part of the living's genes that is traced to recorded animals, 6 decimals.
    pub known_fraction: Option<f64>,
    /// Founders and what each gave to the living, by subject, 6 decimals.
    #[schema(value_type = Object)]
    pub founder_contribution: BTreeMap<String, f64>,
    /// Every animal.
    pub animals: Vec<Kin>,
    /// Parents by how they are known: `known`, `candidates`, `unknown`, `none`, `wild_caught`; sires and dams together.
    #[schema(value_type = Object)]
    pub parents: BTreeMap<String, u64>,
    /// Why there are no figures.
    pub absent: Option<Absent>,
    /// Sentences that belong beside them.
    pub notes: Vec<String>,
    /// The cases out of which its animals hatched here.
    pub behind: Behind,
    /// On request: every animal with the notes behind its parents.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cases: Option<Vec<Counted>>,
}

/// One animal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Kin {
    /// `animal/<ULID>`.
    pub animal: String,
    /// What it is called; may be empty.
    pub label: String,
    /// Living and here.
    pub living: bool,
    /// Inbreeding, 6 decimals.
    pub inbreeding: Option<f64>,
    /// Mean kinship to the living, 6 decimals; only of the living.
    pub mean_kinship: Option<f64>,
}

/// The pedigree of each species, or of the one asked for; `explain` names the notes.
#[must_use]
pub fn pedigree(animals: &[Animal], eggs: &[Egg], cohort: &Cohort, zone: Tz, explain: bool) -> PedigreeFigure {
    let mut by_species: BTreeMap<Option<&Subject>, Vec<&Animal>> = BTreeMap::new();
    let wanted = |animal: &&Animal| cohort.species.is_none() || animal.species == cohort.species;
    // Young that were dead at the first look never lived by themselves.
    let lived = |animal: &&Animal| !matches!(animal.fate, AnimalFate::DeadAtHatch { .. });
    for animal in animals.iter().filter(wanted).filter(lived) {
        by_species.entry(animal.species.as_ref()).or_default().push(animal);
    }
    let eggs: BTreeMap<&Subject, &Egg> = eggs.iter().map(|egg| (&egg.id, egg)).collect();
    let told = |(species, animals): (Option<&Subject>, Vec<&Animal>)| of_species(species, &animals, &eggs, zone, explain);
    PedigreeFigure {
        head: Head::of(
            &Cohort { species: cohort.species.clone(), ..Cohort::default() },
            METHOD,
            INTERVAL,
            ["kinship of each of the living with each", "pairs of the living, each with itself among them"],
        ),
        species: by_species.into_iter().map(told).collect(),
    }
}

fn of_species(
    species: Option<&Subject>,
    animals: &[&Animal],
    eggs: &BTreeMap<&Subject, &Egg>,
    zone: Tz,
    explain: bool,
) -> PedigreeOfSpecies {
    let rows = rows(animals, eggs, zone);
    let came_from = animals.iter().filter_map(|animal| egg_of(animal, eggs));
    let bare = PedigreeOfSpecies {
        species: species.map(Subject::to_string),
        n: rows.len() as u64,
        living: rows.iter().filter(|row| row.living).count() as u64,
        mean_kinship: None,
        gene_diversity: None,
        founder_genome_equivalents: None,
        founder_genome_equivalents_by_retention: None,
        effective_founders: None,
        effective_ancestors: None,
        known_fraction: None,
        founder_contribution: BTreeMap::new(),
        animals: Vec::new(),
        parents: parents(animals),
        absent: None,
        notes: Vec::new(),
        behind: Behind::of(came_from.collect::<BTreeMap<_, _>>().into_values()),
        cases: explain.then(|| animals.iter().map(|animal| counted(animal, eggs)).collect()),
    };
    match figures(&rows, Wanted::default()) {
        Ok(found) => told(bare, animals, &found),
        Err(refusal) => PedigreeOfSpecies { absent: Some(Absent::new("not estimable", refusal.to_string())), ..bare },
    }
}

fn egg_of<'a>(animal: &Animal, eggs: &BTreeMap<&'a Subject, &'a Egg>) -> Option<(&'a Subject, &'a Egg)> {
    match &animal.origin {
        AnimalOrigin::Hatched { egg, .. } => eggs.get_key_value(egg).map(|(id, egg)| (*id, *egg)),
        _ => None,
    }
}

fn told(bare: PedigreeOfSpecies, animals: &[&Animal], found: &Figures) -> PedigreeOfSpecies {
    let round = |value: f64| numbers::rounded(value, KINSHIP_DECIMALS);
    let kin = |animal: &&Animal| {
        let id = animal.id.to_string();
        Kin {
            label: animal.label.clone().unwrap_or_default(),
            living: animal.fate == AnimalFate::Present,
            inbreeding: found.inbreeding.get(&id).map(round),
            mean_kinship: found.mean_kinship.get(&id).map(round),
            animal: id,
        }
    };
    let summary = &found.summary;
    let absent = (summary.living == 0).then(|| Absent::new("no cases", "nobody of the species lives here"));
    PedigreeOfSpecies {
        mean_kinship: summary.mean_kinship.map(round),
        gene_diversity: summary.gene_diversity.map(round),
        founder_genome_equivalents: summary.fge_from_mean_kinship.map(round),
        founder_genome_equivalents_by_retention: summary.fge_by_retention.map(round),
        effective_founders: summary.effective_founders.map(round),
        effective_ancestors: summary.effective_ancestors.map(round),
        known_fraction: summary.known_fraction.map(round),
        founder_contribution: found.founder_contribution.0.iter().map(|(id, part)| (id.clone(), round(*part))).collect(),
        animals: animals.iter().map(kin).collect(),
        absent,
        notes: found.notes.clone(),
        ..bare
    }
}

/// The rows, with one for each parent that is named and is no animal of the species' own.
fn rows(animals: &[&Animal], eggs: &BTreeMap<&Subject, &Egg>, zone: Tz) -> Vec<Row> {
    let mut rows: Vec<Row> = animals.iter().map(|animal| row(animal, egg_of(animal, eggs).map(|(_, egg)| egg), zone)).collect();
    let known: BTreeSet<String> = rows.iter().map(|row| row.id.clone()).collect();
    let named = animals.iter().flat_map(|animal| [&animal.dam, &animal.sire]).flat_map(|parent| &parent.animals);
    let strange: BTreeSet<String> = named.map(|parent| parent.animal.to_string()).filter(|id| !known.contains(id)).collect();
    rows.extend(strange.into_iter().map(|id| Row { living: false, ..Row::new(id, Parent::Unknown, Parent::Unknown) }));
    rows
}

fn row(animal: &Animal, egg: Option<&Egg>, zone: Tz) -> Row {
    let (sire, dam) = (parent(&animal.sire), parent(&animal.dam));
    let hatched = match &animal.origin {
        AnimalOrigin::Hatched { .. } => Some(animal.came.time.day(zone)),
        AnimalOrigin::Received { hatched_on_estimate, .. } | AnimalOrigin::ToldApart { hatched_on_estimate, .. } => *hatched_on_estimate,
        AnimalOrigin::Withheld => None,
    };
    Row {
        id: animal.id.to_string(),
        mode: if sire == Parent::None { Mode::Automixis { rho: 1.0 } } else { Mode::Sexual },
        sire,
        dam,
        sex: match animal.sex {
            Sex::Male => Some(selachron_statistics::pedigree::Sex::Male),
            Sex::Female => Some(selachron_statistics::pedigree::Sex::Female),
            Sex::Unknown => None,
        },
        born: hatched.map(|day| Born::Date(i64::from(chrono::Datelike::num_days_from_ce(&day)))),
        clutch: egg.and_then(|egg| egg.clutch.as_ref()).map(Subject::to_string),
        living: animal.fate == AnimalFate::Present,
    }
}

/// Candidates without weights, or not all with one, weigh alike; weights count by their share.
fn parent(told: &Parentage) -> Parent {
    let first = || told.animals.first().map(|parent| Parent::known(parent.animal.to_string()));
    match told.status {
        ParentStatus::Known => first().unwrap_or(Parent::Unknown),
        ParentStatus::Candidates if told.animals.is_empty() => Parent::Unknown,
        ParentStatus::Candidates => Parent::Candidates(shares(told)),
        ParentStatus::Unknown => Parent::Unknown,
        ParentStatus::None => Parent::None,
        ParentStatus::WildCaught => Parent::WildCaught,
    }
}

fn shares(told: &Parentage) -> Vec<Candidate> {
    let all: Option<Vec<f64>> = told.animals.iter().map(|candidate| candidate.weight).collect();
    let weights = all.filter(|all| all.iter().all(|weight| *weight > 0.0)).unwrap_or_else(|| vec![1.0; told.animals.len()]);
    let sum: f64 = weights.iter().sum();
    told.animals.iter().zip(weights).map(|(one, weight)| Candidate { id: one.animal.to_string(), weight: weight / sum }).collect()
}

fn parents(animals: &[&Animal]) -> BTreeMap<String, u64> {
    let mut counts: BTreeMap<String, u64> = BTreeMap::new();
    for parent in animals.iter().flat_map(|animal| [&animal.dam, &animal.sire]) {
        *counts.entry(word(parent.status).to_owned()).or_default() += 1;
    }
    counts
}

fn word(status: ParentStatus) -> &'static str {
    match status {
        ParentStatus::Known => "known",
        ParentStatus::Candidates => "candidates",
        ParentStatus::Unknown => "unknown",
        ParentStatus::None => "none",
        ParentStatus::WildCaught => "wild_caught",
    }
}

/// The notes by which it came, by which its case came, and that claim its parents.
fn counted(animal: &Animal, eggs: &BTreeMap<&Subject, &Egg>) -> Counted {
    let case = egg_of(animal, eggs).map(|(_, egg)| egg.came.event);
    let claims = animal.parentage_claims.iter().map(|claim| claim.when.event);
    let mut events: Vec<String> = Vec::new();
    for event in case.into_iter().chain([animal.came.event]).chain(claims).map(|event| event.to_string()) {
        if !events.contains(&event) {
            events.push(event);
        }
    }
    Counted {
        subject: animal.id.to_string(),
        label: animal.label.clone().unwrap_or_default(),
        counted_as: format!("dam {}, sire {}", word(animal.dam.status), word(animal.sire.status)),
        events,
    }
}
