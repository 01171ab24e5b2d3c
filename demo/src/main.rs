//! `demo`: an invented season, played, told, verified and served. Results go to stdout, talk to
//! stderr; exit status: see `--help`.

use clap::Parser as _;
use selachron_demo::arguments::{Arguments, free_address};
use selachron_demo::season::Season;
use selachron_demo::show::{Folders, Show};
use selachron_demo::trouble::Trouble;
use std::net::{Ipv4Addr, SocketAddr};
use std::process::ExitCode;

fn main() -> ExitCode {
    match run(&Arguments::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(trouble) => {
            eprintln!("demo: {trouble}");
            ExitCode::from(trouble.exit_code())
        }
    }
}

fn run(arguments: &Arguments) -> Result<(), Trouble> {
    let folders = Folders::make(arguments)?;
    let listen = address(arguments)?;
    let season = Season::from_seed(arguments.seed);
    eprintln!("Playing an invented season of {} notes through the client to the service …", season.sent());
    let show = Show::put_on(&season, &folders.folder, folders.bundle.clone(), listen)?;
    show.lines()?.iter().for_each(|line| println!("{line}"));
    if let Some(out) = &arguments.out {
        show.write_report(out)?;
        println!("\nWritten: {0}/bundle, {0}/annual-report.json, {0}/annual-report.html", out.display());
    }
    if arguments.once {
        return Ok(());
    }
    println!();
    show.where_to_look().iter().for_each(|line| println!("{line}"));
    println!("\nServing until Ctrl-C.{}", if arguments.dir.is_none() { " Then the folder is removed; --dir DIR keeps it." } else { "" });
    wait_for_the_end()
}

/// A season that is not served needs no port of its own.
fn address(arguments: &Arguments) -> Result<SocketAddr, Trouble> {
    if arguments.once {
        return Ok(SocketAddr::from((Ipv4Addr::LOCALHOST, 0)));
    }
    let address = free_address(arguments.port)?;
    if arguments.port != 0 && address.port() != arguments.port {
        eprintln!("Port {} is in use; serving on {} instead (--port names another).", arguments.port, address.port());
    }
    Ok(address)
}

/// Until somebody presses Ctrl-C, or the machine's keeper sends TERM.
fn wait_for_the_end() -> Result<(), Trouble> {
    let failed = |error: std::io::Error| Trouble::Failed(format!("waiting for a signal: {error}"));
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(failed)?;
    runtime.block_on(async {
        let mut term = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()).map_err(failed)?;
        tokio::select! {
            outcome = tokio::signal::ctrl_c() => outcome.map_err(failed),
            _ = term.recv() => Ok(()),
        }
    })
}
