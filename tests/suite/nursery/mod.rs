//! What the record says of eggs and animals. Signatures are no part of it: notes are written
//! into a book as if the log had taken them.
//!
//! * `book`: a log of unsigned notes;
//! * `runner`: reads a story line by line; `raw`: data written out as JSON;
//! * `stories`: one for each rule;
//! * `laws`: the laws of F21, against a slow fold that knows nothing of the other; `slow_groups`: its groups;
//! * `groups`: laws of groups, against plain numbers;
//! * `clocks`: `as_of`, `known_at`, labels and what is withheld;
//! * `retroactive`: notes that come late, are taken back or put right, and what was known before;
//! * `due` and `due_rows`: what is due, and when;
//! * `windows`: when a case may hatch; `assessments`: what speaks for and against opening it;
//! * `reads`: the same over HTTP.

mod assessments;

mod book;

mod clocks;

mod due;

mod due_rows;

mod groups;

mod laws;

mod reads;

mod raw;

mod retroactive;

mod runner;

mod slow_groups;

mod stories;

mod windows;
