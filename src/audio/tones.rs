//! Built-in sounds that need no SoundFont: the click (a struck wooden block) and the model tone (a plucked
//! string). Both start and stop on their exact frame.

use super::synth::clamp_a4;
use crate::time::Part;
use arrayvec::ArrayVec;

/// The most built-in tones at a time.
const TONES: usize = 24;
const PARTIALS: usize = 4;
/// What brings clicks to 4 LU below the band, and model tones to what speech has: 3 LU above it; the lower ones a little less, as
/// none is to be louder (metered in the tests).
const CLICK_GAIN: f64 = 5.96;
const MODEL_GAIN: f64 = 3.27;
/// A tone this quiet has ended.
const ENDED: f64 = 1e-5;

/// A decaying sine: one complex multiplication a frame.
#[derive(Debug, Clone, Copy, Default)]
struct Partial {
    re: f64,
    im: f64,
    turn_re: f64,
    turn_im: f64,
}

impl Partial {
    /// `decay_ms` is the time to fall to 1/e. Silent where the clock cannot carry the pitch.
    fn new(hz: f64, level: f64, decay_ms: f64, rate: f64) -> Partial {
        if hz > rate * 0.45 {
            return Partial::default();
        }
        let keep = (-1000.0 / (decay_ms * rate)).exp();
        let turn = std::f64::consts::TAU * hz / rate;
        Partial {
            re: level,
            im: 0.0,
            turn_re: keep * turn.cos(),
            turn_im: keep * turn.sin(),
        }
    }

    fn next(&mut self) -> f64 {
        let re = self.re * self.turn_re - self.im * self.turn_im;
        self.im = self.re * self.turn_im + self.im * self.turn_re;
        self.re = re;
        self.im
    }

    fn level(&self) -> f64 {
        self.re.abs() + self.im.abs()
    }
}

#[derive(Debug, Clone)]
struct Tone {
    part: Part,
    key: u8,
    partials: [Partial; PARTIALS],
    /// Frames until it starts.
    wait: u32,
    /// Frames until it is let go.
    release_in: Option<u32>,
    released: bool,
    /// Fades in and out.
    gain: f64,
    gain_step: f64,
    release_keep: f64,
}

impl Tone {
    fn next(&mut self) -> f32 {
        if self.wait > 0 {
            self.wait -= 1;
            return 0.0;
        }
        match self.release_in {
            Some(0) => {
                self.release_in = None;
                self.released = true;
            }
            Some(ref mut left) => *left -= 1,
            None => {}
        }
        if self.released {
            self.gain *= self.release_keep;
        } else {
            self.gain = (self.gain + self.gain_step).min(1.0);
        }
        let sum: f64 = self.partials.iter_mut().map(Partial::next).sum();
        (sum * self.gain) as f32
    }

    fn ended(&self) -> bool {
        let level: f64 = self.partials.iter().map(Partial::level).sum();
        self.wait == 0 && (level < ENDED || (self.released && self.gain < ENDED))
    }
}

/// The built-in tones that sound.
#[derive(Debug)]
pub(crate) struct Tones {
    tones: ArrayVec<Tone, TONES>,
    rate: f64,
    a4_hz: f64,
}

impl Tones {
    pub(crate) fn new(rate: u32, a4_hz: f64) -> Tones {
        Tones {
            tones: ArrayVec::new(),
            rate: f64::from(rate.max(1)),
            a4_hz: clamp_a4(a4_hz),
        }
    }

    /// Whether a part is played here.
    pub(crate) fn plays(part: Part) -> bool {
        matches!(part, Part::Click | Part::Model)
    }

    /// Strikes a tone `wait` frames into the next block.
    pub(crate) fn note_on(&mut self, part: Part, key: u8, velocity: u8, wait: u32) {
        let level = (f64::from(velocity) / 127.0).powi(2);
        let tone = match part {
            Part::Click => self.click(key, CLICK_GAIN * level, wait),
            _ => self.pluck(key, MODEL_GAIN * level, wait),
        };
        if self.tones.is_full() {
            let oldest = self
                .tones
                .iter()
                .position(|tone| tone.released)
                .unwrap_or(0);
            self.tones.remove(oldest);
        }
        let _ = self.tones.try_push(tone);
    }

    /// Lets a tone go `wait` frames into the next block. A click ends by itself.
    pub(crate) fn note_off(&mut self, part: Part, key: u8, wait: u32) {
        if part == Part::Click {
            return;
        }
        for tone in &mut self.tones {
            let held = tone.release_in.is_none() && !tone.released;
            if tone.part == part && tone.key == key && held {
                tone.release_in = Some(wait.saturating_sub(tone.wait));
            }
        }
    }

    pub(crate) fn silence(&mut self) {
        self.tones.clear();
    }

    /// Adds what sounds to the clicks' and the model tones' buses, equally long.
    pub(crate) fn render(&mut self, clicks: &mut [f32], models: &mut [f32]) {
        for tone in &mut self.tones {
            let bus = if tone.part == Part::Click {
                &mut *clicks
            } else {
                &mut *models
            };
            for sample in bus {
                *sample += tone.next();
            }
        }
        self.tones.retain(|tone| !tone.ended());
    }

    /// The accent (General MIDI key 76, high wood block) stands a fourth above the other clicks.
    fn click(&self, key: u8, level: f64, wait: u32) -> Tone {
        let hz = match key {
            76 => 1320.0,
            75 => 1760.0,
            _ => 990.0,
        };
        // Overtones of a free bar (1 : 2.76 : 5.40): the struck wooden sound.
        let partial =
            |ratio: f64, part: f64, ms: f64| Partial::new(hz * ratio, level * part, ms, self.rate);
        Tone {
            part: Part::Click,
            key,
            partials: [
                partial(1.0, 0.55, 16.0),
                partial(2.76, 0.25, 7.0),
                partial(5.40, 0.10, 3.0),
                Partial::default(),
            ],
            wait,
            release_in: None,
            released: false,
            gain: 1.0,
            gain_step: 0.0,
            release_keep: 1.0,
        }
    }

    fn pluck(&self, key: u8, level: f64, wait: u32) -> Tone {
        let hz = self.a4_hz * 2f64.powf((f64::from(key) - 69.0) / 12.0);
        let partial = |number: f64, part: f64| {
            Partial::new(hz * number, level * part, 1400.0 / number, self.rate)
        };
        Tone {
            part: Part::Model,
            key,
            partials: [
                partial(1.0, 0.40),
                partial(2.0, 0.16),
                partial(3.0, 0.08),
                partial(4.0, 0.04),
            ],
            wait,
            release_in: None,
            released: false,
            gain: 0.0,
            gain_step: 1000.0 / (3.0 * self.rate),
            release_keep: (-1000.0 / (25.0 * self.rate)).exp(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn played(a4_hz: f64, key: u8, frames: usize) -> Vec<f32> {
        let mut tones = Tones::new(48_000, a4_hz);
        tones.note_on(Part::Model, key, 127, 10);
        let (mut clicks, mut models) = (vec![0.0; frames], vec![0.0; frames]);
        tones.render(&mut clicks, &mut models);
        assert!(clicks.iter().all(|s| *s == 0.0));
        models
    }

    #[test]
    fn a_model_tone_has_the_pitch_of_its_key_and_starts_on_its_frame() {
        // Equal temperament around A4 = 440 Hz (ISO 16): middle C 261.63, low E 82.41.
        for (a4, key, hz) in [
            (440.0, 69, 440.0),
            (440.0, 60, 261.626),
            (440.0, 40, 82.407),
            (415.0, 69, 415.0),
            (442.0, 57, 221.0),
        ] {
            let sound = played(a4, key, 48_000);
            assert!(sound[..10].iter().all(|s| *s == 0.0));
            assert!(sound[11] != 0.0);
            // Goertzel at the pitch against 3 % beside it.
            let power = |hz: f64| {
                let (mut re, mut im) = (0.0f64, 0.0f64);
                for (n, s) in sound.iter().enumerate() {
                    let turn = std::f64::consts::TAU * hz * n as f64 / 48_000.0;
                    re += f64::from(*s) * turn.cos();
                    im += f64::from(*s) * turn.sin();
                }
                re * re + im * im
            };
            assert!(power(hz) > 20.0 * power(hz * 1.03), "{a4} {key}");
            assert!(power(hz) > 20.0 * power(hz / 1.03), "{a4} {key}");
        }
    }

    #[test]
    fn clicks_stand_below_the_band_and_model_tones_above_it() {
        use crate::audio::loudness::{BAND_LUFS, CUE_ABOVE_LU, DEFAULT_DB, db_to_linear};
        use ebur128::{EbuR128, Mode};
        // Clicks in bars of four, model tones one after the other, half a second each, as the band strikes them; metered as they
        // are heard, in both outputs, at the built-in levels.
        let beat_frames = 24_000;
        for (part, wanted) in [
            (Part::Click, BAND_LUFS - 4.0),
            (Part::Model, BAND_LUFS + CUE_ABOVE_LU - 0.7),
        ] {
            let mut tones = Tones::new(48_000, 440.0);
            let mut meter = EbuR128::new(2, 48_000, Mode::I).unwrap();
            for beat in 0..8usize {
                let (key, velocity) = match (part, beat % 4) {
                    (Part::Click, 0) => (76, 100),
                    (Part::Click, _) => (77, 84),
                    _ => ([48, 52, 55, 60, 50, 53, 57, 62][beat], 88),
                };
                tones.note_on(part, key, velocity, 0);
                tones.note_off(part, key, 24_000);
                let (mut clicks, mut models) = (vec![0.0; beat_frames], vec![0.0; beat_frames]);
                tones.render(&mut clicks, &mut models);
                let gain = db_to_linear(DEFAULT_DB);
                let sum = clicks.iter().zip(&models).map(|(a, b)| gain * (a + b));
                let sum: Vec<f32> = sum.collect();
                meter.add_frames_planar_f32(&[&sum, &sum]).unwrap();
            }
            let lufs = meter.loudness_global().unwrap();
            assert!((lufs - wanted).abs() < 0.7, "{part:?} {lufs}");
        }
    }

    #[test]
    fn a_tone_that_is_let_go_ends() {
        let mut tones = Tones::new(48_000, 440.0);
        let (mut clicks, mut models) = ([0.0; 64], [0.0; 64]);
        tones.note_on(Part::Model, 60, 100, 0);
        tones.note_on(Part::Click, 76, 100, 5);
        tones.note_off(Part::Model, 60, 50);
        for _ in 0..48_000 / 64 {
            tones.render(&mut clicks, &mut models);
        }
        assert!(tones.tones.is_empty());
    }
}
