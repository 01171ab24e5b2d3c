//! How many requests one address may make: so many a second, and a few seconds' worth at once if
//! it was quiet. Health is always answered.

use crate::clock::Stopwatch;
use selachron_schemas::limits::{PEER_BURST_S, PEERS_KEPT_MAX};
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

/// A thousand to the request, so that slow rates are reckoned to the millisecond.
const REQUEST: u64 = 1000;

/// What an address has left, and when that was reckoned.
#[derive(Clone, Copy)]
struct Left {
    parts: u64,
    at_ms: u64,
}

/// The rates of all addresses.
pub struct Rates {
    per_second: u64,
    watch: Stopwatch,
    peers: Mutex<HashMap<IpAddr, Left>>,
}

impl Rates {
    /// So many requests a second each.
    #[must_use]
    pub fn new(per_second: u32) -> Self {
        Self { per_second: u64::from(per_second), watch: Stopwatch::default(), peers: Mutex::default() }
    }

    /// Takes one request of `peer`, or says in how many seconds there is room for it.
    ///
    /// # Errors
    /// The seconds to wait, at least 1.
    pub fn take(&self, peer: IpAddr) -> Result<(), u64> {
        self.take_at(peer, self.watch.elapsed_ms())
    }

    fn full(&self) -> u64 {
        self.per_second * REQUEST * u64::from(PEER_BURST_S)
    }

    fn take_at(&self, peer: IpAddr, now_ms: u64) -> Result<(), u64> {
        let mut peers = self.peers.lock().unwrap_or_else(PoisonError::into_inner);
        // A thousandth of a request comes back each millisecond for each request a second.
        let reckoned = |left: &Left| (left.parts + now_ms.saturating_sub(left.at_ms) * self.per_second).min(self.full());
        if !peers.contains_key(&peer) && peers.len() >= PEERS_KEPT_MAX {
            peers.retain(|_, left| reckoned(left) < self.full());
        }
        let parts = peers.get(&peer).map_or(self.full(), reckoned);
        if parts < REQUEST {
            peers.insert(peer, Left { parts, at_ms: now_ms });
            return Err((REQUEST - parts).div_ceil(self.per_second * REQUEST).max(1));
        }
        if peers.contains_key(&peer) || peers.len() < PEERS_KEPT_MAX {
            peers.insert(peer, Left { parts: parts - REQUEST, at_ms: now_ms });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 1));
    const THERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 2));

    #[test]
    fn an_address_has_its_burst_then_its_rate() {
        let rates = Rates::new(10);
        let burst = 10 * PEER_BURST_S;
        assert!((0..burst).all(|_| rates.take_at(HERE, 0).is_ok()));
        assert_eq!(rates.take_at(HERE, 0), Err(1));
        assert_eq!(rates.take_at(THERE, 0), Ok(()), "each address for itself");
        assert_eq!(rates.take_at(HERE, 99), Err(1));
        assert_eq!(rates.take_at(HERE, 100), Ok(()), "a tenth of a second is one request");
        assert_eq!(rates.take_at(HERE, 100), Err(1));
        assert!((0..burst).all(|_| rates.take_at(HERE, 1_000_000).is_ok()), "never more than the burst");
        assert!(rates.take_at(HERE, 1_000_000).is_err());
    }

    #[test]
    fn no_number_of_addresses_makes_the_service_remember_without_end() {
        let rates = Rates::new(1);
        let address = |number: usize| IpAddr::from(u32::try_from(number).unwrap().to_be_bytes());
        (0..PEERS_KEPT_MAX + 50).for_each(|number| rates.take_at(address(number), 0).unwrap());
        assert_eq!(rates.peers.lock().unwrap().len(), PEERS_KEPT_MAX);
        rates.take_at(HERE, 10_000).unwrap();
        assert_eq!(rates.peers.lock().unwrap().len(), 1, "those that were quiet are forgotten");
    }
}
