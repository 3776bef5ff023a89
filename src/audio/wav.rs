//! Sound files, written as a stream: new, synced, renamed, so that a broken-off run leaves no half file.
// Writes a file that the user named.
#![allow(clippy::disallowed_types)]

use hound::{SampleFormat, WavSpec, WavWriter};
use std::fs::File;
use std::io::BufWriter;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// How samples are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WavFormat {
    /// 32-bit floating point: what was rendered, bit for bit.
    Float32,
    /// 16-bit integers, rounded, full scale at 1.0.
    Int16,
}

/// Why a file was not written.
#[derive(Debug, thiserror::Error)]
#[error("cannot write {path}: {reason}")]
pub struct WavError {
    path: String,
    reason: String,
}

/// A file being written.
pub struct WavFile {
    path: PathBuf,
    file: NamedTempFile,
    writer: WavWriter<BufWriter<File>>,
    format: WavFormat,
}

impl WavFile {
    /// Begins a file of `channels` at `rate` frames a second. It appears under `path` when finished.
    ///
    /// # Errors
    /// When the directory cannot be written to.
    pub fn create(
        path: &Path,
        rate: u32,
        channels: u16,
        format: WavFormat,
    ) -> Result<WavFile, WavError> {
        let failed = |reason: String| error(path, reason);
        let directory = match path.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        let file = tempfile::Builder::new()
            .permissions(std::fs::Permissions::from_mode(0o644))
            .tempfile_in(directory)
            .map_err(|error| failed(error.to_string()))?;
        let stream = file.reopen().map_err(|error| failed(error.to_string()))?;
        let (bits_per_sample, sample_format) = match format {
            WavFormat::Float32 => (32, SampleFormat::Float),
            WavFormat::Int16 => (16, SampleFormat::Int),
        };
        let spec = WavSpec {
            channels,
            sample_rate: rate,
            bits_per_sample,
            sample_format,
        };
        let writer = WavWriter::new(BufWriter::new(stream), spec)
            .map_err(|error| failed(error.to_string()))?;
        Ok(WavFile {
            path: path.to_path_buf(),
            file,
            writer,
            format,
        })
    }

    /// Appends frames: one slice a channel; the shortest counts.
    ///
    /// # Errors
    /// When the disk is full or the file would pass 4 GiB.
    pub fn write(&mut self, channels: &[&[f32]]) -> Result<(), WavError> {
        let frames = channels
            .iter()
            .map(|channel| channel.len())
            .min()
            .unwrap_or(0);
        for frame in 0..frames {
            for channel in channels {
                let sample = channel.get(frame).copied().unwrap_or(0.0);
                let written = match self.format {
                    WavFormat::Float32 => self.writer.write_sample(sample),
                    WavFormat::Int16 => {
                        let scaled = (sample * 32_767.0).round().clamp(-32_768.0, 32_767.0);
                        self.writer.write_sample(scaled as i16)
                    }
                };
                written.map_err(|failure| error(&self.path, failure.to_string()))?;
            }
        }
        Ok(())
    }

    /// Ends the file and puts it in its place.
    ///
    /// # Errors
    /// When the disk is full or the place cannot be written.
    pub fn finish(self) -> Result<(), WavError> {
        let WavFile {
            path, file, writer, ..
        } = self;
        writer
            .finalize()
            .map_err(|failure| error(&path, failure.to_string()))?;
        file.as_file()
            .sync_all()
            .map_err(|failure| error(&path, failure.to_string()))?;
        file.persist(&path)
            .map_err(|failure| error(&path, failure.to_string()))?;
        Ok(())
    }
}

fn error(path: &Path, reason: String) -> WavError {
    WavError {
        path: path.display().to_string(),
        reason,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_read_back_as_it_was_written() {
        let directory = tempfile::tempdir().unwrap();
        let (left, right) = ([0.0, 0.25, 1.0, -1.5], [-1.0, 0.5, 0.0, 1.0]);
        for (format, expected) in [
            (
                WavFormat::Float32,
                [0.0, -1.0, 0.25, 0.5, 1.0, 0.0, -1.5, 1.0],
            ),
            (
                WavFormat::Int16,
                [
                    0.0, -32767.0, 8192.0, 16384.0, 32767.0, 0.0, -32768.0, 32767.0,
                ],
            ),
        ] {
            let path = directory.path().join("take.wav");
            let mut file = WavFile::create(&path, 44_100, 2, format).unwrap();
            file.write(&[&left[..2], &right[..2]]).unwrap();
            file.write(&[&left[2..], &right[2..]]).unwrap();
            file.finish().unwrap();
            let mut reader = hound::WavReader::open(&path).unwrap();
            assert_eq!(
                (reader.spec().sample_rate, reader.spec().channels),
                (44_100, 2)
            );
            let samples: Vec<f32> = match format {
                WavFormat::Float32 => reader.samples::<f32>().map(Result::unwrap).collect(),
                WavFormat::Int16 => reader
                    .samples::<i16>()
                    .map(|s| f32::from(s.unwrap()))
                    .collect(),
            };
            assert_eq!(samples, expected);
        }
    }

    #[test]
    fn nothing_is_left_of_a_file_that_was_not_finished() {
        let directory = tempfile::tempdir().unwrap();
        drop(WavFile::create(
            &directory.path().join("a.wav"),
            48_000,
            1,
            WavFormat::Int16,
        ));
        assert_eq!(directory.path().read_dir().unwrap().count(), 0);
        assert!(
            WavFile::create(Path::new("/nonexistent/a.wav"), 48_000, 1, WavFormat::Int16).is_err()
        );
    }
}
