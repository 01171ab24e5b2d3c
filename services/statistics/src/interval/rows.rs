//! One case, or several like ones, as the looks bound its event.

use crate::proportion::CASES_MAX;
use crate::reason::InvalidInput;

/// The event lies in `(left_days, right_days]`; at `left_days` itself when the two are equal; after
/// `left_days`, if ever, when `right_days` is infinite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BetweenLooks {
    /// Age at the last look before the event, in days.
    pub left_days: f64,
    /// Age at the first look after it, in days; infinity when there is none yet.
    pub right_days: f64,
    /// How many like cases the row stands for, at least 1.
    pub weight: u64,
}

/// The same with what happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CauseBetweenLooks {
    /// Where the event lies, and how many like cases.
    pub looks: BetweenLooks,
    /// What happened, 1 or more; 0 exactly when nothing has yet (`right_days` infinite).
    pub cause: u32,
}

impl BetweenLooks {
    /// One case whose event lies in `(left_days, right_days]`.
    pub fn between(left_days: f64, right_days: f64) -> BetweenLooks {
        BetweenLooks { left_days, right_days, weight: 1 }
    }

    /// One case whose event was seen to happen at this age, in days.
    pub fn exactly(days: f64) -> BetweenLooks {
        BetweenLooks::between(days, days)
    }

    /// One case last seen without the event at this age, in days.
    pub fn after(left_days: f64) -> BetweenLooks {
        BetweenLooks::between(left_days, f64::INFINITY)
    }

    /// The same, standing for so many like cases.
    pub fn times(self, weight: u64) -> BetweenLooks {
        BetweenLooks { weight, ..self }
    }

    /// The same with the cause of its event.
    pub fn of_cause(self, cause: u32) -> CauseBetweenLooks {
        CauseBetweenLooks { looks: self, cause }
    }

    /// Whether the age of the event is known to the day.
    pub(crate) fn is_exact(&self) -> bool {
        self.left_days == self.right_days
    }

    /// The row with `-0.0` made `0.0`, or what is wrong with it.
    fn checked(self, row: usize) -> Result<BetweenLooks, InvalidInput> {
        let BetweenLooks { left_days, right_days, weight } = self;
        if !(left_days.is_finite() && left_days >= 0.0) {
            return Err(InvalidInput::RowAge { row, field: "left_days", found: left_days });
        }
        if right_days.is_nan() || right_days < 0.0 {
            return Err(InvalidInput::RowRight { row, found: right_days });
        }
        if right_days < left_days {
            return Err(InvalidInput::RightBeforeLeft { row, left_days, right_days });
        }
        if weight == 0 {
            return Err(InvalidInput::WeightZero { row });
        }
        Ok(BetweenLooks { left_days: left_days + 0.0, right_days: right_days + 0.0, weight })
    }
}

/// Checks every row; the number of cases they stand for.
pub(crate) fn admit(rows: impl Iterator<Item = BetweenLooks>) -> Result<u64, InvalidInput> {
    let mut total: u64 = 0;
    for (row, found) in rows.enumerate() {
        total = total.saturating_add(found.checked(row)?.weight);
    }
    if total > CASES_MAX {
        return Err(InvalidInput::TooManyCases { n: total, max: CASES_MAX });
    }
    Ok(total)
}

/// Refuses a cause where nothing happened, and an event without one.
pub(crate) fn admit_causes(rows: &[CauseBetweenLooks]) -> Result<(), InvalidInput> {
    let wrong = |found: &CauseBetweenLooks| (found.cause == 0) != (found.looks.right_days == f64::INFINITY);
    match rows.iter().position(wrong) {
        Some(row) => Err(InvalidInput::RowCause { row, cause: rows[row].cause, right_days: rows[row].looks.right_days }),
        None => Ok(()),
    }
}
