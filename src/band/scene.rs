//! The score made ready: chords with their tones, targets and limits, the last bar's tonic put in.

use super::ending::Ending;
use super::score::Score;
use super::swing;
use crate::harmony::{ChordInContext, ChordSymbol, Degree, Harmony, Key, Mode};
use crate::time::{Meter, Tick};
use std::borrow::Cow;

/// A chord of the lap as the band sees it.
#[derive(Debug, Clone)]
pub(super) struct SceneChord<'a> {
    /// Where it starts in the lap.
    pub start: Tick,
    /// Where it ends in the lap.
    pub end: Tick,
    /// The chord; `None`: silence.
    pub symbol: Option<Cow<'a, ChordSymbol>>,
    /// Its scale in semitones over the root, 0 to 11; empty when unknown.
    pub scale: Vec<u8>,
    /// Pitch classes of its targets.
    pub targets: Vec<u8>,
}

/// A bar of the lap.
#[derive(Debug, Clone, Copy)]
pub(super) struct SceneBar {
    pub start: Tick,
    pub end: Tick,
    pub meter: Meter,
}

/// Everything the parts read.
pub(super) struct Scene<'a> {
    pub score: &'a Score<'a>,
    pub bars: Vec<SceneBar>,
    pub chords: Vec<SceneChord<'a>>,
    /// The chord after the lap, at the lap's end.
    pub next: Option<SceneChord<'a>>,
    /// Whether the chord after the lap is its own first.
    pub loops: bool,
    /// Whether the targets are roots alone.
    pub root_stage: bool,
    /// How the last bar is played, where the take ends with it.
    pub ending: Option<Ending>,
}

impl<'a> Scene<'a> {
    /// What a score comes to, bar by bar.
    pub fn of(score: &'a Score<'a>) -> Scene<'a> {
        let lap = score.lap;
        let bars: Vec<SceneBar> = lap
            .bars
            .iter()
            .map(|bar| SceneBar {
                start: bar.start,
                end: (bar.start + bar.meter.bar_ticks()).min(lap.len),
                meter: bar.meter,
            })
            .collect();
        let mut chords: Vec<SceneChord> = lap
            .chords
            .iter()
            .enumerate()
            .filter_map(|(index, chord)| {
                let context = score.contexts.get(chord.form_chord)?;
                let end = (chord.start + chord.len).min(lap.len);
                let mut scene = SceneChord::of(context, chord.start, end);
                if let Some(set) = score.targets.get(index) {
                    let notes = set.notes.iter().map(|note| &note.pitch);
                    let pitches = notes.chain(&set.left_out);
                    scene.targets = pitches.map(|pitch| pitch.class()).collect();
                }
                Some(scene)
            })
            .collect();
        if score.last_time {
            end_on_the_tonic(score, &bars, &mut chords);
        }
        let first = lap.chords.first().map(|chord| chord.form_chord);
        let loops = matches!((score.next, first.and_then(|i| score.contexts.get(i))),
            (Some(next), Some(first)) if next == first);
        let next = score
            .next
            .filter(|_| !score.last_time)
            .map(|context| SceneChord::of(context, lap.len, lap.len + context.len));
        let mut degrees = score.targets.iter().flat_map(|set| &set.notes).peekable();
        let root_stage =
            degrees.peek().is_some() && degrees.all(|note| note.degree.simple().number == 1);
        Scene {
            score,
            bars,
            chords,
            next,
            loops,
            root_stage,
            ending: Ending::of(score),
        }
    }

    /// A straight tick of the lap where the band plays it; `None` outside the lap.
    pub fn swung(&self, at: Tick) -> Option<Tick> {
        let after = self.bars.partition_point(|bar| bar.start <= at);
        let bar = self.bars.get(after.checked_sub(1)?)?;
        if at >= bar.end {
            return None;
        }
        let (feel, tempo) = (self.score.feel, self.score.tempo);
        Some(bar.start + swing::swung(at - bar.start, feel, bar.meter, tempo))
    }

    /// The chords that start from `from` on and before `end`.
    pub fn chords_from(&self, from: Tick, end: Tick) -> &[SceneChord<'a>] {
        let first = self.chords.partition_point(|chord| chord.start < from);
        let count = self.chords[first..].partition_point(|chord| chord.start < end);
        &self.chords[first..first + count]
    }

    /// The chord that holds at `at`, by its index.
    pub fn chord_at(&self, at: Tick) -> Option<usize> {
        let after = self.chords.partition_point(|chord| chord.start <= at);
        let index = after.checked_sub(1)?;
        (at < self.chords[index].end).then_some(index)
    }

    /// What follows `bar`: the chord on the next bar's first beat, or the one after the lap.
    pub fn chord_after(&self, bar: &SceneBar) -> Option<ChordRef> {
        if bar.end < self.score.lap.len {
            self.chord_at(bar.end).map(ChordRef::InLap)
        } else {
            self.next.as_ref().map(|_| ChordRef::Next)
        }
    }

    /// The chord that `chord` stands for.
    pub fn chord(&self, chord: ChordRef) -> &SceneChord<'a> {
        match chord {
            ChordRef::InLap(index) => &self.chords[index],
            ChordRef::Next => self.next.as_ref().unwrap_or(&self.chords[0]),
        }
    }
}

/// A chord of the lap, or the one after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ChordRef {
    InLap(usize),
    Next,
}

impl<'a> SceneChord<'a> {
    fn of(context: &'a ChordInContext, start: Tick, end: Tick) -> SceneChord<'a> {
        SceneChord {
            start,
            end,
            symbol: match &context.harmony {
                Harmony::Chord(symbol) => Some(Cow::Borrowed(symbol)),
                Harmony::Silence => None,
            },
            scale: context
                .degrees
                .iter()
                .map(|role| role.degree.semitones().rem_euclid(12) as u8)
                .collect(),
            targets: Vec::new(),
        }
    }

    /// How long it lasts.
    pub fn len(&self) -> Tick {
        self.end - self.start
    }

    /// Whether the band plays over it: silence of the harmony is no chord.
    pub fn sounds(&self) -> bool {
        self.symbol.is_some()
    }
}

/// Gives the last bar to the tonic of its key. Without a key it keeps its first chord, held.
fn end_on_the_tonic<'a>(score: &'a Score<'a>, bars: &[SceneBar], chords: &mut Vec<SceneChord<'a>>) {
    let Some(last) = bars.last() else { return };
    let key = chords
        .iter()
        .zip(&score.lap.chords)
        .rev()
        .find_map(|(_, chord)| score.contexts.get(chord.form_chord)?.key);
    let at_one = chords
        .iter()
        .rposition(|chord| chord.start <= last.start && chord.end > last.start);
    let mut end = match (key, at_one) {
        (Some(key), _) => tonic(key, chords),
        (None, Some(index)) => chords[index].clone(),
        (None, None) => return,
    };
    chords.retain(|chord| chord.start < last.start);
    if let Some(before) = chords.last_mut() {
        before.end = before.end.min(last.start);
    }
    (end.start, end.end) = (last.start, last.end);
    end.targets.clear();
    chords.push(end);
}

/// The tonic as the tune itself writes it, else a sixth chord.
fn tonic<'a>(key: Key, chords: &[SceneChord<'a>]) -> SceneChord<'a> {
    let third = match key.mode {
        Mode::Major => Degree::new(3, 0),
        Mode::Minor => Degree::new(3, -1),
    };
    let tonics = || {
        chords.iter().filter(|chord| {
            chord.symbol.as_ref().is_some_and(|symbol| {
                symbol.root.class() == key.tonic.class()
                    && symbol.bass == symbol.root
                    && symbol.degrees.contains(&third)
            })
        })
    };
    // A tonic with a minor seventh is on its way somewhere, unless the tune has no other (a blues).
    let rests = |chord: &&SceneChord| {
        let flat_seventh = Degree::new(7, -1);
        chord
            .symbol
            .as_ref()
            .is_some_and(|s| !s.degrees.contains(&flat_seventh))
    };
    if let Some(chord) = tonics().find(rests).or_else(|| tonics().next()) {
        return chord.clone();
    }
    let minor = if key.mode == Mode::Minor { "m" } else { "" };
    let symbol = ChordSymbol {
        text: format!("{}{minor}6", key.tonic),
        root: key.tonic,
        bass: key.tonic,
        degrees: vec![
            Degree::new(1, 0),
            third,
            Degree::new(5, 0),
            Degree::new(6, 0),
        ],
    };
    SceneChord {
        start: Tick(0),
        end: Tick(0),
        symbol: Some(Cow::Owned(symbol)),
        scale: Vec::new(),
        targets: Vec::new(),
    }
}
