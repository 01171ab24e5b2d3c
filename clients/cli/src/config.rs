//! Settings of the command line, and where each comes from: flag, then environment
//! (`SELACHRON_*`), then the file named by `--config`, then `./selachron.toml`, then the user's
//! own file, then the default.

use crate::fault::Fault;
use serde::Deserialize;
use std::fmt;
use std::path::{Path, PathBuf};

/// Where the service is, if nobody says: where `selachrond serve` listens, if nobody says.
pub const URL_DEFAULT: &str = "http://127.0.0.1:7319";
/// The name of settings files; the `[client]` section is this program's.
pub const CONFIG_FILE: &str = "selachron.toml";

/// Where a setting comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// A flag of this call.
    Flag(&'static str),
    /// A variable of the environment.
    Environment(&'static str),
    /// A file.
    File(PathBuf),
    /// Nobody said anything.
    Default,
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flag(flag) => write!(f, "the flag {flag}"),
            Self::Environment(name) => write!(f, "the environment variable {name}"),
            Self::File(path) => write!(f, "the file {}", path.display()),
            Self::Default => write!(f, "the default"),
        }
    }
}

/// A setting and where it comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setting {
    /// Its name in settings files.
    pub name: &'static str,
    /// Its value; `None` when there is none and no default.
    pub value: Option<String>,
    /// Where it comes from.
    pub source: Source,
}

/// All settings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Config {
    settings: Vec<Setting>,
}

/// Flags as they were given.
#[derive(Debug, Clone, Default)]
pub struct Flags {
    /// `--url`.
    pub url: Option<String>,
    /// `--log-key`.
    pub log_key: Option<String>,
    /// `--key`.
    pub key: Option<PathBuf>,
    /// `--ca`.
    pub ca: Option<PathBuf>,
    /// `--state-dir`.
    pub state_dir: Option<PathBuf>,
    /// `--config`.
    pub config: Option<PathBuf>,
}

/// The `[client]` section of a settings file.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Section {
    url: Option<String>,
    log_key: Option<String>,
    key: Option<PathBuf>,
    ca: Option<PathBuf>,
    state_dir: Option<PathBuf>,
}

#[derive(Debug, Default, Deserialize)]
struct Document {
    #[serde(default)]
    client: Section,
}

/// The environment as the settings see it; tests bring their own.
pub type Environment<'a> = &'a dyn Fn(&str) -> Option<String>;

impl Config {
    /// Finds every setting.
    ///
    /// # Errors
    /// A settings file cannot be read or says what no settings file may say.
    pub fn find(flags: &Flags, environment: Environment<'_>) -> Result<Self, Fault> {
        let files = read_files(flags.config.as_deref(), environment)?;
        let find = |name, flag, variable, given: Option<String>, default: Option<String>| {
            let from_files = || files.iter().find_map(|(path, section)| Some((value(section, name)?, Source::File(path.clone()))));
            let found = given
                .map(|value| (value, Source::Flag(flag)))
                .or_else(|| environment(variable).filter(|text| !text.is_empty()).map(|value| (value, Source::Environment(variable))))
                .or_else(from_files);
            let (value, source) = found.map_or((default, Source::Default), |(value, source)| (Some(value), source));
            Setting { name, value, source }
        };
        let path = |path: &Option<PathBuf>| path.as_ref().map(|path| path.display().to_string());
        let state = state_dir_default(environment).map(|path| path.display().to_string());
        Ok(Self {
            settings: vec![
                find("url", "--url", "SELACHRON_URL", flags.url.clone(), Some(URL_DEFAULT.to_owned())),
                find("log_key", "--log-key", "SELACHRON_LOG_KEY", flags.log_key.clone(), None),
                find("key", "--key", "SELACHRON_KEY", path(&flags.key), None),
                find("ca", "--ca", "SELACHRON_CA", path(&flags.ca), None),
                find("state_dir", "--state-dir", "SELACHRON_STATE_DIR", path(&flags.state_dir), state),
            ],
        })
    }

    /// Every setting in order.
    #[must_use]
    pub fn settings(&self) -> &[Setting] {
        &self.settings
    }

    /// The value of a setting.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&str> {
        self.settings.iter().find(|setting| setting.name == name)?.value.as_deref()
    }

    /// The address of the service.
    #[must_use]
    pub fn url(&self) -> &str {
        self.get("url").unwrap_or(URL_DEFAULT)
    }

    /// The key file to sign with.
    ///
    /// # Errors
    /// None is set.
    pub fn key(&self) -> Result<PathBuf, Fault> {
        let none = "no key to sign with: name its file with --key, SELACHRON_KEY, or key under [client] in selachron.toml";
        self.get("key").map(PathBuf::from).ok_or_else(|| Fault::Usage(none.to_owned()))
    }

    /// Where pinned keys and checkpoints are kept.
    ///
    /// # Errors
    /// None is set and there is no home folder to put it in.
    pub fn state_dir(&self) -> Result<PathBuf, Fault> {
        let none = "no folder for pinned keys and checkpoints: name one with --state-dir or SELACHRON_STATE_DIR";
        self.get("state_dir").map(PathBuf::from).ok_or_else(|| Fault::Usage(none.to_owned()))
    }
}

fn value(section: &Section, name: &str) -> Option<String> {
    let path = |path: &Option<PathBuf>| path.as_ref().map(|path| path.display().to_string());
    match name {
        "url" => section.url.clone(),
        "log_key" => section.log_key.clone(),
        "key" => path(&section.key),
        "ca" => path(&section.ca),
        "state_dir" => path(&section.state_dir),
        _ => None,
    }
}

/// The settings files that are there, the strongest first.
fn read_files(named: Option<&Path>, environment: Environment<'_>) -> Result<Vec<(PathBuf, Section)>, Fault> {
    let mut sections = Vec::new();
    if let Some(path) = named {
        let section = read_file(path)?.ok_or_else(|| Fault::Usage(format!("--config {}: there is no such file", path.display())))?;
        sections.push((path.to_owned(), section));
    }
    for path in [Some(PathBuf::from(CONFIG_FILE)), user_file(environment)].into_iter().flatten() {
        sections.extend(read_file(&path)?.map(|section| (path, section)));
    }
    Ok(sections)
}

fn read_file(path: &Path) -> Result<Option<Section>, Fault> {
    let Some(text) = crate::files::read_text(path)? else { return Ok(None) };
    let document: Document = toml::from_str(&text).map_err(|error| Fault::Usage(format!("{}: {}", path.display(), error.message())))?;
    let mut section = document.client;
    // A path in a file is meant from where the file lies, not from where the caller stands.
    let folder = path.parent().unwrap_or(Path::new(""));
    for place in [&mut section.key, &mut section.ca, &mut section.state_dir].into_iter().flatten() {
        *place = folder.join(&*place);
    }
    Ok(Some(section))
}

fn user_file(environment: Environment<'_>) -> Option<PathBuf> {
    Some(user_folder(environment, "XDG_CONFIG_HOME", ".config")?.join(CONFIG_FILE))
}

fn state_dir_default(environment: Environment<'_>) -> Option<PathBuf> {
    user_folder(environment, "XDG_STATE_HOME", ".local/state")
}

/// The user's own folder by the XDG base directory specification.
fn user_folder(environment: Environment<'_>, variable: &str, default: &str) -> Option<PathBuf> {
    let named = environment(variable).map(PathBuf::from).filter(|path| path.is_absolute());
    let base = named.or_else(|| Some(PathBuf::from(environment("HOME").filter(|home| !home.is_empty())?).join(default)))?;
    Some(base.join("selachron"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn find(flags: &Flags, environment: &[(&str, &str)]) -> Result<Config, Fault> {
        Config::find(flags, &|name| environment.iter().find(|(known, _)| *known == name).map(|(_, value)| (*value).to_owned()))
    }

    #[test]
    fn the_nearer_word_wins_and_says_where_it_comes_from() {
        let folder = tempfile::tempdir().expect("a folder");
        let home = folder.path().join("home");
        let user = home.join(".config/selachron");
        std::fs::create_dir_all(&user).expect("a folder");
        std::fs::write(user.join(CONFIG_FILE), "[client]\nurl = \"http://127.0.0.1:1\"\nkey = \"own.pem\"\n").expect("a file");
        let named = folder.path().join("other.toml");
        std::fs::write(&named, "[client]\nurl = \"http://127.0.0.1:2\"\n[service]\nlisten = \"127.0.0.1:9\"\n").expect("a file");
        let home = home.display().to_string();
        let mut flags = Flags::default();

        let config = find(&flags, &[("HOME", &home)]).expect("settings");
        assert_eq!(config.url(), "http://127.0.0.1:1");
        assert_eq!(config.key().expect("a key"), user.join("own.pem"), "a path is meant from where its file lies");
        assert_eq!(config.settings()[0].source, Source::File(user.join(CONFIG_FILE)));
        assert_eq!(config.state_dir().expect("a folder"), PathBuf::from(&home).join(".local/state/selachron"));

        flags.config = Some(named.clone());
        assert_eq!(find(&flags, &[("HOME", &home)]).expect("settings").url(), "http://127.0.0.1:2");
        let environment = [("HOME", home.as_str()), ("SELACHRON_URL", "http://127.0.0.1:3")];
        let config = find(&flags, &environment).expect("settings");
        assert_eq!((config.url(), &config.settings()[0].source), ("http://127.0.0.1:3", &Source::Environment("SELACHRON_URL")));
        flags.url = Some("http://127.0.0.1:4".to_owned());
        let config = find(&flags, &environment).expect("settings");
        assert_eq!((config.url(), &config.settings()[0].source), ("http://127.0.0.1:4", &Source::Flag("--url")));
    }

    #[test]
    fn nothing_set_is_the_default_and_faults_name_the_flag() {
        let config = find(&Flags::default(), &[]).expect("settings");
        assert_eq!((config.url(), &config.settings()[0].source), (URL_DEFAULT, &Source::Default));
        assert!(config.key().is_err_and(|fault| fault.to_string().contains("--key")));
        assert!(config.state_dir().is_err_and(|fault| fault.to_string().contains("--state-dir")));
        let flags = Flags { config: Some("/no/such/file.toml".into()), ..Flags::default() };
        assert!(find(&flags, &[]).is_err_and(|fault| fault.to_string().contains("--config")));
    }

    #[test]
    fn a_misspelt_setting_is_named() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("x.toml");
        std::fs::write(&path, "[client]\nulr = \"http://127.0.0.1:1\"\n").expect("a file");
        let flags = Flags { config: Some(path), ..Flags::default() };
        assert!(find(&flags, &[]).is_err_and(|fault| fault.to_string().contains("ulr")));
    }
}
