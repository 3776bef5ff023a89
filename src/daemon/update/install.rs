//! Root's part: takes what was handed over, looks again, installs it, and goes back where it does not run.
// Programs of dpkg are run, and it waits for the new version.
#![allow(clippy::disallowed_methods)]

use super::hand_over::{PACKAGE, SIGNATURE, look};
use super::package::{Package, installed};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

/// How an update is installed.
#[derive(Debug)]
pub struct Installing {
    /// Where it was handed over.
    pub spool: PathBuf,
    /// Whose packages are taken.
    pub key: PathBuf,
    /// Where packages are kept; nobody but root may write there.
    pub keep: PathBuf,
    /// The system: the root of its files.
    pub root: PathBuf,
    /// What comes out well where the new version runs, as words of a command.
    pub runs: Vec<String>,
    /// How long after the installation that is asked.
    pub settle: Duration,
}

/// Names of what is kept: the package that is installed, and the one before.
const CURRENT: &str = "current.deb";
const PREVIOUS: &str = "previous.deb";

/// Installs what was handed over; tells what was done.
///
/// # Errors
/// Why it was not, and whether the old version is back.
pub fn install(how: &Installing) -> Result<String, String> {
    let from = |name: &str| how.spool.join(name);
    let looked = look(&from(PACKAGE), &how.key, &how.root, &how.keep);
    // Whatever comes of it, it is not asked for again.
    for name in [SIGNATURE, PACKAGE] {
        let _ = std::fs::remove_file(from(name));
    }
    let (sealed, package) = looked?;
    let before = keep_old(how);
    let version = &package.version;
    let is_in = dpkg(how, sealed.path()).is_ok() && {
        std::thread::sleep(how.settle);
        runs(how)
    };
    if is_in {
        let kept = how.keep.join(CURRENT);
        sealed.keep(&kept, &how.keep.join("current.deb.minisig"))?;
        let old = before.map_or("no older version is kept".to_string(), |old| {
            format!("{} is kept", old.version)
        });
        return Ok(format!("{version} is installed; {old}"));
    }
    let Some(old) = before else {
        return Err(format!(
            "{version} does not run here, and no older version is kept"
        ));
    };
    match dpkg(how, &how.keep.join(PREVIOUS)) {
        Ok(()) => Err(format!(
            "{version} does not run here: back to {}",
            old.version
        )),
        Err(why) => Err(format!(
            "{version} does not run here, nor did {} come back: {why}",
            old.version
        )),
    }
}

/// Keeps the version that is installed: the package that brought it, or one that is made of its files.
fn keep_old(how: &Installing) -> Option<Package> {
    let version = installed(&how.root)?;
    let (current, previous) = (how.keep.join(CURRENT), how.keep.join(PREVIOUS));
    let is_it = |path: &Path| {
        Package::of(path)
            .ok()
            .filter(|package| package.version == version)
    };
    if let Some(package) = is_it(&current) {
        return std::fs::rename(&current, &previous).ok().map(|()| package);
    }
    if let Some(package) = is_it(&previous) {
        return Some(package);
    }
    let made = tempfile::tempdir_in(&how.keep).ok()?;
    // It works in a directory of its own.
    let root = std::fs::canonicalize(&how.root).ok()?;
    let root = format!("--root={}", root.display());
    let packed = Command::new("dpkg-repack")
        .args([&root, "underfoot"])
        .current_dir(made.path())
        .output();
    if !packed.is_ok_and(|packed| packed.status.success()) {
        return None;
    }
    let mut files = std::fs::read_dir(made.path())
        .ok()?
        .flatten()
        .map(|entry| entry.path());
    let file = files.find(|path| path.extension().is_some_and(|ending| ending == "deb"))?;
    std::fs::rename(file, &previous).ok()?;
    is_it(&previous)
}

fn dpkg(how: &Installing, package: &Path) -> Result<(), String> {
    let mut command = Command::new("dpkg");
    command.arg(format!("--root={}", how.root.display()));
    if how.root != Path::new("/") {
        // Another system than ours: without its rights, and its scripts as they are.
        command.args(["--force-not-root", "--force-script-chrootless"]);
    }
    // Settings that the player changed stay.
    command.args(["--force-confold", "--install"]).arg(package);
    command
        .env("UNDERFOOT_DOWNGRADE", "yes")
        .env("DEBIAN_FRONTEND", "noninteractive");
    let done = command
        .output()
        .map_err(|error| format!("dpkg cannot be started ({error})"))?;
    match done.status.success() {
        true => Ok(()),
        false => Err(String::from_utf8_lossy(&done.stderr).trim().to_string()),
    }
}

fn runs(how: &Installing) -> bool {
    let Some((program, args)) = how.runs.split_first() else {
        return true;
    };
    let asked = Command::new(program).args(args).status();
    asked.is_ok_and(|status| status.success())
}
