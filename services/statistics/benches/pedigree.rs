//! Inbreeding and mean kinship of 100,000 animals and all kinships of 10,000, beside the same in
//! numpy (and in compiled numba, where there is one) in the same run. Prints medians of several
//! rounds; machines are noisy, so read the ratios. The answers are compared too.
//!
//! `cargo bench -p selachron-statistics --bench pedigree [-- ROUNDS]`; `SELACHRON_PYTHON` names the
//! Python that has numpy, `python3` if it is not set.

use selachron_statistics::pedigree::{Parent, Pedigree, Row};
use std::fmt::Write as _;
use std::process::Command;
use std::time::Instant as Watch;

/// Rounds of which the median is printed.
const ROUNDS: usize = 5;
/// Animals of the large pedigree, and of the one whose kinships are all computed.
const SIZES: [usize; 2] = [100_000, 10_000];
/// Animals laid each year, and how many clutches and sires they come from.
const YEAR: [usize; 3] = [1000, 50, 20];
/// Years over which an animal may be a parent.
const BREEDING_YEARS: usize = 8;

fn main() {
    let rounds = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(ROUNDS);
    let links = links(SIZES[0]);
    println!("{} animals, {} a year of {} clutches and {} sires, {rounds} rounds", SIZES[0], YEAR[0], YEAR[1], YEAR[2]);
    let ours = [large(&links, rounds), table(&links[..SIZES[1]], rounds)];
    for task in &ours {
        println!("{:<10} {:<44} {:>8.3} s", task.name, "ours", task.seconds);
    }
    beside(&links, &ours, rounds);
}

/// What was done, how long it took, and a sum to compare.
struct Task {
    name: &'static str,
    seconds: f64,
    sum: f64,
}

/// Sire and dam of each animal, by number.
type Links = Vec<Option<[usize; 2]>>;

/// Overlapping generations: each clutch has a sire and a dam from the years before.
fn links(animals: usize) -> Links {
    let mut state = 20_261_125_u64;
    let mut below = |bound: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) as usize) % bound
    };
    let [laid, clutches, sires] = YEAR;
    let mut links: Links = vec![None; laid.min(animals)];
    while links.len() < animals {
        let before = links.len();
        let oldest = before.saturating_sub(BREEDING_YEARS * laid);
        // Even numbers are males.
        let parent = |number: usize, odd: usize| oldest + number / 2 * 2 + odd;
        let chosen: Vec<usize> = (0..sires).map(|_| parent(below(before - oldest), 0)).collect();
        for _ in 0..clutches {
            let pair = [chosen[below(sires)], parent(below(before - oldest), 1)];
            links.extend(std::iter::repeat_n(Some(pair), laid / clutches));
        }
    }
    links.truncate(animals);
    links
}

fn rows(links: &[Option<[usize; 2]>]) -> Vec<Row> {
    let name = |number: usize| format!("A{number:06}");
    let row = |(number, pair): (usize, &Option<[usize; 2]>)| match pair {
        None => Row::new(name(number), Parent::WildCaught, Parent::WildCaught),
        Some([sire, dam]) => Row::new(name(number), Parent::Known(name(*sire)), Parent::Known(name(*dam))),
    };
    links.iter().enumerate().map(row).collect()
}

/// The median of some rounds, and what the last one found.
fn timed(name: &'static str, rounds: usize, mut work: impl FnMut() -> f64) -> Task {
    let mut sum = 0.0;
    let mut seconds: Vec<f64> = (0..rounds)
        .map(|_| {
            let watch = Watch::now();
            sum = work();
            watch.elapsed().as_secs_f64()
        })
        .collect();
    seconds.sort_unstable_by(f64::total_cmp);
    Task { name, seconds: seconds[rounds / 2], sum }
}

/// From the rows, names and checks included, to F and mean kinship of all.
fn large(links: &[Option<[usize; 2]>], rounds: usize) -> Task {
    let rows = rows(links);
    timed("F and MK", rounds, || {
        let pedigree = Pedigree::new(&rows).expect("a sound table");
        pedigree.inbreeding().iter().sum::<f64>() + pedigree.population_mean_kinship().expect("all live")
    })
}

/// From the rows to the table, whose lines are written out one after the other.
fn table(links: &[Option<[usize; 2]>], rounds: usize) -> Task {
    let rows = rows(links);
    timed("kinships", rounds, || {
        let pedigree = Pedigree::new(&rows).expect("a sound table");
        let (table, mut line) = (pedigree.kinship_table().expect("not too large"), vec![0.0; rows.len()]);
        let mut sum = 0.0;
        for animal in 0..rows.len() {
            table.write_line(animal, &mut line);
            sum += line[(animal * 7919) % rows.len()];
            std::hint::black_box(&mut line);
        }
        sum
    })
}

/// Runs the peers on the same pedigree and prints the ratios.
fn beside(links: &[Option<[usize; 2]>], ours: &[Task], rounds: usize) {
    let mut text = String::new();
    for pair in links {
        let [sire, dam] = pair.map_or([-1, -1], |pair| pair.map(|parent| parent as i64));
        writeln!(text, "{sire} {dam}").expect("text grows");
    }
    let file = std::env::temp_dir().join(format!("pedigree-{}.txt", std::process::id()));
    std::fs::write(&file, text).expect("the folder for temporary files is writable");
    let python = std::env::var("SELACHRON_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/pedigree_peer.py");
    let told = Command::new(&python).arg(script).arg(&file).arg(SIZES[1].to_string()).arg(rounds.to_string()).output();
    std::fs::remove_file(&file).expect("our own file");
    match told {
        Err(error) => println!("SKIPPED the peers: {python}: {error}"),
        Ok(told) if !told.status.success() => println!("SKIPPED the peers: {}", String::from_utf8_lossy(&told.stderr)),
        Ok(told) => String::from_utf8_lossy(&told.stdout).lines().for_each(|line| compare(line, ours)),
    }
}

/// `NAME<tab>PEER<tab>SECONDS<tab>SUM`, or a sentence.
fn compare(line: &str, ours: &[Task]) {
    let cells: Vec<&str> = line.split('\t').collect();
    let [name, peer, seconds, sum] = cells[..] else { return println!("{line}") };
    let task = ours.iter().find(|task| task.name == name).expect("a task that we did");
    let (seconds, sum): (f64, f64) = (seconds.parse().expect("seconds"), sum.parse().expect("a sum"));
    assert!((task.sum - sum).abs() <= 1e-9 * sum.abs().max(1.0), "{name}: ours {}, {peer} {sum}", task.sum);
    println!("{name:<10} {peer:<44} {seconds:>8.3} s   ours takes {:.2} of it; same answer", task.seconds / seconds);
}
