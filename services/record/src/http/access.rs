//! At the entrance of every request: whose it is, how often it comes, and whether it may read.
//! A note needs no token, for it is signed itself. A file is not: who sends one shows a token of
//! any key in force.

use super::app::App;
use super::door::Peer;
use super::rates::Rates;
use super::tokens::Tokens;
use crate::config::Network;
use crate::failure::{Closed, Failure};
use axum::extract::{ConnectInfo, MatchedPath, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use ed25519_dalek::VerifyingKey;
use selachron_schemas::access::{NEWCOMER, ROOT, Right, table};
use selachron_schemas::names::KeyId;
use selachron_schemas::replay::keys::{KeyBook, Role};
use selachron_schemas::token::{Token, TokenFault};
use std::net::{IpAddr, SocketAddr};

/// Who reads: handlers find it among a request's extensions, and nothing where no token is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reader {
    /// The key that signed the token.
    pub keyid: KeyId,
    /// The person who holds it; empty for a key that is not enrolled yet.
    pub person: String,
    /// The words of its roles; `root` for a root key, `newcomer` for one that is not enrolled yet.
    pub roles: Vec<&'static str>,
}

/// Whom a request comes from, as far as the service can know; also among the extensions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Whence(pub Option<IpAddr>);

/// What decides at the entrance.
#[derive(Default)]
pub struct Entrance {
    network: Network,
    rates: Option<Rates>,
    tokens: Tokens,
}

impl Entrance {
    /// The entrance of a service that listens there.
    #[must_use]
    pub fn new(network: Network, listen: SocketAddr) -> Self {
        let rates = network.peer_rate(listen).map(Rates::new);
        Self { network, rates, tokens: Tokens::default() }
    }

    /// The address that a request comes from. A proxy adds the one that it speaks for at the end;
    /// what stands before it anybody may have written.
    fn from(&self, request: &Request) -> Whence {
        let socket = request.extensions().get::<ConnectInfo<Peer>>().map(|ConnectInfo(Peer(peer))| peer.ip());
        if !self.network.behind_proxy {
            return Whence(socket);
        }
        let newest = request.headers().get_all("x-forwarded-for").iter().next_back();
        let named = newest.and_then(|value| value.to_str().ok()?.rsplit(',').next()?.trim().parse().ok());
        Whence(named.or(socket))
    }

    fn is_open(&self, headers: &HeaderMap) -> bool {
        self.network.open_on_loopback && names_this_machine(headers)
    }
}

/// Whether the request was sent to this machine by one of its own names: a page from elsewhere
/// that has a name of its own point here is not let in.
fn names_this_machine(headers: &HeaderMap) -> bool {
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let name = host.rsplit_once(':').filter(|(_, port)| port.bytes().all(|byte| byte.is_ascii_digit())).map_or(host, |(name, _)| name);
    let name = name.trim_matches(['[', ']']);
    name == "localhost" || name.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

/// Every request goes through here.
pub async fn guard(State(app): State<App>, mut request: Request, next: Next) -> Response {
    let from = app.entrance.from(&request);
    request.extensions_mut().insert(from);
    let path = request.extensions().get::<MatchedPath>().map(|path| path.as_str().to_owned());
    if let Err(failure) = check_rate(&app, from, path.as_deref()) {
        return failure.into_response();
    }
    let asks = [Method::GET, Method::HEAD, Method::PUT].contains(request.method());
    let asked = path.filter(|path| asks && !table().is_open(path) && !app.entrance.is_open(request.headers()));
    let Some(path) = asked else { return next.run(request).await };
    let (mut parts, body) = request.into_parts();
    let admitted = match parts.method {
        Method::PUT => send(&app, &parts, from).await,
        _ => admit(&app, &path, &parts, from).await,
    };
    match admitted {
        Ok(reader) => {
            parts.extensions.insert(reader);
            next.run(Request::from_parts(parts, body)).await
        }
        Err(failure) => challenged(&app, failure),
    }
}

fn check_rate(app: &App, from: Whence, path: Option<&str>) -> Result<(), Failure> {
    let (Some(rates), Whence(Some(peer))) = (&app.entrance.rates, from) else { return Ok(()) };
    if path.is_some_and(|path| ["/healthz", "/readyz"].contains(&path)) {
        return Ok(());
    }
    Ok(rates.take(peer).map_err(|wait_s| Closed::TooMany { wait_s })?)
}

async fn admit(app: &App, path: &str, request: &Parts, from: Whence) -> Result<Reader, Failure> {
    let reader = identify(app, bearer(&request.headers)?, from).await?;
    match table().right(path, reader.roles.iter().copied()) {
        Right::All => Ok(reader),
        Right::Own if owns(app, path, request.uri.path(), &reader).await? => Ok(reader),
        Right::Own | Right::Nothing => {
            let named = |words: Vec<&str>| if words.is_empty() { "no role".to_owned() } else { words.join(", ") };
            let readers = named(table().readers(path).iter().map(String::as_str).collect());
            Err(Closed::NotReadable { held: named(reader.roles.clone()), readers }.into())
        }
    }
}

/// A file is sent by anybody whose key is in force; one that is not enrolled yet sends nothing.
async fn send(app: &App, request: &Parts, from: Whence) -> Result<Reader, Failure> {
    let reader = identify(app, bearer(&request.headers)?, from).await?;
    if reader.roles.contains(&NEWCOMER) {
        return Err(Closed::Token(TokenFault::KeyUnknown(reader.keyid)).into());
    }
    Ok(reader)
}

/// The token of an `Authorization: Bearer` header (RFC 6750 2.1).
fn bearer(headers: &HeaderMap) -> Result<&str, Closed> {
    let value = headers.get(header::AUTHORIZATION).ok_or(Closed::NoToken)?;
    let (scheme, token) = value.to_str().ok().and_then(|value| value.split_once(' ')).unwrap_or_default();
    if scheme.eq_ignore_ascii_case("bearer") { Ok(token.trim()) } else { Err(Closed::NoToken) }
}

async fn identify(app: &App, token: &str, from: Whence) -> Result<Reader, Failure> {
    let token = Token::read(token).map_err(Closed::from)?;
    let now = app.clock.now();
    let (keys, size, origin) = {
        let published = app.journal.published();
        let origin = published.founding().map(|founding| founding.origin.clone()).unwrap_or_default();
        (published.keys().clone(), published.size(), origin)
    };
    let known = app.journal.gate().ring.get(&token.keyid).copied();
    let (key, newcomer) = match known {
        Some(key) => (key, None),
        None => newcomer(app, token.keyid, now).await?,
    };
    token.check(&key, &origin, now).map_err(Closed::from)?;
    let reader = newcomer.or_else(|| holder(&keys, token.keyid, size, now));
    let reader = reader.ok_or_else(|| Closed::from(TokenFault::KeyNotInForce(token.keyid)))?;
    app.entrance.tokens.show(&token, from.0, now)?;
    Ok(reader)
}

/// A key that the log does not know and that an enrolment which waits here brings.
async fn newcomer(app: &App, keyid: KeyId, now: selachron_schemas::time::Instant) -> Result<(VerifyingKey, Option<Reader>), Failure> {
    let brought = app.blocking(move |app| app.waiting.newcomer(keyid, now)).await?;
    let key = brought.and_then(|key| VerifyingKey::from_bytes(&key).ok());
    let key = key.ok_or_else(|| Closed::from(TokenFault::KeyUnknown(keyid)))?;
    Ok((key, Some(Reader { keyid, person: String::new(), roles: vec![NEWCOMER] })))
}

/// Who holds a key that is in force for a note that came now (F11).
fn holder(keys: &KeyBook, keyid: KeyId, size: u64, now: selachron_schemas::time::Instant) -> Option<Reader> {
    if let Some(person) = keys.roots().get(&keyid) {
        return Some(Reader { keyid, person: person.clone(), roles: vec![ROOT] });
    }
    let record = keys.get(&keyid).filter(|record| record.in_force(size, now))?;
    Some(Reader { keyid, person: record.person.clone(), roles: record.roles.iter().map(|role: &Role| role.word()).collect() })
}

/// Whether a note was signed, or a key is held, by the reader. What there is not is nobody's, so
/// the answer does not tell whether it is there.
async fn owns(app: &App, path: &str, asked: &str, reader: &Reader) -> Result<bool, Failure> {
    let at = path.split('/').position(|part| part == "{id}");
    let Some(id) = at.and_then(|at| asked.split('/').nth(at)).map(str::to_owned) else { return Ok(false) };
    let (keys, person) = (app.journal.published().keys().clone(), reader.person.clone());
    let held = move |key: &KeyId| keys.person_of(key) == Some(&*person);
    if path.starts_with("/v1/keys/") {
        return Ok(KeyId::parse(&id).is_some_and(|key| held(&key)));
    }
    let signed = move |app: &App| {
        let store = app.journal.store();
        let Some(seq) = store.seq_of(&id)? else { return Ok(false) };
        let row = store.read_all(seq, 1)?.pop().filter(|row| row.leaf.seq == seq);
        Ok(row.is_some_and(|row| row.leaf.signatures.iter().any(|(key, _)| held(key))))
    };
    app.blocking(signed).await
}

/// A refusal with the challenge of RFC 6750 3; the realm is the log's origin, which is what a
/// token's `aud` must be.
fn challenged(app: &App, failure: Failure) -> Response {
    let error = match &failure {
        Failure::Closed(Closed::NoToken) => "",
        Failure::Closed(Closed::NotReadable { .. }) => ", error=\"insufficient_scope\"",
        Failure::Closed(_) => ", error=\"invalid_token\"",
        _ => return failure.into_response(),
    };
    let origin = app.journal.published().founding().map(|founding| founding.origin.clone()).unwrap_or_default();
    let mut response = failure.into_response();
    if let Ok(challenge) = HeaderValue::from_str(&format!("Bearer realm=\"{origin}\"{error}")) {
        response.headers_mut().insert(header::WWW_AUTHENTICATE, challenge);
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn host(host: &str) -> HeaderMap {
        HeaderMap::from_iter([(header::HOST, HeaderValue::from_str(host).unwrap())])
    }

    #[test]
    fn only_this_machines_own_names_are_this_machine() {
        for name in ["localhost", "localhost:7319", "127.0.0.1:80", "[::1]:80", "[::1]"] {
            assert!(names_this_machine(&host(name)), "{name}");
        }
        for name in ["", "record.example", "localhost.example:80", "192.0.2.1:80", "127.0.0.1.example"] {
            assert!(!names_this_machine(&host(name)), "{name}");
        }
        assert!(!names_this_machine(&HeaderMap::new()));
    }

    #[test]
    fn a_proxy_is_believed_only_where_there_is_one() {
        let request = || {
            let request =
                Request::builder().header("x-forwarded-for", "203.0.113.9, 192.0.2.4").header("x-forwarded-for", "192.0.2.5, 192.0.2.6");
            request.extension(ConnectInfo(Peer(SocketAddr::from(([127, 0, 0, 1], 9))))).body(axum::body::Body::empty()).unwrap()
        };
        let listen = SocketAddr::from(([127, 0, 0, 1], 0));
        let alone = Entrance::new(Network::default(), listen);
        assert_eq!(alone.from(&request()), Whence(Some(IpAddr::from([127, 0, 0, 1]))));
        let behind = Entrance::new(Network { behind_proxy: true, ..Network::default() }, listen);
        assert_eq!(behind.from(&request()), Whence(Some(IpAddr::from([192, 0, 2, 6]))));
    }

    #[test]
    fn a_token_comes_as_a_bearer() {
        let with = |value: &str| HeaderMap::from_iter([(header::AUTHORIZATION, HeaderValue::from_str(value).unwrap())]);
        assert_eq!(bearer(&with("Bearer a.b.c")), Ok("a.b.c"));
        assert_eq!(bearer(&with("bearer a.b.c")), Ok("a.b.c"));
        for wrong in ["", "a.b.c", "Basic a.b.c", "Bearer"] {
            assert_eq!(bearer(&with(wrong)), Err(Closed::NoToken), "{wrong}");
        }
        assert_eq!(bearer(&HeaderMap::new()), Err(Closed::NoToken));
    }
}
