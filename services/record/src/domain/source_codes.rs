//! What the record has to say for and against a source code of an animal or a case. It decides nothing and
//! proposes nothing: a person who knows the law of the place chooses the code and signs it in the note of the
//! permit's use. What the record cannot know it asks.

use super::parents::{Parent, Parents};
use super::state::{Animal, AnimalOrigin, Egg, EggOrigin, EventId, ParentStatus};
use super::view::View;
use selachron_schemas::names::Subject;
use selachron_schemas::trade_codes::code_on;
use serde::Serialize;
use utoipa::ToSchema;

/// Something that the record has to say about a source code.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Reason {
    /// In words.
    pub says: String,
    /// The notes behind it.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
}

impl Reason {
    fn new(says: impl Into<String>, events: &[EventId]) -> Self {
        Self { says: says.into(), events: events.to_vec() }
    }
}

/// What speaks for and against one code, and what the record cannot know.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ForCode {
    /// `C`, `F`, `W` or `R`.
    pub code: &'static str,
    /// What the dated list says it means on the day of V; absent where the list does not have it on that day.
    pub meaning: Option<&'static str>,
    /// Since when the list has it so, `YYYY-MM-DD`.
    pub valid_from: Option<&'static str>,
    /// The document that says so.
    pub source_document: Option<&'static str>,
    /// Whether that document was read, or the list is from memory.
    pub basis: Option<&'static str>,
    /// For it.
    pub speaks_for: Vec<Reason>,
    /// Against it.
    pub speaks_against: Vec<Reason>,
    /// To be answered by a person.
    pub asks: Vec<String>,
}

/// The source codes of an animal or a case, weighed by nobody.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SourceCodes {
    /// The animal, where it is about one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub animal: Option<Subject>,
    /// The case, where it is about one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub egg: Option<Subject>,
    /// What this is not.
    pub says: &'static str,
    /// Each code with its reasons.
    pub codes: Vec<ForCode>,
}

const DECIDES: &str = "This decides nothing: the permit, local law and the authority do. The codes are shown with what the record says.";
const MATED: &str = "Did the parents mate in a controlled environment? An egg of sperm stored from a mating in the wild is not bred in captivity (50 CFR 23.63).";
const STOCK: &str =
    "Was the breeding stock come by lawfully, and is it managed so that it lasts without the wild (50 CFR 23.63, in our words)?";
const RANCHED: &str = "Was it taken from the wild as an egg or a juvenile and reared in a controlled environment?";
const WHERE_FROM: &str = "Do the papers that came with it say where it is from?";
const NO_SIRE: &str = "It has no sire: was its mother in care when development began?";
const CASE_NOT_KNOWN: &str = "It hatched here, out of which case nobody knows: where that was laid is to be asked.";

/// How a thing came to be here, as far as a code turns on it.
#[derive(Default)]
struct Descent {
    /// It was born in care: laid here, or by its sender's word.
    born: Vec<Reason>,
    /// It came from the wild.
    wild: Vec<Reason>,
    /// What has to be asked before either can be said.
    open: Option<String>,
    /// Its mother was here when it was laid.
    laid_here: bool,
}

impl Descent {
    fn born(reason: Reason, laid_here: bool) -> Self {
        Self { born: vec![reason], laid_here, ..Self::default() }
    }

    fn open(says: String) -> Self {
        Self { open: Some(says), ..Self::default() }
    }

    fn of_animal(view: &View<'_>, animal: &Animal) -> Self {
        let came = [animal.came.event];
        match &animal.origin {
            AnimalOrigin::Hatched { egg, .. } => Self::hatched(animal.came.event, view.egg(egg).as_ref()),
            AnimalOrigin::ToldApart { hatched_here: true, .. } => Self::open(CASE_NOT_KNOWN.to_owned()),
            AnimalOrigin::Received { origin, .. } if origin == "wild" => {
                Self { wild: vec![Reason::new("It arrived as from the wild.", &came)], ..Self::default() }
            }
            AnimalOrigin::Received { origin, .. } if origin == "bred in care" => {
                Self::born(Reason::new("It arrived as bred in care, by its sender's word.", &came), false)
            }
            AnimalOrigin::Received { .. } | AnimalOrigin::ToldApart { .. } | AnimalOrigin::Withheld => Self::default(),
        }
    }

    /// A hatch here says nothing of where the case was laid: one that was taken from the wild as a case and
    /// hatched here is what ranching means.
    fn hatched(hatch: EventId, egg: Option<&Egg>) -> Self {
        match egg.map(|egg| (&egg.origin, egg.came.event)) {
            Some((EggOrigin::Collected { .. }, find)) => {
                Self::born(Reason::new("It hatched here, from a case that was found here.", &[hatch, find]), true)
            }
            Some((EggOrigin::Received { from, .. }, _)) => Self::open(case_from(from)),
            Some((EggOrigin::Withheld, _)) | None => Self::open(CASE_NOT_KNOWN.to_owned()),
        }
    }

    fn of_case(egg: &Egg) -> Self {
        match &egg.origin {
            EggOrigin::Collected { .. } => Self::born(Reason::new("It was found here.", &[egg.came.event]), true),
            EggOrigin::Received { from, .. } => Self::open(format!("It came from {from}: where it was laid is to be asked.")),
            EggOrigin::Withheld => Self::default(),
        }
    }
}

fn case_from(from: &str) -> String {
    format!("Its case came from {from}: where it was laid is to be asked.")
}

/// What is known of the parents that bears on "bred in captivity".
#[derive(Default)]
struct OfParents {
    speaks_for: Vec<Reason>,
    against: Vec<Reason>,
    asks: Vec<String>,
}

impl View<'_> {
    /// What the record has to say about the source codes of an animal.
    #[must_use]
    pub fn source_codes(&self, animal: &Animal) -> SourceCodes {
        let codes = self.codes(&Descent::of_animal(self, animal), &self.parents(animal));
        SourceCodes { animal: Some(animal.id.clone()), egg: None, says: DECIDES, codes }
    }

    /// The same of a case.
    #[must_use]
    pub fn source_codes_of_case(&self, egg: &Egg) -> SourceCodes {
        let codes = self.codes(&Descent::of_case(egg), &self.parents_of_case(egg));
        SourceCodes { animal: None, egg: Some(egg.id.clone()), says: DECIDES, codes }
    }

    fn codes(&self, descent: &Descent, parents: &Parents) -> Vec<ForCode> {
        let day = self.day(self.as_of()).to_string();
        let of_parents = self.of_parents(parents, descent.laid_here);
        let Descent { born, wild, open, .. } = descent;
        // Not bred in captivity is not yet born there: without a birth in care nothing of the parents speaks for it.
        let not_bred = if born.is_empty() { Vec::new() } else { of_parents.against.clone() };
        let ask = |asks: &[&str]| asks.iter().map(|&ask| ask.to_owned()).chain(open.clone()).collect::<Vec<_>>();
        vec![
            for_code("C", &day, [born.clone(), of_parents.speaks_for].concat(), [of_parents.against, wild.clone()].concat(), {
                [ask(&[MATED, STOCK]), of_parents.asks].concat()
            }),
            for_code("F", &day, [born.clone(), not_bred].concat(), wild.clone(), ask(&[MATED])),
            for_code("W", &day, wild.clone(), born.clone(), ask(&[WHERE_FROM])),
            for_code("R", &day, wild.clone(), born.clone(), ask(&[RANCHED, WHERE_FROM])),
        ]
    }

    fn of_parents(&self, parents: &Parents, laid_here: bool) -> OfParents {
        let mut found = OfParents::default();
        for (which, parent) in [("dam", &parents.dam), ("sire", &parents.sire)] {
            let reason = |says: String| Reason::new(says, &parent.events);
            match parent.status {
                ParentStatus::Known => found.speaks_for.push(reason(format!("Its {which} is known."))),
                ParentStatus::None if laid_here => {
                    found.speaks_for.push(reason("It has no sire: its mother alone was in care when development began.".to_owned()));
                }
                ParentStatus::None => found.asks.push(NO_SIRE.to_owned()),
                ParentStatus::Candidates => found.against.push(reason(format!("Its {which} is one of several."))),
                ParentStatus::Unknown => found.against.push(reason(format!("Nobody knows its {which}."))),
                ParentStatus::WildCaught => found.against.push(reason("Its parents lived in the wild.".to_owned())),
            }
            found.against.extend(self.wild_parent(which, parent));
        }
        found
    }

    /// A known parent that came from the wild may have mated there.
    fn wild_parent(&self, which: &str, parent: &Parent) -> Option<Reason> {
        let known = self.animal(parent.known()?)?;
        let AnimalOrigin::Received { origin, .. } = &known.origin else { return None };
        let says = format!("Its {which} arrived from the wild on {}: where it mated is to be asked.", self.day(known.came.time));
        (origin == "wild").then(|| Reason::new(says, &[known.came.event]))
    }
}

fn for_code(code: &'static str, day: &str, speaks_for: Vec<Reason>, speaks_against: Vec<Reason>, asks: Vec<String>) -> ForCode {
    let known = code_on("source", code, day);
    ForCode {
        code,
        meaning: known.map(|known| known.meaning),
        valid_from: known.map(|known| known.valid_from),
        source_document: known.map(|known| known.source_document),
        basis: known.map(|known| known.basis),
        speaks_for: once(speaks_for),
        speaks_against: once(speaks_against),
        asks,
    }
}

/// What is said of both parents is said once.
fn once(reasons: Vec<Reason>) -> Vec<Reason> {
    let mut said: Vec<Reason> = Vec::new();
    for reason in reasons {
        if !said.contains(&reason) {
            said.push(reason);
        }
    }
    said
}
