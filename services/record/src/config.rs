//! Settings, and where each comes from: flag, then environment (`SELACHRON_*`), then the
//! configuration file, then the default.

use crate::clock::Clock;
use crate::failure::{Failure, Setup, io};
use crate::tls::TlsFiles;
use selachron_schemas::limits::PEER_REQUESTS_PER_S;
use serde::Deserialize;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where the service listens if nobody says.
pub const LISTEN_DEFAULT: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 7319);
/// The configuration file that is read if it is there and no other is named.
pub const CONFIG_FILE: &str = "selachron.toml";

/// The typesetter's file name.
pub const TYPESETTER: &str = "selachron-typeset";

/// What a service needs to know.
#[derive(Clone)]
pub struct Settings {
    /// Folder of the log.
    pub data_dir: PathBuf,
    /// Where to listen; port 0 takes a free one.
    pub listen: SocketAddr,
    /// How it meets the network.
    pub network: Network,
    /// The clock.
    pub clock: Arc<dyn Clock>,
    /// The program that sets reports as PDF; if nobody says, [`TYPESETTER`] beside the service.
    pub typesetter: Option<PathBuf>,
    /// Whether a log with a simulated clock may be written: demo and tests.
    pub allow_simulated: bool,
}

/// How the service meets the network. The default is the safest: on loopback only, and reads need
/// a token there too.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Network {
    /// The certificate to speak TLS with.
    pub tls: Option<TlsFiles>,
    /// A proxy in front speaks TLS, and says in `X-Forwarded-For` whom it speaks for.
    pub behind_proxy: bool,
    /// Who sits at this machine reads without a token.
    pub open_on_loopback: bool,
    /// Requests a second that one address may go on making; if nobody says, there is no such
    /// limit on loopback, and elsewhere it is `PEER_REQUESTS_PER_S`.
    pub peer_requests_per_s: Option<u32>,
}

impl Network {
    /// Refuses what would be open to others: an address beyond this machine is listened on only
    /// with TLS, here or in front, and reads without a token are for this machine only.
    ///
    /// # Errors
    /// Says which flags go together.
    pub fn check(&self, listen: SocketAddr) -> Result<(), Failure> {
        let refused = |said: String| Err(Setup::Refused(said).into());
        let loopback = listen.ip().is_loopback();
        if !loopback && self.tls.is_none() && !self.behind_proxy {
            return refused(format!(
                "{listen} can be reached from other machines: give --tls-cert and --tls-key (`selachrond tls make-ca DIR --host NAME` makes them), or say --behind-proxy if a proxy in front speaks TLS; or listen on 127.0.0.1"
            ));
        }
        if self.open_on_loopback && (!loopback || self.behind_proxy) {
            return refused(
                "--open-on-loopback is for a service that only this machine reaches: not together with --behind-proxy or another address"
                    .to_owned(),
            );
        }
        if self.peer_requests_per_s == Some(0) {
            return refused("--peer-requests-per-second 0 would answer nobody; give at least 1".to_owned());
        }
        Ok(())
    }

    /// Requests a second that one address may go on making; `None`: as many as it likes.
    #[must_use]
    pub fn peer_rate(&self, listen: SocketAddr) -> Option<u32> {
        let on_network = self.behind_proxy || !listen.ip().is_loopback();
        self.peer_requests_per_s.or(on_network.then_some(PEER_REQUESTS_PER_S))
    }
}

/// What a configuration file may say, under `[service]`.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ServiceSection {
    /// Folder of the log.
    pub data_dir: Option<PathBuf>,
    /// Where to listen.
    pub listen: Option<SocketAddr>,
    /// Certificate to speak TLS with, PEM.
    pub tls_cert: Option<PathBuf>,
    /// Its private key, PEM.
    pub tls_key: Option<PathBuf>,
    /// A proxy in front speaks TLS.
    #[serde(default)]
    pub behind_proxy: bool,
    /// Who sits at this machine reads without a token.
    #[serde(default)]
    pub open_on_loopback: bool,
    /// Requests a second that one address may go on making.
    pub peer_requests_per_s: Option<u32>,
    /// The program that sets reports as PDF.
    pub typesetter: Option<PathBuf>,
}

impl ServiceSection {
    /// How the service meets the network, by flags (`self`) before the file.
    ///
    /// # Errors
    /// A certificate without its key, or a key without its certificate.
    pub fn network(self, file: &Self) -> Result<Network, Failure> {
        let cert = self.tls_cert.or_else(|| file.tls_cert.clone());
        let key = self.tls_key.or_else(|| file.tls_key.clone());
        let tls = match (cert, key) {
            (Some(cert), Some(key)) => Some(TlsFiles { cert, key }),
            (None, None) => None,
            _ => return Err(Setup::Refused("--tls-cert and --tls-key go together: give both".to_owned()).into()),
        };
        Ok(Network {
            tls,
            behind_proxy: self.behind_proxy || file.behind_proxy,
            open_on_loopback: self.open_on_loopback || file.open_on_loopback,
            peer_requests_per_s: self.peer_requests_per_s.or(file.peer_requests_per_s),
        })
    }
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
    fn what_others_could_read_is_refused_before_it_is_listened_on() {
        let at = |address: &str| address.parse::<SocketAddr>().unwrap();
        let tls = || Some(TlsFiles { cert: "c".into(), key: "k".into() });
        let plain = Network::default();
        for here in ["127.0.0.1:0", "[::1]:0"] {
            assert!(plain.check(at(here)).is_ok());
        }
        for open in ["0.0.0.0:80", "[::]:80", "192.0.2.1:80"] {
            let said = plain.check(at(open)).unwrap_err().to_string();
            assert!(said.contains("--tls-cert") && said.contains("--behind-proxy"), "{said}");
            assert!(Network { tls: tls(), ..plain.clone() }.check(at(open)).is_ok());
            assert!(Network { behind_proxy: true, ..plain.clone() }.check(at(open)).is_ok());
            assert!(Network { tls: tls(), open_on_loopback: true, ..plain.clone() }.check(at(open)).is_err());
        }
        assert!(Network { open_on_loopback: true, ..plain.clone() }.check(at("127.0.0.1:0")).is_ok());
        assert!(Network { open_on_loopback: true, behind_proxy: true, ..plain.clone() }.check(at("127.0.0.1:0")).is_err());
        assert!(Network { peer_requests_per_s: Some(0), ..plain }.check(at("127.0.0.1:0")).is_err());
    }

    #[test]
    fn rates_are_for_the_network() {
        let at = |address: &str| address.parse::<SocketAddr>().unwrap();
        assert_eq!(Network::default().peer_rate(at("127.0.0.1:0")), None);
        assert_eq!(Network::default().peer_rate(at("192.0.2.1:0")), Some(PEER_REQUESTS_PER_S));
        assert_eq!(Network { behind_proxy: true, ..Network::default() }.peer_rate(at("127.0.0.1:0")), Some(PEER_REQUESTS_PER_S));
        assert_eq!(Network { peer_requests_per_s: Some(7), ..Network::default() }.peer_rate(at("127.0.0.1:0")), Some(7));
    }

    #[test]
    fn a_certificate_and_its_key_go_together() {
        let file = ConfigFile::parse("[service]\ntls_cert = \"/etc/server.pem\"\npeer_requests_per_s = 9").unwrap().service;
        assert!(ServiceSection::default().network(&file).is_err());
        let flags = ServiceSection { tls_key: Some("k".into()), ..ServiceSection::default() };
        let network = flags.network(&file).unwrap();
        assert_eq!(network.tls, Some(TlsFiles { cert: "/etc/server.pem".into(), key: "k".into() }));
        assert_eq!(network.peer_requests_per_s, Some(9));
    }
}
