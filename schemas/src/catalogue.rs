//! The kinds of note: their schemas, what they bring into being, and who may write them. All of
//! it is data in `schemas/v1`; adding a kind adds a file there and a row in `roles.json` (F19).

use crate::event::Event;
use crate::names::Subject;
use crate::refusal::Refusal;
use include_dir::{Dir, include_dir};
use jsonschema::{Registry, Validator};
use serde::Deserialize;
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use std::sync::LazyLock;

static FILES: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/v1");

/// Every schema file by name, byte for byte as bundles carry them (F25).
#[must_use]
pub fn files() -> BTreeMap<String, &'static [u8]> {
    FILES.files().filter_map(|file| Some((file.path().to_str()?.to_owned(), file.contents()))).collect()
}

/// The catalogue compiled into this program.
#[must_use]
pub fn catalogue() -> &'static Catalogue {
    static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| {
        // The files are compiled in: a fault in them is a fault of the build, found by any test.
        Catalogue::load(&files()).unwrap_or_else(|fault| panic!("schemas/v1: {fault}"))
    });
    &CATALOGUE
}

/// All kinds by name.
pub struct Catalogue {
    kinds: BTreeMap<String, Kind>,
}

/// One kind of note.
pub struct Kind {
    /// `egg.candled.v1`.
    pub name: String,
    /// One plain sentence.
    pub title: String,
    /// Who may write it and whose approval it wants.
    pub roles: RoleRow,
    /// Nouns that its subject may have; `*` for any.
    pub subjects: Vec<String>,
    /// Whether it brings its own subject into the record.
    pub creates_subject: bool,
    /// Pointers into `data` at subjects that it brings into the record; `*` stands for every item.
    pub creates: Vec<String>,
    /// Pointers into `data` at subjects that it names.
    pub names: Vec<String>,
    /// Governs the record: takes effect by log position only (F22).
    pub governs: bool,
    /// An act on an earlier note (F21).
    pub is_act: bool,
    validator: Validator,
}

/// A kind's row of `roles.json`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoleRow {
    /// Roles that may write it; `root` stands for the rules of F10.
    pub authors: Vec<String>,
    /// The approval it wants beside the author's signature.
    pub approval: Option<Approval>,
    /// A decision or administration, which the house's own policy may let wait for further
    /// approvals; what has happened never waits.
    #[serde(default)]
    pub decision: bool,
}

/// An approval by other persons.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Approval {
    /// Roles of which an approver must hold one.
    pub roles: Vec<String>,
    /// How many other persons.
    pub persons: usize,
    /// Whether every one of the roles must be held by the author or an approver: a decision of both.
    #[serde(default)]
    pub every_role: bool,
    /// What a missing approval means.
    pub missing: Missing,
    /// A case to which it is limited.
    pub when: Option<When>,
}

/// What a missing approval means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Missing {
    /// The note is refused: it is a decision or administration.
    Refused,
    /// The note is recorded with a discrepancy: it tells what has already happened.
    Discrepancy,
}

/// A case to which an approval is limited.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum When {
    /// A registrar acts on a note of their own.
    #[serde(rename = "registrar's own note")]
    RegistrarsOwnNote,
    /// A registrar enrols a key, rather than the root keys.
    #[serde(rename = "enrolled by a registrar")]
    EnrolledByRegistrar,
}

#[derive(Deserialize)]
struct RolesFile {
    kinds: BTreeMap<String, RoleRow>,
}

/// The `x-selachron` member of a schema.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Marks {
    subject: Vec<String>,
    #[serde(default)]
    creates: Creates,
    #[serde(default)]
    names: Vec<String>,
    #[serde(default)]
    governs: bool,
    #[serde(default)]
    act: bool,
}

#[derive(Default, Deserialize)]
#[serde(untagged)]
enum Creates {
    #[default]
    Nothing,
    Subject(String),
    Named(Vec<String>),
}

const SCHEMA_ENDING: &str = ".schema.json";

impl Catalogue {
    fn load(files: &BTreeMap<String, &'static [u8]>) -> Result<Self, String> {
        let read = |name: &str| -> Result<Value, String> {
            let bytes = files.get(name).ok_or_else(|| format!("{name} is missing"))?;
            serde_json::from_slice(bytes).map_err(|e| format!("{name}: {e}"))
        };
        let roles: RolesFile = serde_json::from_value(read("roles.json")?).map_err(|e| format!("roles.json: {e}"))?;
        let common = read("common.schema.json")?;
        let id = common["$id"].as_str().ok_or("common.schema.json has no $id")?.to_owned();
        let registry = Registry::new().add(id, common).and_then(|r| r.prepare()).map_err(|e| e.to_string())?;
        let mut kinds = BTreeMap::new();
        for name in files.keys().filter_map(|file| file.strip_suffix(SCHEMA_ENDING)) {
            if name == "common" || name == "event" {
                continue;
            }
            let row = roles.kinds.get(name).cloned().ok_or_else(|| format!("roles.json has no row for {name}"))?;
            let schema = read(&format!("{name}{SCHEMA_ENDING}"))?;
            kinds.insert(name.to_owned(), Kind::load(name, &schema, row, &registry)?);
        }
        match roles.kinds.keys().find(|name| !kinds.contains_key(*name)) {
            Some(name) => Err(format!("roles.json has a row for {name}, which has no schema")),
            None => Ok(Self { kinds }),
        }
    }

    /// The kind of that name.
    #[must_use]
    pub fn kind(&self, name: &str) -> Option<&Kind> {
        self.kinds.get(name)
    }

    /// All kinds in order of their names.
    pub fn kinds(&self) -> impl Iterator<Item = &Kind> {
        self.kinds.values()
    }

    /// Checks a note against its kind's schema.
    ///
    /// # Errors
    /// `body-malformed` with the pointer of the first violation.
    pub fn check(&self, event: &Event) -> Result<(), Refusal> {
        let Some(kind) = self.kind(&event.kind) else {
            return Err(Refusal::body("/type", format!("this record knows no kind {:?}", event.kind)));
        };
        let noun = event.subject.noun();
        if !kind.subjects.iter().any(|allowed| allowed == noun || allowed == "*") {
            let allowed = kind.subjects.join(" or ");
            return Err(Refusal::body("/subject", format!("{} is about {allowed}, not about {noun}", kind.name)));
        }
        kind.check_data(&event.data, "/data")
    }
}

impl Kind {
    fn load(name: &str, schema: &Value, roles: RoleRow, registry: &Registry) -> Result<Self, String> {
        let marks: Marks = serde_json::from_value(schema["x-selachron"].clone()).map_err(|e| format!("{name}: x-selachron: {e}"))?;
        let validator = jsonschema::options()
            .should_validate_formats(true)
            .with_registry(registry)
            .build(schema)
            .map_err(|e| format!("{name}: {e}"))?;
        let (creates_subject, creates) = match marks.creates {
            Creates::Nothing => (false, Vec::new()),
            Creates::Subject(word) if word == "subject" => (true, Vec::new()),
            Creates::Subject(word) => return Err(format!("{name}: creates {word:?} is not known")),
            Creates::Named(pointers) => (false, pointers),
        };
        Ok(Self {
            name: name.to_owned(),
            title: schema["title"].as_str().unwrap_or(name).to_owned(),
            roles,
            subjects: marks.subject,
            creates_subject,
            creates,
            names: marks.names,
            governs: marks.governs,
            is_act: marks.act,
            validator,
        })
    }

    /// Checks a `data` object that stands at `pointer` in its body.
    ///
    /// # Errors
    /// `body-malformed` with the pointer of the first violation.
    pub fn check_data(&self, data: &Map<String, Value>, pointer: &str) -> Result<(), Refusal> {
        let value = Value::Object(data.clone());
        match self.validator.iter_errors(&value).next() {
            None => Ok(()),
            Some(error) => {
                let place = format!("{pointer}{}", error.instance_path());
                Err(Refusal::body(place, format!("{} does not allow this: {error}", self.name)))
            }
        }
    }

    /// Whether the house's policy may ask for further approvals of it: a decision that is refused
    /// without the approval of the table, or one that is marked. The policy itself is none, so
    /// that no policy can bar the way to the next.
    #[must_use]
    pub fn may_wait(&self) -> bool {
        let refused = |approval: &Approval| approval.missing == Missing::Refused && approval.when.is_none();
        self.name != "policy.set.v1" && (self.roles.decision || self.roles.approval.as_ref().is_some_and(refused))
    }

    /// Subjects that a note of this kind brings into the record.
    #[must_use]
    pub fn created_by(&self, subject: &Subject, data: &Map<String, Value>) -> Vec<Subject> {
        let mut created: Vec<Subject> = if self.creates_subject { vec![subject.clone()] } else { Vec::new() };
        created.extend(self.creates.iter().flat_map(|pointer| subjects_at(data, pointer)));
        created
    }

    /// Subjects that `data` names, those that it creates included.
    #[must_use]
    pub fn named_in(&self, data: &Map<String, Value>) -> Vec<Subject> {
        self.names.iter().chain(&self.creates).flat_map(|pointer| subjects_at(data, pointer)).collect()
    }
}

/// The subjects at a pointer in which `*` stands for every item of a list.
fn subjects_at(data: &Map<String, Value>, pointer: &str) -> Vec<Subject> {
    let mut parts = pointer.trim_start_matches('/').split('/');
    let first = parts.next().and_then(|name| data.get(name));
    let mut values: Vec<&Value> = first.into_iter().collect();
    for part in parts {
        values = values.into_iter().flat_map(|value| step(value, part)).collect();
    }
    values.into_iter().filter_map(|value| Subject::parse(value.as_str()?)).collect()
}

fn step<'a>(value: &'a Value, part: &str) -> Vec<&'a Value> {
    match (part, value) {
        ("*", Value::Array(items)) => items.iter().collect(),
        (name, Value::Object(members)) => members.get(name).into_iter().collect(),
        _ => Vec::new(),
    }
}
