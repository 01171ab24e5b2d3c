//! `compute interval`: events known only to lie between two looks.

use super::answer::{Named, Notes, text};
use super::args::IntervalArgs;
use super::cases::{Case, Cases, Columns, Kind, read};
use super::draw;
use super::table::Source;
use crate::fault::Fault;
use selachron_schemas::limits::COMPUTE_DIFFERENT_ROWS_MAX;
use selachron_statistics::interval::competing::{CauseMasses, CompetingNpmle};
use selachron_statistics::interval::{
    BetweenLooks, BootstrapBand, BootstrapPlan, CauseBetweenLooks, Npmle, Stretch, bootstrap, npmle, npmle_competing,
};
use selachron_statistics::{Error, InvalidInput};
use serde::Serialize;
use std::collections::BTreeSet;

#[derive(Serialize)]
struct Answer {
    groups: Named<Option<Group>>,
    notes: Notes,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Group {
    One(Masses),
    Causes(Competing),
}

#[derive(Serialize)]
struct Masses {
    innermost: Vec<Stretch>,
    mass: Vec<f64>,
    support: Vec<(f64, Option<f64>, f64)>,
    loglik: f64,
    kkt_max_gradient_minus_n: f64,
    iterations: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    bootstrap: Option<BootstrapBand>,
}

#[derive(Serialize)]
struct Competing {
    causes: Named<CauseColumns>,
    mass_without_event: f64,
    loglik: f64,
    kkt_max_gradient_minus_n: f64,
    iterations: u64,
}

#[derive(Serialize)]
struct CauseColumns {
    innermost: Vec<Stretch>,
    mass: Vec<f64>,
    support: Vec<(f64, Option<f64>, f64)>,
}

pub(super) fn run(asked: &IntervalArgs) -> Result<String, Fault> {
    let level = asked.level.checked()?;
    let columns = Columns { from: "left", to: "right", status: asked.cause.as_deref(), group: &asked.group.column, kind: Kind::Intervals };
    let cases = read(Source::open(asked.input.file.as_deref())?, columns)?;
    let plan = asked.bootstrap.map(|replicates| BootstrapPlan { replicates, seed: asked.seed, level });
    let mut notes = Notes::default();
    let (mut groups, mut drawn, mut causes) = (Named::default(), Vec::new(), Vec::new());
    for (label, own) in cases.by_group() {
        let group = match asked.cause {
            Some(_) => competing(label, own, &mut notes, &mut causes)?,
            None => one(label, own, &cases, plan, &mut notes, &mut drawn)?,
        };
        groups.push(label, group);
    }
    notes.say("how the mass lies inside a stretch the data do not say: survival there is a band, and no day is invented");
    let drawing = || if asked.cause.is_some() { draw::interval_causes(&causes) } else { draw::interval(&drawn) };
    draw::write(asked.plot.plot.as_deref(), drawing)?;
    text(&Answer { groups, notes })
}

fn looks(case: &Case) -> BetweenLooks {
    BetweenLooks { left_days: case.from_days, right_days: case.to_days, weight: case.weight }
}

fn one(
    label: &str,
    own: &[Case],
    cases: &Cases,
    plan: Option<BootstrapPlan>,
    notes: &mut Notes,
    drawn: &mut Vec<(String, Vec<BetweenLooks>, Npmle)>,
) -> Result<Option<Group>, Fault> {
    let rows: Vec<BetweenLooks> = own.iter().map(looks).collect();
    let Some(found) = notes.keep(label, "masses", npmle(&rows))? else { return Ok(None) };
    let bootstrap = match plan {
        Some(plan) => draw(label, own, cases.has_strata, &ends(&found.support), plan, notes)?,
        None => None,
    };
    drawn.push((label.to_owned(), rows, found.clone()));
    Ok(Some(Group::One(Masses {
        innermost: found.innermost,
        mass: found.mass,
        support: found.support,
        loglik: found.loglik,
        kkt_max_gradient_minus_n: found.kkt_max_gradient_minus_n,
        iterations: found.iterations,
        bootstrap,
    })))
}

/// The finite ends of the stretches that hold mass: between them the band is level.
fn ends(support: &[(f64, Option<f64>, f64)]) -> Vec<f64> {
    let all: BTreeSet<u64> = support.iter().flat_map(|(left, right, _)| [Some(*left), *right]).flatten().map(f64::to_bits).collect();
    // Ages are not below 0, and then the order of the bits is that of the numbers.
    all.into_iter().map(f64::from_bits).collect()
}

fn draw(
    label: &str,
    own: &[Case],
    with_clusters: bool,
    ages: &[f64],
    plan: BootstrapPlan,
    notes: &mut Notes,
) -> Result<Option<BootstrapBand>, Fault> {
    let (rows, clusters) = if with_clusters { clustered(own) } else { each_alone(own)? };
    if !with_clusters {
        notes.say(
            "bootstrap: cases are drawn one by one, which is too sure where cases of a clutch share their fortunes; give a column cluster",
        );
    }
    let found = match bootstrap(&rows, &clusters, ages, plan) {
        Err(Error::Input(wrong @ InvalidInput::Replicates { .. })) => return Err(Fault::Usage(format!("--bootstrap: {wrong}"))),
        found => notes.keep(label, "bootstrap", found)?,
    };
    if let Some(few) = found.as_ref().filter(|found| found.few_clusters) {
        notes.of(label, &format!("bootstrap: only {} clusters: their differences are poorly known", few.clusters));
    }
    Ok(found)
}

fn clustered(own: &[Case]) -> (Vec<BetweenLooks>, Vec<u64>) {
    own.iter().map(|case| (looks(case), u64::from(case.stratum))).unzip()
}

/// A row that stands for several cases would be drawn as one.
fn each_alone(own: &[Case]) -> Result<(Vec<BetweenLooks>, Vec<u64>), Fault> {
    let total: u64 = own.iter().map(|case| case.weight).sum();
    if total > COMPUTE_DIFFERENT_ROWS_MAX as u64 {
        return Err(Fault::Failed(format!(
            "--bootstrap: {total} cases are more than the {COMPUTE_DIFFERENT_ROWS_MAX} that can be drawn one by one; give a column cluster"
        )));
    }
    let rows = own.iter().flat_map(|case| (0..case.weight).map(|_| looks(case).times(1)));
    Ok((rows.collect(), (0..total).collect()))
}

fn competing(
    label: &str,
    own: &[Case],
    notes: &mut Notes,
    drawn: &mut Vec<(String, Vec<BetweenLooks>, CompetingNpmle)>,
) -> Result<Option<Group>, Fault> {
    let rows: Vec<CauseBetweenLooks> = own.iter().map(|case| looks(case).of_cause(case.status)).collect();
    let Some(found) = notes.keep(label, "masses", npmle_competing(&rows))? else { return Ok(None) };
    drawn.push((label.to_owned(), own.iter().map(looks).collect(), found.clone()));
    let columns = |masses: CauseMasses| {
        let CauseMasses { cause, innermost, mass, support } = masses;
        (cause.to_string(), CauseColumns { innermost, mass, support })
    };
    Ok(Some(Group::Causes(Competing {
        causes: Named(found.causes.into_iter().map(columns).collect()),
        mass_without_event: found.mass_without_event,
        loglik: found.loglik,
        kkt_max_gradient_minus_n: found.kkt_max_gradient_minus_n,
        iterations: found.iterations,
    })))
}
