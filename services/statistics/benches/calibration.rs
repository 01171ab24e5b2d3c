//! How often the hatch fell into its window, on simulated seasons whose truth is known: with the
//! model right, and with it wrong in five ways. Prints the table of `FORECAST.md`.
//!
//! `cargo bench -p selachron-statistics --bench calibration [-- SEASONS]`.

#[path = "development/season.rs"]
mod season;

use season::{Chance, Coverage, MISFITS, Misfit, Season};
use selachron_statistics::development::{Development, develop};

/// Seasons of each kind.
const SEASONS: u64 = 50;
/// Weeks before the hatch.
const WEEKS: [f64; 5] = [12.0, 8.0, 4.0, 2.0, 1.0];

fn main() {
    let seasons = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(SEASONS);
    println!("{seasons} seasons of {} cases, weekly looks, laying known to 1-7 days, daily readings", season::CASES);
    println!("| what is true | when asked | n | 50 % window | 90 % window | median width of 90 % | no window |");
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    MISFITS.iter().for_each(|misfit| table(*misfit, seasons));
}

fn table(misfit: Misfit, seasons: u64) {
    let mut rows: Vec<(String, Coverage)> = vec![("a day at random".to_owned(), Coverage::default())];
    rows.extend(WEEKS.iter().map(|weeks| (format!("{weeks} weeks before"), Coverage::default())));
    for seed in 0..seasons {
        let (season, mut chance) = (Season::new(seed, misfit), Chance::new(seed + 1_000_000));
        for egg in &season.eggs {
            // Over more than the whole time, so that the day says nothing about the hatch.
            let random = egg.window.1 + chance.uniform() * 1.3 * season.law.reference_days;
            let asked = std::iter::once(random).chain(WEEKS.iter().map(|weeks| egg.hatch_day - 7.0 * weeks));
            for (day, (_, coverage)) in asked.zip(&mut rows).filter(|(day, _)| *day > egg.window.1 && *day < egg.hatch_day) {
                match season.told(egg, day, |case| develop(&season.law, &season.bands, case)) {
                    Ok(Development { window: Some(window), .. }) => coverage.add(egg.hatch_day, &window),
                    Ok(_) | Err(_) => coverage.without += 1,
                }
            }
        }
    }
    for (when, mut coverage) in rows {
        let (half, most) = (100.0 * coverage.part(coverage.in_50), 100.0 * coverage.part(coverage.in_90));
        let (n, width, without) = (coverage.n, coverage.median_width(), coverage.without);
        println!("| {} | {when} | {n} | {half:.1} % | {most:.1} % | {width:.1} d | {without} |", misfit.name);
    }
}
