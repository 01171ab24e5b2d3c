//! The pedigree in forms that other programs read, and what these forms cannot say. A parent is written
//! only where it is known: no dummy parent is made up for a candidate, for one that nobody knows, or for
//! a father who never was. What is left out is told one by one.
//!
//! * `fam`: the six columns of PLINK 1.9 (family, animal, sire, dam, sex, no phenotype), ids as ULIDs;
//! * `linkage`: the pedigree part of a LINKAGE file before makeped, ids as numbers, both parents or none.

use super::Asking;
use super::cell::{IntoCell as _, row};
use super::folder::{Csv, pretty};
use super::place::Place;
use super::shape::{Of, Shape, column};
use super::tables::scientific_name;
use crate::domain::parents::{Parent, Parents};
use crate::domain::state::{ParentStatus, Sex};
use crate::domain::view::View;
use crate::failure::{Failure, io};
use selachron_schemas::limits::EXPORT_PAGE_THINGS;
use selachron_schemas::names::Subject;
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};
use std::io::Write;
use utoipa::ToSchema;

/// What a form cannot say of one animal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Loss {
    /// `fam` or `linkage`.
    pub form: &'static str,
    /// The animal.
    pub animal: String,
    /// `dam`, `sire` or `sex`.
    pub of: &'static str,
    /// What the record says: a state of the parent, or what is at odds.
    pub record_says: String,
    /// What stands in the file.
    pub written: &'static str,
}

/// One animal, as both forms need it.
#[derive(Debug, Clone)]
pub struct Line {
    /// The animal.
    pub animal: Subject,
    family: String,
    sex: Sex,
    parents: Parents,
}

/// All animals, in the order of their ids.
///
/// # Errors
/// What was known is known no more.
pub fn lines(asking: &Asking<'_>) -> Result<Vec<Line>, Failure> {
    let animals: Vec<Subject> = asking.view(|view| view.subjects("animal").cloned().collect())?;
    let mut lines = Vec::new();
    for page in animals.chunks(EXPORT_PAGE_THINGS) {
        lines.extend(asking.view(|view| page.iter().filter_map(|id| line(view, id)).collect::<Vec<Line>>())?);
    }
    Ok(lines)
}

fn line(view: &View<'_>, id: &Subject) -> Option<Line> {
    let animal = view.animal(id)?;
    let name = scientific_name(view, animal.species.as_ref()).unwrap_or_else(|| "species not known".to_owned());
    let family = name.chars().map(|one| if one.is_alphanumeric() { one } else { '_' }).collect();
    Some(Line { animal: id.clone(), family, sex: animal.sex, parents: view.parents(&animal) })
}

fn bare(subject: &Subject) -> &str {
    subject.as_str().rsplit('/').next().unwrap_or_default()
}

/// Sex as both forms write it: 1 male, 2 female, 0 not known.
fn sex(sex: Sex) -> u8 {
    match sex {
        Sex::Male => 1,
        Sex::Female => 2,
        Sex::Unknown => 0,
    }
}

/// Known parents of a line that may stand in a file: each an animal with a line of its own, of another
/// sex than the one a parent cannot have.
struct Known<'l> {
    by_id: HashMap<&'l Subject, Sex>,
}

impl<'l> Known<'l> {
    fn of(lines: &'l [Line]) -> Self {
        Self { by_id: lines.iter().map(|line| (&line.animal, line.sex)).collect() }
    }

    fn parent<'p>(&self, parent: &'p Parent, wrong: Sex) -> Result<&'p Subject, String> {
        let Some(id) = parent.known() else { return Err(told(parent)) };
        match self.by_id.get(id) {
            None => Err("known, and no note that stands says how it came".to_owned()),
            Some(sex) if *sex == wrong => Err("known, and of the other sex".to_owned()),
            Some(_) => Ok(id),
        }
    }

    fn both<'p>(&self, line: &'p Line) -> [(&'static str, Result<&'p Subject, String>); 2] {
        let parents = &line.parents;
        [("sire", self.parent(&parents.sire, Sex::Female)), ("dam", self.parent(&parents.dam, Sex::Male))]
    }
}

fn told(parent: &Parent) -> String {
    match parent.status {
        ParentStatus::Candidates => {
            let all = parent.animals.iter().map(|one| format!("{} ({})", one.animal, one.weight)).collect::<Vec<_>>();
            format!("candidates: {}", all.join(", "))
        }
        status => status.word().to_owned(),
    }
}

/// Writes the `fam` form; what it cannot say.
///
/// # Errors
/// It cannot be written.
pub fn write_fam(out: &mut dyn Write, lines: &[Line], tail: &str) -> Result<Vec<Loss>, Failure> {
    let (known, mut losses) = (Known::of(lines), Vec::new());
    for line in lines {
        let parents = known.both(line).map(|(of, parent)| match parent {
            Ok(id) => bare(id),
            Err(record_says) => {
                losses.push(Loss { form: "fam", animal: line.animal.to_string(), of, record_says, written: "0" });
                "0"
            }
        });
        let [sire, dam] = parents;
        let written = writeln!(out, "{} {} {sire} {dam} {} -9{tail}", line.family, bare(&line.animal), sex(line.sex));
        written.map_err(|error| io("writing the pedigree", &error))?;
    }
    Ok(losses)
}

/// Writes the `linkage` form; what it cannot say. Animal n is the n-th line.
///
/// # Errors
/// It cannot be written.
pub fn write_linkage(out: &mut dyn Write, lines: &[Line]) -> Result<Vec<Loss>, Failure> {
    let (known, mut losses) = (Known::of(lines), Vec::new());
    let number: HashMap<&Subject, usize> = (1..).zip(lines).map(|(number, line)| (&line.animal, number)).collect();
    let mut families: BTreeMap<&str, usize> = BTreeMap::new();
    for line in lines {
        let count = families.len() + 1;
        families.entry(&line.family).or_insert(count);
    }
    for line in lines {
        let both = known.both(line);
        let whole = both.iter().all(|(_, parent)| parent.is_ok());
        let [sire, dam] = both.map(|(of, parent)| {
            let record_says = match parent {
                Ok(id) if whole => return number.get(id).copied().unwrap_or_default(),
                Ok(id) => format!("known: {id}, and the other parent is not"),
                Err(says) => says,
            };
            losses.push(Loss { form: "linkage", animal: line.animal.to_string(), of, record_says, written: "0" });
            0
        });
        let (family, id) = (families[line.family.as_str()], number[&line.animal]);
        writeln!(out, "{family} {id} {sire} {dam} {} 0", sex(line.sex)).map_err(|error| io("writing the pedigree", &error))?;
    }
    Ok(losses)
}

/// Says what a reader of the files must know.
pub const READ_ME: &str = "pedigree.fam has the six columns of PLINK 1.9: family, animal, sire, dam, sex, phenotype. A family is a species; ids are \
    those of the record without the noun; 0 is nobody, and -9 no phenotype. pedigree.ped and pedigree.map say the same with one \
    marker without genotypes, for programs that want one. pedigree.pre is the pedigree part of a LINKAGE file before makeped; \
    pedigree_ids.csv says which animal has which number. None of these can say candidates, weights, a parent from the wild, or that \
    there was no father: losses.csv lists each.";

const IDS: Shape = Shape {
    name: "pedigree_ids",
    about: "Which animal has which number in pedigree.pre.",
    columns: &[
        column("number", Of::Count, "Its number."),
        column("animal", Of::Text, "The animal."),
        column("family", Of::Text, "Its family."),
    ],
    key: &["number"],
    refers: &[],
};

const LOSSES: Shape = Shape {
    name: "losses",
    about: "What the forms cannot say.",
    columns: &[
        column("form", Of::Text, "fam or linkage."),
        column("animal", Of::Text, "The animal."),
        column("of", Of::Text, "dam or sire."),
        column("record_says", Of::Text, "What the record says."),
        column("written", Of::Text, "What stands in the file."),
    ],
    key: &["form", "animal", "of"],
    refers: &[],
};

/// Writes all forms, the numbers and the losses.
///
/// # Errors
/// Something cannot be written.
pub fn write_all(place: &mut dyn Place, lines: &[Line], says: &str) -> Result<(), Failure> {
    place.put("README.txt", format!("{READ_ME}\n{says}\n").as_bytes())?;
    place.put("pedigree.map", b"1 no_genotypes 0 1\n")?;
    let mut losses = Vec::new();
    let mut keep = |lost: Vec<Loss>| losses.extend(lost);
    place.written("pedigree.fam", &mut |out| write_fam(out, lines, "").map(&mut keep))?;
    place.written("pedigree.ped", &mut |out| write_fam(out, lines, " 0 0").map(drop))?;
    place.written("pedigree.pre", &mut |out| write_linkage(out, lines).map(&mut keep))?;
    place.written(&IDS.file(), &mut |out| {
        let mut ids = Csv::new(out, &IDS)?;
        (1_usize..).zip(lines).try_for_each(|(number, line)| ids.row(&row![number, &line.animal, line.family.as_str()]))?;
        ids.finish().map(drop)
    })?;
    place.written(&LOSSES.file(), &mut |out| write_losses(out, &losses))?;
    place.written("losses.json", &mut |out| {
        out.write_all(&pretty(&serde_json::to_value(&losses).unwrap_or_default())).map_err(|error| io("writing the pedigree", &error))
    })
}

fn write_losses(out: &mut dyn Write, losses: &[Loss]) -> Result<(), Failure> {
    let mut told = Csv::new(out, &LOSSES)?;
    for loss in losses {
        let [animal, says] = [&loss.animal, &loss.record_says].map(String::as_str);
        told.row(&vec![loss.form.cell(), animal.cell(), loss.of.cell(), says.cell(), loss.written.cell()])?;
    }
    told.finish().map(drop)
}
