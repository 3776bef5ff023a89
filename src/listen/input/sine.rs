//! The power of one sine in a sound.
//!
//! Goertzel's filter (G. Goertzel, "An algorithm for the evaluation of finite trigonometric series", American Mathematical
//! Monthly 65, 1958; from memory) under a Hann window.

/// The power of a sine that turns by `turn` radians a sample.
pub(super) fn power_at(sound: &[f32], turn: f64) -> f32 {
    let (twice, mut last, mut before) = (2.0 * turn.cos(), 0.0_f64, 0.0_f64);
    // The window turns as a sine does, by the same recurrence.
    let step = std::f64::consts::TAU / sound.len().max(1) as f64;
    let twice_step = 2.0 * step.cos();
    let (mut cos, mut cos_before) = (1.0, step.cos());
    for sample in sound {
        let window = 0.5 - 0.5 * cos;
        (cos, cos_before) = (twice_step * cos - cos_before, cos);
        let next = window * f64::from(*sample) + twice * last - before;
        (before, last) = (last, next);
    }
    let squared = last * last + before * before - twice * last * before;
    // A sine of amplitude a under the window sums up to a N / 4; its power is a a / 2.
    let amplitude = squared.max(0.0).sqrt() * 4.0 / sound.len().max(1) as f64;
    (amplitude * amplitude / 2.0) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_is_measured_at_its_place_only() {
        let turn = 0.05;
        let sine: Vec<f32> = (0..4_800).map(|n| 0.5 * (turn * n as f32).sin()).collect();
        let at = |turn: f64| power_at(&sine, turn);
        assert!((at(0.05) - 0.125).abs() < 1e-3, "{}", at(0.05));
        assert!(
            at(0.06) < 1e-5 && at(0.2) < 1e-7,
            "{} {}",
            at(0.06),
            at(0.2)
        );
    }
}
