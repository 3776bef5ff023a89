//! How loud a SoundFont's sounds are, and the gains that bring every font to one balance.
//!
//! No ear of an author: a phrase of each part, and a pattern of each drum, is rendered and metered by ITU-R BS.1770 (EBU R 128),
//! once a font. What it is to measure stands in the table below. It allocates and takes a while: never on the audio thread.

use super::BLOCK_FRAMES;
use super::synth::{Band, Synth, SynthError};
use super::trims::Trims;
use crate::synth::SoundFont;
use crate::time::Part;
use ebur128::{EbuR128, Mode};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Where the whole band is to be at default levels, in LUFS; master and cue are at [`DEFAULT_DB`] then.
pub const BAND_LUFS: f64 = -20.0;
/// The built-in level of master and cue, in dB.
pub const DEFAULT_DB: f64 = -12.0;
/// How much louder than the band speech and model tones are, in LU.
pub const CUE_ABOVE_LU: f64 = 3.0;

/// Frames a second of the metering.
const RATE: u32 = 48_000;
/// Blocks from one beat of a phrase to the next: half a second, 120 a minute.
const BEAT_BLOCKS: usize = RATE as usize / 2 / BLOCK_FRAMES;
/// Beats of a phrase.
const BEATS: usize = 8;
/// No sound is turned farther than this: what measures so low is as good as silent.
const FARTHEST_DB: f64 = 50.0;

/// A phrase that is metered.
#[derive(Debug, Clone, Copy)]
struct Phrase {
    part: Part,
    /// What is struck on each beat, in turn; an empty one rests.
    strikes: &'static [&'static [u8]],
    velocity: u8,
    /// Whether each stroke is let go with the next beat; else it rings for two.
    short: bool,
    /// What it is to measure, against the band, in LU.
    below_lu: f64,
}

const fn drum(strikes: &'static [&'static [u8]], velocity: u8, below_lu: f64) -> Phrase {
    Phrase {
        part: Part::Drums,
        strikes,
        velocity,
        short: true,
        below_lu,
    }
}

/// The drums that have a gain of their own (General MIDI 1 percussion map), with the velocity that the band strikes them with.
const DRUMS: [(u8, Phrase); 13] = [
    (25, drum(&[&[25]], 40, -15.0)),
    (36, drum(&[&[36]], 50, -15.0)),
    (37, drum(&[&[], &[37]], 62, -13.0)),
    (38, drum(&[&[38]], 40, -15.0)),
    (40, drum(&[&[40]], 40, -15.0)),
    (42, drum(&[&[42]], 52, -11.0)),
    (44, drum(&[&[], &[44]], 58, -15.0)),
    (45, drum(&[&[45]], 70, -9.0)),
    (48, drum(&[&[48]], 70, -9.0)),
    (49, drum(&[&[49], &[], &[], &[]], 70, -8.0)),
    (50, drum(&[&[50]], 70, -9.0)),
    (51, drum(&[&[51]], 70, -8.5)),
    (53, drum(&[&[53]], 64, -9.0)),
];

/// Comping, bass and melody, as the band plays them.
const PARTS: [Phrase; 3] = [
    Phrase {
        part: Part::Comping,
        strikes: &[
            &[53, 57, 60, 64],
            &[],
            &[52, 57, 59, 64],
            &[],
            &[53, 56, 59, 63],
            &[],
            &[51, 55, 58, 62],
            &[],
        ],
        velocity: 66,
        short: false,
        below_lu: -5.0,
    },
    Phrase {
        part: Part::Bass,
        strikes: &[&[36], &[40], &[43], &[45], &[38], &[42], &[33], &[31]],
        velocity: 78,
        short: true,
        below_lu: -4.5,
    },
    Phrase {
        part: Part::Melody,
        strikes: &[&[67], &[69], &[71], &[72], &[74], &[72], &[69], &[65]],
        velocity: 84,
        short: true,
        below_lu: -3.0,
    },
];

/// How loud the sounds of a font are, in LUFS, in the order in which they are metered; `None`: silent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Loudness {
    lufs: Vec<Option<f64>>,
}

impl Loudness {
    /// Changes with what is metered: what was kept under another one is of no use.
    pub const VERSION: u32 = 2;

    /// Renders a phrase of each sound and meters it.
    ///
    /// # Errors
    /// When the samples cannot be read.
    pub fn of(font: &Arc<SoundFont>, band: &Band) -> Result<Loudness, SynthError> {
        let band = Band {
            reverb: false,
            chorus: 0,
            trims: Trims::default(),
            ..band.clone()
        };
        let mut synth = Synth::new(font, &band, RATE)?;
        let metered = phrases().map(|phrase| meter(&mut synth, &phrase));
        Ok(Loudness {
            lufs: metered.collect(),
        })
    }

    /// Whether it is of as many sounds as are metered now.
    pub fn is_whole(&self) -> bool {
        self.lufs.len() == PARTS.len() + DRUMS.len()
    }

    /// The gains that bring each sound to its place in the balance.
    pub fn trims(&self) -> Trims {
        let mut gains = phrases().zip(&self.lufs).map(|(phrase, lufs)| {
            let wanted = BAND_LUFS - DEFAULT_DB + phrase.below_lu;
            let db = lufs.map_or(0.0, |lufs| wanted - lufs);
            db_to_linear(db.clamp(-FARTHEST_DB, FARTHEST_DB))
        });
        let mut next = || gains.next().unwrap_or(1.0);
        let (comping, bass, melody) = (next(), next(), next());
        let mut drums = DRUMS.map(|(key, _)| (key, next()));
        drums.sort_by(|a, b| a.1.total_cmp(&b.1));
        let other_drums = drums[DRUMS.len() / 2].1;
        Trims {
            comping,
            bass,
            melody,
            drums: drums.to_vec(),
            other_drums,
        }
    }
}

/// What a level in dB multiplies an amplitude by, without the limits of a fader.
pub(crate) fn db_to_linear(db: f64) -> f32 {
    10f64.powf(db / 20.0) as f32
}

fn phrases() -> impl Iterator<Item = Phrase> {
    PARTS
        .into_iter()
        .chain(DRUMS.into_iter().map(|(_, phrase)| phrase))
}

/// The integrated loudness of a phrase; `None`: silence.
fn meter(synth: &mut Synth, phrase: &Phrase) -> Option<f64> {
    synth.silence();
    synth.set_all_gains(1.0);
    let mut meter = EbuR128::new(2, RATE, Mode::I).ok()?;
    let (mut left, mut right) = ([0.0; BLOCK_FRAMES], [0.0; BLOCK_FRAMES]);
    let mut down: &[u8] = &[];
    for beat in 0..BEATS {
        let struck = phrase.strikes[beat % phrase.strikes.len()];
        if phrase.short || !struck.is_empty() {
            down.iter()
                .for_each(|key| synth.note_off(phrase.part, *key));
            down = struck;
            let strike = |key: &u8| synth.note_on(phrase.part, *key, phrase.velocity);
            struck.iter().for_each(strike);
        }
        for _ in 0..BEAT_BLOCKS {
            synth.render(&mut left, &mut right);
            meter.add_frames_planar_f32(&[&left, &right]).ok()?;
        }
    }
    meter.loudness_global().ok().filter(|lufs| lufs.is_finite())
}
