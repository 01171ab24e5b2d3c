//! Settings, and where each comes from: flag, then environment (`SELACHRON_*`), then the
//! configuration file, then the default.

use crate::clock::Clock;
use crate::failure::{Failure, Setup, io};
use serde::Deserialize;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where the service listens if nobody says.
pub const LISTEN_DEFAULT: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 7319);
/// The configuration file that is read if it is there and no other is named.
pub const CONFIG_FILE: &str = "selachron.toml";

/// What a service needs to know.
#[derive(Clone)]
pub struct Settings {
    /// Folder of the log.
    pub data_dir: PathBuf,
    /// Where to listen; port 0 takes a free one. Loopback only.
    pub listen: SocketAddr,
    /// The clock.
    pub clock: Arc<dyn Clock>,
    /// Whether a log with a simulated clock may be written: demo and tests.
    pub allow_simulated: bool,
}

/// What a configuration file may say, under `[service]`.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ServiceSection {
    /// Folder of the log.
    pub data_dir: Option<PathBuf>,
    /// Where to listen.
    pub listen: Option<SocketAddr>,
}

/// A configuration file; sections of other programs are theirs.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
pub struct ConfigFile {
    /// The service's own section.
    #[serde(default)]
    pub service: ServiceSection,
}

impl ConfigFile {
    /// Reads the file named, or `./selachron.toml` if it is there.
    ///
    /// # Errors
    /// The file named cannot be read, or does not say what a configuration may say.
    pub fn load(named: Option<&Path>) -> Result<Self, Failure> {
        let path = named.unwrap_or_else(|| Path::new(CONFIG_FILE));
        match std::fs::read_to_string(path) {
            Ok(text) => Self::parse(&text).map_err(|reason| Setup::Refused(format!("{}: {reason}", path.display())).into()),
            Err(error) if named.is_none() && error.kind() == std::io::ErrorKind::NotFound => Ok(Self::default()),
            Err(error) => Err(io(format!("reading {}", path.display()), &error)),
        }
    }

    fn parse(text: &str) -> Result<Self, String> {
        toml::from_str(text).map_err(|error| error.to_string())
    }
}

/// The folder and the address: what was given by flag or environment, else the file, else the
/// default.
///
/// # Errors
/// Nobody names a folder.
pub fn resolve(data_dir: Option<PathBuf>, listen: Option<SocketAddr>, file: &ConfigFile) -> Result<(PathBuf, SocketAddr), Failure> {
    let data_dir = data_dir.or_else(|| file.service.data_dir.clone());
    let missing = || {
        Setup::Refused(
            "no folder given: name the log's folder, set SELACHRON_DATA_DIR, or write data_dir under [service] in selachron.toml"
                .to_owned(),
        )
    };
    Ok((data_dir.ok_or_else(missing)?, listen.or(file.service.listen).unwrap_or(LISTEN_DEFAULT)))
}

/// Refuses an address that other machines could reach: reads need no token yet.
///
/// # Errors
/// The address is not a loopback address.
pub fn check_loopback(listen: SocketAddr) -> Result<(), Failure> {
    if listen.ip().is_loopback() {
        return Ok(());
    }
    let said = format!("{listen} can be reached from other machines, and reads need no token yet: listen on 127.0.0.1 or [::1]");
    Err(Setup::Refused(said).into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flag_wins_over_the_file_and_the_file_over_the_default() {
        let file = ConfigFile::parse("[service]\ndata_dir = \"/var/a\"\nlisten = \"127.0.0.1:81\"\n[client]\nurl = \"x\"").unwrap();
        let flag: SocketAddr = "127.0.0.1:80".parse().unwrap();
        assert_eq!(resolve(Some("b".into()), Some(flag), &file).unwrap(), ("b".into(), flag));
        assert_eq!(resolve(None, None, &file).unwrap(), ("/var/a".into(), "127.0.0.1:81".parse().unwrap()));
        assert_eq!(resolve(Some("b".into()), None, &ConfigFile::default()).unwrap().1, LISTEN_DEFAULT);
    }

    #[test]
    fn what_the_file_may_not_say_is_refused_by_name() {
        let said = ConfigFile::parse("[service]\nlisten_on = 1").unwrap_err();
        assert!(said.contains("listen_on"), "{said}");
        assert!(resolve(None, None, &ConfigFile::default()).is_err());
    }

    #[test]
    fn only_loopback_is_listened_on() {
        assert!(check_loopback("127.0.0.1:0".parse().unwrap()).is_ok());
        assert!(check_loopback("[::1]:0".parse().unwrap()).is_ok());
        for open in ["0.0.0.0:80", "[::]:80", "192.0.2.1:80"] {
            assert!(check_loopback(open.parse().unwrap()).is_err(), "{open}");
        }
    }
}
