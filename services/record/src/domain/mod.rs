//! What the notes say of the nursery: pure memory and folds. No clock, no disk, no chance.
//!
//! * [`state`]: eggs, animals, tanks, systems, species and house rules, as a reader sees them;
//! * [`discrepancy`]: what is possible but at odds with the rest of the record;
//! * [`record`]: histories, keys and what is due.
//!
//! A `Nursery` grows by `learn(&Event, &Leaf, Vec<Signer>)`; `nursery.at(as_of, known_at)` gives
//! a `View<'_>`, which answers:
//!
//! ```text
//! as_of() -> Instant          known_at() -> u64         zone() -> Tz
//! egg(&Subject) -> Option<Egg>        eggs() -> Vec<Egg>          (by id; likewise below)
//! animal(&Subject), animals()         tank(), tanks()             system(), systems()
//! species(&Subject), species_list()   key(&Subject), keys()       policy() -> Policy
//! history(&Subject) -> Vec<HistoryNote>     due(until: Instant) -> Vec<DueItem>
//! discrepancies() -> Vec<Discrepancy>       withheld() -> u64   withheld_behind(&Subject) -> u64
//! ```

pub mod state;

pub mod discrepancy;

pub mod record;
