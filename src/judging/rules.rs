//! When a note is in time, right, or counted. Common practice, without a published source; all of it can be set.

use crate::fault::TableView;
use crate::fault::settings::{flag, number, number_f32, settings};

/// A voice may be so far off.
const VOICE_CENTS: f64 = 60.0;
/// ... and need be no surer: what is said of it is how well it repeats, which is less the more it swings.
const VOICE_CONFIDENCE: f32 = 0.6;

settings! {
    /// When a note is in time, right, or counted; what the table `[judging]` says.
    #[derive(Debug, Clone, PartialEq)]
    pub struct Rules {
        /// Early by this share of a beat is in time ...
        early_beats as "in_time_beats": f64 = 0.1, number(0.01..=0.5, "beats");
        /// ... at least and at most by so many milliseconds.
        early_ms: (f64, f64) = EARLY_MS, early_ms;
        /// Late may be so many times what early may be.
        late_times: f64 = 1.4, number(0.5..=4.0, "");
        /// A steady offset up to so much is taken out; 0: none.
        offset_ms as "steady_offset_ms": f64 = 40.0, number(0.0..=150.0, "ms");
        /// The take's own tuning up to so much is taken out.
        tuning_cents: f64 = 40.0, number(0.0..=50.0, "cents");
        /// A note is the one it is this near to.
        cents: f64 = 50.0, number(10.0..=50.0, "cents");
        /// Shorter notes are grace notes.
        grace_ms: f64 = 80.0, number(0.0..=300.0, "ms");
        /// Notes outside the set count from this length on.
        other_ms: f64 = 120.0, number(0.0..=2000.0, "ms");
        /// Notes the ear is less sure of are not judged.
        confidence: f32 = 0.9, number_f32(0.0..=1.0, "");
        /// A next-chord note may come so early, in beats.
        push_beats: f64 = 0.5, number(0.0..=1.0, "beats");
        /// Whether such a note is right.
        push_is_right: bool = true, flag;
        /// A wrong note put right within so many beats is found.
        found_beats: f64 = 1.0, number(0.0..=4.0, "beats");
    }
}

const EARLY_MS: (f64, f64) = (35.0, 80.0);

fn early_ms(view: &TableView<'_, '_>, _: &'static str) -> Option<(f64, f64)> {
    let ms = |key, range, usual| view.number(key, range, "ms").unwrap_or(usual);
    let least = ms("in_time_least_ms", 10.0..=200.0, EARLY_MS.0);
    let most = ms("in_time_most_ms", 10.0..=400.0, EARLY_MS.1);
    Some((least, most.max(least)))
}

impl Rules {
    /// How early and how late a note may be at this beat and still be in time, in milliseconds.
    pub fn window_ms(&self, beat_ms: f64) -> (f64, f64) {
        let early = (self.early_beats * beat_ms).clamp(self.early_ms.0, self.early_ms.1);
        (early, early * self.late_times)
    }

    /// The rules for what is sung, or for what is played.
    pub(crate) fn for_pass(&self, sung: bool) -> Rules {
        if !sung {
            return self.clone();
        }
        Rules {
            cents: self.cents.max(VOICE_CENTS),
            confidence: self.confidence.min(VOICE_CONFIDENCE),
            ..self.clone()
        }
    }
}
