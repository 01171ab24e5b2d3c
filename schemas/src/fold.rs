//! Two clocks (F20-F22): which notes stand, and how, when S of them are known; and in which
//! order they count at an instant V. Nothing here knows what a note is about.

use std::collections::HashMap;

/// What an act does to its target (F21).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Act<R> {
    /// Puts the target right: the members that the replacement names are laid over it.
    Correct(R),
    /// Takes the target back.
    Retract,
}

/// A note as the fold sees it: an ordinary note with its value, or an act on an earlier one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Entry<V, R> {
    /// An ordinary note.
    Note(V),
    /// An act on the note at `target`.
    Act {
        /// Seq of the target, smaller than the act's own.
        target: u64,
        /// What it does.
        act: Act<R>,
    },
}

/// How replacements are laid over values and over each other.
pub trait Replace<R>: Clone {
    /// This value with the members that `replacement` names.
    #[must_use]
    fn with(&self, replacement: &R) -> Self;
}

/// The acts on each target, in seq order: built once as the log grows, and read for any S.
#[derive(Debug, Clone, Default)]
pub struct ActIndex(HashMap<u64, Vec<u64>>);

impl ActIndex {
    /// Notes that the act at `seq` is on `target`.
    pub fn add(&mut self, target: u64, seq: u64) {
        self.0.entry(target).or_default().push(seq);
    }

    /// Forgets acts from `size` on.
    pub fn truncate(&mut self, size: u64) {
        self.0.retain(|_, acts| {
            acts.retain(|seq| *seq < size);
            !acts.is_empty()
        });
    }

    /// The acts on `target` with seq below `size`, newest first.
    pub fn on(&self, target: u64, size: u64) -> impl Iterator<Item = u64> + '_ {
        self.0.get(&target).into_iter().flatten().rev().copied().filter(move |seq| *seq < size)
    }
}

/// The value of the note at `seq` when `size` notes are known, or `None` where nothing of it
/// stands (F21). `entry` gives the entry at a seq.
pub fn value_of<'a, V, R>(seq: u64, size: u64, acts: &ActIndex, entry: &impl Fn(u64) -> &'a Entry<V, R>) -> Option<V>
where
    V: Replace<R> + 'a,
    R: Replace<R> + 'a,
{
    let Entry::Note(first) = entry(seq) else { return None };
    match standing_act(seq, size, acts, entry) {
        None => Some(first.clone()),
        Some(Act::Retract) => None,
        Some(Act::Correct(replacement)) => Some(first.with(&replacement)),
    }
}

/// The newest act on `target` that itself stands, with what acts on *it* laid over.
///
/// Works from the newest act to the oldest, without recursion: a chain of acts on acts may be
/// as long as somebody cares to make it.
pub fn standing_act<'a, V, R>(target: u64, size: u64, acts: &ActIndex, entry: &impl Fn(u64) -> &'a Entry<V, R>) -> Option<Act<R>>
where
    V: 'a,
    R: Replace<R> + 'a,
{
    let mut involved: Vec<u64> = acts.on(target, size).collect();
    let mut at = 0;
    while at < involved.len() {
        involved.extend(acts.on(involved[at], size));
        at += 1;
    }
    // An act has a greater seq than its target, so every act on an act is worked out before it.
    involved.sort_unstable_by(|a, b| b.cmp(a));
    let mut values: HashMap<u64, Option<Act<R>>> = HashMap::with_capacity(involved.len());
    for seq in involved {
        let over = newest_standing(seq, size, acts, &values);
        values.insert(seq, act_value(entry(seq), over));
    }
    newest_standing(target, size, acts, &values)
}

fn newest_standing<R: Clone>(target: u64, size: u64, acts: &ActIndex, values: &HashMap<u64, Option<Act<R>>>) -> Option<Act<R>> {
    acts.on(target, size).find_map(|seq| values.get(&seq).cloned().flatten())
}

fn act_value<V, R: Replace<R>>(entry: &Entry<V, R>, over: Option<Act<R>>) -> Option<Act<R>> {
    let Entry::Act { act, .. } = entry else { return None };
    match (act, over) {
        (act, None) => Some(act.clone()),
        (_, Some(Act::Retract)) => None,
        // The agreement refuses to correct a retraction; should one stand in a log, it changes nothing.
        (Act::Retract, Some(Act::Correct(_))) => Some(Act::Retract),
        (Act::Correct(own), Some(Act::Correct(over))) => Some(Act::Correct(own.with(&over))),
    }
}
