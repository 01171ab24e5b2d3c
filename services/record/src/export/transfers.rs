//! What comes from elsewhere and goes there, as the notes tell it.

use crate::domain::state::LifeState;
use crate::domain::told::groups::GroupDeparted;
use crate::domain::told::{AnimalNote, GroupNote, Told};
use crate::domain::told_house::House;
use crate::domain::view::Fact;
use selachron_schemas::names::Subject;

/// One coming or going of one case, animal or group.
#[derive(Debug, Clone, PartialEq)]
pub struct Transfer {
    /// Which.
    pub which: Subject,
    /// `arrived`, `departed`, `returned`.
    pub direction: &'static str,
    /// From whom or to whom.
    pub partner: String,
    /// Why.
    pub reason: Option<String>,
    /// As it came or left.
    pub alive: Option<LifeState>,
    /// The consignment it was part of.
    pub consignment: Option<Subject>,
}

impl Transfer {
    fn new(which: &Subject, direction: &'static str, partner: &str) -> Self {
        let which = which.clone();
        Self { which, direction, partner: partner.to_owned(), reason: None, alive: None, consignment: None }
    }

    fn because(self, reason: &str) -> Self {
        Self { reason: Some(reason.to_owned()), ..self }
    }

    fn alive(self, alive: LifeState) -> Self {
        Self { alive: Some(alive), ..self }
    }

    /// In words, without when.
    #[must_use]
    pub fn says(&self) -> String {
        let way = if self.direction == "departed" { "to" } else { "from" };
        let reason = self.reason.as_ref().map_or_else(String::new, |reason| format!(" ({reason})"));
        let partner = if self.partner.is_empty() { String::new() } else { format!(" {way} {}", self.partner) };
        format!("{}{partner}{reason}", self.direction)
    }
}

/// What a note says of coming and going.
#[must_use]
pub fn transfers_in(fact: &Fact<'_>) -> Vec<Transfer> {
    let of = |direction, partner: &str| Transfer::new(fact.subject(), direction, partner);
    match fact.told() {
        Told::EggReceived(told) => vec![of("arrived", &told.from).alive(told.state)],
        Told::AnimalReceived(told) => vec![of("arrived", &told.from).because(&told.origin).alive(told.state)],
        Told::AnimalDeparted(told) => vec![of("departed", &told.to).because(&told.reason).alive(told.alive)],
        Told::EggRemoved(told) if told.reason == "sent out" => vec![of("departed", &told.to).because(&told.reason).alive(told.alive)],
        Told::AnimalNote(AnimalNote::Returned(told)) => vec![of("returned", &told.from).because(&told.reason)],
        Told::GroupNote(GroupNote::Formed(told)) => told.sender.iter().map(|sender| of("arrived", sender)).collect(),
        Told::GroupNote(GroupNote::Departed(told)) => vec![group(fact.subject(), told)],
        Told::House(House::ConsignmentSent(told)) => {
            // A group may travel in several boxes, and leaves once.
            let first = |at: usize| told.items[..at].iter().all(|before| before.which != told.items[at].which);
            let items = told.items.iter().enumerate().filter(|(at, _)| first(*at)).map(|(_, item)| item);
            let sent = items.map(|item| Transfer {
                consignment: Some(fact.subject().clone()),
                ..Transfer::new(&item.which, "departed", &told.to).because(&told.reason).alive(item.alive)
            });
            sent.collect()
        }
        _ => Vec::new(),
    }
}

fn group(which: &Subject, told: &GroupDeparted) -> Transfer {
    Transfer::new(which, "departed", &told.to).because(&told.reason)
}
