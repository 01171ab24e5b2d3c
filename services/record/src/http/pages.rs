//! The browser client (`clients/tankside`), served as its files stand: no build step. Everything
//! it loads comes from here, and the policy that goes with each page lets nothing else in.

use super::problem::{NOT_MODIFIED, OK};
use crate::failure::Question;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, Uri, header};
use axum::response::{IntoResponse, Response};
use flate2::Compression;
use flate2::write::GzEncoder;
use include_dir::{Dir, include_dir};
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::merkle::sha256;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

static FILES: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/../../clients/tankside");

/// What a path is answered with where nothing stands and a person looks.
const SHELL: &str = "/index.html";
/// The list of files that the service worker keeps for off line; made here, so that its hash
/// changes with any of them.
const LIST: &str = "/shell-files.js";

/// A file as it is sent.
struct Page {
    bytes: Vec<u8>,
    gzip: Option<Vec<u8>>,
    media: &'static str,
    etag: String,
}

/// All files of the client.
pub struct Pages {
    by_path: BTreeMap<String, Page>,
    policy: String,
}

/// The media type of a file's ending; what has none here is not served.
fn media(path: &str) -> Option<&'static str> {
    Some(match path.rsplit_once('.')?.1 {
        "html" => "text/html; charset=utf-8",
        "js" | "mjs" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "webmanifest" => "application/manifest+json",
        _ => return None,
    })
}

impl Page {
    fn new(path: &str, bytes: Vec<u8>) -> Option<Self> {
        let media = media(path)?;
        let etag = format!("W/\"{}\"", &hex(&sha256(&bytes))[..32]);
        let gzip = gzip(&bytes).filter(|packed| packed.len() < bytes.len());
        Some(Self { bytes, gzip, media, etag })
    }
}

fn gzip(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(bytes).ok()?;
    encoder.finish().ok()
}

impl Pages {
    /// These files, by their paths below the client's folder.
    #[must_use]
    pub fn new(files: impl IntoIterator<Item = (String, Vec<u8>)>) -> Self {
        let page = |(path, bytes): (String, Vec<u8>)| Some((format!("/{path}"), Page::new(&path, bytes)?));
        let mut by_path: BTreeMap<String, Page> = files.into_iter().filter_map(page).collect();
        let policy = policy(by_path.get(SHELL).map_or(&[][..], |shell| &shell.bytes));
        let list = list(&by_path);
        by_path.extend(Page::new(LIST, list.into_bytes()).map(|page| (LIST.to_owned(), page)));
        Self { by_path, policy }
    }

    /// The files that were compiled in.
    #[must_use]
    pub fn built_in() -> Self {
        Self::new(embedded(&FILES))
    }

    /// The page of a path; where none stands and a person asks for a page, the shell.
    fn find(&self, path: &str, accept: &str) -> Option<&Page> {
        let path = if path == "/" { SHELL } else { path };
        let last = path.rsplit('/').next().unwrap_or_default();
        let is_ours = !path.starts_with("/v1") && !path.starts_with("/problems");
        let wants_page = is_ours && !last.contains('.') && accept.contains("text/html");
        self.by_path.get(path).or_else(|| self.by_path.get(SHELL).filter(|_| wants_page))
    }

    fn answer(&self, page: &Page, headers: &HeaderMap) -> Response {
        let text = |name: HeaderName| headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default();
        let mut answer = if text(header::IF_NONE_MATCH).split(',').any(|known| known.trim() == page.etag) {
            NOT_MODIFIED.into_response()
        } else if let Some(gzip) = page.gzip.as_ref().filter(|_| text(header::ACCEPT_ENCODING).contains("gzip")) {
            (OK, [(header::CONTENT_ENCODING, "gzip")], gzip.clone()).into_response()
        } else {
            (OK, page.bytes.clone()).into_response()
        };
        let mut put = |name: HeaderName, value: &str| {
            if let Ok(value) = HeaderValue::from_str(value) {
                answer.headers_mut().insert(name, value);
            }
        };
        put(header::CONTENT_TYPE, page.media);
        put(header::ETAG, &page.etag);
        // Always asked again, and mostly answered "as you have it".
        put(header::CACHE_CONTROL, "no-cache");
        put(header::VARY, "accept-encoding");
        put(header::CONTENT_SECURITY_POLICY, &self.policy);
        put(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
        put(header::REFERRER_POLICY, "no-referrer");
        put(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
        put(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
        put(HeaderName::from_static("permissions-policy"), "camera=(self), geolocation=(), microphone=()");
        answer
    }
}

/// The one inline script is the import map; its hash stands in the policy (CSP 3, 2.3.1).
fn policy(shell: &[u8]) -> String {
    let shell = String::from_utf8_lossy(shell);
    let map = shell.split_once("<script type=\"importmap\">").and_then(|(_, rest)| Some(rest.split_once("</script>")?.0));
    let hash = map.map_or(String::new(), |map| format!(" 'sha256-{}'", base64(&sha256(map.as_bytes()))));
    format!(
        "default-src 'none'; script-src 'self'{hash}; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; \
         worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
}

/// `self.SHELL = {version, files}` for the service worker, which is not in the list itself.
fn list(by_path: &BTreeMap<String, Page>) -> String {
    let files: Vec<&String> = by_path.keys().filter(|path| *path != "/worker.js").collect();
    let all: String = by_path.iter().map(|(path, page)| format!("{path} {}\n", page.etag)).collect();
    let version = &hex(&sha256(all.as_bytes()))[..16];
    format!("self.SHELL = {};\n", serde_json::json!({"version": version, "files": files}))
}

fn embedded(folder: &Dir<'static>) -> Vec<(String, Vec<u8>)> {
    let own = folder.files().map(|file| (file.path().to_string_lossy().into_owned(), file.contents().to_vec()));
    own.chain(folder.dirs().flat_map(embedded)).collect()
}

/// Where the files lie when the program runs beside its sources.
const SOURCES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../clients/tankside");

/// A file on disk: its name below the client's folder, its length, and when it was changed.
type Stamp = (PathBuf, u64, String);

/// The files on disk, without reading them.
fn stamps(below: &Path, found: &mut Vec<Stamp>) {
    for entry in std::fs::read_dir(Path::new(SOURCES).join(below)).into_iter().flatten().flatten() {
        let name = below.join(entry.file_name());
        match entry.metadata() {
            Ok(data) if data.is_dir() => stamps(&name, found),
            Ok(data) => found.push((name, data.len(), format!("{:?}", data.modified().ok()))),
            Err(_) => {}
        }
    }
    found.sort();
}

fn read_sources(files: &[Stamp]) -> Pages {
    let read = |(name, ..): &Stamp| Some((name.to_string_lossy().into_owned(), std::fs::read(Path::new(SOURCES).join(name)).ok()?));
    Pages::new(files.iter().filter_map(read))
}

/// The sources as they stand now; read again only when one of them has changed.
fn from_sources() -> Option<Arc<Pages>> {
    static READ: Mutex<Option<(Vec<Stamp>, Arc<Pages>)>> = Mutex::new(None);
    let mut files = Vec::new();
    stamps(Path::new(""), &mut files);
    if files.is_empty() {
        return None;
    }
    let mut read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    if read.as_ref().is_none_or(|(known, _)| *known != files) {
        let pages = Arc::new(read_sources(&files));
        *read = Some((files, pages));
    }
    read.as_ref().map(|(_, pages)| pages.clone())
}

/// The client as it is served: compiled in; but a debug build beside its sources takes those, so
/// that whoever works on the pages need not build anything.
fn current() -> Arc<Pages> {
    static BUILT_IN: LazyLock<Arc<Pages>> = LazyLock::new(|| Arc::new(Pages::built_in()));
    let sources = if cfg!(debug_assertions) { from_sources() } else { None };
    sources.unwrap_or_else(|| BUILT_IN.clone())
}

/// Whatever the API does not answer: a file of the client, the shell, or nothing.
pub async fn give(method: Method, uri: Uri, headers: HeaderMap) -> Response {
    let accept = headers.get(header::ACCEPT).and_then(|accept| accept.to_str().ok()).unwrap_or_default();
    let reads = [Method::GET, Method::HEAD].contains(&method);
    let pages = current();
    match pages.find(uri.path(), accept).filter(|_| reads) {
        Some(page) => pages.answer(page, &headers),
        None => Question::NotFound("there is nothing at this path; /v1/openapi.json lists what there is".to_owned()).into_response(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pages() -> Pages {
        let file = |path: &str, text: &str| (path.to_owned(), text.as_bytes().to_vec());
        let shell = "<script type=\"importmap\">{\"imports\":{}}</script>";
        Pages::new([file("index.html", shell), file("app.js", &"x".repeat(5000)), file("package.json", "{}"), file("worker.js", "1")])
    }

    fn header_of(response: &Response, name: &str) -> String {
        response.headers().get(name).map(|value| value.to_str().unwrap().to_owned()).unwrap_or_default()
    }

    #[test]
    fn a_person_gets_the_shell_and_a_program_does_not() {
        let pages = pages();
        let found = |path: &str, accept: &str| pages.find(path, accept).map(|page| page.media);
        let html = "text/html,application/xhtml+xml";
        for path in ["/", "/index.html", "/tray/12", "/anything"] {
            assert_eq!(found(path, html), media("x.html"), "{path}");
        }
        assert_eq!(found("/", "*/*"), media("x.html"));
        for path in ["/v1/nothing", "/problems/nothing", "/missing.js", "/package.json"] {
            assert_eq!(found(path, html), None, "{path}");
        }
        assert_eq!(found("/tray/12", "application/json"), None);
        assert_eq!(found("/app.js", "*/*"), media("x.js"));
    }

    #[test]
    fn the_policy_names_the_import_map_and_no_other_host() {
        let policy = pages().policy;
        // printf '{"imports":{}}' | openssl dgst -sha256 -binary | base64
        assert!(policy.contains("script-src 'self' 'sha256-URrTy+Il/Nz0lHojVUx275hWqAWhkSF0VsHbUM4/6Hw=';"), "{policy}");
        for word in ["http", "unsafe", "*"] {
            assert!(!policy.contains(word), "{policy}");
        }
    }

    #[test]
    fn what_is_known_is_not_sent_again_and_the_rest_is_packed() {
        let pages = pages();
        let page = pages.find("/app.js", "*/*").unwrap();
        let mut headers = HeaderMap::new();
        assert_eq!(header_of(&pages.answer(page, &headers), "content-encoding"), "");
        headers.insert(header::ACCEPT_ENCODING, HeaderValue::from_static("br, gzip"));
        let packed = pages.answer(page, &headers);
        assert_eq!((header_of(&packed, "content-encoding"), packed.status().as_u16()), ("gzip".to_owned(), 200));
        headers.insert(header::IF_NONE_MATCH, HeaderValue::from_str(&page.etag).unwrap());
        assert_eq!(pages.answer(page, &headers).status().as_u16(), 304);
    }

    #[test]
    fn the_workers_list_changes_with_any_file() {
        let text = |pages: &Pages| String::from_utf8(pages.by_path[LIST].bytes.clone()).unwrap();
        let (before, file) = (text(&pages()), |path: &str, text: &str| (path.to_owned(), text.as_bytes().to_vec()));
        assert!(before.contains("/app.js") && before.contains("/index.html") && !before.contains("worker.js"), "{before}");
        let other = Pages::new([file("index.html", ""), file("app.js", "y"), file("worker.js", "1")]);
        assert_ne!(before, text(&other));
    }

    #[test]
    fn the_client_is_compiled_in_whole() {
        let built_in = Pages::built_in();
        let shell = String::from_utf8(built_in.by_path[SHELL].bytes.clone()).unwrap();
        assert!(shell.contains("importmap") && built_in.policy.contains("sha256-"));
        for path in ["/app.js", "/worker.js", "/agreement/json.js", "/vendor/preact/preact.mjs", "/manifest.webmanifest"] {
            assert!(built_in.by_path.contains_key(path), "{path}");
        }
    }
}
