//! What came of an installation, from root to whoever tells the player: a file in a directory that only root can change.
// A file is written and read here.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use crate::daemon::files;
use std::io::Write;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::time::SystemTime;
use tempfile::Builder;

const IS_IN: &str = "installed";
const IS_NOT: &str = "not installed";

/// What came of an installation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outcome {
    /// Whether the new version is in.
    pub is_in: bool,
    /// In words.
    pub told: String,
    /// When.
    pub at: Option<SystemTime>,
}

/// Leaves it where it is waited for, whole.
///
/// # Errors
/// When it cannot be written.
pub fn leave(path: &Path, done: &Result<String, String>) -> Result<(), String> {
    let (word, told) = match done {
        Ok(told) => (IS_IN, told),
        Err(why) => (IS_NOT, why),
    };
    let written = || -> std::io::Result<()> {
        let dir = place(path);
        let readable = std::fs::Permissions::from_mode(0o644);
        let mut file = Builder::new().permissions(readable).tempfile_in(dir)?;
        write!(file, "{word}\n{told}\n")?;
        file.persist(path).map_err(|error| error.error)?;
        Ok(())
    };
    written().map_err(|error| {
        let why = files::why(&error);
        format!("{}: cannot be written ({why})", path.display())
    })
}

/// The directory in which it is left.
fn place(path: &Path) -> &Path {
    let dir = path.parent();
    let dir = dir.filter(|dir| !dir.as_os_str().is_empty());
    dir.unwrap_or(Path::new("."))
}

/// Whether somebody waits for it: there is a place for it.
pub fn is_awaited(path: &Path) -> bool {
    place(path).is_dir()
}

/// What was left there; none where nothing was.
pub fn left(path: &Path) -> Option<Outcome> {
    let text = files::text(path).ok()?;
    let (word, told) = text.split_once('\n')?;
    let at = std::fs::metadata(path).and_then(|about| about.modified());
    Some(Outcome {
        is_in: word == IS_IN,
        told: told.trim().to_string(),
        at: at.ok(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_read_back_and_anybody_may_read_it() {
        let dir = tempfile::tempdir().expect("a directory");
        let path = dir.path().join("outcome");
        assert_eq!(left(&path), None);
        let cases = [
            (
                Ok("2 is installed; 1 is kept".to_string()),
                true,
                "2 is installed; 1 is kept",
            ),
            (
                Err("2 does not run here: back to 1".to_string()),
                false,
                "2 does not run here: back to 1",
            ),
        ];
        for (done, is_in, told) in cases {
            leave(&path, &done).expect("a file");
            let outcome = left(&path).expect("an outcome");
            assert_eq!((outcome.is_in, outcome.told.as_str()), (is_in, told));
            let mode = std::fs::metadata(&path)
                .expect("a file")
                .permissions()
                .mode();
            assert_eq!(mode & 0o777, 0o644);
        }
        std::fs::write(&path, "").expect("a file");
        assert_eq!(left(&path), None);
    }
}
