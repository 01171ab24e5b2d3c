//! The arguments that are not read from the schemas.

pub use super::choices::{ExportWhat, FiguresWhat, ListWhat};
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

use super::subcommands::SAID_BY_A_REPORT;
pub use super::subcommands::{
    ClockArgs, FormArgs, KeyCommand, MonthsArgs, ReportCommand, RoundCommand, TrayCommand, WaitingCommand, WaterCommand,
};

/// Keeps and reads the record of an egg nursery: signed notes, checked receipts.
#[derive(Debug, Parser)]
#[command(name = "selachron", version, disable_help_subcommand = true)]
#[command(after_help = "Exit codes: 0 ok, 1 failed, 2 usage, 3 checked and found broken, 4 no such thing, 5 refused, 6 unreachable.\n\
    Settings: flag, then SELACHRON_* variable, then --config FILE, then ./selachron.toml, then the user's own file; see `selachron config show`.")]
pub struct Cli {
    /// Settings that every command takes.
    #[command(flatten)]
    pub globals: Globals,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// Settings that every command takes.
#[derive(Debug, Clone, Default, Args)]
pub struct Globals {
    /// Address of the service
    #[arg(long, global = true, value_name = "URL", help_heading = "Settings")]
    pub url: Option<String>,
    /// The log's verifier key; without it the first contact pins the one that is shown
    #[arg(long, global = true, value_name = "VKEY", help_heading = "Settings")]
    pub log_key: Option<String>,
    /// The key file to sign with
    #[arg(long, global = true, value_name = "FILE", help_heading = "Settings")]
    pub key: Option<PathBuf>,
    /// PEM of the house's own certificate authority
    #[arg(long, global = true, value_name = "FILE", help_heading = "Settings")]
    pub ca: Option<PathBuf>,
    /// Folder for pinned log keys and seen checkpoints
    #[arg(long, global = true, value_name = "DIR", help_heading = "Settings")]
    pub state_dir: Option<PathBuf>,
    /// A settings file
    #[arg(long, global = true, value_name = "FILE", help_heading = "Settings")]
    pub config: Option<PathBuf>,
    /// Results as JSON
    #[arg(long, global = true, help_heading = "Settings")]
    pub json: bool,
}

/// When it happened, and what it belongs to.
#[derive(Debug, Clone, Default, Args)]
pub struct WhenArgs {
    /// When it happened: 09:30, "2026-03-09 09:30" or 2026-03-09T09:30:00+10:00; else now
    #[arg(long, value_name = "TIME", help_heading = "The note")]
    pub time: Option<String>,
    /// It happened after this and not after --time
    #[arg(long, value_name = "TIME", help_heading = "The note")]
    pub after: Option<String>,
    /// Why it is written afterwards; needed beyond 15 minutes
    #[arg(long, value_name = "REASON", help_heading = "The note")]
    pub late: Option<String>,
    /// It was written on paper first: which sheet, and by whom; instead of --late
    #[arg(long, value_name = "SHEET", conflicts_with = "late", help_heading = "The note")]
    pub paper: Option<String>,
    /// The round it belongs to
    #[arg(long, value_name = "ID", help_heading = "The note")]
    pub round: Option<String>,
    /// The decision it follows from
    #[arg(long, value_name = "ID", help_heading = "The note")]
    pub decision: Option<String>,
}

/// How a note is signed and sent.
#[derive(Debug, Clone, Default, Args)]
pub struct SendArgs {
    /// Refuse it unless the subject's newest version is this (0 for none)
    #[arg(long, value_name = "VERSION", help_heading = "The note")]
    pub expect: Option<u32>,
    /// Key file of another person who approves it and is here; may be repeated
    #[arg(long, value_name = "KEY", help_heading = "Signing and sending")]
    pub with: Vec<PathBuf>,
    /// Write the signed note to FILE for others to approve; it is sent later by `post`
    #[arg(long, value_name = "FILE", help_heading = "Signing and sending", conflicts_with = "hold")]
    pub draft: Option<PathBuf>,
    /// Keep it unsent; `waiting send` sends it, `waiting take-back` takes it back
    #[arg(long, help_heading = "Signing and sending")]
    pub hold: bool,
    /// Put it where those whose approval it wants find it; it is recorded once it has them
    #[arg(long, help_heading = "Signing and sending", conflicts_with_all = ["hold", "draft"])]
    pub wait: bool,
}

/// What to read, and as of when.
#[derive(Debug, Clone, Default, Args)]
pub struct ReadArgs {
    /// As of when.
    #[command(flatten)]
    pub clocks: ClockArgs,
    /// Name the notes behind each answer
    #[arg(long)]
    pub explain: bool,
}

/// What the command line can do, beside a verb for each kind of note.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Make, show and enrol keys
    #[command(subcommand)]
    Key(KeyCommand),
    /// Sign a founding body, or gather the signatures of its root keys
    Found {
        /// The founding body, or envelopes over it signed elsewhere
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Key file of a root key; may be repeated
        #[arg(long, value_name = "KEY")]
        root: Vec<PathBuf>,
        /// Write the envelope here instead of to stdout
        #[arg(long, value_name = "FILE")]
        out: Option<PathBuf>,
    },
    /// Write a note of any kind
    Note {
        /// The kind, such as egg.candled
        kind: String,
        /// What it is about: a label, an id, `collection`, or `new` for what the note brings in
        subject: String,
        /// Members as MEMBER=VALUE; lists by repeating, groups as GROUP.MEMBER=VALUE
        members: Vec<String>,
        /// The whole data as JSON, or @FILE
        #[arg(long, value_name = "JSON|@FILE")]
        data: Option<String>,
        /// When it happened.
        #[command(flatten)]
        when: WhenArgs,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
    /// Write and sign a note of any kind into a file, for others to approve
    Draft {
        /// The kind, such as policy.set
        kind: String,
        /// What it is about, as for `note`
        subject: String,
        /// The file for the signed note
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// Members as MEMBER=VALUE
        members: Vec<String>,
        /// The whole data as JSON, or @FILE
        #[arg(long, value_name = "JSON|@FILE")]
        data: Option<String>,
        /// When it happened.
        #[command(flatten)]
        when: WhenArgs,
        /// Refuse it unless the subject's newest version is this
        #[arg(long, value_name = "VERSION")]
        expect: Option<u32>,
    },
    /// Read a signed note aloud and add a signature to it
    Approve {
        /// The file that `draft` wrote
        file: PathBuf,
        /// Write the envelope here instead of back to the file
        #[arg(long, value_name = "FILE")]
        out: Option<PathBuf>,
    },
    /// Send envelopes from a file, one a line (`-` reads stdin)
    Post {
        /// The file
        file: PathBuf,
    },
    /// Notes that are not recorded yet
    Waiting {
        /// What to do with them; without it they are listed
        #[command(subcommand)]
        what: Option<WaitingCommand>,
    },
    /// Put a note right; the old one stays visible
    Correct {
        /// The note's id
        id: String,
        /// Why
        #[arg(long)]
        reason: String,
        /// A member that was wrong, as MEMBER=VALUE; may be repeated
        #[arg(long = "set", value_name = "MEMBER=VALUE")]
        set: Vec<String>,
        /// A member that should not be there; may be repeated
        #[arg(long, value_name = "MEMBER")]
        unset: Vec<String>,
        /// The whole data as JSON, or @FILE
        #[arg(long, value_name = "JSON|@FILE", conflicts_with_all = ["set", "unset"])]
        data: Option<String>,
        /// When it really happened
        #[arg(long, value_name = "TIME")]
        time: Option<String>,
        /// It really happened after this
        #[arg(long, value_name = "TIME")]
        after: Option<String>,
        /// What it was really about: a label or id
        #[arg(long, value_name = "SUBJECT")]
        subject: Option<String>,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
    /// Take a note back; it stays visible as taken back
    Retract {
        /// The note's id; of a correction or retraction too
        id: String,
        /// Why
        #[arg(long)]
        reason: String,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
    /// Approve a recorded note afterwards
    Endorse {
        /// The note's id
        id: String,
        /// Anything worth saying
        #[arg(long)]
        remark: Option<String>,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
    /// Settle a discrepancy with a signed word; a note that is wrong is put right with `correct`
    Settle {
        /// The discrepancy's id, or as much of it as tells it apart
        id: String,
        /// What is to be made of it
        word: SettleWord,
        /// Who is to say, with `ask`: a pseudonym, person/ULID
        #[arg(long, value_name = "PERSON", required_if_eq("word", "ask"))]
        person: Option<String>,
        /// Anything worth saying
        #[arg(long)]
        remark: Option<String>,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
    /// Give up a count whose note will never come
    Abandon {
        /// The count
        count: u32,
        /// Why
        #[arg(long)]
        reason: String,
        /// How it is sent.
        #[command(flatten)]
        send: SendArgs,
    },
    /// What is due
    Due {
        /// Also what comes due within so many hours
        #[arg(long, value_name = "HOURS")]
        within_hours: Option<u32>,
        /// `urgency`: what needs a person soonest first; `walk`: by tank and place, so that one walk suffices
        #[arg(long, value_name = "ORDER", value_parser = ["urgency", "walk"])]
        by: Option<String>,
        /// Write an iCalendar file that a calendar program reads; run it again to renew it
        #[arg(long, value_name = "FILE")]
        ics: Option<PathBuf>,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// When cases may hatch: a window with probabilities, never a date
    Forecast {
        /// One case, by label or id; else all that are incubating
        egg: Option<String>,
        /// Instead, what is known of how long a species' cases take
        #[arg(long, value_name = "LABEL|ID", conflicts_with = "egg")]
        species: Option<String>,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Separate cases by parentage and stage
    #[command(subcommand)]
    Tray(TrayCommand),
    /// Labels with QR codes as a page to be printed
    Labels {
        /// For which
        #[arg(value_parser = ["eggs", "places", "tanks"])]
        of: String,
        /// Only those of this tank
        #[arg(long, value_name = "LABEL|ID")]
        tank: Option<String>,
        /// The page to write
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// One egg, animal, tank, system, species, key, thing of the house or note
    Show {
        /// Label or id
        id: String,
        /// Of an animal or an egg: what the record says for and against each source code of a permit. It decides
        /// nothing; the permit, local law and the authority do
        #[arg(long)]
        source_codes: bool,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Every note about one egg, animal, tank, system, species, key or thing of the house
    History {
        /// Label or id
        id: String,
        /// What changed between two sizes of the log
        #[arg(long, value_name = "S1,S2", conflicts_with_all = ["known_at", "not_yet"])]
        diff: Option<String>,
        /// Also what is known now and was not at --known-at
        #[arg(long)]
        not_yet: bool,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// All eggs, animals, tanks, rounds, consignments and so on
    List {
        /// What to list
        what: ListWhat,
        /// At most so many
        #[arg(long, value_name = "N")]
        limit: Option<usize>,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// What in the record is at odds with itself
    Discrepancies {
        /// Only those that nobody has settled
        #[arg(long)]
        open: bool,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Who shared water with an egg or an animal, from when to when
    Exposure {
        /// Label or id of an egg or animal
        id: String,
        /// From this time, or the beginning of this date
        #[arg(long, value_name = "TIME")]
        from: Option<String>,
        /// To this time, or the end of this date; else to --as-of
        #[arg(long, value_name = "TIME")]
        to: Option<String>,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Figures with their numerators and denominators
    Figures {
        /// Which figures
        what: FiguresWhat,
        /// Of this year
        #[arg(long, conflicts_with_all = ["from", "to"])]
        year: Option<i32>,
        /// From this date
        #[arg(long, value_name = "DATE")]
        from: Option<String>,
        /// To this date
        #[arg(long, value_name = "DATE")]
        to: Option<String>,
        /// Of this species
        #[arg(long, value_name = "SPECIES")]
        species: Option<String>,
        /// Of this dam
        #[arg(long, value_name = "ANIMAL")]
        dam: Option<String>,
        /// Of `assisted`: compare from so many days after laying on
        #[arg(long, value_name = "DAYS")]
        eligible_from_days: Option<u32>,
        /// And count an opening at the landmark so many days later
        #[arg(long, value_name = "DAYS", requires = "eligible_from_days")]
        within_days: Option<u32>,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// The annual report: read it, or issue it with a signature
    #[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
    Report {
        /// Issue one.
        #[command(subcommand)]
        issue: Option<ReportCommand>,
        /// The year in which the twelve months begin
        #[arg(required_unless_present = "verify")]
        year: Option<i32>,
        /// Which twelve months, and for whom.
        #[command(flatten)]
        months: MonthsArgs,
        /// Compare this report's JSON with what the service tells now of the same notes: same, different (3) or cannot tell (1)
        #[arg(long, value_name = "FILE", conflicts_with_all = SAID_BY_A_REPORT)]
        verify: Option<PathBuf>,
        /// In which form.
        #[command(flatten)]
        form: FormArgs,
        /// As of when.
        #[command(flatten)]
        clocks: ClockArgs,
    },
    /// Take what the notes say to a file or folder, for other people's tools
    Export {
        /// What
        what: ExportWhat,
        /// A file or folder that does not exist yet
        out: PathBuf,
        /// The form; else that which suits the name: json, csv, csvw, ndjson, fam, linkage, tar, zip
        #[arg(long)]
        format: Option<String>,
        /// The year of a stock list, an egg ledger or trade lines
        #[arg(long)]
        year: Option<i32>,
        /// Of the studbook only what changed since the log had so many notes
        #[arg(long, value_name = "SIZE")]
        since: Option<u64>,
        /// For whom a Darwin Core archive is: gbif or obis
        #[arg(long)]
        target: Option<String>,
        /// Say the country in a Darwin Core archive, which is withheld otherwise
        #[arg(long)]
        with_country: bool,
        /// As of when.
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Take the whole log away as a folder that proves itself off line
    Bundle {
        /// A folder that does not exist yet
        folder: PathBuf,
    },
    /// Send a file that a note names by its SHA-256 (a report, a photo, a paper) to be kept
    Keep {
        /// The file
        file: PathBuf,
    },
    /// Pin the log's new key, once its fingerprint was compared with what the registrar shows
    Trust {
        /// The new verifier key
        vkey: String,
    },
    /// The receipt of a recorded note, checked
    Receipt {
        /// The note's id
        id: String,
    },
    /// A token of this key for another program that reads: `Authorization: Bearer TOKEN`
    Token,
    /// Writes that were refused, newest first; for auditor, curator and registrar
    Refused {
        /// At most so many
        #[arg(long, value_name = "N")]
        limit: Option<usize>,
    },
    /// Fetch the newest checkpoint and prove it consistent with the last one seen here
    Check,
    /// Any table through the statistics of the reports; sends nothing
    #[command(subcommand)]
    Compute(crate::compute::args::ComputeCommand),
    /// Settings
    #[command(subcommand)]
    Config(ConfigCommand),
}

/// Settings.
#[derive(Debug, Subcommand)]
pub enum ConfigCommand {
    /// Every setting and where it comes from
    Show,
}

/// What is to be made of a discrepancy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum SettleWord {
    /// It was so, and is meant as it stands.
    Meant,
    /// A note was a slip.
    Slip,
    /// Another person is to say.
    Ask,
}
