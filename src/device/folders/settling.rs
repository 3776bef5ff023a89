//! When files that change have come to rest: one that is still being written is not read, and many at once are read once.

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::time::Duration;

/// From the last news to the reading: whoever copies a folder, or saves in two steps, is done by then.
const QUIET: Duration = Duration::from_millis(250);
/// What never rests is read all the same after so long.
const LONGEST: Duration = Duration::from_secs(3);

/// What is told of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum News {
    /// Somebody writes to it.
    Written,
    /// It is whole: whoever wrote to it has closed it, or it was moved here.
    Whole,
    /// It is there; whether it is whole, what follows tells.
    Came,
    /// It is gone.
    Went,
}

/// What changed and has not come to rest. All times are from one beginning.
#[derive(Debug, Default)]
pub struct Settling {
    writing: BTreeSet<PathBuf>,
    /// When something changed that was not told yet: first, last.
    changed: Option<(Duration, Duration)>,
}

impl Settling {
    /// Something is told of a file.
    pub fn hear(&mut self, path: PathBuf, news: News, at: Duration) {
        match news {
            News::Written => drop(self.writing.insert(path)),
            News::Whole | News::Went => drop(self.writing.remove(&path)),
            News::Came => {}
        }
        if news != News::Written {
            self.change(at);
        }
    }

    /// Something changed that names no file: a folder, a mount.
    pub fn change(&mut self, at: Duration) {
        let first = self.changed.map_or(at, |(first, _)| first);
        self.changed = Some((first, at));
    }

    /// Who writes was lost sight of.
    pub fn lose_sight(&mut self, at: Duration) {
        self.writing.clear();
        self.change(at);
    }

    /// How long to wait for more; none where nothing changed.
    pub fn patience(&self, at: Duration) -> Option<Duration> {
        let (first, last) = self.changed?;
        Some((last + QUIET).min(first + LONGEST).saturating_sub(at))
    }

    /// What is still being written, once what changed has come to rest: that is to be read now.
    pub fn rested(&mut self, at: Duration) -> Option<BTreeSet<PathBuf>> {
        self.patience(at).filter(Duration::is_zero)?;
        self.changed = None;
        Some(self.writing.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::News::{Came, Went, Whole, Written};
    use super::*;

    #[test]
    fn a_file_is_read_when_it_is_whole_and_many_are_read_once() {
        type Case<'a> = (&'a str, &'a [(u64, &'a str, News)], &'a [(u64, &'a str)]);
        // What is told (ms, file), and when it is read (ms) with what is left out then.
        let cases: [Case<'_>; 7] = [
            (
                "copied slowly",
                &[
                    (0, "a", Came),
                    (200, "a", Written),
                    (900, "a", Written),
                    (1000, "a", Whole),
                ],
                &[(250, "a"), (1250, "")],
            ),
            (
                "edited in place",
                &[(0, "a", Written), (5, "a", Whole)],
                &[(255, "")],
            ),
            ("renamed over", &[(0, "a", Whole)], &[(250, "")]),
            (
                "saved in two steps",
                &[(0, "a", Whole), (100, "a", Written), (110, "a", Whole)],
                &[(360, "")],
            ),
            (
                "another one meanwhile",
                &[(0, "a", Written), (0, "b", Whole), (400, "a", Whole)],
                &[(250, "a"), (650, "")],
            ),
            (
                "taken away while written",
                &[(0, "a", Written), (10, "a", Went)],
                &[(260, "")],
            ),
            ("only begun", &[(0, "a", Written)], &[]),
        ];
        for (name, told, read) in cases {
            let mut settling = Settling::default();
            let mut got = Vec::new();
            for ms in 0..5000 {
                let at = Duration::from_millis(ms);
                for (_, file, news) in told.iter().filter(|(when, ..)| *when == ms) {
                    settling.hear(file.into(), *news, at);
                }
                if let Some(writing) = settling.rested(at) {
                    let names: Vec<_> = writing
                        .iter()
                        .map(|path| path.display().to_string())
                        .collect();
                    got.push((ms, names.join(" ")));
                }
            }
            let read: Vec<_> = read
                .iter()
                .map(|(ms, left)| (*ms, left.to_string()))
                .collect();
            assert_eq!(got, read, "{name}");
        }
    }

    #[test]
    fn what_never_rests_is_read_all_the_same() {
        let mut settling = Settling::default();
        let mut read = Vec::new();
        for ms in (0..7000).step_by(100) {
            let at = Duration::from_millis(ms);
            settling.hear("a".into(), Whole, at);
            read.extend(settling.rested(at).map(|_| ms));
        }
        assert_eq!(read, [3000, 6100]);
    }
}
