//! Who may read what: `v1/reads.json`, beside the table of who may write (F19). The service asks
//! it before every read, tests ask it of every path there is.

use crate::catalogue::files;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// The word by which a root key in force stands in the table.
pub const ROOT: &str = "root";
/// The word for a key that is not enrolled yet and that a waiting enrolment names (SPEC, Reading).
pub const NEWCOMER: &str = "newcomer";

/// How far somebody may read a path.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Right {
    /// Not at all.
    Nothing,
    /// What the reader's own keys signed, and those keys.
    Own,
    /// All of it.
    All,
}

/// The whole table.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Table {
    /// What the file is for.
    pub about: String,
    /// Paths that need no token.
    pub open: Vec<String>,
    /// Sets of readers by name.
    pub groups: BTreeMap<String, Group>,
    /// The group that reads each other path.
    pub paths: BTreeMap<String, String>,
}

/// A set of readers.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Group {
    /// What its paths have in common.
    pub says: String,
    /// Roles that read all.
    pub all: Vec<String>,
    /// Roles that read what is their own.
    #[serde(default)]
    pub own: Vec<String>,
}

/// The table compiled into this program.
#[must_use]
pub fn table() -> &'static Table {
    static TABLE: LazyLock<Table> = LazyLock::new(|| {
        let text = files().get("reads.json").copied().unwrap_or_default();
        // Compiled in: a fault in it is a fault of the build, found by any test.
        serde_json::from_slice(text).unwrap_or_else(|fault| panic!("schemas/v1/reads.json: {fault}"))
    });
    &TABLE
}

impl Table {
    /// Whether a path, as the API's description writes it, needs no token.
    #[must_use]
    pub fn is_open(&self, path: &str) -> bool {
        self.open.iter().any(|open| open == path)
    }

    /// How far these roles may read a path. A path that is not in the table is read by nobody.
    #[must_use]
    pub fn right<'a>(&self, path: &str, roles: impl IntoIterator<Item = &'a str>) -> Right {
        let Some(group) = self.paths.get(path).and_then(|name| self.groups.get(name)) else { return Right::Nothing };
        let has = |list: &[String], role: &str| list.iter().any(|listed| listed == role);
        let of = |role: &str| match (has(&group.all, role), has(&group.own, role)) {
            (true, _) => Right::All,
            (false, true) => Right::Own,
            (false, false) => Right::Nothing,
        };
        roles.into_iter().map(of).max().unwrap_or(Right::Nothing)
    }

    /// Roles that read all of a path, for the sentence that refuses others.
    #[must_use]
    pub fn readers(&self, path: &str) -> &[String] {
        self.paths.get(path).and_then(|name| self.groups.get(name)).map_or(&[], |group| &group.all)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;
    use std::collections::BTreeSet;

    #[test]
    fn the_table_names_only_groups_and_roles_that_exist() {
        let table = table();
        let roles: Value = serde_json::from_slice(files()["roles.json"]).unwrap();
        let known: BTreeSet<&str> = roles["roles"].as_object().unwrap().keys().map(String::as_str).chain([ROOT, NEWCOMER]).collect();
        for (name, group) in &table.groups {
            assert!(table.paths.values().any(|used| used == name), "{name} reads nothing");
            assert!(group.all.iter().chain(&group.own).all(|role| known.contains(role.as_str())), "{name}: {group:?}");
            assert!(group.all.contains(&"auditor".to_owned()), "an auditor reads everything, {name} too");
        }
        assert!(table.paths.values().all(|group| table.groups.contains_key(group)));
        assert!(table.open.iter().all(|path| !table.paths.contains_key(path)), "a path is open or it is not");
    }

    #[test]
    fn what_is_ones_own_has_a_name_in_its_path() {
        for (path, group) in &table().paths {
            assert!(table().groups[group].own.is_empty() || path.contains("{id}"), "{path}");
        }
    }

    #[test]
    fn roles_add_up_and_strangers_read_nothing() {
        let right = |path: &str, roles: &[&str]| table().right(path, roles.iter().copied());
        assert_eq!(right("/v1/eggs", &["studbook"]), Right::All);
        assert_eq!(right("/v1/tanks", &["studbook"]), Right::Nothing);
        assert_eq!(right("/v1/tanks", &["studbook", "keeper"]), Right::All);
        assert_eq!(right("/v1/events/{id}", &["instrument"]), Right::Own);
        assert_eq!(right("/v1/eggs", &["instrument"]), Right::Nothing);
        assert_eq!(right("/v1/refused", &["keeper"]), Right::Nothing);
        assert_eq!(right("/v1/refused", &["auditor"]), Right::All);
        assert_eq!(right("/v1/eggs", &[]), Right::Nothing);
        assert_eq!(right("/v1/unheard-of", &["auditor"]), Right::Nothing, "what nobody thought of is closed");
    }
}
