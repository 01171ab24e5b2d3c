//! One case, or several like ones, as they are given to the estimators of survival.

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
}

/// A row that no risk set can hold, and why. It is listed, never silently dropped.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Excluded {
    /// Index of the row in the slice that was given, from 0.
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
    pub event: bool,
    pub weight: u64,
}

/// Checks every row and splits off those without time at risk.
pub(crate) fn admit(rows: &[Row]) -> Result<(Vec<Spell>, Vec<Excluded>), InvalidInput> {
    let (mut spells, mut excluded) = (Vec::with_capacity(rows.len()), Vec::new());
    let mut total: u64 = 0;
    for (index, row) in rows.iter().enumerate() {
        let spell = check(index, row)?;
        total = total.saturating_add(row.weight);
        if spell.entry < spell.exit {
            spells.push(spell);
        } else {
            let reason = Reason::NoTimeAtRisk { at_days: spell.exit };
            excluded.push(Excluded { row: index, weight: row.weight, reason });
        }
    }
    if total > CASES_MAX {
        return Err(InvalidInput::TooManyCases { n: total, max: CASES_MAX });
    }
    Ok((spells, excluded))
}

fn check(row: usize, found: &Row) -> Result<Spell, InvalidInput> {
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
    Ok(Spell { entry, exit, event: found.event, weight: found.weight })
}

fn age(row: usize, field: &'static str, found: f64) -> Result<f64, InvalidInput> {
    crate::reason::age(field, found).map_err(|_| InvalidInput::RowAge { row, field, found })
}
