//! Chords in context written by hand, so that drills are tested without the analysis of a chart.

use underfoot::drill::{Drill, KeyRange, LapChordView, LayOut, Stage, TargetSet, lay_out};
use underfoot::fault::Source;
use underfoot::harmony::{
    ChordInContext, ChordSymbol, Degree, DegreeRole, Habits, Harmony, Pitch, Role, ScaleName,
    TimedChord, in_context,
};
use underfoot::time::{Meter, Tick, UsPerQuarter};

/// A chord of a made-up tune.
#[derive(Debug, Clone)]
pub struct Change {
    pub start: Tick,
    pub len: Tick,
    pub meter: Meter,
    pub context: ChordInContext,
}

impl Change {
    /// The same chord `up` semitones higher.
    pub fn transposed(&self, up: u8) -> Change {
        let roots = [
            "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
        ];
        let Harmony::Chord(symbol) = &self.context.harmony else {
            return self.clone();
        };
        let class = (symbol.root.class() + up) % 12;
        let quality = symbol
            .text
            .trim_start_matches(|c: char| c.is_ascii_uppercase());
        let quality = if symbol.root.alter == 0 {
            quality
        } else {
            &quality[1..]
        };
        Change {
            context: context(&format!("{}{quality}", roots[usize::from(class)])),
            ..self.clone()
        }
    }
}

/// Quality: chord tones, the scale from the root (`~` marks a passing note), its name. Chord and scale
/// choices are common practice, no source.
const QUALITIES: [(&str, &str, &str, ScaleName); 10] = [
    ("maj7", "1 3 5 7", "1 2 3 4~ 5 6 7", ScaleName::Ionian),
    ("m7", "1 b3 5 b7", "1 2 b3 4 5 6 b7", ScaleName::Dorian),
    ("7", "1 3 5 b7", "1 2 3 4~ 5 6 b7", ScaleName::Mixolydian),
    ("6", "1 3 5 6", "1 2 3 4~ 5 6 7", ScaleName::Ionian),
    ("m6", "1 b3 5 6", "1 2 b3 4 5 6 7", ScaleName::MelodicMinor),
    (
        "m7b5",
        "1 b3 b5 b7",
        "1 b2~ b3 4 b5 b6 b7",
        ScaleName::Locrian,
    ),
    ("7sus", "1 4 5 b7", "1 2 3~ 4 5 6 b7", ScaleName::Mixolydian),
    (
        "dim7",
        "1 b3 b5 bb7",
        "1 2 b3 4 b5 b6 bb7 7",
        ScaleName::DiminishedWholeHalf,
    ),
    (
        "7alt",
        "1 3 b13 b7 b9",
        "1 b2 #2 3 b5 b6 b7",
        ScaleName::Altered,
    ),
    (
        "7b9",
        "1 3 5 b7 b9",
        "1 b2 3 4~ 5 b6 b7",
        ScaleName::PhrygianDominant,
    ),
];

fn context(text: &str) -> ChordInContext {
    let silence = ChordInContext {
        start: Tick(0),
        len: Tick(0),
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
    if text == "NC" {
        return silence;
    }
    let signed = text[1..].starts_with(['b', '#']);
    let (root, quality) = text.split_at(if signed { 2 } else { 1 });
    let root: Pitch = root.parse().unwrap();
    let (_, tones, scale, name) = QUALITIES
        .iter()
        .find(|(word, ..)| *word == quality)
        .unwrap();
    let tones: Vec<Degree> = tones.split(' ').map(|word| word.parse().unwrap()).collect();
    let degrees = scale.split(' ').map(|word| {
        let degree: Degree = word.trim_end_matches('~').parse().unwrap();
        let role = if tones.iter().any(|tone| tone.simple() == degree) {
            Role::ChordTone
        } else if word.ends_with('~') {
            Role::Passing
        } else {
            Role::Colour
        };
        DegreeRole {
            degree,
            pitch: degree.above(root),
            role,
        }
    });
    ChordInContext {
        scale: Some(*name),
        degrees: degrees.collect(),
        harmony: Harmony::Chord(ChordSymbol {
            text: text.to_string(),
            root,
            bass: root,
            degrees: tones,
        }),
        ..silence
    }
}

/// A tune from `Dm7:4 G7:2 ...`: chord and length in beats.
pub fn changes(meter: &str, text: &str) -> Vec<Change> {
    let meter: Meter = meter.parse().unwrap();
    let mut start = Tick(0);
    text.split(' ')
        .map(|word| {
            let (chord, beats) = word.split_once(':').unwrap();
            let len = Tick(beats.parse::<i64>().unwrap() * meter.beat_ticks().0);
            let change = Change {
                start,
                len,
                meter,
                context: context(chord),
            };
            start += len;
            change
        })
        .collect()
}

/// A tune of one bar of 4/4 a chord, analysed in `key`.
pub fn analysed(key: &str, text: &str) -> Vec<Change> {
    let len = Meter::COMMON.bar_ticks();
    let timed: Vec<TimedChord> = (0i64..)
        .zip(text.split(' '))
        .map(|(bar, word)| TimedChord {
            start: Tick(bar * len.0),
            len,
            harmony: word.parse().unwrap(),
            declared: Some(key.parse().unwrap()),
            hint: None,
        })
        .collect();
    let contexts = in_context(&timed, &Habits::default()).into_iter();
    let changes = contexts.map(|context| Change {
        start: context.start,
        len: context.len,
        meter: Meter::COMMON,
        context,
    });
    changes.collect()
}

/// The tune as a drill sees it.
pub fn views(tune: &[Change]) -> Vec<LapChordView<'_>> {
    tune.iter()
        .map(|change| LapChordView {
            start: change.start,
            len: change.len,
            meter: change.meter,
            context: &change.context,
        })
        .collect()
}

/// A stage from its keys without the name.
pub fn stage(keys: &str) -> Stage {
    let text = format!("title = \"test\"\n[[stage]]\nname = \"test\"\n{keys}\n");
    match Drill::read(&Source {
        name: "test.toml",
        text: &text,
    }) {
        Ok(mut drill) => drill.stages.remove(0),
        Err(faults) => panic!("{faults}\n{text}"),
    }
}

/// 96 quarters a minute.
pub const TEMPO: UsPerQuarter = UsPerQuarter(625_000);

/// The sets of a stage over a tune.
pub fn laid_out(stage: &Stage, tune: &[Change], pass: u32, seed: u64) -> Vec<TargetSet> {
    laid_out_at(stage, tune, (pass, seed), TEMPO)
}

/// The same at a tempo.
pub fn laid_out_at(
    stage: &Stage,
    tune: &[Change],
    (pass, seed): (u32, u64),
    tempo: UsPerQuarter,
) -> Vec<TargetSet> {
    let chords = views(tune);
    lay_out(
        stage,
        &LayOut {
            chords: &chords,
            pass,
            seed,
            tempo,
            range: KeyRange::GUITAR,
        },
    )
}

/// A set as `D3@0 F3@2`: spelled note, octave (C4 is middle C), quarters from the first bar; `-` if empty.
pub fn told(set: &TargetSet) -> String {
    if set.notes.is_empty() {
        return "-".to_string();
    }
    let words: Vec<String> = set
        .notes
        .iter()
        .map(|note| {
            let octave = (i32::from(note.midi) - i32::from(note.pitch.alter)).div_euclid(12) - 1;
            format!("{}{octave}@{}", note.pitch, note.at.quarters())
        })
        .collect();
    words.join(" ")
}

/// The sets of a stage over a tune, in a line.
pub fn lay(keys: &str, meter: &str, chords: &str, pass: u32) -> String {
    let tune = changes(meter, chords);
    let sets: Vec<String> = laid_out(&stage(keys), &tune, pass, 0)
        .iter()
        .map(told)
        .collect();
    sets.join(" | ")
}
