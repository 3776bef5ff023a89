//! From whoever brings a package to root: looked at, and put where root's unit waits.

use super::package::{Package, fits};
use super::seal::{Sealed, sealed};
use std::path::Path;

/// Where packages are handed over.
pub const SPOOL: &str = "/var/lib/underfoot/update";
/// Whose packages are taken: a public key of minisign.
pub const KEY: &str = "/etc/underfoot/update.pub";
/// What came of the last installation, for whoever waits for it: whether it is in, and how that is told, a line each.
pub const OUTCOME: &str = "/run/underfoot-update/outcome";
/// Names in the spool: the signature comes last, so that whoever waits for it finds both.
pub(super) const PACKAGE: &str = "package.deb";
pub(super) const SIGNATURE: &str = "package.deb.minisig";

/// Looks whether a package may be installed on the system below `root`: signed with `key`, ours, for this processor, newer. It
/// comes as a copy in `dir`.
///
/// # Errors
/// Why not, in words.
pub fn look(file: &Path, key: &Path, root: &Path, dir: &Path) -> Result<(Sealed, Package), String> {
    let sealed = sealed(file, key, dir)?;
    let named = |why: String| format!("{}: {why}", file.display());
    let package = Package::of(sealed.path()).map_err(named)?;
    fits(&package, root).map_err(named)?;
    Ok((sealed, package))
}

/// Puts a package into the spool.
///
/// # Errors
/// When it cannot be written.
pub fn hand_over(sealed: Sealed, spool: &Path) -> Result<(), String> {
    let into = |name: &str| spool.join(name);
    // One that lies there still is overtaken, but never mixed with this one.
    let _ = std::fs::remove_file(into(SIGNATURE));
    sealed.keep(&into(PACKAGE), &into(SIGNATURE))
}
