//! What of the sound is the box's own band.
//!
//! The box knows what it plays, but not how it comes back: late by up to a tenth of a second, coloured by amplifier and
//! room, at any level. So no wave is subtracted. For each band of the spectrum the loudest of what was played in the
//! time that may be sounding now, times a gain that is learnt, says how loud the bleed can be at most; the player's
//! notes must stand out from that.
//!
//! # Why is the band masked and not subtracted?
//!
//! The delay is unknown by 50 ms either way and a room colours what comes
//! back, so a filter that subtracts would have to be found anew for every room, while a note of one second is played over
//! it. What can be known at once is how loud the bleed is at most, by bands: `listen/band.rs`. A note must stand out from
//! that. With a band only 14 dB under the guitar (another seed) it takes the notes' F from 0.88 to 0.97 on single notes,
//! from 0.96 to 0.98 on lines.

use super::onset::BANDS;

/// How many looks back the bleed may come from: about 107 ms.
const LOOKS: usize = 40;
/// The gain is so far up what is heard against what is played, of 1: below it lies the bleed alone, above it the player.
const QUANTILE: f32 = 0.5;
/// By how many decibels the gain moves for a look, at first and later.
const FIRST_STEP_DB: f32 = 2.0;
const STEP_DB: f32 = 0.1;
/// What is played this far under its own loudest teaches nothing.
const TEACHES_DB: f32 = 25.0;

/// Learns how much of the band comes back.
#[derive(Debug, Clone)]
pub(super) struct Bleed {
    played: [[f32; BANDS]; LOOKS],
    at: usize,
    loudest: [f32; BANDS],
    gain_db: [f32; BANDS],
    looks: [u32; BANDS],
}

impl Bleed {
    pub(super) fn new() -> Bleed {
        Bleed {
            played: [[0.0; BANDS]; LOOKS],
            at: 0,
            loudest: [0.0; BANDS],
            gain_db: [0.0; BANDS],
            looks: [0; BANDS],
        }
    }

    /// Takes the powers of what is played and of what is heard; gives the power the bleed may have now, in each band,
    /// together at most `most` (a power).
    pub(super) fn push(
        &mut self,
        played: &[f32; BANDS],
        heard: &[f32; BANDS],
        most: f32,
    ) -> [f32; BANDS] {
        self.played[self.at] = *played;
        self.at = (self.at + 1) % LOOKS;
        let mut expected = [0.0; BANDS];
        for band in 0..BANDS {
            let recent = self
                .played
                .iter()
                .fold(0.0_f32, |most, look| most.max(look[band]));
            self.loudest[band] = recent.max(self.loudest[band] * 0.9995);
            if recent > 1e-12 && recent > self.loudest[band] * db_power(-TEACHES_DB) {
                self.learn(band, 10.0 * ((heard[band] + 1e-14) / recent).log10());
            }
            // Nothing is held back before something was learnt.
            if self.looks[band] > 0 {
                expected[band] = recent * db_power(self.gain_db[band]);
            }
        }
        let sum: f32 = expected.iter().sum();
        if sum > most {
            expected.iter_mut().for_each(|power| *power *= most / sum);
        }
        expected
    }

    fn learn(&mut self, band: usize, ratio_db: f32) {
        let looks = &mut self.looks[band];
        let gain = &mut self.gain_db[band];
        if *looks == 0 {
            *gain = ratio_db;
        }
        *looks = (*looks + 1).min(1000);
        let step = (FIRST_STEP_DB * 10.0 / (*looks as f32 + 9.0)).max(STEP_DB);
        *gain += if ratio_db > *gain {
            step * QUANTILE
        } else {
            -step * (1.0 - QUANTILE)
        };
    }
}

fn db_power(db: f32) -> f32 {
    10_f32.powf(db / 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gain_is_that_of_the_bleed_although_the_player_is_louder() {
        let mut bleed = Bleed::new();
        let mut expected = [0.0; BANDS];
        for look in 0..4000 {
            let played = [if look % 60 < 30 { 0.1 } else { 0.02 }; BANDS];
            // The bleed is 20 dB down; the player sounds a third of the time, far over it. (The gain is a median: one
            // who sounds more than half of the time would be taken for bleed.)
            let player = if look % 100 < 33 { 0.05 } else { 0.0 };
            let heard = played.map(|power| power * 0.01 + player);
            expected = bleed.push(&played, &heard, 1.0);
        }
        for power in expected {
            let off_db = 10.0 * (power / (0.1 * 0.01)).log10();
            assert!((-8.0..3.0).contains(&off_db), "{off_db}");
        }
    }

    #[test]
    fn the_bleed_is_never_taken_for_louder_than_it_may_be() {
        let mut bleed = Bleed::new();
        for _ in 0..100 {
            let expected = bleed.push(&[1.0; BANDS], &[1.0; BANDS], 0.01);
            assert!(expected.iter().sum::<f32>() < 0.0101);
        }
    }
}
