//! Takes of a player on recorded notes: what is played for each note that is asked for (right, wrong, early, late, missed, another
//! octave), single, tied into lines or swung, and the way that the band goes back into the guitar's input.
//!
//! Where notes are asked for comes from the log of a take in which somebody plays anything. Windows (common practice, no source): early by 10 % of
//! a beat, 35 to 80 ms, late by 1.4 times that, "early" and "late" up to twice as much.

use crate::listen::ways::recorded::Recorded;
use crate::listen::ways::string::{self, Chance};
use serde_json::Value;

pub const RATE: u32 = string::RATE;

/// A note that is asked for: its frame, how long until the next one, its pitch class.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    pub frame: i64,
    pub room: i64,
    pub class: u8,
}

/// What was played for it, and what that is.
#[derive(Debug, Clone)]
pub struct Meant {
    pub frame: i64,
    pub result: &'static str,
    pub time: Option<&'static str>,
}

/// A note that is played.
#[derive(Debug, Clone, Copy)]
pub struct Struck {
    pub frame: i64,
    pub frames: i64,
    pub midi: u8,
    pub level: f64,
}

/// How notes follow each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Manner {
    /// Each with room after it.
    Single,
    /// Each until the next.
    Legato,
    /// So too, and what is written between two beats is played long and short, as five to three.
    Swung,
}

/// How much later a swung eighth comes than a straight one, of a beat.
const SWING: f64 = 5.0 / 8.0 - 0.5;

/// Somebody who plays anything: a pass in which nobody plays is not judged, and nothing is told of what it asked for.
pub fn anything(frames: usize) -> Vec<f32> {
    let mut sound = vec![0.0f32; frames];
    for second in 4..frames as u32 / RATE {
        string::add(&mut sound, &string::picked(f64::from(second), 0.3, 45.0));
    }
    sound
}

/// What is asked for in the take of a log before a frame: of the passes that were judged.
pub fn asked(log: &[Value], until: i64) -> Vec<Asked> {
    let class = |name: &str| super::player::root(name);
    let wanted = log
        .iter()
        .filter(|line| line["kind"] == "verdict" && line["result"] != "other");
    let mut all: Vec<(i64, u8)> = wanted
        .map(|line| {
            let name = line["want"].as_str().expect("a name");
            (line["frame"].as_i64().expect("a frame"), class(name))
        })
        .filter(|(frame, _)| *frame < until)
        .collect();
    all.sort_unstable();
    let next = |index: usize| all.get(index + 1).map_or(until, |next| next.0);
    (0..all.len())
        .map(|index| Asked {
            frame: all[index].0,
            room: next(index) - all[index].0,
            class: all[index].1,
        })
        .collect()
}

/// Decides what to play: of sixteen notes ten right, and one each of what else there is. `low` and `high` are the notes that the
/// instrument has.
pub fn decide(
    asked: &[Asked],
    manner: Manner,
    qpm: f64,
    (low, high): (u8, u8),
    seed: u64,
) -> (Vec<Meant>, Vec<Struck>) {
    const KINDS: [&str; 16] = [
        "right", "right", "right", "right", "right", "right", "right", "right", "right", "right",
        "right", "wrong", "early", "late", "missed", "octave",
    ];
    let mut chance = Chance(seed);
    let beat_ms = 60_000.0 / qpm;
    let early_ms = (0.1 * beat_ms).clamp(35.0, 80.0);
    let late_ms = 1.4 * early_ms;
    let frames = |ms: f64| (ms * f64::from(RATE) / 1000.0).round() as i64;
    let Some(asked_first) = asked.first() else {
        return (Vec::new(), Vec::new());
    };
    let mut last = f64::from(low + high) / 2.0;
    let (mut meant, mut struck) = (Vec::new(), Vec::<Struck>::new());
    for (index, asked) in asked.iter().enumerate() {
        let mut kind = KINDS[chance.below(KINDS.len())];
        let room_ms = asked.room as f64 * 1000.0 / f64::from(RATE);
        let before_ms = index.checked_sub(1).map_or(f64::INFINITY, |_| {
            (asked.frame - struck.last().map_or(0, |last| last.frame)) as f64 * 1000.0
                / f64::from(RATE)
        });
        // Where an eighth is swung there is no one place to be early or late by.
        let begin = asked_first.frame as f64;
        let beats = (asked.frame as f64 - begin) * 1000.0 / f64::from(RATE) / beat_ms;
        let swung = manner == Manner::Swung && (beats.fract() - 0.5).abs() < 0.1;
        if swung && matches!(kind, "early" | "late") {
            kind = "right";
        }
        // What is shifted must stay nearer to its own place than to the next one.
        if kind == "early" && before_ms < 5.0 * early_ms
            || kind == "late" && room_ms < 5.0 * late_ms
        {
            kind = "right";
        }
        // Near to what was played last, as a hand does.
        let octaves = (low..=high).filter(|midi| midi % 12 == asked.class);
        let far = |midi: &u8| ((f64::from(*midi) - last).abs() * 100.0) as u32;
        let Some(near) = octaves.min_by_key(far) else {
            continue;
        };
        let hand_ms = ((0..12).map(|_| chance.next()).sum::<f64>() - 6.0) * 15.0;
        let hand_ms = hand_ms.clamp(-0.9 * early_ms, 0.9 * early_ms);
        let wrong = [1, 2, -1, -2, 3][chance.below(5)];
        let level = 0.2 * chance.between(0.5, 1.0);
        let inside = |midi: i16| midi.clamp(i16::from(low), i16::from(high)) as u8;
        let (at_ms, midi, result, time) = match kind {
            "wrong" => {
                let other = inside(i16::from(near) + wrong);
                let other = if other == near {
                    inside(i16::from(near) - wrong)
                } else {
                    other
                };
                (hand_ms, Some(other), "wrong", Some("in time"))
            }
            "early" => (-1.5 * early_ms, Some(near), "right", Some("early")),
            "late" => (1.5 * late_ms, Some(near), "right", Some("late")),
            "missed" => (0.0, None, "missed", None),
            "octave" => {
                let above = if near + 12 <= high {
                    near + 12
                } else {
                    near - 12
                };
                (hand_ms, Some(above), "right", Some("in time"))
            }
            _ => (hand_ms, Some(near), "right", Some("in time")),
        };
        if let Some(midi) = midi {
            let late_ms = if swung { SWING * beat_ms } else { 0.0 };
            struck.push(Struck {
                frame: asked.frame + frames(at_ms + late_ms),
                frames: asked.room,
                midi,
                level,
            });
            last = f64::from(midi);
        }
        meant.push(Meant {
            frame: asked.frame,
            result,
            time,
        });
    }
    hold(&mut struck, manner);
    (meant, struck)
}

/// How long each note is held.
fn hold(struck: &mut [Struck], manner: Manner) {
    for index in 0..struck.len() {
        let next = struck.get(index + 1).map_or(i64::MAX, |next| next.frame);
        let until = next.min(struck[index].frame + struck[index].frames.max(i64::from(RATE) / 4))
            - struck[index].frame;
        struck[index].frames = match manner {
            Manner::Single => (0.6 * until as f64) as i64,
            Manner::Legato | Manner::Swung => until,
        }
        .min(i64::from(RATE) * 2);
    }
}

/// The sound of what is played, its highest sample at a half.
pub fn sound(guitar: &Recorded, struck: &[Struck], frames: usize) -> Vec<f32> {
    let mut sound = vec![0.0f32; frames];
    for note in struck.iter().filter(|note| note.frame >= 0) {
        let rate = f64::from(RATE);
        let mut string = string::picked(
            note.frame as f64 / rate,
            note.frames as f64 / rate,
            f64::from(note.midi),
        );
        string.level = note.level;
        guitar.add(&mut sound, &string);
    }
    let peak = sound.iter().fold(1e-9f32, |peak, s| peak.max(s.abs()));
    sound.iter_mut().for_each(|s| *s *= 0.5 / peak);
    sound
}

/// The mean square of what is louder than silence: of the guitar while it sounds, of the band while it plays.
pub fn sounding(sound: &[f32]) -> f32 {
    let blocks = sound.chunks_exact(RATE as usize / 20);
    let powers: Vec<f32> = blocks
        .map(|block| block.iter().map(|x| x * x).sum::<f32>() / block.len() as f32)
        .collect();
    let loud: Vec<f32> = powers
        .iter()
        .copied()
        .filter(|power| *power > 1e-6)
        .collect();
    loud.iter().sum::<f32>() / loud.len().max(1) as f32
}

/// A small room between the band's loudspeaker and the guitar's pickup: the way there, reflections that die away over 80 ms, nothing
/// above 5 kHz. Sample by sample, so that it may stand in an audio callback.
pub struct Room {
    taps: Vec<(usize, f32)>,
    line: Vec<f32>,
    at: usize,
    low: [f32; 2],
}

impl Room {
    /// `late` frames of the way there; what comes back is `gain` times what a way without walls would bring.
    pub fn new(late: usize, gain: f32) -> Room {
        let mut chance = Chance(77);
        let mut taps = vec![(late, gain)];
        for _ in 0..60 {
            let after = chance.between(0.002, 0.08);
            let sign = if chance.next() < 0.5 { -1.0 } else { 1.0 };
            let part = 0.35 * sign * (-after / 0.025).exp();
            taps.push((
                late + (after * f64::from(RATE)) as usize,
                gain * part as f32,
            ));
        }
        let longest = taps.iter().map(|tap| tap.0).max().unwrap_or(0);
        Room {
            taps,
            line: vec![0.0; longest + 1],
            at: 0,
            low: [0.0; 2],
        }
    }

    pub fn step(&mut self, x: f32) -> f32 {
        let long = self.line.len();
        self.line[self.at] = x;
        let back = |tap: &(usize, f32)| tap.1 * self.line[(self.at + long - tap.0) % long];
        let sum: f32 = self.taps.iter().map(back).sum();
        self.at = (self.at + 1) % long;
        // Two poles at 5 kHz.
        let part = 1.0 - (-std::f32::consts::TAU * 5_000.0 / RATE as f32).exp();
        self.low[0] += part * (sum - self.low[0]);
        self.low[1] += part * (self.low[0] - self.low[1]);
        self.low[1]
    }
}

/// What the player was told, against what was played.
#[derive(Debug, Default, Clone)]
pub struct Told {
    pub all: usize,
    /// Result and time as played.
    pub as_played: usize,
    pub right_played: usize,
    /// Of those that were played right: called wrong, missed, or not judged; and strange notes that nobody played.
    pub wrong: usize,
    pub missed: usize,
    pub not_judged: usize,
    pub strays: usize,
    pub differs: Vec<String>,
}

impl Told {
    pub fn add(&mut self, other: Told) {
        self.all += other.all;
        self.as_played += other.as_played;
        self.right_played += other.right_played;
        self.wrong += other.wrong;
        self.missed += other.missed;
        self.not_judged += other.not_judged;
        self.strays += other.strays;
        self.differs.extend(other.differs);
    }

    pub fn per_100(&self, count: usize) -> f64 {
        100.0 * count as f64 / self.right_played.max(1) as f64
    }

    pub fn share(&self) -> f64 {
        100.0 * self.as_played as f64 / self.all.max(1) as f64
    }

    pub fn line(&self) -> String {
        format!(
            "{} of {} as played ({:.1} %); of {} played right per 100: wrong {:.1}, missed {:.1}, not judged {:.1}, strays {:.1}",
            self.as_played,
            self.all,
            self.share(),
            self.right_played,
            self.per_100(self.wrong),
            self.per_100(self.missed),
            self.per_100(self.not_judged),
            self.per_100(self.strays),
        )
    }
}

/// Compares what was meant before `until` with the verdicts of a log.
pub fn told(meant: &[Meant], log: &[Value], until: i64) -> Told {
    let verdicts: Vec<&Value> = log
        .iter()
        .filter(|line| line["kind"] == "verdict")
        .collect();
    let frame = |verdict: &Value| verdict["frame"].as_i64().unwrap_or(i64::MIN);
    let mut told = Told::default();
    for meant in meant.iter().filter(|meant| meant.frame < until) {
        let of = |verdict: &&&Value| {
            verdict["result"] != "other" && (frame(verdict) - meant.frame).abs() <= 1
        };
        let mine: Vec<&&Value> = verdicts.iter().filter(of).collect();
        let (result, time) = match mine[..] {
            [verdict] => (
                verdict["result"].as_str().unwrap_or("none"),
                verdict["time"].as_str(),
            ),
            _ => ("none", None),
        };
        let as_played = result == meant.result && (time == meant.time);
        told.all += 1;
        told.as_played += usize::from(as_played);
        if meant.result == "right" {
            told.right_played += 1;
            told.wrong += usize::from(matches!(result, "wrong" | "octave"));
            told.missed += usize::from(matches!(result, "missed" | "none"));
            told.not_judged += usize::from(result == "not judged");
        }
        if !as_played {
            told.differs.push(format!("{meant:?}: {mine:?}"));
        }
    }
    let is_stray = |verdict: &&&Value| verdict["result"] == "other" && frame(verdict) < until;
    told.strays = verdicts.iter().filter(is_stray).count();
    told
}
