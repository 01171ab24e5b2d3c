//! The checked pedigree: animals numbered so that parents come before their offspring.
//!
//! An animal whose sire is one of several candidates gets a *pick* for its sire: a place of its own
//! that is a copy of the first candidate with some chance and else of the second; more candidates
//! make a chain of picks. Offspring of one clutch share the pick, others have each their own. So
//! the rules for known parents serve for candidates too, and expected kinships follow exactly.

use std::collections::HashMap;

use super::check::{self, Link, Names};
use super::inbreeding::{self, Inbreeding};
use super::order::{Raw, depths, sorted};
use super::refusal::Refusal;
use super::row::{Parent, Row, Sex};

/// Most animals of one pedigree: what fits in a few hundred megabytes.
pub const ROWS_MAX: usize = 2_000_000;

/// No parent, or none that is known.
pub(crate) const NOBODY: u32 = u32::MAX;

/// How a place in the pedigree takes its genes from its parents.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Descent {
    /// Nobody's: a founder.
    Founder,
    /// Half from each parent; at most one of them is nobody.
    Sexual,
    /// All from one parent, which may be nobody.
    Uniparental { rho: f64 },
    /// A copy of the first parent with this chance, else of the second.
    Pick { first: f64 },
}

impl Descent {
    /// What part of the genes comes from each parent.
    pub(crate) fn shares(self) -> [f64; 2] {
        match self {
            Descent::Founder => [0.0, 0.0],
            Descent::Sexual => [0.5, 0.5],
            Descent::Uniparental { .. } => [1.0, 0.0],
            Descent::Pick { first } => [first, 1.0 - first],
        }
    }
}

/// Animals and picks in order.
pub(crate) struct Nodes {
    /// Parents by number; absent ones are the number one past the last, where nothing is kept.
    pub parents: Vec<[u32; 2]>,
    pub descent: Vec<Descent>,
    pub shares: Vec<[f64; 2]>,
    /// Where each generation begins, and the end.
    pub levels: Vec<usize>,
    /// The row of an animal; [`NOBODY`] for a pick.
    pub row: Vec<u32>,
    /// Whether it is a living animal.
    pub living: Vec<bool>,
}

impl Nodes {
    pub(crate) fn len(&self) -> usize {
        self.descent.len()
    }

    /// The number that stands for no parent.
    pub(crate) fn nobody(&self) -> u32 {
        self.len() as u32
    }

    pub(crate) fn is_animal(&self, node: usize) -> bool {
        self.row[node] != NOBODY
    }
}

/// A pedigree without contradictions, with everybody's inbreeding.
pub struct Pedigree {
    pub(crate) nodes: Nodes,
    /// Of each row.
    pub(crate) node: Vec<u32>,
    pub(crate) ids: Vec<String>,
    pub(crate) sex: Vec<Option<Sex>>,
    pub(crate) born: Vec<Option<f64>>,
    /// Rows with a parent in the wild.
    pub(crate) wild: Vec<bool>,
    pub(crate) inbreeding: Inbreeding,
}

impl Pedigree {
    /// Checks a table and computes the inbreeding of all.
    ///
    /// # Errors
    /// Names the rows of: two rows for one animal, parents without a row, circles, sires that are
    /// female and dams that are male, animals not younger than an ancestor, weights that do not sum
    /// to 1, parents that do not fit the mode, and clutches with two lists of candidates.
    pub fn new(rows: &[Row]) -> Result<Pedigree, Refusal> {
        if rows.len() > ROWS_MAX {
            return Err(Refusal::TooManyRows { rows: rows.len(), max: ROWS_MAX });
        }
        let names = Names::of(rows)?;
        check::births(rows)?;
        let links = (0..rows.len() as u32).map(|i| names.links(i)).collect::<Result<Vec<_>, Refusal>>()?;
        let raw = Drawing::of(rows, &links)?;
        let depth = depths(&raw).map_err(|circle| told(rows, &circle))?;
        let order = sorted(&raw, &depth);
        let (nodes, node) = numbered(rows, &raw, &depth, &order);
        born_in_order(rows, &nodes)?;
        let inbreeding = inbreeding::of(&nodes);
        let wild = |row: &Row| [&row.sire, &row.dam].contains(&&Parent::WildCaught);
        Ok(Pedigree {
            inbreeding,
            nodes,
            node,
            ids: rows.iter().map(|r| r.id.clone()).collect(),
            sex: rows.iter().map(|r| r.sex).collect(),
            born: rows.iter().map(check::born).collect(),
            wild: rows.iter().map(wild).collect(),
        })
    }

    /// How many animals it has.
    pub fn len(&self) -> usize {
        self.ids.len()
    }

    /// Whether it has none.
    pub fn is_empty(&self) -> bool {
        self.ids.is_empty()
    }

    /// The ids in the order of the rows, which is the order of all results.
    pub fn ids(&self) -> &[String] {
        &self.ids
    }

    /// The index of an animal's row, from 0.
    pub fn index_of(&self, id: &str) -> Result<usize, Refusal> {
        let found = self.ids.iter().position(|known| known == id);
        found.ok_or_else(|| Refusal::NoSuchAnimal { id: id.to_owned() })
    }

    /// The indices of the living.
    pub fn living(&self) -> Vec<usize> {
        (0..self.len()).filter(|row| self.nodes.living[self.node[*row] as usize]).collect()
    }

    /// Values by node, in the order of the rows.
    pub(crate) fn by_row(&self, values: &[f64]) -> Vec<f64> {
        self.node.iter().map(|node| values[*node as usize]).collect()
    }
}

/// The places of the pedigree while they are being drawn.
struct Drawing<'a> {
    rows: &'a [Row],
    raw: Vec<Raw<'a>>,
    /// Shared picks by role and clutch: the pick, and the row that drew it.
    shared: HashMap<(usize, &'a str), (u32, u32)>,
}

impl<'a> Drawing<'a> {
    fn of(rows: &'a [Row], links: &[[Link; 2]]) -> Result<Vec<Raw<'a>>, Refusal> {
        let animal = |row: &'a Row| Raw { parents: [NOBODY; 2], descent: Descent::Founder, name: &row.id, pick: 0 };
        let mut drawing = Drawing { rows, raw: rows.iter().map(animal).collect(), shared: HashMap::new() };
        for number in 0..rows.len() {
            let (row, [sire, dam]) = (&rows[number], &links[number]);
            let dam = drawing.parent(number, 1, dam, links)?;
            let sire = drawing.parent(number, 0, sire, links)?;
            let (parents, descent) = match row.mode.rho() {
                Some(rho) => ([dam, NOBODY], Descent::Uniparental { rho }),
                None if [sire, dam] == [NOBODY; 2] => ([NOBODY; 2], Descent::Founder),
                None => ([sire, dam], Descent::Sexual),
            };
            (drawing.raw[number].parents, drawing.raw[number].descent) = (parents, descent);
        }
        Ok(drawing.raw)
    }

    fn parent(&mut self, number: usize, role: usize, link: &Link, links: &[[Link; 2]]) -> Result<u32, Refusal> {
        let list = match link {
            Link::Absent => return Ok(NOBODY),
            Link::One(row) => return Ok(*row),
            Link::Many(list) => list,
        };
        let row = &self.rows[number];
        let Some(clutch) = row.clutch.as_deref() else { return Ok(self.picks(list, &row.id, role as u32)) };
        if let Some((pick, first)) = self.shared.get(&(role, clutch)).copied() {
            let same = matches!(&links[first as usize][role], Link::Many(other) if other == list);
            return if same { Ok(pick) } else { Err(self.differs(first, number as u32, clutch, role)) };
        }
        // Numbered apart from the picks of an animal that has the name of a clutch.
        let pick = self.picks(list, clutch, 2 + role as u32);
        self.shared.insert((role, clutch), (pick, number as u32));
        Ok(pick)
    }

    /// A chain of picks that ends in each candidate with its weight.
    fn picks(&mut self, list: &[(u32, f64)], name: &'a str, kind: u32) -> u32 {
        let (mut last, mut weight) = list[0];
        for (count, (candidate, more)) in list[1..].iter().enumerate() {
            let first = weight / (weight + more);
            let pick = 1 + kind + 4 * count as u32;
            self.raw.push(Raw { parents: [last, *candidate], descent: Descent::Pick { first }, name, pick });
            (last, weight) = (self.raw.len() as u32 - 1, weight + more);
        }
        last
    }

    fn differs(&self, first: u32, second: u32, clutch: &str, role: usize) -> Refusal {
        let role = ["sire", "dam"][role];
        Refusal::ClutchDiffers { first: check::at(self.rows, first), second: check::at(self.rows, second), clutch: clutch.to_owned(), role }
    }
}

/// The animals of a circle; picks are left out, they are nobody's row.
fn told(rows: &[Row], circle: &[u32]) -> Refusal {
    let animals = circle.iter().filter(|i| (**i as usize) < rows.len());
    Refusal::Cycle { rows: animals.map(|i| check::at(rows, *i)).collect() }
}

/// Numbers in order, and the number of each row.
fn numbered(rows: &[Row], raw: &[Raw<'_>], depth: &[u32], order: &[u32]) -> (Nodes, Vec<u32>) {
    let mut number = vec![0; raw.len()];
    order.iter().enumerate().for_each(|(new, old)| number[*old as usize] = new as u32);
    let renamed = |parent: u32| if parent == NOBODY { raw.len() as u32 } else { number[parent as usize] };
    let descent: Vec<Descent> = order.iter().map(|old| raw[*old as usize].descent).collect();
    let mut levels: Vec<usize> = (1..order.len()).filter(|i| depth[order[*i] as usize] != depth[order[*i - 1] as usize]).collect();
    levels.insert(0, 0);
    levels.push(order.len());
    let row = |old: &u32| if (*old as usize) < rows.len() { *old } else { NOBODY };
    let nodes = Nodes {
        parents: order.iter().map(|old| raw[*old as usize].parents.map(renamed)).collect(),
        shares: descent.iter().map(|d| d.shares()).collect(),
        descent,
        levels,
        row: order.iter().map(row).collect(),
        living: order.iter().map(|old| rows.get(*old as usize).is_some_and(|r| r.living)).collect(),
    };
    number.truncate(rows.len());
    (nodes, number)
}

/// Nobody may be born on or before the day of an ancestor, even where those between have no date.
fn born_in_order(rows: &[Row], nodes: &Nodes) -> Result<(), Refusal> {
    let mut latest: Vec<Option<(f64, u32)>> = vec![None; nodes.len() + 1];
    for node in 0..nodes.len() {
        let [one, other] = nodes.parents[node].map(|parent| latest[parent as usize]);
        let before = match (one, other) {
            (Some(a), Some(b)) => Some(if a.0 >= b.0 { a } else { b }),
            (a, b) => a.or(b),
        };
        let own = nodes.is_animal(node).then(|| check::born(&rows[nodes.row[node] as usize])).flatten();
        if let (Some(own), Some((born, ancestor))) = (own, before)
            && own <= born
        {
            return Err(Refusal::BornBefore { at: check::at(rows, nodes.row[node]), ancestor: check::at(rows, ancestor) });
        }
        latest[node] = own.map(|own| (own, nodes.row[node])).or(before);
    }
    Ok(())
}
