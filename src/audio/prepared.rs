//! What a player is made of.

use super::command::Level;
use super::synth::Band;
use crate::synth::SoundFont;
use std::sync::Arc;

/// Everything a player is made of; kept to make another when the audio server went away.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Frames a second of the audio clock, 8,000 to 768,000.
    pub rate: u32,
    /// The band's sounds; without them click, model tones and cues still sound.
    pub font: Option<Arc<SoundFont>>,
    /// How the band sounds.
    pub band: Band,
    /// The levels to start with in dB; what is not named is at 0.
    pub levels: Vec<(Level, f32)>,
    /// Whether the cues also go to the band's outputs.
    pub cue_to_outputs: bool,
}
