//! Groups as the slow fold of the laws sees them: notes as JSON, and plain numbers.

use super::laws::{Members, text};
use selachron_record::domain::state::Counts;
use selachron_record::domain::view::View;
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

type Classes = [i64; 3];

fn classes(members: &Members) -> Classes {
    ["males", "females", "unknown"].map(|class| members["data"]["counts"][class].as_i64().unwrap())
}

fn class_of(members: &Members) -> usize {
    ["male", "female", "unknown"].iter().position(|class| *class == text(members, "/counted_as")).unwrap()
}

/// Numbers without those told apart later: in their class, or the unknown, or any; and who was in none.
fn minus(mut counts: Classes, apart: &[(usize, usize)]) -> (Classes, Vec<(usize, usize)>) {
    let mut left = Vec::new();
    for (at, class) in apart {
        match [*class, 2, 0, 1].into_iter().find(|class| counts[*class] > 0) {
            Some(class) => counts[class] -= 1,
            None => left.push((*at, *class)),
        }
    }
    (counts, left)
}

/// Whether an animal was there before the note at that place: hatched alive by any note, and neither
/// dead nor in a group yet.
fn was_there(notes: &[(String, Members)], animal: &Value, at: usize) -> bool {
    let hatch = notes.iter().find(|(kind, members)| kind == "egg.hatched.v1" && json!(text(members, "/young/0/animal")) == *animal);
    let ended = |(kind, members): &(String, Members)| {
        members["subject"] == *animal && matches!(kind.as_str(), "animal.died.v1" | "animal.grouped.v1")
    };
    hatch.is_some_and(|(_, hatch)| text(hatch, "/young/0/state") == "alive") && !notes[..at].iter().any(ended)
}

/// What the slow fold says of a group: how many by class, and feedings.
pub fn slow_group(notes: &[(String, Members)], id: &str) -> Option<Value> {
    let forms = |kind: &str, members: &Members| match kind {
        "group.formed.v1" => members["subject"] == json!(id),
        "group.split.v1" => text(members, "/into") == id,
        _ => false,
    };
    let came = notes.iter().position(|(kind, members)| forms(kind, members))?;
    let apart = notes.iter().enumerate().filter(|(_, (kind, members))| kind == "animal.told_apart.v1" && text(members, "/group") == id);
    let apart: Vec<(usize, usize)> = apart.map(|(at, (_, members))| (at, class_of(members))).collect();
    let after = |at: usize| apart.iter().filter(|(told, _)| *told > at).copied().collect::<Vec<_>>();
    let (mut counts, mut joined) = minus(classes(&notes[came].1), &after(came));
    let mut feeds = 0;
    for (at, (kind, members)) in notes.iter().enumerate().filter(|(_, (kind, members))| !forms(kind, members)) {
        let own = members["subject"] == json!(id);
        let goes = |counts: Classes, part: Classes| [0, 1, 2].map(|class| (counts[class] - part[class]).max(0));
        let mut comes = |part: Classes| {
            let (later, mut earlier): (Vec<_>, Vec<_>) = joined.iter().copied().partition(|(told, _)| *told > at);
            let (part, left) = minus(part, &later);
            earlier.extend(left);
            joined = earlier;
            part
        };
        match kind.as_str() {
            "group.fed.v1" if own => feeds += 1,
            "group.counted.v1" if own && members["data"]["full"] == json!(true) => counts = minus(classes(members), &after(at)).0,
            "group.split.v1" | "group.died.v1" if own => counts = goes(counts, classes(members)),
            "group.merged.v1" if text(members, "/from_group") == id => counts = goes(counts, minus(classes(members), &after(at)).0),
            "group.merged.v1" if own => {
                let part = comes(classes(members));
                counts = [0, 1, 2].map(|class| counts[class] + part[class]);
            }
            "animal.grouped.v1" if text(members, "/group") == id && was_there(notes, &members["subject"], at) => {
                let mut one = [0; 3];
                one[class_of(members)] = 1;
                let part = comes(one);
                counts = [0, 1, 2].map(|class| counts[class] + part[class]);
            }
            _ => {}
        }
    }
    Some(json!([counts, feeds]))
}

/// What the service's fold says.
pub fn quick_group(view: &View<'_>, id: &Subject) -> Option<Value> {
    let group = view.group(id)?;
    let counts = group.counts;
    let sum = group.changes.iter().fold(Counts::default(), |sum, change| sum.and(change.change, |all, one| all + one));
    assert_eq!(sum, counts, "the numbers are the sum of all changes");
    Some(json!([[counts.males, counts.females, counts.unknown], group.feeds]))
}
