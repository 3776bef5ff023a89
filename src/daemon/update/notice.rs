//! Packages in folders and on sticks: the newest that may be installed, and why others may not.

use super::hand_over::{KEY, SPOOL};
use super::package::{Package, fits, installed, is_newer};
use super::seal::{signature_of, verified};
use crate::device::folders::below;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How names end that belong to an update, without the dot.
pub const ENDINGS: [&str; 2] = ["deb", "minisig"];

/// How a file looks from outside: what has not changed is not read again.
type Look = [Option<(u64, SystemTime)>; 2];

/// Looks for packages.
#[derive(Debug)]
pub struct Noticing {
    folders: Vec<PathBuf>,
    key: PathBuf,
    root: PathBuf,
    /// What was found of each package when it was last looked at.
    known: BTreeMap<PathBuf, (Look, Found)>,
}

/// What a package is.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Found {
    /// It may be installed.
    Newer(Package),
    /// It is in, or older.
    Old,
    /// It must not be installed: why.
    Refused(String),
}

/// What there is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Noticed {
    /// The newest that may be installed.
    pub newest: Option<(PathBuf, Package)>,
    /// Why others may not, a line each, where that was not told before.
    pub refused: Vec<String>,
}

impl Noticing {
    /// In these folders, for this box; none where no package is taken here.
    pub fn here(folders: &[PathBuf]) -> Option<Noticing> {
        let is_taken = Path::new(SPOOL).is_dir() && !folders.is_empty();
        is_taken.then(|| Noticing::of(folders, Path::new(KEY), Path::new("/")))
    }

    /// In these folders, signed with `key`, for the system below `root`.
    pub fn of(folders: &[PathBuf], key: &Path, root: &Path) -> Noticing {
        Noticing {
            folders: folders.to_vec(),
            key: key.to_path_buf(),
            root: root.to_path_buf(),
            known: BTreeMap::new(),
        }
    }

    /// Looks at every package that has its signature beside it, but for files that are `writing`.
    pub fn look(&mut self, writing: &BTreeSet<PathBuf>) -> Noticed {
        let before = std::mem::take(&mut self.known);
        let mut noticed = Noticed::default();
        for path in self.packages() {
            let signature = signature_of(&path);
            if writing.contains(&path) || writing.contains(&signature) {
                continue;
            }
            let look = [look_of(&path), look_of(&signature)];
            let known = before.get(&path).filter(|(seen, _)| *seen == look);
            let found = match known {
                Some((_, found)) => found.clone(),
                None => self.found(&path),
            };
            match &found {
                Found::Newer(package) => {
                    let is_newest = noticed
                        .newest
                        .as_ref()
                        .is_none_or(|(_, newest)| is_newer(&package.version, &newest.version));
                    if is_newest {
                        noticed.newest = Some((path.clone(), package.clone()));
                    }
                }
                Found::Refused(why) if known.is_none() => noticed.refused.push(why.clone()),
                Found::Refused(_) | Found::Old => {}
            }
            self.known.insert(path, (look, found));
        }
        noticed
    }

    fn packages(&self) -> Vec<PathBuf> {
        let all = self.folders.iter();
        let all = all.flat_map(|folder| below(folder, &ENDINGS[..1]).files);
        let mut packages: Vec<PathBuf> = all.filter(|path| signature_of(path).is_file()).collect();
        packages.dedup();
        packages
    }

    fn found(&self, path: &Path) -> Found {
        // Nothing is kept of it: who installs it looks again.
        if let Err(why) = verified(path, &self.key, |_| Ok(())) {
            return Found::Refused(why);
        }
        let named = |why: String| Found::Refused(format!("{}: {why}", path.display()));
        let package = match Package::of(path) {
            Ok(package) => package,
            Err(why) => return named(why),
        };
        let there = installed(&self.root);
        if there.is_some_and(|there| !is_newer(&package.version, &there)) {
            return Found::Old;
        }
        match fits(&package, &self.root) {
            Ok(()) => Found::Newer(package),
            Err(why) => named(why),
        }
    }
}

fn look_of(path: &Path) -> Option<(u64, SystemTime)> {
    let about = std::fs::metadata(path).ok()?;
    Some((about.len(), about.modified().ok()?))
}
