//! What can be wrong with a SoundFont.

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
