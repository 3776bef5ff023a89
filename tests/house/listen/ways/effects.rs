//! What lies between a string and the ear: the textbook's effects.

use super::string::{Chance, RATE};

fn peak(sound: &[f32]) -> f32 {
    sound.iter().fold(1e-9, |a: f32, b| a.max(b.abs()))
}

pub fn power(sound: &[f32]) -> f32 {
    sound.iter().map(|x| x * x).sum::<f32>() / sound.len() as f32
}

/// A soft clipper behind so much gain.
pub fn drive(sound: &mut [f32], gain: f32) {
    let most = peak(sound);
    sound
        .iter_mut()
        .for_each(|x| *x = 0.3 * (gain * *x / most).tanh());
}

/// A converter that is given so many times too much.
pub fn clip(sound: &mut [f32], times: f32) {
    let most = peak(sound) / times;
    sound
        .iter_mut()
        .for_each(|x| *x = (*x / most).clamp(-1.0, 1.0));
}

/// Four to one over 26 dB under full scale, 3 ms up and 120 ms down.
pub fn compress(sound: &mut [f32]) {
    let (mut envelope, threshold) = (0.0_f32, 0.05_f32);
    for x in sound {
        let s = if x.abs() > envelope { 0.003 } else { 0.12 };
        envelope += (x.abs() - envelope) / (s * RATE as f32);
        if envelope > threshold {
            *x *= (envelope / threshold).powf(-0.75);
        }
        *x *= 2.0;
    }
}

/// Mains hum of 50 or 60 Hz with two harmonics, and hiss, under the sound's peak by so many decibels.
pub fn hum(sound: &mut [f32], hz: f64, hum_db: f32, hiss_db: f32) {
    let (most, mut chance) = (peak(sound), Chance(5));
    let (hum, hiss) = (10_f32.powf(hum_db / 20.0), 10_f32.powf(hiss_db / 20.0));
    for (n, x) in sound.iter_mut().enumerate() {
        let turn = std::f64::consts::TAU * hz * n as f64 / f64::from(RATE);
        let mains = turn.sin() + 0.5 * (2.0 * turn).sin() + 0.4 * (3.0 * turn).sin();
        *x += most * (hum * mains as f32 + hiss * (2.0 * chance.next() - 1.0) as f32);
    }
}

/// Repeats after so long, each so much softer; `times` of them.
pub fn echo(sound: &mut [f32], after_s: f64, part: f32, times: i32) {
    let dry = sound.to_vec();
    for time in 1..=times {
        let late = (f64::from(time) * after_s * f64::from(RATE)) as usize;
        for n in late..sound.len() {
            sound[n] += part.powi(time) * dry[n - late];
        }
    }
}

/// A room that rings for half a second: four combs and two all-passes (M. Schroeder, "Natural sounding artificial reverberation",
/// 1962; from memory).
pub fn room(sound: &mut [f32], part: f32) {
    let dry = sound.to_vec();
    let mut wet = vec![0.0_f32; sound.len()];
    for ms in [29.7, 37.1, 41.1, 43.7_f64] {
        let late = (ms / 1000.0 * f64::from(RATE)) as usize;
        let back = 10_f32.powf(-3.0 * ms as f32 / 500.0);
        let mut line = vec![0.0_f32; sound.len()];
        for n in 0..line.len() {
            line[n] = dry[n] + n.checked_sub(late).map_or(0.0, |from| back * line[from]);
            wet[n] += n.checked_sub(late).map_or(0.0, |from| 0.25 * line[from]);
        }
    }
    for ms in [5.0, 1.7_f64] {
        let late = (ms / 1000.0 * f64::from(RATE)) as usize;
        let mut out = vec![0.0_f32; wet.len()];
        for n in 0..out.len() {
            let (x, y) = n.checked_sub(late).map_or((0.0, 0.0), |f| (wet[f], out[f]));
            out[n] = -0.7 * wet[n] + x + 0.7 * y;
        }
        wet = out;
    }
    sound.iter_mut().zip(wet).for_each(|(x, w)| *x += part * w);
}

/// The band comes back: 23 ms late, by the loudspeaker and three walls, so many decibels under the sound.
pub fn bleed(sound: &mut [f32], band: &[f32], under_db: f32) {
    let ways = [
        (1_104, 1.0),
        (1_135, -0.4),
        (1_334, 0.3),
        (1_874, 0.2),
        (2_500, -0.1),
    ];
    let at = |n: usize| {
        let of = |(late, part): (usize, f32)| n.checked_sub(late).map_or(0.0, |f| part * band[f]);
        ways.into_iter().map(of).sum::<f32>()
    };
    let back: Vec<f32> = (0..sound.len()).map(at).collect();
    let gain = (power(sound) / power(&back)).sqrt() * 10_f32.powf(-under_db / 20.0);
    sound.iter_mut().zip(back).for_each(|(x, b)| *x += gain * b);
}
