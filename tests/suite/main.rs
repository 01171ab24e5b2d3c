//! All tests of the project that need more than one part of it, in one binary: it links once.
//!
//! * `agreement`: check vectors of the format, and standards that it rests on;
//! * `nursery`: stories of what the record says of eggs and animals, and the laws of the two
//!   clocks;
//! * `keeping`: stories of the house, through the client and the service;
//! * `figures`: figures and the annual report, through signed notes and over HTTP;
//! * `exports`: what others take away, for their own tools;
//! * `curves`: fates by age, loss timing, incubation, life table and pedigree, over HTTP and by hand;
//! * `journeys`: a person, the client, the service, the auditor;
//! * `access`: TLS, tokens and who is turned away;
//! * `refusals`: a story for every refusal;
//! * `people`: keys from their enrolment to their end, names, and bodies that are withheld;
//! * `rekey`: the log changes its key, and who follows;
//! * `keyboard`: settling, signing together and comparing, at the command line;
//! * `every_verb`: each verb of the command line with the examples of its kind;
//! * `rare`: bodies withheld, root keys replaced, the log's key changed, at the command line;
//! * `loggers`: files of loggers, at the command line;
//! * `together`: notes that want more than one person's signature;
//! * `opening`: hatch windows and assessments over HTTP, as they were shown;
//! * `care`: cases and animals put down, missing, found; openings authorised;
//! * `evidence`: files that notes name;
//! * `kinds`: the schemas against their examples and against the code;
//! * `outside`: what software that others wrote says of our schemas, notes and exports;
//! * `house`: the house rules.

mod agreement;

mod nursery;

mod keeping;

mod figures;

mod exports;

mod curves;

mod journeys;

mod access;

mod refusals;

mod people;

mod rekey;

mod keyboard;

mod every_verb;

mod rare;

mod loggers;

mod together;

mod opening;

mod care;

mod evidence;

mod kinds;

mod outside;

mod house;
