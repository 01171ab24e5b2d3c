//! `compute proportion`: k of n.

use super::answer::{ALL, Named, Notes, input, text};
use super::args::ProportionArgs;
use super::table::{Source, Table};
use crate::fault::Fault;
use selachron_statistics::clustered::{Clustered, clustered};
use selachron_statistics::proportion::{Difference, Tally, newcombe_difference, proportion};
use selachron_statistics::reason::Error;
use selachron_statistics::{Interval, Level};
use serde::Serialize;

#[derive(Serialize)]
struct Answer {
    level: f64,
    groups: Named<Group>,
    #[serde(skip_serializing_if = "Option::is_none")]
    difference: Option<Between>,
    notes: Notes,
}

#[derive(Serialize)]
struct Group {
    k: u64,
    n: u64,
    estimate: Option<f64>,
    wilson: Option<Interval>,
    clopper_pearson: Option<Interval>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clustered: Option<Clusters>,
}

#[derive(Serialize)]
struct Clusters {
    deff: Option<f64>,
    n_eff: Option<f64>,
    wilson: Option<Interval>,
}

#[derive(Serialize)]
struct Between {
    estimate: Option<f64>,
    newcombe: Option<Interval>,
}

/// One group as it is read: its sum, and its clusters by name where the table has them.
struct Counted {
    label: String,
    sum: Tally,
    clusters: Vec<(String, Tally)>,
}

pub(super) fn run(asked: &ProportionArgs) -> Result<String, Fault> {
    let level = asked.level.checked()?;
    let mut notes = Notes::default();
    let (counted, with_clusters) = match (asked.events, asked.total) {
        (Some(k), Some(n)) if k > n => return Err(Fault::Usage(format!("--events is {k}, more than --total {n}"))),
        (Some(k), Some(n)) => (vec![Counted { label: ALL.to_owned(), sum: Tally { k, n }, clusters: Vec::new() }], false),
        _ => read(asked)?,
    };
    let mut groups = Named::default();
    for one in &counted {
        groups.push(&one.label, group(one, with_clusters, level, &mut notes)?);
    }
    let difference = match counted.as_slice() {
        [first, second] => Some(between(first, second, level, &mut notes)?),
        _ => None,
    };
    text(&Answer { level: level.value(), groups, difference, notes })
}

fn read(asked: &ProportionArgs) -> Result<(Vec<Counted>, bool), Fault> {
    let group = asked.group.column.as_str();
    let mut table = Table::open(Source::open(asked.input.file.as_deref())?, &["k", "n"], &[group, "cluster"])?;
    let (k, n, cluster) = (table.needed("k")?, table.needed("n")?, table.column("cluster"));
    let group = table.column(group);
    let mut counted: Vec<Counted> = Vec::new();
    let mut places = std::collections::HashMap::new();
    while table.advance()? {
        let tally = Tally { k: table.count(k)?, n: table.count(n)? };
        if tally.k > tally.n {
            return Err(table.wrong(k, &format!("is {}, more than n, which is {}", tally.k, tally.n)));
        }
        let label = group.map_or(Ok(ALL.to_owned()), |column| table.label(column))?;
        let at = *places.entry((label.clone(), None)).or_insert_with(|| {
            counted.push(Counted { label: label.clone(), sum: Tally { k: 0, n: 0 }, clusters: Vec::new() });
            counted.len() - 1
        });
        add(&mut counted[at].sum, tally).ok_or_else(|| table.wrong(n, "makes the sum larger than can be counted"))?;
        if let Some(column) = cluster {
            let name = table.label(column)?;
            let clusters = &mut counted[at].clusters;
            let place = *places.entry((label, Some(name.clone()))).or_insert_with(|| {
                clusters.push((name, Tally { k: 0, n: 0 }));
                clusters.len() - 1
            });
            add(&mut clusters[place].1, tally).ok_or_else(|| table.wrong(n, "makes the sum larger than can be counted"))?;
        }
    }
    Ok((counted, cluster.is_some()))
}

fn add(sum: &mut Tally, more: Tally) -> Option<()> {
    *sum = Tally { k: sum.k.checked_add(more.k)?, n: sum.n.checked_add(more.n)? };
    Some(())
}

fn group(one: &Counted, with_clusters: bool, level: Level, notes: &mut Notes) -> Result<Group, Fault> {
    let Tally { k, n } = one.sum;
    let found = notes.keep(&one.label, "proportion", proportion(k, n, level))?;
    let clustered = if with_clusters { Some(clusters(one, level, notes)?) } else { None };
    Ok(Group {
        k,
        n,
        estimate: found.map(|found| found.estimate),
        wilson: found.map(|found| found.wilson),
        clopper_pearson: found.map(|found| found.clopper_pearson),
        clustered,
    })
}

fn clusters(one: &Counted, level: Level, notes: &mut Notes) -> Result<Clusters, Fault> {
    let tallies: Vec<Tally> = one.clusters.iter().map(|(_, tally)| *tally).collect();
    let found = notes.keep(&one.label, "clustered", clustered(&tallies, level))?;
    if let Some(found) = &found {
        told(&one.label, found, notes);
    }
    let found = found.as_ref();
    Ok(Clusters { deff: found.and_then(|f| f.deff), n_eff: found.map(|f| f.n_eff), wilson: found.map(|f| f.wilson) })
}

fn told(label: &str, found: &Clustered, notes: &mut Notes) {
    if found.few_clusters {
        notes.of(label, &format!("only {} clusters: their differences are poorly known", found.clusters));
    }
    if found.deff.is_none() {
        notes.of(label, "deff: not estimable, all or none had the event; n_eff is the number of clusters");
    }
}

fn between(first: &Counted, second: &Counted, level: Level, notes: &mut Notes) -> Result<Between, Fault> {
    let found = match newcombe_difference(first.sum, second.sum, level) {
        Ok(Difference { estimate, newcombe, .. }) => Some((estimate, newcombe)),
        Err(Error::NotEstimable(reason)) => {
            notes.say(format!("difference: {reason}"));
            None
        }
        Err(Error::Input(wrong)) => return Err(input(&wrong)),
    };
    notes.say(format!("difference: {} minus {}", first.label, second.label));
    Ok(Between { estimate: found.map(|(estimate, _)| estimate), newcombe: found.map(|(_, interval)| interval) })
}
