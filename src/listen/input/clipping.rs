//! Whether the tops of waves are cut off.
//!
//! A converter that is driven too far gives its last value again and again. A clean low note has a flat top of a few
//! samples, too, but as it dies each top is lower than the one before; a cut one comes back at the same height.

/// Tops lower than this were not cut off by a converter.
const LEAST: f32 = 0.2;
/// Samples that differ by less are one value: a little more than a step of 16 bits.
const SAME: f32 = 4e-5;
/// So many of them are a flat top.
const FLAT: u32 = 3;
/// Tops are of one height within this part of it.
const HEIGHT: f32 = 1e-3;
/// So many flat tops of one height are no chance.
const TOPS: u32 = 8;

/// The last value of a converter; so many tops that reach it are no chance either, however short.
const FULL: f32 = 0.9999;
const FULL_TOPS: u32 = 4;

/// The flat tops of one side of the wave.
#[derive(Debug, Clone, Copy, Default)]
struct Side {
    highest: f32,
    tops: u32,
}

impl Side {
    fn top(&mut self, height: f32) {
        if height > self.highest * (1.0 + HEIGHT) {
            (self.highest, self.tops) = (height, 0);
        }
        if height > self.highest * (1.0 - HEIGHT) {
            self.tops += 1;
        }
    }
}

/// The flat tops that came by.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Tops {
    above: Side,
    below: Side,
    last: f32,
    same: u32,
    full: u32,
}

impl Tops {
    pub(super) fn push(&mut self, sample: f32) {
        self.same = match (sample - self.last).abs() < SAME && sample.abs() > LEAST {
            true => self.same + 1,
            false => 0,
        };
        if sample.abs() >= FULL && self.last.abs() < FULL {
            self.full += 1;
        }
        self.last = sample;
        let side = match sample > 0.0 {
            true => &mut self.above,
            false => &mut self.below,
        };
        // What is not flat is higher than a flat top that was cut off nowhere.
        if sample.abs() > side.highest * (1.0 + HEIGHT) {
            (side.highest, side.tops) = (sample.abs(), 0);
        }
        if self.same + 1 == FLAT {
            side.top(sample.abs());
        }
    }

    /// How many tops were cut off; 0 where they may be flat by chance.
    pub(super) fn cut(&self) -> u32 {
        let cut = |side: Side| if side.tops >= TOPS { side.tops } else { 0 };
        let full = if self.full >= FULL_TOPS { self.full } else { 0 };
        full.max(cut(self.above) + cut(self.below))
    }
}
