//! Figures of animals: the life table, and what founders gave to the living.

use super::cases::{counts, reason};
use super::one_species;
use crate::report::figures::life_table::Class;
use crate::report::figures::pedigree::{PedigreeFigure, PedigreeOfSpecies};
use crate::report::figures::{BirthsTold, LifeTableFigure};
use crate::report::numbers::percent;
use selachron_statistics::plot::Caption;
use selachron_statistics::plot::intervals::{Dot, Known, intervals};
use selachron_statistics::plot::steps::{Piece, Series, steps};

/// The part that lives to each class, as steps.
#[must_use]
pub fn life_table(figure: &LifeTableFigure) -> String {
    let piece = |class: &Class| {
        let (from_days, to_days) = (f64::from(class.from_days), f64::from(class.to_days));
        Some(Piece { from_days, to_days, survival: class.l?, band: None })
    };
    let series = Series {
        label: "young".to_owned(),
        pieces: figure.classes.iter().filter_map(piece).collect(),
        censored_days: Vec::new(),
        at_risk: counts(&figure.at_risk),
    };
    let last = figure.classes.iter().rev().find_map(|class| Some(format!(" {} lived to day {}.", percent(class.l?), class.from_days)));
    let (last, rates) = (last.unwrap_or_default(), finding_of_births(&figure.births));
    let finding = format!("{} deaths among {} young.{last}{} {rates}", figure.deaths, figure.n, reason(figure.absent.as_ref()));
    let caption = Caption { id: "life-table".to_owned(), title: "Part that lives to each age class".to_owned(), finding };
    steps(&caption, &[series], "days since hatch", "Young still watched")
}

fn finding_of_births(births: &BirthsTold) -> String {
    match (births.r0, births.generation_days, births.lambda, &births.absent) {
        (Some(r0), Some(days), Some(lambda), _) => format!("R0 {r0}, T {days} days, lambda {lambda} a day, of {} females.", births.n),
        (_, _, _, Some(absent)) => format!("Births: {}.", absent.says),
        _ => String::new(),
    }
}

/// What each founder gave to the living of one species.
///
/// # Errors
/// There are several species.
pub fn pedigree(figure: &PedigreeFigure) -> Result<String, String> {
    let found = one_species(&figure.species, |one| one.species.as_deref())?;
    let dots: Vec<Dot> = found.iter().flat_map(|one| one.founder_contribution.iter().map(|(id, part)| dot(one, id, *part))).collect();
    let finding = found.map_or_else(|| "No animal is recorded.".to_owned(), finding_of_pedigree);
    let caption = Caption { id: "pedigree".to_owned(), title: "What each founder gave to the living".to_owned(), finding };
    Ok(intervals(&caption, &dots, "of the genes of the living"))
}

/// Founders whom nobody recorded keep the name that the arithmetic gives them.
fn dot(of: &PedigreeOfSpecies, id: &str, part: f64) -> Dot {
    let label = of.animals.iter().find(|kin| kin.animal == id && !kin.label.is_empty()).map_or(id, |kin| &kin.label);
    Dot { label: label.to_owned(), counts: percent(part), known: Known::Estimate { estimate: part, lower: part, upper: part } }
}

fn finding_of_pedigree(found: &PedigreeOfSpecies) -> String {
    let told = |name: &str, value: Option<f64>| value.map(|value| format!("{name} {value}"));
    let told: Vec<String> = [
        told("mean kinship", found.mean_kinship),
        told("gene diversity", found.gene_diversity),
        told("effective founders", found.effective_founders),
        told("founder genome equivalents by mean kinship", found.founder_genome_equivalents),
        told("part known", found.known_fraction),
    ]
    .into_iter()
    .flatten()
    .collect();
    let told = if told.is_empty() { String::new() } else { format!(": {}", told.join(", ")) };
    format!("{} animals, {} of them living here{told}.{}", found.n, found.living, reason(found.absent.as_ref()))
}
