//! The signature of a package, by minisign: what was checked is what is used.
// Files are copied here.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use crate::daemon::files;
use crate::device::plain_file::open_plain;
use minisign_verify::{Error, PublicKey, Signature};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// The largest package that is looked at.
const LARGEST_BYTES: u64 = 256 << 20;
const CHUNK_BYTES: usize = 64 * 1024;

/// A copy of a package whose signature is right.
#[derive(Debug)]
pub struct Sealed {
    copy: NamedTempFile,
    signature: String,
}

impl Sealed {
    /// Where the copy lies.
    pub fn path(&self) -> &Path {
        self.copy.path()
    }

    /// Keeps copy and signature under these names, the signature last, each whole whenever the power is cut.
    ///
    /// # Errors
    /// When they cannot be written.
    pub fn keep(self, package: &Path, signature: &Path) -> Result<(), String> {
        let failed = |path: &Path, error: &std::io::Error| {
            format!(
                "{}: cannot be written ({})",
                path.display(),
                files::why(error)
            )
        };
        let synced = self.copy.as_file().sync_all();
        synced.map_err(|error| failed(package, &error))?;
        let kept = self.copy.persist(package);
        kept.map_err(|error| failed(package, &error.error))?;
        let beside = || -> std::io::Result<()> {
            let dir = signature.parent().unwrap_or(Path::new("."));
            let mut file = NamedTempFile::new_in(dir)?;
            file.write_all(self.signature.as_bytes())?;
            file.as_file().sync_all()?;
            file.persist(signature).map_err(|error| error.error)?;
            std::fs::File::open(dir)?.sync_all()
        };
        beside().map_err(|error| failed(signature, &error))
    }
}

/// Copies a package into `dir` and checks the signature beside it on what was copied.
///
/// # Errors
/// Why it is not to be trusted, in words.
pub fn sealed(package: &Path, key: &Path, dir: &Path) -> Result<Sealed, String> {
    let unwritten = |error: std::io::Error| {
        format!(
            "{}: cannot be written ({})",
            dir.display(),
            files::why(&error)
        )
    };
    // Where the key or the signature is missing nothing is written.
    let mut copy = None;
    let signature = verified(package, key, |chunk| {
        let file = match &mut copy {
            Some(file) => file,
            None => copy.insert(NamedTempFile::new_in(dir).map_err(unwritten)?),
        };
        file.write_all(chunk).map_err(unwritten)
    })?;
    let copy = match copy {
        Some(copy) => copy,
        None => NamedTempFile::new_in(dir).map_err(unwritten)?,
    };
    Ok(Sealed { copy, signature })
}

/// Checks the signature beside a package, and gives it; `take` has what is checked.
///
/// # Errors
/// Why it is not to be trusted, in words.
pub fn verified(
    package: &Path,
    key: &Path,
    mut take: impl FnMut(&[u8]) -> Result<(), String>,
) -> Result<String, String> {
    let known = key_of(key)?;
    let beside = signature_of(package);
    let told = files::text(&beside);
    let text = told.map_err(|why| format!("{why}: a package needs its signature beside it"))?;
    let name = package.display();
    let signature = Signature::decode(&text)
        .map_err(|_| format!("{}: no signature of minisign", beside.display()))?;
    let mut check = known
        .verify_stream(&signature)
        .map_err(|error| match error {
            Error::UnexpectedKeyId => {
                format!(
                    "{name}: signed by somebody else than {} says",
                    key.display()
                )
            }
            _ => format!(
                "{}: a signature of another kind (minisign -S makes the right one)",
                beside.display()
            ),
        })?;
    let unread = |error: std::io::Error| format!("{name}: cannot be read ({})", files::why(&error));
    let mut from = open_plain(package).map_err(unread)?.take(LARGEST_BYTES + 1);
    let mut chunk = vec![0; CHUNK_BYTES];
    let mut length = 0;
    loop {
        let read = from.read(&mut chunk).map_err(unread)?;
        if read == 0 {
            break;
        }
        length += read as u64;
        check.update(&chunk[..read]);
        take(&chunk[..read])?;
    }
    if length > LARGEST_BYTES {
        return Err(format!(
            "{name}: larger than {} MiB: no package of ours",
            LARGEST_BYTES >> 20
        ));
    }
    check.finalize().map_err(|_| {
        format!(
            "{name}: the signature does not fit: it was changed, or is not whole (copy it again)"
        )
    })?;
    Ok(text)
}

fn key_of(path: &Path) -> Result<PublicKey, String> {
    let name = path.display();
    let text = files::text(path).map_err(|why| {
        format!("{why}: there goes the public key (minisign's .pub) of whoever makes your packages")
    })?;
    PublicKey::decode(&text).map_err(|_| format!("{name}: no public key of minisign"))
}

/// The signature beside a file.
pub(super) fn signature_of(file: &Path) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(".minisig");
    name.into()
}
