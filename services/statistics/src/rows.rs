//! One case, or several like ones, as they are given to the estimators of survival, of competing
//! fates and to the tests that compare groups.

use serde::Serialize;

use crate::proportion::CASES_MAX;
use crate::reason::{InvalidInput, Reason};

/// A case under observation on `(entry, exit]`, and how it ended.
///
/// Without an entry the case is watched from the origin itself, age 0 included: an event there
/// lowers `S(0)`. With an entry, even one of 0, the day of entry is not at risk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Age at which observation begins, in days; `None` when it is watched from the origin on.
    pub entry_days: Option<f64>,
    /// Age at the event or at the last sighting, in days.
    pub exit_days: f64,
    /// Whether the event happened at the exit; otherwise the case is censored there.
    pub event: bool,
    /// How many like cases the row stands for, at least 1.
    pub weight: u64,
}

/// A case under observation on `(entry, exit]` that may end in one of several ways.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fate {
    /// Age at which observation begins, in days; `None` when it is watched from the origin on.
    pub entry_days: Option<f64>,
    /// Age at the end or at the last sighting, in days.
    pub exit_days: f64,
    /// 0 when the case is censored at the exit, otherwise the number of its fate, from 1.
    pub cause: usize,
    /// How many like cases the row stands for, at least 1.
    pub weight: u64,
}

/// A case of a comparison: its group, and the stratum within which it is compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grouped<Case> {
    /// The case.
    pub case: Case,
    /// Number of its group, from 0.
    pub group: usize,
    /// Number of its stratum, from 0; 0 for all without strata.
    pub stratum: usize,
}

impl Row {
    /// One case with the event at this age, in days, watched from the origin.
    pub fn event_at(exit_days: f64) -> Row {
        Row { entry_days: None, exit_days, event: true, weight: 1 }
    }

    /// One case last seen without the event at this age, in days, watched from the origin.
    pub fn censored_at(exit_days: f64) -> Row {
        Row { entry_days: None, exit_days, event: false, weight: 1 }
    }

    /// The same, coming under observation only at this age, in days.
    pub fn entered_at(self, entry_days: f64) -> Row {
        Row { entry_days: Some(entry_days), ..self }
    }

    /// The same, standing for so many like cases.
    pub fn times(self, weight: u64) -> Row {
        Row { weight, ..self }
    }

    /// The same as a member of this group, without strata.
    pub fn in_group(self, group: usize) -> Grouped<Row> {
        Grouped { case: self, group, stratum: 0 }
    }
}

impl Fate {
    /// One case that ended in this way at this age, in days, watched from the origin; cause 0 is
    /// "last seen without any".
    pub fn at(exit_days: f64, cause: usize) -> Fate {
        Fate { entry_days: None, exit_days, cause, weight: 1 }
    }

    /// The same, coming under observation only at this age, in days.
    pub fn entered_at(self, entry_days: f64) -> Fate {
        Fate { entry_days: Some(entry_days), ..self }
    }

    /// The same, standing for so many like cases.
    pub fn times(self, weight: u64) -> Fate {
        Fate { weight, ..self }
    }

    /// The same as a member of this group, without strata.
    pub fn in_group(self, group: usize) -> Grouped<Fate> {
        Grouped { case: self, group, stratum: 0 }
    }
}

/// A fate of which only "the event or not" matters: the event is cause 1.
impl From<Row> for Fate {
    fn from(row: Row) -> Fate {
        Fate { entry_days: row.entry_days, exit_days: row.exit_days, cause: usize::from(row.event), weight: row.weight }
    }
}

impl<Case> Grouped<Case> {
    /// The same, compared only with cases of this stratum.
    pub fn in_stratum(self, stratum: usize) -> Grouped<Case> {
        Grouped { stratum, ..self }
    }
}

/// A row that no risk set can hold, and why. It is listed, never silently dropped.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Excluded {
    /// Index of the row in what was given, from 0.
    pub row: usize,
    /// How many cases it stands for.
    pub weight: u64,
    /// Why it is out.
    pub reason: Reason,
}

/// A checked row: entry is before exit, and minus infinity stands for "from the origin on".
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Spell {
    pub entry: f64,
    pub exit: f64,
    pub cause: u32,
    pub weight: u32,
}

/// Checks rows one by one and keeps the list of those without time at risk.
#[derive(Default)]
pub(crate) struct Gate {
    row: usize,
    cases: u64,
    pub excluded: Vec<Excluded>,
}

impl Gate {
    /// The next row; `None` when it has no time at risk.
    pub fn admit(&mut self, found: Fate, causes: usize) -> Result<Option<Spell>, InvalidInput> {
        let row = self.row;
        self.row += 1;
        let spell = check(row, found, causes)?;
        self.cases = self.cases.saturating_add(found.weight);
        if self.cases > CASES_MAX {
            return Err(InvalidInput::TooManyCases { n: self.cases, max: CASES_MAX });
        }
        if spell.entry < spell.exit {
            return Ok(Some(spell));
        }
        let reason = Reason::NoTimeAtRisk { at_days: spell.exit };
        self.excluded.push(Excluded { row, weight: found.weight, reason });
        Ok(None)
    }

    /// The number of the row that was admitted last, from 0.
    pub fn last(&self) -> usize {
        self.row.saturating_sub(1)
    }
}

fn check(row: usize, found: Fate, causes: usize) -> Result<Spell, InvalidInput> {
    let exit = age(row, "exit_days", found.exit_days)?;
    let entry = match found.entry_days {
        Some(entry) => age(row, "entry_days", entry)?,
        None => f64::NEG_INFINITY,
    };
    if exit < entry {
        return Err(InvalidInput::ExitBeforeEntry { row, entry_days: entry, exit_days: exit });
    }
    if found.weight == 0 {
        return Err(InvalidInput::WeightZero { row });
    }
    if found.cause > causes {
        return Err(InvalidInput::Cause { row, found: found.cause, causes });
    }
    // A weight above CASES_MAX is refused by the gate before anybody sees it cut short.
    let weight = found.weight.min(CASES_MAX) as u32;
    Ok(Spell { entry, exit, cause: found.cause as u32, weight })
}

fn age(row: usize, field: &'static str, found: f64) -> Result<f64, InvalidInput> {
    crate::reason::age(field, found).map_err(|_| InvalidInput::RowAge { row, field, found })
}
