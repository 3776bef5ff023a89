//! The way round: how long a sound takes from an output to an input, found by a matched filter.
//!
//! What is sent is a short sweep, because its correlation with itself is one narrow peak, whatever an amplifier and a
//! room do to its level. (J. O. Smith, "Mathematics of the DFT", on matched filters and on parabolas through three
//! samples of a peak; from memory.)

/// How long the sweep lasts, in seconds.
const SWEEP_S: f64 = 0.012;
/// From where to where it goes, in Hz: what a guitar's speaker passes.
const SWEEP_HZ: (f64, f64) = (300.0, 5_000.0);
/// Less like the sweep than this is something else.
const LIKE: f64 = 0.5;
/// The direct way is the first peak that reaches so much of the highest one; what comes later is echo.
const DIRECT: f64 = 0.7;

/// The sweep at a rate, its peak at 1.
pub fn sweep(rate: u32) -> Vec<f32> {
    let rate = f64::from(rate);
    let frames = (SWEEP_S * rate).round() as usize;
    let (low, high) = SWEEP_HZ;
    let sample = |n: usize| {
        let t = n as f64 / rate;
        let window = (std::f64::consts::PI * (n as f64 + 0.5) / frames as f64)
            .sin()
            .powi(2);
        let turns = low * t + (high - low) * t * t / (2.0 * SWEEP_S);
        (window * (std::f64::consts::TAU * turns).sin()) as f32
    };
    (0..frames).map(sample).collect()
}

/// A sound that was found in another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Match {
    /// Where it begins, in frames; between two frames where it does.
    pub at: f64,
    /// How much alike the two are, 0 to 1.
    pub likeness: f64,
}

/// Where `sent` begins in `heard`, at any level and polarity; none where nothing is like it.
pub fn find(sent: &[f32], heard: &[f32]) -> Option<Match> {
    let sum_of_squares = |sound: &[f32]| sound.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>();
    let places = (heard.len() + 1).checked_sub(sent.len())?;
    let energy = sum_of_squares(sent);
    if energy <= 0.0 || places < 3 {
        return None;
    }
    let mut under = sum_of_squares(&heard[..sent.len()]);
    let mut like = Vec::with_capacity(places);
    for at in 0..places {
        let window = &heard[at..at + sent.len()];
        let product: f64 = sent
            .iter()
            .zip(window)
            .map(|(s, h)| f64::from(*s) * f64::from(*h))
            .sum();
        like.push(product.abs() / (energy * under.max(energy * 1e-12)).sqrt());
        if let (Some(out), Some(new)) = (heard.get(at), heard.get(at + sent.len())) {
            under = (under + f64::from(*new).powi(2) - f64::from(*out).powi(2)).max(0.0);
        }
    }
    let highest = like.iter().copied().fold(0.0, f64::max);
    if !(LIKE..).contains(&highest) {
        return None;
    }
    let first = (1..places - 1).find(|&at| {
        like[at] >= DIRECT * highest && like[at] >= like[at - 1] && like[at] >= like[at + 1]
    })?;
    // The ripples of the peak's own flank: its top is within a period of the sweep's middle.
    let reach = sent.len() / 16;
    let top = (first..(first + reach).min(places - 1))
        .max_by(|a, b| like[*a].total_cmp(&like[*b]))
        .unwrap_or(first);
    let (before, here, after) = (like[top - 1], like[top], like[top + 1]);
    let bend = before - 2.0 * here + after;
    let part = if bend < 0.0 {
        (0.5 * (before - after) / bend).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    Some(Match {
        at: top as f64 + part,
        likeness: here.min(1.0),
    })
}

/// What several measurements come to, in frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WayRound {
    pub frames: f64,
    /// How many lie near it.
    pub agree: usize,
    /// The furthest of these from it.
    pub spread_frames: f64,
}

/// The median of several measurements; none where fewer than half (of `asked`) lie within `near_frames` of it.
pub fn agree(measured: &[f64], asked: usize, near_frames: f64) -> Option<WayRound> {
    let mut sorted = measured.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = *sorted.get(sorted.len() / 2)?;
    let near: Vec<f64> = sorted
        .into_iter()
        .filter(|frames| (frames - middle).abs() <= near_frames)
        .collect();
    if near.len() < 2 || 2 * near.len() < asked {
        return None;
    }
    let mean = near.iter().sum::<f64>() / near.len() as f64;
    let far = |frames: &f64| (frames - mean).abs();
    Some(WayRound {
        frames: mean,
        agree: near.len(),
        spread_frames: near.iter().map(far).fold(0.0, f64::max),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `sound` later by any number of frames, through a sinc of 64 taps (textbook interpolation).
    fn later(sound: &[f32], frames: f64, long: usize) -> Vec<f32> {
        let tap = |n: usize, k: usize| {
            let x = n as f64 - frames - k as f64;
            if x.abs() > 32.0 {
                return 0.0;
            }
            let window = 0.5 + 0.5 * (std::f64::consts::PI * x / 32.0).cos();
            let pi_x = std::f64::consts::PI * x;
            window
                * if x.abs() < 1e-9 {
                    1.0
                } else {
                    pi_x.sin() / pi_x
                }
        };
        let sample = |n: usize| {
            let sum: f64 = (0..sound.len())
                .map(|k| tap(n, k) * f64::from(sound[k]))
                .sum();
            sum as f32
        };
        (0..long).map(sample).collect()
    }

    /// Noise of a level, the same each time.
    fn noise(long: usize, level: f32) -> Vec<f32> {
        let mut state = 7u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1 << 23) as f32 - 1.0
        };
        (0..long).map(|_| level * next()).collect()
    }

    #[test]
    fn a_delay_is_found_to_a_fraction_of_a_frame() {
        // rate, delay in ms, level, noise, an echo (ms after, level)
        for (rate, ms, level, hiss, echo) in [
            (48_000, 1.0, 1.0, 0.0, None),
            (48_000, 12.34, 0.02, 0.0, None),
            (48_000, 33.333, -0.3, 0.01, None),
            (44_100, 80.0, 0.5, 0.05, None),
            (48_000, 21.7, 0.5, 0.01, Some((4.0, 0.4))),
            (48_000, 21.7, 0.5, 0.01, Some((7.3, -0.65))),
            (96_000, 57.21, 0.1, 0.002, Some((30.0, 0.09))),
        ] {
            let sent = sweep(rate);
            let frames = ms * f64::from(rate) / 1000.0;
            let long = rate as usize * 150 / 1000;
            let mut heard = noise(long, hiss);
            let mut add = |frames: f64, level: f32| {
                let late = later(&sent, frames, long);
                heard
                    .iter_mut()
                    .zip(late)
                    .for_each(|(h, l)| *h += level * l);
            };
            add(frames, level);
            if let Some((after, echo_level)) = echo {
                add(frames + after * f64::from(rate) / 1000.0, echo_level);
            }
            let found = find(&sent, &heard).expect("the sweep");
            let off_ms = (found.at - frames) * 1000.0 / f64::from(rate);
            assert!(
                off_ms.abs() < 0.02,
                "{ms} ms at {rate}: off by {off_ms} ms ({found:?})"
            );
        }
    }

    #[test]
    fn what_is_not_the_sweep_is_not_found() {
        let sent = sweep(48_000);
        let tone: Vec<f32> = (0..9_600).map(|n| (n as f32 * 0.05).sin()).collect();
        for heard in [
            vec![0.0; 9_600],
            noise(9_600, 0.5),
            tone,
            vec![0.0; 20],
            Vec::new(),
        ] {
            assert_eq!(find(&sent, &heard), None);
        }
    }

    #[test]
    fn measurements_must_agree() {
        // measured, asked for, agreed
        type Case<'a> = (&'a [f64], usize, Option<(f64, usize)>);
        let cases: &[Case<'_>] = &[
            (&[100.0, 100.2, 99.8, 100.0], 4, Some((100.0, 4))),
            (&[100.0, 100.2, 9_000.0, 99.8], 4, Some((100.0, 3))),
            (&[100.0, 500.0, 900.0, 1_300.0], 4, None),
            (&[100.0, 100.0], 8, None),
            (&[], 4, None),
        ];
        for (measured, asked, expected) in cases {
            let got = agree(measured, *asked, 5.0)
                .map(|way| ((way.frames * 10.0).round() / 10.0, way.agree));
            assert_eq!(got, *expected, "{measured:?}");
        }
    }
}
