//! The arguments of the commands about keys, waiting notes and reports.

use super::args::{ReadArgs, SendArgs};
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// What can be done with keys.
#[derive(Debug, Subcommand)]
pub enum KeyCommand {
    /// Make a new key file, mode 0600; a file that exists is never replaced
    New {
        /// The key file
        file: PathBuf,
        /// Keep it under a passphrase, asked for at the terminal (or SELACHRON_PASSPHRASE)
        #[arg(long)]
        passphrase: bool,
    },
    /// A key's id, public key and counts
    Show {
        /// The key file; else the one that is set
        file: Option<PathBuf>,
    },
    /// Say which counts a key has used, when that was lost or the key was made elsewhere
    Recount {
        /// The key file
        file: PathBuf,
        /// The next count: one above the highest that is in use; else the record is asked
        #[arg(long, value_name = "COUNT")]
        next: Option<u32>,
    },
    /// Enrol a person's key, as registrar (root keys enrol registrars and curators)
    Enrol {
        /// The new key's file, when it is here: it signs too
        #[arg(required_unless_present = "public_key")]
        file: Option<PathBuf>,
        /// The new key's public key in base64, when it is elsewhere; needs --draft
        #[arg(long, value_name = "BASE64", conflicts_with = "file", requires = "draft")]
        public_key: Option<String>,
        /// The person's pseudonym, person/ULID; a new person when left out
        #[arg(long)]
        person: Option<String>,
        /// Roles, with commas
        #[arg(long, value_delimiter = ',', required = true)]
        roles: Vec<String>,
        /// Where the key is kept, in words
        #[arg(long)]
        device: String,
        /// Not in force after this
        #[arg(long, value_name = "TIME")]
        valid_until: Option<String>,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
    /// Take a key out of force
    Revoke {
        /// The key's id
        keyid: String,
        /// Why
        #[arg(long)]
        reason: String,
        /// From when its notes are suspected
        #[arg(long, value_name = "TIME")]
        suspected_since: Option<String>,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
    /// Add this key's signature to a body or envelope (as `approve`)
    Sign {
        /// The file
        file: PathBuf,
        /// Write the envelope here instead of back to the file
        #[arg(long, value_name = "FILE")]
        out: Option<PathBuf>,
    },
}

/// What can be done with waiting notes.
#[derive(Debug, Subcommand)]
pub enum WaitingCommand {
    /// Send them; those that were drafted for others to approve only when named
    Send {
        /// Ids; else all
        ids: Vec<String>,
    },
    /// What waits at the service for this key's signature, and what its holder has put there
    ForMe,
    /// Read a note that waits at the service aloud, sign it, and hand it back
    Sign {
        /// The note's id
        id: String,
    },
    /// Put a signed note from a file where those whose approval it wants find it
    Offer {
        /// The file that `draft` wrote
        file: PathBuf,
    },
    /// Save them as signed envelopes, one a line, to be posted from another machine
    Save {
        /// The file
        file: PathBuf,
    },
    /// Take a note back that was never sent; its count is used again
    TakeBack {
        /// The note's id
        id: String,
    },
}

/// As of when something is read that names its notes anyway, or none.
#[derive(Debug, Clone, Default, Args)]
pub struct ClockArgs {
    /// As things were at this time, or at the end of this date; else now
    #[arg(long, value_name = "TIME")]
    pub as_of: Option<String>,
    /// As it was known then: a number of notes, or a time; else all that is known
    #[arg(long, value_name = "SIZE|TIME")]
    pub known_at: Option<String>,
}

/// What a report that is compared says itself, or nobody makes of it.
pub(super) const SAID_BY_A_REPORT: [&str; 9] = ["year", "html", "pdf", "out", "begins", "profile", "release", "as_of", "known_at"];

/// Which twelve months a report is of, and for whom.
#[derive(Debug, Clone, Default, Args)]
pub struct MonthsArgs {
    /// The day of the year on which they begin, 04-01; else that of the profile
    #[arg(long, value_name = "MM-DD")]
    pub begins: Option<String>,
    /// Jurisdiction profile: plain, common-columns, or one of the house's own
    #[arg(long, value_name = "NAME")]
    pub profile: Option<String>,
}

/// In which form a report is read.
#[derive(Debug, Args)]
pub struct FormArgs {
    /// From which notes one cell is, such as "stock/SPECIES/died_other" or "tables/deaths/1", instead of the whole
    #[arg(long, value_name = "CELL", conflicts_with_all = ["html", "pdf", "out", "verify", "profile"])]
    pub cell: Option<String>,
    /// As HTML instead of JSON
    #[arg(long)]
    pub html: bool,
    /// As PDF, to keep and to be read aloud; needs --out, and a typesetter beside the service
    #[arg(long, conflicts_with = "html", requires = "out")]
    pub pdf: bool,
    /// Write it here instead of to stdout
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// As it was released with lines that do not add up, and why: what `issue --release` signed
    #[arg(long, value_name = "WHY", conflicts_with = "cell")]
    pub release: Option<String>,
}

/// Issuing a report.
#[derive(Debug, Subcommand)]
pub enum ReportCommand {
    /// Sign an annual report, so that it stands in the record
    Issue {
        /// The year in which the twelve months begin
        year: i32,
        /// Which twelve months, and for whom.
        #[command(flatten)]
        months: MonthsArgs,
        /// Write the report's JSON here
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// Release it with lines that do not add up, and why; page one says so
        #[arg(long, value_name = "WHY")]
        release: Option<String>,
        /// As of when.
        #[command(flatten)]
        clocks: ClockArgs,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
}

/// What can be read of the water, and brought in. `measure` and `change` are the kinds' own verbs.
#[derive(Debug, Subcommand)]
pub enum WaterCommand {
    /// The readings of a system or tank, with derived values, bands, calibration and gaps
    Show {
        /// Label or id of the system or tank
        id: String,
        /// From this time, or the beginning of this date
        #[arg(long, value_name = "TIME")]
        from: Option<String>,
        /// To this time, or the end of this date
        #[arg(long, value_name = "TIME")]
        to: Option<String>,
        /// Draw the temperature into a new file
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Times for which a water was outside its band, with peak and the cases that were in it
    Episodes {
        /// Only those that are open
        #[arg(long)]
        open: bool,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Sign the readings of a logger's CSV file; what is known already is not sent again
    Import {
        /// The file
        file: PathBuf,
        /// What its columns are: units, bases, time zone, instrument
        #[arg(long, value_name = "FILE")]
        settings: PathBuf,
    },
}

/// Separating cases by parentage and stage.
#[derive(Debug, Subcommand)]
pub enum TrayCommand {
    /// How cases could be separated, with the reason of each move
    Propose {
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Note moves that were made as proposed, one note each
    Accept {
        /// Labels or ids of the cases
        #[arg(required_unless_present = "all", conflicts_with = "all")]
        eggs: Vec<String>,
        /// All of them
        #[arg(long)]
        all: bool,
    },
}

/// What is printed for a round.
#[derive(Debug, Subcommand)]
pub enum RoundCommand {
    /// A sheet for paper: places, labels, last look, empty boxes, page hash, log size
    Sheet {
        /// The tank or tray, by label or id
        tray: String,
        /// The page to write
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
}
