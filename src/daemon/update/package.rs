//! What a Debian package says of itself, told by dpkg: name, version, processor.
// Programs of dpkg are run.
#![allow(clippy::disallowed_methods)]

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Stdio};

const OURS: &str = "underfoot";

/// What a package says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Package {
    pub name: String,
    pub version: String,
    pub architecture: String,
}

impl Package {
    /// Of a package's file.
    ///
    /// # Errors
    /// When it is none.
    pub fn of(file: &Path) -> Result<Package, String> {
        let text = control_of(file);
        let text = text.map_err(|error| format!("dpkg-deb cannot be started ({error})"))?;
        let text = text.ok_or("no Debian package")?;
        let fields: BTreeMap<&str, &str> = text
            .lines()
            .filter_map(|line| line.split_once(": "))
            .collect();
        let field = |name: &str| fields.get(name).map(|value| (*value).to_string());
        let package = || {
            Some(Package {
                name: field("Package")?,
                version: field("Version")?,
                architecture: field("Architecture")?,
            })
        };
        package().ok_or("no Debian package".to_string())
    }
}

/// The control file of a package; none where it has none. `dpkg-deb --field` would unpack it below `/tmp`, where the daemon may not
/// write.
fn control_of(file: &Path) -> std::io::Result<Option<String>> {
    let mut packed = Command::new("dpkg-deb")
        .arg("--ctrl-tarfile")
        .arg(file)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()?;
    let archive = packed.stdout.take().map_or_else(Stdio::null, Stdio::from);
    let told = Command::new("tar")
        .args(["-xO", "-f", "-", "./control"])
        .stdin(archive)
        .stderr(Stdio::null())
        .output();
    let is_whole = packed.wait()?.success();
    let told = told?;
    let is_whole = is_whole && told.status.success();
    Ok(is_whole.then(|| String::from_utf8_lossy(&told.stdout).into_owned()))
}

/// Whether a package is one for the system below `root`.
///
/// # Errors
/// Why not: another package, another processor, no newer version.
pub fn fits(package: &Package, root: &Path) -> Result<(), String> {
    let Package {
        name,
        version,
        architecture,
    } = package;
    if name != OURS {
        return Err(format!("it is a package of {name}, not of {OURS}"));
    }
    let ours = said(Command::new("dpkg").arg("--print-architecture"));
    let ours = ours.ok_or("dpkg does not say what this box is")?;
    if *architecture != ours {
        return Err(format!("it is for {architecture}, and this box is {ours}"));
    }
    match installed(root) {
        Some(there) if !is_newer(version, &there) => Err(format!(
            "version {version} is not newer than {there}, which is installed"
        )),
        _ => Ok(()),
    }
}

/// The version that is installed below `root`.
pub fn installed(root: &Path) -> Option<String> {
    let mut query = Command::new("dpkg-query");
    query.arg(format!("--root={}", root.display())).args([
        "--show",
        "--showformat=${db:Status-Status} ${Version}",
        OURS,
    ]);
    let told = said(&mut query)?;
    told.strip_prefix("installed ").map(str::to_string)
}

/// Whether a version is newer than another, by Debian's order.
pub(super) fn is_newer(version: &str, there: &str) -> bool {
    let compared = Command::new("dpkg")
        .args(["--compare-versions", version, "gt", there])
        .status();
    compared.is_ok_and(|status| status.success())
}

fn said(command: &mut Command) -> Option<String> {
    let told = command.stderr(Stdio::null()).output().ok()?;
    let text = String::from_utf8(told.stdout).ok()?.trim().to_string();
    (told.status.success() && !text.is_empty()).then_some(text)
}
