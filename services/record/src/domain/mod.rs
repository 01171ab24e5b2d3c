//! What the notes say of the nursery: pure memory and folds. No clock, no disk, no chance.
//!
//! [`nursery::Nursery`] learns notes one after the other; [`nursery::Nursery::at`] gives a
//! [`view::View`] of the nursery at an instant V when S notes are known (F20). Read in this order:
//! * [`state`]: eggs, animals, tanks, systems, species and house rules, as a reader sees them;
//! * [`discrepancy`]: what is possible but at odds with the rest of the record;
//! * [`record`]: histories, keys and what is due, as a reader sees them;
//! * [`whole`] and [`told`]: what the data of each kind says, typed;
//! * [`note`]: one note as it is remembered;
//! * [`nursery`]: the memory of all notes, and its index;
//! * [`view`]: which notes stand at (V, S), and in which order;
//! * [`answers`]: one thing or all of its kind, and everything at odds;
//! * [`policy`]: house rules; `lookups`: what one fold needs to know of others;
//! * `egg`, `opening`, `authorised`, `care`, `clutch`, `animal`, `lived`, `afterwards`, `housing`: the folds;
//! * [`paperwork`] and [`keys`]: what is odd about a note as a note;
//! * [`history`] and [`due`]: what else is asked of a view.

pub mod state;

pub mod discrepancy;

pub mod record;

pub mod whole;

pub mod told;

pub mod note;

pub mod nursery;

pub mod view;

pub mod answers;

pub mod policy;

mod lookups;

mod egg;

mod opening;

mod authorised;

mod care;

mod clutch;

mod animal;

mod lived;

mod afterwards;

mod housing;

pub mod paperwork;

pub mod keys;

pub mod history;

pub mod due;
