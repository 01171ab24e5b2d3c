//! `selachron`: the record of an egg nursery at a keyboard.

use std::process::ExitCode;

fn main() -> ExitCode {
    let environment = |name: &str| std::env::var(name).ok();
    ExitCode::from(selachron_cli::command::run(std::env::args_os(), &environment, selachron_cli::clock::system()))
}
