//! A voice: notes without strokes, named when the middle of their swing has come to rest.

use super::added::Added;
use super::found::Found;
use super::notes::Notes;
use super::pending::{Hop, Pending};
use super::sung::fold;

/// Another note is at least so far away, in cents: a semitone less what a middle may be off.
const AWAY_CENTS: f32 = 65.0;
/// A swelling voice is this long before it is sure, in ms.
const SURE_MS: f32 = 200.0;
/// By how much the loudest moment of what swells is forgotten in a hop.
const FADE_DB: f32 = 0.05;

impl Notes {
    /// A voice: names what began, and what came without a beginning of its own.
    pub(super) fn follow_voice(
        &mut self,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) {
        let midi = 69.0 + 12.0 * (hop.pitch.hz.max(1e-3) / self.a4).log2();
        let middle = self.sung.push(midi, hop.pitch.clarity);
        if let Some(pending) = &mut self.pending {
            pending.hear(hop);
        }
        self.swelling.loudest_db -= FADE_DB;
        self.swelling.hear(hop);
        let Some(middle) = middle.filter(|middle| middle.rests) else {
            self.forget_nameless(hop.at);
            return;
        };
        let hz = self.hz_of(middle.midi);
        // Of what a consonant added nothing else is asked.
        let mut of_band = |onset: u64| Added {
            band: added(onset, hz).band,
            ..Added::default()
        };
        if let Some(pending) = self.pending.take() {
            self.give_name(pending, hz, of_band(pending.onset), hop, out);
        } else if self.is_another(hz) {
            let frames = (SURE_MS / 1000.0 * self.rate) as u64;
            let onset = hop.at.saturating_sub(frames).max(self.last_onset);
            let mut swollen = self.swelling;
            (swollen.onset, swollen.known) = (onset, hop.at);
            self.last_onset = onset;
            self.give_name(swollen, hz, of_band(onset), hop, out);
        } else {
            return;
        }
        self.swelling = Pending::new(hop.at, hop.at);
    }

    pub(super) fn hz_of(&self, midi: f32) -> f32 {
        self.a4 * ((midi - 69.0) / 12.0).exp2()
    }

    /// Whether another note sounds than the one that was named last.
    fn is_another(&self, hz: f32) -> bool {
        self.sounding
            .is_none_or(|note| fold(12.0 * (hz / note.hz).log2()).abs() * 100.0 > AWAY_CENTS)
    }
}
