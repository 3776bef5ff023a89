//! What can be wrong with a journal's file, in words for a player.

use rusqlite::ErrorCode;
use std::path::Path;

/// Why what lies there cannot be used; what is told of it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// It will never do: it is to be set aside.
    #[error("{0}")]
    Unusable(String),
    /// It cannot be written now: the disk is full, read-only, missing.
    #[error("{0}")]
    NotNow(String),
}

pub(super) fn not_now(path: &Path, error: &std::io::Error) -> Trouble {
    Trouble::NotNow(format!(
        "{}: {}",
        path.display(),
        crate::fault::without_number(error)
    ))
}

/// What SQLite says, for a player: whether the file will never do, or only not now.
pub(super) fn told(path: &Path, error: &rusqlite::Error) -> Trouble {
    let path = path.display();
    match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => Trouble::Unusable(format!("{path}: it is no journal")),
        Some(ErrorCode::DatabaseCorrupt) => {
            Trouble::Unusable(format!("{path}: the journal is damaged"))
        }
        Some(ErrorCode::DiskFull) => Trouble::NotNow(format!("{path}: no space is left")),
        Some(ErrorCode::ReadOnly) => {
            Trouble::NotNow(format!("{path}: it cannot be written (read-only)"))
        }
        Some(ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
            Trouble::NotNow(format!("{path}: it cannot be opened"))
        }
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            Trouble::NotNow(format!("{path}: another program holds it"))
        }
        Some(ErrorCode::SystemIoFailure) => {
            Trouble::NotNow(format!("{path}: the disk cannot be read or written"))
        }
        _ => Trouble::Unusable(format!("{path}: the journal cannot be read ({error})")),
    }
}
