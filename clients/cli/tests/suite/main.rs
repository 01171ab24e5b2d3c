//! The client against a small log that keeps the format's rules and, when told to, breaks them:
//! its receipts are real, and so are its lies.

mod world;

mod stub;

mod keys;

mod notes;

mod receipts;

mod trust;

mod bundles;

mod command;

mod compute;
