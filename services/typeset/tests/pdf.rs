//! A report of an invented season, set, and read again by what others wrote (poppler's pdfinfo,
//! pdftotext, pdffonts and pdfdetach).

use selachron_cli::client::{Client, ClientSettings};
use selachron_demo::arguments::free_address;
use selachron_demo::play::Stage;
use selachron_demo::season::Season;
use selachron_record::{Service, Settings};
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::{Arc, OnceLock};

/// A season of its own.
const SEED: u64 = 5;
/// The year that the demo tells.
const REPORT: &str = "/v1/reports/annual/2026";
/// The year in which it begins.
const FIRST_REPORT: &str = "/v1/reports/annual/2024";

/// The report's JSON, and the log it was made from in `folder`.
fn report(folder: &Path) -> String {
    let season = Season::from_seed(SEED);
    let mut stage = Stage::found(&season, folder, free_address(0).unwrap()).unwrap();
    stage.play().unwrap();
    stage.client().get_text(REPORT, &[], "application/json").unwrap()
}

/// What a program of poppler says of the file.
fn poppler(program: &str, arguments: &[&str], file: &Path) -> String {
    let output = Command::new(program).args(arguments).arg(file).output();
    let output = output.unwrap_or_else(|error| panic!("{program}: {error}; `tests/run` installs Debian's poppler-utils"));
    assert!(output.status.success(), "{program}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn set_by_program(input: &[u8]) -> (Option<i32>, Vec<u8>, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_selachron-typeset"))
        .env_clear()
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input).unwrap();
    let output = child.wait_with_output().unwrap();
    (output.status.code(), output.stdout, String::from_utf8_lossy(&output.stderr).into_owned())
}

/// The report's JSON, told once for all tests.
fn told() -> &'static str {
    static TOLD: OnceLock<String> = OnceLock::new();
    TOLD.get_or_init(|| report(tempfile::tempdir().unwrap().path()))
}

#[test]
fn a_report_is_set_to_the_same_bytes_and_says_what_it_conforms_to() {
    let bytes = selachron_typeset::pdf(told().as_bytes()).unwrap();
    assert_eq!(set_by_program(told().as_bytes()), (Some(0), bytes.clone(), String::new()), "another run gives the same bytes");
    assert!(bytes.starts_with(b"%PDF-1.7"));
    let has = |wanted: &str| bytes.windows(wanted.len()).any(|found| found == wanted.as_bytes());
    // ISO 19005-3, 6.6.4 and ISO 14289-1, 5: how a file says what it conforms to.
    for wanted in ["<pdfaid:part>3</pdfaid:part>", "<pdfaid:conformance>A</pdfaid:conformance>", "<pdfuaid:part>1</pdfuaid:part>"] {
        assert!(has(wanted), "{wanted}");
    }
}

/// What others read in the file; `tests/run` runs these where poppler can be had.
mod by_poppler {
    use super::*;

    #[test]
    #[ignore = "needs poppler-utils; tests/run installs it"]
    fn words_letters_structure_and_attachment_are_found() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("report.pdf");
        std::fs::write(&file, selachron_typeset::pdf(told().as_bytes()).unwrap()).unwrap();
        let said = poppler("pdfinfo", &[], &file);
        for wanted in ["Annual report 2026", "Tagged:          yes", "Encrypted:       no", "595.276 x 841.89 pts (A4)"] {
            assert!(said.contains(wanted), "{wanted}:\n{said}");
        }
        let fonts = poppler("pdffonts", &[], &file);
        let embedded = fonts.lines().skip(2).all(|line| line.contains(" yes "));
        assert!(embedded && fonts.lines().count() > 2, "every face travels with the file:\n{fonts}");

        poppler("pdftotext", &["-layout"], &file);
        let text = std::fs::read_to_string(folder.path().join("report.txt")).unwrap();
        for wanted in ["Invented season, simulated clock", "Hatch rates", "Stock list", "Egg ledger", "How to check this off line"] {
            assert!(text.contains(wanted), "{wanted}");
        }
        let structure = poppler("pdfinfo", &["-struct-text"], &file);
        assert!(
            structure.contains("Figure") && structure.contains("Table") && structure.contains("TH"),
            "drawings and tables are told apart"
        );

        let kept = folder.path().join("attached.json");
        poppler("pdfdetach", &["-save", "1", "-o", kept.to_str().unwrap()], &file);
        assert_eq!(std::fs::read_to_string(kept).unwrap(), told(), "the report travels within");
    }

    #[test]
    #[ignore = "needs poppler-utils; tests/run installs it"]
    fn letters_without_a_shape_are_marked_in_print_and_attached_as_they_are() {
        let (folder, report) = (tempfile::tempdir().unwrap(), in_another_script());
        let file = folder.path().join("report.pdf");
        std::fs::write(&file, selachron_typeset::pdf(report.as_bytes()).unwrap()).unwrap();
        poppler("pdftotext", &["-layout"], &file);
        let text = std::fs::read_to_string(folder.path().join("report.txt")).unwrap();
        for wanted in ["Letters that this file has no shapes for are printed as [?]", "Nursery [?] of [?]"] {
            assert!(text.contains(wanted), "{wanted}");
        }
        let kept = folder.path().join("attached.json");
        poppler("pdfdetach", &["-save", "1", "-o", kept.to_str().unwrap()], &file);
        assert_eq!(std::fs::read_to_string(kept).unwrap(), report);
        std::fs::write(&file, selachron_typeset::pdf(told().as_bytes()).unwrap()).unwrap();
        poppler("pdftotext", &["-layout"], &file);
        let text = std::fs::read_to_string(folder.path().join("report.txt")).unwrap();
        assert!(!text.contains("no shapes"), "nobody is told of what is not so");
    }
}

/// The report with names that none of the typesetter's faces can write.
fn in_another_script() -> String {
    let mut report: serde_json::Value = serde_json::from_str(told()).unwrap();
    report["collection"]["name"] = "Nursery 三号池 of 🦈\u{fe0f}".into();
    let line = &mut report["stock"]["lines"][0];
    assert!(line["common_name"].is_string(), "{line}");
    line["common_name"] = "竹鲨".into();
    report.to_string()
}

/// Both standards refuse a letter without a shape, and with it the whole file.
#[test]
fn a_report_in_a_script_without_letters_is_set() {
    let (report, plain) = (in_another_script(), selachron_typeset::pdf(told().as_bytes()).unwrap());
    let file = selachron_typeset::pdf(report.as_bytes()).unwrap();
    assert!(file.starts_with(b"%PDF-1.7") && file != plain);
}

/// A heading out of order or a drawing without words would be refused by PDF/UA-1 in the very year in which
/// the report is not an ordinary one.
#[test]
fn a_report_that_does_not_add_up_and_one_of_nothing_are_set_too() {
    let mut odd: serde_json::Value = serde_json::from_str(told()).unwrap();
    let line = serde_json::json!({"table": "stock list", "species": "Inventus exemplaris", "class": "males", "end_by_arithmetic": 3,
        "end_counted": 2, "subjects": ["animal/01JDH3G6C0ANMA000000000001"], "events": ["01JDH3G6C0EVNT000000000001"]});
    odd["completeness"] = serde_json::json!({"complete": false, "because": ["one line does not add up"], "failing": [line],
        "released_because": "the authority asks for it by the end of January"});
    odd["restatements"]["rows"] = serde_json::json!([{"subjects": [], "events": ["01JDH3G6C0EVNT000000000001"],
        "cells": ["stock list", "Inventus exemplaris", "end", "1.1.5", "1.1.6", "taken back: another animal was meant", "of 2025"]}]);
    let mut empty: serde_json::Value = serde_json::from_str(told()).unwrap();
    for (part, list) in [("stock", "lines"), ("stock_owned", "lines"), ("ledger", "lines"), ("hatch_rates", "received")] {
        empty[part][list] = serde_json::json!([]);
    }
    for list in ["water", "discrepancies_open", "suspected", "writers"] {
        empty[list] = serde_json::json!([]);
    }
    for part in ["curator", "authority", "studbook", "auditor"] {
        for table in empty[part]["tables"].as_array_mut().unwrap() {
            table["rows"] = serde_json::json!([]);
        }
    }
    for report in [odd, empty] {
        let file = selachron_typeset::pdf(report.to_string().as_bytes()).unwrap();
        assert!(file.starts_with(b"%PDF-1.7"));
    }
}

#[test]
fn what_is_no_report_is_refused_in_words() {
    for wrong in ["", "{}", "[1,2]", "not JSON", "{\"schema\":\"urn:selachron:schemas:report:annual-report:v1\"}"] {
        let (code, out, said) = set_by_program(wrong.as_bytes());
        assert_eq!((code, out.len()), (Some(1), 0), "{wrong}");
        assert!(said.contains("no annual report"), "{said}");
    }
}

/// Asks for the report as a browser would, without our client.
fn asked(url: &str) -> (String, Vec<u8>) {
    let address = url.strip_prefix("http://").unwrap();
    let mut stream = std::net::TcpStream::connect(address).unwrap();
    write!(stream, "GET {FIRST_REPORT}?format=pdf HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n").unwrap();
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).unwrap();
    let split = answer.windows(4).position(|four| four == b"\r\n\r\n").unwrap();
    (String::from_utf8_lossy(&answer[..split]).to_lowercase(), answer[split + 4..].to_vec())
}

#[test]
fn the_service_gives_the_file_where_there_is_a_typesetter_and_says_so_where_there_is_none() {
    let folder = tempfile::tempdir().unwrap();
    let season = Season::from_seed(SEED);
    let mut stage = Stage::found(&season, folder.path(), free_address(0).unwrap()).unwrap();
    stage.play_until(3).unwrap();
    let json = stage.client().get_text(FIRST_REPORT, &[], "application/json").unwrap();
    let (head, body) = asked(&stage.running().url());
    assert!(head.starts_with("http/1.1 503") && head.contains("application/problem+json"), "{head}");
    let said = String::from_utf8_lossy(&body).into_owned();
    assert!(said.contains("/problems/not-typeset") && said.contains("cargo build --release -p selachron-typeset"), "{said}");

    let (log, clock) = (stage.log(), stage.clock());
    drop(stage);
    let network = selachron_record::config::Network { open_on_loopback: true, ..Default::default() };
    let start = |typesetter: &str| {
        let typesetter = Some(typesetter.into());
        let listen = free_address(0).unwrap();
        let settings =
            Settings { data_dir: log.clone(), listen, network: network.clone(), clock: clock.clone(), typesetter, allow_simulated: true };
        Service::start(settings).unwrap()
    };
    let running = start(env!("CARGO_BIN_EXE_selachron-typeset"));
    let (head, body) = asked(&running.url());
    assert!(head.starts_with("http/1.1 200") && head.contains("content-type: application/pdf"), "{head}");
    assert_eq!(body, selachron_typeset::pdf(json.as_bytes()).unwrap(), "made from the bytes that are served as JSON");
    drop(running);

    let running = start("/bin/false");
    let (head, _) = asked(&running.url());
    assert!(head.starts_with("http/1.1 503"), "a typesetter that fails is said, and the service goes on: {head}");
    let settings = ClientSettings::new(&running.url(), folder.path().join("another"), Arc::new(|| selachron_schemas::time::Instant(0)));
    assert!(Client::new(settings).unwrap().get_text("/healthz", &[], "text/plain").is_ok());
}
