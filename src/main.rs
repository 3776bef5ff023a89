//! Arguments to one command; exit codes.
#![allow(clippy::disallowed_methods)] // the environment is looked up here and handed on

use clap::Parser;
use std::io::Write;
use std::panic::{AssertUnwindSafe, PanicHookInfo};
use std::process::ExitCode;
use underfoot::daemon::args::{Arguments, ClockCommand, Command};
use underfoot::daemon::commands;
use underfoot::daemon::files::{Failure, exit};
use underfoot::daemon::lesson;
#[cfg(feature = "jack")]
use underfoot::daemon::run;

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
    std::panic::set_hook(Box::new(tell_panic));
    let done = std::panic::catch_unwind(AssertUnwindSafe(|| perform(arguments.command)));
    let done = done.unwrap_or_else(|_| Err(Failure::new(exit::SOFTWARE, "")));
    match done {
        Ok(()) => ExitCode::from(exit::OK),
        Err(Failure { code, text }) => {
            if !text.is_empty() {
                // A terminal that vanished is no reason to panic. A wrong command line is told as the library tells it.
                let error = if code == exit::USAGE { "error: " } else { "" };
                let _ = writeln!(std::io::stderr(), "{error}{text}");
            }
            ExitCode::from(code)
        }
    }
}

fn perform(command: Command) -> Result<(), Failure> {
    let variable = |name: &str| std::env::var(name).ok();
    match command {
        #[cfg(feature = "jack")]
        Command::Run(args) => run::run(&args, variable),
        #[cfg(not(feature = "jack"))]
        Command::Run(_) => Err(Failure::new(
            exit::UNAVAILABLE,
            "this underfoot was built without JACK: it renders, but does not play",
        )),
        Command::Check(args) => commands::check(&args, &variable),
        Command::Symbols(args) => commands::symbols(&args),
        Command::Targets(args) => commands::targets(&args),
        Command::Render(args) => commands::render(&args, &variable),
        Command::Lesson(args) => lesson::lesson(&args, &variable),
        Command::Drill(command) => commands::drill(&command),
        Command::Pages(args) => commands::pages(&args),
        #[cfg(feature = "sheet")]
        Command::Sheet(args) => commands::sheet(&args),
        Command::Set(args) => commands::set(&args),
        Command::Import(args) => commands::import(&args),
        Command::Export(args) => commands::export(&args),
        Command::Learn(args) => commands::learn(&args),
        Command::Listen(args) => commands::listen(&args),
        #[cfg(feature = "jack")]
        Command::Calibrate(args) => run::calibrate(&args, &variable),
        #[cfg(not(feature = "jack"))]
        Command::Calibrate(_) => Err(Failure::new(
            exit::UNAVAILABLE,
            "this underfoot was built without JACK: there is nothing to measure",
        )),
        Command::Status(args) => commands::status(&args, &variable),
        Command::Update(args) => commands::update(&args),
        Command::InstallUpdate(args) => commands::install_update(&args),
        Command::Doctor(args) => commands::doctor(&args, &variable),
        #[cfg(feature = "journal")]
        Command::Next(args) => commands::next(&args, &variable),
        #[cfg(feature = "journal")]
        Command::Journal(command) => commands::journal(&command, &variable),
        Command::Help(args) => commands::help(&args, &variable),
        Command::Papers(args) => commands::papers(&args),
        Command::Clock(ClockCommand::Replay(args)) => commands::clock_replay(&args),
        Command::Clock(ClockCommand::Watch(args)) => commands::clock_watch(&args, &variable),
    }
}

/// Whoever stands at the amp can do nothing about a panic but tell it: calmly, with what is needed to find it.
fn tell_panic(info: &PanicHookInfo<'_>) {
    let what = info.payload_as_str().unwrap_or("no word about it");
    let place = info.location().map(ToString::to_string).unwrap_or_default();
    let _ = writeln!(
        std::io::stderr(),
        "underfoot {}: a fault of the program, not of your files ({place}: {what}). Your files are as they were. \
         Please report this line.",
        env!("CARGO_PKG_VERSION")
    );
}
