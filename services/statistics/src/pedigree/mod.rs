//! Who descends from whom, and what that says: inbreeding, kinship, founders, gene diversity.
//!
//! Every parent is in one of five states ([`Parent`]): `known`, `candidates` with weights, `unknown`,
//! `none` (there was no sire) and `wild_caught`. An unknown or wild-caught parent counts as
//! unrelated to everybody, not inbred, and a founder of its own; `none` never makes a founder.
//!
//! Conventions: kinship with itself is `(1 + F)/2`; means are over the living, self included; gene
//! diversity is 1 minus the mean kinship. All of it is expectation over Mendel's coin (and over the
//! candidates' weights) under neutrality: it says nothing about a particular gene, nor about health
//! or behaviour, and it is only as good as the parentage that was recorded.
//!
//! The order of the rows does not matter, to the last digit.
//!
//! Read in this order:
//! * [`row`]: one animal as it is given;
//! * [`cells`]: the same from the cells of a table;
//! * [`refusal`]: what is wrong with a table, naming the rows;
//! * [`lineage`]: the checked pedigree, parents before offspring;
//! * [`inbreeding`]: F of every animal;
//! * [`kinship`]: kinship of one with all, mean kinship, the table of all pairs;
//! * [`pairing`]: males against females;
//! * [`founders`]: whose genes the living carry;
//! * [`ancestors`]: through whom they passed (Boichard 1997);
//! * [`retention`]: what part of the founders' alleles is left;
//! * [`effective_size`]: how large an ideal population would lose diversity as fast;
//! * [`figures`](mod@figures): all of it for one table.

pub mod row;

pub mod cells;

pub mod refusal;

mod check;

mod order;

mod queue;

pub mod lineage;

pub mod inbreeding;

pub mod kinship;

pub mod pairing;

pub mod founders;

pub mod ancestors;

mod exact;

mod gene_drop;

pub mod retention;

pub mod effective_size;

pub mod figures;

pub use figures::{Figures, Wanted, figures};
pub use lineage::Pedigree;
pub use refusal::Refusal;
pub use row::{Born, Candidate, Mode, Parent, Row, Sex};
