//! The usual cautions, shown where the work can hurt animal or keeper: before a note is signed, and
//! beside what the record says of a case. They suggest nothing to do: no instruction to cut, no
//! drug, no dose.

/// Shown before a note about an opened case is signed.
const OPENING: &str = "\
Before a case is opened, and when an opening is noted:
- The licensed veterinarian and the institution's animal-welfare process decide; local law and permits apply.
- Nothing enters a sealed case except on the veterinarian's decision, recorded.
- Reasons against weigh as much as reasons for: external yolk seen, a wide window, few looks, cool water, an embryo merely still.
- A case past its window and quiet is first looked at again and left: most late young come by themselves (common practice, no source).
- Two people, and the approval that the institution's written protocol asks for; an opening that has happened is recorded whoever signed.
- Under water throughout, its way up kept, no knocks; never lift an opened case into air (common practice, no source).
- Opening a case known dead is an examination, never an assisted hatch.";

/// Shown when eggs are collected among adults.
const COLLECTING: &str = "Collecting among adults is work for two people: bites, fin spines, and the house's rules for diving and heights \
     (common practice, no source).";

/// Shown when living things are sent.
const SENDING: &str = "Fitness to travel is the licensed veterinarian's and the institution's decision; local law, permits and the receiving \
     place's rules apply.";

/// Shown when a sample is taken.
const SAMPLING: &str = "What is taken of a living animal or embryo, and how, is the licensed veterinarian's decision; a licence may be needed: \
     give its reference.";

/// Shown when quarantine begins or ends.
const QUARANTINE: &str =
    "Quarantine ends by the licensed veterinarian's clearance and by nothing else; orders of an authority go before house rules.";

/// The cautions that belong to a kind.
#[must_use]
pub fn cautions(kind: &str) -> Option<&'static str> {
    match kind {
        "egg.opened.v1" => Some(OPENING),
        "egg.collected.v1" => Some(COLLECTING),
        "consignment.sent.v1" => Some(SENDING),
        "sample.taken.v1" => Some(SAMPLING),
        "quarantine.started.v1" | "quarantine.cleared.v1" => Some(QUARANTINE),
        _ => None,
    }
}

/// The cautions of an opening, one by one.
#[must_use]
pub fn of_an_opening() -> Vec<&'static str> {
    OPENING.lines().filter_map(|line| line.strip_prefix("- ")).collect()
}
