//! The auditor's own policy: a C2SP tlog-policy file (c2sp.org/tlog-policy). It names the logs
//! that are trusted, the witnesses, and how many of these must have signed a checkpoint too.

use crate::note::VerifierKey;
use std::collections::{BTreeMap, BTreeSet};

/// A policy as read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Policy {
    /// Keys of trusted logs.
    pub logs: Vec<VerifierKey>,
    /// Keys of witnesses.
    pub witnesses: Vec<VerifierKey>,
    quorum: Rule,
}

/// When a checkpoint counts as witnessed.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Rule {
    Always,
    Witness(Box<VerifierKey>),
    Group { needed: usize, members: Vec<Rule> },
}

impl Rule {
    fn holds(&self, signed_by: &impl Fn(&VerifierKey) -> bool) -> bool {
        match self {
            Self::Always => true,
            Self::Witness(key) => signed_by(key),
            Self::Group { needed, members } => members.iter().filter(|member| member.holds(signed_by)).count() >= *needed,
        }
    }
}

impl Policy {
    /// Whether enough witnesses signed.
    #[must_use]
    pub fn witnessed(&self, signed_by: impl Fn(&VerifierKey) -> bool) -> bool {
        self.quorum.holds(&signed_by)
    }

    /// Reads a policy file.
    ///
    /// # Errors
    /// A sentence that names the line and what is wrong with it.
    pub fn parse(bytes: &[u8]) -> Result<Self, String> {
        if let Some(byte) = bytes.iter().find(|byte| byte.is_ascii_control() && !b"\t\n".contains(byte)) {
            return Err(format!("the policy holds the control character {byte:#04x}; only tab and line feed are allowed"));
        }
        let mut reader = Reader::default();
        for (number, line) in bytes.split(|byte| *byte == b'\n').enumerate() {
            let words: Vec<&[u8]> = line.split(|byte| b" \t".contains(byte)).filter(|word| !word.is_empty()).collect();
            reader.line(&words).map_err(|reason| format!("line {} of the policy: {reason}", number + 1))?;
        }
        let quorum = reader.quorum.ok_or("the policy has no quorum line; write \"quorum none\" if no witness is needed")?;
        Ok(Self { logs: reader.logs, witnesses: reader.witnesses, quorum })
    }
}

#[derive(Default)]
struct Reader {
    logs: Vec<VerifierKey>,
    witnesses: Vec<VerifierKey>,
    names: BTreeMap<Vec<u8>, Rule>,
    grouped: BTreeSet<Vec<u8>>,
    quorum: Option<Rule>,
}

impl Reader {
    fn line(&mut self, words: &[&[u8]]) -> Result<(), String> {
        match words {
            [] => Ok(()),
            [first, ..] if first.starts_with(b"#") => Ok(()),
            [b"log", key] | [b"log", key, _] => self.log(key),
            [b"witness", name, key] | [b"witness", name, key, _] => self.witness(name, key),
            [b"group", name, needed, members @ ..] => self.group(name, needed, members),
            [b"quorum", name] => self.set_quorum(name),
            [first, ..] => Err(format!("{:?} with {} words after it is no line of a policy", shown(first), words.len() - 1)),
        }
    }

    fn log(&mut self, key: &[u8]) -> Result<(), String> {
        let key = read_key(key)?;
        if !key.is_plain() {
            return Err("this is a witness's key; a log signs with a plain Ed25519 key".to_owned());
        }
        add_once(&mut self.logs, key)
    }

    fn witness(&mut self, name: &[u8], key: &[u8]) -> Result<(), String> {
        let key = read_key(key)?;
        if key.is_plain() {
            return Err("this is a log's key; a witness signs with a cosignature key (algorithm byte 0x04)".to_owned());
        }
        self.define(name, Rule::Witness(Box::new(key.clone())))?;
        add_once(&mut self.witnesses, key)
    }

    fn group(&mut self, name: &[u8], needed: &[u8], members: &[&[u8]]) -> Result<(), String> {
        let needed = match needed {
            b"all" => members.len(),
            b"any" => 1,
            digits => std::str::from_utf8(digits).ok().and_then(|text| text.parse().ok()).ok_or("a group wants all, any or a number")?,
        };
        if needed == 0 || needed > members.len() {
            return Err(format!("a group of {} cannot want {needed} of them", members.len()));
        }
        let members = members.iter().map(|member| self.member(member)).collect::<Result<_, _>>()?;
        self.define(name, Rule::Group { needed, members })
    }

    /// A name may stand in one group only, so that no witness counts twice.
    fn member(&mut self, name: &[u8]) -> Result<Rule, String> {
        let rule = self.names.get(name).cloned().ok_or_else(|| format!("{:?} is not defined on an earlier line", shown(name)))?;
        if !self.grouped.insert(name.to_vec()) {
            return Err(format!("{:?} stands in a group already", shown(name)));
        }
        Ok(rule)
    }

    fn define(&mut self, name: &[u8], rule: Rule) -> Result<(), String> {
        if name == b"none" || self.names.insert(name.to_vec(), rule).is_some() {
            return Err(format!("the name {:?} is taken", shown(name)));
        }
        Ok(())
    }

    fn set_quorum(&mut self, name: &[u8]) -> Result<(), String> {
        if self.quorum.is_some() {
            return Err("a policy has one quorum line".to_owned());
        }
        let rule = if name == b"none" { Some(Rule::Always) } else { self.names.get(name).cloned() };
        self.quorum = Some(rule.ok_or_else(|| format!("{:?} is not defined on an earlier line", shown(name)))?);
        Ok(())
    }
}

fn shown(word: &[u8]) -> String {
    String::from_utf8_lossy(word).into_owned()
}

fn read_key(word: &[u8]) -> Result<VerifierKey, String> {
    VerifierKey::parse(std::str::from_utf8(word).map_err(|_| "the key is not text".to_owned())?)
}

fn add_once(keys: &mut Vec<VerifierKey>, key: VerifierKey) -> Result<(), String> {
    if keys.iter().any(|known| known.public_key() == key.public_key()) {
        return Err(format!("the key of {:?} stands twice", key.name()));
    }
    keys.push(key);
    Ok(())
}
