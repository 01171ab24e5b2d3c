//! How much memory ten million cases need, each with an age of its own: the worst that a curve meets.

use selachron_statistics::{Row, kaplan_meier_of};

use crate::support::P95;

const CASES: u64 = 10_000_000;

/// A prime above [`CASES`]: multiples of a number are then all different.
const PRIME: u64 = 10_000_019;

const GIBIBYTE: u64 = 1 << 30;

/// The most memory that this process has held so far, in bytes.
fn peak_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse::<u64>().ok().map(|kib| kib * 1024)
}

/// Rows that come one by one, as they are read, are not kept: the curve and the marks it is made of
/// stay below a gibibyte.
#[test]
fn ten_million_ages_stay_below_a_gibibyte() {
    let age = |number: u64| (number * 7919 % PRIME) as f64;
    let rows = (1..=CASES).map(|number| if number % 3 == 0 { Row::censored_at(age(number)) } else { Row::event_at(age(number)) });
    let curve = kaplan_meier_of(rows, None, P95).expect("a curve");
    assert_eq!((curve.n_cases, curve.steps.len() as u64), (CASES, CASES));
    let Some(peak) = peak_bytes() else {
        eprintln!("SKIPPED: this system does not tell how much memory a process has held");
        return;
    };
    assert!(peak < GIBIBYTE, "{} MiB", peak >> 20);
}
