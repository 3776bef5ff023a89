//! Opening the file, whatever lies in its place.
// Looks at files and renames them.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::clock::Now;
use super::inspect::{begins_as_journal, is_ours};
use super::merge::salvage;
use super::schema;
use super::store::Store;
use super::trouble::{Trouble, not_now, told};
use rusqlite::{Connection, OpenFlags};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// A journal that was opened.
#[derive(Debug)]
pub struct Opened {
    pub store: Store,
    /// What was set aside for it, and why: to be told once.
    pub told: Option<String>,
}

/// Opens the journal to write, or makes one. What lies there and cannot be used is set aside by date, with its log, and what
/// can be read of it is taken over.
///
/// # Errors
/// When nothing can be written there now.
pub fn open(path: &Path, now: &Now) -> Result<Opened, Trouble> {
    open_for(path, now, us())
}

fn us() -> u32 {
    rustix::process::geteuid().as_raw()
}

fn open_for(path: &Path, now: &Now, user: u32) -> Result<Opened, Trouble> {
    make_directory_of(path)?;
    match open_here(path, Layer::Usual(user)) {
        Ok(store) => Ok(Opened { store, told: None }),
        Err(Trouble::Unusable(why)) => {
            let aside = set_aside(path, now).map_err(|error| not_now(path, &error))?;
            let mut store = open_here(path, Layer::Usual(user))?;
            // What a link leads to is none of ours.
            let is_file = std::fs::symlink_metadata(&aside).is_ok_and(|found| found.is_file());
            let saved = if is_file {
                salvage(store.connection_mut(), &aside)
            } else {
                0
            };
            let rest = match saved {
                0 => String::new(),
                takes => format!("; {takes} takes of it could be read"),
            };
            let told = format!(
                "{why}; it is now {}, and a new journal begins{rest}",
                aside.display()
            );
            Ok(Opened {
                store,
                told: Some(told),
            })
        }
        Err(not_now) => Err(not_now),
    }
}

/// Opens or makes a journal on another file layer (a SQLite VFS, by name), where nothing is looked at or set aside first.
///
/// # Errors
/// When it cannot be used.
pub fn open_with_vfs(path: &Path, vfs: &str) -> Result<Store, Trouble> {
    open_here(path, Layer::Other(vfs))
}

/// Opens the journal to write, or makes one; what lies there and cannot be used stays where it is.
///
/// # Errors
/// When it cannot be used.
pub fn open_as_it_is(path: &Path) -> Result<Store, Trouble> {
    make_directory_of(path)?;
    open_here(path, Layer::Usual(us()))
}

/// What lies under SQLite.
enum Layer<'a> {
    /// The system's, used by this user.
    Usual(u32),
    /// Another one, by name.
    Other(&'a str),
}

/// Makes the file's directory, so that a power cut does not take it back.
fn make_directory_of(path: &Path) -> Result<(), Trouble> {
    let dir = path.parent().filter(|dir| !dir.as_os_str().is_empty());
    let Some(dir) = dir.filter(|dir| !dir.is_dir()) else {
        return Ok(());
    };
    let made =
        std::fs::create_dir_all(dir).and_then(|()| dir.parent().map_or(Ok(()), sync_directory));
    made.map_err(|error| not_now(path, &error))
}

fn sync_directory(dir: &Path) -> std::io::Result<()> {
    let dir = if dir.as_os_str().is_empty() {
        Path::new(".")
    } else {
        dir
    };
    std::fs::File::open(dir)?.sync_all()
}

fn open_here(path: &Path, layer: Layer<'_>) -> Result<Store, Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX
        | OpenFlags::SQLITE_OPEN_NOFOLLOW;
    let db = match layer {
        Layer::Other(vfs) => Connection::open_with_flags_and_vfs(path, flags, vfs),
        Layer::Usual(user) => {
            look_at(path, user)?;
            Connection::open_with_flags(path, flags)
        }
    };
    let mut db = db.map_err(|error| told(path, &error))?;
    is_ours(&db, path)?;
    // Set up first: the size of a page is that of the first table.
    schema::set_up(&db).map_err(|error| told(path, &error))?;
    schema::migrate(&mut db).map_err(|error| told(path, &error))?;
    let check: String = db
        .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
        .map_err(|error| told(path, &error))?;
    if check != "ok" {
        return Err(Trouble::Unusable(format!(
            "{}: the journal is damaged ({check})",
            path.display()
        )));
    }
    Ok(Store::new(db))
}

/// What can be said of the file from outside.
fn look_at(path: &Path, user: u32) -> Result<(), Trouble> {
    let Ok(found) = std::fs::symlink_metadata(path) else {
        return Ok(());
    };
    let unusable = |why: &str| Err(Trouble::Unusable(format!("{}: {why}", path.display())));
    if found.is_symlink() {
        return unusable("it is a link, and the journal is to be a file");
    }
    if !found.is_file() {
        return unusable("it is no file");
    }
    const ROOT: u32 = 0;
    if found.uid() != user && user != ROOT {
        return unusable("it belongs to another user");
    }
    begins_as_journal(path)
}

/// Moves the file out of the way, its log with it: a log without its file would be lost, a file without its log be short.
fn set_aside(path: &Path, now: &Now) -> std::io::Result<PathBuf> {
    let date = jiff::Timestamp::from_millisecond(now.wall_ms).map_or_else(
        |_| "undated".to_string(),
        |at| {
            at.to_zoned_datetime(jiff::tz::TimeZone::system())
                .date()
                .to_string()
        },
    );
    let beside = |end: &str| {
        let mut name = path.as_os_str().to_owned();
        name.push(end);
        PathBuf::from(name)
    };
    let names = (1..1_000).map(|number| match number {
        1 => beside(&format!(".{date}")),
        _ => beside(&format!(".{date}-{number}")),
    });
    let is_free = |name: &PathBuf| std::fs::symlink_metadata(name).is_err();
    let aside = names
        .into_iter()
        .find(is_free)
        .unwrap_or_else(|| beside(".aside"));
    std::fs::rename(path, &aside)?;
    path.parent().map_or(Ok(()), sync_directory)?;
    for log in ["-wal", "-shm"] {
        let mut to = aside.as_os_str().to_owned();
        to.push(log);
        // There need not be one.
        let _ = std::fs::rename(beside(log), to);
    }
    Ok(aside)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_of_another_user_is_set_aside() {
        let dir = tempfile::tempdir().expect("a directory");
        let path = dir.path().join("journal.db");
        let now = Now {
            boot: "one".into(),
            boot_ms: 0,
            wall_ms: 1_789_991_000_000,
            synced: true,
        };
        assert_eq!(open_for(&path, &now, us()).expect("a new one").told, None);
        let stranger = us() + 1;
        let told = open_for(&path, &now, stranger).expect("a new one").told;
        let told = told.expect("what became of the old one");
        assert!(told.contains("it belongs to another user"), "{told}");
        assert!(dir.path().join("journal.db.2026-09-21").exists() && path.exists());
    }
}
