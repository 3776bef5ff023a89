//! One daemon at a place: a lock file beside what two of them would take from each other.
// A file of our own.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};

/// The kernel gives the lock back when the process ends, however it ends; the file stays.
#[derive(Debug)]
pub struct Lock {
    _file: File,
}

/// Why there is no lock.
#[derive(Debug, thiserror::Error)]
pub enum LockError {
    /// Another daemon has it.
    #[error("another underfoot runs already{}: it has {}", process(*pid), path.display())]
    Taken { pid: Option<u32>, path: PathBuf },
    /// The file cannot be used; nothing is known of others.
    #[error("{}: {error}", path.display())]
    Unusable {
        path: PathBuf,
        error: std::io::Error,
    },
}

fn process(pid: Option<u32>) -> String {
    pid.map_or(String::new(), |pid| format!(" (process {pid})"))
}

impl Lock {
    /// Takes the lock at `path`, and writes there which process has it.
    ///
    /// # Errors
    /// When another process has it, with its number; when the file cannot be used.
    pub fn take(path: &Path) -> Result<Lock, LockError> {
        let unusable = |error| LockError::Unusable {
            path: path.to_path_buf(),
            error,
        };
        if let Some(dir) = path.parent() {
            std::fs::create_dir_all(dir).map_err(unusable)?;
        }
        let mut options = OpenOptions::new();
        let open = options.read(true).write(true).create(true).truncate(false);
        let mut file = open.open(path).map_err(unusable)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(LockError::Taken {
                    pid: owner(&mut file),
                    path: path.to_path_buf(),
                });
            }
            Err(TryLockError::Error(error)) => return Err(unusable(error)),
        }
        let written = file
            .set_len(0)
            .and_then(|()| writeln!(file, "{}", std::process::id()));
        written.map_err(unusable)?;
        Ok(Lock { _file: file })
    }
}

/// Which process wrote the file; none where it has not done so yet.
fn owner(file: &mut File) -> Option<u32> {
    let mut text = String::new();
    file.rewind().ok()?;
    file.take(16).read_to_string(&mut text).ok()?;
    text.trim().parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_is_told_who_was_first_and_a_lock_ends_with_its_owner() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("state/lock");
        let first = Lock::take(&path).unwrap();
        let told = Lock::take(&path).unwrap_err().to_string();
        let us = std::process::id();
        let expected = format!(
            "another underfoot runs already (process {us}): it has {}",
            path.display()
        );
        assert_eq!(told, expected);
        drop(first);
        assert!(path.exists());
        Lock::take(&path).unwrap();
        let in_file = dir.path().join("state/lock/lock");
        assert!(matches!(
            Lock::take(&in_file),
            Err(LockError::Unusable { .. })
        ));
    }
}
