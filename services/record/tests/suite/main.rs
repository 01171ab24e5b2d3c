//! The service's own tests: stores, the journal, the server. One binary.

mod support;

mod promises;

mod refusing;

mod journal;

mod rekey;

mod faults;

mod server;

mod folder;

mod access;

mod pages;

mod exports;
