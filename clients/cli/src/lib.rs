//! The client: what a keeper's machine does so that a note is written once, signed by the right
//! keys, kept until it is recorded, and called recorded only after its receipt was checked.
//!
//! Read in this order:
//! * [`fault`]: what can go wrong, and the exit code of each;
//! * [`files`]: files that are whole or not there, and locks;
//! * [`outbox`]: counts and the notes that are not recorded yet;
//! * [`reading`]: the key that reads, and its tokens;
//! * [`passphrase`]: how a key's passphrase is asked for;
//! * [`keyfile`]: a person's key on this machine;
//! * [`draft`]: a note before it is signed;
//! * [`seal`]: signatures of several persons over one body;
//! * [`trust`]: the log key that is pinned and the newest checkpoint that was checked;
//! * [`transport`]: the wire, and nothing believed that comes over it;
//! * [`answer`]: what the service says of a note, and the check of its receipt;
//! * [`client`]: all of it together;
//! * [`collection`]: whose log it is;
//! * [`follow`]: the log's next key;
//! * [`offer`]: notes that want more than one person's signature;
//! * [`bundle`]: taking the log away as a folder;
//! * [`clock`]: the one place where this machine's clock is read;
//! * [`config`]: settings, and where each comes from;
//! * [`when`]: times as people write them;
//! * [`forms`]: the members of each kind, from the schemas;
//! * [`values`]: what a person types, turned into what a note holds;
//! * [`compute`]: any table through the code that makes the reports' figures;
//! * [`logger`]: files of loggers, with every unit and basis said;
//! * [`command`]: the command line.

pub mod fault;

pub mod files;

pub mod outbox;

pub mod reading;

pub mod passphrase;

pub mod keyfile;

pub mod draft;

pub mod seal;

pub mod trust;

pub mod transport;

pub mod answer;

pub mod client;

pub mod collection;

pub mod follow;

pub mod offer;

pub mod bundle;

pub mod clock;

pub mod config;

pub mod when;

pub mod forms;

pub mod values;

pub mod compute;

pub mod logger;

pub mod command;
