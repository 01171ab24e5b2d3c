//! Every reference file through `compute`, at the tolerance that it states. Each names its source
//! beside the numbers; `tests/reference/statistics.md` lists them.

use super::{assert_same, compute_file, compute_on, reference, reference_json};
use serde_json::{Map, Value, json};

fn tolerance(file: &Value) -> f64 {
    file["tolerance"].as_f64().expect("a tolerance")
}

fn text(name: &str) -> String {
    std::fs::read_to_string(reference(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// The same members under the bare labels that `compute` uses: `group=M` is `M`.
fn bare(labelled: &Value) -> Value {
    let name = |name: &str| name.split_once('=').map_or(name, |(_, label)| label).to_owned();
    Value::Object(labelled.as_object().expect("an object").iter().map(|(label, value)| (name(label), value.clone())).collect())
}

/// `compute` answers with labels for rows of a table: the same as the file's parallel arrays.
fn by_label(labels: &Value, values: &Value) -> Value {
    let labels = labels.as_array().expect("labels").iter().map(|label| label.as_str().expect("a label").to_owned());
    bare(&Value::Object(labels.zip(values.as_array().expect("values").iter().cloned()).collect::<Map<_, _>>()))
}

/// Curves, quantiles and means of a block.
#[track_caller]
fn assert_block(found: &Value, block: &Value, within: f64) {
    let expected = bare(&block["groups"]);
    for (label, expected) in expected.as_object().expect("groups") {
        assert_same(&found["groups"][label], expected, within);
    }
    let quantiles = &block["quantiles_0.25_0.50_0.75"];
    for kind in ["plain", "log", "loglog"] {
        for part in ["q", "lower", "upper"] {
            for (label, expected) in bare(&quantiles[kind][part]).as_object().expect("groups") {
                assert_same(&found["quantiles"][kind][part][label], expected, 1e-9);
            }
        }
    }
    if let Some(means) = block["rmst"]["rmst"].as_array() {
        for (at, label) in expected.as_object().expect("groups").keys().enumerate() {
            let wanted = json!({"rmst": means[at], "se": block["rmst"]["se"][at]});
            assert_same(&found["rmst"]["groups"][label], &wanted, 1e-9);
        }
    }
}

fn survival(arguments: &[&str], table: &str) -> Value {
    let arguments: Vec<&str> = std::iter::once("survival").chain(arguments.iter().copied()).collect();
    compute_on(&arguments, table.as_bytes()).json()
}

/// The table without one of its columns.
fn without(table: &str, column: &str) -> String {
    let at = table.lines().next().and_then(|header| header.split(',').position(|name| name == column));
    let keep = |line: &str| {
        let cells = line.split(',').enumerate().filter(|(place, _)| Some(*place) != at).map(|(_, cell)| cell);
        cells.collect::<Vec<_>>().join(",")
    };
    table.lines().map(|line| keep(line) + "\n").collect()
}

fn tau(block: &Value) -> String {
    block["rmst"]["tau"].as_f64().map_or_else(String::new, |tau| tau.to_string())
}

/// A block for each way of grouping; `stratum` is left out, which only the log-rank test asks for.
#[track_caller]
fn assert_blocks(table: &str, expected: &str, blocks: &[(&str, bool)]) {
    let (table, file) = (without(table, "stratum"), reference_json(expected));
    for (block, grouped) in blocks {
        let table = if *grouped { table.clone() } else { without(&table, "group") };
        let (block, tau) = (&file[*block], tau(&file[*block]));
        let arguments: &[&str] = if tau.is_empty() { &[] } else { &["--tau", &tau] };
        assert_block(&survival(arguments, &table), block, tolerance(&file).max(1e-12));
    }
}

#[track_caller]
fn assert_log_rank(found: &Value, expected: &Value, within: f64) {
    let test = &found["logrank"];
    assert_same(&test["chi2"], &expected["chisq"], within);
    assert_same(&test["df"], &expected["df"], 0.0);
    assert_same(&test["p"], &expected["p"], within);
    assert_same(&test["observed"], &by_label(&expected["group"], &expected["observed"]), within);
    assert_same(&test["expected"], &by_label(&expected["group"], &expected["expected"]), within);
}

#[test]
fn binomial() {
    let file = reference_json("binomial.expected.json");
    for case in file["single"].as_array().expect("cases") {
        let argument = |name: &str| case[name].to_string();
        let (k, n, level) = (argument("k"), argument("n"), argument("level"));
        let arguments = ["proportion", "--events", &k, "--total", &n, "--level", &level];
        let found = super::compute(&arguments).json();
        for member in ["estimate", "wilson", "clopper_pearson"] {
            assert_same(&found["groups"]["all"][member], &case[member], tolerance(&file));
        }
    }
    for case in file["two_sample"].as_array().expect("cases") {
        let table = format!("group,k,n\nfirst,{},{}\nsecond,{},{}\n", case["x1"], case["n1"], case["x2"], case["n2"]);
        let level = case["level"].to_string();
        let found = compute_on(&["proportion", "--level", &level], table.as_bytes()).json();
        let wanted = json!({"estimate": case["diff"], "newcombe": case["newcombe_hybrid_wilson"]});
        assert_same(&found["difference"], &wanted, tolerance(&file));
    }
    for case in file["clustered_rao_scott"]["cases"].as_array().expect("cases") {
        let pairs = case["clutch_hatched"].as_array().expect("k").iter().zip(case["clutch_eggs"].as_array().expect("n"));
        let lines = pairs.enumerate().map(|(at, (k, n))| format!("C{at},{k},{n}\n"));
        let table = std::iter::once("cluster,k,n\n".to_owned()).chain(lines).collect::<String>();
        let found = compute_on(&["proportion"], table.as_bytes()).json();
        let wanted = json!({"deff": case["deff"], "n_eff": case["n_eff"], "wilson": case["wilson_on_n_eff"]});
        assert_same(&found["groups"]["all"]["clustered"], &wanted, tolerance(&file));
    }
}

#[test]
fn leukaemia() {
    assert_blocks(&text("km_aml.csv"), "km_aml.expected.json", &[("pooled", false), ("by_group", true)]);
}

#[test]
fn ties_on_one_day() {
    assert_blocks(&text("km_ties_sameday.csv"), "km_ties_sameday.expected.json", &[("all", false)]);
}

/// R's survival of 0 for ever is refused, its counts and hazard hold, and the way out agrees with R.
#[test]
fn collapse_under_delayed_entry() {
    let file = reference_json("lefttrunc_collapse.expected.json");
    let (found, group) = (compute_file(&["survival"], "lefttrunc_collapse.csv"), &file["all"]["groups"]["all"]);
    for column in ["time", "n_risk", "n_event", "n_censor", "na_cumhaz", "na_se_cumhaz"] {
        assert_same(&found["groups"]["all"][column], &group[column], tolerance(&file).max(1e-12));
    }
    assert!(found["groups"]["all"]["surv"].as_array().expect("survival").iter().all(Value::is_null));
    assert!(
        found["notes"].to_string().contains("all 1 then at risk had the event at 5 d and others enter from 6 d on"),
        "{}",
        found["notes"]
    );
    let given = compute_file(&["survival", "--given", "6"], "lefttrunc_collapse.csv");
    assert_block(&given, &file["conditional_alive_at_6"], tolerance(&file).max(1e-12));
}

/// Assistance has no effect in these data; naively it seems to have an enormous one.
#[test]
fn immortal_time() {
    let file = reference_json("immortal_time.expected.json");
    let naive = compute_file(&["survival"], "immortal_naive.csv");
    assert_log_rank(&naive, &file["naive_logrank"], tolerance(&file));
    let landmark = compute_file(&["survival"], "immortal_landmark50.csv");
    assert_log_rank(&landmark, &file["landmark50_logrank"], tolerance(&file));
    let late = compute_file(&["survival", "--group", "treated"], "immortal_tdc.csv");
    assert_late_entry(&late, &file["late_entry_logrank"], tolerance(&file));
}

#[track_caller]
fn assert_late_entry(found: &Value, expected: &Value, within: f64) {
    for (member, wanted) in [("chi2", "chisq"), ("df", "df"), ("p", "p")] {
        assert_same(&found["logrank"][member], &expected[wanted], within);
    }
}

#[test]
fn life_table() {
    let file = reference_json("lifetable_bfeed.expected.json");
    let list = |name: &str| file[name].as_array().expect("a list").clone();
    let (breaks, lost, events, starts) = (list("breaks"), list("lost"), list("events"), file["expected"]["nsubs"].clone());
    let end = |at: usize| if breaks[at].is_null() { String::new() } else { breaks[at].to_string() };
    let line = |at: usize| format!("{},{},{},{},{}\n", breaks[at], end(at + 1), starts[at], lost[at], events[at]);
    let table = format!("start,end,n_start,lost,event\n{}", (0..lost.len()).map(line).collect::<String>());
    let found = compute_on(&["life-table"], table.as_bytes()).json();
    for (at, row) in found["rows"].as_array().expect("rows").iter().enumerate() {
        assert_same(&row["exposed"], &file["expected"]["nrisk"][at], tolerance(&file));
        assert_same(&row["l"], &file["expected"]["surv"][at], tolerance(&file));
    }
}

/// The table with a column that says who lives.
fn with_living(table: &str, living: &Value) -> String {
    let living: Vec<&str> = living.as_array().expect("ids").iter().filter_map(Value::as_str).collect();
    let mut lines = table.lines();
    let header = format!("{},living\n", lines.next().expect("a header"));
    let row = |line: &str| format!("{line},{}\n", u8::from(living.contains(&line.split(',').next().unwrap_or_default())));
    std::iter::once(header).chain(lines.map(row)).collect()
}

#[test]
fn pedigrees() {
    for file in ["pedigree.expected.json", "uniparental.expected.json"] {
        let file = reference_json(file);
        for (name, case) in file["cases"].as_object().expect("cases") {
            let table = with_living(&text(case["input"].as_str().expect("a file")), &case["living"]);
            assert_pedigree(name, &compute_on(&["pedigree", "--kinship"], table.as_bytes()).json(), case, tolerance(&file));
        }
    }
}

#[track_caller]
fn assert_pedigree(name: &str, found: &Value, case: &Value, within: f64) {
    assert_same(&found["F"], &case["F"], within);
    assert_same(&found["mean_kinship"], &case["mean_kinship_incl_self"], within);
    assert_same(&found["kinship"], &case["kinship_matrix"], within);
    let summary = &found["summary"];
    let pairs = [
        ("mean_kinship", &case["population_mean_kinship"]),
        ("gene_diversity", &case["gene_diversity"]),
        ("fge_from_mean_kinship", &case["fge_from_mk"]),
        ("effective_founders", &case["boichard"]["f_e"]),
        ("effective_ancestors", &case["boichard"]["f_a"]),
        ("fge_by_retention", &case["gene_drop_exact"]["fge_lacy1989_retention_formula"]),
    ];
    for (member, expected) in pairs.into_iter().filter(|(_, expected)| !expected.is_null()) {
        let number = summary[member].as_f64().unwrap_or_else(|| panic!("{name}: {member} is missing"));
        let wanted = expected.as_f64().expect("a number");
        assert!((number - wanted).abs() <= within, "{name}: {member} is {number}, expected {wanted}");
    }
}

/// Rows that may not be committed are read from the folder that `SELACHRON_REFERENCE_ROWS` names;
/// without it the test says loudly that it was skipped.
fn exported(name: &str) -> Option<String> {
    let Some(folder) = std::env::var_os("SELACHRON_REFERENCE_ROWS") else {
        eprintln!("SKIPPED: {name} is not committed; set SELACHRON_REFERENCE_ROWS to the folder with the exported rows");
        return None;
    };
    let found = std::fs::read_to_string(std::path::Path::new(&folder).join(name));
    found.inspect_err(|error| eprintln!("SKIPPED: {name} is not among the exported rows: {error}")).ok()
}

#[test]
fn lung() {
    let Some(table) = exported("km_lung.csv") else { return };
    let file = reference_json("km_lung.expected.json");
    assert_blocks(&table, "km_lung.expected.json", &[("by_group", true)]);
    assert_log_rank(&survival(&[], &without(&table, "stratum")), &file["logrank"], tolerance(&file));
    // One patient's performance was not recorded; the reference leaves that row out as well.
    let known: String = table.lines().filter(|line| !line.ends_with(",NA")).map(|line| format!("{line}\n")).collect();
    assert_log_rank(&survival(&[], &known), &file["logrank_stratified_by_stratum_excluding_NA"], tolerance(&file));
}

#[test]
fn ovarian() {
    let Some(table) = exported("km_ovarian.csv") else { return };
    let file = reference_json("km_ovarian.expected.json");
    assert_blocks(&table, "km_ovarian.expected.json", &[("by_group", true)]);
    assert_log_rank(&survival(&[], &without(&table, "stratum")), &file["logrank"], tolerance(&file));
    let stratified = survival(&[], &table);
    assert_log_rank(&stratified, &file["logrank_stratified"], tolerance(&file));
    assert_eq!(stratified["logrank"]["stratified"], json!(true));
}

#[test]
fn veteran() {
    let Some(table) = exported("logrank_veteran.csv") else { return };
    let file = reference_json("logrank_veteran.expected.json");
    assert_blocks(&table, "logrank_veteran.expected.json", &[("by_group", true)]);
    assert_log_rank(&survival(&[], &without(&table, "stratum")), &file["logrank_4groups"], tolerance(&file));
    assert_log_rank(&survival(&[], &table), &file["logrank_4groups_stratified"], tolerance(&file));
}

#[test]
fn heart() {
    let Some(table) = exported("lefttrunc_heart.csv") else { return };
    let file = reference_json("lefttrunc_heart.expected.json");
    assert_blocks(&table, "lefttrunc_heart.expected.json", &[("by_group", true)]);
    assert_late_entry(&survival(&[], &table), &file["logrank_late_entry"], tolerance(&file));
}

#[test]
fn psychiatric() {
    let Some(table) = exported("lefttrunc_psych.csv") else { return };
    let file = reference_json("lefttrunc_psych.expected.json");
    assert_blocks(&table, "lefttrunc_psych.expected.json", &[("all", false)]);
    assert_block(&survival(&["--given", "30"], &without(&table, "group")), &file["conditional_on_age_30"], tolerance(&file).max(1e-12));
    assert_late_entry(&survival(&[], &table), &file["logrank_late_entry"], tolerance(&file));
}

/// The causes of the file by their status numbers.
const CAUSES: [(&str, &str); 2] = [("1", "pcm"), ("2", "death")];

#[test]
fn gammopathy() {
    let Some(table) = exported("cr_mgus2.csv") else { return };
    let file = reference_json("cr_mgus2.expected.json");
    let (found, within) = (compute_on(&["incidence"], table.as_bytes()).json(), tolerance(&file));
    for (label, expected) in file["aj"].as_object().expect("groups") {
        let group = &found["groups"][label];
        assert_same(&group["time"], &expected["time"], 0.0);
        assert_same(&group["n_risk"], &expected["n_risk"], 0.0);
        for (number, name) in CAUSES {
            let column = |column: &str| &group[format!("{column}_{number}")];
            assert_same(column("n_event"), &expected[format!("n_event_{name}")], 0.0);
            assert_same(column("cif"), &expected[format!("cif_{name}")], within);
            assert_same(column("se_ij"), &expected[format!("se_ij_{name}")], within);
            assert_at(group, column("cif"), expected, &format!("etm_cif_{name}"), within);
            assert_at(group, column("se_greenwood"), expected, &format!("etm_se_greenwood_{name}"), within);
        }
    }
    for expected in file["gray"]["tests"].as_array().expect("tests") {
        let wanted = json!({"statistic": expected["stat"], "df": expected["df"], "p": expected["p"]});
        assert_same(&found["gray"][expected["cause"].as_str().expect("a cause")], &wanted, within);
    }
}

/// `etm` tells only the ages at which somebody met a fate.
#[track_caller]
fn assert_at(group: &Value, column: &Value, expected: &Value, name: &str, within: f64) {
    let times = group["time"].as_array().expect("ages");
    let (ages, values) = (expected["etm_time"].as_array().expect("ages"), expected[name].as_array().expect("values"));
    assert_eq!(ages.len(), values.len());
    for (age, wanted) in ages.iter().zip(values) {
        let at = times.iter().rposition(|time| time.as_f64() <= age.as_f64()).unwrap_or_else(|| panic!("no age before {age}"));
        assert_same(&column[at], wanted, within);
    }
}

#[test]
fn log_rank_of_leukaemia() {
    let (file, table) = (reference_json("km_aml.expected.json"), text("km_aml.csv"));
    assert_log_rank(&survival(&[], &table), &file["logrank"], tolerance(&file));
    assert_log_rank(&survival(&["--rho", "1"], &table), &file["peto_peto_rho1"], tolerance(&file));
}

/// Masses of the reference on its stretches; ours sit on the same ones.
#[track_caller]
fn assert_masses(group: &Value, expected: &Value, within: f64) {
    let column = |name: &str| expected["innermost"][name].as_array().expect("ends").clone();
    let stretches: Vec<Value> = column("left").into_iter().zip(column("right")).map(|(left, right)| json!([left, right])).collect();
    assert_same(&group["innermost"], &Value::Array(stretches), 1e-9);
    assert_same(&group["mass"], &expected["em"]["prob"], within);
    assert_same(&group["loglik"], &expected["em"]["loglik"], within);
}

#[test]
fn breast_cosmesis() {
    let file = reference_json("ic_breast_cosmesis.expected.json");
    let found = compute_file(&["interval"], "ic_breast_cosmesis.csv");
    for label in ["RT", "RCT"] {
        assert_masses(&found["groups"][label], &file[label], tolerance(&file));
    }
}

#[test]
fn weekly_looks() {
    let file = reference_json("ic_weekly_sim.expected.json");
    let found = compute_file(&["interval"], "ic_weekly_sim.csv");
    assert_masses(&found["groups"]["all"], &file["npmle"], tolerance(&file));
}

#[test]
fn competing_between_looks() {
    let file = reference_json("ic_competing.expected.json");
    let found = compute_file(&["interval", "--cause", "cause"], "ic_competing.csv");
    let group = &found["groups"]["all"];
    assert_same(&group["loglik"], &file["loglik"], 1e-6);
    for expected in file["support"].as_array().expect("support") {
        // One stretch may carry the mass of the file's neighbours of no length between: compare what
        // has come by its end.
        let (cause, end) = (expected["cause"].to_string(), &expected["right"]);
        let sum =
            |list: &[Value], cause_of: &dyn Fn(&Value) -> bool, right: &dyn Fn(&Value) -> Value, mass: &dyn Fn(&Value) -> f64| -> f64 {
                list.iter().filter(|one| cause_of(one) && right(one).as_f64() <= end.as_f64() && !right(one).is_null()).map(mass).sum()
            };
        let ours = sum(group["causes"][&cause]["support"].as_array().expect("support"), &|_| true, &|one| one[1].clone(), &|one| {
            one[2].as_f64().unwrap_or(0.0)
        });
        let theirs = sum(
            file["support"].as_array().expect("support"),
            &|one| one["cause"] == expected["cause"],
            &|one| one["right"].clone(),
            &|one| one["mass"].as_f64().unwrap_or(0.0),
        );
        if !end.is_null() && cause != "0" {
            assert!((ours - theirs).abs() < 1e-4, "cause {cause} by {end}: {ours}, expected {theirs}");
        }
    }
}

#[test]
fn incubation_fits() {
    let file = reference_json("incubation_fit.expected.json");
    let at = ["11", "13", "15.5", "19", "22"];
    let arguments: Vec<&str> = ["incubation", "fit"].into_iter().chain(at.iter().flat_map(|temp| ["--at", temp])).collect();
    let (found, within) = (compute_file(&arguments, "incubation_fit.csv"), tolerance(&file));
    let sums = &file["degree_day_rate_regression"];
    for member in ["a", "b", "se_a", "se_b", "cov_ab", "sigma", "df", "T0", "se_T0_delta", "K", "se_K_delta"] {
        assert_same(&found["degree_day_rate_regression"][member], &sums[member], within);
    }
    assert_same(&found["degree_day_rate_regression"]["T0_fieller"], &sums["T0_fieller95"], within);
    for member in ["a", "b", "se_b", "sigma", "df", "Q10"] {
        assert_same(&found["q10_loglinear"][member], &file["q10_loglinear"][member], within);
    }
    assert_same(&found["q10_loglinear"]["Q10_ci"], &file["q10_loglinear"]["Q10_ci95"], within);
    for member in ["a", "Ea_eV", "se_Ea", "sigma"] {
        assert_same(&found["arrhenius"][member], &file["arrhenius"][member], within);
    }
    for member in ["K", "T0", "se_K", "se_T0", "sigma", "rss"] {
        let expected = &file["nls_days"];
        assert_same(&found["nls_days"][member], &expected[member], tolerance(expected));
    }
    let names = [("degree_day_rate_regression", "days_pi95"), ("q10_loglinear", "pi95"), ("arrhenius", "pi95")];
    for (fit, prefix) in names {
        let (ours, theirs) = (&found[fit]["predict"], &file[fit]["predict"]);
        assert_same(&ours["days"], &theirs["days"], within);
        assert_same(&ours["days_pi_lower"], &theirs[format!("{prefix}_lower")], within);
        assert_same(&ours["days_pi_upper"], &theirs[format!("{prefix}_upper")], within);
    }
}

#[test]
fn temperatures_integrated() {
    let file = reference_json("temp_integration.expected.json");
    let within = file["tolerance_days"].as_f64().expect("a tolerance");
    let models: [(&str, &[&str]); 2] = [
        ("degree_day", &["--model", "thermal_sum", "--t0", "2.5", "--k", "2100"]),
        ("arrhenius", &["--model", "arrhenius", "--ref-temp", "15", "--ref-days", "168", "--ea", "0.75"]),
    ];
    for (name, model) in models {
        for (suffix, between) in [("linear", "linear"), ("locf", "hold-previous")] {
            for case in file["cases"].as_array().expect("cases") {
                let start = case["start_day"].to_string();
                let arguments = ["incubation", "integrate", "--between", between, "--start", &start, "--gap-hours", "96"];
                let arguments: Vec<&str> = arguments.into_iter().chain(model.iter().copied()).collect();
                let found = compute_file(&arguments, "temp_integration.csv");
                assert_same(&found["cases"][0]["hatch_day"], &case[format!("hatch_day_{name}_{suffix}")], within);
            }
        }
    }
}

/// Two published pairs: a Q10 and a thermal sum without any error, and the warning beside them.
#[test]
fn two_published_means_are_told_with_a_warning() {
    let file = reference_json("q10_published.expected.json");
    for case in file["cases"].as_array().expect("cases") {
        let table = format!("temp_c,days\n{},{}\n{},{}\n", case["T1"], case["D1"], case["T2"], case["D2"]);
        let found = compute_on(&["incubation", "fit"], table.as_bytes()).json();
        let within = tolerance(&file);
        assert_same(&found["q10_loglinear"]["Q10"], &case["Q10"], within);
        for member in ["T0", "K"] {
            assert_same(&found["degree_day_rate_regression"][member], &case[member], within);
        }
        assert_eq!(found["q10_loglinear"]["Q10_ci"], Value::Null);
        let notes = found["notes"].to_string();
        assert!(notes.contains("two means only"), "{found}");
        let implausible = case["Q10"].as_f64() > Some(12.0);
        assert_eq!(notes.contains("hardly believable"), implausible, "{found}");
        assert_eq!(found["q10_loglinear"]["implausible"], json!(implausible));
    }
    let found = compute_on(&["incubation", "fit"], b"temp_c,days\n14,100\n17,100\n").json();
    assert_eq!(found["degree_day_rate_regression"], Value::Null);
    assert!(found["notes"].to_string().contains("no fewer days"), "{found}");
}
