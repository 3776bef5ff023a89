//! The low-pass of a voice (SoundFont 2.04, generators 8 and 9): two poles, by the bilinear transform.

use super::units::hz;

/// b0, b1, b2, a1, a2 of a second-order section.
pub(super) type Coefficients = [f32; 5];

/// Lets everything through.
const OPEN: Coefficients = [1.0, 0.0, 0.0, 0.0, 0.0];
/// From this cutoff on there is nothing to take away: the standard's highest.
const OPEN_CENTS: f32 = 13_500.0;

/// Where a voice's filter stands and where it is bound.
#[derive(Debug, Clone)]
pub(super) struct Filter {
    pub(super) now: Coefficients,
    pub(super) target: Coefficients,
    pub(super) memory: [f32; 2],
    cutoff_cents: f32,
    q_centibels: f32,
}

impl Filter {
    pub(super) fn new(cutoff_cents: f32, q_centibels: f32, rate: f32) -> Filter {
        let now = coefficients(cutoff_cents, q_centibels, rate);
        Filter {
            now,
            target: now,
            memory: [0.0; 2],
            cutoff_cents,
            q_centibels,
        }
    }

    /// Where it is to be at the end of the next block.
    pub(super) fn aim(&mut self, cutoff_cents: f32, q_centibels: f32, rate: f32) {
        if (cutoff_cents, q_centibels) != (self.cutoff_cents, self.q_centibels) {
            (self.cutoff_cents, self.q_centibels) = (cutoff_cents, q_centibels);
            self.target = coefficients(cutoff_cents, q_centibels, rate);
        }
    }

    /// Whether it changes anything.
    pub(super) fn is_open(&self) -> bool {
        self.now == OPEN && self.target == OPEN
    }

    pub(super) fn is_moving(&self) -> bool {
        self.now != self.target
    }
}

/// R. Bristow-Johnson's low-pass ("Cookbook formulae for audio EQ biquad filter coefficients"). The height of the resonance
/// is counted from a filter without any hump, 3 dB down at its cutoff, and half of it is taken off everything (generator 9).
fn coefficients(cutoff_cents: f32, q_centibels: f32, rate: f32) -> Coefficients {
    if cutoff_cents >= OPEN_CENTS && q_centibels <= 0.0 {
        return OPEN;
    }
    let turn = std::f32::consts::TAU * hz(cutoff_cents).min(0.45 * rate) / rate;
    let decibels = q_centibels / 10.0;
    let q = 10f32.powf((decibels - 3.010_3) / 20.0);
    let gain = 10f32.powf(-decibels / 40.0);
    let (sin, cos) = turn.sin_cos();
    let alpha = sin / (2.0 * q);
    let scale = 1.0 / (1.0 + alpha);
    // 1 - cos, without losing what is left of it at low cutoffs.
    let rise = 2.0 * (turn * 0.5).sin().powi(2) * gain * scale;
    [
        rise * 0.5,
        rise,
        rise * 0.5,
        -2.0 * cos * scale,
        (1.0 - alpha) * scale,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The gain at a frequency, in decibels.
    fn decibels(coefficients: Coefficients, hz: f64, rate: f64) -> f64 {
        let [b0, b1, b2, a1, a2] = coefficients.map(f64::from);
        let turn = std::f64::consts::TAU * hz / rate;
        let sum = |zero: f64, one: f64, two: f64| {
            let re = zero + one * turn.cos() + two * (2.0 * turn).cos();
            let im = one * turn.sin() + two * (2.0 * turn).sin();
            re.hypot(im)
        };
        20.0 * (sum(b0, b1, b2) / sum(1.0, a1, a2)).log10()
    }

    #[test]
    fn resonance_has_the_height_of_the_standard() {
        // Generator 9's own example: at 100 centibels the gain below is -5 dB, the resonance 10 dB above that. At 0 the gain at
        // the cutoff is -3 dB, that of a filter without a hump.
        for (q, low, at_cutoff) in [
            (0.0, 0.0, -3.01),
            (100.0, -5.0, 5.0 - 3.01),
            (200.0, -10.0, 10.0 - 3.01),
        ] {
            let cents = 8_400.0;
            let cutoff = f64::from(hz(cents));
            let found = coefficients(cents, q, 48_000.0);
            assert!((decibels(found, 1.0, 48_000.0) - low).abs() < 0.05, "{q}");
            assert!(
                (decibels(found, cutoff, 48_000.0) - at_cutoff).abs() < 0.05,
                "{q}"
            );
        }
    }
}
