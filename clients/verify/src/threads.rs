//! Signatures cost most of the time and need no order: they are spread over the processors.

use selachron_schemas::audit::spread::Spread;
use std::num::NonZeroUsize;
use std::panic::resume_unwind;
use std::thread::{available_parallelism, scope};

/// So many threads.
#[derive(Debug, Clone, Copy)]
pub struct Threads(pub NonZeroUsize);

impl Threads {
    /// As many as there are processors.
    #[must_use]
    pub fn of_this_machine() -> Self {
        Self(available_parallelism().unwrap_or(NonZeroUsize::MIN))
    }
}

impl Spread for Threads {
    fn map<I: Send, O: Send>(&self, items: Vec<I>, work: impl Fn(I) -> O + Sync) -> Vec<O> {
        let share = items.len().div_ceil(self.0.get()).max(1);
        if share == items.len() || items.is_empty() {
            return items.into_iter().map(work).collect();
        }
        let work = &work;
        scope(|scope| {
            let hands: Vec<_> = shares(items, share)
                .into_iter()
                .map(|share| scope.spawn(move || share.into_iter().map(work).collect::<Vec<O>>()))
                .collect();
            hands.into_iter().flat_map(|hand| hand.join().unwrap_or_else(|panic| resume_unwind(panic))).collect()
        })
    }
}

fn shares<I>(mut items: Vec<I>, share: usize) -> Vec<Vec<I>> {
    let mut shares = Vec::new();
    while items.len() > share {
        let rest = items.split_off(share);
        shares.push(std::mem::replace(&mut items, rest));
    }
    shares.push(items);
    shares
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_come_in_the_items_order_however_many_threads() {
        for threads in 1..5 {
            for count in 0..40 {
                let threads = Threads(NonZeroUsize::new(threads).unwrap());
                let answers = threads.map((0..count).collect(), |item: usize| item * 2);
                assert_eq!(answers, (0..count).map(|item| item * 2).collect::<Vec<_>>());
            }
        }
    }
}
