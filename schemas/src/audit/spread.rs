//! How costly work without order is spread over processors. This package starts no threads; the
//! program that links it says how.

/// Applies a function to every item, in any order, and returns the answers in the items' order.
pub trait Spread {
    /// The answers of `work`, one an item.
    fn map<I: Send, O: Send>(&self, items: Vec<I>, work: impl Fn(I) -> O + Sync) -> Vec<O>;
}

/// One item after the other, on the caller's own thread.
#[derive(Debug, Clone, Copy, Default)]
pub struct OneByOne;

impl Spread for OneByOne {
    fn map<I: Send, O: Send>(&self, items: Vec<I>, work: impl Fn(I) -> O + Sync) -> Vec<O> {
        items.into_iter().map(work).collect()
    }
}
