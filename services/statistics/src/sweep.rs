//! One pass over the ages at which cases leave, in order, with the number at risk in every group.
//!
//! Entries and exits are sorted apart, once, and merged: `O(n log n)`, exact integers, 16 bytes a row
//! and list. A case is at risk on `(entry, exit]`, so entries on the day itself wait until the exits
//! of that day are over.

use crate::reason::InvalidInput;
use crate::rows::{Fate, Gate, Grouped, Spell};

/// More groups than this are refused: every event age costs the square of their number.
pub const GROUPS_MAX: usize = 1_000;

/// More fates than this are refused: each has columns of its own.
pub const CAUSES_MAX: usize = 64;

/// How the cases of a comparison are numbered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Design {
    /// Groups, numbered from 0; at most [`GROUPS_MAX`].
    pub groups: usize,
    /// Strata, numbered from 0; 1 without strata.
    pub strata: usize,
    /// Fates, numbered from 1; at most [`CAUSES_MAX`], and 1 where only "the event or not" matters.
    pub causes: usize,
}

impl Design {
    /// So many groups, one stratum, one cause.
    pub fn of_groups(groups: usize) -> Design {
        Design { groups, strata: 1, causes: 1 }
    }

    /// The same with so many strata.
    pub fn with_strata(self, strata: usize) -> Design {
        Design { strata, ..self }
    }

    /// The same with so many causes.
    pub fn with_causes(self, causes: usize) -> Design {
        Design { causes, ..self }
    }

    fn check(self) -> Result<Design, InvalidInput> {
        let limit = |what, found, max| if found > max { Err(InvalidInput::TooMany { what, found, max }) } else { Ok(()) };
        limit("groups", self.groups, GROUPS_MAX)?;
        limit("causes", self.causes, CAUSES_MAX)?;
        let per_stratum = self.groups.max(1) * (self.causes + 1);
        limit("strata", self.strata, u32::MAX as usize / per_stratum)?;
        Ok(self)
    }

    fn cell(self, stratum: usize, group: usize, cause: u32) -> u32 {
        ((stratum * self.groups + group) * (self.causes + 1)) as u32 + cause
    }

    fn stratum(self, cell: u32) -> usize {
        cell as usize / (self.groups * (self.causes + 1))
    }

    pub(crate) fn group(self, cell: u32) -> usize {
        if self.groups == 1 { 0 } else { cell as usize / (self.causes + 1) % self.groups }
    }

    pub(crate) fn cause(self, cell: u32) -> usize {
        cell as usize % (self.causes + 1)
    }
}

/// So many cases coming or going at one age. Ages are never negative, so their bits sort as they do.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mark {
    bits: u64,
    pub cell: u32,
    pub weight: u32,
}

impl Mark {
    pub fn new(days: f64, cell: u32, weight: u32) -> Mark {
        Mark { bits: days.to_bits(), cell, weight }
    }

    pub fn days(&self) -> f64 {
        f64::from_bits(self.bits)
    }
}

/// All cases that are watched, sorted by stratum and age.
pub(crate) struct Marks {
    design: Design,
    /// Watched from the origin on, by stratum and group.
    origin: Vec<u64>,
    entries: Vec<Mark>,
    exits: Vec<Mark>,
}

/// All that happens at one distinct exit age of one stratum.
pub(crate) struct Moment<'a> {
    pub days: f64,
    /// `#{entry < days <= exit}` by group.
    pub at_risk: &'a [u64],
    /// Those that leave, events and censorings mixed.
    pub leaving: &'a [Mark],
    /// The next age at or after this one at which somebody enters.
    pub next_entry: Option<f64>,
}

impl Marks {
    pub fn new(design: Design) -> Result<Marks, InvalidInput> {
        let design = design.check()?;
        Ok(Marks { design, origin: vec![0; design.strata * design.groups], entries: Vec::new(), exits: Vec::new() })
    }

    /// The rows of a comparison, with the excluded ones left in the gate.
    pub fn of_members<C: Into<Fate>>(
        rows: impl IntoIterator<Item = Grouped<C>>,
        design: Design,
        gate: &mut Gate,
    ) -> Result<Marks, InvalidInput> {
        let mut marks = Marks::new(design)?;
        for Grouped { case, group, stratum } in rows {
            let spell = gate.admit(case.into(), design.causes)?;
            in_range(gate.last(), "group", group, design.groups)?;
            in_range(gate.last(), "stratum", stratum, design.strata)?;
            if let Some(spell) = spell {
                marks.push(spell, group, stratum);
            }
        }
        marks.sort();
        Ok(marks)
    }

    pub fn push(&mut self, spell: Spell, group: usize, stratum: usize) {
        if spell.entry == f64::NEG_INFINITY {
            self.origin[stratum * self.design.groups + group] += u64::from(spell.weight);
        } else {
            self.entries.push(Mark::new(spell.entry, self.design.cell(stratum, group, 0), spell.weight));
        }
        self.exits.push(Mark::new(spell.exit, self.design.cell(stratum, group, spell.cause), spell.weight));
    }

    pub fn sort(&mut self) {
        let design = self.design;
        for marks in [&mut self.entries, &mut self.exits] {
            if design.strata == 1 {
                marks.sort_unstable_by_key(|m| m.bits);
            } else {
                marks.sort_unstable_by_key(|m| (design.stratum(m.cell), m.bits));
            }
        }
    }

    /// Entries in order of age, when there is one stratum.
    pub fn entries(&self) -> &[Mark] {
        &self.entries
    }

    /// Watched from the origin on, in all.
    pub fn watched_from_origin(&self) -> u64 {
        self.origin.iter().sum()
    }

    /// Whether anybody comes under observation after the origin.
    pub fn any_late(&self) -> bool {
        self.entries.iter().any(|m| m.days() > 0.0)
    }

    /// The strata in which anybody is watched, each to the visitor.
    pub fn each_stratum(&self, mut visit: impl FnMut(Stratum)) {
        let stratum = |m: &Mark| self.design.stratum(m.cell);
        let mut entries = self.entries.as_slice();
        for exits in self.exits.chunk_by(|a, b| self.design.strata == 1 || stratum(a) == stratum(b)) {
            let number = stratum(&exits[0]);
            let (own, later) = entries.split_at(entries.partition_point(|m| stratum(m) <= number));
            entries = later;
            let start = number * self.design.groups;
            visit(Stratum { design: self.design, origin: &self.origin[start..start + self.design.groups], entries: own, exits });
        }
    }
}

/// The cases of one stratum in order of age.
#[derive(Clone, Copy)]
pub(crate) struct Stratum<'a> {
    design: Design,
    origin: &'a [u64],
    entries: &'a [Mark],
    exits: &'a [Mark],
}

impl Stratum<'_> {
    /// Cases by group.
    pub fn cases(&self) -> Vec<u64> {
        let mut cases = vec![0; self.design.groups];
        for exit in self.exits {
            cases[self.design.group(exit.cell)] += u64::from(exit.weight);
        }
        cases
    }

    /// Every distinct exit age in order.
    pub fn each_moment(&self, mut visit: impl FnMut(&Moment)) {
        let group = |mark: &Mark| self.design.group(mark.cell);
        let mut at_risk = self.origin.to_vec();
        let mut entering = self.entries.iter().peekable();
        for leaving in self.exits.chunk_by(|a, b| a.bits == b.bits) {
            let bits = leaving[0].bits;
            while let Some(mark) = entering.next_if(|mark| mark.bits < bits) {
                at_risk[group(mark)] += u64::from(mark.weight);
            }
            let next_entry = entering.peek().map(|mark| mark.days());
            visit(&Moment { days: f64::from_bits(bits), at_risk: &at_risk, leaving, next_entry });
            for mark in leaving {
                at_risk[group(mark)] -= u64::from(mark.weight);
            }
        }
    }
}

fn in_range(row: usize, what: &'static str, found: usize, numbered: usize) -> Result<(), InvalidInput> {
    if found < numbered { Ok(()) } else { Err(InvalidInput::OutOfRange { row, what, found, numbered }) }
}
