//! `selachrond`: the service at a command line. Results go to stdout, talk to stderr.
//!
//! Exit codes: 0 ok, 1 failed, 2 usage, 3 checked and found broken, 4 no such thing, 5 refused,
//! 6 unreachable.

use clap::{Args, Parser, Subcommand};
use selachron_record::clock::{Clock, SystemClock};
use selachron_record::config::{ConfigFile, ServiceSection, Settings, resolve};
use selachron_record::failure::{Failure, Setup};
use selachron_record::init::{self, Plan};
use selachron_record::upkeep::recompute::Comparison;
use selachron_record::{Service, tls, upkeep};
use selachron_schemas::encoding::from_base64_32;
use selachron_schemas::names::KeyId;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

/// The record of a nursery for egg-laying sharks and skates: the service.
#[derive(Parser)]
#[command(name = "selachrond", version)]
struct CommandLine {
    /// Configuration file; without it ./selachron.toml, if it is there.
    #[arg(long, global = true, env = "SELACHRON_CONFIG", value_name = "FILE")]
    config: Option<PathBuf>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Make a log: its folder, its key and the founding body for the root keys to sign.
    Init(InitArgs),
    /// Serve a log: on this machine, or with TLS on the house network.
    Serve(ServeArgs),
    /// Certificates of the house, for tablets on its network.
    #[command(subcommand)]
    Tls(TlsCommand),
    /// Read and check the whole log again from its first note.
    Rebuild(FolderArgs),
    /// Copy the log, while it is served, into a new folder.
    Backup(BackupArgs),
    /// Open a sealed log again, if its store reaches exactly the highest checkpoint known.
    Unseal(UnsealArgs),
    /// Make the next key of the log, for the root keys to bring into force; until then it signs nothing.
    Rekey(FolderArgs),
    /// Put a log back from a bundle into an empty folder, byte for byte and sealed.
    Restore(RestoreArgs),
    /// Compute a report anew from a bundle: same, different (exit code 3) or cannot tell (1).
    Recompute(RecomputeArgs),
    /// Say how the log stands.
    Status(FolderArgs),
}

#[derive(Args)]
struct InitArgs {
    /// The log's folder.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Record this envelope, the founding body signed by all root keys, as the first note.
    #[arg(long, value_name = "ENVELOPE.json", conflicts_with_all = ["origin", "demo"])]
    found: Option<PathBuf>,
    /// The log's origin, chosen once: no scheme, like records.example.org/nursery.
    #[arg(long, required_unless_present = "found")]
    origin: Option<String>,
    /// The collection's name.
    #[arg(long, required_unless_present = "found")]
    name: Option<String>,
    /// Its country, two capital letters.
    #[arg(long, required_unless_present = "found", value_name = "CC")]
    country: Option<String>,
    /// Its IANA time zone, like Australia/Brisbane.
    #[arg(long, required_unless_present = "found", value_name = "ZONE")]
    time_zone: Option<String>,
    /// A root key: its public key in base64 and its holder's pseudonym, KEY=person/ULID. Two to
    /// eight times; the first is the founding note's author.
    #[arg(long = "root", value_name = "KEY=PERSON", conflicts_with = "demo")]
    roots: Vec<String>,
    /// How many root persons decide.
    #[arg(long, default_value_t = 2, value_name = "N")]
    root_threshold: usize,
    /// A demonstration: make the root keys too, all in one folder. Never for a real record.
    #[arg(long)]
    demo: bool,
}

#[derive(Args)]
struct FolderArgs {
    /// The log's folder.
    #[arg(value_name = "DIR", env = "SELACHRON_DATA_DIR")]
    folder: Option<PathBuf>,
}

#[derive(Args)]
struct ServeArgs {
    #[command(flatten)]
    folder: FolderArgs,
    /// Address to listen on; one that other machines reach needs TLS.
    #[arg(long, env = "SELACHRON_LISTEN", value_name = "ADDRESS")]
    listen: Option<SocketAddr>,
    /// Certificate to speak TLS with, PEM.
    #[arg(long, env = "SELACHRON_TLS_CERT", value_name = "FILE", requires = "tls_key")]
    tls_cert: Option<PathBuf>,
    /// Its private key, PEM.
    #[arg(long, env = "SELACHRON_TLS_KEY", value_name = "FILE", requires = "tls_cert")]
    tls_key: Option<PathBuf>,
    /// A proxy in front speaks TLS and adds whom it speaks for to X-Forwarded-For.
    #[arg(long)]
    behind_proxy: bool,
    /// Whoever sits at this machine reads without a token.
    #[arg(long, conflicts_with = "behind_proxy")]
    open_on_loopback: bool,
    /// Requests a second that one address may go on making.
    #[arg(long, env = "SELACHRON_PEER_REQUESTS_PER_SECOND", value_name = "N")]
    peer_requests_per_second: Option<u32>,
    /// Program that sets reports as PDF; selachron-typeset beside this program if nobody says.
    #[arg(long, env = "SELACHRON_TYPESETTER", value_name = "PROGRAM")]
    typesetter: Option<PathBuf>,
}

#[derive(Subcommand)]
enum TlsCommand {
    /// Make a certificate authority for this house and the service's first certificate.
    MakeCa {
        /// The folder to make.
        #[arg(value_name = "DIR")]
        folder: PathBuf,
        /// A name or address by which tablets reach the service, like record.aquarium.example; may
        /// be repeated. The authority can vouch for these and for nothing else.
        #[arg(long = "host", value_name = "NAME", required = true)]
        hosts: Vec<String>,
    },
    /// Make a new certificate under the authority that is there; tablets need not be touched.
    Renew {
        /// The folder of the authority.
        #[arg(value_name = "DIR")]
        folder: PathBuf,
    },
}

#[derive(Args)]
struct BackupArgs {
    /// The folder to make.
    #[arg(value_name = "TO")]
    to: PathBuf,
    /// The log's folder.
    #[arg(long, env = "SELACHRON_DATA_DIR", value_name = "DIR")]
    folder: Option<PathBuf>,
}

#[derive(Args)]
struct UnsealArgs {
    #[command(flatten)]
    folder: FolderArgs,
    /// A checkpoint or receipt that somebody else kept; give all there are.
    #[arg(long, value_name = "FILE")]
    seen: Vec<PathBuf>,
    /// The folder of a bundle that holds what the store lacks; it is put back byte for byte.
    #[arg(long, value_name = "FOLDER")]
    bundle: Option<PathBuf>,
}

#[derive(Args)]
struct RestoreArgs {
    /// The bundle's folder.
    #[arg(value_name = "BUNDLE")]
    bundle: PathBuf,
    /// The folder to make.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

#[derive(Args)]
struct RecomputeArgs {
    /// The bundle's folder.
    #[arg(long, value_name = "DIR")]
    bundle: PathBuf,
    /// The report's JSON, as it was served or issued.
    #[arg(long, value_name = "FILE")]
    report: PathBuf,
}

fn main() -> ExitCode {
    let command_line = CommandLine::parse();
    let filter = tracing_subscriber::EnvFilter::try_from_env("SELACHRON_LOG").unwrap_or_else(|_| "info".into());
    tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).init();
    match run(command_line) {
        Ok(code) => ExitCode::from(code),
        Err(failure) => {
            eprintln!("selachrond: {failure}");
            ExitCode::from(exit_code(&failure))
        }
    }
}

fn exit_code(failure: &Failure) -> u8 {
    match failure {
        Failure::Broken(_) => 3,
        Failure::Setup(Setup::NoLog(_) | Setup::NotFounded(_)) | Failure::Question(_) => 4,
        Failure::Refused(_)
        | Failure::Sealed(_)
        | Failure::Closed(_)
        | Failure::Setup(Setup::Exists(_) | Setup::InUse(_) | Setup::Refused(_)) => 5,
        Failure::Busy(_) | Failure::Unset(_) | Failure::Setup(Setup::NotOurs(_) | Setup::Io(_)) => 1,
    }
}

/// What a comparison ends with.
fn recompute(args: &RecomputeArgs) -> Result<u8, Failure> {
    let found = upkeep::recompute::recompute(&args.bundle, &args.report)?;
    println!("{found}");
    Ok(match found.comparison {
        Comparison::Same => 0,
        Comparison::Different(_) => 3,
        Comparison::CannotTell(_) => 1,
    })
}

fn run(command_line: CommandLine) -> Result<u8, Failure> {
    if let Command::Recompute(args) = &command_line.command {
        return recompute(args);
    }
    act(command_line).map(|()| 0)
}

fn act(command_line: CommandLine) -> Result<(), Failure> {
    let file = ConfigFile::load(command_line.config.as_deref())?;
    let folder = |given| resolve(given, None, &file).map(|(folder, _)| folder);
    match command_line.command {
        Command::Init(args) => init(args),
        Command::Serve(args) => serve(args, &file),
        Command::Tls(TlsCommand::MakeCa { folder, hosts }) => make_ca(&folder, &hosts),
        Command::Tls(TlsCommand::Renew { folder }) => renew(&folder),
        Command::Rebuild(args) => say(&upkeep::rebuild(&folder(args.folder)?)?),
        Command::Backup(args) => backup(&folder(args.folder)?, &args.to),
        Command::Unseal(args) => say(&upkeep::unseal::unseal(&folder(args.folder.folder)?, &args.seen, args.bundle.as_deref())?),
        Command::Rekey(args) => rekey(&folder(args.folder)?),
        Command::Restore(args) => restore(&args),
        // Taken before, for its exit code.
        Command::Recompute(args) => recompute(&args).map(drop),
        Command::Status(args) => say(&upkeep::status(&folder(args.folder)?)?),
    }
}

fn say(status: &upkeep::Status) -> Result<(), Failure> {
    println!("{status}");
    Ok(())
}

fn rekey(folder: &Path) -> Result<(), Failure> {
    let (file, key) = upkeep::rekey(folder)?;
    println!("{key}");
    eprintln!(
        "The next log key is made: {}. It stays on this machine, and is not part of a backup: keep a copy apart, under lock.",
        file.display()
    );
    eprintln!("Its fingerprint, to read aloud: {}", KeyId::of(key.public_key().as_bytes()));
    eprintln!("Now the root keys sign, each where it is kept (ops/RUNNING.md, \"Changing the log key\"):");
    eprintln!("  selachron --key ROOT1.pem draft log.rekeyed collection rekey.json log_vkey='{key}' overlap_until_size=N reason=WORDS");
    eprintln!("  selachron --key ROOT2.pem approve rekey.json; selachron post rekey.json");
    eprintln!(
        "From that note on the service signs with it, and up to N notes with the old key too, so that devices that pinned the old one follow."
    );
    Ok(())
}

fn init(args: InitArgs) -> Result<(), Failure> {
    let clock: Arc<dyn Clock> = Arc::new(SystemClock);
    if let Some(path) = &args.found {
        let envelope = std::fs::read(path).map_err(|error| Setup::Io(format!("reading {}: {error}", path.display())))?;
        init::found(&args.folder, &envelope, clock)?;
        println!("founded: {}", args.folder.display());
        return Ok(());
    }
    let plan = Plan {
        origin: args.origin.unwrap_or_default(),
        name: args.name.unwrap_or_default(),
        country: args.country.unwrap_or_default(),
        time_zone: args.time_zone.unwrap_or_default(),
        roots: args.roots.iter().map(|text| root(text)).collect::<Result<_, _>>()?,
        root_threshold: args.root_threshold,
        simulated_clock: false,
    };
    if args.demo {
        let keys = init::demo::found_with_new_roots(&args.folder, plan, clock)?;
        println!("founded, as a demonstration: {}", args.folder.display());
        eprintln!("All its keys lie in one folder, where one person has them all. Never keep a real record like this.");
        keys.iter().for_each(|path| println!("root key: {}", path.display()));
        return Ok(());
    }
    let body = init::prepare(&args.folder, &plan, &*clock)?;
    println!("{}", body.display());
    eprintln!("The log key is made; it stays on this machine, and is not part of a backup: keep a copy apart, under lock.");
    eprintln!("Have every root key sign {} on its own machine, then: selachrond init DIR --found ENVELOPE.json", body.display());
    Ok(())
}

fn root(text: &str) -> Result<([u8; 32], String), Failure> {
    // A padded key ends in `=` itself, so the last one divides.
    let read = |(key, person): (&str, &str)| Some((from_base64_32(key)?, person.to_owned()));
    let wrong = || Setup::Refused(format!("--root {text:?}: give the public key in base64, an equals sign, and person/<ULID>"));
    Ok(text.rsplit_once('=').and_then(read).ok_or_else(wrong)?)
}

fn serve(args: ServeArgs, file: &ConfigFile) -> Result<(), Failure> {
    let (data_dir, listen) = resolve(args.folder.folder, args.listen, file)?;
    let flags = ServiceSection {
        tls_cert: args.tls_cert,
        tls_key: args.tls_key,
        behind_proxy: args.behind_proxy,
        open_on_loopback: args.open_on_loopback,
        peer_requests_per_s: args.peer_requests_per_second,
        ..ServiceSection::default()
    };
    let network = flags.network(&file.service)?;
    let typesetter = args.typesetter.or_else(|| file.service.typesetter.clone());
    let settings = Settings { data_dir, listen, network, clock: Arc::new(SystemClock), typesetter, allow_simulated: false };
    let running = Service::start(settings)?;
    println!("{}", running.url());
    wait_for_the_end()?;
    running.shutdown();
    Ok(())
}

fn make_ca(folder: &Path, hosts: &[String]) -> Result<(), Failure> {
    let files = tls::make_ca(folder, hosts, &SystemClock)?;
    let (folder, host) = (folder.display(), hosts.first().map_or("localhost", String::as_str));
    println!("{folder}/{}", tls::CA_FILE);
    eprintln!(
        "Next:\n\
         1. Serve:   selachrond serve LOG --listen 0.0.0.0:7319 --tls-cert {} --tls-key {}\n\
         2. Clients: selachron --url https://{host}:7319 --ca {folder}/{ca} … (or SELACHRON_CA)\n\
         3. Tablets: bring {ca} to each, over a cable or a card rather than by mail, and install it as a trusted certificate\n\
         \x20  authority (Settings, security, credentials; on an iPad then also General, About, Certificate Trust Settings).\n\
         4. Take {key} off this machine and lock it away: whoever has it can pretend to be this service. It can vouch for\n\
         \x20  the hosts given here and for nothing else. Before the certificate ends, bring it back once: selachrond tls renew {folder}",
        files.cert.display(),
        files.key.display(),
        ca = tls::CA_FILE,
        key = tls::CA_KEY_FILE,
    );
    Ok(())
}

fn renew(folder: &Path) -> Result<(), Failure> {
    let files = tls::renew(folder, &SystemClock)?;
    println!("{}", files.cert.display());
    eprintln!("Start the service again to use it. Tablets and clients go on as they are. Lock {} away again.", tls::CA_KEY_FILE);
    Ok(())
}

/// Until somebody presses Ctrl-C or the machine's keeper sends TERM.
fn wait_for_the_end() -> Result<(), Failure> {
    let io = |error: std::io::Error| Failure::from(Setup::Io(format!("waiting for a signal: {error}")));
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(io)?;
    runtime.block_on(async {
        let mut term = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()).map_err(io)?;
        tokio::select! {
            outcome = tokio::signal::ctrl_c() => outcome.map_err(io),
            _ = term.recv() => Ok(()),
        }
    })
}

fn backup(folder: &Path, to: &Path) -> Result<(), Failure> {
    let status = upkeep::backup(folder, to)?;
    println!("{status}");
    eprintln!(
        "The log key is not in it: keep that apart. A log that is put back from this copy opens sealed, for it may be older than what clients hold."
    );
    Ok(())
}

fn restore(args: &RestoreArgs) -> Result<(), Failure> {
    say(&upkeep::restore::restore(&args.bundle, &args.folder)?)?;
    eprintln!(
        "It is sealed, and the log key is in no bundle. Put the key beside the store as {}, gather what others hold, and open it: \
         selachrond unseal {} --bundle {}",
        init::KEY_FILE,
        args.folder.display(),
        args.bundle.display(),
    );
    Ok(())
}
