//! SoundFont files: where they lie, and how to load one that may be broken or hostile.
//!
//! The structure of the file (SoundFont 2.04 specification, sections 3 to 7) is checked before the
//! synthesizer's loader sees it: every chunk must lie inside the file, so that no announced length makes it
//! allocate; lists of zones must ascend, so that no region is counted twice.
// Reads a file that the user named; nothing of it runs on the audio thread.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

pub use rustysynth::SoundFont;

use crate::device::plain_file::open_plain;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The most regions that a preset may have over all its instruments. Large orchestral libraries have a few
/// thousand.
const MAX_PRESET_REGIONS: usize = 16_384;
/// The most regions that may cover one key, whatever the velocity. Twenty stereo layers are forty.
const MAX_KEY_REGIONS: usize = 256;
/// Where distributions put General MIDI SoundFonts; the first that exists is taken.
const USUAL_PATHS: [&str; 8] = [
    "/usr/share/sounds/sf2/TimGM6mb.sf2",
    "/usr/share/soundfonts/TimGM6mb.sf2",
    "/usr/share/sounds/sf2/default-GM.sf2",
    "/usr/share/sounds/sf2/FluidR3_GM.sf2",
    "/usr/share/soundfonts/FluidR3_GM.sf2",
    "/usr/share/soundfonts/default.sf2",
    "/usr/share/sounds/sf2/GeneralUser.sf2",
    "/usr/share/soundfonts/GeneralUser.sf2",
];

/// The first SoundFont in the usual places of Debian and other distributions.
pub fn find() -> Option<PathBuf> {
    USUAL_PATHS
        .iter()
        .map(PathBuf::from)
        .find(|path| path.is_file())
}

/// Why a SoundFont was not loaded.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FontError {
    /// The file could not be read.
    #[error("the SoundFont cannot be read ({reason})")]
    Read {
        /// The file.
        path: String,
        /// Why.
        reason: String,
    },
    /// The file is larger than allowed.
    #[error("the SoundFont has {mib} MiB; at most {limit_mib} MiB are loaded")]
    TooLarge {
        /// Its size.
        mib: u64,
        /// The limit.
        limit_mib: u64,
    },
    /// The memory does not suffice.
    #[error("the SoundFont needs {mib} MiB of memory, {free_mib} MiB are free")]
    NoMemory {
        /// What it needs.
        mib: u64,
        /// What there is.
        free_mib: u64,
    },
    /// Another format.
    #[error("this is no SoundFont 2 file (it must begin with RIFF and sfbk)")]
    NotSoundFont,
    /// Compressed samples.
    #[error("compressed SoundFonts (SF3) cannot be played; convert it to SF2")]
    Compressed,
    /// The file ends early, or a chunk announces more than there is.
    #[error(
        "the SoundFont is cut short: its chunk {chunk} announces {announced} bytes, {left} are left"
    )]
    CutShort {
        /// Which chunk.
        chunk: String,
        /// What it announces.
        announced: u64,
        /// What the file has left.
        left: u64,
    },
    /// Something in it contradicts the format.
    #[error("the SoundFont is broken: {0}")]
    Broken(String),
}

/// Loads a SoundFont of at most `limit_bytes`.
///
/// # Errors
/// When it cannot be read, is too large for the limit or the free memory, is compressed, cut short or broken.
pub fn load(path: &Path, limit_bytes: u64) -> Result<Arc<SoundFont>, FontError> {
    let unreadable = |error: std::io::Error| FontError::Read {
        path: path.display().to_string(),
        reason: crate::fault::without_number(&error),
    };
    let file = open_plain(path).map_err(unreadable)?;
    let size = file.metadata().map_err(unreadable)?.len();
    check_size(size, limit_bytes, free_memory_bytes())?;
    read(BufReader::new(file), size)
}

fn check_size(size: u64, limit: u64, free: Option<u64>) -> Result<(), FontError> {
    if size > limit {
        return Err(FontError::TooLarge {
            mib: size >> 20,
            limit_mib: limit >> 20,
        });
    }
    // The samples take their size in the file; the lists of presets and regions some more.
    let needed = size + size / 8 + (8 << 20);
    match free {
        Some(free) if needed > free => Err(FontError::NoMemory {
            mib: needed >> 20,
            free_mib: free >> 20,
        }),
        _ => Ok(()),
    }
}

/// What the kernel says is available (proc(5), MemAvailable).
fn free_memory_bytes() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/meminfo").ok()?;
    let line = text
        .lines()
        .find_map(|line| line.strip_prefix("MemAvailable:"))?;
    let kib: u64 = line.trim().trim_end_matches("kB").trim().parse().ok()?;
    Some(kib << 10)
}

/// Reads a SoundFont of `size` bytes.
///
/// # Errors
/// As [`load`], but for the file.
pub fn read<R: Read + Seek>(mut reader: R, size: u64) -> Result<Arc<SoundFont>, FontError> {
    ChunkWalk {
        reader: &mut reader,
        size,
    }
    .check()?;
    reader.seek(SeekFrom::Start(0)).map_err(broken)?;
    let mut bounded = reader.take(size);
    let loaded = catch_unwind(AssertUnwindSafe(|| SoundFont::new(&mut bounded)));
    match loaded {
        Ok(Ok(font)) if font.get_presets().is_empty() => {
            Err(FontError::Broken("it has no preset".into()))
        }
        Ok(Ok(font)) => {
            check_presets(&font)?;
            Ok(Arc::new(font))
        }
        Ok(Err(error)) => Err(FontError::Broken(error.to_string())),
        Err(_) => Err(FontError::Broken("its tables contradict each other".into())),
    }
}

/// A note costs the audio thread a look at every region of its preset and a start of each that covers its
/// key: both must stay small.
fn check_presets(font: &SoundFont) -> Result<(), FontError> {
    for preset in font.get_presets() {
        let mut regions = 0;
        let mut covering = [0usize; 128];
        for outer in preset.get_regions() {
            let instrument = font.get_instruments().get(outer.get_instrument_id());
            for inner in instrument.map_or(&[][..], |instrument| instrument.get_regions()) {
                regions += 1;
                if regions > MAX_PRESET_REGIONS {
                    return Err(FontError::Broken(format!(
                        "its preset {:?} has more than {MAX_PRESET_REGIONS} regions",
                        preset.get_name()
                    )));
                }
                let low = outer
                    .get_key_range_start()
                    .max(inner.get_key_range_start())
                    .max(0);
                let high = outer.get_key_range_end().min(inner.get_key_range_end());
                let covered = covering
                    .iter_mut()
                    .take((high.max(-1) + 1) as usize)
                    .skip(low as usize);
                covered.for_each(|count| *count += 1);
            }
        }
        if covering.iter().any(|count| *count > MAX_KEY_REGIONS) {
            return Err(FontError::Broken(format!(
                "its preset {:?} has more than {MAX_KEY_REGIONS} regions on one key",
                preset.get_name()
            )));
        }
    }
    Ok(())
}

fn broken(error: std::io::Error) -> FontError {
    FontError::Broken(error.to_string())
}

/// A first walk over the chunks.
struct ChunkWalk<'a, R> {
    reader: &'a mut R,
    size: u64,
}

impl<R: Read + Seek> ChunkWalk<'_, R> {
    fn check(&mut self) -> Result<(), FontError> {
        let mut head = [0; 12];
        let enough = self.size >= 12 && self.reader.read_exact(&mut head).is_ok();
        if !enough || !head.starts_with(b"RIFF") || !head.ends_with(b"sfbk") {
            return Err(FontError::NotSoundFont);
        }
        let mut at = 12;
        // INFO, sdta, pdta; what follows them is ignored by the loader too.
        for _ in 0..3 {
            let (id, length) = self.chunk(at, self.size)?;
            if &id != b"LIST" || length < 4 {
                return Err(FontError::Broken("a list is missing".into()));
            }
            let kind = self.bytes::<4>(at + 8)?;
            self.list(&kind, at + 12, at + 8 + length)?;
            at += 8 + length;
        }
        Ok(())
    }

    fn list(&mut self, kind: &[u8; 4], mut at: u64, end: u64) -> Result<(), FontError> {
        while at < end {
            let (id, length) = self.chunk(at, end)?;
            match (kind, &id) {
                (b"INFO", b"ifil") if length >= 4 => {
                    let version = self.bytes::<2>(at + 8)?;
                    if u16::from_le_bytes(version) >= 3 {
                        return Err(FontError::Compressed);
                    }
                }
                (b"sdta", b"smpl") if length >= 4 && &self.bytes::<4>(at + 8)? == b"OggS" => {
                    return Err(FontError::Compressed);
                }
                (b"pdta", b"phdr") => self.ascends(at + 8, length, 38, 24)?,
                (b"pdta", b"inst") => self.ascends(at + 8, length, 22, 20)?,
                (b"pdta", b"pbag" | b"ibag") => self.ascends(at + 8, length, 4, 0)?,
                _ => {}
            }
            at += 8 + length;
        }
        Ok(())
    }

    /// The name and length of the chunk at `at`, which must end at or before `end`.
    fn chunk(&mut self, at: u64, end: u64) -> Result<([u8; 4], u64), FontError> {
        let left = end.saturating_sub(at);
        if left < 8 {
            return Err(FontError::CutShort {
                chunk: "header".into(),
                announced: 8,
                left,
            });
        }
        let [a, b, c, d, length @ ..] = self.bytes::<8>(at)?;
        let (id, length) = ([a, b, c, d], u64::from(u32::from_le_bytes(length)));
        if length > left - 8 {
            return Err(FontError::CutShort {
                chunk: String::from_utf8_lossy(&id).escape_debug().to_string(),
                announced: length,
                left: left - 8,
            });
        }
        Ok((id, length))
    }

    /// The 16-bit index at `offset` of each record must not go down: regions are the stretches between.
    fn ascends(&mut self, at: u64, length: u64, record: u64, offset: u64) -> Result<(), FontError> {
        self.reader.seek(SeekFrom::Start(at)).map_err(broken)?;
        let mut bytes = vec![0; record as usize];
        let mut last = 0;
        for _ in 0..length / record {
            self.reader.read_exact(&mut bytes).map_err(broken)?;
            let index = match bytes.get(offset as usize..offset as usize + 2) {
                Some(&[low, high]) => u16::from_le_bytes([low, high]),
                _ => 0,
            };
            if index < last {
                return Err(FontError::Broken("its lists of zones do not ascend".into()));
            }
            last = index;
        }
        Ok(())
    }

    fn bytes<const N: usize>(&mut self, at: u64) -> Result<[u8; N], FontError> {
        let mut bytes = [0; N];
        self.reader.seek(SeekFrom::Start(at)).map_err(broken)?;
        self.reader.read_exact(&mut bytes).map_err(broken)?;
        Ok(bytes)
    }
}
