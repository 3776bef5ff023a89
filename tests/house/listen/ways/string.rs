//! A string with exact labels: stiff partials that die, the high ones sooner, plucked at a fifth of its length, whose pitch
//! goes as it is told (textbook physics: the shape of a plucked string, stiffness; from memory). No recording, no product.

pub const RATE: u32 = 48_000;
const PLACE: f64 = 0.21;
const STIFF: f64 = 5e-5;

/// Even numbers from 0 to 1, the same each time.
pub struct Chance(pub u64);

impl Chance {
    pub fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = self.0.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 40) as f64 / (1u64 << 24) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    pub fn below(&mut self, count: usize) -> usize {
        ((self.next() * count as f64) as usize).min(count - 1)
    }
}

/// How a string sounds from a moment on.
#[derive(Clone)]
pub struct Sounding {
    pub at_s: f64,
    pub long_s: f64,
    pub level: f64,
    /// Its pitch: from when on (seconds after `at_s`), which; straight between, in MIDI notes.
    pub pitch: Vec<(f64, f64)>,
    /// Of the pick, against the level.
    pub noise: f64,
    /// How fast partial `h` dies: `dies.0 + dies.1 h`, in 1/s.
    pub dies: (f64, f64),
    /// How long its beginning and its end take.
    pub rises_s: f64,
    pub damped_s: f64,
}

/// A picked note.
pub fn picked(at_s: f64, long_s: f64, midi: f64) -> Sounding {
    Sounding {
        at_s,
        long_s,
        level: 0.2,
        pitch: vec![(0.0, midi)],
        noise: 0.3,
        dies: (0.8, 0.35),
        rises_s: 0.001,
        damped_s: 0.012,
    }
}

pub fn pitch_at(pitch: &[(f64, f64)], t: f64) -> f64 {
    let after = pitch.iter().position(|(from, _)| *from > t);
    match after {
        Some(0) => pitch[0].1,
        None => pitch[pitch.len() - 1].1,
        Some(next) => {
            let ((a, low), (b, high)) = (pitch[next - 1], pitch[next]);
            low + (high - low) * (t - a) / (b - a)
        }
    }
}

/// Adds it to a sound.
pub fn add(sound: &mut [f32], string: &Sounding) {
    let (rate, tau) = (f64::from(RATE), std::f64::consts::TAU);
    let from = (string.at_s * rate) as usize;
    let highest = string.pitch.iter().fold(0.0_f64, |a, b| a.max(b.1));
    let hz = |midi: f64| 440.0 * ((midi - 69.0) / 12.0).exp2();
    let count = ((0.4 * rate / hz(highest)) as usize).clamp(1, 30);
    let partials: Vec<(f64, f64, f64)> = (1..=count)
        .map(|h| {
            let h = h as f64;
            let stiff = h * (1.0 + STIFF * h * h).sqrt();
            let loud = (std::f64::consts::PI * h * PLACE).sin() / h;
            (stiff, loud, string.dies.0 + string.dies.1 * h)
        })
        .collect();
    let mut chance = Chance(from as u64 + 7);
    let mut phase = 0.0;
    for n in 0..(string.long_s * rate) as usize {
        let t = n as f64 / rate;
        phase += hz(pitch_at(&string.pitch, t)) / rate;
        let end = ((string.long_s - t) / string.damped_s).min(1.0);
        let gate = (t / string.rises_s).min(1.0) * end;
        let tone: f64 = partials
            .iter()
            .map(|(h, loud, dies)| loud * (-dies * t).exp() * (tau * phase * h).sin())
            .sum();
        let noise = string.noise * (-t / 0.003).exp() * (2.0 * chance.next() - 1.0);
        if let Some(to) = sound.get_mut(from + n) {
            *to += (string.level * (gate * tone + noise)) as f32;
        }
    }
}

/// Adds a sung syllable: a breath of noise, a scoop from so many semitones below in so many seconds (to a third of it), then a
/// swing round its middle.
pub fn sing(sound: &mut [f32], at_s: f64, long_s: f64, midi: f64, (below, scoop_s): (f64, f64)) {
    let rate = f64::from(RATE);
    let mut chance = Chance((at_s * rate) as u64 + 3);
    let (from, mut phase) = (((at_s - 0.03) * rate) as usize, 0.0);
    for n in 0..((long_s + 0.03) * rate) as usize {
        let t = n as f64 / rate - 0.03;
        let noise = 0.02 * (2.0 * chance.next() - 1.0) * ((-(t.abs()) / 0.015).exp());
        let scoop = -below * (-t.max(0.0) / scoop_s).exp();
        let swing = 0.3 * (t / 0.2).clamp(0.0, 1.0) * (std::f64::consts::TAU * 5.5 * t).sin();
        phase += 440.0 * ((midi + scoop + swing - 69.0) / 12.0).exp2() / rate;
        let gate = (t / 0.04).clamp(0.0, 1.0) * ((long_s - t) / 0.05).clamp(0.0, 1.0);
        let tone: f64 = (1..=10)
            .map(|h| {
                let h = f64::from(h);
                (std::f64::consts::TAU * phase * h).sin() / h
            })
            .sum();
        if let Some(to) = sound.get_mut(from + n) {
            *to += (0.15 * gate * tone + noise) as f32;
        }
    }
}
