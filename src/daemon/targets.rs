//! The lines of `targets`: every chord written, with what the analysis and the drill say about it.

use crate::chart::{Analysis, Chart, Unread, WrittenChord, form_lines, written_lines};
use crate::drill::{Direction, Drill, LapChordView, LayOut, StringRule, TargetSet, lay_out};
use crate::fretboard::{Neck, NeckPlace, way_through};
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

/// One line a chord.
///
/// # Errors
/// When the drill has no such stage.
pub fn lines(
    material: &Material,
    drill: Option<&Drill>,
    asked: &Asked,
) -> Result<Vec<String>, NoStage> {
    let (chart, form) = (&material.chart, &material.form);
    let written = if asked.form {
        form_lines(chart, form)
    } else {
        written_lines(chart, form)
    };
    let contexts = contexts(material, &written);
    let stage = match drill {
        Some(drill) => Some(&drill.stages[stage_index(drill, asked.stage.as_deref())?]),
        None => None,
    };
    let sets = match stage {
        Some(stage) => {
            let views = views(&written, &contexts, stage.chords_last);
            lay_out(
                stage,
                &LayOut {
                    chords: &views,
                    pass: asked.pass.saturating_sub(1),
                    seed: asked.seed,
                    tempo: UsPerQuarter::from_qpm(form.tempo_qpm),
                },
            )
        }
        None => vec![TargetSet::default(); written.len()],
    };
    let string = stage.map_or(StringRule::Free, |stage| stage.string);
    let neck = way_through(
        &asked.neck,
        &sets,
        string,
        stage.and_then(|stage| stage.position),
    );
    let mut lines = Vec::with_capacity(written.len());
    for (index, (chord, context)) in written.iter().zip(&contexts).enumerate() {
        let mut line = match &chord.unread {
            Some(unread) => unread_line(chord.index, unread),
            None => line(chart, chord, context, &sets[index], &neck[index]),
        };
        if asked.why && chord.unread.is_none() {
            line["why"] = json!(context.symbol().map(|_| &context.why));
        }
        lines.push(line.to_string());
    }
    Ok(lines)
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
    let (chart, own) = (&material.chart, &material.form);
    let written = if form {
        form_lines(chart, own)
    } else {
        written_lines(chart, own)
    };
    let contexts = contexts(material, &written);
    let reason = |(chord, context): (&WrittenChord, &ChordInContext)| {
        let section = &chart.sections[chord.section].name;
        if let Some(unread) = &chord.unread {
            return format!("{}: {}", unread.text, unread.error);
        }
        let function = context.function.as_deref().unwrap_or("");
        let scale = context
            .scale
            .map(|scale| scale.to_string())
            .unwrap_or_default();
        let place = format!("{section} {}.{}", chord.bar, chord.beat);
        let sure = context.certainty.as_ref();
        let sure = sure.map(ToString::to_string).unwrap_or_default();
        format!(
            "{place}\t{}\t{function}\t{scale}\t{}\t{sure}",
            chord.symbol(),
            context.why
        )
    };
    written.iter().zip(&contexts).map(reason).collect()
}

/// One line a chord for a reader at a terminal: the chord and its target notes, or its scale.
///
/// # Errors
/// When the drill has no such stage.
pub fn readable(
    material: &Material,
    drill: Option<&Drill>,
    asked: &Asked,
) -> Result<Vec<String>, NoStage> {
    let rows = lines(material, drill, asked)?;
    let list = |value: &Value| {
        let words = value
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str);
        words.collect::<Vec<_>>().join(" ")
    };
    let readable = |row: String| {
        let row: Value = serde_json::from_str(&row).unwrap_or(Value::Null);
        if let Some(error) = row["error"].as_str() {
            return format!("{}: {error}", row["symbol"].as_str().unwrap_or(""));
        }
        let place = format!(
            "{} {}.{}",
            row["section"].as_str().unwrap_or(""),
            row["bar"],
            row["beat"]
        );
        let notes = list(if drill.is_some() {
            &row["target"]
        } else {
            &row["notes"]
        });
        format!(
            "{place:10} {:10} {:12} {notes}",
            row["symbol"].as_str().unwrap_or(""),
            list(&row["rhythm"])
        )
    };
    Ok(rows.into_iter().map(readable).collect())
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

fn line(
    chart: &Chart,
    chord: &WrittenChord,
    context: &ChordInContext,
    set: &TargetSet,
    neck: &[Option<NeckPlace>],
) -> Value {
    let symbol: Option<&ChordSymbol> = match &chord.harmony {
        Harmony::Chord(symbol) => Some(symbol),
        Harmony::Silence => None,
    };
    let tones = symbol.map(|symbol| {
        let tone = |degree: &crate::harmony::Degree| degree.above(symbol.root);
        symbol.degrees.iter().map(tone).collect::<Vec<Pitch>>()
    });
    let context = symbol.map(|_| context);
    let notes: Vec<Pitch> = context
        .map(|context| context.degrees.iter().map(|degree| degree.pitch).collect())
        .unwrap_or_default();
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
        "margin": sure.map(|sure| sure.margin),
        "margins": sure.map(|sure| sure.degrees.clone()).unwrap_or_default(),
        "taught_alike": sure.map(|sure| sure.taught_alike),
        "runner_up": sure.and_then(|sure| sure.runner_up).map(|(key, scale)| json!({
            "key": key.to_string(),
            "scale": scale.to_string(),
        })),
        "target": set.notes.iter().map(|note| note.pitch.to_string()).collect::<Vec<_>>(),
        "directions": set.notes.iter().map(|note| direction(note.direction)).collect::<Vec<_>>(),
        "rhythm": set.notes.iter().map(|note| note.place.text.as_str()).collect::<Vec<_>>(),
        "neck": neck.iter().map(neck_place).collect::<Vec<_>>(),
    })
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
