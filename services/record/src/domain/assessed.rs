//! Whether the assessment that a decision keeps is what the record said at the clocks it names. The
//! author writes it down, so that it can be read in the note itself; the record works it out again and
//! shows where they differ. A decision is never refused for it.

use super::assessment::met_by;
use super::discrepancy::{Discrepancy, odd};
use super::state::{AssessmentKept, Holds, OpeningAssessment, Weighed, WindowStanding};
use super::told::{EggNote, Told};
use super::view::{Fact, View};
use selachron_schemas::limits::{ASSESSED_CASES_MAX, CLOCK_SKEW_MS, LIST_ITEMS_MAX};
use selachron_schemas::names::Subject;
use selachron_schemas::time::{DAY_MS, Instant};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};

/// An assessment that is so much older than its decision says nothing of the moment of decision (a
/// convention of this project).
const AGE_MAX_MS: i64 = DAY_MS;

/// What a decision about several cases keeps in place of a standing.
const SEVERAL: &str = "several cases";

/// What an assessment says, as a decision keeps it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Said {
    standing: String,
    met: BTreeSet<String>,
    not_met: BTreeSet<String>,
    not_known: BTreeSet<String>,
    against: BTreeSet<String>,
    met_by: Vec<Subject>,
}

/// What was asked: about what, at V, at S.
type Asked = (Subject, Instant, u64);

/// What the record said at clocks that decisions name. It depends on nothing but the notes below S,
/// so that it is worked out once; a copy of the memory begins anew.
#[derive(Debug, Default)]
pub struct Answers(Mutex<BTreeMap<Asked, Arc<Option<Said>>>>);

impl Clone for Answers {
    fn clone(&self) -> Self {
        Self::default()
    }
}

impl Answers {
    fn get(&self, asked: &Asked) -> Option<Arc<Option<Said>>> {
        self.0.lock().ok()?.get(asked).cloned()
    }

    fn keep(&self, asked: Asked, said: &Arc<Option<Said>>) {
        if let Ok(mut known) = self.0.lock() {
            known.insert(asked, said.clone());
        }
    }
}

impl<'a> View<'a> {
    /// An assessment that is kept and is not what the record says.
    pub(super) fn assessed_otherwise(&self, fact: &Fact<'a>, found: &mut Vec<Discrepancy>) {
        let kept = match fact.told() {
            Told::EggNote(EggNote::OpeningAuthorised(told)) => told.assessment.as_ref(),
            Told::EggNote(EggNote::OpeningLeft(told)) => told.assessment.as_ref(),
            _ => None,
        };
        let differs = kept.map(|kept| self.differs(fact, kept)).unwrap_or_default();
        if !differs.is_empty() {
            let says = format!("The assessment that it keeps is not what the record says at its clocks: {}.", differs.join("; "));
            found.push(self.discrepancy(odd::ASSESSED_OTHERWISE, &[fact.note.seq], [fact.subject().clone()], says));
        }
    }

    fn differs(&self, fact: &Fact<'a>, kept: &AssessmentKept) -> Vec<String> {
        let (size, seq, recorded) = (kept.known_at_size.0, fact.note.seq, fact.note.recorded_at);
        if size > seq {
            return vec![format!("it names {size} notes, and there were {seq} when it was recorded")];
        }
        let decided = fact.time().min(fact.note.signedtime.unwrap_or(recorded));
        if kept.as_of.0 > recorded.0 + CLOCK_SKEW_MS || kept.as_of.0 < decided.0 - AGE_MAX_MS {
            return vec![format!("it is of {}, and the decision of {}", kept.as_of.utc_text(), fact.time().utc_text())];
        }
        // What is withheld since cannot be asked again.
        if self.nursery().index().withheld.iter().any(|withheld| *withheld < size) {
            return Vec::new();
        }
        match &*self.said_then(fact.subject(), kept.as_of, size) {
            Some(said) => compared(said, kept),
            None => vec!["the case was not in the record then".to_owned()],
        }
    }

    fn said_then(&self, about: &Subject, as_of: Instant, size: u64) -> Arc<Option<Said>> {
        let (asked, answers) = ((about.clone(), as_of, size), self.nursery().answers());
        if let Some(known) = answers.get(&asked) {
            return known;
        }
        let then = self.nursery().at(as_of, size);
        let said = Arc::new(match about.noun() {
            "egg" => then.opening_assessment(about).map(|told| said(&told)),
            _ => Some(Said { standing: SEVERAL.to_owned(), met_by: met_by(&then), ..Said::default() }),
        });
        answers.keep(asked, &said);
        said
    }
}

fn said(told: &OpeningAssessment) -> Said {
    let holding = |list: &[Weighed], wanted: Holds| -> BTreeSet<String> {
        list.iter().filter(|weighed| weighed.holds == wanted).map(|weighed| weighed.what.to_owned()).collect()
    };
    Said {
        standing: word(told.window.standing).to_owned(),
        met: holding(&told.criteria, Holds::Yes),
        not_met: holding(&told.criteria, Holds::No),
        not_known: holding(&told.criteria, Holds::NotKnown),
        against: holding(&told.against, Holds::Yes),
        met_by: told.met_by.clone(),
    }
}

fn word(standing: WindowStanding) -> &'static str {
    match standing {
        WindowStanding::Before => "before the window",
        WindowStanding::Open => "window open",
        WindowStanding::Past => "past the window",
        WindowStanding::NoForecast => "no forecast",
    }
}

/// What is kept otherwise than the record says, each in words.
fn compared(said: &Said, kept: &AssessmentKept) -> Vec<String> {
    let mut differs = Vec::new();
    if kept.standing != said.standing {
        differs.push(format!("standing {:?}, not {:?}", kept.standing, said.standing));
    }
    let lists = [
        ("criteria met", &kept.criteria_met, &said.met),
        ("criteria not met", &kept.criteria_not_met, &said.not_met),
        ("criteria not known", &kept.criteria_not_known, &said.not_known),
        ("reasons against", &kept.reasons_against, &said.against),
    ];
    for (name, kept, said) in lists {
        if kept.iter().cloned().collect::<BTreeSet<String>>() != *said {
            let listed = |words: &mut dyn Iterator<Item = &String>| words.map(String::as_str).collect::<Vec<_>>().join(", ");
            differs.push(format!("{name}: {:?}, not {:?}", listed(&mut kept.iter()), listed(&mut said.iter())));
        }
    }
    // The list of a note ends somewhere, and so does the page that a client asks for.
    let counts = [said.met_by.len(), said.met_by.len().min(LIST_ITEMS_MAX)];
    let listed: Vec<&Subject> = kept.met_by.iter().map(|case| &**case).collect();
    let wanted: Vec<&Subject> = said.met_by.iter().take(ASSESSED_CASES_MAX).collect();
    if listed != wanted || !counts.iter().any(|count| *count as u64 == kept.met_by_cases.0) {
        differs.push(format!("{} cases met the criteria, not {}", said.met_by.len(), kept.met_by_cases.0));
    }
    differs
}
