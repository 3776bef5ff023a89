//! Tunes for the tests, and what is needed to play them.

use underfoot::band::{Score, play};
use underfoot::chart::{Feel, Lap, LapBar, LapChord};
use underfoot::drill::{BandStyle, Comping, Direction, Drums, Model, Place, TargetNote, TargetSet};
use underfoot::harmony::{
    ChordInContext, ChordSymbol, Degree, DegreeRole, Harmony, Key, Mode, Pitch, Role,
};
use underfoot::time::{Meter, Tick, TimedNote, UsPerQuarter};

/// 32 bars AABA in G minor: a bar between bar lines, chords sharing it evenly, `x^` leads to minor.
pub const MINOR: &str = "4/4 | Gm6 | Am7b5 D7^ | Gm6 | G7^ | Cm7 | Am7b5 D7^ | Gm6 Eb7 | Am7b5 D7^ \
    | Gm6 | Am7b5 D7^ | Gm6 | G7^ | Cm7 | Am7b5 D7^ | Gm6 | Gm6 \
    | Fm7 | Bb7 | Ebmaj7 | Ebmaj7 | Em7b5 | A7^ | Am7b5 | D7^ \
    | Gm6 | Am7b5 D7^ | Gm6 | G7^ | Cm7 | Am7b5 D7^ | Gm6 Eb7 | Am7b5 D7^ |";

/// A waltz of 32 bars in F.
pub const WALTZ: &str = "3/4 | Fmaj7 | Em7b5 | A7^ | Dm7 | Gm7 | C7 | Fmaj7 | F7 \
    | Bbmaj7 | Eb7 | Am7 | D7 | Gm7 | C7 | Fmaj7 | Gm7 C7 . \
    | Fmaj7 | Em7b5 | A7^ | Dm7 | Gm7 | C7 | Fmaj7 | F7 \
    | Bbmaj7 | Bbm6 | Am7 | Abdim7 | Gm7 | C7 | Fmaj7 | Gm7 . C7 |";

/// A blues in Bb, not quite three times round.
pub const BLUES: &str = "4/4 | Bb7 | Eb7 | Bb7 | Fm7 Bb7 | Eb7 | Edim7 | Bb7 | Dm7b5 G7^ | Cm7 | F7 | Bb7 G7^ | Cm7 F7 \
    | Bb7 | Eb7 | Bb7 | Bb7 | Eb7 | Eb7 | Bb7 | G7^ | Cm7 | F7 | Bb7 | F7 \
    | Bb7 | Eb7 | Bb7 | Fm7 Bb7 | Eb7 | Edim7 | Bb7 | Dm7b5 G7^ |";

/// A bossa of 32 bars in C that goes to Eb.
pub const BOSSA: &str = "4/4 | Cmaj7 | Cmaj7 | Bm7b5 | E7^ | Am7 | D7 | Dm7 | G7 \
    | Cmaj7 | Cmaj7 | Gm7 | C7 | Fmaj7 | Bb7 | Em7 | A7^ \
    | Fm7 | Bb7 | Ebmaj7 | Cm7 | Fm7 | Bb7 | Ebmaj7 | Ab7 \
    | Dm7b5 | G7^ | Cm6 | Am7 | Dm7 | G7 | Cmaj7 A7^ | Dm7 G7 |";

/// Five, with silence, a slash bass, chords of a beat and triads.
pub const ODD: &str =
    "5/4 | Cm7 | F7 | - | C/G G7sus G7alt C F | Dm/A | A+ | Bo | Eb7#11 | - | D | D7#9 | Gsus |";

/// A lap with its chords.
pub struct Tune {
    pub lap: Lap,
    pub contexts: Vec<ChordInContext>,
}

/// How it is played.
#[derive(Clone, Debug)]
pub struct Setting {
    pub feel: Feel,
    pub qpm: f64,
    pub pass: u32,
    pub seed: u64,
    pub feel_amount: f64,
    /// With which bars sections begin, besides the first.
    pub sections: Vec<usize>,
    pub comping: Comping,
    pub drums: Drums,
    pub model: Model,
    pub learning: bool,
    /// How richly it is played where nothing is learned.
    pub band: BandStyle,
    /// The tune's own tempo; `None`: the one it is played at.
    pub tune_qpm: Option<f64>,
    pub last_time: bool,
    /// Whether the lap leads to its own start.
    pub loops: bool,
    /// Targets of each chord, by degree.
    pub targets: &'static [&'static str],
}

impl Default for Setting {
    fn default() -> Setting {
        Setting {
            feel: Feel::Swing,
            qpm: 140.0,
            pass: 1,
            seed: 1,
            feel_amount: 0.0,
            sections: Vec::new(),
            comping: Comping::Full,
            drums: Drums::Ride,
            model: Model::Off,
            learning: false,
            band: BandStyle::Steady,
            tune_qpm: None,
            last_time: false,
            loops: true,
            targets: &[],
        }
    }
}

impl Tune {
    /// Some of its bars as a lap of their own.
    pub fn bars(&self, bars: std::ops::Range<usize>) -> Tune {
        let from = self.lap.bars[bars.start].start;
        let chords = self.lap.chords.iter().zip(&self.contexts);
        let (chords, contexts): (Vec<_>, Vec<_>) = chords
            .filter(|(chord, _)| bars.contains(&chord.bar))
            .enumerate()
            .map(|(i, (chord, context))| {
                let mut chord = *chord;
                chord.form_chord = i;
                chord.start = chord.start - from;
                chord.bar -= bars.start;
                (chord, context.clone())
            })
            .unzip();
        let mut lap = Lap {
            chords,
            ..Lap::default()
        };
        for bar in &self.lap.bars[bars] {
            lap.bars.push(LapBar {
                start: lap.len,
                ..*bar
            });
            lap.len += bar.meter.bar_ticks();
        }
        Tune { lap, contexts }
    }

    pub fn play(&self, setting: &Setting) -> Vec<TimedNote> {
        let targets = self.targets(setting.targets);
        play(&Score {
            lap: &self.lap,
            contexts: &self.contexts,
            sections: &setting.sections,
            targets: &targets,
            next: setting
                .loops
                .then(|| &self.contexts[self.lap.chords[0].form_chord]),
            feel: setting.feel,
            tempo: UsPerQuarter::from_qpm(setting.qpm),
            tune_tempo: UsPerQuarter::from_qpm(setting.tune_qpm.unwrap_or(setting.qpm)),
            pass: setting.pass,
            seed: setting.seed,
            feel_amount: setting.feel_amount,
            comping: setting.comping,
            bass: true,
            drums: setting.drums,
            melody: &[],
            model: setting.model,
            band: match setting.learning {
                true => BandStyle::Plain,
                false => setting.band,
            },
            last_time: setting.last_time,
        })
    }

    /// The wanted degrees of every chord, a beat apart from its start.
    pub fn targets(&self, degrees: &[&str]) -> Vec<TargetSet> {
        self.lap
            .chords
            .iter()
            .map(|chord| {
                let context = &self.contexts[chord.form_chord];
                let Harmony::Chord(symbol) = &context.harmony else {
                    return TargetSet::default();
                };
                let notes = degrees.iter().enumerate().map(|(i, degree)| {
                    let wanted: Degree = degree.parse().unwrap();
                    let found = context
                        .degrees
                        .iter()
                        .find(|role| role.degree.number == wanted.number);
                    let degree = found.map_or(wanted, |role| role.degree);
                    let pitch = degree.above(symbol.root);
                    TargetNote {
                        degree,
                        pitch,
                        direction: Direction::Free,
                        place: Place {
                            text: (i + 1).to_string(),
                            beat: i as u8 + 1,
                            twelfths: 0,
                        },
                        at: chord.start + Tick(960 * i as i64),
                        len: Tick(960),
                        midi: 48 + pitch.class(),
                    }
                });
                TargetSet {
                    notes: notes.collect(),
                    ..TargetSet::default()
                }
            })
            .collect()
    }
}

/// Reads a tune: the meter, then bars. Chords of a bar share it by beats: as many beats for each as it
/// divides into, a `.` lengthens the chord before it. `-` is silence.
pub fn tune(text: &str) -> Tune {
    let mut bars = text.split('|').map(str::trim);
    let meter: Meter = bars.next().unwrap().parse().unwrap();
    let mut lap = Lap::default();
    let mut contexts = Vec::new();
    for bar in bars.filter(|bar| !bar.is_empty()) {
        let cells: Vec<&str> = bar.split_whitespace().collect();
        let cell = Tick(meter.bar_ticks().0 / cells.len() as i64);
        for (i, symbol) in cells.iter().enumerate() {
            let start = lap.len + Tick(cell.0 * i as i64);
            if *symbol == "." {
                let chord: &mut LapChord = lap.chords.last_mut().unwrap();
                chord.len += cell;
                continue;
            }
            lap.chords.push(LapChord {
                form_chord: contexts.len(),
                start,
                len: cell,
                bar: lap.bars.len(),
            });
            contexts.push(context(symbol, start, cell));
        }
        lap.bars.push(LapBar {
            form_bar: lap.bars.len(),
            start: lap.len,
            meter,
        });
        lap.len += meter.bar_ticks();
    }
    Tune { lap, contexts }
}

/// Quality, its degrees, its scale.
const QUALITIES: [(&str, &str, &str); 22] = [
    ("maj7", "1 3 5 7", "1 2 3 4 5 6 7"),
    ("m7b5", "1 b3 b5 b7", "1 b2 b3 4 b5 b6 b7"),
    ("mMaj7", "1 b3 5 7", "1 2 b3 4 5 6 7"),
    ("dim7", "1 b3 b5 bb7", "1 2 b3 4 b5 b6 6 7"),
    ("m7", "1 b3 5 b7", "1 2 b3 4 5 6 b7"),
    ("m6", "1 b3 5 6", "1 2 b3 4 5 6 7"),
    ("69", "1 3 5 6 9", "1 2 3 4 5 6 7"),
    ("7sus", "1 4 5 b7", "1 2 3 4 5 6 b7"),
    ("7alt", "1 3 b7 b9 #9 b13", "1 b2 #2 3 b5 b6 b7"),
    ("7b9", "1 3 5 b7 b9", "1 b2 3 4 5 b6 b7"),
    ("7#9", "1 3 5 b7 #9", "1 b2 #2 3 b5 b6 b7"),
    ("7#11", "1 3 5 b7 #11", "1 2 3 #4 5 6 b7"),
    ("7#5", "1 3 #5 b7", "1 2 3 #4 b6 b7"),
    ("13", "1 3 5 b7 9 13", "1 2 3 4 5 6 b7"),
    ("7^", "1 3 5 b7", "1 b2 3 4 5 b6 b7"),
    ("7", "1 3 5 b7", "1 2 3 4 5 6 b7"),
    ("6", "1 3 5 6", "1 2 3 4 5 6 7"),
    ("m", "1 b3 5", "1 2 b3 4 5 6 b7"),
    ("+", "1 3 #5", "1 2 3 #4 #5 b7"),
    ("o", "1 b3 b5", "1 2 b3 4 b5 b6 6 7"),
    ("sus", "1 4 5", "1 2 3 4 5 6 b7"),
    ("", "1 3 5", "1 2 3 4 5 6 7"),
];

fn context(text: &str, start: Tick, len: Tick) -> ChordInContext {
    if text == "-" {
        return ChordInContext {
            start,
            len,
            harmony: Harmony::Silence,
            key: None,
            function: None,
            scale: None,
            degrees: Vec::new(),
            why: String::new(),
            rule: None,
            by_key: None,
            certainty: None,
        };
    }
    let (upper, bass) = text.split_once('/').unwrap_or((text, ""));
    let signs = upper[1..]
        .chars()
        .take_while(|sign| matches!(sign, 'b' | '#'))
        .count();
    let (root, quality) = upper.split_at(1 + signs);
    let root: Pitch = root.parse().unwrap();
    let (_, tones, scale) = QUALITIES
        .iter()
        .find(|(name, ..)| *name == quality)
        .unwrap_or_else(|| panic!("{text}"));
    let degrees =
        |text: &str| -> Vec<Degree> { text.split(' ').map(|d| d.parse().unwrap()).collect() };
    let symbol = ChordSymbol {
        text: text.to_string(),
        root,
        bass: if bass.is_empty() {
            root
        } else {
            bass.parse().unwrap()
        },
        degrees: degrees(tones),
    };
    ChordInContext {
        start,
        len,
        harmony: Harmony::Chord(symbol),
        key: Some(Key {
            tonic: "G".parse().unwrap(),
            mode: Mode::Minor,
        }),
        function: None,
        scale: None,
        degrees: degrees(scale)
            .into_iter()
            .map(|degree| DegreeRole {
                degree,
                pitch: degree.above(root),
                role: Role::Colour,
            })
            .collect(),
        why: String::new(),
        rule: None,
        by_key: None,
        certainty: None,
    }
}
