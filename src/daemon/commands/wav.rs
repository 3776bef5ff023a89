//! The sound files of a rendering: whole, or not there at all.
// It writes files.
#![allow(clippy::disallowed_types)]

use super::output::unwritable;
use crate::daemon::files::{Failure, exit};
use crate::daemon::render::SoundSink;
use crate::daemon::whole_file::WholeFile;
use std::io::BufWriter;
use std::path::Path;

/// The files that were asked for of a take.
pub(super) struct WavFiles {
    band: Option<Wav>,
    cues: Vec<Wav>,
}

struct Wav {
    writer: hound::WavWriter<BufWriter<std::fs::File>>,
    file: WholeFile,
    bits: u16,
}

/// Frames that are put together before they are written.
const FRAMES: usize = 256;

fn failed(path: &Path, error: impl std::fmt::Display) -> Failure {
    Failure::new(exit::DATA, format!("{}: {error}", path.display()))
}

impl WavFiles {
    /// Opens the files: the band's where it is asked for, those of the cues. A part alone is a band, too.
    ///
    /// # Errors
    /// When one cannot be written (65).
    pub(super) fn create(
        band: Option<&Path>,
        cues: &[&Path],
        (rate, bits): (u32, u16),
    ) -> Result<WavFiles, Failure> {
        let create = |path: &Path, channels| Wav::create(path, channels, rate, bits);
        Ok(WavFiles {
            band: band.map(|path| create(path, 2)).transpose()?,
            cues: cues
                .iter()
                .map(|path| create(path, 1))
                .collect::<Result<_, _>>()?,
        })
    }

    /// Writes the lengths into their headers and puts the files in their places.
    ///
    /// # Errors
    /// When that cannot be written (65).
    pub(super) fn finish(self) -> Result<(), Failure> {
        for Wav { writer, file, .. } in self.band.into_iter().chain(self.cues) {
            let path = file.path().to_path_buf();
            writer.finalize().map_err(|error| failed(&path, error))?;
            file.keep().map_err(|error| unwritable(&path, &error))?;
        }
        Ok(())
    }
}

impl Wav {
    fn create(path: &Path, channels: u16, rate: u32, bits: u16) -> Result<Wav, Failure> {
        let sample_format = if bits == 32 {
            hound::SampleFormat::Float
        } else {
            hound::SampleFormat::Int
        };
        let spec = hound::WavSpec {
            channels,
            sample_rate: rate,
            bits_per_sample: bits,
            sample_format,
        };
        let unwritable = |error| unwritable(path, &error);
        let file = WholeFile::create(path).map_err(unwritable)?;
        let handle = file.handle().map_err(unwritable)?;
        let writer = hound::WavWriter::new(BufWriter::new(handle), spec);
        let writer = writer.map_err(|error| failed(path, error))?;
        Ok(Wav { writer, file, bits })
    }

    /// Writes samples in their order; those of 16 bits at once.
    fn write(&mut self, samples: impl ExactSizeIterator<Item = f32>) -> std::io::Result<()> {
        let written = if self.bits == 32 {
            let mut samples = samples;
            samples.try_for_each(|sample| self.writer.write_sample(sample))
        } else {
            let mut writer = self.writer.get_i16_writer(samples.len() as u32);
            samples.for_each(|sample| writer.write_sample(rounded(sample)));
            writer.flush()
        };
        written.map_err(std::io::Error::other)
    }
}

/// A sample of 16 bits: the nearest, halves away from zero, within what they hold.
fn rounded(sample: f32) -> i16 {
    let steps = sample * 32_767.0;
    (steps + 0.5f32.copysign(steps)) as i16
}

impl SoundSink for WavFiles {
    fn is_heard(&self) -> bool {
        self.band.is_some() || !self.cues.is_empty()
    }

    fn sound(&mut self, left: &[f32], right: &[f32], cue: &[f32]) -> std::io::Result<()> {
        if let Some(band) = &mut self.band {
            let (mut both, mut frames) = ([[0.0; 2]; FRAMES], left.iter().zip(right));
            while frames.len() > 0 {
                let count = frames.len().min(FRAMES);
                let (both, _) = both.split_at_mut(count);
                for (both, (left, right)) in both.iter_mut().zip(&mut frames) {
                    *both = [*left, *right];
                }
                band.write(both.as_flattened().iter().copied())?;
            }
        }
        for wav in &mut self.cues {
            wav.write(cue.iter().copied())?;
        }
        Ok(())
    }
}
