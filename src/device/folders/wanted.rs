//! What is looked after, and what is below a folder.
// An adapter: it looks into folders.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// How deep below a folder files are looked for: a stick has its folders, too.
const DEEPEST: usize = 3;
/// Folders and files below one folder at the most: what is plugged in may be anything.
const MOST_FOLDERS: usize = 256;
const MOST_FILES: usize = 512;

/// What is looked after.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Folders, with those below them; they need not be there yet.
    pub folders: Vec<PathBuf>,
    /// Files by themselves.
    pub files: Vec<PathBuf>,
    /// How names of files end that count in folders, without the dot.
    pub endings: &'static [&'static str],
}

impl Wanted {
    /// Whether nothing is.
    pub fn is_empty(&self) -> bool {
        self.folders.is_empty() && self.files.is_empty()
    }

    /// Whether a file counts. Names that begin with a dot belong to whoever is still writing.
    pub(super) fn has_file(&self, path: &Path) -> bool {
        let is_below = |folder: &PathBuf| path.starts_with(folder);
        self.files.iter().any(|file| file == path)
            || has_ending(path, self.endings) && self.folders.iter().any(is_below)
    }

    /// Whether a folder is one of ours, below one, or on the way to one.
    pub(super) fn has_folder(&self, path: &Path) -> bool {
        let is_of = |folder: &PathBuf| path.starts_with(folder) || folder.starts_with(path);
        self.folders.iter().any(is_of) || self.files.iter().any(|file| file.starts_with(path))
    }
}

/// What is below a folder: folders (the folder itself first) and files, each by name.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Below {
    pub folders: Vec<PathBuf>,
    pub files: Vec<PathBuf>,
    /// There is more than is looked after.
    pub is_cut: bool,
}

/// Looks below a folder for files whose names end so. What cannot be read is not there.
pub fn below(folder: &Path, endings: &[&str]) -> Below {
    let mut found = Below::default();
    let mut next = vec![folder.to_path_buf()];
    for _ in 0..=DEEPEST {
        let folders = std::mem::take(&mut next);
        for folder in folders {
            let Ok(entries) = std::fs::read_dir(&folder) else {
                continue;
            };
            found.folders.push(folder);
            for entry in entries.flatten() {
                let (path, kind) = (entry.path(), entry.file_type());
                // A link to a folder could lead round in a circle.
                let is_folder = kind.is_ok_and(|kind| kind.is_dir());
                match is_folder {
                    true if !is_hidden(&path) => next.push(path),
                    false if has_ending(&path, endings) => found.files.push(path),
                    _ => {}
                }
            }
        }
        next.sort();
        let room = MOST_FOLDERS.saturating_sub(found.folders.len());
        found.is_cut |= next.len() > room;
        next.truncate(room);
    }
    found.files.sort();
    found.is_cut |= found.files.len() > MOST_FILES;
    found.files.truncate(MOST_FILES);
    found
}

fn is_hidden(path: &Path) -> bool {
    let name = path.file_name().map(OsStr::as_encoded_bytes);
    name.is_some_and(|name| name.starts_with(b"."))
}

fn has_ending(path: &Path, endings: &[&str]) -> bool {
    let extension = path.extension();
    let is_it = |ending: &&str| extension.is_some_and(|found| found.eq_ignore_ascii_case(ending));
    !is_hidden(path) && endings.iter().any(is_it)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_found_in_the_folders_of_a_stick_but_not_for_ever() {
        let dir = tempfile::tempdir().expect("a directory");
        let at = |name: &str| dir.path().join(name);
        let names = [
            "b.toml",
            "a.TOML",
            "a.txt",
            ".a.toml",
            "x/c.toml",
            "x/y/z/d.toml",
            "x/y/z/w/e.toml",
            ".x/f.toml",
        ];
        for name in names {
            std::fs::create_dir_all(at(name).parent().expect("a parent")).expect("a directory");
            std::fs::write(at(name), "x").expect("a file");
        }
        std::os::unix::fs::symlink(dir.path(), at("round")).expect("a link");
        let found = below(dir.path(), &["toml"]);
        let paths = |names: &[&str]| names.iter().map(|name| at(name)).collect::<Vec<_>>();
        assert_eq!(
            found.files,
            paths(&["a.TOML", "b.toml", "x/c.toml", "x/y/z/d.toml"])
        );
        assert_eq!(found.folders[1..], paths(&["x", "x/y", "x/y/z"]));
        for number in 0..MOST_FILES {
            std::fs::write(at(&format!("n{number}.toml")), "").expect("a file");
        }
        let found = below(dir.path(), &["toml"]);
        assert_eq!((found.files.len(), found.is_cut), (MOST_FILES, true));
        assert_eq!(below(&at("none"), &["toml"]), Below::default());
    }
}
