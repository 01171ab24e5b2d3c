//! What is wrong with a table of animals: which rows, what, and what to do.

/// A row that is named in a refusal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct At {
    /// The row, counted from 1 (the first line after the header).
    pub row: usize,
    /// The animal.
    pub id: String,
}

impl std::fmt::Display for At {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "row {} ({})", self.row, self.id)
    }
}

fn listed(rows: &[At]) -> String {
    rows.iter().map(At::to_string).collect::<Vec<_>>().join(", ")
}

/// Why a table of animals is not a pedigree. Nothing is computed from it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// More rows than are held in memory.
    #[error("{rows} rows are more than the {max} of one pedigree; leave out animals without living descendants")]
    TooManyRows {
        /// What was given.
        rows: usize,
        /// [`ROWS_MAX`](crate::pedigree::lineage::ROWS_MAX).
        max: usize,
    },
    /// A cell that cannot be read.
    #[error("row {row}: {column} is {found:?}; {wanted}")]
    Cell {
        /// The row, from 1.
        row: usize,
        /// The column.
        column: &'static str,
        /// What was there.
        found: String,
        /// What may be there.
        wanted: &'static str,
    },
    /// An animal without a name, or with one that is kept for unknown parents.
    #[error("row {row}: id is {found:?}; give a name that is not empty and does not begin with \"?\"")]
    Id {
        /// The row, from 1.
        row: usize,
        /// What was given.
        found: String,
    },
    /// A name that no print shows as it is.
    #[error("row {row}: {column} is {found:?}, which holds a control character (U+{:04X}); take it out", u32::from(*.letter))]
    Control {
        /// The row, from 1.
        row: usize,
        /// The column.
        column: &'static str,
        /// What was there.
        found: String,
        /// The first such character.
        letter: char,
    },
    /// Two rows for one animal.
    #[error("{first} and {second} are the same animal; keep one row")]
    Twice {
        /// The first.
        first: At,
        /// The second.
        second: At,
    },
    /// A parent without a row.
    #[error("{at}: {role} {parent:?} has no row; add one, with unknown parents if need be, or say unknown")]
    NoSuchParent {
        /// The offspring.
        at: At,
        /// `sire` or `dam`.
        role: &'static str,
        /// The name.
        parent: String,
    },
    /// An animal among its own ancestors.
    #[error("{} descend in a circle; correct one of their parents", listed(.rows))]
    Cycle {
        /// Each is a parent of the one before it, and the first of the last.
        rows: Vec<At>,
    },
    /// A female sire or a male dam.
    #[error("{at}: {role} is {parent}, whose sex is {sex}; correct the sex or the parent")]
    WrongSex {
        /// The offspring.
        at: At,
        /// `sire` or `dam`.
        role: &'static str,
        /// The parent.
        parent: At,
        /// Its recorded sex.
        sex: &'static str,
    },
    /// An animal that is not younger than an ancestor.
    #[error("{at} was not born after its ancestor {ancestor}; correct a date or a parent")]
    BornBefore {
        /// The offspring.
        at: At,
        /// The ancestor.
        ancestor: At,
    },
    /// Dates and plain numbers in one column.
    #[error("born is a date in {date} and a number in {number}; use one of the two for all")]
    BornMixed {
        /// A row with a date.
        date: At,
        /// A row with a number.
        number: At,
    },
    /// A birth that is no number.
    #[error("{at}: born is {found}; give a date such as 2025-11-03, or a number")]
    Born {
        /// The row.
        at: At,
        /// What was given.
        found: f64,
    },
    /// Weights of candidates that are no chances.
    #[error("{at}: the weights of the candidates for {role} sum to {sum}; each must be above 0, and their sum 1")]
    Weights {
        /// The offspring.
        at: At,
        /// `sire` or `dam`.
        role: &'static str,
        /// What they sum to.
        sum: f64,
    },
    /// One animal twice among the candidates.
    #[error("{at}: {parent:?} is listed twice among the candidates for {role}; add up its weights")]
    CandidateTwice {
        /// The offspring.
        at: At,
        /// `sire` or `dam`.
        role: &'static str,
        /// The candidate.
        parent: String,
    },
    /// One clutch with two lists of candidates.
    #[error("{first} and {second} share clutch {clutch:?} but not the candidates for {role}; give both the same list, or two clutches")]
    ClutchDiffers {
        /// One row.
        first: At,
        /// Another.
        second: At,
        /// The clutch.
        clutch: String,
        /// `sire` or `dam`.
        role: &'static str,
    },
    /// One animal as both parents of another, in the sexual mode.
    #[error("{at}: {parent:?} is both sire and dam; correct one, or give mode selfing")]
    BothParents {
        /// The offspring.
        at: At,
        /// The parent.
        parent: String,
    },
    /// Parents that do not fit the mode.
    #[error("{at}: mode {mode} with {role} {found}; {wanted}")]
    ModeParent {
        /// The offspring.
        at: At,
        /// The mode.
        mode: &'static str,
        /// `sire` or `dam`.
        role: &'static str,
        /// What was given.
        found: &'static str,
        /// What fits.
        wanted: &'static str,
    },
    /// A chance outside [0, 1].
    #[error("{at}: rho is {found}; give a number from 0 to 1")]
    Rho {
        /// The offspring.
        at: At,
        /// What was given.
        found: f64,
    },
    /// A name that is asked for and not in the table.
    #[error("there is no animal {id:?}; name one of the table")]
    NoSuchAnimal {
        /// The name.
        id: String,
    },
    /// A table of pairs that is too large to be of use.
    #[error("{what} of {found} animals is larger than the {max} of one table; ask for fewer")]
    TableTooLarge {
        /// Which table.
        what: &'static str,
        /// Animals asked for.
        found: usize,
        /// How many there may be.
        max: usize,
    },
}
