//! What each row must satisfy, by itself and with its parents.

use std::collections::HashMap;

use super::refusal::{At, Refusal};
use super::row::{Born, Candidate, Mode, Parent, Row, Sex};

/// How far weights may sum from 1: three thirds written with six digits are accepted.
const WEIGHTS_CLOSE: f64 = 2e-6;

/// A parent by row.
#[derive(Clone, Debug)]
pub(super) enum Link {
    /// Unknown or in the wild.
    Absent,
    /// This row.
    One(u32),
    /// One of these rows with these weights, which sum to 1, in the order of their ids.
    Many(Vec<(u32, f64)>),
}

impl Link {
    pub(super) fn rows(&self) -> impl Iterator<Item = u32> + '_ {
        let (one, many): (Option<u32>, &[(u32, f64)]) = match self {
            Link::Absent => (None, &[]),
            Link::One(row) => (Some(*row), &[]),
            Link::Many(list) => (None, list),
        };
        one.into_iter().chain(many.iter().map(|(row, _)| *row))
    }
}

/// The table by name.
pub(super) struct Names<'a> {
    rows: &'a [Row],
    index: HashMap<&'a str, u32>,
}

fn plain(row: usize, column: &'static str, name: &str) -> Result<(), Refusal> {
    match name.chars().find(|letter| letter.is_control()) {
        Some(letter) => Err(Refusal::Control { row, column, found: name.to_owned(), letter }),
        None => Ok(()),
    }
}

impl<'a> Names<'a> {
    /// Refuses empty ids, those that begin with `?` or hold a control character, and two rows for one
    /// animal. Two names that differ by such a character look alike on every print.
    pub(super) fn of(rows: &'a [Row]) -> Result<Names<'a>, Refusal> {
        let mut index = HashMap::with_capacity(rows.len());
        for (number, row) in rows.iter().enumerate() {
            if row.id.is_empty() || row.id.starts_with('?') {
                return Err(Refusal::Id { row: number + 1, found: row.id.clone() });
            }
            plain(number + 1, "id", &row.id)?;
            plain(number + 1, "clutch", row.clutch.as_deref().unwrap_or_default())?;
            if let Some(first) = index.insert(row.id.as_str(), number as u32) {
                return Err(Refusal::Twice { first: at(rows, first), second: at(rows, number as u32) });
            }
        }
        Ok(Names { rows, index })
    }

    fn find(&self, number: u32, role: &'static str, parent: &str) -> Result<u32, Refusal> {
        let missing = || Refusal::NoSuchParent { at: at(self.rows, number), role, parent: parent.to_owned() };
        self.index.get(parent).copied().ok_or_else(missing)
    }

    /// Sire and dam of a row, after they were found to fit its mode.
    pub(super) fn links(&self, number: u32) -> Result<[Link; 2], Refusal> {
        let row = &self.rows[number as usize];
        fits_mode(self.rows, number)?;
        let dam = self.link(number, "dam", &row.dam)?;
        if row.mode != Mode::Sexual {
            self.check_sex(number, "dam", &dam)?;
            return Ok([Link::Absent, dam]);
        }
        let sire = self.link(number, "sire", &row.sire)?;
        if let Some(both) = sire.rows().find(|s| dam.rows().any(|d| d == *s)) {
            return Err(Refusal::BothParents { at: at(self.rows, number), parent: self.rows[both as usize].id.clone() });
        }
        self.check_sex(number, "sire", &sire)?;
        self.check_sex(number, "dam", &dam)?;
        Ok([sire, dam])
    }

    fn link(&self, number: u32, role: &'static str, parent: &Parent) -> Result<Link, Refusal> {
        match parent {
            Parent::Known(id) => Ok(Link::One(self.find(number, role, id)?)),
            Parent::Candidates(list) => self.candidates(number, role, list),
            Parent::Unknown | Parent::WildCaught | Parent::None => Ok(Link::Absent),
        }
    }

    fn candidates(&self, number: u32, role: &'static str, list: &[Candidate]) -> Result<Link, Refusal> {
        let sum: f64 = list.iter().map(|c| c.weight).sum();
        let sound = list.iter().all(|c| c.weight > 0.0) && (sum - 1.0).abs() <= WEIGHTS_CLOSE;
        if !sound {
            return Err(Refusal::Weights { at: at(self.rows, number), role, sum });
        }
        let mut sorted: Vec<&Candidate> = list.iter().collect();
        sorted.sort_by(|a, b| a.id.cmp(&b.id));
        if let Some(pair) = sorted.windows(2).find(|pair| pair[0].id == pair[1].id) {
            return Err(Refusal::CandidateTwice { at: at(self.rows, number), role, parent: pair[0].id.clone() });
        }
        let find = |c: &&Candidate| Ok((self.find(number, role, &c.id)?, c.weight));
        let found = sorted.iter().map(find).collect::<Result<Vec<_>, Refusal>>()?;
        Ok(if let [(only, _)] = found[..] { Link::One(only) } else { Link::Many(found) })
    }

    fn check_sex(&self, number: u32, role: &'static str, link: &Link) -> Result<(), Refusal> {
        let (wrong, sex) = if role == "sire" { (Sex::Female, "female") } else { (Sex::Male, "male") };
        match link.rows().find(|parent| self.rows[*parent as usize].sex == Some(wrong)) {
            Some(parent) => Err(Refusal::WrongSex { at: at(self.rows, number), role, parent: at(self.rows, parent), sex }),
            None => Ok(()),
        }
    }
}

/// How a refusal names a row, given by its index from 0.
pub(super) fn at(rows: &[Row], number: u32) -> At {
    At { row: number as usize + 1, id: rows[number as usize].id.clone() }
}

fn fits_mode(rows: &[Row], number: u32) -> Result<(), Refusal> {
    let row = &rows[number as usize];
    let refuse = |role, found, wanted| Refusal::ModeParent { at: at(rows, number), mode: row.mode.word(), role, found, wanted };
    if row.dam == Parent::None {
        return Err(refuse("dam", "none", "every animal has a dam; name her, or say unknown"));
    }
    if let Some(rho) = row.mode.rho().filter(|rho| !(0.0..=1.0).contains(rho)) {
        return Err(Refusal::Rho { at: at(rows, number), found: rho });
    }
    match (row.mode, &row.sire) {
        (Mode::Sexual, Parent::None) => Err(refuse("sire", "none", "say unknown if there was one, or give mode automixis or clone")),
        (Mode::Sexual, _) | (_, Parent::None) => Ok(()),
        (Mode::Selfing, sire) if *sire == row.dam => Ok(()),
        (Mode::Selfing, _) => Err(refuse("sire", "another than the dam", "repeat the dam, or say none")),
        (_, _) => Err(refuse("sire", "given", "there is none in this mode; say none, or give mode sexual")),
    }
}

/// Births are finite and all dates or all numbers.
pub(super) fn births(rows: &[Row]) -> Result<(), Refusal> {
    let (mut date, mut number) = (None, None);
    for (index, row) in rows.iter().enumerate() {
        match row.born {
            Some(Born::Number(found)) if !found.is_finite() => return Err(Refusal::Born { at: at(rows, index as u32), found }),
            Some(Born::Number(_)) => number = number.or(Some(index as u32)),
            Some(Born::Date(_)) => date = date.or(Some(index as u32)),
            None => {}
        }
    }
    match (date, number) {
        (Some(date), Some(number)) => Err(Refusal::BornMixed { date: at(rows, date), number: at(rows, number) }),
        _ => Ok(()),
    }
}

/// On the one scale of the table.
pub(super) fn born(row: &Row) -> Option<f64> {
    row.born.map(|born| match born {
        Born::Date(day) => day as f64,
        Born::Number(number) => number,
    })
}
