//! Files that are whole or not there at all, whenever the power is cut.
// Files are written here.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use std::path::{Path, PathBuf};

/// How the name of a file begins that is not whole yet.
pub(super) const UNFINISHED: &str = ".underfoot-";

/// A file that stands in its place only once it is whole: until then it lies beside it under another name. What
/// is no plain file (a pipe, a device) is written to as it is.
#[derive(Debug)]
pub struct WholeFile {
    path: PathBuf,
    at: UsualPlace,
}

#[derive(Debug)]
enum UsualPlace {
    Beside(tempfile::NamedTempFile),
    There(std::fs::File),
}

impl WholeFile {
    /// Begins a file.
    ///
    /// # Errors
    /// When its directory cannot be written.
    pub fn create(path: &Path) -> std::io::Result<WholeFile> {
        use std::os::unix::fs::PermissionsExt;
        // A link stays a link.
        let path = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let at = match std::fs::metadata(&path) {
            Ok(there) if !there.is_file() => UsualPlace::There(std::fs::File::create(&path)?),
            _ => {
                let dir = path.parent().filter(|dir| !dir.as_os_str().is_empty());
                // As any new file: the umask takes away from this.
                let usual = std::fs::Permissions::from_mode(0o666);
                let beside = tempfile::Builder::new()
                    .prefix(UNFINISHED)
                    .permissions(usual)
                    .tempfile_in(dir.unwrap_or(Path::new(".")))?;
                UsualPlace::Beside(beside)
            }
        };
        Ok(WholeFile { path, at })
    }

    /// Where it will stand.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// A handle to write to.
    ///
    /// # Errors
    /// When there are too many.
    pub fn handle(&self) -> std::io::Result<std::fs::File> {
        match &self.at {
            UsualPlace::Beside(file) => file.as_file().try_clone(),
            UsualPlace::There(file) => file.try_clone(),
        }
    }

    /// Puts it in its place: synced before and after, so that a power cut leaves the old one or the new one.
    ///
    /// # Errors
    /// When it cannot be written or renamed.
    pub fn keep(self) -> std::io::Result<()> {
        if let UsualPlace::Beside(file) = self.at {
            file.as_file().sync_all()?;
            file.persist(&self.path).map_err(|error| error.error)?;
            sync_directory_of(&self.path)?;
        }
        Ok(())
    }

    /// Writes a file in one go.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn write(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
        use std::io::Write;
        let file = WholeFile::create(path)?;
        file.handle()?.write_all(bytes)?;
        file.keep()
    }

    /// Writes one of many files that are easily made again: whole, but not synced.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn write_unsynced(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
        use std::io::Write;
        let file = WholeFile::create(path)?;
        file.handle()?.write_all(bytes)?;
        if let UsualPlace::Beside(beside) = file.at {
            beside.persist(&file.path).map_err(|error| error.error)?;
        }
        Ok(())
    }
}

/// Has the names in the directory of a file safe from a power cut.
pub(super) fn sync_directory_of(path: &Path) -> std::io::Result<()> {
    let dir = path.parent().filter(|dir| !dir.as_os_str().is_empty());
    std::fs::File::open(dir.unwrap_or(Path::new(".")))?.sync_all()
}

/// Writes a file whole: beside it first, synced, then renamed, so that a power cut leaves the old or the new
/// one.
///
/// # Errors
/// When the directory cannot be written.
pub fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    use std::io::Write;
    let dir = path
        .parent()
        .filter(|dir| !dir.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    std::fs::create_dir_all(dir)?;
    let mut file = tempfile::NamedTempFile::new_in(dir)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    file.persist(path).map_err(|error| error.error)?;
    sync_directory_of(path)
}
