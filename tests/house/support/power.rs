//! A disk whose power can be cut: a file layer for SQLite (a "VFS", <https://sqlite.org/vfs.html>) that lies in memory and
//! forgets what was not synced, or keeps any of its sectors. What the real layer does, by its documentation and source
//! (os_unix.c): the name of a new log is safe with the log's first sync, which syncs the directory; a file that is
//! overwritten keeps what stands beside.

#![allow(unsafe_code)]

use rusqlite::ffi;
use std::collections::HashMap;
use std::ffi::{CStr, CString, c_char, c_int, c_void};
use std::sync::{Arc, Mutex, MutexGuard};

/// What the medium writes at once.
const SECTOR: usize = 512;

/// A source of numbers (S. Vigna, splitmix64, public domain).
#[derive(Debug, Clone)]
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n.max(1)
    }

    /// 0 to 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Standard normal (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
}

#[derive(Debug, Clone)]
enum Change {
    Write(usize, Vec<u8>),
    Truncate(usize),
}

#[derive(Debug, Clone, Default)]
struct FileOnDisk {
    /// What is on the medium.
    safe: Vec<u8>,
    /// Whether its name is.
    named: bool,
    /// What programs see.
    seen: Vec<u8>,
    /// What was done since the last sync.
    changes: Vec<Change>,
}

/// What the disk did.
#[derive(Debug, Clone, Copy, Default)]
pub struct DiskCounts {
    pub operations: u64,
    pub written_bytes: u64,
    pub syncs: u64,
}

#[derive(Debug, Default)]
struct Medium {
    files: HashMap<String, FileOnDisk>,
    shared: HashMap<String, Vec<Box<[u8; 32_768]>>>,
    counts: DiskCounts,
    /// The operation at which the power goes.
    cut_at: Option<u64>,
    is_off: bool,
}

impl Medium {
    /// Counts something that reaches the medium; false: the power is off.
    fn has_power(&mut self) -> bool {
        self.counts.operations += 1;
        if self.cut_at == Some(self.counts.operations) {
            self.is_off = true;
        }
        !self.is_off
    }

    fn write(&mut self, name: &str, at: usize, bytes: &[u8]) -> bool {
        let powered = self.has_power();
        let was_off = self.is_off && self.cut_at != Some(self.counts.operations);
        if was_off {
            return false;
        }
        // The write during which the power goes may reach the medium in part.
        let file = self.files.entry(name.to_string()).or_default();
        apply(&mut file.seen, &Change::Write(at, bytes.to_vec()));
        file.changes.push(Change::Write(at, bytes.to_vec()));
        self.counts.written_bytes += bytes.len() as u64;
        powered
    }

    fn sync(&mut self, name: &str) -> bool {
        if !self.has_power() {
            return false;
        }
        self.counts.syncs += 1;
        let is_log = name.ends_with("-wal") || name.ends_with("-journal");
        let Some(file) = self.files.get_mut(name) else {
            return true;
        };
        file.safe.clone_from(&file.seen);
        file.changes.clear();
        if is_log && !file.named {
            self.files.values_mut().for_each(|file| file.named = true);
        }
        true
    }

    fn reboot(&mut self, dice: &mut Dice) {
        let forgets_all = dice.below(3) == 0;
        self.files
            .retain(|_, file| file.named || !forgets_all && dice.below(2) == 0);
        for file in self.files.values_mut() {
            for change in std::mem::take(&mut file.changes) {
                if forgets_all {
                    continue;
                }
                match change {
                    Change::Write(at, bytes) => {
                        for (number, sector) in bytes.chunks(SECTOR).enumerate() {
                            if dice.below(2) == 0 {
                                let at = at + number * SECTOR;
                                apply(&mut file.safe, &Change::Write(at, sector.to_vec()));
                            }
                        }
                    }
                    cut if dice.below(2) == 0 => apply(&mut file.safe, &cut),
                    Change::Truncate(_) => {}
                }
            }
            file.seen.clone_from(&file.safe);
            file.named = true;
        }
        self.shared.clear();
        (self.is_off, self.cut_at, self.counts) = (false, None, DiskCounts::default());
    }
}

fn apply(bytes: &mut Vec<u8>, change: &Change) {
    match change {
        Change::Write(at, new) => {
            if bytes.len() < at + new.len() {
                bytes.resize(at + new.len(), 0);
            }
            bytes[*at..at + new.len()].copy_from_slice(new);
        }
        Change::Truncate(length) => bytes.resize(*length, 0),
    }
}

/// The disk, registered with SQLite under a name of its own until it is dropped.
pub struct Disk {
    medium: Arc<Mutex<Medium>>,
    vfs: Box<ffi::sqlite3_vfs>,
    name: CString,
}

// SAFETY: what SQLite calls takes the lock.
unsafe impl Send for Disk {}

fn locked(medium: &Mutex<Medium>) -> MutexGuard<'_, Medium> {
    medium.lock().unwrap_or_else(|broken| broken.into_inner())
}

impl Disk {
    pub fn new(name: &str) -> Disk {
        let medium = Arc::new(Mutex::new(Medium::default()));
        let name = CString::new(name).expect("a name");
        // SAFETY: a struct of numbers and optional pointers.
        let mut vfs: Box<ffi::sqlite3_vfs> = Box::new(unsafe { std::mem::zeroed() });
        vfs.iVersion = 2;
        vfs.szOsFile = size_of::<OpenFile>() as c_int;
        vfs.mxPathname = 512;
        vfs.zName = name.as_ptr();
        vfs.pAppData = Arc::as_ptr(&medium).cast_mut().cast();
        vfs.xOpen = Some(open);
        vfs.xDelete = Some(delete);
        vfs.xAccess = Some(access);
        vfs.xFullPathname = Some(full_path);
        vfs.xRandomness = Some(randomness);
        vfs.xSleep = Some(sleep);
        vfs.xCurrentTimeInt64 = Some(current_time);
        vfs.xGetLastError = Some(last_error);
        // SAFETY: it lives until `drop` takes it back.
        let done = unsafe { ffi::sqlite3_vfs_register(&raw mut *vfs, 0) };
        assert_eq!(done, ffi::SQLITE_OK);
        Disk { medium, vfs, name }
    }

    pub fn name(&self) -> &str {
        self.name.to_str().expect("it was text")
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

// ---- what SQLite calls -----------------------------------------------------------------------------------

#[repr(C)]
struct OpenFile {
    base: ffi::sqlite3_file,
    medium: *const Mutex<Medium>,
    name: *mut String,
    temporary: bool,
}

/// # Safety
/// `file` is one that `open` made.
unsafe fn parts<'a>(file: *mut ffi::sqlite3_file) -> (&'a Mutex<Medium>, &'a str) {
    // SAFETY: as promised.
    unsafe {
        let file = &*file.cast::<OpenFile>();
        (&*file.medium, &*file.name)
    }
}

fn status(is_fine: bool, code: c_int) -> c_int {
    if is_fine { ffi::SQLITE_OK } else { code }
}

unsafe extern "C" fn open(
    vfs: *mut ffi::sqlite3_vfs,
    name: ffi::sqlite3_filename,
    file: *mut ffi::sqlite3_file,
    flags: c_int,
    out: *mut c_int,
) -> c_int {
    // SAFETY: SQLite hands over a file of `szOsFile` bytes and a name that ends with a zero, or none.
    unsafe {
        (*file).pMethods = std::ptr::null();
        let medium = (*vfs).pAppData.cast::<Mutex<Medium>>().cast_const();
        let temporary = name.is_null();
        let path = match temporary {
            true => format!("temporary-{file:p}"),
            false => CStr::from_ptr(name).to_string_lossy().into_owned(),
        };
        let mut inside = locked(&*medium);
        if inside.is_off
            || !temporary
                && !inside.files.contains_key(&path)
                && flags & ffi::SQLITE_OPEN_CREATE == 0
        {
            return ffi::SQLITE_CANTOPEN;
        }
        inside.files.entry(path.clone()).or_default();
        drop(inside);
        let made = file.cast::<OpenFile>();
        (&raw mut (*made).medium).write(medium);
        (&raw mut (*made).name).write(Box::into_raw(Box::new(path)));
        (&raw mut (*made).temporary).write(temporary);
        (*file).pMethods = &raw const METHODS;
        if !out.is_null() {
            *out = flags;
        }
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn delete(
    vfs: *mut ffi::sqlite3_vfs,
    name: *const c_char,
    _sync: c_int,
) -> c_int {
    // SAFETY: as for `open`.
    let (medium, name) = unsafe {
        (
            &*(*vfs).pAppData.cast::<Mutex<Medium>>(),
            CStr::from_ptr(name).to_string_lossy(),
        )
    };
    let mut inside = locked(medium);
    if !inside.has_power() {
        return ffi::SQLITE_IOERR_DELETE;
    }
    // A log is only taken away when all of it is safe in the file: to forget that is no loss, and is not tried.
    inside.files.remove(name.as_ref());
    ffi::SQLITE_OK
}

unsafe extern "C" fn access(
    vfs: *mut ffi::sqlite3_vfs,
    name: *const c_char,
    _flags: c_int,
    out: *mut c_int,
) -> c_int {
    // SAFETY: as for `open`.
    unsafe {
        let medium = &*(*vfs).pAppData.cast::<Mutex<Medium>>();
        let name = CStr::from_ptr(name).to_string_lossy();
        let inside = locked(medium);
        // An empty log is none (as os_unix.c has it).
        *out = c_int::from(
            inside
                .files
                .get(name.as_ref())
                .is_some_and(|file| !file.seen.is_empty()),
        );
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn full_path(
    _vfs: *mut ffi::sqlite3_vfs,
    name: *const c_char,
    length: c_int,
    out: *mut c_char,
) -> c_int {
    // SAFETY: the name ends with a zero, `out` has `length` bytes.
    unsafe {
        let bytes = CStr::from_ptr(name).to_bytes_with_nul();
        if bytes.len() > length as usize {
            return ffi::SQLITE_CANTOPEN;
        }
        std::ptr::copy_nonoverlapping(bytes.as_ptr().cast(), out, bytes.len());
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn randomness(
    vfs: *mut ffi::sqlite3_vfs,
    length: c_int,
    out: *mut c_char,
) -> c_int {
    // SAFETY: `out` has `length` bytes. Ids must differ from run to run; nothing else hangs on these numbers.
    let out = unsafe { std::slice::from_raw_parts_mut(out.cast::<u8>(), length as usize) };
    let time = std::time::UNIX_EPOCH
        .elapsed()
        .map_or(0, |time| time.as_nanos() as u64);
    let mut dice = Dice(time ^ vfs as u64);
    out.fill_with(|| dice.next() as u8);
    length
}

unsafe extern "C" fn sleep(_vfs: *mut ffi::sqlite3_vfs, micros: c_int) -> c_int {
    micros
}

unsafe extern "C" fn current_time(_vfs: *mut ffi::sqlite3_vfs, out: *mut i64) -> c_int {
    // SAFETY: SQLite hands over a number to write to.
    unsafe { *out = 210_866_760_000_000 };
    ffi::SQLITE_OK
}

unsafe extern "C" fn last_error(
    _vfs: *mut ffi::sqlite3_vfs,
    _n: c_int,
    _out: *mut c_char,
) -> c_int {
    0
}

static METHODS: ffi::sqlite3_io_methods = ffi::sqlite3_io_methods {
    iVersion: 2,
    xClose: Some(close),
    xRead: Some(read),
    xWrite: Some(write),
    xTruncate: Some(truncate),
    xSync: Some(sync),
    xFileSize: Some(file_size),
    xLock: Some(lock),
    xUnlock: Some(lock),
    xCheckReservedLock: Some(check_reserved),
    xFileControl: Some(control),
    xSectorSize: Some(sector_size),
    xDeviceCharacteristics: Some(characteristics),
    xShmMap: Some(shm_map),
    xShmLock: Some(shm_lock),
    xShmBarrier: Some(shm_barrier),
    xShmUnmap: Some(shm_unmap),
    xFetch: None,
    xUnfetch: None,
};

unsafe extern "C" fn close(file: *mut ffi::sqlite3_file) -> c_int {
    // SAFETY: `open` made it, and it is closed once.
    unsafe {
        let made = file.cast::<OpenFile>();
        let name = Box::from_raw((*made).name);
        if (*made).temporary {
            locked(&*(*made).medium).files.remove(name.as_str());
        }
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn read(
    file: *mut ffi::sqlite3_file,
    out: *mut c_void,
    length: c_int,
    at: i64,
) -> c_int {
    // SAFETY: `out` has `length` bytes.
    let ((medium, name), out) = unsafe {
        (
            parts(file),
            std::slice::from_raw_parts_mut(out.cast::<u8>(), length as usize),
        )
    };
    let inside = locked(medium);
    if inside.is_off {
        return ffi::SQLITE_IOERR_READ;
    }
    let seen = inside.files.get(name).map_or(&[][..], |file| &file.seen);
    let there = seen.get(at as usize..).unwrap_or(&[]);
    let count = there.len().min(out.len());
    out[..count].copy_from_slice(&there[..count]);
    out[count..].fill(0);
    status(count == out.len(), ffi::SQLITE_IOERR_SHORT_READ)
}

unsafe extern "C" fn write(
    file: *mut ffi::sqlite3_file,
    bytes: *const c_void,
    length: c_int,
    at: i64,
) -> c_int {
    // SAFETY: there are `length` bytes.
    let ((medium, name), bytes) = unsafe {
        (
            parts(file),
            std::slice::from_raw_parts(bytes.cast::<u8>(), length as usize),
        )
    };
    status(
        locked(medium).write(name, at as usize, bytes),
        ffi::SQLITE_IOERR_WRITE,
    )
}

unsafe extern "C" fn truncate(file: *mut ffi::sqlite3_file, length: i64) -> c_int {
    // SAFETY: `open` made it.
    let (medium, name) = unsafe { parts(file) };
    let mut inside = locked(medium);
    if !inside.has_power() {
        return ffi::SQLITE_IOERR_TRUNCATE;
    }
    if let Some(file) = inside.files.get_mut(name) {
        let cut = Change::Truncate(length as usize);
        apply(&mut file.seen, &cut);
        file.changes.push(cut);
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn sync(file: *mut ffi::sqlite3_file, _flags: c_int) -> c_int {
    // SAFETY: `open` made it.
    let (medium, name) = unsafe { parts(file) };
    status(locked(medium).sync(name), ffi::SQLITE_IOERR_FSYNC)
}

unsafe extern "C" fn file_size(file: *mut ffi::sqlite3_file, out: *mut i64) -> c_int {
    // SAFETY: `open` made it; `out` is a number to write to.
    unsafe {
        let (medium, name) = parts(file);
        *out = locked(medium)
            .files
            .get(name)
            .map_or(0, |file| file.seen.len()) as i64;
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn lock(_file: *mut ffi::sqlite3_file, _level: c_int) -> c_int {
    ffi::SQLITE_OK
}

unsafe extern "C" fn check_reserved(_file: *mut ffi::sqlite3_file, out: *mut c_int) -> c_int {
    // SAFETY: `out` is a number to write to. Each disk has one connection.
    unsafe { *out = 0 };
    ffi::SQLITE_OK
}

unsafe extern "C" fn control(
    _file: *mut ffi::sqlite3_file,
    _what: c_int,
    _with: *mut c_void,
) -> c_int {
    ffi::SQLITE_NOTFOUND
}

unsafe extern "C" fn sector_size(_file: *mut ffi::sqlite3_file) -> c_int {
    4096
}

unsafe extern "C" fn characteristics(_file: *mut ffi::sqlite3_file) -> c_int {
    ffi::SQLITE_IOCAP_POWERSAFE_OVERWRITE
}

unsafe extern "C" fn shm_map(
    file: *mut ffi::sqlite3_file,
    page: c_int,
    size: c_int,
    extend: c_int,
    out: *mut *mut c_void,
) -> c_int {
    assert_eq!(size, 32_768, "SQLite's size of a region");
    // SAFETY: `open` made it; a region stays where it is until the power is cut or nobody uses it.
    unsafe {
        let (medium, name) = parts(file);
        let mut inside = locked(medium);
        let regions = inside.shared.entry(name.to_string()).or_default();
        while extend != 0 && regions.len() <= page as usize {
            regions.push(Box::new([0; 32_768]));
        }
        let region = regions.get_mut(page as usize);
        *out = region.map_or(std::ptr::null_mut(), |region| region.as_mut_ptr().cast());
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn shm_lock(
    _file: *mut ffi::sqlite3_file,
    _at: c_int,
    _n: c_int,
    _flags: c_int,
) -> c_int {
    ffi::SQLITE_OK
}

unsafe extern "C" fn shm_barrier(_file: *mut ffi::sqlite3_file) {}

unsafe extern "C" fn shm_unmap(file: *mut ffi::sqlite3_file, delete: c_int) -> c_int {
    // SAFETY: `open` made it.
    unsafe {
        let (medium, name) = parts(file);
        if delete != 0 {
            locked(medium).shared.remove(name);
        }
    }
    ffi::SQLITE_OK
}
