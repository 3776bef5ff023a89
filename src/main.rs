//! Arguments to one command; exit codes.
#![allow(clippy::disallowed_methods)] // the environment is looked up here and handed on

use clap::Parser;
use std::process::ExitCode;
use underfoot::daemon::args::{Arguments, Command, RunArgs};
use underfoot::daemon::commands;
use underfoot::daemon::files::{Failure, exit};

fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() {
                exit::USAGE
            } else {
                exit::OK
            });
        }
    };
    let variable = |name: &str| std::env::var(name).ok();
    let done = match arguments.command {
        Command::Run(args) => run(&args, &variable),
        Command::Check(args) => commands::check(&args),
        Command::Symbols(args) => commands::symbols(&args),
        Command::Targets(args) => commands::targets(&args),
        Command::Render(args) => commands::render(&args, &variable),
        Command::Status(args) => commands::status(&args, &variable),
    };
    match done {
        Ok(()) => ExitCode::from(exit::OK),
        Err(Failure { code, text }) => {
            if !text.is_empty() {
                eprintln!("{text}");
            }
            ExitCode::from(code)
        }
    }
}

#[cfg(feature = "jack")]
fn run(args: &RunArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    underfoot::daemon::run::run(args, variable)
}

#[cfg(not(feature = "jack"))]
fn run(_args: &RunArgs, _variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    Err(Failure::new(
        exit::UNAVAILABLE,
        "this underfoot was built without JACK; `underfoot render` makes practice tracks",
    ))
}
