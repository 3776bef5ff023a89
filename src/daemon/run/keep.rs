//! A take that is worth keeping: the guitar as it was heard, as a sound file in the state directory. Nothing is kept
//! unasked.

// An adapter: it writes files.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::super::whole_file::sync_directory_of;
use std::fs::{DirBuilder, File};
use std::io;
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// The most files that are kept side by side.
const MOST: u32 = 9999;
/// How the name of a file begins while it is written.
const UNFINISHED: &str = ".take-";

/// Writes one channel of 16-bit samples, beside its place first and synced, as the next free `take-0001.wav` of a directory, which is made where it is not
/// there. Gives the file.
///
/// # Errors
/// When the directory or the file cannot be written, or no number is free; what was begun is taken away.
pub fn keep(directory: &Path, rate: u32, samples: &[i16]) -> io::Result<PathBuf> {
    // What somebody plays is nobody else's business.
    let mut builder = DirBuilder::new();
    builder.recursive(true).mode(0o700).create(directory)?;
    let file = tempfile::Builder::new()
        .prefix(UNFINISHED)
        .tempfile_in(directory)?;
    write(file.as_file(), rate, samples)?;
    file.as_file().sync_all()?;
    let path = put_next(file, directory)?;
    sync_directory_of(&path)?;
    Ok(path)
}

/// Gives a whole file the next free name.
fn put_next(mut file: NamedTempFile, directory: &Path) -> io::Result<PathBuf> {
    for number in 1..=MOST {
        let path = directory.join(format!("take-{number:04}.wav"));
        match file.persist_noclobber(&path) {
            Ok(_) => return Ok(path),
            Err(taken) if taken.error.kind() == io::ErrorKind::AlreadyExists => file = taken.file,
            Err(refused) => return Err(refused.error),
        }
    }
    let full = format!("{MOST} takes are kept already");
    Err(io::Error::other(full))
}

fn write(file: &File, rate: u32, samples: &[i16]) -> io::Result<()> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let as_io = |error| match error {
        hound::Error::IoError(error) => error,
        other => io::Error::other(other),
    };
    let out = io::BufWriter::new(file);
    let mut writer = hound::WavWriter::new(out, spec).map_err(as_io)?;
    for sample in samples {
        writer.write_sample(*sample).map_err(as_io)?;
    }
    writer.finalize().map_err(as_io)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_are_numbered_and_read_back() {
        let dir = tempfile::tempdir().expect("a directory");
        let takes = dir.path().join("state/takes");
        let names = [&[1_i16, -2, 3][..], &[], &[i16::MAX, i16::MIN]].map(|samples| {
            let path = keep(&takes, 44_100, samples).expect("a file");
            let mut read = hound::WavReader::open(&path).expect("a sound file");
            assert_eq!((read.spec().sample_rate, read.spec().channels), (44_100, 1));
            let back: Vec<i16> = read.samples().map(|sample| sample.expect("one")).collect();
            assert_eq!(back, samples);
            path.file_name().expect("a name").to_owned()
        });
        assert_eq!(names, ["take-0001.wav", "take-0002.wav", "take-0003.wav"]);
        // The first free number, also in a gap.
        std::fs::remove_file(takes.join("take-0002.wav")).expect("a file");
        let path = keep(&takes, 48_000, &[0]).expect("a file");
        assert!(path.ends_with("take-0002.wav"), "{path:?}");
    }

    #[test]
    fn what_cannot_be_written_is_told() {
        let dir = tempfile::tempdir().expect("a directory");
        let in_the_way = dir.path().join("takes");
        std::fs::write(&in_the_way, "a file").expect("a file");
        assert!(keep(&in_the_way, 48_000, &[0]).is_err());
    }
}
