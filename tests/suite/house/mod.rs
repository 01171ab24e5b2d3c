//! The house rules, as tests. Each failing rule says which line breaks it and what to do.
//!
//! * `source`: Rust sources as tokens: paths, functions, constants, tests;
//! * `packages`: which package may use which, and what none may link;
//! * `layers`: which module of the service may use which;
//! * `banned`: one clock, pure parts, and words that no source may hold;
//! * `limits`: every limit in one file;
//! * `golden`: no golden file without a test;
//! * `ratchet`: long functions and files may shrink, never grow;
//! * `reading_list`: a library's first page names its modules in reading order;
//! * `layout`: what stands at the top of the tree;
//! * `invariants`: each invariant of `DEVELOPERS.md` names its test;
//! * `requirements`: each requirement in `ops/REQUIREMENTS.md` names its tests, or says that it is open.
//!
//! A rule is a function from sources to faults. Beside the test that the house keeps it stands
//! one with an invented source that breaks it, so that no rule can pass by being blind.

mod source;

mod packages;

mod layers;

mod banned;

mod limits;

mod golden;

mod ratchet;

mod reading_list;

mod layout;

mod invariants;

mod requirements;

/// Fails with every fault on a line of its own, under what to do about them.
#[track_caller]
fn none(faults: &[String], what_to_do: &str) {
    assert!(faults.is_empty(), "{what_to_do}\n{}", faults.join("\n"));
}
