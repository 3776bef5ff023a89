//! The program as a user runs it, apart from the user's own files.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A file of the project.
pub fn root(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The program with everything it keeps below `home`.
pub fn command(home: &Path) -> Command {
    command_within(&[], home)
}

/// The same, started by a program that starts the one that its arguments end with.
pub fn command_within(outer: &[&str], home: &Path) -> Command {
    let words = [outer, &[env!("CARGO_BIN_EXE_underfoot")]].concat();
    let mut command = Command::new(words[0]);
    command.args(&words[1..]);
    std::fs::create_dir_all(home).expect("a directory");
    command
        .env("HOME", home)
        .env_remove("XDG_CONFIG_HOME")
        .env_remove("XDG_STATE_HOME")
        .env_remove("XDG_CACHE_HOME")
        .env("XDG_RUNTIME_DIR", home)
        .env_remove("JOURNAL_STREAM");
    command
}

/// The same without the priority that tests with a server have: for what only works.
pub fn in_background(home: &Path) -> Command {
    let mut command = Command::new("chrt");
    std::fs::create_dir_all(home).expect("a directory");
    command
        .args(["-o", "0", env!("CARGO_BIN_EXE_underfoot")])
        .env("HOME", home)
        .env_remove("XDG_CONFIG_HOME")
        .env_remove("XDG_CACHE_HOME");
    command
}

/// The lines of an event log written so far.
pub fn events(path: &Path) -> Vec<Value> {
    let text = std::fs::read_to_string(path).unwrap_or_default();
    text.lines()
        .filter_map(|line| serde_json::from_str(line).ok())
        .collect()
}
