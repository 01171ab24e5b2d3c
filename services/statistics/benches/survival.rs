//! Kaplan-Meier and Aalen-Johansen at 1,000,000 rows and the NPMLE between looks at 1,000 and
//! 10,000 rows, beside R's survival and PyPI's lifelines in the same run. Prints medians of several
//! rounds; machines are noisy, so read the ratios. The answers are compared too.
//!
//! `cargo bench -p selachron-statistics --bench survival [-- ROUNDS]`; `SELACHRON_PYTHON` names the
//! Python that has lifelines, `python3` if it is not set. A peer that is absent is skipped, and said.

use selachron_statistics::interval::{BetweenLooks, npmle};
use selachron_statistics::{Fate, Level, Row, aalen_johansen, kaplan_meier};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant as Watch;

/// Rounds of which the median is printed.
const ROUNDS: usize = 5;
/// Rows of the large tables.
const LARGE: usize = 1_000_000;
/// Rows of the tables of looks.
const LOOKS: [usize; 2] = [1_000, 10_000];
/// Days between two looks.
const LOOK_DAYS: f64 = 7.0;
/// The age at which answers are compared, in days.
const AT_DAYS: f64 = 100.0;

/// What was done, how long it took, and a figure to compare.
struct Task {
    name: String,
    seconds: f64,
    figure: f64,
}

fn main() {
    let rounds = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(ROUNDS);
    println!("{rounds} rounds; whole days, a quarter censored; looks every {LOOK_DAYS} days, each case on its own days");
    let folder = std::env::temp_dir().join(format!("selachron-survival-{}", std::process::id()));
    std::fs::create_dir(&folder).expect("the folder for temporary files is writable");
    let mut tasks = large(&folder, rounds);
    tasks.extend(LOOKS.map(|rows| looks(&folder, rows, rounds)));
    for task in &tasks {
        println!("{:<12} {:<28} {:>9.4} s", task.name, "ours", task.seconds);
    }
    let python = std::env::var("SELACHRON_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    beside(&tasks, &python, "survival_peer.py", &folder);
    beside(&tasks, "Rscript", "survival_peer.R", &folder);
    std::fs::remove_dir_all(&folder).expect("our own folder");
}

/// A number in (0, 1), the same in every run.
fn uniform(state: &mut u64) -> f64 {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    ((*state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
}

/// Weibull with shape 4 and scale 120 days.
fn age(state: &mut u64) -> f64 {
    120.0 * (-uniform(state).ln()).powf(0.25)
}

/// The median of some rounds, and what the last one found.
fn timed(name: String, rounds: usize, mut work: impl FnMut() -> f64) -> Task {
    let mut figure = 0.0;
    let mut seconds: Vec<f64> = (0..rounds)
        .map(|_| {
            let watch = Watch::now();
            figure = work();
            watch.elapsed().as_secs_f64()
        })
        .collect();
    seconds.sort_unstable_by(f64::total_cmp);
    Task { name, seconds: seconds[rounds / 2], figure }
}

fn large(folder: &Path, rounds: usize) -> Vec<Task> {
    let mut state = 20_261_125;
    let mut text = String::from("time,status\n");
    let cases: Vec<Fate> = (0..LARGE)
        .map(|_| {
            let (days, censored) = (age(&mut state).ceil(), uniform(&mut state) < 0.25);
            let cause = if censored { 0 } else { 1 + usize::from(uniform(&mut state) < 0.4) };
            writeln!(text, "{days},{cause}").expect("text grows");
            Fate { entry_days: None, exit_days: days, cause, weight: 1 }
        })
        .collect();
    std::fs::write(folder.join("large.csv"), text).expect("a file");
    let rows: Vec<Row> =
        cases.iter().map(|case| Row { entry_days: None, exit_days: case.exit_days, event: case.cause > 0, weight: 1 }).collect();
    let level = Level::new(0.95).expect("a level");
    let survival = timed("survival".to_owned(), rounds, || {
        let curve = kaplan_meier(&rows, level).expect("sound rows");
        curve.at(AT_DAYS).expect("within the curve").surv
    });
    let incidence = timed("incidence".to_owned(), rounds, || {
        let found = aalen_johansen(&cases, 2, level).expect("sound rows");
        let index = found.index_at(AT_DAYS).expect("within the curve");
        found.causes[0].cif[index]
    });
    vec![survival, incidence]
}

fn looks(folder: &Path, count: usize, rounds: usize) -> Task {
    let mut state = 42;
    let mut text = String::from("left,right\n");
    let rows: Vec<BetweenLooks> = (0..count)
        .map(|_| {
            let (days, first) = (age(&mut state), uniform(&mut state) * LOOK_DAYS);
            let left = if days < first { 0.0 } else { ((days - first) / LOOK_DAYS).floor() * LOOK_DAYS + first };
            let right = if days < first { first } else { left + LOOK_DAYS };
            writeln!(text, "{left},{right}").expect("text grows");
            BetweenLooks::between(left, right)
        })
        .collect();
    std::fs::write(folder.join(format!("looks_{count}.csv")), text).expect("a file");
    timed(format!("looks {count}"), rounds, || {
        let found = npmle(&rows).expect("it converges");
        let band = found.survival_at(AT_DAYS).expect("an age");
        (band.lower + band.upper) / 2.0
    })
}

/// Runs a peer on the same tables and prints the ratios.
fn beside(ours: &[Task], program: &str, script: &str, folder: &Path) {
    let script = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("benches").join(script);
    match Command::new(program).arg(script).arg(folder).arg(AT_DAYS.to_string()).output() {
        Err(error) => println!("SKIPPED {program}: {error}"),
        Ok(told) => {
            String::from_utf8_lossy(&told.stdout).lines().for_each(|line| compare(line, ours));
            if !told.status.success() {
                println!("SKIPPED {program}: {}", String::from_utf8_lossy(&told.stderr).trim());
            }
        }
    }
}

/// `NAME<tab>PEER<tab>SECONDS<tab>FIGURE<tab>TOLERANCE`, or a sentence.
fn compare(line: &str, ours: &[Task]) {
    let cells: Vec<&str> = line.split('\t').collect();
    let [name, peer, seconds, figure, tolerance] = cells[..] else { return println!("{line}") };
    let number = |text: &str| text.parse::<f64>().expect("a number");
    let (seconds, figure, tolerance) = (number(seconds), number(figure), number(tolerance));
    let task = ours.iter().find(|task| task.name == name).expect("a task that we did");
    assert!((task.figure - figure).abs() <= tolerance, "{name}: ours {}, {peer} {figure}", task.figure);
    println!("{name:<12} {peer:<28} {seconds:>9.4} s   ours takes {:.5} of it; same answer within {tolerance}", task.seconds / seconds);
}
