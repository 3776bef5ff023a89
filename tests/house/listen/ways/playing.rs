//! Ways of playing, made with the string: a sound, and what is to be heard in it.

use super::recorded::Recorded;
use super::string::{Chance, RATE, Sounding, add, picked, sing};

/// A note that is to be heard.
pub struct Want {
    pub at_s: f64,
    /// How late its beginning may be told: 50 ms for a stroke, longer for what glides.
    pub within_s: f64,
    /// Its right names: one, or both of a double stop.
    pub names: Vec<u8>,
    /// What may be told besides until the next one: where it came from, where it went.
    pub also: Vec<u8>,
}

/// A sound and its labels.
pub struct Take {
    pub sound: Vec<f32>,
    pub wants: Vec<Want>,
}

pub struct Player<'a> {
    take: Take,
    /// An instrument's notes; none: the model's.
    recorded: Option<&'a Recorded>,
    chance: Chance,
    at_s: f64,
    midi: f64,
    range: (f64, f64),
}

impl<'a> Player<'a> {
    pub fn new(seed: u64, range: (f64, f64), recorded: Option<&'a Recorded>) -> Player<'a> {
        let sound = vec![0.0; RATE as usize];
        let wants = Vec::new();
        let middle = ((range.0 + range.1) / 2.0).round();
        Player {
            take: Take { sound, wants },
            recorded,
            chance: Chance(seed.wrapping_mul(7_919) + 11),
            at_s: 0.5,
            midi: middle,
            range,
        }
    }

    pub fn take(self) -> Take {
        self.take
    }

    /// Another note, up to seven semitones away, never the same.
    fn next(&mut self) -> f64 {
        let step = 1.0 + self.chance.below(7) as f64;
        let up = self.chance.next() < 0.5;
        let to = if up {
            self.midi + step
        } else {
            self.midi - step
        };
        let inside = (self.range.0..=self.range.1).contains(&to);
        let other = 2.0 * self.midi - to;
        self.midi = if inside { to } else { other }.clamp(self.range.0, self.range.1);
        self.midi
    }

    fn add(&mut self, string: &Sounding) {
        let end = ((string.at_s + string.long_s + 1.0) * f64::from(RATE)) as usize;
        if end > self.take.sound.len() {
            self.take.sound.resize(end, 0.0);
        }
        match self.recorded {
            Some(recorded) => recorded.add(&mut self.take.sound, string),
            None => add(&mut self.take.sound, string),
        }
    }

    fn want(&mut self, at_s: f64, names: &[f64], also: &[f64]) {
        let names = names.iter().map(|midi| *midi as u8).collect();
        let also = also.iter().map(|midi| *midi as u8).collect();
        self.take.wants.push(Want {
            at_s,
            within_s: 0.05,
            names,
            also,
        });
    }

    fn want_late(&mut self, at_s: f64, within_s: f64, midi: f64, also: &[f64]) {
        self.want(at_s, &[midi], also);
        if let Some(last) = self.take.wants.last_mut() {
            last.within_s = within_s;
        }
    }

    /// Notes every `step_s`, each held for `long_s` of it or over the next one; `change` makes them what they are.
    pub fn line(&mut self, count: usize, step_s: f64, long_s: f64, change: impl Fn(&mut Sounding)) {
        for _ in 0..count {
            let midi = self.next();
            let mut string = picked(self.at_s, long_s, midi);
            string.level *= self.chance.between(0.6, 1.0);
            change(&mut string);
            self.add(&string);
            self.want(self.at_s, &[midi], &[]);
            self.at_s += step_s;
        }
    }

    /// The same note again and again, then another one.
    pub fn repeated(&mut self, count: usize, step_s: f64, long_s: f64) {
        for index in 0..count {
            let midi = if index % 4 == 0 {
                self.next()
            } else {
                self.midi
            };
            self.add(&picked(self.at_s, long_s, midi));
            self.want(self.at_s, &[midi], &[]);
            self.at_s += step_s;
        }
    }

    /// Soft notes among loud ones, by so many decibels.
    pub fn soft(&mut self, count: usize, under_db: f64) {
        for index in 0..count {
            let midi = self.next();
            let mut string = picked(self.at_s, 0.4, midi);
            if index % 2 == 1 {
                string.level *= 10_f64.powf(-under_db / 20.0);
            }
            self.add(&string);
            self.want(self.at_s, &[midi], &[]);
            self.at_s += 0.45;
        }
    }

    /// A stroke, and then the pitch goes `by` semitones away in `takes_s`, after `waits_s`, and rests there. The note it rests on is
    /// wanted; the one it came from may be told.
    pub fn glide(&mut self, count: usize, by: f64, waits_s: f64, takes_s: f64) {
        for _ in 0..count {
            let (from, to) = {
                let to = self.next();
                (to - by, to)
            };
            let mut string = picked(self.at_s, 0.9, from);
            string.pitch = vec![(0.0, from), (waits_s, from), (waits_s + takes_s, to)];
            self.add(&string);
            self.want_late(self.at_s, waits_s + takes_s + 0.12, to, &[from, to]);
            self.at_s += 1.0;
        }
    }

    /// A picked note, and one that is hammered on to it or pulled off it.
    pub fn slurred(&mut self, count: usize, by: f64, noise: f64) {
        for _ in 0..count {
            let to = self.next();
            let (from, half) = (to - by, 0.3);
            let mut first = picked(self.at_s, half, from);
            first.damped_s = 0.004;
            let mut second = picked(self.at_s + half, half, to);
            (second.noise, second.rises_s, second.level) = (noise, 0.003, 0.14);
            self.add(&first);
            self.add(&second);
            self.want(self.at_s, &[from], &[]);
            self.want_late(self.at_s + half, 0.08, to, &[]);
            self.at_s += 0.7;
        }
    }

    /// A note and its upper neighbour by turns, eight a second: the first is wanted, all may be told.
    pub fn trill(&mut self, count: usize) {
        for _ in 0..count {
            let midi = self.next();
            let mut string = picked(self.at_s, 1.0, midi);
            string.pitch.clear();
            for turn in 0..7 {
                let (from, to) = (0.14 * f64::from(turn), midi + f64::from(turn % 2) * 2.0);
                string.pitch.extend([(from, to), (from + 0.136, to)]);
            }
            self.add(&string);
            self.want(self.at_s, &[midi], &[midi, midi + 2.0]);
            self.at_s += 1.1;
        }
    }

    /// Swings round its pitch after a fifth of a second, so many times a second.
    pub fn vibrato(&mut self, count: usize, cents: f64, hz: f64) {
        for _ in 0..count {
            let midi = self.next();
            let mut string = picked(self.at_s, 0.9, midi);
            let swing = |n: i32| {
                let t = 0.2 + f64::from(n) / 100.0;
                let turn = std::f64::consts::TAU * hz * (t - 0.2);
                (t, midi + cents / 100.0 * turn.sin())
            };
            string.pitch = (0..70).map(swing).collect();
            self.add(&string);
            self.want(self.at_s, &[midi], &[]);
            self.at_s += 1.0;
        }
    }

    /// Notes, and between them strokes of damped strings that have no pitch to speak of.
    pub fn with_mutes(&mut self, count: usize, level: f64) {
        for _ in 0..count {
            let midi = self.next();
            self.add(&picked(self.at_s, 0.28, midi));
            self.want(self.at_s, &[midi], &[]);
            let mut mute = picked(self.at_s + 0.3, 0.03, self.midi - 12.0);
            (mute.level, mute.noise, mute.dies) = (0.2 * level, 1.5, (120.0, 20.0));
            add(&mut self.take.sound, &mute);
            self.at_s += 0.6;
        }
    }

    /// Chords note by note on four strings, which ring until the next chord.
    pub fn let_ring(&mut self, count: usize) {
        for _ in 0..count / 4 {
            let root = self.next();
            for (index, above) in [0.0, 7.0, 12.0, 16.0].into_iter().enumerate() {
                let at = self.at_s + 0.3 * index as f64;
                self.add(&picked(at, 1.25 - 0.3 * index as f64, root + above));
                self.want(at, &[root + above], &[]);
            }
            self.at_s += 1.3;
        }
    }

    /// Two strings at once.
    pub fn double_stops(&mut self, count: usize, above: f64) {
        for _ in 0..count {
            let midi = self.next();
            self.add(&picked(self.at_s, 0.5, midi));
            self.add(&picked(self.at_s + 0.004, 0.5, midi + above));
            self.want(self.at_s, &[midi, midi + above], &[midi, midi + above]);
            self.at_s += 0.6;
        }
    }

    /// A stroke, bent up by `by` semitones, and let down again: all three rest, the first is wanted, all may be told.
    pub fn bent_and_let_down(&mut self, count: usize, by: f64) {
        for _ in 0..count {
            let midi = self.next();
            let mut string = picked(self.at_s, 1.1, midi);
            string.pitch = vec![
                (0.0, midi),
                (0.2, midi),
                (0.35, midi + by),
                (0.6, midi + by),
                (0.8, midi),
            ];
            self.add(&string);
            self.want(self.at_s, &[midi], &[midi, midi + by]);
            self.at_s += 1.2;
        }
    }

    /// A melody over a lower string that rings all the time and is struck again at every eighth note.
    pub fn over_a_drone(&mut self, count: usize) {
        for index in 0..count {
            if index % 8 == 0 {
                let mut drone = picked(self.at_s, 3.2, self.range.0);
                drone.level *= 0.5;
                self.add(&drone);
                self.want(self.at_s, &[self.range.0], &[]);
                self.at_s += 0.4;
            }
            let midi = self.next().max(self.range.0 + 5.0);
            self.add(&picked(self.at_s, 0.38, midi));
            self.want(self.at_s, &[midi], &[self.range.0]);
            self.at_s += 0.4;
        }
    }

    /// Notes under which the open strings sound along, so many decibels softer.
    pub fn sympathetic(&mut self, count: usize, under_db: f64) {
        const OPEN: [f64; 6] = [40.0, 45.0, 50.0, 55.0, 59.0, 64.0];
        let seconds = 0.4 * count as f64;
        for (index, midi) in OPEN.into_iter().enumerate() {
            let mut open = picked(self.at_s - 0.3 + 0.03 * index as f64, seconds, midi);
            (open.level, open.dies) = (0.2 * 10_f64.powf(-under_db / 20.0), (0.0, 0.02));
            open.noise = 0.0;
            self.add(&open);
        }
        self.line(count, 0.4, 0.38, |_| ());
    }

    /// Sung syllables.
    pub fn sung(&mut self, count: usize, step_s: f64, scoop: (f64, f64)) {
        for _ in 0..count {
            let midi = self.next();
            let end = ((self.at_s + step_s + 1.0) * f64::from(RATE)) as usize;
            self.take.sound.resize(end, 0.0);
            sing(&mut self.take.sound, self.at_s, 0.9 * step_s, midi, scoop);
            self.want_late(self.at_s, 0.08, midi, &[]);
            self.at_s += step_s;
        }
    }
}
