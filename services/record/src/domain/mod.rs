//! What the notes say of the nursery: pure memory and folds. No clock, no disk, no chance.
//!
//! [`nursery::Nursery`] learns notes one after the other; [`nursery::Nursery::at`] gives a
//! [`view::View`] of the nursery at an instant V when S notes are known (F20). Read in this order:
//! * [`state`]: eggs, animals, tanks, systems, species and house rules, as a reader sees them;
//! * [`discrepancy`]: what is possible but at odds with the rest of the record;
//! * [`record`]: histories, keys and what is due, as a reader sees them;
//! * [`whole`], [`told`] and [`told_house`]: what the data of each kind says, typed;
//! * [`note`]: one note as it is remembered;
//! * [`nursery`]: the memory of all notes, and its index;
//! * [`view`]: which notes stand at (V, S), and in which order;
//! * [`settling`]: how a discrepancy stands, and whose word settles it;
//! * [`answers`] and `answers_house`: one thing or all of its kind, and everything at odds;
//! * [`policy`]: house rules; `lookups`: what one fold needs to know of others;
//! * `egg`, `opening`, `authorised`, `tending`, `clutch`, `there`, `group`, `animal`, `lived`, `afterwards`,
//!   `housing`:
//!   the folds;
//! * `house`: what the folds of the house share; `care`, `instruments`, `work`, [`movement`], [`permits`], [`trade`], [`source_codes`]: tanks
//!   and water, instruments, people, what comes and goes, what authorities permitted; `stays`: where something was;
//!   [`case_rows`]: cases as rows of a survival table; `warmth`: the water of a case;
//!   `circumstances`: what else is so of a case or an animal; [`exposure`]: who shared water;
//! * [`water`]: readings over time, bands, and times outside them;
//! * [`trays`]: a proposal of places for cases;
//! * [`forecast`]: when a case may hatch; `assessment`: what speaks for and against opening it;
//! * [`parents`]: who the parents of an animal are, one way for every reader;
//! * [`paperwork`], `assessed` and [`keys`]: what is odd about a note as a note;
//! * [`history`], [`compare`], [`due`], `due_house`, `due_cases`, `due_lives`, [`due_order`] and `attention`: what
//!   else is asked of a view; [`sheet`]: what is printed for the hands.

pub mod state;

pub mod discrepancy;

pub mod record;

pub mod whole;

pub mod told;

pub mod told_house;

pub mod note;

pub mod nursery;

pub mod view;

pub mod settling;

pub mod answers;

mod answers_house;

pub mod policy;

mod lookups;

mod egg;

mod opening;

mod authorised;

mod tending;

mod clutch;

mod there;

mod group;

mod animal;

mod lived;

mod afterwards;

mod housing;

mod house;

mod care;

mod instruments;

mod work;

pub mod movement;

pub mod permits;

pub mod trade;

pub mod source_codes;

mod stays;

pub mod case_rows;

pub mod warmth;

mod circumstances;

pub mod exposure;

pub mod water;

pub mod trays;

pub mod forecast;

mod assessment;

pub mod parents;

pub mod paperwork;

mod assessed;

pub mod keys;

pub mod history;

pub mod compare;

pub mod due;

mod due_house;

mod due_cases;

mod due_lives;

pub mod due_order;

mod attention;

pub mod sheet;
