//! The sound of a track between the two readings: on disk, in a file without a name that is gone whatever happens.
// It writes a file.
#![allow(clippy::disallowed_types)]

use super::level::{BLOCK, Meter, Metered, TruePeaks};
use crate::daemon::render::SoundSink;
use ebur128::{EbuR128, Mode};
use std::fs::File;
use std::io::{Error, Result, Write};
use std::os::unix::fs::FileExt;
use std::path::Path;

/// Blocks that are written at once.
const AT_ONCE: usize = 256;
const BLOCK_BYTES: usize = 2 * BLOCK * size_of::<f32>();

/// Takes what is rendered, and meters it.
pub(super) struct Spill<'a> {
    file: File,
    meter: Meter,
    left: Vec<f32>,
    right: Vec<f32>,
    bytes: Vec<u8>,
    passes: &'a (dyn Fn(u32) + Sync),
    begun: u32,
}

/// What was taken, to be read again.
pub(super) struct Spilled {
    file: File,
    blocks: usize,
    rate: u32,
}

fn metering(error: ebur128::Error) -> Error {
    Error::other(error.to_string())
}

impl<'a> Spill<'a> {
    /// A spill in a directory; `passes` is told each pass that begins.
    pub(super) fn new(
        dir: &Path,
        rate: u32,
        passes: &'a (dyn Fn(u32) + Sync),
    ) -> Result<Spill<'a>> {
        Ok(Spill {
            file: tempfile::tempfile_in(dir)?,
            meter: Meter::new(rate).map_err(metering)?,
            left: Vec::new(),
            right: Vec::new(),
            bytes: Vec::new(),
            passes,
            begun: 0,
        })
    }

    /// Up to a whole number of blocks, with silence.
    pub(super) fn finish(mut self) -> Result<(Spilled, Metered)> {
        let frames = self.left.len().next_multiple_of(BLOCK);
        self.left.resize(frames, 0.0);
        self.right.resize(frames, 0.0);
        self.write()?;
        let metered = self.meter.finish();
        let blocks = self.file.metadata()?.len() as usize / BLOCK_BYTES;
        let rate = metered.rate;
        let file = self.file;
        Ok((Spilled { file, blocks, rate }, metered))
    }

    fn write(&mut self) -> Result<()> {
        self.meter.take(&self.left, &self.right).map_err(metering)?;
        self.bytes.clear();
        let blocks = self
            .left
            .chunks_exact(BLOCK)
            .zip(self.right.chunks_exact(BLOCK));
        for samples in blocks.flat_map(|(left, right)| [left, right]) {
            let bytes = samples.iter().flat_map(|sample| sample.to_ne_bytes());
            self.bytes.extend(bytes);
        }
        self.left.clear();
        self.right.clear();
        self.file.write_all(&self.bytes)
    }
}

impl SoundSink for Spill<'_> {
    fn sound(&mut self, left: &[f32], right: &[f32], _: &[f32]) -> Result<()> {
        self.left.extend_from_slice(left);
        self.right.extend_from_slice(right);
        match self.left.len() == AT_ONCE * BLOCK {
            true => self.write(),
            false => Ok(()),
        }
    }

    fn passes(&mut self, begun: u32) {
        if std::mem::replace(&mut self.begun, begun) != begun {
            (self.passes)(begun);
        }
    }
}

impl Spilled {
    pub(super) fn frames(&self) -> u64 {
        (self.blocks * BLOCK) as u64
    }

    /// Hands every block to `each`: its number, left and right, in stretches of many.
    pub(super) fn read(
        &self,
        mut each: impl FnMut(usize, &mut [[f32; BLOCK]]) -> Result<()>,
    ) -> Result<()> {
        for from in (0..self.blocks).step_by(AT_ONCE) {
            let to = self.blocks.min(from + AT_ONCE);
            each(from, &mut self.stretch(from, to)?)?;
        }
        Ok(())
    }

    /// Left and right of each block, one after the other.
    fn stretch(&self, from: usize, to: usize) -> Result<Vec<[f32; BLOCK]>> {
        let mut bytes = vec![0; (to - from) * BLOCK_BYTES];
        self.file
            .read_exact_at(&mut bytes, (from * BLOCK_BYTES) as u64)?;
        let samples = bytes.chunks_exact(BLOCK_BYTES / 2).map(|bytes| {
            let mut samples = [0.0; BLOCK];
            for (sample, bytes) in samples.iter_mut().zip(bytes.chunks_exact(size_of::<f32>())) {
                *sample = f32::from_ne_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]);
            }
            samples
        });
        Ok(samples.collect())
    }
}

impl TruePeaks for Spilled {
    fn of(&mut self, from: usize, to: usize) -> Result<Vec<f32>> {
        // The interpolator looks at the block before, and is done with a block in the one after.
        let (first, last) = (from.saturating_sub(1), self.blocks.min(to + 1));
        let mut meter = EbuR128::new(2, self.rate, Mode::TRUE_PEAK).map_err(metering)?;
        let mut read = Vec::new();
        for pair in self.stretch(first, last)?.chunks_exact(2) {
            let planes: [&[f32]; 2] = [&pair[0], &pair[1]];
            meter.add_frames_planar_f32(&planes).map_err(metering)?;
            let peak = |channel| meter.prev_true_peak(channel).map_err(metering);
            read.push(peak(0)?.max(peak(1)?) as f32);
        }
        let own = read.get(from - first..).unwrap_or_default();
        let highest = |at: usize| own[at].max(own.get(at + 1).copied().unwrap_or(0.0));
        Ok((0..to - from).map(highest).collect())
    }
}
