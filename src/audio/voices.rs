//! The notes that sound, so that each is let go once, whatever happens to the bar it came from.

use crate::time::{Part, Tick};
use arrayvec::ArrayVec;

/// The most notes that sound at a time.
pub(crate) const VOICES: usize = 128;

/// A note that sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct SynthVoice {
    pub(crate) part: Part,
    pub(crate) key: u8,
    /// Where it is let go.
    pub(crate) end: Tick,
}

/// All notes that sound, at most one to a channel and key.
#[derive(Debug, Default)]
pub(crate) struct Voices {
    voices: ArrayVec<SynthVoice, VOICES>,
}

impl Voices {
    /// The earliest end.
    pub(crate) fn next_end(&self) -> Option<Tick> {
        self.voices.iter().map(|voice| voice.end).min()
    }

    /// Takes out a note that ends at or before `tick`, the earliest first.
    pub(crate) fn take_ended(&mut self, tick: Tick) -> Option<SynthVoice> {
        let (index, voice) = self
            .voices
            .iter()
            .enumerate()
            .min_by_key(|(_, voice)| voice.end)?;
        (voice.end <= tick).then(|| self.voices.swap_remove(index))
    }

    /// Takes out any note.
    pub(crate) fn take_any(&mut self) -> Option<SynthVoice> {
        self.voices.pop()
    }

    /// Takes out the note on the same channel and key, which must be let go before it is struck again.
    pub(crate) fn take_same(&mut self, part: Part, key: u8) -> Option<SynthVoice> {
        let index = self
            .voices
            .iter()
            .position(|voice| voice.key == key && voice.part.channel() == part.channel())?;
        Some(self.voices.swap_remove(index))
    }

    /// Makes room where there is none: the note that would end first.
    pub(crate) fn take_surplus(&mut self) -> Option<SynthVoice> {
        if self.voices.is_full() {
            self.take_ended(Tick(i64::MAX))
        } else {
            None
        }
    }

    /// A note begins to sound. There is room after [`Voices::take_surplus`].
    pub(crate) fn add(&mut self, voice: SynthVoice) {
        let _ = self.voices.try_push(voice);
    }

    /// How many sound.
    pub(crate) fn len(&self) -> usize {
        self.voices.len()
    }
}
