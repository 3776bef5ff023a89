//! Reading drill files.

use super::KeyWalk;
use super::band_style::BandStyle;
use super::figure::{DegreeWord, Each, FigureNote, Order, Places, StringRule};
use super::help::{Help, PageHelp, Voice, read_fade};
use super::model::{Drill, Stage};
use super::motif::{read_find, read_motif, read_rhythm};
use super::over::{GoesRound, TempoSteps, read_chords};
use super::read_rotation::{OCTAVES, read_places, read_rotation, read_string};
use super::rounds::{Advance, Cycle};
use super::words::{WordError, note_value, words};
use crate::fault::{Faults, Reader, Source, TableView, Text, nearest_hint};
use crate::time::Tick;

/// The most notes a figure may have.
const FIGURE_NOTES: usize = 16;
/// The most notes of which every order is asked (720 orders).
const ORDERED_NOTES: usize = 6;

impl Drill {
    /// Reads a drill from TOML.
    ///
    /// # Errors
    /// All faults of the text, each with its line and column.
    pub fn read(source: &Source<'_>) -> Result<Drill, Faults> {
        Reader::new(source).read(read_drill)
    }
}

/// Reads a drill's outermost table.
pub(crate) fn read_drill(view: &TableView<'_, '_>) -> Option<Drill> {
    let title = view.need_string("title", "\"Three notes\"");
    without_days(view);
    let tables = view.tables("stage");
    if tables.is_empty() {
        view.reader.fault(0, "a drill needs at least one [[stage]]");
    }
    let mut names: Vec<String> = Vec::new();
    let stages = tables.iter();
    let stages = stages
        .filter_map(|table| read_stage(table, &mut names))
        .collect();
    check_neighbours(&tables, &names);
    Some(Drill {
        title: title?.value.to_string(),
        stages,
    })
}

/// A plan of days is a file of another kind.
fn without_days(view: &TableView<'_, '_>) {
    if view.get("from").is_some() {
        let rule =
            "from belongs to a plan of days ([[day]]), which takes its stages from another drill";
        view.fault("from", rule);
    }
    if view.get("day").is_some() {
        let rule = "days stand in a file of their own, beside the drill that they are taken from";
        view.fault("day", rule);
    }
}

/// The degrees, the figure and its places, in whichever way they are written.
fn read_notes(view: &TableView<'_, '_>) -> (Vec<DegreeWord>, Vec<FigureNote>, Places) {
    let (degrees, figure) = read_figure(view);
    let motif = read_motif(view, &degrees);
    let places = read_places(view, figure.is_empty());
    let rhythm = read_rhythm(view, figure.is_empty());
    match (motif, rhythm) {
        (Some(motif), _) => (degrees, motif.figure, Places::All(motif.places)),
        (None, Some(rhythm)) => (degrees, figure, Places::All(rhythm)),
        (None, None) => (degrees, figure, places),
    }
}

/// What a stage says of itself.
fn described(view: &TableView<'_, '_>, names: &mut Vec<String>) -> (Option<String>, Stage) {
    let name = read_name(view, names);
    let text = |key| view.string(key).map(|text| text.value.to_string());
    let goal = view.string("goal");
    let stage = Stage {
        name: name.clone().unwrap_or_default(),
        call: view.string("call").and_then(|call| read_call(view, &call)),
        goal: goal.and_then(|goal| read_line(view, &goal, "goal")),
        easier: text("easier"),
        harder: text("harder"),
        ..Stage::blank()
    };
    (name, stage)
}

fn read_stage(view: &TableView<'_, '_>, names: &mut Vec<String>) -> Option<Stage> {
    let (name, described) = described(view, names);
    let (degrees, figure, places) = read_notes(view);
    let find = read_find(view, &figure);
    let order = read_order(view, figure.len());
    let pulse = view.boolean("pulse").unwrap_or(find.is_none());
    let rotation = read_rotation(view, &figure, pulse);
    let string = read_string(view, &figure);
    let answer_phrase = view.boolean("answer_phrase").unwrap_or(false);
    let help = read_help(view, answer_phrase);
    let stage = Stage {
        band: view
            .one_of("band", &BandStyle::WORDS)
            .unwrap_or_else(|| BandStyle::by_default(degrees.len(), figure.is_empty(), &help)),
        degrees,
        figure,
        order,
        places,
        step: read_value(view, "step").unwrap_or(Tick(480)),
        length: read_value(view, "length"),
        rest_bars: view.integer("rest_bars", 0..=64, "bars").unwrap_or(0),
        play_bars: view.integer("play_bars", 1..=64, "bars").unwrap_or(1),
        each: view
            .one_of("each", &[("chord", Each::Chord), ("bar", Each::Bar)])
            .unwrap_or_default(),
        string,
        keys: KeyWalk::read(view),
        position: view.integer("position", 1..=12, "frets"),
        octave: view.one_of("octave", &OCTAVES),
        rotation,
        passes: view
            .integer("passes", 1..=999, "passes")
            .unwrap_or(find.unwrap_or(4)),
        advance: read_advance(view, find, pulse),
        find,
        answer_phrase,
        help,
        fade: read_fade(view, help),
        cycle: view
            .table("cycle")
            .map_or_else(Cycle::default, |cycle| Cycle::read(&cycle)),
        pulse,
        silence: view.boolean("silence").unwrap_or(false),
        band_out: view.integer("band_out", 0..=64, "bars").unwrap_or(0),
        tempo_by_ear: view.boolean("tempo_by_ear").unwrap_or(false),
        in_time: view.boolean("in_time").unwrap_or(true),
        certain: view.boolean("certain").unwrap_or(false),
        chords: read_chords(view),
        over: GoesRound::read(view),
        tempo: TempoSteps::read(view, pulse),
        chords_last: view.integer("chords_last", 1..=8, "times").unwrap_or(1),
        ..described
    };
    without_rest(view, &stage);
    check_phrase(view, &stage);
    view.finish();
    name.is_some().then_some(stage)
}

/// When it gives way; what is looked for until it was right, unless the stage says so.
fn read_advance(view: &TableView<'_, '_>, find: Option<u32>, pulse: bool) -> Advance {
    match find {
        Some(_) if view.get("advance").is_none() => Advance::Right,
        _ => Advance::read(view, pulse),
    }
}

/// The help of the first pass. What is to be repeated by ear is neither shown nor named, unless the stage says so.
fn read_help(view: &TableView<'_, '_>, answer_phrase: bool) -> Help {
    let unsaid = match answer_phrase {
        true => Help {
            page: PageHelp::Symbol,
            voice: Voice::Off,
            ..Help::default()
        },
        false => Help::default(),
    };
    view.table("help").map_or(unsaid, |table| {
        let help = unsaid.over(&table);
        table.finish();
        help
    })
}

/// What a phrase of the box's own making leaves no room for.
fn check_phrase(view: &TableView<'_, '_>, stage: &Stage) {
    if !stage.answer_phrase {
        return;
    }
    for key in [
        "figure", "order", "places", "step", "motif", "rhythm", "find",
    ] {
        if view.get(key).is_some() {
            let rule = format!(
                "answer_phrase and {key} exclude each other: the box makes the phrase of the stage's degrees"
            );
            view.fault(key, rule);
        }
    }
    if !stage.pulse && stage.find.is_none() {
        let rule = "a phrase is answered in time (pulse = false holds a chord out of time)";
        view.fault("answer_phrase", rule);
    }
    if stage.string == StringRule::EveryPlace {
        let rule = "string = \"every place\" has no meaning with answer_phrase: a phrase is heard, not placed";
        view.fault("string", rule);
    }
    let turning = stage.rotation.as_ref();
    let turns = turning.is_some_and(|turning| {
        turning.orders || !turning.places.is_empty() || !turning.sides.is_empty()
    });
    if turns || view.get("rotate").is_some() && turning.is_none() {
        let rule = "rotate may turn strings, positions, octaves and keys of a phrase, not places, orders or sides";
        view.fault("rotate", rule);
    }
}

/// Bars to play before a rest that does not come.
fn without_rest(view: &TableView<'_, '_>, stage: &Stage) {
    if view.get("play_bars").is_some() && stage.rest_bars == 0 {
        let rule = "play_bars says how long to play before a rest, but there is no rest (give rest_bars too)";
        view.fault("play_bars", rule);
    }
}

/// Faults for neighbours that are no stage of the drill, or the stage itself.
fn check_neighbours(tables: &[TableView<'_, '_>], names: &[String]) {
    for table in tables {
        let own = table.get("name").and_then(|name| name.get_ref().as_str());
        for key in ["easier", "harder"] {
            let Some(value) = table.get(key) else {
                continue;
            };
            let Some(named) = value.get_ref().as_str() else {
                continue;
            };
            let known = names.iter().map(String::as_str);
            let rule = match known.clone().any(|name| name == named) {
                true if own == Some(named) => format!("{key} names the stage itself"),
                true => continue,
                false => format!(
                    "{key} is \"{named}\", which is no stage of the drill{}",
                    nearest_hint(named, known)
                ),
            };
            table.reader.fault(value.span().start, rule);
        }
    }
}

/// A text that is not empty.
fn read_line(view: &TableView<'_, '_>, text: &Text<'_>, key: &str) -> Option<String> {
    let line = text.value.trim();
    if line.is_empty() {
        let rule = format!("{key} says nothing: leave it out");
        view.reader.fault(text.span.start, rule);
        return None;
    }
    Some(line.to_string())
}

/// What the voice calls the stage.
fn read_call(view: &TableView<'_, '_>, call: &Text<'_>) -> Option<String> {
    let text = call.value.trim();
    if text.is_empty() {
        let rule = "call is what the voice says where the name takes too long: not empty";
        view.reader.fault(call.span.start, rule);
        return None;
    }
    Some(text.to_string())
}

fn read_name(view: &TableView<'_, '_>, names: &mut Vec<String>) -> Option<String> {
    let name = view.need_string("name", "\"roots on one\"")?;
    if names.iter().any(|other| other == name.value) {
        view.reader.fault(
            name.span.start,
            format!(
                "two stages are named \"{}\" (a stage is asked for by its name)",
                name.value
            ),
        );
    }
    names.push(name.value.to_string());
    Some(name.value.to_string())
}

fn read_value(view: &TableView<'_, '_>, key: &'static str) -> Option<Tick> {
    let text = view.string(key)?;
    note_value(text.value)
        .map_err(|error| {
            view.reader
                .fault(text.span.start, format!("{key}: {error}"))
        })
        .ok()
}

/// The degrees and the figure; the figure is the degrees in their order where it is not given, and empty
/// (open choice) where it is given as an empty list.
fn read_figure(view: &TableView<'_, '_>) -> (Vec<DegreeWord>, Vec<FigureNote>) {
    if view.get("degrees").is_none() {
        view.missing("degrees", "[\"1\", \"3\"]");
    }
    let texts = view.strings("degrees");
    let degrees: Vec<DegreeWord> = words(view, texts.as_deref().unwrap_or_default());
    let complete = texts
        .as_ref()
        .is_some_and(|texts| texts.len() == degrees.len());
    if texts.is_some_and(|texts| texts.is_empty()) {
        let rule = "degrees is empty, but a stage is about at least one degree";
        view.fault("degrees", rule);
    }
    let Some(texts) = view.strings("figure") else {
        let figure = degrees
            .iter()
            .map(|degree| FigureNote::new(*degree, super::Direction::Free))
            .collect();
        return (degrees, figure);
    };
    let mut figure: Vec<FigureNote> = Vec::new();
    for text in &texts {
        match text.value.parse() {
            Ok(note) => {
                if complete {
                    tell_strangers(view, &note, text, &degrees);
                }
                figure.push(note);
            }
            Err(error) => view
                .reader
                .fault(text.span.start, WordError::to_string(&error)),
        }
    }
    if figure.len() > FIGURE_NOTES {
        view.fault(
            "figure",
            format!(
                "a figure of {} notes is too long (at most {FIGURE_NOTES})",
                figure.len()
            ),
        );
    }
    (degrees, figure)
}

/// Faults for the degrees of a figure note that are not in the stage's set.
fn tell_strangers(
    view: &TableView<'_, '_>,
    note: &FigureNote,
    text: &Text<'_>,
    degrees: &[DegreeWord],
) {
    for word in note.choices().filter(|word| !degrees.contains(word)) {
        let known: Vec<String> = degrees.iter().map(ToString::to_string).collect();
        view.reader.fault(
            text.span.start,
            format!(
                "the figure asks for {word}, which is not among the degrees of the stage: {}",
                known.join(", ")
            ),
        );
    }
}

fn read_order(view: &TableView<'_, '_>, notes: usize) -> Order {
    let words = [
        ("as written", Order::AsWritten),
        ("every order, a chord", Order::EveryOrderAChord),
        ("every order, a pass", Order::EveryOrderAPass),
        ("on from the nearest", Order::OnFromTheNearest),
    ];
    let order = view.one_of("order", &words).unwrap_or_default();
    let every = matches!(order, Order::EveryOrderAChord | Order::EveryOrderAPass);
    if every && notes > ORDERED_NOTES {
        view.fault("order", format!("every order of {notes} notes is too many (at most {ORDERED_NOTES} notes: 720 orders)"),
        );
    }
    order
}
