//! TLS in this program: a house's own certificate authority for tablets on the house network, and
//! the certificate that the service shows.

use crate::clock::Clock;
use crate::failure::{Failure, Setup, io};
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType, ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer,
    KeyPair, KeyUsagePurpose, NameConstraints, SanType, date_time_ymd,
};
use rustls_pki_types::pem::PemObject as _;
use rustls_pki_types::{CertificateDer, PrivateKeyDer};
use selachron_schemas::limits::{CA_DAYS, SERVER_CERTIFICATE_DAYS};
use std::fs::OpenOptions;
use std::io::Write as _;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::{ServerConfig, crypto};

/// The certificate that tablets and clients are given.
pub const CA_FILE: &str = "house-ca.pem";
/// Its private key: whoever has it can pretend to be the service.
pub const CA_KEY_FILE: &str = "house-ca.key";
/// The names that the authority vouches for, one a line.
pub const HOSTS_FILE: &str = "hosts";
/// The service's certificate.
pub const SERVER_FILE: &str = "server.pem";
/// Its private key.
pub const SERVER_KEY_FILE: &str = "server.key";

/// The name of every house's authority; the key tells them apart.
const CA_NAME: &str = "Selachron house certificate authority";

/// Where the service's certificate and key are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlsFiles {
    /// The certificate and those between it and the authority, PEM.
    pub cert: PathBuf,
    /// The private key, PEM.
    pub key: PathBuf,
}

impl TlsFiles {
    /// What takes TLS connections with these.
    ///
    /// # Errors
    /// A file cannot be read, holds no PEM, or key and certificate do not belong together.
    pub fn acceptor(&self) -> Result<TlsAcceptor, Failure> {
        let wrong = |path: &Path, error: &dyn std::fmt::Display| Setup::Refused(format!("{}: {error}", path.display()));
        let chain: Result<Vec<_>, _> = CertificateDer::pem_file_iter(&self.cert).and_then(Iterator::collect);
        let chain = chain.map_err(|error| wrong(&self.cert, &error))?;
        // What the library says of a key that it cannot read is not repeated: it might quote it.
        let key = PrivateKeyDer::from_pem_file(&self.key).map_err(|_| wrong(&self.key, &"no private key in PEM can be read here"))?;
        let config = ServerConfig::builder_with_provider(Arc::new(crypto::ring::default_provider()));
        let config = config.with_safe_default_protocol_versions().map_err(|error| wrong(&self.cert, &error))?;
        let mut config = config.with_no_client_auth().with_single_cert(chain, key).map_err(|error| wrong(&self.cert, &error))?;
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(TlsAcceptor::from(Arc::new(config)))
    }
}

/// Makes a certificate authority in `folder` that can vouch for these hosts and no others, and
/// the service's first certificate. This machine's own names are always among them.
///
/// # Errors
/// There is one already, a host is no name, or a file cannot be written.
pub fn make_ca(folder: &Path, hosts: &[String], clock: &dyn Clock) -> Result<TlsFiles, Failure> {
    let hosts = with_own_names(hosts)?;
    std::fs::create_dir_all(folder).map_err(|error| io(format!("making {}", folder.display()), &error))?;
    let path = folder.join(CA_FILE);
    if path.exists() {
        let said = format!("{} is there already; for a new certificate under it: selachrond tls renew DIR", path.display());
        return Err(Setup::Exists(said).into());
    }
    let key = KeyPair::generate().map_err(|error| failed(&error))?;
    let certificate = authority(&hosts, clock)?.self_signed(&key).map_err(|error| failed(&error))?;
    write(&folder.join(CA_KEY_FILE), &key.serialize_pem(), true)?;
    write(&folder.join(HOSTS_FILE), &format!("{}\n", hosts.join("\n")), false)?;
    write(&path, &certificate.pem(), false)?;
    renew(folder, clock)
}

/// Makes the service a new key and a new certificate under the authority in `folder`. What
/// clients trust stays as it is.
///
/// # Errors
/// There is no authority in it, or a file cannot be written.
pub fn renew(folder: &Path, clock: &dyn Clock) -> Result<TlsFiles, Failure> {
    let read = |name: &str| {
        let path = folder.join(name);
        std::fs::read_to_string(&path).map_err(|error| io(format!("reading {}", path.display()), &error))
    };
    let (ca_key, hosts) = (read(CA_KEY_FILE)?, read(HOSTS_FILE)?);
    let ca_key = KeyPair::from_pem(&ca_key).map_err(|_| Setup::NotOurs(format!("{CA_KEY_FILE} is no key that we made")))?;
    let hosts: Vec<String> = hosts.lines().map(str::to_owned).collect();
    let issuer = Issuer::new(authority(&hosts, clock)?, ca_key);
    let mut params = lasting(CertificateParams::default(), SERVER_CERTIFICATE_DAYS, clock);
    params.subject_alt_names = hosts.iter().map(|host| san(host)).collect::<Result<_, _>>()?;
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, "Selachron record");
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.use_authority_key_identifier_extension = true;
    let key = KeyPair::generate().map_err(|error| failed(&error))?;
    let certificate = params.signed_by(&key, &issuer).map_err(|error| failed(&error))?;
    let files = TlsFiles { cert: folder.join(SERVER_FILE), key: folder.join(SERVER_KEY_FILE) };
    replace(&files.key, &key.serialize_pem(), true)?;
    replace(&files.cert, &certificate.pem(), false)?;
    Ok(files)
}

/// The authority's certificate. It can sign for its hosts only: a tablet that trusts it trusts it
/// for nothing else.
fn authority(hosts: &[String], clock: &dyn Clock) -> Result<CertificateParams, Failure> {
    let mut params = lasting(CertificateParams::default(), CA_DAYS, clock);
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, CA_NAME);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    let subtree = |host: &String| match host.parse::<IpAddr>() {
        Ok(address) => GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(address, if address.is_ipv4() { 32 } else { 128 })),
        Err(_) => GeneralSubtree::DnsName(host.clone()),
    };
    params.name_constraints =
        Some(NameConstraints { permitted_subtrees: hosts.iter().map(subtree).collect(), excluded_subtrees: Vec::new() });
    Ok(params)
}

/// Valid from yesterday, for clocks that are behind, and so many days on.
fn lasting(mut params: CertificateParams, days: i64, clock: &dyn Clock) -> CertificateParams {
    use chrono::Datelike as _;
    let today = clock.now().day(chrono_tz::UTC);
    let moment = |days: i64| {
        let day = today + chrono::Duration::days(days);
        date_time_ymd(day.year(), u8::try_from(day.month()).unwrap_or(1), u8::try_from(day.day()).unwrap_or(1))
    };
    (params.not_before, params.not_after) = (moment(-1), moment(days));
    params
}

fn with_own_names(hosts: &[String]) -> Result<Vec<String>, Failure> {
    let own = ["localhost".to_owned(), Ipv4Addr::LOCALHOST.to_string(), Ipv6Addr::LOCALHOST.to_string()];
    let mut all: Vec<String> = Vec::new();
    for host in hosts.iter().cloned().chain(own) {
        san(&host)?;
        if !all.contains(&host) {
            all.push(host);
        }
    }
    Ok(all)
}

fn san(host: &str) -> Result<SanType, Failure> {
    let wrong =
        || Setup::Refused(format!("--host {host:?}: give the name or address that stands in the URL, like record.aquarium.example"));
    if let Ok(address) = host.parse::<IpAddr>() {
        return Ok(SanType::IpAddress(address));
    }
    let is_label =
        |label: &str| !label.is_empty() && label.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-');
    if !host.split('.').all(is_label) {
        return Err(wrong().into());
    }
    Ok(SanType::DnsName(host.try_into().map_err(|_| wrong())?))
}

fn failed(error: &dyn std::fmt::Display) -> Failure {
    Setup::Io(format!("the certificate cannot be made: {error}")).into()
}

fn write(path: &Path, text: &str, secret: bool) -> Result<(), Failure> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, if secret { 0o600 } else { 0o644 });
    let written = options.open(path).and_then(|mut file| file.write_all(text.as_bytes()).and_then(|()| file.sync_all()));
    written.map_err(|error| io(format!("writing {}", path.display()), &error))
}

/// A file is whole or not there: the new one takes the old one's place at the end.
fn replace(path: &Path, text: &str, secret: bool) -> Result<(), Failure> {
    let next = path.with_extension("new");
    let _ = std::fs::remove_file(&next);
    write(&next, text, secret)?;
    std::fs::rename(&next, path).map_err(|error| io(format!("writing {}", path.display()), &error))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::SystemClock;

    #[test]
    fn an_authority_is_made_once_and_its_certificates_again_and_again() {
        let folder = tempfile::tempdir().unwrap();
        let files = make_ca(folder.path(), &["record.example".to_owned(), "192.0.2.7".to_owned()], &SystemClock).unwrap();
        files.acceptor().unwrap();
        let hosts = std::fs::read_to_string(folder.path().join(HOSTS_FILE)).unwrap();
        assert_eq!(hosts, "record.example\n192.0.2.7\nlocalhost\n127.0.0.1\n::1\n");
        let (before, ca) = (std::fs::read(&files.cert).unwrap(), std::fs::read(folder.path().join(CA_FILE)).unwrap());
        assert!(matches!(make_ca(folder.path(), &[], &SystemClock), Err(Failure::Setup(Setup::Exists(_)))));
        assert_eq!(renew(folder.path(), &SystemClock).unwrap(), files);
        assert_ne!(std::fs::read(&files.cert).unwrap(), before);
        assert_eq!(std::fs::read(folder.path().join(CA_FILE)).unwrap(), ca, "what clients trust stays");
        files.acceptor().unwrap();
    }

    #[cfg(unix)]
    #[test]
    fn private_keys_are_for_their_owner_only() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        make_ca(folder.path(), &[], &SystemClock).unwrap();
        for name in [CA_KEY_FILE, SERVER_KEY_FILE] {
            assert_eq!(std::fs::metadata(folder.path().join(name)).unwrap().permissions().mode() & 0o777, 0o600, "{name}");
        }
    }

    #[test]
    fn what_is_no_host_or_no_certificate_is_named() {
        let folder = tempfile::tempdir().unwrap();
        for host in ["", "https://record.example", "Record.Example", "a..b", "*.example", "record.example:443"] {
            let said = make_ca(folder.path(), &[host.to_owned()], &SystemClock).unwrap_err().to_string();
            assert!(said.contains("--host"), "{said}");
        }
        let missing = TlsFiles { cert: folder.path().join("none.pem"), key: folder.path().join("none.key") };
        assert!(missing.acceptor().err().unwrap().to_string().contains("none.pem"));
        let files = make_ca(folder.path(), &[], &SystemClock).unwrap();
        let mixed = TlsFiles { key: folder.path().join(CA_KEY_FILE), ..files };
        assert!(mixed.acceptor().is_err(), "key and certificate do not belong together");
    }
}
