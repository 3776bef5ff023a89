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
    Trouble::NotNow(format!("{}: {}", path.display(), crate::fault::why(error)))
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
        // What stands in it is not what we write: a table is missing, a value is of another kind.
        None
        | Some(ErrorCode::Unknown | ErrorCode::ConstraintViolation | ErrorCode::TypeMismatch) => {
            Trouble::Unusable(format!("{path}: the journal cannot be read ({error})"))
        }
        // Short of memory, interrupted, a lock that the file system cannot give: no fault of the file.
        Some(_) => Trouble::NotNow(format!("{path}: it cannot be used now ({error})")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rusqlite::ffi;

    /// Result codes by SQLite's documentation ("Result and Error Codes"), and whether the file will never do.
    const CASES: [(i32, bool); 16] = [
        (ffi::SQLITE_CORRUPT, true),
        (ffi::SQLITE_NOTADB, true),
        (ffi::SQLITE_ERROR, true),
        (ffi::SQLITE_CONSTRAINT, true),
        (ffi::SQLITE_MISMATCH, true),
        (ffi::SQLITE_BUSY, false),
        (ffi::SQLITE_LOCKED, false),
        (ffi::SQLITE_FULL, false),
        (ffi::SQLITE_IOERR_FSYNC, false),
        (ffi::SQLITE_READONLY, false),
        (ffi::SQLITE_CANTOPEN, false),
        (ffi::SQLITE_PERM, false),
        (ffi::SQLITE_NOMEM, false),
        (ffi::SQLITE_PROTOCOL, false),
        (ffi::SQLITE_INTERRUPT, false),
        (ffi::SQLITE_SCHEMA, false),
    ];

    #[test]
    fn only_a_file_that_will_never_do_is_set_aside() {
        for (code, expected) in CASES {
            let error = rusqlite::Error::SqliteFailure(ffi::Error::new(code), None);
            let trouble = told(Path::new("x.db"), &error);
            let is_unusable = matches!(trouble, Trouble::Unusable(_));
            assert_eq!(is_unusable, expected, "{code}: {trouble}");
        }
    }
}
