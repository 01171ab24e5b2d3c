//! What every report says in the same words: what the proof shows, and the cautions.

/// What a verified record shows, in these words and no more (F26).
pub const PROOF_SHOWS: &str = "Every note is as it was signed, in the order it came, and none has been taken away since the checkpoint.";

/// What it does not show (F26).
pub const PROOF_DOES_NOT_SHOW: &str = "It does not show that a note is true, nor that everything that happened was noted.";

/// Why assisted and unaided hatches are not compared (DOMAIN section 8, STATISTICS section 5).
pub const ASSISTED_CAVEAT: &str = "Cases are opened because they are late or weak, and only cases that lived long enough can be \
    opened at all (confounding by indication, immortal time). Their numbers therefore say nothing about whether opening helps, \
    and no comparison with unaided hatches is made here.";

/// What a drawing or a page for paper says of notes in doubt (F11); nothing where there are none.
#[must_use]
pub fn doubt(suspected: u64) -> Option<String> {
    match suspected {
        0 => None,
        1 => Some("1 of the notes behind it was recorded while its author's key was suspected.".to_owned()),
        many => Some(format!("{many} of the notes behind it were recorded while their authors' keys were suspected.")),
    }
}

/// The usual cautions wherever the work can hurt animal or keeper.
pub const CAUTIONS: [&str; 5] = [
    "The licensed veterinarian and the institution's animal-welfare process decide on openings, treatment and the end of a life; \
     local law and permits apply and come before anything printed here.",
    "Causes of loss and death are apparent, as the keeper saw them. A cause as determined comes only from a veterinarian or a laboratory.",
    "A still embryo is not a dead embryo. Losses were noted after repeated looks, or say that the case was plainly dead.",
    "Collecting among adults, wet electrics, sharps and work alone follow the house's own safety rules.",
    "Small numbers move by chance. The intervals treat cases as independent; cases of one clutch are not, so the truth may lie further off.",
];

/// What this report does not contain, so that nobody takes silence for a nought.
pub const NOT_COVERED: [&str; 2] = [
    "Young that hatched here are counted as ours whoever owns their parents, unless a loan names them.",
    "Of earlier reports only the last issued one of these months and of the twelve before is restated; older ones are compared by themselves.",
];
