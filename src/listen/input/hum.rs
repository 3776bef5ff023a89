//! What hums in the pauses.
//!
//! The mains are 50 or 60 Hz and their multiples, steady, and there in each pause; a string that rings on is at none of
//! them for long. Each multiple is looked for at its place and beside it: a tone beside it is louder there.

use super::sine::power_at;
use crate::device::Hum;

/// The mains of the world, in Hz.
const MAINS_HZ: [f32; 2] = [50.0, 60.0];
/// Multiples that are looked for.
const MULTIPLES: usize = 8;
/// A stretch of sound, in seconds.
const STRETCH_S: f32 = 0.4;
/// How far beside a multiple is looked, in Hz: more than the mains ever stray times the multiples.
const BESIDE_HZ: f32 = 3.0;
/// A multiple is louder than what is beside it by so much.
const LOUDER: f32 = 1.6;
/// Stretches that are kept: the quietest.
const KEPT: usize = 4;
/// Less than this hums for nobody, in dB of full scale.
const LEAST_DB: f32 = -75.0;
/// So much of all that sounds in a pause is the mains, or it is noise.
const SHARE: f32 = 0.3;

/// A stretch of sound: its power, and that of each kind of mains in it.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    power: f32,
    mains: [f32; 2],
}

/// The quietest stretches so far.
#[derive(Debug, Clone)]
pub(super) struct Pauses {
    rate: f32,
    sound: Vec<f32>,
    long: usize,
    quietest: Vec<Stretch>,
}

impl Pauses {
    pub(super) fn new(rate: u32) -> Pauses {
        let long = (STRETCH_S * rate as f32) as usize;
        Pauses {
            rate: rate as f32,
            sound: Vec::with_capacity(long),
            long,
            quietest: Vec::with_capacity(KEPT + 1),
        }
    }

    pub(super) fn push(&mut self, sample: f32) {
        self.sound.push(sample);
        if self.sound.len() == self.long {
            self.close();
            // The next one overlaps by half: a short pause lies wholly in one of them.
            self.sound.drain(..self.long / 2);
        }
    }

    fn close(&mut self) {
        let count = self.long as f32;
        let mean = self.sound.iter().sum::<f32>() / count;
        let squares = self.sound.iter().map(|s| (s - mean).powi(2)).sum::<f32>();
        let power = squares / count;
        let is_quiet = self.quietest.len() < KEPT
            || self.quietest.last().is_some_and(|last| power < last.power);
        if power <= 1e-12 || !is_quiet {
            return;
        }
        let mains = MAINS_HZ.map(|hz| self.mains_power(hz));
        let at = self.quietest.partition_point(|kept| kept.power <= power);
        self.quietest.insert(at, Stretch { power, mains });
        self.quietest.truncate(KEPT);
    }

    fn mains_power(&self, mains_hz: f32) -> f32 {
        let turn = |hz: f32| std::f64::consts::TAU * f64::from(hz) / f64::from(self.rate);
        let multiple = |times: usize| {
            let hz = mains_hz * times as f32;
            let [here, below, above] =
                [0.0, -BESIDE_HZ, BESIDE_HZ].map(|away| power_at(&self.sound, turn(hz + away)));
            let stands_out = here > LOUDER * below.max(above);
            if stands_out { here } else { 0.0 }
        };
        (1..=MULTIPLES).map(multiple).sum()
    }

    /// The mains, if they are in every one of the quietest stretches.
    pub(super) fn hum(&self) -> Option<Hum> {
        if self.quietest.len() < KEPT {
            return None;
        }
        let least = |kind: usize| {
            let powers = self.quietest.iter().map(|stretch| stretch.mains[kind]);
            powers.fold(f32::INFINITY, f32::min)
        };
        let kind = if least(1) > least(0) { 1 } else { 0 };
        let power = least(kind);
        let all = self.quietest[0].power;
        let level_db = 10.0 * power.max(1e-12).log10();
        (level_db > LEAST_DB && power > SHARE * all).then_some(Hum {
            mains_hz: MAINS_HZ[kind] as u32,
            level_db,
        })
    }
}
