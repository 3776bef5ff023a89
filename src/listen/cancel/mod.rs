//! The band taken out of what is heard.
//!
//! What the box plays is known to the sample; how it comes back is not: late, coloured by loudspeaker and room, softer or
//! louder. First the delay is found (`delay`), then a filter that is as long as a small room rings learns the way (`way_back`),
//! and what comes out of it is taken from the sound.
//!
//! # Why does it never do harm?
//!
//! A sound in which the band cannot be found is left as it is: before the delay is known nothing is taken out, and nothing is
//! held back. The filter begins at nothing and moves by what it can be sure of: while the player sounds, hardly at all. Where
//! it takes out less than it puts in, it begins anew.
//!
//! # What was tried
//!
//! Two ways to leave the sound as it is where the filter is wrong, on 144 recorded lines with the band: each frequency's estimate
//! shrunk by what the filter is unsure of, and the whole left out where the powers of all frequencies do not fall on the mean of 0.3 s.
//! Neither kept the few lines that become worse (at most 4 dB for some seconds) from it, and both cost others up to 1 dB and more: next to a
//! player 15 dB louder, powers do not tell help from harm soon enough.
//!
//! A mask (what may be the band at most, by bands of the spectrum, learnt as a quantile) cost right notes wherever it was given a
//! band: 91 of 100 at 15 dB under the player where 96 were right without. Beside the filter, with what the filter is unsure
//! of, it still cost 1 in 100. On the recorded notes of four guitars (584, the band 10, 15, 20 dB under them) right notes and F went
//! from 80.0 % 0.806, 92.5 % 0.924, 96.2 % 0.963 with the mask to 94.9 % 0.943, 97.6 % 0.968, 98.6 % 0.975. Blocks of 256 and 128
//! frames learn more slowly than 64 (10, 17 and 18 dB after the first quarter of lines of 5 s).

mod delay;
mod way_back;

use super::decimate::dot;
use delay::DelayFinder;
use way_back::WayBack;

/// The filter begins so long before the delay that was found.
const LEAD_S: f32 = 0.003;
/// What comes out must not be so much more than what went in ...
const HARM: f32 = 1.1;
/// ... over about so long.
const HARM_S: f32 = 0.3;

/// A band 20 dB under the player is found in so long where it is there (19 of 20 lines).
const OPEN_S: f32 = 0.55;
/// A band so soft is none.
const SILENT: f32 = 1e-4;

/// Takes the band out of a sound, block by block.
pub(super) struct Canceller {
    rate: f32,
    block: usize,
    /// What was played in the last moments, as a ring.
    played: Vec<f32>,
    at: usize,
    sound: Vec<f32>,
    band: Vec<f32>,
    clean: Vec<f32>,
    taken: Vec<f32>,
    finder: DelayFinder,
    way: WayBack,
    /// By how many frames the band comes late, where that is known.
    late: Option<usize>,
    /// How many frames of the band were looked at without finding it.
    sought: usize,
    power_in: f32,
    power_out: f32,
}

impl Canceller {
    /// A canceller that knows nothing of the way.
    pub(super) fn new(rate: f32) -> Canceller {
        let block = (rate * 0.001_35).log2().round().exp2().max(16.0) as usize;
        let finder = DelayFinder::new(rate);
        Canceller {
            rate,
            block,
            played: vec![0.0; finder.most_late() + 2 * block],
            at: 0,
            sound: Vec::with_capacity(block),
            band: vec![0.0; block],
            clean: vec![0.0; block],
            taken: vec![0.0; block],
            finder,
            way: WayBack::new(rate, block),
            late: None,
            sought: 0,
            power_in: 0.0,
            power_out: 0.0,
        }
    }

    /// How many frames are taken at once.
    pub(super) fn block(&self) -> usize {
        self.block
    }

    /// Whether the band was found, and is being taken out.
    pub(super) fn takes_out(&self) -> bool {
        self.late.is_some()
    }

    /// Whether the band sounds, and not long enough to tell whether it is in the sound.
    pub(super) fn is_open(&self) -> bool {
        self.late.is_none() && self.sought > 0 && (self.sought as f32) < OPEN_S * self.rate
    }

    /// What was taken out of the last block; silence while the band is not found.
    pub(super) fn taken(&self) -> &[f32] {
        &self.taken
    }

    /// How many frames are missing to a block.
    pub(super) fn room(&self) -> usize {
        self.block - self.sound.len()
    }

    /// Takes frames of the sound and of the band, no more than there is room for; with the last frame of a block it gives what is
    /// left of the block.
    pub(super) fn push(&mut self, sound: &[f32], band: &[f32]) -> Option<&[f32]> {
        self.sound.extend_from_slice(sound);
        for &band in band {
            self.at += 1;
            if self.at == self.played.len() {
                self.at = 0;
            }
            self.played[self.at] = band;
        }
        self.finder.extend(sound, band);
        if self.sought > 0 || band.iter().any(|x| x.abs() > SILENT) {
            self.sought = self.sought.saturating_add(band.len());
        }
        (self.sound.len() == self.block).then(|| self.take_out())
    }

    /// What is not a whole block yet, as it is.
    pub(super) fn rest(&mut self) -> std::vec::Drain<'_, f32> {
        self.sound.drain(..)
    }

    fn take_out(&mut self) -> &[f32] {
        self.follow_finder();
        let Some(late) = self.late else {
            std::mem::swap(&mut self.clean, &mut self.sound);
            self.sound.clear();
            self.taken.fill(0.0);
            return &self.clean;
        };
        let len = self.played.len();
        let first = (self.at + 2 * len + 1 - self.block - late) % len;
        let newest_last = self.played[first..].iter().chain(&self.played[..first]);
        for (band, played) in self.band.iter_mut().zip(newest_last) {
            *band = *played;
        }
        self.clean.resize(self.block, 0.0);
        self.way.step(&self.band, &self.sound, &mut self.clean);
        let both = self.sound.iter().zip(&self.clean);
        for (taken, (sound, clean)) in self.taken.iter_mut().zip(both) {
            *taken = sound - clean;
        }
        self.watch();
        self.sound.clear();
        &self.clean
    }

    /// Begins with the delay that is found, and again where another one is found to be it.
    fn follow_finder(&mut self) {
        let Some(found) = self.finder.found() else {
            return;
        };
        let lead = (LEAD_S * self.rate) as usize;
        let late = found.late.saturating_sub(lead);
        if self.late.is_some_and(|known| known.abs_diff(late) <= lead) {
            return;
        }
        self.late = Some(late);
        self.way.begin(lead.min(found.late), found.gain);
        (self.power_in, self.power_out) = (0.0, 0.0);
    }

    /// Begins anew where the filter does harm: the way is another one.
    fn watch(&mut self) {
        let weight = self.block as f32 / (HARM_S * self.rate);
        let power = |block: &[f32]| dot(block, block);
        self.power_in += weight * (power(&self.sound) - self.power_in);
        self.power_out += weight * (power(&self.clean) - self.power_out);
        let does_harm = self.power_out > HARM * self.power_in + 1e-9;
        if does_harm || !self.power_out.is_finite() {
            self.late = None;
            self.sought = 0;
            self.finder.begin();
        }
    }
}

#[cfg(test)]
mod tests;
