//! What SQLite calls of a file layer, each with its meaning there (<https://sqlite.org/c3ref/vfs.html>, `io_methods.html`).

use super::locked;
use super::medium::{Change, Medium, apply};
use crate::support::dice::Dice;
use rusqlite::ffi;
use std::ffi::{CStr, c_char, c_int, c_void};
use std::sync::Mutex;

/// The layer, without a name and a medium yet.
pub(super) fn layer() -> Box<ffi::sqlite3_vfs> {
    // SAFETY: a struct of numbers and optional pointers.
    let mut vfs: Box<ffi::sqlite3_vfs> = Box::new(unsafe { std::mem::zeroed() });
    vfs.iVersion = 2;
    vfs.szOsFile = size_of::<OpenFile>() as c_int;
    vfs.mxPathname = 512;
    vfs.xOpen = Some(open);
    vfs.xDelete = Some(delete);
    vfs.xAccess = Some(access);
    vfs.xFullPathname = Some(full_path);
    vfs.xRandomness = Some(randomness);
    vfs.xSleep = Some(sleep);
    vfs.xCurrentTimeInt64 = Some(current_time);
    vfs.xGetLastError = Some(last_error);
    vfs
}

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
