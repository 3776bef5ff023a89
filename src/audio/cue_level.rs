//! How loud cues are: so much above what the band was in the last seconds, in thin choruses and in thick ones.
//!
//! A word keeps its level while it is said, but for a slow move in what sounds longer.

use super::loudness::BAND_LUFS;
use super::mixer::Ramp;
use super::weighting::{Weighting, lufs};

/// The time over which EBU Tech 3341 takes short-term loudness: 3 s, in bins of a tenth.
const BINS: usize = 30;
const BINS_A_SECOND: u32 = 10;
/// A bin below is silence and counts for nothing; while the newest is so far below the others the band rests, or dies away, and
/// the level stays (the gates of ITU-R BS.1770-4).
const SILENT_LUFS: f64 = -70.0;
const RESTING_LU: f64 = -10.0;
/// How far cues follow a band that is quieter or louder than it is to be by default: a word must still be understood beside
/// a guitar, and must not be cut by the limiter.
const FARTHEST_DB: (f64, f64) = (-12.0, 6.0);
/// How fast the level of what sounds for longer moves.
const DB_A_SECOND: f64 = 1.0;

/// Follows the band's loudness with the level of the cues.
#[derive(Debug)]
pub(super) struct CueLevel {
    rate: f64,
    weightings: [Weighting; 2],
    /// Mean squares, both sides added; the oldest is overwritten.
    bins: [f64; BINS],
    oldest: usize,
    energy: f64,
    frames: u32,
    bin_frames: u32,
    /// Against what cues have beside a band at its default loudness.
    wanted_db: f64,
    now_db: f64,
    gain: Ramp,
}

impl CueLevel {
    pub(super) fn new(rate: u32) -> CueLevel {
        CueLevel {
            rate: f64::from(rate),
            weightings: [Weighting::new(rate); 2],
            bins: [0.0; BINS],
            oldest: 0,
            energy: 0.0,
            frames: 0,
            bin_frames: (rate / BINS_A_SECOND).max(1),
            wanted_db: 0.0,
            now_db: 0.0,
            gain: Ramp::new(1.0),
        }
    }

    /// A take begins: what it is compared with begins with it, so that every playing of it sounds the same. Until the band
    /// is heard the level stays where it was.
    pub(super) fn begin(&mut self) {
        self.weightings.iter_mut().for_each(Weighting::reset);
        self.bins = [0.0; BINS];
        (self.energy, self.frames) = (0.0, 0);
    }

    /// The band as it leaves.
    pub(super) fn hear(&mut self, left: &[f32], right: &[f32]) {
        for (weighting, side) in self.weightings.iter_mut().zip([left, right]) {
            if side.iter().all(|sample| *sample == 0.0) {
                weighting.reset();
            } else {
                self.energy += weighting.energy(side);
            }
        }
        self.frames += left.len() as u32;
        if self.frames >= self.bin_frames {
            let newest = self.energy / f64::from(self.frames);
            self.bins[self.oldest] = newest;
            self.oldest = (self.oldest + 1) % BINS;
            (self.energy, self.frames) = (0.0, 0);
            self.want(lufs(newest));
        }
    }

    fn want(&mut self, newest_lufs: f64) {
        let heard = self.bins.iter().filter(|bin| lufs(**bin) > SILENT_LUFS);
        let (sum, count) = heard.fold((0.0, 0), |(sum, count), bin| (sum + bin, count + 1));
        let mean_lufs = lufs(sum / f64::from(count));
        if count > 0 && newest_lufs > mean_lufs + RESTING_LU {
            self.wanted_db = (mean_lufs - BAND_LUFS).clamp(FARTHEST_DB.0, FARTHEST_DB.1);
        }
    }

    /// Brings the cues to their level.
    pub(super) fn apply(&mut self, cue: &mut [f32]) {
        if cue.iter().all(|sample| *sample == 0.0) {
            if self.now_db != self.wanted_db {
                self.now_db = self.wanted_db;
                self.gain = Ramp::new(amplitude(self.now_db));
            }
            return;
        }
        if self.now_db != self.wanted_db {
            let farthest = DB_A_SECOND * cue.len() as f64 / self.rate;
            self.now_db += (self.wanted_db - self.now_db).clamp(-farthest, farthest);
            self.gain.to(amplitude(self.now_db), cue.len() as u32);
        }
        self.gain.apply(cue);
    }
}

fn amplitude(db: f64) -> f32 {
    10f64.powf(db / 20.0) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;
    /// 997 Hz, at which the weighting is 0.69 dB: a sine of 0 dBFS on both sides is 0 LUFS.
    fn sine(frame: usize, lufs: f64) -> f32 {
        let phase = frame as f64 * 997.0 / f64::from(RATE) * std::f64::consts::TAU;
        (10f64.powf(lufs / 20.0) * phase.sin()) as f32
    }

    /// The level of the cues in dB after stretches of the band at so many LUFS, each of so many seconds, while they are silent.
    fn after(stretches: &[(f64, f64)]) -> f64 {
        let mut level = CueLevel::new(RATE);
        play(&mut level, stretches, 0.0)
    }

    fn play(level: &mut CueLevel, stretches: &[(f64, f64)], cue: f32) -> f64 {
        for (lufs, seconds) in stretches {
            for block in 0..(seconds * f64::from(RATE)) as usize / 64 {
                let side: Vec<f32> = (0..64).map(|n| sine(block * 64 + n, *lufs)).collect();
                level.hear(&side, &side);
                level.apply(&mut [cue; 64]);
            }
        }
        let mut one = [1.0; 1];
        level.apply(&mut one);
        20.0 * f64::from(one[0]).log10()
    }

    #[test]
    fn cues_are_as_far_from_their_place_as_the_band_is_from_its_own() {
        let silence = -200.0;
        for (stretches, wanted) in [
            (&[(silence, 5.0)][..], 0.0),
            (&[(BAND_LUFS, 4.0)], 0.0),
            (&[(-26.0, 4.0)], -6.0),
            // Before the window is full, what was heard counts.
            (&[(silence, 2.0), (-26.0, 0.5)], -6.0),
            (&[(-17.0, 4.0)], 3.0),
            // Only the last three seconds count, and silence in them does not.
            (&[(-17.0, 9.0), (-26.0, 3.2)], -6.0),
            (&[(-26.0, 4.0), (silence, 1.5)], -6.0),
            // It stays where it was when the band is silent.
            (&[(-26.0, 4.0), (silence, 9.0)], -6.0),
            // As far as it goes.
            (&[(-60.0, 4.0)], -12.0),
            (&[(-3.0, 4.0)], 6.0),
        ] {
            let db = after(stretches);
            assert!((db - wanted).abs() < 0.35, "{stretches:?}: {db:.2}");
        }
    }

    #[test]
    fn what_sounds_on_moves_by_a_decibel_a_second() {
        let mut level = CueLevel::new(RATE);
        play(&mut level, &[(BAND_LUFS, 4.0)], 0.0);
        let db = play(&mut level, &[(-32.0, 7.0)], 0.1);
        assert!((-7.1..-5.5).contains(&db), "{db:.2}");
    }
}
