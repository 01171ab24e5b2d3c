//! The agreement: everything that a keeper's client, the service and an auditor must compute
//! alike, byte for byte. It has no network, no disk, no clock and no chance in it.
//!
//! `schemas/SPEC.md` states the rules (F1 to F26); the code cites them. Read in this order:
//! * [`limits`]: every limit of the project, and how they relate;
//! * [`refusal`]: why a note can be refused, by name;
//! * [`problems`]: a page for each problem, with cause and remedy;
//! * [`encoding`]: base64 and hex, strict;
//! * [`time`] and [`names`]: instants, days, ULIDs, subjects, key ids;
//! * [`ijson`]: the strict JSON reader;
//! * [`event`]: one note, parsed;
//! * [`envelope`]: a note as it travels: bytes and signatures;
//! * [`signing`]: keys and who signed;
//! * [`token`]: how a key asks to read;
//! * [`merkle`]: the tree that fixes the order;
//! * [`note`]: checkpoints, and the keys that sign them;
//! * [`receipt`]: leaves and the proof a client keeps;
//! * [`catalogue`]: the kinds, their schemas and their roles;
//! * [`access`]: who may read what;
//! * [`cautions`]: shown where the work can hurt;
//! * [`published`]: published durations of incubation, with their sources;
//! * [`trade_codes`]: codes of a trade report, dated;
//! * [`bundle`]: the whole record as a folder of text;
//! * [`replay`]: what the log's own rules say of each note, in seq order;
//! * [`fold`]: which notes stand, and how, when S of them are known;
//! * [`fates`]: from what was seen of each case to rows of a survival table;
//! * [`audit`]: the auditor's check of a bundle, as a pure function.

pub mod limits;

pub mod refusal;

pub mod problems;

pub mod encoding;

pub mod time;

pub mod names;

pub mod ijson;

pub mod event;

pub mod envelope;

pub mod signing;

pub mod token;

pub mod merkle;

pub mod note;

pub mod receipt;

pub mod catalogue;

pub mod access;

pub mod cautions;

pub mod published;

pub mod trade_codes;

pub mod bundle;

pub mod replay;

pub mod fold;

pub mod fates;

pub mod audit;
