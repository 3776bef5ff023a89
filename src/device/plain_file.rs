//! Files that users name, opened so that no name can hold us up: a named pipe that nobody writes to would do so for ever.
// An adapter: it opens files.
#![allow(clippy::disallowed_types)]

use std::fs::{File, FileType};
use std::io::{Error, ErrorKind, Result};
use std::os::unix::fs::{FileTypeExt, OpenOptionsExt};
use std::path::Path;

const DIRECTORY: &str = "directory";

/// Opens a file to read. What the shell handed over (`/dev/stdin`, `/dev/fd/63`) may be anything, as `-` may.
///
/// # Errors
/// When it cannot be opened, or is no file: a directory, a pipe, a device, a socket.
pub fn open_plain(path: &Path) -> Result<File> {
    if path == Path::new("/dev/stdin") || path.starts_with("/dev/fd") {
        return File::open(path);
    }
    // A socket cannot even be opened.
    if let Some(what) = std::fs::metadata(path)
        .ok()
        .and_then(|found| what_else(found.file_type()))
    {
        return Err(no_file(what));
    }
    let flags = rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::NOCTTY;
    let file = File::options()
        .read(true)
        .custom_flags(flags.bits() as i32)
        .open(path)?;
    // It may be another one than a moment ago.
    match what_else(file.metadata()?.file_type()) {
        None => Ok(file),
        Some(what) => Err(no_file(what)),
    }
}

/// Opens a file to write from its beginning; a pipe only where somebody reads it.
///
/// # Errors
/// When it cannot be opened.
pub fn create_plain(path: &Path) -> Result<File> {
    let flags = rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::NOCTTY;
    let file = File::options()
        .write(true)
        .create(true)
        .truncate(true)
        .custom_flags(flags.bits() as i32)
        .open(path)
        .map_err(|error| match error.raw_os_error() {
            Some(libc::ENXIO) => Error::other("it is a pipe that nobody reads, or a socket"),
            _ => error,
        })?;
    // To open was not to wait; to write may.
    rustix::fs::fcntl_setfl(&file, rustix::fs::OFlags::empty())?;
    Ok(file)
}

fn no_file(what: &str) -> Error {
    match what {
        DIRECTORY => Error::new(ErrorKind::IsADirectory, "it is a directory"),
        _ => Error::other(format!("it is a {what}, no file")),
    }
}

/// What it is, where it is no file.
fn what_else(found: FileType) -> Option<&'static str> {
    let kinds = [
        (found.is_dir(), DIRECTORY),
        (found.is_fifo(), "pipe"),
        (found.is_socket(), "socket"),
        (found.is_char_device() || found.is_block_device(), "device"),
    ];
    let other = kinds
        .into_iter()
        .find_map(|(is_it, name)| is_it.then_some(name));
    other.or((!found.is_file()).then_some("thing of another kind"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_files_are_opened_and_nothing_is_waited_for() {
        let dir = tempfile::tempdir().expect("a directory");
        let at = |name: &str| dir.path().join(name);
        std::fs::File::create(at("file")).expect("a file");
        rustix::fs::mkfifoat(
            rustix::fs::CWD,
            at("pipe"),
            rustix::fs::Mode::from_raw_mode(0o600),
        )
        .expect("a pipe");
        let _socket = std::os::unix::net::UnixListener::bind(at("socket")).expect("a socket");
        std::os::unix::fs::symlink(at("pipe"), at("link")).expect("a link");
        let told = |path: &Path| open_plain(path).err().map(|error| error.to_string());
        let cases = [
            (at("file"), None),
            (at("pipe"), Some("it is a pipe, no file")),
            (at("link"), Some("it is a pipe, no file")),
            (at("socket"), Some("it is a socket, no file")),
            (at("."), Some("it is a directory")),
            ("/dev/zero".into(), Some("it is a device, no file")),
        ];
        for (path, expected) in cases {
            assert_eq!(told(&path).as_deref(), expected, "{path:?}");
        }
        let told = create_plain(&at("pipe")).expect_err("nobody reads");
        assert_eq!(
            told.to_string(),
            "it is a pipe that nobody reads, or a socket"
        );
    }
}
