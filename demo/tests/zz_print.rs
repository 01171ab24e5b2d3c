use selachron_demo::season::*;
use std::collections::BTreeMap;
#[test]
fn print() {
    for seed in [7, 0, 2] {
    let s = Season::from_seed(seed);
    let mut c: BTreeMap<&str, usize> = BTreeMap::new();
    for n in &s.notes { *c.entry(n.kind).or_default() += 1; }
    println!("seed {seed} sent {} steps {} {c:#?}", s.sent(), s.steps.len());
    let mut causes: BTreeMap<String, usize> = BTreeMap::new();
    for n in s.notes.iter().filter(|n| n.kind=="egg.lost.v1"||n.kind=="animal.died.v1") { *causes.entry(format!("{} {}", n.kind, n.data["apparent_cause"])).or_default() += 1; }
    println!("{causes:#?}\n{:?}", s.story);
    }
    let s = Season::from_seed(7);
    let mut by: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut labels: BTreeMap<String,String> = BTreeMap::new();
    for n in &s.notes { if let note::About::Subject(x) = &n.about { 
        if let Some(l) = n.data.get("label") { labels.insert(x.to_string(), l.to_string()); }
        if x.noun()=="egg"||x.noun()=="animal" { by.entry(x.to_string()).or_default().push(format!("{} {} {} {}", calendar::text(n.time), n.author.called(), n.kind, serde_json::to_string(&n.data).unwrap().chars().take(180).collect::<String>())); } } }
    for (k, v) in &by { println!("== {k} {:?}", labels.get(k)); for l in v { println!("   {l}"); } }
}
