//! What the ear tells.

/// A note that was heard. Frames count from the first sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard {
    pub onset: u64,
    /// When it was known that something began.
    pub onset_known: u64,
    /// When it was known what.
    pub known: u64,
    /// The nearest MIDI note.
    pub midi: u8,
    /// How far above it, -50 to 50, to a tenth.
    pub cents: f32,
    /// The chance that it was played, 0 to 1; of a voice, how well it repeated.
    pub confidence: f32,
    /// Its loudest 10 ms so far, in dB of full scale.
    pub level_db: f32,
    /// Whether the box's own band, which was known, was being taken out when the note was named. False while it is not found in
    /// the sound, too: then the sound is heard as it is.
    pub band_taken_out: bool,
    /// Whether it was struck; else the pitch of what sounded has changed: hammered on, pulled off, slid or bent to.
    pub struck: bool,
    /// Another note that was struck with it.
    pub also: Option<u8>,
    /// What the name rests on.
    pub signs: Signs,
}

/// What a name rests on.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Signs {
    /// How well the sound repeated, up to 1, on the average of the looks that agree.
    pub clarity: f32,
    /// How well a shorter period repeated against that of the name, at most.
    pub rival: f32,
    /// By how much a longer one repeated better, at most.
    pub better: f32,
    /// How long after the beginning it was named.
    pub age_ms: f32,
    /// How far over the player's level it was.
    pub above_db: f32,
    /// Whether the spectrum rose less than it does at a plain stroke.
    pub slight: bool,
    /// How heavy what is heard is in what the beginning added, against the heaviest note; more than 1 where it is no note of a string.
    pub added: f32,
    /// How heavy a second note is in it.
    pub second: f32,
    /// How much of all that was added both explain.
    pub explained: f32,
    /// How many periods were looked at for both.
    pub periods: f32,
    /// How heavy the note was in the band that was taken out, against what is left: over about 1 it may be the band's. 0 where no band
    /// is known, or found.
    pub band: f32,
}

/// One look at the pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PitchReading {
    /// The frame after the newest sample that had to arrive for it: where the band is taken out, block by block, two looks
    /// may have the same.
    pub at: u64,
    /// In Hz; none when nothing is heard, or nothing clear.
    pub hz: Option<f32>,
    /// How well the sound repeats, 0 to 1.
    pub confidence: f32,
}

/// What the ear tells. Frames count from the first sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Found {
    /// A look at the pitch; there is one for every hop.
    Reading(PitchReading),
    /// A note has its name. It never changes later.
    Named(Heard),
    /// The note named last ended here.
    Ended {
        /// The frame.
        off: u64,
    },
}
