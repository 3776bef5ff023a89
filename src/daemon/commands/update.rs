//! `underfoot update`: a signed package is looked at and handed over; `underfoot install-update`, which root's unit runs.

use super::output::stdout_failed;
use crate::daemon::args::{InstallUpdateArgs, UpdateArgs};
use crate::daemon::files::{Failure, exit};
use crate::daemon::update::{self, Installing};
use std::io::Write;
use std::time::Duration;

/// `underfoot update`.
///
/// # Errors
/// When it may not be installed (65).
pub fn update(args: &UpdateArgs) -> Result<(), Failure> {
    let refused = |why: String| Failure::new(exit::DATA, why);
    let temporary = std::env::temp_dir();
    let dir = if args.check { &temporary } else { &args.spool };
    let (sealed, package) =
        update::look(&args.file, &args.key, &args.root, dir).map_err(refused)?;
    let told = format!(
        "OK (underfoot {} for {})",
        package.version, package.architecture
    );
    let then = match args.check {
        true => "",
        false => {
            update::hand_over(sealed, &args.spool).map_err(refused)?;
            "; it is installed now, and the box begins again by itself"
        }
    };
    writeln!(std::io::stdout().lock(), "{told}{then}").map_err(stdout_failed)
}

/// `underfoot install-update`.
///
/// # Errors
/// When it was not installed (65).
pub fn install_update(args: &InstallUpdateArgs) -> Result<(), Failure> {
    let how = Installing {
        spool: args.spool.clone(),
        key: args.key.clone(),
        keep: args.keep.clone(),
        root: args.root.clone(),
        runs: args.runs.split_whitespace().map(str::to_string).collect(),
        settle: Duration::from_secs(args.settle),
    };
    let failed = |why: String| Failure::new(exit::DATA, why);
    let done = update::install(&how);
    // Where there is no place for it nobody waits for it.
    let left = match update::is_awaited(&args.outcome) {
        true => update::leave(&args.outcome, &done),
        false => Ok(()),
    };
    let told = done.map_err(failed)?;
    left.map_err(failed)?;
    writeln!(std::io::stdout().lock(), "{told}").map_err(stdout_failed)
}
