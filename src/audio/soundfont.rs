//! SoundFont files: where they lie, and how to load one. What is in them, broken or hostile, is the synthesizer's.
// Reads a file that the user named; nothing of it runs on the audio thread.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

pub use crate::synth::{FontError, SoundFont};

use crate::device::plain_file::open_plain;
use crate::synth::Source;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What must stay free beside samples.
const LEFT_BYTES: u64 = 16 << 20;
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
    usual_paths().into_iter().find(|path| path.is_file())
}

/// The places where a SoundFont is looked for when none is named.
pub fn usual_paths() -> Vec<PathBuf> {
    USUAL_PATHS.iter().map(PathBuf::from).collect()
}

/// Loads a SoundFont of at most `limit_bytes`: its tables. Samples are read when it is known which ones sound.
///
/// # Errors
/// When it cannot be read, is too large for the limit, is compressed, cut short or broken.
pub fn load(path: &Path, limit_bytes: u64) -> Result<Arc<SoundFont>, FontError> {
    let unreadable = |error: std::io::Error| FontError::Read {
        path: path.display().to_string(),
        reason: crate::fault::why(&error),
    };
    let file = open_plain(path).map_err(unreadable)?;
    let size = file.metadata().map_err(unreadable)?.len();
    if size > limit_bytes {
        return Err(FontError::TooLarge {
            mib: size >> 20,
            limit_mib: limit_bytes >> 20,
        });
    }
    read(BufReader::new(file), size)
}

/// What the kernel says is available (proc(5), MemAvailable).
fn available_bytes() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/meminfo").ok()?;
    let line = text
        .lines()
        .find_map(|line| line.strip_prefix("MemAvailable:"))?;
    let kib: u64 = line.trim().trim_end_matches("kB").trim().parse().ok()?;
    Some(kib << 10)
}

/// How many bytes of samples may be loaded now.
pub(crate) fn room_bytes() -> u64 {
    available_bytes().map_or(u64::MAX, |free| free.saturating_sub(LEFT_BYTES))
}

/// Reads a SoundFont of `size` bytes.
///
/// # Errors
/// As [`load`], but for the file.
pub fn read(source: impl Source + 'static, size: u64) -> Result<Arc<SoundFont>, FontError> {
    SoundFont::read(source, size).map(Arc::new)
}
