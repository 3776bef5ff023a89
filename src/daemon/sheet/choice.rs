//! Open choice on paper: all that may be chosen, or one way to play it.

use crate::daemon::targets::{Asked, Row};
use crate::drill::{
    Direction, FigureNote, LapChordView, LayOut, Order, Place, Places, Stage, TargetSet, lay_out,
};
use crate::fretboard::way_through;
use crate::time::{Tick, UsPerQuarter};

/// Notes are looked for with so much more time than a chord has, where all that may be chosen is shown.
const ROOM: i64 = 16;

/// Fills in what may be chosen in open choice: each degree of the stage once, upwards where it can be.
pub fn choices(rows: &mut [Row], stage: &Stage, asked: &Asked, tempo: UsPerQuarter) {
    let direction = |index: usize| {
        if index == 0 {
            Direction::Free
        } else {
            Direction::Above
        }
    };
    let figure = stage.degrees.iter().enumerate();
    let figure = figure.map(|(index, degree)| FigureNote::new(*degree, direction(index)));
    let all = Stage {
        figure: figure.collect(),
        rest_bars: 0,
        ..stage.clone()
    };
    let sets = laid_out(rows, &all, asked, (tempo, ROOM));
    let places = way_through(&asked.neck, &sets, stage.string, stage.position);
    for ((row, set), neck) in rows.iter_mut().zip(sets).zip(places) {
        let rhythm = std::mem::take(&mut row.set.rhythm);
        row.set = TargetSet { rhythm, ..set };
        row.neck = neck;
    }
}

/// One way to play an open choice: a phrase of the stage's degrees over each chord, as the box would play it for an answer; over
/// chords that are too short for one, and where the stage gives a rhythm, its degrees in turn.
pub fn one_way(rows: &mut [Row], stage: &Stage, asked: &Asked, tempo: UsPerQuarter) {
    let near = |index: usize| {
        if index == 0 {
            Direction::Free
        } else {
            Direction::Near
        }
    };
    let notes = |count: usize| {
        let degrees = stage.degrees.iter().cycle().take(count).enumerate();
        degrees
            .map(|(index, degree)| FigureNote::new(*degree, near(index)))
            .collect()
    };
    let turn = stage.turn_of(asked.pass.saturating_sub(1));
    let named = stage.places_at(turn, asked.seed).to_vec();
    let first = Place {
        text: "1".to_string(),
        beat: 1,
        twelfths: 0,
    };
    let phrases = Stage {
        figure: notes(1),
        answer_phrase: true,
        ..stage.clone()
    };
    let in_turn = Stage {
        figure: notes(named.len().max(1)),
        order: Order::OnFromTheNearest,
        places: Places::All(if named.is_empty() {
            vec![first]
        } else {
            named.clone()
        }),
        rotation: None,
        ..stage.clone()
    };
    let times = i64::from(stage.chords_last);
    let phrases = laid_out(rows, &phrases, asked, (tempo, times));
    let in_turn = laid_out(rows, &in_turn, asked, (tempo, times));
    let chosen = phrases.into_iter().zip(in_turn).map(|(phrase, in_turn)| {
        let is_phrase = named.is_empty() && !phrase.call.is_empty();
        let notes = if is_phrase {
            phrase.call
        } else {
            in_turn.notes
        };
        TargetSet {
            notes,
            ..TargetSet::default()
        }
    });
    let chosen: Vec<TargetSet> = chosen.collect();
    let places = way_through(&asked.neck, &chosen, stage.string, stage.position);
    for ((row, set), neck) in rows.iter_mut().zip(chosen).zip(places) {
        (row.set, row.neck) = (set, neck);
    }
}

/// A stage over the rows' chords, each so many times as long.
fn laid_out(
    rows: &[Row],
    stage: &Stage,
    asked: &Asked,
    (tempo, times): (UsPerQuarter, i64),
) -> Vec<TargetSet> {
    let views = rows.iter().map(|row| LapChordView {
        start: Tick(row.chord.at.0 * times),
        len: Tick(row.chord.len.0 * times),
        meter: row.chord.meter,
        context: &row.context,
    });
    let over = LayOut {
        chords: &views.collect::<Vec<_>>(),
        pass: stage.turn_of(asked.pass.saturating_sub(1)),
        seed: asked.seed,
        tempo,
        range: asked.neck.range(),
    };
    lay_out(stage, &over)
}
