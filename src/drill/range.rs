//! The keys of an instrument, and in which octave a figure begins.

/// The MIDI keys that a line may go through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeyRange {
    pub low: u8,
    pub high: u8,
}

impl KeyRange {
    /// From the open low E of a guitar in standard tuning to the twelfth fret of its high E string.
    pub const GUITAR: KeyRange = KeyRange { low: 40, high: 76 };

    /// From `low` to `high`, at least an octave and a fifth, so that every figure finds its keys.
    pub fn new(low: u8, high: u8) -> KeyRange {
        let low = low.min(100);
        KeyRange {
            low,
            high: high.clamp(low + 19, 127),
        }
    }

    /// The keys of a note by its class, from the lowest on.
    pub(super) fn keys_of(self, class: u8) -> impl Iterator<Item = u8> + Clone {
        (self.low..=self.high).filter(move |key| key % 12 == class)
    }

    /// Around here a root is sought, in halves of a semitone: an octave and a semitone over the lowest key (between F and F#
    /// below middle C on a guitar).
    pub(super) fn middle_halves(self) -> i32 {
        2 * i32::from(self.low) + 27
    }
}

/// In which octave a figure's root is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Octave {
    /// As low as the figure fits.
    Low,
    #[default]
    Middle,
    /// As high as the figure fits.
    High,
}
