//! A disk whose power can be cut: a file layer for SQLite (a "VFS", <https://sqlite.org/vfs.html>) that lies in memory and
//! forgets what was not synced, or keeps any of its sectors. What the real layer does, by its documentation and source
//! (os_unix.c): the name of a new log is safe with the log's first sync, which syncs the directory; a file that is
//! overwritten keeps what stands beside.

#![allow(unsafe_code)]

mod medium;
mod vfs;

use super::dice::Dice;
pub use medium::DiskCounts;
use medium::{Change, Medium, apply};
use rusqlite::ffi;
use std::ffi::CString;
use std::sync::{Arc, Mutex, MutexGuard};

/// What a program does with files.
#[derive(Debug, Clone)]
pub enum Operation {
    /// Opens a file, which is made where there is none.
    Open(String),
    /// From a place in the file on.
    Write(String, usize, Vec<u8>),
    Truncate(String, usize),
    Sync(String),
    SyncDirectory,
    Remove(String),
}

/// The disk, registered with SQLite under a name of its own until it is dropped.
pub struct Disk {
    medium: Arc<Mutex<Medium>>,
    vfs: Box<ffi::sqlite3_vfs>,
    name: CString,
}

// SAFETY: what SQLite calls takes the lock.
unsafe impl Send for Disk {}

impl Disk {
    pub fn new(name: &str) -> Disk {
        let medium = Arc::new(Mutex::new(Medium::default()));
        let name = CString::new(name).expect("a name");
        let mut vfs = vfs::layer();
        vfs.zName = name.as_ptr();
        vfs.pAppData = Arc::as_ptr(&medium).cast_mut().cast();
        // SAFETY: it lives until `drop` takes it back.
        let done = unsafe { ffi::sqlite3_vfs_register(&raw mut *vfs, 0) };
        assert_eq!(done, ffi::SQLITE_OK);
        Disk { medium, vfs, name }
    }

    pub fn name(&self) -> &str {
        self.name.to_str().expect("it was text")
    }

    /// Does again what another program did. Names are safe when their directory is synced, and only then.
    pub fn redo(&self, operation: &Operation) {
        let mut medium = locked(&self.medium);
        match operation {
            Operation::Open(name) => drop(medium.files.entry(name.clone()).or_default()),
            Operation::Write(name, at, bytes) => drop(medium.write(name, *at, bytes)),
            Operation::Truncate(name, length) => {
                let file = medium.files.entry(name.clone()).or_default();
                let cut = Change::Truncate(*length);
                apply(&mut file.seen, &cut);
                file.changes.push(cut);
            }
            Operation::Sync(name) => {
                if let Some(file) = medium.files.get_mut(name) {
                    file.safe.clone_from(&file.seen);
                    file.changes.clear();
                }
            }
            Operation::SyncDirectory => {
                medium.files.values_mut().for_each(|file| file.named = true)
            }
            Operation::Remove(name) => drop(medium.files.remove(name)),
        }
    }

    /// An empty disk.
    pub fn format(&self) {
        *locked(&self.medium) = Medium::default();
    }

    /// The power goes at the n-th operation from now.
    pub fn cut_at(&self, operation: u64) {
        let mut medium = locked(&self.medium);
        let so_far = medium.counts.operations;
        medium.cut_at = Some(so_far + operation.max(1));
    }

    /// Whether each sync fails from now on; what was written may have reached the medium all the same.
    pub fn refuse_syncs(&self, refuses: bool) {
        locked(&self.medium).refuses_syncs = refuses;
    }

    pub fn is_off(&self) -> bool {
        locked(&self.medium).is_off
    }

    /// The power comes back. What was not synced is gone, or any of its sectors are there.
    pub fn reboot(&self, dice: &mut Dice) {
        locked(&self.medium).reboot(dice);
    }

    pub fn counts(&self) -> DiskCounts {
        locked(&self.medium).counts
    }

    /// How long a file is.
    pub fn length(&self, name: &str) -> usize {
        locked(&self.medium)
            .files
            .get(name)
            .map_or(0, |file| file.seen.len())
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        // SAFETY: it was registered, and its connections are closed.
        unsafe { ffi::sqlite3_vfs_unregister(&raw mut *self.vfs) };
    }
}

fn locked(medium: &Mutex<Medium>) -> MutexGuard<'_, Medium> {
    medium.lock().unwrap_or_else(|broken| broken.into_inner())
}
