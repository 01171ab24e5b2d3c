//! Inputs that are wrong: one sentence that names row and column, exit code 1, nothing printed.

use super::{compute, compute_on};

/// What is wrong, the verb, the table, and the words of the sentence.
const WRONG: &[(&str, &[&str], &str, &[&str])] = &[
    ("an empty file", &["survival"], "", &["stdin", "empty", "time,event"]),
    ("blank lines only", &["survival"], "\n\n", &["empty"]),
    ("no rows", &["survival"], "time,event\n", &["no row below the header"]),
    ("a missing column", &["survival"], "time\n1\n", &["column event is missing"]),
    ("an unknown column", &["survival"], "time,event,wieght\n1,1,1\n", &["\"wieght\"", "not known", "weight"]),
    ("a column twice", &["survival"], "time,event,time\n1,1,1\n", &["\"time\" twice"]),
    ("semicolons", &["survival"], "time;event\n1;1\n", &["separated by ';'"]),
    ("text for a number", &["survival"], "time,event\n1,1\nsoon,1\n", &["row 2 (line 3), column time", "\"soon\"", "not a number"]),
    ("nothing for a number", &["survival"], "time,event\n1,1\n,1\n", &["row 2 (line 3), column time", "empty"]),
    ("NaN", &["survival"], "time,event\nNaN,1\n", &["row 1 (line 2), column time", "NaN", "finite"]),
    ("a slip of the keys", &["survival"], "time,event\n1e300,1\n", &["row 1 (line 2), column time", "\"1e300\"", "below 10^15"]),
    ("nothing of water at all", &["water"], "", &["empty", "some of t_c"]),
    ("UTF-16", &["survival"], "t\0i\0m\0e\0,\0e\0\n\0", &["UTF-8"]),
    ("infinity", &["survival"], "time,event\ninf,1\n", &["row 1 (line 2), column time", "finite"]),
    ("a negative time", &["survival"], "time,event\n-3,1\n", &["row 1 (line 2), column time", "0 or more"]),
    ("times reversed", &["survival"], "entry,time,event\n0,1,1\n5,3,1\n", &["row 2 (line 3), column time", "before 5"]),
    ("an event of 2", &["survival"], "time,event\n3,2\n", &["row 1 (line 2), column event", "1 or 0"]),
    ("a weight of 0", &["survival"], "time,event,weight\n3,1,0\n", &["row 1 (line 2), column weight", "is 0"]),
    ("half a case", &["survival"], "time,event,weight\n3,1,1.5\n", &["row 1 (line 2), column weight", "whole number"]),
    ("an empty label", &["survival"], "time,event,group\n3,1,\n", &["row 1 (line 2), column group", "empty"]),
    ("a short row", &["survival"], "time,event\n3,1\n4\n", &["row 2 (line 3)", "1 cells", "2"]),
    ("a fate that is no number", &["incidence"], "time,status\n3,hatch\n", &["row 1 (line 2), column status", "\"hatch\""]),
    ("a class that ends before it begins", &["life-table"], "start,end,n_start,lost,event\n3,1,5,0,1\n", &["row 1 (line 2), column end"]),
    ("an interval reversed", &["interval"], "left,right\n5,3\n", &["row 1 (line 2), column right", "before 5"]),
    (
        "a cause of nothing",
        &["interval", "--cause", "why"],
        "left,right,why\n5,,1\n",
        &["row 1 (line 2), column why", "0 where it is empty"],
    ),
    ("no days", &["incubation", "fit"], "temp_c,days\n15,0\n", &["row 1 (line 2), column days", "above 0"]),
    ("hot water", &["incubation", "fit"], "temp_c,days\n15,100\n150,9\n16,90\n", &["row 2 (line 3), column temp_c", "between -5 and 50"]),
    (
        "a log out of order",
        &["incubation", "integrate", "--model", "thermal_sum", "--t0", "2", "--k", "9", "--start", "0"],
        "day,temp_c\n1,15\n0,15\n",
        &["row 2"],
    ),
    ("no pH", &["water"], "t_c,salinity_psu,ph,ph_scale\n15,34,80,nbs\n", &["row 1 (line 2), column ph", "between 0 and 14"]),
    ("no such scale", &["water"], "t_c,ph_scale\n15,nist\n", &["row 1 (line 2), column ph_scale", "nbs"]),
    ("nothing of water", &["water"], "id\n1\n", &["none of t_c"]),
    ("a circle of parents", &["pedigree"], "id,sire,dam\na,b,\nb,a,\n", &["row 1 (a)", "circle"]),
    ("NUL in a name", &["pedigree"], "id,sire,dam\na,,\nb\0c,,\n", &["row 2", "id is \"b\\0c\"", "control character (U+0000)"]),
    ("a bell in a parent", &["pedigree"], "id,sire,dam\na,,\nb,a\u{7},\n", &["row 2", "sire \"a\\u{7}\" has no row"]),
    ("a tab in a clutch", &["pedigree"], "id,sire,dam,clutch\na,,,x\ty\n", &["row 1", "clutch is \"x\\ty\"", "U+0009"]),
    ("a gap in the classes", &["life-table"], "start,end,n_start,lost,event\n0,1,9,0,1\n2,3,8,0,1\n", &["row 2", "gaps"]),
    ("more events than exposed", &["life-table"], "start,end,n_start,lost,event\n0,1,5,0,6\n", &["row 1", "6 events"]),
    ("k above n", &["proportion"], "k,n\n3,4\n5,4\n", &["row 2 (line 3), column k", "more than n"]),
    ("a negative count", &["proportion"], "k,n\n-1,4\n", &["row 1 (line 2), column k", "whole number"]),
];

#[test]
fn each_is_said_in_one_sentence() {
    for (what, arguments, table, words) in WRONG {
        let said = compute_on(arguments, table.as_bytes());
        assert_eq!(said.err.trim().lines().count(), 1, "{what}: {}", said.err);
        said.fails(1, words);
    }
}

#[test]
fn bytes_that_are_no_text_are_shown_as_well_as_can_be() {
    compute_on(&["survival"], b"time,event\n\xff\xfe,1\n").fails(1, &["row 1 (line 2), column time", "not a number"]);
}

#[test]
fn a_long_cell_is_cut() {
    let said = compute_on(&["survival"], format!("time,event\n{},1\n", "x".repeat(5000)).as_bytes());
    said.fails(1, &["row 1 (line 2), column time", "…"]);
    assert!(said.err.len() < 300, "{}", said.err);
}

#[test]
fn a_file_that_is_not_there_is_named() {
    compute(&["survival", "no-such-table.csv"]).fails(1, &["no-such-table.csv"]);
}

#[test]
fn an_option_that_is_wrong_is_usage() {
    compute_on(&["survival", "--level", "95"], b"time,event\n1,1\n").fails(2, &["--level", "0.95"]);
    compute(&["proportion", "--events", "3", "--total", "2"]).fails(2, &["--events", "--total"]);
    compute(&["proportion", "--events", "3"]).fails(2, &["--total"]);
}

/// Neither is wrong: a group of one has a curve, and a table whose only row has no time at risk has
/// an empty one, with the reason.
#[test]
fn a_group_with_one_member_and_one_without_time() {
    let one = compute_on(&["survival"], b"time,event,group\n5,1,a\n7,0,b\n").json();
    assert_eq!(one["groups"]["a"]["surv"], serde_json::json!([0.0]));
    assert_eq!(one["groups"]["b"]["surv"], serde_json::json!([1.0]));
    let none = compute_on(&["survival"], b"entry,time,event\n5,5,1\n").json();
    assert_eq!(none["excluded"][0]["row"], serde_json::json!(1));
    assert!(none["notes"].to_string().contains("no data"), "{}", none["notes"]);
}

/// A settings file that cannot be read does not stand in the way of arithmetic.
#[test]
fn no_settings_are_read() {
    let said = compute(&["proportion", "--events", "1", "--total", "2", "--config", "/no/such/settings.toml"]);
    assert_eq!(said.json()["groups"]["all"]["n"], serde_json::json!(2));
}

/// A mark that other programs put before UTF-8, and ends of lines with CR.
#[test]
fn tables_of_other_programs_are_read() {
    let found = compute_on(&["survival"], b"\xef\xbb\xbftime,event\r\n\"10\", 1\r\n20.0,0.0\r\n").json();
    assert_eq!(found["groups"]["all"]["n_risk"], serde_json::json!([2, 1]));
}
