//! A player with a list of its own: right, wrong, early, late, missed, another octave, pushed, others, with a hand's
//! spread of 15 ms, on a guitar of a SoundFont. The list is made of the chords that sound and of the tempo alone.
//!
//! Windows (common practice, no source): early by 10 % of a beat, 35 to 80 ms, late by 1.4 times that, "early" and
//! "late" up to twice as much.

use rustysynth::{SoundFont, Synthesizer, SynthesizerSettings};
use serde_json::Value;
use std::sync::Arc;

/// A chord that sounds: its frame, its length and its symbol.
#[derive(Debug, Clone)]
pub struct Sounding {
    pub frame: i64,
    pub frames: i64,
    pub symbol: String,
}

/// What was played for a chord, and what that is.
#[derive(Debug, Clone)]
pub struct Meant {
    pub frame: i64,
    pub result: &'static str,
    pub time: Option<&'static str>,
    /// Notes beside the target.
    pub others: usize,
}

/// A note: its frame, frames, key.
pub type Struck = (i64, i64, u8);

/// A fixed sequence of numbers.
pub struct Chance(pub u64);

impl Chance {
    /// 0 to 1.
    pub fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as f64 / (1u64 << 31) as f64
    }

    fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[((self.next() * all.len() as f64) as usize).min(all.len() - 1)]
    }

    /// The spread of a hand, from the sum of twelve.
    fn spread(&mut self, sigma: f64) -> f64 {
        ((0..12).map(|_| self.next()).sum::<f64>() - 6.0) * sigma
    }
}

/// The pitch class of a symbol's root.
pub fn root(symbol: &str) -> u8 {
    let mut letters = symbol.chars();
    let natural = match letters.next() {
        Some('C') => 0,
        Some('D') => 2,
        Some('E') => 4,
        Some('F') => 5,
        Some('G') => 7,
        Some('A') => 9,
        Some('B') => 11,
        other => panic!("no root: {other:?} of {symbol}"),
    };
    let sign = letters.next();
    let shift = match sign {
        Some('♭' | 'b') => 11,
        Some('♯' | '#') => 1,
        _ => 0,
    };
    (natural + shift) % 12
}

/// The chords of an event log in the passes of a stage, up to a frame.
pub fn chords(events: &[Value], until: i64) -> Vec<Sounding> {
    let at = |event: &Value| event["frame"].as_i64().expect("a frame");
    let ends = |event: &&Value| {
        event["kind"] == "change" && event["what"] == "chord"
            || event["kind"] == "page" && event["page"] == "breathe"
    };
    let mut marks: Vec<&Value> = events.iter().filter(ends).collect();
    marks.sort_by_key(|event| at(event));
    let mut chords = Vec::new();
    for (index, event) in marks.iter().enumerate() {
        let frame = at(event);
        let next = marks[index + 1..]
            .iter()
            .map(|next| at(next))
            .find(|next| *next > frame);
        if event["kind"] == "change" && frame < until {
            chords.push(Sounding {
                frame,
                frames: next.unwrap_or(until) - frame,
                symbol: event["value"].as_str().expect("a symbol").to_string(),
            });
        }
    }
    chords
}

/// Decides what to play for roots on one.
pub fn decide(chords: &[Sounding], qpm: f64, rate: u32, seed: u64) -> (Vec<Meant>, Vec<Struck>) {
    let mut chance = Chance(seed);
    let beat_ms = 60_000.0 / qpm;
    let early_ms = (0.1 * beat_ms).clamp(35.0, 80.0);
    let late_ms = 1.4 * early_ms;
    let frames = |ms: f64| (ms * f64::from(rate) / 1000.0).round() as i64;
    let beat = frames(beat_ms);
    let kinds = [
        "right", "right", "right", "right", "right", "right", "right", "right", "right", "wrong",
        "early", "late", "missed", "octave", "other", "pushed",
    ];
    let (mut meant, mut struck) = (Vec::new(), Vec::new());
    for (index, chord) in chords.iter().enumerate() {
        let mut kind = chance.one_of(&kinds);
        let long = chord.frames as f64 / beat as f64;
        let follows = index
            .checked_sub(1)
            .is_some_and(|before| chords[before].frame + chords[before].frames == chord.frame);
        // A note brought forward wants room before it, and must not be "early" at the same time.
        let pushes =
            follows && 0.45 * beat_ms > 2.2 * early_ms && chords[index - 1].frames > 3 * beat;
        if (kind == "other" && long < 3.5) || (kind == "pushed" && !pushes) {
            kind = "right";
        }
        let low = 43 + (root(&chord.symbol) + 12 - 43 % 12) % 12;
        let key = low + chance.one_of(&[0, 12]);
        let hand = chance.spread(15.0).clamp(-0.9 * early_ms, 0.9 * early_ms);
        let other_key = chance.one_of(&[1i8, 3, 6]);
        let wrong_key = chance.one_of(&[1i8, 2, -1, -2, 3]);
        let (at_ms, key, result, time) = match kind {
            "wrong" => (
                hand,
                key.wrapping_add_signed(wrong_key),
                "wrong",
                Some("in time"),
            ),
            "early" => (-1.5 * early_ms, key, "right", Some("early")),
            "late" => (1.5 * late_ms, key, "right", Some("late")),
            "missed" => (0.0, 0, "missed", None),
            "octave" => (hand, key + 12, "right", Some("in time")),
            "pushed" => (-0.45 * beat_ms, key, "right", Some("pushed")),
            _ => (hand, key, "right", Some("in time")),
        };
        let long = (0.7 * long).min(if kind == "other" { 1.7 } else { 3.0 }) * beat as f64;
        let long = (long as i64).min(i64::from(rate) * 6 / 5);
        if key > 0 {
            struck.push((chord.frame + frames(at_ms), long, key));
        }
        if kind == "other" {
            let at = chord.frame + 2 * beat;
            struck.push((
                at,
                frames(400.0).min(beat),
                key.wrapping_add_signed(other_key),
            ));
        }
        meant.push(Meant {
            frame: chord.frame,
            result,
            time,
            others: usize::from(kind == "other"),
        });
    }
    struck.sort_unstable();
    (meant, struck)
}

/// The guitar's SoundFont. It is played by another synth than the band's, as a guitar is no part of the box.
pub fn font() -> Arc<SoundFont> {
    let path = underfoot::audio::soundfont::find()
        .expect("a General MIDI SoundFont (Debian package timgm6mb-soundfont)");
    let mut bytes = std::io::Cursor::new(std::fs::read(path).expect("a readable file"));
    Arc::new(SoundFont::new(&mut bytes).expect("a sound SoundFont"))
}

/// The sound of the notes on a steel-string guitar (General MIDI program 26), each damped before the next.
pub fn sound(font: &Arc<SoundFont>, struck: &[Struck], frames: usize, rate: u32) -> Vec<f32> {
    let mut settings = SynthesizerSettings::new(rate as i32);
    settings.enable_reverb_and_chorus = false;
    let mut sound = vec![0.0f32; frames];
    // Two instruments in turn, so that a note that rings on is cut where the next begins.
    for turn in 0..2 {
        let mut synth = Synthesizer::new(font, &settings).expect("a synthesizer");
        synth.process_midi_message(0, 0xc0, 25, 0);
        let mut at = 0usize;
        for (index, &(from, long, key)) in struck.iter().enumerate() {
            if index % 2 != turn {
                continue;
            }
            let from = (from.max(0) as usize).min(frames);
            let next = struck
                .get(index + 1)
                .map_or(frames, |next| next.0.max(0) as usize);
            let next = next.clamp(from, frames);
            let off = (from + long as usize).min(next);
            // What its note before rings on is not heard: another string sounds.
            let mut unheard = vec![0.0; from.saturating_sub(at)];
            let mut also = unheard.clone();
            synth.render(&mut unheard, &mut also);
            synth.note_on(0, i32::from(key), 90);
            let (mut left, mut right) = (vec![0.0; next - from], vec![0.0; next - from]);
            let held = off - from;
            synth.render(&mut left[..held], &mut right[..held]);
            synth.note_off(0, i32::from(key));
            synth.render(&mut left[held..], &mut right[held..]);
            let fade = (rate / 83) as usize;
            for n in 0..next - from {
                let level = ((next - from - n) as f32 / fade as f32).min(1.0);
                sound[from + n] += level * (left[n] + right[n]);
            }
            at = next;
        }
    }
    let peak = sound.iter().fold(1e-9f32, |peak, s| peak.max(s.abs()));
    sound.iter_mut().for_each(|s| *s *= 0.5 / peak);
    sound
}

/// How the verdicts of an event log stand against what was meant.
#[derive(Debug, Default)]
pub struct Score {
    pub right: usize,
    pub all: usize,
    /// Other notes that were told, but not played.
    pub strays: usize,
    pub differs: Vec<String>,
}

/// Compares what was meant before `until` with the verdicts.
pub fn score(meant: &[Meant], events: &[Value], until: i64) -> Score {
    let verdicts: Vec<&Value> = events
        .iter()
        .filter(|event| event["kind"] == "verdict")
        .collect();
    let mut score = Score::default();
    let (mut others, mut told) = (0, 0);
    for meant in meant.iter().filter(|meant| meant.frame < until) {
        // The frame of a target is the chord's, to a frame's rounding.
        let of = |verdict: &&&Value| {
            verdict["result"] != "other"
                && verdict["frame"]
                    .as_i64()
                    .is_some_and(|at| (at - meant.frame).abs() <= 1)
        };
        let mine: Vec<&&Value> = verdicts.iter().filter(of).collect();
        score.all += 1;
        others += meant.others;
        let is_right = match mine[..] {
            [verdict] => {
                verdict["result"] == meant.result && verdict["time"].as_str() == meant.time
            }
            _ => false,
        };
        score.right += usize::from(is_right);
        if !is_right {
            score.differs.push(format!("{meant:?}: {mine:?}"));
        }
    }
    let before = |verdict: &&&Value| verdict["frame"].as_i64().is_some_and(|at| at < until);
    told += verdicts
        .iter()
        .filter(before)
        .filter(|verdict| verdict["result"] == "other")
        .count();
    score.all += others;
    score.right += others.min(told);
    score.strays = told.saturating_sub(others);
    score
}
