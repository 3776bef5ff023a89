//! The synthesizer: plays General MIDI parts from a SoundFont, by the SoundFont 2.04 specification and MIDI 1.0.
//!
//! [`SoundFont`] keeps the tables of a file, [`Sounds`] the samples of the presets that are in use and no others,
//! [`Synthesizer`] turns MIDI messages into sound. Parameters move once a block of [`BLOCK_FRAMES`] frames and glide in
//! between; blocks are counted from the first frame, so that it does not matter how many frames are asked for at a time.
//!
//! A voice costs most in three places: reading its samples, its low-pass, adding it up. All three are done for four or eight
//! voices side by side (`lanes.rs`), from windows of samples in which no loop ends (`window.rs`).
//!
//! Promise: once made, a synthesizer neither allocates, frees, locks nor panics, whatever font and messages it is given.

mod channel;
mod chorus;
mod curve;
mod delay;
mod envelope;
mod fault;
mod filter;
mod font;
mod generator;
mod lanes;
mod lfo;
mod modulator;
mod output;
mod params;
mod reverb;
mod riff;
mod sounds;
mod synthesizer;
mod tables;
mod units;
mod voice;
mod voices;
mod window;
mod zones;

pub use fault::FontError;
pub use font::SoundFont;
pub use output::BLOCK_FRAMES;
pub use riff::Source;
pub use sounds::{PresetId, PresetSound, Sounds};
pub use synthesizer::{RATES_HZ, Settings, Synthesizer};
