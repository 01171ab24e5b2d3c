//! What the program answers: for people, or in JSON for programs. Both say the same.

use crate::arguments::exit;
use selachron_schemas::audit::said::Finding;
use selachron_schemas::audit::{Audit, NOT_TIED, SHOWS, SHOWS_NOT, SIMULATED, Verdict};
use selachron_schemas::encoding::base64;
use selachron_schemas::limits::AUDIT_FINDINGS_SHOWN_MAX;
use serde::Serialize;
use std::fmt::Write as _;

/// The exit status.
#[must_use]
pub fn status(audit: &Audit, self_consistent: bool) -> u8 {
    match audit.verdict {
        Verdict::Sound => exit::SOUND,
        Verdict::NotTied if self_consistent => exit::SOUND,
        Verdict::NotTied => exit::NO_ANSWER,
        Verdict::Broken => exit::BROKEN,
    }
}

/// The answer in JSON, one object with a line feed after it.
#[must_use]
pub fn json(audit: &Audit) -> String {
    // Strings, numbers and lists only: writing them as JSON cannot fail.
    let mut json = serde_json::to_string_pretty(&Answer::of(audit)).unwrap_or_default();
    json.push('\n');
    json
}

#[derive(Debug, Serialize)]
struct Answer<'a> {
    #[serde(flatten)]
    audit: &'a Audit,
    #[serde(skip_serializing_if = "Option::is_none")]
    shows: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    shows_not: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    caution: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clock: Option<&'static str>,
}

impl<'a> Answer<'a> {
    fn of(audit: &'a Audit) -> Self {
        let holds = audit.verdict != Verdict::Broken;
        Self {
            audit,
            shows: holds.then_some(SHOWS),
            shows_not: holds.then_some(SHOWS_NOT),
            caution: (audit.verdict == Verdict::NotTied).then_some(NOT_TIED),
            clock: audit.simulated_clock.then_some(SIMULATED),
        }
    }
}

/// The answer for people.
#[must_use]
pub fn text(audit: &Audit) -> String {
    let mut text = String::new();
    about(audit, &mut text);
    keys(audit, &mut text);
    findings(audit, &mut text);
    verdict(audit, &mut text);
    text
}

fn about(audit: &Audit, text: &mut String) {
    let unread = || "(the founding could not be read)".to_owned();
    let _ = writeln!(text, "collection  {}", audit.name.clone().unwrap_or_else(unread));
    let _ = writeln!(text, "log         {}", audit.origin.clone().unwrap_or_else(unread));
    if audit.simulated_clock {
        let _ = writeln!(text, "            {SIMULATED}");
    }
    let newest = audit.newest.map(|newest| format!(", the newest recorded at {}", newest.utc_text())).unwrap_or_default();
    let _ = writeln!(text, "notes       {}{newest}", audit.size);
    if audit.withheld > 0 {
        let _ = writeln!(text, "withheld    {} of the bodies", audit.withheld);
    }
    if let Some(root) = audit.root {
        let _ = writeln!(text, "root        {}", base64(&root));
    }
}

/// Fingerprints for comparison with those got by another way.
fn keys(audit: &Audit, text: &mut String) {
    for key in &audit.log_keys {
        let _ = writeln!(text, "log key     {}  {}", key.fingerprint, key.of);
    }
    for key in &audit.root_keys {
        let _ = writeln!(text, "root key    {}  {}", key.fingerprint, key.of);
    }
}

fn findings(audit: &Audit, text: &mut String) {
    if audit.findings.is_empty() {
        return;
    }
    let _ = writeln!(text, "\nWorth a question, no fault of the bundle:");
    let mut sorted: Vec<&Finding> = audit.findings.iter().collect();
    sorted.sort_by_key(|finding| (finding.about, finding.seq));
    for alike in sorted.chunk_by(|a, b| a.about == b.about) {
        for finding in alike.iter().take(AUDIT_FINDINGS_SHOWN_MAX) {
            let _ = writeln!(text, "  {finding}");
        }
        if alike.len() > AUDIT_FINDINGS_SHOWN_MAX {
            let _ = writeln!(text, "  … and {} more like these (--json has all)", alike.len() - AUDIT_FINDINGS_SHOWN_MAX);
        }
    }
}

fn verdict(audit: &Audit, text: &mut String) {
    text.push('\n');
    if audit.verdict == Verdict::Broken {
        let _ = writeln!(text, "BROKEN");
        for fault in &audit.faults {
            let _ = writeln!(text, "  {fault}");
        }
        if audit.faults_left_out > 0 {
            let _ = writeln!(text, "  … and {} more", audit.faults_left_out);
        }
        return;
    }
    for tie in ties(audit) {
        let _ = writeln!(text, "{tie}");
    }
    let _ = writeln!(text, "It shows: {SHOWS}; {SHOWS_NOT}.");
}

fn ties(audit: &Audit) -> Vec<String> {
    let mut said = Vec::new();
    if audit.ties.log_key {
        said.push("The checkpoint is signed by the log key that you trust.".to_owned());
    }
    if let Some(size) = audit.ties.former_log_key_up_to {
        said.push(format!(
            "The log key that you trust is a former one: it signed the first {size} notes, and the root keys that these name lead on to the key that signs now."
        ));
    }
    if audit.ties.policy {
        said.push("The checkpoint satisfies your policy.".to_owned());
    }
    if let Some(size) = audit.ties.kept_up_to {
        said.push(format!("The first {size} notes are those that you have seen before."));
    }
    if said.is_empty() {
        said.push(format!("{}{}.", NOT_TIED[..1].to_uppercase(), &NOT_TIED[1..]));
        said.push("Compare the fingerprints above with those you get by another way.".to_owned());
    }
    said
}
