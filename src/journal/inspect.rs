//! Whether a file is a journal, and opening one to read.
// Looks at files.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::schema::{APPLICATION_ID, VERSION};
use super::trouble::{Trouble, not_now, told};
use rusqlite::{Connection, OpenFlags};
use std::io::Read;
use std::path::Path;

/// What a SQLite file begins with (its file format's documentation, section 1.3).
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// Opens a journal to read, without writing to it.
///
/// # Errors
/// When there is none, or what lies there is none.
pub fn open_to_read(path: &Path) -> Result<Connection, Trouble> {
    let missing = || Trouble::NotNow(format!("{}: there is no journal here yet", path.display()));
    let found = std::fs::metadata(path).map_err(|_| missing())?;
    if !found.is_file() {
        return Err(Trouble::Unusable(format!(
            "{}: it is no file",
            path.display()
        )));
    }
    begins_as_journal(path)?;
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let db = Connection::open_with_flags(path, flags).map_err(|error| told(path, &error))?;
    let set_up = db
        .busy_timeout(std::time::Duration::from_secs(5))
        .and_then(|()| db.pragma_update(None, "trusted_schema", false));
    set_up.map_err(|error| told(path, &error))?;
    is_ours(&db, path)?;
    Ok(db)
}

/// An empty file is one that a power cut left: a new one.
pub(super) fn begins_as_journal(path: &Path) -> Result<(), Trouble> {
    let mut start = Vec::new();
    let read = std::fs::File::open(path).and_then(|file| file.take(16).read_to_end(&mut start));
    read.map_err(|error| not_now(path, &error))?;
    if start.is_empty() || start == MAGIC {
        return Ok(());
    }
    Err(Trouble::Unusable(format!(
        "{}: it is no journal",
        path.display()
    )))
}

pub(super) fn is_ours(db: &Connection, path: &Path) -> Result<(), Trouble> {
    let read = |name| db.pragma_query_value(None, name, |row| row.get::<_, i32>(0));
    let tables = || {
        db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| {
            row.get::<_, i64>(0)
        })
    };
    let (id, version) = (read("application_id"), read("user_version"));
    let (id, version) = id
        .and_then(|id| Ok((id, version?)))
        .map_err(|error| told(path, &error))?;
    let is_new = id == 0 && version == 0 && tables().map_err(|error| told(path, &error))? == 0;
    if id != APPLICATION_ID && !is_new {
        return Err(Trouble::Unusable(format!(
            "{}: it is another program's database",
            path.display()
        )));
    }
    if version > VERSION {
        return Err(Trouble::Unusable(format!(
            "{}: a newer underfoot wrote it (version {version}, this one reads up to {VERSION})",
            path.display()
        )));
    }
    Ok(())
}
