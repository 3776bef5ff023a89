//! The presets that are in use, with their samples and no others.

use super::fault::FontError;
use super::riff::{self, Source, Stretch};
use super::zones::Region;
use std::ops::RangeInclusive;

/// A preset by its numbers (SoundFont 2.04, section 7.2); drum kits have bank 128.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct PresetId {
    /// The bank.
    pub bank: u16,
    /// The program, from 0.
    pub program: u16,
}

/// How many samples are read at a time.
const READ_SAMPLES: usize = 32_768;

/// What can be played: presets, and the samples that they use.
pub struct Sounds {
    presets: Vec<(PresetId, Vec<Region>)>,
    samples: Vec<i16>,
}

/// What a preset sounds like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PresetSound {
    /// It sounds.
    Sound,
    /// Nothing, or silence.
    Silence,
}

impl std::fmt::Debug for Sounds {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Sounds")
            .field("presets", &self.presets.len())
            .field("samples", &self.samples.len())
            .finish()
    }
}

impl Sounds {
    /// Reads the samples that these regions use, and moves the regions onto them.
    pub(super) fn load(
        mut presets: Vec<(PresetId, Vec<Region>)>,
        source: &mut dyn Source,
        file: Stretch,
        most_bytes: u64,
    ) -> Result<Sounds, FontError> {
        let pieces = pieces(presets.iter().flat_map(|(_, regions)| regions));
        let count: usize = pieces
            .iter()
            .map(|piece| (piece.end - piece.start) as usize)
            .sum();
        let bytes = 2 * count as u64;
        if bytes > most_bytes {
            return Err(FontError::NoMemory {
                mib: bytes >> 20,
                free_mib: most_bytes >> 20,
            });
        }
        let mut samples = Vec::with_capacity(count);
        for piece in &pieces {
            read_samples(source, file, piece, &mut samples)?;
        }
        for region in presets.iter_mut().flat_map(|(_, regions)| regions) {
            let wave = &mut region.wave;
            let after = pieces.partition_point(|piece| piece.start <= wave.start);
            if let Some(piece) = pieces.get(after.wrapping_sub(1)) {
                let moved = |place: u32| (place - piece.start) + piece.to;
                wave.start = moved(wave.start);
                wave.end = moved(wave.end);
                wave.loop_start = moved(wave.loop_start);
                wave.loop_end = moved(wave.loop_end);
            }
        }
        Ok(Sounds { presets, samples })
    }

    /// Bytes of samples that are kept.
    pub fn sample_bytes(&self) -> usize {
        self.samples.len() * 2
    }

    /// A number that tells what is in it: other samples or other regions, another number. FNV-1a of 64 bits over what they
    /// are made of (draft-eastlake-fnv).
    pub fn fingerprint(&self) -> u64 {
        let mix = |hash: u64, word: u64| (hash ^ word).wrapping_mul(0x0000_0100_0000_01b3);
        let mut hash = 0xcbf2_9ce4_8422_2325;
        for (id, regions) in &self.presets {
            hash = mix(hash, u64::from(id.bank) << 16 | u64::from(id.program));
            for region in regions {
                let amounts = region.amounts.iter().map(|amount| *amount as u16 as u64);
                hash = amounts.fold(hash, mix);
                let keys = [region.keys.low, region.keys.high];
                hash = keys.into_iter().map(u64::from).fold(hash, mix);
                let wave = &region.wave;
                hash = [wave.start, wave.end, wave.loop_start, wave.loop_end]
                    .into_iter()
                    .map(u64::from)
                    .fold(hash, mix);
            }
        }
        let words = self.samples.iter().map(|sample| *sample as u16 as u64);
        words.fold(hash, mix)
    }

    /// Whether a preset has a sample that is not all silence for one of the keys.
    pub fn sound_of(&self, preset: PresetId, keys: &RangeInclusive<u8>) -> PresetSound {
        let covers =
            |region: &&Region| region.keys.low <= *keys.end() && region.keys.high >= *keys.start();
        let sounds = |region: &Region| {
            let stretch = region.wave.start as usize..region.wave.end as usize;
            let wave = self.samples.get(stretch).unwrap_or_default();
            wave.iter().any(|sample| *sample != 0)
        };
        match self.find(preset).iter().filter(covers).any(sounds) {
            true => PresetSound::Sound,
            false => PresetSound::Silence,
        }
    }

    /// The place of a preset, or of the first where it was not loaded.
    pub(super) fn place(&self, wanted: PresetId) -> usize {
        let place = self.presets.iter().position(|(id, _)| *id == wanted);
        place.unwrap_or(0)
    }

    pub(super) fn regions(&self, place: usize) -> &[Region] {
        self.presets.get(place).map_or(&[], |(_, regions)| regions)
    }

    pub(super) fn samples(&self) -> &[i16] {
        &self.samples
    }

    fn find(&self, wanted: PresetId) -> &[Region] {
        let found = self.presets.iter().find(|(id, _)| *id == wanted);
        found.map_or(&[], |(_, regions)| regions)
    }
}

/// Samples of the file that are used, and where they go.
struct Piece {
    start: u32,
    end: u32,
    to: u32,
}

/// Stretches that overlap or touch are one.
fn pieces<'a>(regions: impl Iterator<Item = &'a Region>) -> Vec<Piece> {
    let mut waves: Vec<_> = regions
        .map(|region| (region.wave.start, region.wave.end))
        .collect();
    waves.sort_unstable();
    let mut pieces: Vec<Piece> = Vec::new();
    for (start, end) in waves {
        match pieces.last_mut() {
            Some(last) if start <= last.end => last.end = last.end.max(end),
            last => {
                let to = last.map_or(0, |last| last.to + (last.end - last.start));
                pieces.push(Piece { start, end, to });
            }
        }
    }
    pieces
}

fn read_samples(
    source: &mut dyn Source,
    file: Stretch,
    piece: &Piece,
    samples: &mut Vec<i16>,
) -> Result<(), FontError> {
    let mut bytes = [0; 2 * READ_SAMPLES];
    let mut at = piece.start as usize;
    while at < piece.end as usize {
        let count = READ_SAMPLES.min(piece.end as usize - at);
        let (bytes, _) = bytes.split_at_mut(2 * count);
        riff::read(source, file.at + 2 * at as u64, bytes)?;
        let (pairs, _) = bytes.as_chunks::<2>();
        samples.extend(pairs.iter().copied().map(i16::from_le_bytes));
        at += count;
    }
    Ok(())
}
