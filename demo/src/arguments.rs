//! What the demo is asked.

use crate::season::USUAL_SEED;
use crate::trouble::Trouble;
use clap::Parser;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};

/// The port on which the demo serves if nobody says.
pub const PORT_DEFAULT: u16 = 8080;
/// How many ports above the wanted one are tried.
const PORTS_TRIED: u16 = 16;

const AFTER: &str = "\
Everything in it is invented, and all keys lie in one folder, where one person has them all: never
keep a real record like this.

Exit status: 0 ok, 1 failed, 2 usage, 3 checked and found broken, 4 no such thing, 5 refused,
6 unreachable.";

/// Plays an invented season through the real client to the real service, tells what came of it,
/// and serves it until Ctrl-C.
#[derive(Debug, Parser)]
#[command(name = "demo", version, after_help = AFTER)]
pub struct Arguments {
    /// Keep the log, its keys and the bundle in this folder, which must be empty or not exist;
    /// without it a temporary folder is used and removed at the end.
    #[arg(long, value_name = "DIR")]
    pub dir: Option<PathBuf>,
    /// Play, tell, verify, write what `--out` asks for, and end without serving.
    #[arg(long)]
    pub once: bool,
    /// Write `bundle/`, `annual-report.json` and `annual-report.html` into this folder, which
    /// must be empty or not exist.
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Serve on this port of the loopback address; the next free one if it is in use.
    #[arg(long, default_value_t = PORT_DEFAULT, value_name = "PORT")]
    pub port: u16,
    /// The season's seed: the same seed plays the same season.
    #[arg(long, default_value_t = USUAL_SEED, value_name = "NUMBER")]
    pub seed: u64,
}

/// Makes a folder that must be empty or not exist yet.
///
/// # Errors
/// It holds something, is no folder, or cannot be made.
pub fn empty_folder(flag: &str, folder: &Path) -> Result<(), Trouble> {
    if folder.exists() {
        let mut entries = std::fs::read_dir(folder).map_err(|error| Trouble::io("read", folder, &error))?;
        if entries.next().is_some() {
            let detail = "is not empty; name a folder that does not exist yet, or an empty one";
            return Err(Trouble::Usage(format!("{flag} {}: it {detail}", folder.display())));
        }
    }
    std::fs::create_dir_all(folder).map_err(|error| Trouble::io("make", folder, &error))
}

/// The loopback address at the wanted port, or at the next free one.
///
/// # Errors
/// None of the ports tried is free.
pub fn free_address(wanted: u16) -> Result<SocketAddr, Trouble> {
    let last = wanted.saturating_add(PORTS_TRIED);
    let free = |port: &u16| *port == 0 || TcpListener::bind((Ipv4Addr::LOCALHOST, *port)).is_ok();
    let port = (wanted..=last).find(free);
    let port = port.ok_or_else(|| Trouble::Failed(format!("the ports {wanted} to {last} are in use; say another with --port")))?;
    Ok(SocketAddr::from((Ipv4Addr::LOCALHOST, port)))
}
