//! The lines of `targets`: every chord written, with what the analysis and the drill say about it.
//!
//! # What do the keys of a line say about its notes?
//!
//! | key | value |
//! | --- | --- |
//! | `key` | the local key that the analysis believes, `declared_key` the one that the chart declares there |
//! | `function`, `scale` | the chord's numeral in that key, and the scale's name |
//! | `notes` | the scale from the root up, spelled |
//! | `second_semitones` | from the root to the second of `notes` |
//! | `rule` | what decided the scale: `own notes` (the local key's, the chord's own tones over them), or a rule by its name |
//! | `key_second_semitones` | the second that the key alone gives; another than `second_semitones` only by `rule` |
//! | `certain` | whether the second can be taken for granted: `margin` is at least 5, and `taught_alike` |
//! | `margin` | how far the best reading with another second stays behind, 0 to 10; a cadence is worth 1, a tonic 3, a change of key costs 5 |
//! | `margins` | the same for each of `notes`: how far the best reading without that note stays behind |
//! | `taught_alike` | whether teachers of all habits name the same second |
//! | `runner_up` | that best other reading, its `key` and `scale`; null where none is within 10 |
//! | `why` | with `--why`: the reason in a line |
//!
//! They are there in every line, null or empty for silence. In the lines for reading a note has a question mark where it may
//! as well be another: where its margin is under 5, or, a second, where teachers differ.

use crate::chart::{Analysis, Chart, Unread, WrittenChord, form_lines, written_lines};
use crate::drill::{Direction, Drill, LapChordView, LayOut, StringRule, TargetSet, lay_out};
use crate::fretboard::{Neck, NeckPlace, places_of, shifts, way_through};
use crate::harmony::{Certainty, ChordInContext, ChordSymbol, Harmony, Pitch, Rule};
use crate::plan::Material;
use crate::time::{Tick, UsPerQuarter};
use serde_json::{Value, json};

/// What to list.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// The stage: by name, or by number from 1; `None`: the first.
    pub stage: Option<String>,
    /// The pass, from 1.
    pub pass: u32,
    /// The unrolled form instead of the chart as written.
    pub form: bool,
    /// Chooses where there is a choice.
    pub seed: u64,
    /// Whether each line says why its chord got its scale.
    pub why: bool,
    /// The neck that places are looked for on.
    pub neck: Neck,
}

/// A stage that the drill does not have.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the drill has no stage \"{asked}\"{hint}; its stages: {stages}")]
pub struct NoStage {
    asked: String,
    hint: String,
    stages: String,
}

/// A chord written, with what analysis and drill say about it.
pub(super) struct Row {
    pub chord: WrittenChord,
    pub context: ChordInContext,
    pub set: TargetSet,
    pub neck: Vec<Option<NeckPlace>>,
}

/// What there is to tell, a row a chord.
pub(super) fn rows(
    material: &Material,
    drill: Option<&Drill>,
    asked: &Asked,
) -> Result<Vec<Row>, NoStage> {
    let written = written(material, asked.form);
    let contexts = contexts(material, &written);
    let stage = match drill {
        Some(drill) => Some(&drill.stages[stage_index(drill, asked.stage.as_deref())?]),
        None => None,
    };
    let mut sets = match stage {
        Some(stage) => {
            let views = views(&written, &contexts, stage.chords_last);
            lay_out(
                stage,
                &LayOut {
                    chords: &views,
                    pass: stage.turn_of(asked.pass.saturating_sub(1)),
                    seed: asked.seed,
                    tempo: UsPerQuarter::from_qpm(material.form.tempo_qpm),
                    range: asked.neck.range(),
                },
            )
        }
        None => vec![TargetSet::default(); written.len()],
    };
    let turn = asked.pass.saturating_sub(1);
    let neck = match stage {
        Some(stage) => {
            let turn = stage.turn_of(turn);
            let stage = stage.in_turn(turn, asked.seed);
            places_of(&asked.neck, &mut sets, &stage, turn)
        }
        None => way_through(&asked.neck, &sets, StringRule::Free, None),
    };
    let chords = written.into_iter().zip(contexts);
    let laid_out = sets.into_iter().zip(neck);
    let row = |((chord, context), (set, neck))| Row {
        chord,
        context,
        set,
        neck,
    };
    Ok(chords.zip(laid_out).map(row).collect())
}

fn written(material: &Material, form: bool) -> Vec<WrittenChord> {
    let lines = if form { form_lines } else { written_lines };
    lines(&material.chart, &material.form)
}

/// One line a chord, for programs.
///
/// # Errors
/// When the drill has no such stage.
pub fn lines(
    material: &Material,
    drill: Option<&Drill>,
    asked: &Asked,
) -> Result<Vec<String>, NoStage> {
    let line = |row: Row| {
        if let Some(unread) = &row.chord.unread {
            return unread_line(row.chord.index, unread).to_string();
        }
        let mut line = line(&material.chart, &row);
        if asked.why {
            line["why"] = json!(row.context.symbol().map(|_| &row.context.why));
        }
        line.to_string()
    };
    Ok(rows(material, drill, asked)?
        .into_iter()
        .map(line)
        .collect())
}

/// The line of a chord that could not be read.
fn unread_line(index: usize, unread: &Unread) -> Value {
    json!({
        "index": index,
        "symbol": unread.text,
        "error": unread.error.rule,
        "column": unread.error.column,
        "nearest": unread.error.nearest,
    })
}

/// One line a chord for a reader at a terminal: the chord, its function and scale, and why.
pub fn reasons(material: &Material, form: bool) -> Vec<String> {
    let written = written(material, form);
    let contexts = contexts(material, &written);
    let reason = |(chord, context): (&WrittenChord, &ChordInContext)| {
        let section = &material.chart.sections[chord.section].name;
        if let Some(unread) = &chord.unread {
            return format!("{}: {}", unread.text, unread.error);
        }
        let function = context.function.as_deref().unwrap_or("");
        let scale = context.scale.map(|scale| scale.to_string());
        let sure = context.certainty.as_ref().map(ToString::to_string);
        format!(
            "{section} {}.{}\t{}\t{function}\t{}\t{}\t{}",
            chord.bar,
            chord.beat,
            chord.symbol(),
            scale.unwrap_or_default(),
            context.why,
            sure.unwrap_or_default()
        )
    };
    written.iter().zip(&contexts).map(reason).collect()
}

/// One line a chord for a reader at a terminal: the chord and its target notes, or its scale. A note that may as well be
/// another has a question mark.
///
/// # Errors
/// When the drill has no such stage.
pub fn readable(
    material: &Material,
    drill: Option<&Drill>,
    asked: &Asked,
) -> Result<Vec<String>, NoStage> {
    let readable = |row: Row| {
        if let Some(unread) = &row.chord.unread {
            return format!("{}: {}", unread.text, unread.error.rule);
        }
        let section = &material.chart.sections[row.chord.section].name;
        let place = format!("{section} {}.{}", row.chord.bar, number(row.chord.beat));
        let pitches: Vec<Pitch> = match drill {
            Some(_) => row.set.notes.iter().map(|note| note.pitch).collect(),
            None => pitches(&row.context),
        };
        let marked = |pitch: Pitch| {
            let mark = match row.context.is_certain_of(pitch) {
                true => "",
                false => "?",
            };
            format!("{pitch}{mark}")
        };
        let notes: Vec<String> = pitches.into_iter().map(marked).collect();
        let rhythm: Vec<&str> = row.set.notes.iter().map(|note| &*note.place.text).collect();
        format!(
            "{place:10} {:10} {:12} {}",
            row.chord.symbol(),
            rhythm.join(" "),
            notes.join(" ")
        )
    };
    Ok(rows(material, drill, asked)?
        .into_iter()
        .map(readable)
        .collect())
}

/// The notes of a chord's scale; none for silence.
fn pitches(context: &ChordInContext) -> Vec<Pitch> {
    context.degrees.iter().map(|degree| degree.pitch).collect()
}

/// The stage that a user asks for.
///
/// # Errors
/// When the drill has no such stage.
pub fn stage_index(drill: &Drill, asked: Option<&str>) -> Result<usize, NoStage> {
    let Some(asked) = asked else { return Ok(0) };
    let names: Vec<&str> = drill
        .stages
        .iter()
        .map(|stage| stage.name.as_str())
        .collect();
    let by_number = asked
        .parse::<usize>()
        .ok()
        .filter(|number| (1..=names.len()).contains(number));
    let found = names
        .iter()
        .position(|name| *name == asked)
        .or(by_number.map(|number| number - 1));
    found.ok_or_else(|| NoStage {
        asked: asked.to_string(),
        hint: crate::fault::nearest_hint(asked, names.iter().copied()),
        stages: names.join(", "),
    })
}

fn contexts(material: &Material, written: &[WrittenChord]) -> Vec<ChordInContext> {
    let habits = material.habits();
    Analysis::of(&material.form, habits).of_lines(&material.chart, written, habits)
}

/// The chords as a stage takes them: each may last longer than it is written.
fn views<'a>(
    written: &[WrittenChord],
    contexts: &'a [ChordInContext],
    chords_last: u32,
) -> Vec<LapChordView<'a>> {
    let times = i64::from(chords_last);
    let view = |(chord, context): (&WrittenChord, &'a ChordInContext)| LapChordView {
        start: Tick(chord.at.0 * times),
        len: Tick(chord.len.0 * times),
        meter: chord.meter,
        context,
    };
    written.iter().zip(contexts).map(view).collect()
}

fn line(chart: &Chart, row: &Row) -> Value {
    let Row {
        chord,
        context,
        set,
        neck,
    } = row;
    let symbol: Option<&ChordSymbol> = match &chord.harmony {
        Harmony::Chord(symbol) => Some(symbol),
        Harmony::Silence => None,
    };
    let tones = symbol.map(|symbol| {
        let tone = |degree: &crate::harmony::Degree| degree.above(symbol.root);
        symbol.degrees.iter().map(tone).collect::<Vec<Pitch>>()
    });
    let context = symbol.map(|_| context);
    let notes = context.map(pitches).unwrap_or_default();
    let sure = context.and_then(|context| context.certainty.as_ref());
    let second = match notes[..] {
        [root, second, ..] => Some(root.up_to(second)),
        _ => None,
    };
    json!({
        "index": chord.index,
        "section": chart.sections[chord.section].name,
        "bar": chord.bar,
        "bar_in_form": chord.bar_in_form,
        "beat": number(chord.beat),
        "beats": number(chord.beats),
        "at_quarters": number(chord.at.quarters()),
        "quarters": number(chord.len.quarters()),
        "symbol": chord.symbol(),
        "root": symbol.map(|symbol| symbol.root.to_string()),
        "bass": symbol.map(|symbol| symbol.bass.to_string()),
        "tones": names(&tones.unwrap_or_default()),
        "declared_key": chord.declared.map(|declared| declared.to_string()),
        "key": context.and_then(|context| context.key).map(|key| key.to_string()),
        "function": context.and_then(|context| context.function.as_ref()),
        "scale": context.and_then(|context| context.scale).map(|scale| scale.to_string()),
        "notes": names(&notes),
        "second_semitones": second,
        "rule": context.and_then(|context| context.rule).map(Rule::name),
        "key_second_semitones": context.and_then(ChordInContext::second_by_key),
        "certain": sure.map(Certainty::is_certain),
        "margin": sure.map(|sure| points(sure.margin_tenths)),
        "margins": sure.map(margins).unwrap_or_default(),
        "taught_alike": sure.map(|sure| sure.taught_alike),
        "runner_up": sure.and_then(|sure| sure.runner_up).map(|(key, scale)| json!({
            "key": key.to_string(),
            "scale": scale.to_string(),
        })),
        "target": set.notes.iter().map(|note| note.pitch.to_string()).collect::<Vec<_>>(),
        "directions": set.notes.iter().map(|note| direction(note.direction)).collect::<Vec<_>>(),
        "rhythm": rhythm(set),
        "call": set.call.iter().map(|note| note.pitch.to_string()).collect::<Vec<_>>(),
        "neck": neck.iter().map(neck_place).collect::<Vec<_>>(),
        "shifts": shifts(neck),
    })
}

/// A margin in points: a cadence is one.
fn points(tenths: i32) -> Value {
    number(f64::from(tenths) / 10.0)
}

fn margins(sure: &Certainty) -> Vec<Value> {
    sure.degrees_tenths.iter().copied().map(points).collect()
}

/// Where the notes fall; in open choice where they are to fall.
fn rhythm(set: &TargetSet) -> Vec<&str> {
    let places = set.notes.iter().map(|note| &note.place);
    let places = places.chain(set.rhythm.iter().map(|(place, _)| place));
    places.map(|place| place.text.as_str()).collect()
}

fn names(pitches: &[Pitch]) -> Vec<String> {
    pitches.iter().map(Pitch::to_string).collect()
}

fn neck_place(place: &Option<NeckPlace>) -> Value {
    place.map_or(
        Value::Null,
        |at| json!({"string": at.string, "fret": at.fret, "midi": at.midi}),
    )
}

/// Whole numbers without a point, as a reader expects beats to be.
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1e15 {
        json!(value as i64)
    } else {
        json!(value)
    }
}

fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::Free => "free",
        Direction::Above => "above",
        Direction::Below => "below",
        Direction::Near => "near",
    }
}
