//! The units of the standard (SoundFont 2.04, section 8.1.1).

/// Seconds of absolute timecents.
pub(super) fn seconds(timecents: f32) -> f32 {
    (timecents / 1200.0).exp2()
}

/// Seconds of a stretch that may be left out: the least value means none.
pub(super) fn seconds_or_none(timecents: f32) -> f32 {
    if timecents <= -12_000.0 {
        0.0
    } else {
        seconds(timecents)
    }
}

/// The factor of an attenuation in centibels.
pub(super) fn attenuated(centibels: f32) -> f32 {
    // log2(10) / 200.
    (centibels * -0.016_609_64).exp2()
}

/// Hz of absolute cents: 0 is MIDI key 0.
pub(super) fn hz(cents: f32) -> f32 {
    8.175_799 * (cents / 1200.0).exp2()
}
