//! The cases of one group of competing fates, each with its entry beside its exit.
//!
//! The sweeps of [`sweep`](crate::sweep) keep entries and exits apart, which is smaller; the
//! jackknife must know of everyone that leaves when it had come.

use crate::reason::InvalidInput;
use crate::risk_set::Entries;
use crate::rows::Spell;
use crate::sweep::{CAUSES_MAX, Mark};

/// Cases sorted by exit, and their entries sorted apart.
pub(crate) struct Cohort {
    causes: usize,
    from_origin: u64,
    entries: Vec<Mark>,
    spells: Vec<Spell>,
}

/// All that happens at one distinct exit age.
pub(crate) struct Moment<'a> {
    pub days: f64,
    pub n_risk: u64,
    /// How many of those at risk had entered since the exit age before.
    pub n_entered: u64,
    pub leaving: &'a [Spell],
    /// The next age at or after this one at which somebody enters.
    pub next_entry: Option<f64>,
}

impl Cohort {
    pub fn new(causes: usize) -> Result<Cohort, InvalidInput> {
        if causes > CAUSES_MAX {
            return Err(InvalidInput::TooMany { what: "causes", found: causes, max: CAUSES_MAX });
        }
        Ok(Cohort { causes, from_origin: 0, entries: Vec::new(), spells: Vec::new() })
    }

    pub fn push(&mut self, spell: Spell) {
        if spell.entry == f64::NEG_INFINITY {
            self.from_origin += u64::from(spell.weight);
        } else {
            self.entries.push(Mark::new(spell.entry, 0, spell.weight));
        }
        self.spells.push(spell);
    }

    pub fn sort(&mut self) {
        // Ages are never negative, so their bits sort as they do.
        self.spells.sort_unstable_by_key(|spell| spell.exit.to_bits());
        self.entries.sort_unstable_by_key(|mark| mark.days().to_bits());
    }

    pub fn causes(&self) -> usize {
        self.causes
    }

    pub fn n_cases(&self) -> u64 {
        self.spells.iter().map(|spell| u64::from(spell.weight)).sum()
    }

    pub fn entries(&self) -> Entries {
        Entries::new(self.from_origin, &self.entries)
    }

    /// Where observation begins: the first entry, and 0 when somebody is watched from the origin.
    pub fn observed_from(&self) -> Option<f64> {
        if self.from_origin > 0 { Some(0.0) } else { self.entries.first().map(Mark::days) }
    }

    /// Whether anybody enters at or after the first exit.
    pub fn any_late(&self) -> bool {
        let first = self.spells.first().map_or(f64::INFINITY, |spell| spell.exit);
        self.entries.last().is_some_and(|last| last.days() >= first)
    }

    /// Every distinct exit age in order.
    pub fn each_moment(&self, mut visit: impl FnMut(&Moment)) {
        let (mut n_risk, mut n_entered) = (self.from_origin, self.from_origin);
        let mut entering = self.entries.iter().peekable();
        for leaving in self.spells.chunk_by(|a, b| a.exit == b.exit) {
            let days = leaving[0].exit;
            while let Some(mark) = entering.next_if(|mark| mark.days() < days) {
                n_entered += u64::from(mark.weight);
                n_risk += u64::from(mark.weight);
            }
            let next_entry = entering.peek().map(|mark| mark.days());
            visit(&Moment { days, n_risk, n_entered, leaving, next_entry });
            n_entered = 0;
            n_risk -= leaving.iter().map(|spell| u64::from(spell.weight)).sum::<u64>();
        }
    }
}
