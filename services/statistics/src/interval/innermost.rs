//! The innermost stretches: where the estimate can put mass at all.
//!
//! Ends are sorted by age; at one age an exact event opens first (it is a closed point just below its
//! value), then right ends close, then open left ends begin. A left end directly followed by a right
//! end is an innermost stretch (Peto 1973; Turnbull 1976).

use std::cmp::Ordering;

use serde::{Serialize, Serializer};

use super::rows::BetweenLooks;

/// A stretch `(left_days, right_days]`, a point when both are equal. Travels as `[left, right]`
/// with `null` for infinity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Where it begins, in days.
    pub left_days: f64,
    /// Where it ends, in days; may be infinite.
    pub right_days: f64,
}

impl Serialize for Stretch {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        (self.left_days, self.right()).serialize(serializer)
    }
}

impl Stretch {
    /// Where it ends, unless it never does.
    pub fn right(&self) -> Option<f64> {
        self.right_days.is_finite().then_some(self.right_days)
    }

    /// Whether all of it lies at or below this age.
    pub(crate) fn is_over_by(&self, age_days: f64) -> bool {
        self.right_days <= age_days
    }

    /// Whether some of it lies at or below this age.
    pub(crate) fn has_begun_by(&self, age_days: f64) -> bool {
        self.left_days < age_days || self.right_days <= age_days
    }
}

/// An end of a stretch, in the order above.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct End {
    days: f64,
    turn: u8,
}

const POINT_OPENS: u8 = 0;
const CLOSES: u8 = 1;
const OPENS: u8 = 2;

impl End {
    pub fn left_of(looks: &BetweenLooks) -> End {
        End { days: looks.left_days, turn: if looks.is_exact() { POINT_OPENS } else { OPENS } }
    }

    pub fn right_of(looks: &BetweenLooks) -> End {
        End { days: looks.right_days, turn: CLOSES }
    }

    fn order(&self, other: &End) -> Ordering {
        // `+ 0.0` lets minus zero tie with zero.
        (self.days + 0.0).total_cmp(&(other.days + 0.0)).then(self.turn.cmp(&other.turn))
    }
}

/// Innermost stretches in order, with the ends that they have.
#[derive(Clone, Debug, Default)]
pub(crate) struct Innermost {
    lefts: Vec<End>,
    rights: Vec<End>,
}

impl Innermost {
    pub fn of(mut lefts: Vec<End>, mut rights: Vec<End>) -> Innermost {
        for ends in [&mut lefts, &mut rights] {
            ends.sort_unstable_by(End::order);
            ends.dedup_by(|a, b| a.order(b).is_eq());
        }
        let mut found = Innermost::default();
        let mut next = 0;
        for right in rights {
            let passed = next;
            while lefts.get(next).is_some_and(|left| left.order(&right).is_lt()) {
                next += 1;
            }
            // Without a new left end the stretch would hold an earlier right end.
            if next > passed {
                found.lefts.push(lefts[next - 1]);
                found.rights.push(right);
            }
        }
        found
    }

    pub fn len(&self) -> usize {
        self.lefts.len()
    }

    /// The columns `from..to` that lie inside the bounds.
    pub fn within(&self, left: End, right: End) -> (usize, usize) {
        (self.first_from(left), self.rights.partition_point(|r| r.order(&right).is_le()))
    }

    /// The first column that lies at or after the end.
    pub fn first_from(&self, left: End) -> usize {
        self.lefts.partition_point(|l| l.order(&left).is_lt())
    }

    pub fn stretches(&self) -> Vec<Stretch> {
        let pairs = self.lefts.iter().zip(&self.rights);
        pairs.map(|(left, right)| Stretch { left_days: left.days + 0.0, right_days: right.days + 0.0 }).collect()
    }
}
