//! When a note is in time, right, or counted. Common practice, without a published source; all of it can be set.

/// A voice may be so far off.
const VOICE_CENTS: f64 = 60.0;

/// When a note is in time, right, or counted.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Early by this share of a beat is in time ...
    pub early_beats: f64,
    /// ... at least and at most by so many milliseconds.
    pub early_ms: (f64, f64),
    /// Late may be so many times what early may be.
    pub late_times: f64,
    /// A steady offset up to so much is taken out; 0: none.
    pub offset_ms: f64,
    /// The take's own tuning up to so much is taken out.
    pub tuning_cents: f64,
    /// A note is the one it is this near to.
    pub cents: f64,
    /// Shorter notes are grace notes.
    pub grace_ms: f64,
    /// Notes outside the set count from this length on.
    pub other_ms: f64,
    /// Notes the ear is less sure of (0 to 1) are not judged.
    pub confidence: f32,
    /// A note of the next chord may come so early, in beats.
    pub push_beats: f64,
    /// Whether such a note is right.
    pub push_is_right: bool,
    /// A wrong note put right within so many beats is found.
    pub found_beats: f64,
}

impl Default for Rules {
    fn default() -> Rules {
        Rules {
            early_beats: 0.1,
            early_ms: (35.0, 80.0),
            late_times: 1.4,
            offset_ms: 40.0,
            tuning_cents: 40.0,
            cents: 50.0,
            grace_ms: 80.0,
            other_ms: 120.0,
            confidence: 0.6,
            push_beats: 0.5,
            push_is_right: true,
            found_beats: 1.0,
        }
    }
}

impl Rules {
    /// How early and how late a note may be at this beat and still be in time, in milliseconds.
    pub fn window_ms(&self, beat_ms: f64) -> (f64, f64) {
        let early = (self.early_beats * beat_ms).clamp(self.early_ms.0, self.early_ms.1);
        (early, early * self.late_times)
    }

    /// The rules for what is sung, or for what is played.
    pub(crate) fn for_pass(&self, sung: bool) -> Rules {
        let least = if sung { VOICE_CENTS } else { 0.0 };
        Rules {
            cents: self.cents.max(least),
            ..self.clone()
        }
    }
}
