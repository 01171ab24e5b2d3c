//! The pedigree in forms that other programs read, and what these forms cannot say. A parent is written
//! only where it is known: no dummy parent is made up for a candidate, for one that nobody knows, or for
//! a father who never was. What is left out is told one by one.
//!
//! * `fam`: the six columns of PLINK 1.9 (family, animal, sire, dam, sex, no phenotype), ids as ULIDs;
//! * `linkage`: the pedigree part of a LINKAGE file before makeped, ids as numbers, both parents or none. That
//!   sex is 1 or 2 there and that a family stands together is from memory: confirm before quoting.
//!
//! A family is a species. A parent of another species has no line in the family of its young, and both
//! forms look for it there; so it is told as a loss.

use super::Asking;
use super::cell::row;
use super::describe::{CSVW_FILE, PACKAGE_FILE, Provenance, csvw, data_package};
use super::folder::{Csv, pretty};
use super::place::Place;
use super::shape::{Of, Shape, column};
use super::tables::scientific_name;
use crate::domain::parents::{Parent, Parents};
use crate::domain::state::{Animal, EventId, ParentStatus, Sex};
use crate::domain::view::View;
use crate::failure::{Failure, io};
use selachron_schemas::limits::EXPORT_PAGE_THINGS;
use selachron_schemas::names::Subject;
use serde::Serialize;
use serde::ser::{SerializeSeq as _, Serializer as _};
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
    /// Whether a note that this rests on was recorded while its author's key was suspected (F11).
    pub suspected: bool,
}

/// One animal, as both forms need it.
#[derive(Debug, Clone)]
pub struct Line {
    /// The animal.
    pub animal: Subject,
    family: String,
    sex: Sex,
    parents: Parents,
    doubt: Doubt,
}

/// What of a line rests on notes that were recorded while their authors' keys were suspected.
#[derive(Debug, Clone, Copy)]
struct Doubt {
    dam: bool,
    sire: bool,
    sex: bool,
    whole: bool,
}

impl Doubt {
    fn of(view: &View<'_>, animal: &Animal, parents: &Parents) -> Self {
        let rests = |notes: &[EventId]| !view.suspected_among(notes.iter().copied().chain([animal.came.event])).is_empty();
        let sexed: Vec<EventId> = animal.sexings.iter().map(|sexing| sexing.when.event).collect();
        Self {
            dam: rests(&parents.dam.events),
            sire: rests(&parents.sire.events),
            sex: rests(&sexed),
            whole: view.suspected_behind(&animal.id) > 0,
        }
    }
}

impl Line {
    fn loss(&self, form: &'static str, of: &'static str, record_says: String) -> Loss {
        let suspected = match of {
            "dam" => self.doubt.dam,
            "sire" => self.doubt.sire,
            _ => self.doubt.sex,
        };
        Loss { form, animal: self.animal.to_string(), of, record_says, written: "0", suspected }
    }
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
    let name = scientific_name(view, animal.species.as_ref());
    let family = name.map_or_else(|| NOT_KNOWN.to_owned(), |name| name.chars().map(plain).collect());
    let parents = view.parents(&animal);
    let doubt = Doubt::of(view, &animal, &parents);
    Some(Line { animal: id.clone(), family, sex: animal.sex, parents, doubt })
}

/// The family of animals of which no note that stands says the species.
const NOT_KNOWN: &str = "species_not_known";

fn plain(one: char) -> char {
    if one.is_alphanumeric() { one } else { '_' }
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

/// Known parents of a line that may stand in a file: each an animal with a line of its own in the same
/// family, of another sex than the one a parent cannot have.
struct Known<'l> {
    by_id: HashMap<&'l Subject, &'l Line>,
}

impl<'l> Known<'l> {
    fn of(lines: &'l [Line]) -> Self {
        Self { by_id: lines.iter().map(|line| (&line.animal, line)).collect() }
    }

    fn parent<'p>(&self, line: &Line, parent: &'p Parent, wrong: Sex) -> Result<&'p Subject, String> {
        let Some(id) = parent.known() else { return Err(told(parent)) };
        let Some(found) = self.by_id.get(id) else { return Err(format!("known: {id}, and no note that stands says how it came")) };
        let odd = if found.sex == wrong {
            "and of the other sex"
        } else if found.family == line.family {
            return Ok(id);
        } else if [&found.family, &line.family].into_iter().any(|family| family == NOT_KNOWN) {
            "and the species of one of the two is not known"
        } else {
            "and of another species"
        };
        Err(format!("known: {id}, {odd}"))
    }

    fn both<'p>(&self, line: &'p Line) -> [(&'static str, Result<&'p Subject, String>); 2] {
        let parents = &line.parents;
        [("sire", self.parent(line, &parents.sire, Sex::Female)), ("dam", self.parent(line, &parents.dam, Sex::Male))]
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

/// Takes what a form cannot say.
pub type Lost<'l> = &'l mut dyn FnMut(Loss) -> Result<(), Failure>;

/// What all forms cannot say, form by form.
///
/// # Errors
/// What `lost` returns.
pub fn losses(lines: &[Line], lost: Lost<'_>) -> Result<(), Failure> {
    write_fam(&mut std::io::sink(), lines, "", lost)?;
    write_linkage(&mut std::io::sink(), lines, lost)
}

/// Writes the `fam` form; `lost` takes what it cannot say.
///
/// # Errors
/// It cannot be written, or what `lost` returns.
pub fn write_fam(out: &mut dyn Write, lines: &[Line], tail: &str, lost: Lost<'_>) -> Result<(), Failure> {
    let known = Known::of(lines);
    for line in lines {
        let mut written = ["0"; 2];
        for (cell, (of, parent)) in written.iter_mut().zip(known.both(line)) {
            match parent {
                Ok(id) => *cell = bare(id),
                Err(record_says) => lost(line.loss("fam", of, record_says))?,
            }
        }
        let [sire, dam] = written;
        let written = writeln!(out, "{} {} {sire} {dam} {} -9{tail}", line.family, bare(&line.animal), sex(line.sex));
        written.map_err(|error| io("writing the pedigree", &error))?;
    }
    Ok(())
}

/// Lines as the `linkage` form has them: a family stands together. Animal n is the n-th of them.
fn by_family(lines: &[Line]) -> Vec<&Line> {
    let mut sorted: Vec<&Line> = lines.iter().collect();
    sorted.sort_by(|one, other| (&one.family, &one.animal).cmp(&(&other.family, &other.animal)));
    sorted
}

/// Writes the `linkage` form; `lost` takes what it cannot say.
///
/// # Errors
/// It cannot be written, or what `lost` returns.
pub fn write_linkage(out: &mut dyn Write, lines: &[Line], lost: Lost<'_>) -> Result<(), Failure> {
    let (known, sorted) = (Known::of(lines), by_family(lines));
    let number: HashMap<&Subject, usize> = (1..).zip(&sorted).map(|(number, line)| (&line.animal, number)).collect();
    let mut families: BTreeMap<&str, usize> = BTreeMap::new();
    for line in sorted {
        let count = families.len() + 1;
        let family = *families.entry(&line.family).or_insert(count);
        let both = known.both(line);
        let whole = both.iter().all(|(_, parent)| parent.is_ok());
        let mut written = [0; 2];
        for (cell, (of, parent)) in written.iter_mut().zip(both) {
            match parent {
                Ok(id) if whole => *cell = number.get(id).copied().unwrap_or_default(),
                Ok(id) => lost(line.loss("linkage", of, format!("known: {id}, and the other parent is not written")))?,
                Err(record_says) => lost(line.loss("linkage", of, record_says))?,
            }
        }
        // The form knows 1 and 2 and nothing else.
        if line.sex == Sex::Unknown {
            lost(line.loss("linkage", "sex", "unknown".to_owned()))?;
        }
        let [sire, dam] = written;
        let id = number[&line.animal];
        writeln!(out, "{family} {id} {sire} {dam} {} 0", sex(line.sex)).map_err(|error| io("writing the pedigree", &error))?;
    }
    Ok(())
}

/// Says what a reader of the files must know.
pub const READ_ME: &str = "pedigree.fam has the six columns of PLINK 1.9: family, animal, sire, dam, sex, phenotype. A family is a species; ids are \
    those of the record without the noun; 0 is nobody, and -9 no phenotype. pedigree.ped and pedigree.map say the same with one \
    marker without genotypes, for programs that want one. pedigree.pre is the pedigree part of a LINKAGE file before makeped, a \
    family at a time; pedigree_ids.csv says which animal has which number. None of these can say candidates, weights, a parent from \
    the wild, a parent of another species, or that there was no father; and LINKAGE has no word for a sex that is not known: \
    losses.csv lists each. What none of them has at all, for any animal: dates, labels, transfers and deaths, and animals in groups \
    that cannot be told apart. The studbook has these. datapackage.json describes the two tables.";

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
    about: "What the forms cannot say of single animals. Dates, labels, transfers, deaths and animals in groups are in none of them, for any animal.",
    columns: &[
        column("form", Of::Text, "fam or linkage."),
        column("animal", Of::Text, "The animal."),
        column("of", Of::Text, "dam, sire or sex."),
        column("record_says", Of::Text, "What the record says."),
        column("written", Of::Text, "What stands in the file."),
    ],
    key: &["form", "animal", "of"],
    refers: &[],
};

/// Writes all forms, the numbers and the losses, with the description of the two tables.
///
/// # Errors
/// Something cannot be written.
pub fn write_all(place: &mut dyn Place, lines: &[Line], from: &Provenance) -> Result<(), Failure> {
    place.put("README.txt", format!("{READ_ME}\n{}\n", from.says()).as_bytes())?;
    let shapes = [&IDS, &LOSSES];
    place.put(PACKAGE_FILE, &pretty(&data_package("pedigree", "Tables beside the pedigree", &shapes, from)))?;
    place.put(CSVW_FILE, &pretty(&csvw("Tables beside the pedigree", &shapes, from)))?;
    place.put("pedigree.map", b"1 no_genotypes 0 1\n")?;
    place.written("pedigree.fam", &mut |out| write_fam(out, lines, "", &mut |_| Ok(())))?;
    place.written("pedigree.ped", &mut |out| write_fam(out, lines, " 0 0", &mut |_| Ok(())))?;
    place.written("pedigree.pre", &mut |out| write_linkage(out, lines, &mut |_| Ok(())))?;
    place.written(&IDS.file(), &mut |out| {
        let mut ids = Csv::marked(out, &IDS)?;
        let mut told = (1_usize..).zip(by_family(lines));
        told.try_for_each(|(number, line)| ids.row(&row![number, &line.animal, line.family.as_str(), line.doubt.whole]))?;
        ids.finish().map(drop)
    })?;
    place.written(&LOSSES.file(), &mut |out| {
        let mut told = Csv::marked(out, &LOSSES)?;
        losses(lines, &mut |loss| told.row(&row![loss.form, loss.animal, loss.of, loss.record_says, loss.written, loss.suspected]))?;
        told.finish().map(drop)
    })?;
    place.written("losses.json", &mut |out| {
        let failed = |error: serde_json::Error| io("writing the pedigree", &error.into());
        let mut json = serde_json::Serializer::pretty(&mut *out);
        let mut list = json.serialize_seq(None).map_err(failed)?;
        losses(lines, &mut |loss| list.serialize_element(&loss).map_err(failed))?;
        list.end().map_err(failed)?;
        out.write_all(b"\n").map_err(|error| io("writing the pedigree", &error))
    })
}
