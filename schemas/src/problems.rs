//! A page for each problem that an answer can name: its cause, and what mends it. The text is
//! `schemas/problems.json`; the service shows it at `/problems/NAME`, where a problem's `type`
//! leads (RFC 9457 3.1.1), and the command line after an error.

use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// What a problem's `type` begins with: a relative reference with its full path, so that it leads
/// to its page at whatever address the service is reached. The name is what follows.
pub const TYPE_PREFIX: &str = "/problems/";

/// One problem.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Page {
    /// Its name, at the end of its `type`.
    pub name: String,
    /// The HTTP status that it is answered with.
    pub status: u16,
    /// What sort of problem it is, in a few words.
    pub title: String,
    /// How it comes about.
    pub cause: String,
    /// What to do.
    pub remedy: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[allow(dead_code, reason = "said to whoever reads the file")]
    about: String,
    problems: Vec<Page>,
}

/// All pages, refusals first in the order of F7.
#[must_use]
pub fn pages() -> &'static [Page] {
    static PAGES: LazyLock<Vec<Page>> = LazyLock::new(|| {
        // Compiled in: a fault in it is a fault of the build, found by any test.
        let file: File = serde_json::from_str(include_str!("../problems.json")).unwrap_or_else(|fault| panic!("problems.json: {fault}"));
        file.problems
    });
    &PAGES
}

/// The page of a problem.
#[must_use]
pub fn page(name: &str) -> Option<&'static Page> {
    pages().iter().find(|page| page.name == name)
}

/// The `type` of a problem.
#[must_use]
pub fn type_of(name: &str) -> String {
    format!("{TYPE_PREFIX}{name}")
}

/// The name in a `type`, whatever stands before it: what follows the last slash or colon.
#[must_use]
pub fn name_in(kind: &str) -> &str {
    kind.rsplit(['/', ':']).next().unwrap_or(kind)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::refusal::Problem;
    use std::collections::BTreeSet;

    #[test]
    fn every_refusal_has_its_page_in_the_order_of_f7() {
        let names: Vec<&str> = pages().iter().map(|page| page.name.as_str()).collect();
        let refusals: Vec<&str> = Problem::ALL.iter().map(|problem| problem.name()).collect();
        assert_eq!(names[..refusals.len()], refusals);
        assert_eq!(names.iter().collect::<BTreeSet<_>>().len(), names.len(), "a name is used once");
    }

    #[test]
    fn every_page_says_cause_and_remedy_in_sentences() {
        for page in pages() {
            for text in [&page.cause, &page.remedy] {
                assert!(text.ends_with('.') && text.split(' ').count() > 5, "{}: {text}", page.name);
            }
            assert!((400..600).contains(&page.status) && !page.title.ends_with('.'), "{}", page.name);
        }
    }

    #[test]
    fn a_type_leads_to_its_name() {
        assert_eq!(name_in(&type_of("expect-failed")), "expect-failed");
        assert_eq!(name_in("https://records.example.org/problems/busy"), "busy");
        assert_eq!(name_in("urn:example:problem:busy"), "busy");
        assert_eq!(name_in("about:blank"), "blank");
    }
}
