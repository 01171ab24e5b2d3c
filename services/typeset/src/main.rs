//! `selachron-typeset`: report JSON on standard input, PDF on standard output.

use rlimit::Resource;
use selachron_schemas::limits::{TYPESET_BYTES_MAX, TYPESET_SECONDS_MAX};
use std::io::{Read, Write};
use std::process::ExitCode;

/// Exit code for wrong usage, as the other programs have it.
const USAGE: u8 = 2;

fn main() -> ExitCode {
    if let Some(argument) = std::env::args().nth(1) {
        let wanted = ["--help", "-h"].contains(&argument.as_str());
        eprintln!(
            "selachron-typeset: report JSON on standard input, PDF/A on standard output; no arguments.\n\
             For example: selachron report 2026 | selachron-typeset > report.pdf"
        );
        return if wanted { ExitCode::SUCCESS } else { ExitCode::from(USAGE) };
    }
    match set() {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("selachron-typeset: {why}");
            ExitCode::FAILURE
        }
    }
}

fn set() -> Result<(), Box<dyn std::error::Error>> {
    // A report that nobody foresaw shall not take the machine from the service that asked for it.
    Resource::AS.set(TYPESET_BYTES_MAX, TYPESET_BYTES_MAX)?;
    Resource::CPU.set(TYPESET_SECONDS_MAX, TYPESET_SECONDS_MAX)?;
    let mut report = Vec::new();
    std::io::stdin().lock().read_to_end(&mut report)?;
    let file = selachron_typeset::pdf(&report)?;
    let mut out = std::io::stdout().lock();
    out.write_all(&file)?;
    Ok(out.flush()?)
}
