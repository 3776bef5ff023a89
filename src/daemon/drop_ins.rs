//! The drop-ins of the configuration: files of their own for what belongs to a board or to a player, so that neither is
//! lost when a package brings a new configuration.
// Reads a directory.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use toml::{Table, Value};

/// Their directory, beside the configuration.
const DIRECTORY: &str = "conf.d";

/// The drop-ins beside a configuration in `dir`, by name; none where there is no directory for them. What an editor or a
/// package manager leaves beside them does not end in `.toml`, or begins with a dot.
pub fn drop_ins(dir: &Path) -> Vec<PathBuf> {
    let is_hidden = |name: &OsStr| name.as_encoded_bytes().starts_with(b".");
    let is_ours = |path: &PathBuf| {
        path.extension() == Some(OsStr::new("toml")) && !path.file_name().is_some_and(is_hidden)
    };
    let entries = std::fs::read_dir(dir.join(DIRECTORY));
    let entries = entries.into_iter().flatten().flatten();
    let mut found: Vec<PathBuf> = entries.map(|entry| entry.path()).filter(is_ours).collect();
    found.sort();
    found
}

/// One text that says what all these say, a later one over those before it: table by table, key by key; a list is whole. None
/// where one of them is no TOML.
pub fn laid_over(texts: &[&str]) -> Option<String> {
    let mut all = Table::new();
    for text in texts {
        lay_over(&mut all, text.parse().ok()?);
    }
    toml::to_string(&all).ok()
}

fn lay_over(below: &mut Table, above: Table) {
    for (key, value) in above {
        match (below.get_mut(&key), value) {
            (Some(Value::Table(below)), Value::Table(above)) => lay_over(below, above),
            (_, value) => drop(below.insert(key, value)),
        }
    }
}
