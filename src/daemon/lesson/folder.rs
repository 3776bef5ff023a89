//! The folder of a lesson: one program at a time, nothing left over of one that was stopped, chart and drill in it.
// It reads and writes files.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::record::Record;
use crate::daemon::args::LessonArgs;
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::whole_file::{UNFINISHED, WholeFile};
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

/// The folders within it.
const WITHIN: [&str; 4] = ["", "tracks", "pages", "sheets"];

/// A folder that is ours while this lives.
pub(super) struct Folder {
    path: PathBuf,
    record: Record,
    /// The kernel gives the lock back when the program ends, however it ends.
    _lock: File,
}

impl Folder {
    /// Makes the folder, or takes the one that is there.
    ///
    /// # Errors
    /// When it cannot be written (65), or another one writes to it (69).
    pub(super) fn open(path: &Path) -> Result<Folder, Failure> {
        let cannot = |error: std::io::Error| {
            let text = format!(
                "{}: cannot be written ({})",
                path.display(),
                files::why(&error)
            );
            Failure::new(exit::DATA, text)
        };
        std::fs::create_dir_all(path).map_err(cannot)?;
        let lock = File::open(path).map_err(cannot)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let text = format!("{}: another underfoot makes a lesson there", path.display());
                return Err(Failure::new(exit::UNAVAILABLE, text));
            }
            Err(TryLockError::Error(error)) => return Err(cannot(error)),
        }
        for within in WITHIN {
            let dir = path.join(within);
            std::fs::create_dir_all(&dir).map_err(cannot)?;
            sweep(&dir).map_err(cannot)?;
        }
        Ok(Folder {
            path: path.to_path_buf(),
            record: Record::open(path),
            _lock: lock,
        })
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    pub(super) fn record(&self) -> &Record {
        &self.record
    }
}

/// Takes away what a program that was stopped had not finished.
fn sweep(dir: &Path) -> std::io::Result<()> {
    for entry in std::fs::read_dir(dir)? {
        let entry = entry?;
        let is_file = entry.file_type()?.is_file();
        if is_file && entry.file_name().to_string_lossy().starts_with(UNFINISHED) {
            std::fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}

/// Chart and drill beside the tracks, under their own names: the names.
///
/// # Errors
/// When one cannot be read or written.
pub(super) fn sources(args: &LessonArgs, dir: &Path) -> std::io::Result<Vec<String>> {
    let mut names = Vec::new();
    for path in [&args.chart, &args.drill] {
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let text = files::text(path).map_err(std::io::Error::other)?;
        WholeFile::write(&dir.join(&name), text.as_bytes())?;
        names.push(name);
    }
    Ok(names)
}
