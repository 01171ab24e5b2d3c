//! The wire: blocking HTTP, plain only on this machine itself, TLS everywhere else. Nothing that
//! comes over it is believed here.

use crate::fault::{Fault, Refused};
use reqwest::StatusCode;
use reqwest::blocking::{Client, ClientBuilder, Response};
use reqwest::header::{ACCEPT, CONTENT_TYPE, RETRY_AFTER};
use reqwest::redirect::Policy;
use selachron_schemas::limits::{
    CLIENT_ANSWER_BYTES_MAX, CLIENT_CONNECT_TIMEOUT_S, CLIENT_RETRIES_MAX, CLIENT_STREAM_SILENCE_S, CLIENT_TIMEOUT_S, RETRY_AFTER_S,
};
use serde_json::Value;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A service at an address.
pub struct Transport {
    base: reqwest::Url,
    ca_file: Option<PathBuf>,
    client: Client,
}

/// An answer that is read as it comes.
#[derive(Debug)]
pub struct Stream(Response);

impl Stream {
    /// Its length in bytes, where that is known beforehand.
    #[must_use]
    pub fn length(&self) -> Option<u64> {
        self.0.content_length()
    }

    /// What the service says beside it.
    #[must_use]
    pub fn header(&self, name: &str) -> Option<&str> {
        self.0.headers().get(name)?.to_str().ok()
    }
}

impl Read for Stream {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        self.0.read(into)
    }
}

/// One question to the service.
enum Question<'a> {
    Get { path: &'a str, query: &'a [(&'a str, &'a str)], accept: &'a str, token: Option<&'a str> },
    Post { path: &'a str, content_type: &'a str, body: &'a str },
    Put { path: &'a str, bytes: &'a [u8], token: Option<&'a str> },
}

impl Transport {
    /// A service at `url`; `ca_file` is a PEM of the house's own certificate authority, which is
    /// then the only one believed.
    ///
    /// # Errors
    /// The address is none, or is plain http to another machine; the CA file is not PEM.
    pub fn new(url: &str, ca_file: Option<&Path>) -> Result<Self, Fault> {
        let base = base_url(url)?;
        // TLS needs one provider for the whole process; that it is set already is fine.
        let _ = rustls::crypto::ring::default_provider().install_default();
        let client = client(&base, ca_file, CLIENT_TIMEOUT_S)?;
        Ok(Self { base, ca_file: ca_file.map(Path::to_owned), client })
    }

    /// Reads text of a media type, with a token where one is shown.
    ///
    /// # Errors
    /// Unreachable, refused, no such thing, a query the service does not accept.
    pub fn get_text(&self, path: &str, query: &[(&str, &str)], accept: &str, token: Option<&str>) -> Result<String, Fault> {
        self.ask(&Question::Get { path, query, accept, token }).and_then(|answer| text(answer, path))
    }

    /// Reads a stream. Between two pieces of it the service may work for longer than on an answer.
    ///
    /// # Errors
    /// As [`Transport::get_text`].
    pub fn get_stream(&self, path: &str, query: &[(&str, &str)], accept: &str, token: Option<&str>) -> Result<Stream, Fault> {
        let ca_file = self.ca_file.clone();
        let patient = Self { base: self.base.clone(), client: client(&self.base, ca_file.as_deref(), CLIENT_STREAM_SILENCE_S)?, ca_file };
        patient.ask(&Question::Get { path, query, accept, token }).map(Stream)
    }

    /// Posts text and reads the answer.
    ///
    /// # Errors
    /// Unreachable, or a refusal of the whole request.
    pub fn post(&self, path: &str, content_type: &str, body: &str) -> Result<String, Fault> {
        self.ask(&Question::Post { path, content_type, body }).and_then(|answer| text(answer, path))
    }

    /// Sends a file's bytes to be kept under its SHA-256, with a token where one is shown.
    ///
    /// # Errors
    /// Unreachable, or refused: no note names it, or it is too large.
    pub fn put(&self, path: &str, bytes: &[u8], token: Option<&str>) -> Result<String, Fault> {
        self.ask(&Question::Put { path, bytes, token }).and_then(|answer| text(answer, path))
    }

    /// Asks, and asks again when the service says that it is busy or that we are too fast (503 or
    /// 429 with `Retry-After`).
    fn ask(&self, question: &Question<'_>) -> Result<Response, Fault> {
        let mut tried = 0;
        loop {
            let answer = self.send(question)?;
            let wait = retry_after(&answer);
            if answer.status().is_success() {
                return Ok(answer);
            }
            let fault = refused(answer, question);
            match (fault, wait) {
                (Fault::Unreachable(_), Some(wait)) if tried < CLIENT_RETRIES_MAX => std::thread::sleep(wait),
                (fault, _) => return Err(fault),
            }
            tried += 1;
        }
    }

    fn send(&self, question: &Question<'_>) -> Result<Response, Fault> {
        let mut url = self.base.clone();
        url.set_path(&format!("{}{}", url.path().trim_end_matches('/'), question.path()));
        let request = match question {
            Question::Get { query, accept, token, .. } => {
                if !query.is_empty() {
                    url.query_pairs_mut().extend_pairs(*query);
                }
                let request = self.client.get(url).header(ACCEPT, *accept);
                token.iter().fold(request, |request, token| request.bearer_auth(token))
            }
            Question::Post { content_type, body, .. } => self.client.post(url).header(CONTENT_TYPE, *content_type).body((*body).to_owned()),
            Question::Put { bytes, token, .. } => {
                let request = self.client.put(url).header(CONTENT_TYPE, "application/octet-stream").body(bytes.to_vec());
                token.iter().fold(request, |request, token| request.bearer_auth(token))
            }
        };
        request.send().map_err(|error| Fault::Unreachable(format!("{} does not answer: {}", self.base, whole(&error))))
    }
}

impl Question<'_> {
    fn path(&self) -> &str {
        match self {
            Self::Get { path, .. } | Self::Post { path, .. } | Self::Put { path, .. } => path,
        }
    }
}

/// A part of a path, with every character that has a meaning there escaped.
#[must_use]
pub fn path_part(text: &str) -> String {
    text.bytes().fold(String::new(), |mut path, byte| {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'_' | b'~' => path.push(char::from(byte)),
            // A dot alone is a step, not a name.
            b'.' if !text.trim_matches('.').is_empty() => path.push('.'),
            _ => path.push_str(&format!("%{byte:02X}")),
        }
        path
    })
}

/// A client that gives up when nothing comes for so many seconds.
fn client(base: &reqwest::Url, ca_file: Option<&Path>, silence_s: u64) -> Result<Client, Fault> {
    let builder = Client::builder()
        .timeout(Duration::from_secs(silence_s))
        .connect_timeout(Duration::from_secs(CLIENT_CONNECT_TIMEOUT_S))
        .redirect(Policy::none());
    let client = with_roots(builder, base, ca_file)?.build();
    client.map_err(|error| Fault::Failed(format!("no connection can be set up: {}", whole(&error))))
}

fn base_url(text: &str) -> Result<reqwest::Url, Fault> {
    let url: reqwest::Url = text.parse().map_err(|error| Fault::Usage(format!("--url {text:?} is no address: {error}")))?;
    match url.scheme() {
        "https" => Ok(url),
        "http" if is_loopback(&url) => Ok(url),
        "http" => Err(Fault::Usage(format!("--url {text}: plain http is for this machine only; use https"))),
        other => Err(Fault::Usage(format!("--url {text}: {other} is not spoken here; use https"))),
    }
}

fn is_loopback(url: &reqwest::Url) -> bool {
    let host = url.host_str().unwrap_or_default().trim_matches(['[', ']']);
    host == "localhost" || host.parse::<std::net::IpAddr>().is_ok_and(|address| address.is_loopback())
}

fn with_roots(builder: ClientBuilder, base: &reqwest::Url, ca_file: Option<&Path>) -> Result<ClientBuilder, Fault> {
    if is_loopback(base) && base.scheme() == "http" {
        // No certificate is looked at, so a machine without a store of them must do too; and no
        // proxy stands between a machine and itself.
        return Ok(builder.no_proxy().tls_certs_only([]));
    }
    let Some(file) = ca_file else { return Ok(builder) };
    let wrong = |why: String| Fault::Usage(format!("--ca {}: {why}", file.display()));
    let pem = std::fs::read(file).map_err(|error| wrong(error.to_string()))?;
    let roots = reqwest::Certificate::from_pem_bundle(&pem).map_err(|error| wrong(error.to_string()))?;
    Ok(builder.tls_certs_only(roots))
}

fn retry_after(answer: &Response) -> Option<Duration> {
    if ![StatusCode::SERVICE_UNAVAILABLE, StatusCode::TOO_MANY_REQUESTS].contains(&answer.status()) {
        return None;
    }
    let seconds = answer.headers().get(RETRY_AFTER)?.to_str().ok()?.parse().unwrap_or(RETRY_AFTER_S);
    Some(Duration::from_secs(seconds.min(CLIENT_TIMEOUT_S)))
}

fn text(answer: Response, path: &str) -> Result<String, Fault> {
    let mut bytes = Vec::new();
    let broken = |error: std::io::Error| Fault::Unreachable(format!("the answer to {path} broke off: {error}"));
    answer.take(CLIENT_ANSWER_BYTES_MAX + 1).read_to_end(&mut bytes).map_err(broken)?;
    if bytes.len() as u64 > CLIENT_ANSWER_BYTES_MAX {
        return Err(Fault::Failed(format!("the answer to {path} is larger than {CLIENT_ANSWER_BYTES_MAX} bytes; ask for less (--limit)")));
    }
    String::from_utf8(bytes).map_err(|_| Fault::Failed(format!("the answer to {path} is not UTF-8")))
}

/// The fault that an answer other than success stands for.
fn refused(answer: Response, question: &Question<'_>) -> Fault {
    let (status, path) = (answer.status(), question.path());
    let said = text(answer, path).ok().and_then(|text| serde_json::from_str::<Value>(&text).ok());
    let problem = said.as_ref().map(Refused::read);
    let detail = problem.as_ref().map_or_else(|| format!("the service answered {status} to {path}"), |problem| problem.detail.clone());
    match status {
        StatusCode::NOT_FOUND => Fault::NoSuchThing(detail),
        StatusCode::SERVICE_UNAVAILABLE if problem.as_ref().is_some_and(|problem| problem.name == "sealed") => {
            Fault::Failed(format!("the log is sealed and takes no notes: {detail}"))
        }
        StatusCode::TOO_MANY_REQUESTS | StatusCode::SERVICE_UNAVAILABLE | StatusCode::BAD_GATEWAY | StatusCode::GATEWAY_TIMEOUT => {
            Fault::Unreachable(detail)
        }
        status if status.is_client_error() => match (problem, question) {
            (Some(problem), Question::Post { .. }) => Fault::Refused(problem),
            (Some(problem), Question::Get { .. }) if [StatusCode::UNAUTHORIZED, StatusCode::FORBIDDEN].contains(&status) => {
                Fault::Refused(problem)
            }
            // What cannot be understood or is not taken is the asker's to mend.
            (Some(_), Question::Get { .. } | Question::Put { .. }) => Fault::Usage(with_candidates(detail, said.as_ref())),
            (None, _) => Fault::Failed(detail),
        },
        _ => Fault::Failed(detail),
    }
}

/// What an ambiguous label could mean, if the sentence does not say it already.
fn with_candidates(detail: String, said: Option<&Value>) -> String {
    let listed = said.and_then(|said| said.get("candidates")).and_then(Value::as_array).into_iter().flatten();
    let missing: Vec<&str> = listed.filter_map(Value::as_str).filter(|candidate| !detail.contains(candidate)).collect();
    if missing.is_empty() { detail } else { format!("{detail} ({})", missing.join(", ")) }
}

/// An error with its causes: the outermost alone says little.
fn whole(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(inner) = cause {
        text = format!("{text}: {inner}");
        cause = inner.source();
    }
    text
}
