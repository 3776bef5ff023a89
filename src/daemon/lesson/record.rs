//! What each file of a lesson was made from: so that what is finished is not made anew, and what is not is.
// It reads and writes files.
#![allow(clippy::disallowed_methods)]

use super::tags::Mark;
use crate::daemon::whole_file::WholeFile;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// The record's file.
const NAME: &str = "lesson.json";

/// The record of a folder.
pub(super) struct Record {
    dir: PathBuf,
    kept: Mutex<Kept>,
}

#[derive(Debug, Default, Serialize, Deserialize)]
struct Kept {
    /// For whoever looks into it.
    about: String,
    files: BTreeMap<String, Made>,
    tracks: BTreeMap<String, Facts>,
}

/// A file that was finished.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Made {
    /// What it was made from, as a hash.
    from: String,
    bytes: u64,
}

/// What is known of a track without reading it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Facts {
    from: String,
    pub(super) seconds: f64,
    /// Integrated loudness before it was levelled; none: silence.
    pub(super) was_lufs: Option<f64>,
    /// The deepest dip of the level, in dB.
    pub(super) dip_db: f64,
    pub(super) marks: Vec<Mark>,
}

impl Facts {
    pub(super) fn new(from: &str, seconds: f64, marks: Vec<Mark>) -> Facts {
        Facts {
            from: from.to_string(),
            seconds,
            was_lufs: None,
            dip_db: 0.0,
            marks,
        }
    }
}

impl Record {
    /// The record of a folder; a new one where there is none, or none that can be read.
    pub(super) fn open(dir: &Path) -> Record {
        let text = std::fs::read_to_string(dir.join(NAME)).unwrap_or_default();
        let mut kept: Kept = serde_json::from_str(&text).unwrap_or_default();
        kept.about = "What the files of this folder were made from: `underfoot lesson` goes on where it was stopped.".into();
        Record {
            dir: dir.to_path_buf(),
            kept: Mutex::new(kept),
        }
    }

    fn with<T>(&self, act: impl FnOnce(&mut Kept) -> T) -> T {
        act(&mut self.kept.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Whether a file stands there as it was finished, made from the same.
    pub(super) fn is_made(&self, name: &str, from: &str) -> bool {
        let made = self.with(|kept| kept.files.get(name).cloned());
        let length = || std::fs::metadata(self.dir.join(name)).map(|file| file.len());
        made.is_some_and(|made| {
            made.from == from && length().is_ok_and(|bytes| bytes == made.bytes)
        })
    }

    /// What is known of a track, if it is made from the same.
    pub(super) fn facts(&self, track: &str, from: &str) -> Option<Facts> {
        let facts = self.with(|kept| kept.tracks.get(track).cloned());
        facts.filter(|facts| facts.from == from)
    }

    /// A file stands in its place.
    pub(super) fn made(&self, name: &str, from: &str, bytes: u64) {
        let from = from.to_string();
        self.with(|kept| kept.files.insert(name.to_string(), Made { from, bytes }));
    }

    /// A track is known.
    pub(super) fn know(&self, track: &str, facts: Facts) {
        self.with(|kept| kept.tracks.insert(track.to_string(), facts));
    }

    /// Writes it down. What it tells of stands in its place already.
    pub(super) fn keep(&self) -> std::io::Result<()> {
        self.with(|kept| {
            let text = serde_json::to_string_pretty(kept)?;
            WholeFile::write(&self.dir.join(NAME), text.as_bytes())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_stands_there_whole_and_of_the_same_is_made() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("track");
        let record = Record::open(dir.path());
        std::fs::write(&path, "12345").unwrap();
        assert!(!record.is_made("track", "a"), "no word of it");
        record.made("track", "a", 5);
        record.keep().unwrap();
        let record = Record::open(dir.path());
        assert!(record.is_made("track", "a"));
        assert!(!record.is_made("track", "b"), "made from something else");
        std::fs::write(&path, "1234").unwrap();
        assert!(!record.is_made("track", "a"), "cut short");
        std::fs::remove_file(&path).unwrap();
        assert!(!record.is_made("track", "a"), "gone");
        std::fs::write(dir.path().join(NAME), "{").unwrap();
        assert!(
            !Record::open(dir.path()).is_made("track", "a"),
            "a record cut short"
        );
    }
}
