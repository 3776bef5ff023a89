//! The sound of strings, made for the ear. The guard of allocations includes this file too.

use underfoot::listen::{Instrument, Setup};

pub const RATE: u32 = 48_000;

pub fn hz(midi: f64) -> f64 {
    440.0 * 2f64.powf((midi - 69.0) / 12.0)
}

/// A plucked string without a room: partials that die, the high ones sooner; damped at its end.
pub fn pluck(sound: &mut [f32], rate: u32, midi: f64, from_s: f64, long_s: f64, level: f64) {
    let from = (from_s * f64::from(rate)) as usize;
    for n in 0..(long_s * f64::from(rate)) as usize {
        let t = n as f64 / f64::from(rate);
        let gate = (t / 0.002).min(1.0) * ((long_s - t) / 0.012).min(1.0);
        let partial = |h: f64| {
            let f = hz(midi) * h;
            if f > 0.4 * f64::from(rate) {
                0.0
            } else {
                (-t * 1.5 * h).exp() * (std::f64::consts::TAU * f * t).sin() / h
            }
        };
        let sum: f64 = (1..=8).map(|h| partial(f64::from(h))).sum();
        if let Some(to) = sound.get_mut(from + n) {
            *to += (level * gate * sum) as f32;
        }
    }
}

pub fn setup(rate: u32, instrument: Instrument) -> Setup {
    Setup {
        rate,
        instrument,
        a4_hz: 440.0,
        lowest_hz: 0.0,
    }
}

/// A line with a band of noise and low tones under it, from a fixed sequence of numbers.
pub fn lively() -> Vec<f32> {
    let mut sound = vec![0.0_f32; 4 * RATE as usize];
    let mut state = 1_u32;
    let mut random = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / f64::from(1 << 24)
    };
    for index in 0..14 {
        let midi = 45.0 + (random() * 30.0).floor();
        pluck(
            &mut sound,
            RATE,
            midi,
            0.1 + 0.27 * f64::from(index),
            0.25,
            0.1 + 0.2 * random(),
        );
    }
    sound
        .iter_mut()
        .for_each(|sample| *sample += (0.01 * (random() - 0.5)) as f32);
    sound
}
