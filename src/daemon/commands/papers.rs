//! `underfoot papers`: the manual pages and the completions of shells, made of the command line's own definition, for packages.
// It writes files.
#![allow(clippy::disallowed_methods)]

use super::output::unwritable;
use crate::daemon::args::{Arguments, PapersArgs};
use crate::daemon::files::Failure;
use clap::CommandFactory;
use clap_complete::Shell;

/// `underfoot papers`: `man/*.1` and `completions/*` in a directory.
///
/// # Errors
/// When a file cannot be written (65).
pub fn papers(args: &PapersArgs) -> Result<(), Failure> {
    let (man, completions) = (args.output.join("man"), args.output.join("completions"));
    for dir in [&man, &completions] {
        std::fs::create_dir_all(dir).map_err(|error| unwritable(dir, &error))?;
    }
    clap_mangen::generate_to(Arguments::command(), &man)
        .map_err(|error| unwritable(&man, &error))?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        let mut program = Arguments::command();
        clap_complete::generate_to(shell, &mut program, "underfoot", &completions)
            .map_err(|error| unwritable(&completions, &error))?;
    }
    Ok(())
}
