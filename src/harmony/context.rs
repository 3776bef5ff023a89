//! The chord in context: from the whole chart to each chord's function, key and scale.

use super::function;
use super::habits::Habits;
use super::role::{DegreeRole, Role};
use super::sound::{ChordSound, Neighbours};
use super::{ChordSymbol, Degree, Harmony, Key, KeyDeclaration, Pitch, Quality, ScaleName};
use super::{fitting, local_key};
use crate::time::Tick;

/// A chord at its place in the form, as the analysis takes it.
#[derive(Debug, Clone, PartialEq)]
pub struct TimedChord {
    /// Where it starts in the form.
    pub start: Tick,
    /// How long it lasts.
    pub len: Tick,
    /// The chord, or silence.
    pub harmony: Harmony,
    /// The key that the chart declares here; `None` where it declares none.
    pub declared: Option<KeyDeclaration>,
    /// A teacher's word that wins over the analysis.
    pub hint: Option<ScaleName>,
}

/// A chord with what the whole chart says about it.
#[derive(Debug, Clone, PartialEq)]
pub struct ChordInContext {
    /// Where it starts in the form.
    pub start: Tick,
    /// How long it lasts.
    pub len: Tick,
    /// The chord, or silence. For silence `key`, `function`, `scale` are `None` and `degrees` empty.
    pub harmony: Harmony,
    pub key: Option<Key>,
    /// Its function in the local key, as a Roman numeral: `ii`, `V7/ii`, `bVII`.
    pub function: Option<String>,
    /// The scale by name.
    pub scale: Option<ScaleName>,
    /// The scale from the root up, six to eight notes.
    pub degrees: Vec<DegreeRole>,
    /// In one line, why it got its scale.
    pub why: String,
}

impl ChordInContext {
    /// The chord; `None` for silence.
    pub fn symbol(&self) -> Option<&ChordSymbol> {
        match &self.harmony {
            Harmony::Chord(symbol) => Some(symbol),
            Harmony::Silence => None,
        }
    }

    /// The chord's root; `None` for silence.
    pub fn root(&self) -> Option<Pitch> {
        self.symbol().map(|symbol| symbol.root)
    }

    /// The scale's degree by function, 1 to 7: the 3 is the chord's third, the 2 its second as taught. Over
    /// a suspended chord without a third in its scale, 3 is the fourth. Where the scale has no degree of
    /// that number the nearest one stands for it (the raised fifth for the sixth of the whole-tone scale).
    pub fn scale_degree(&self, number: u8) -> Option<DegreeRole> {
        let of = |number: u8| {
            let mut found = self
                .degrees
                .iter()
                .filter(|degree| degree.degree.number == number);
            let first = found.clone().next();
            found
                .find(|degree| degree.role == Role::ChordTone)
                .or(first)
                .copied()
        };
        let nearest = |number: u8| {
            let far = |degree: &&DegreeRole| degree.degree.number.abs_diff(number);
            self.degrees.iter().rev().min_by_key(far).copied()
        };
        // The altered scale has no perfect fifth: its flat five does the fourth's part (a sharp eleven), its
        // flat thirteenth the fifth's.
        let high = || {
            self.degrees.iter().copied().find(|degree| {
                self.scale == Some(ScaleName::Altered)
                    && [Degree::new(5, 1), Degree::new(6, -1)].contains(&degree.degree)
            })
        };
        let suspended = self
            .symbol()
            .is_some_and(|symbol| symbol.quality() == Quality::Suspended);
        match number {
            // The flat second of an altered chord comes before its raised one, whichever the symbol names.
            2 => self
                .degrees
                .iter()
                .find(|degree| degree.degree.number == 2)
                .copied(),
            3 if suspended => of(3).or_else(|| of(4)),
            5 => high().or_else(|| of(5)).or_else(|| nearest(5)),
            6 => high()
                .or_else(|| of(6))
                .or_else(|| of(5))
                .or_else(|| nearest(6)),
            4 => of(4).or_else(|| of(5)).or_else(|| nearest(4)),
            1 | 3 | 7 => of(number).or_else(|| nearest(number)),
            _ => None,
        }
    }
}

/// Works out every chord of a form in the context of all of them. The form is taken as a loop: the last
/// chord leads to the first. One result a chord, in the same order.
pub fn in_context(chords: &[TimedChord], habits: &Habits) -> Vec<ChordInContext> {
    let places: Vec<(usize, &ChordSymbol)> = chords
        .iter()
        .enumerate()
        .filter_map(|(at, chord)| match &chord.harmony {
            Harmony::Chord(symbol) => Some((at, symbol)),
            Harmony::Silence => None,
        })
        .collect();
    let sounds: Vec<ChordSound> = places.iter().map(|(_, s)| ChordSound::of(s)).collect();
    let around = local_key::neighbours(&sounds);
    let mut out: Vec<ChordInContext> = chords.iter().map(silent).collect();
    let mut from = 0;
    while from < places.len() {
        let declared = chords[places[from].0].declared;
        let length = places[from..]
            .iter()
            .take_while(|(at, _)| chords[*at].declared == declared)
            .count();
        let stretch = from..from + length;
        let home = local_key::home(declared, &around[stretch.clone()], habits);
        let keys = local_key::path(home, &around[stretch.clone()], habits);
        let blues = local_key::is_blues(home, &sounds[stretch.clone()]);
        for (key, place) in keys.into_iter().zip(stretch) {
            let (at, symbol) = places[place];
            let around = Neighbours {
                blues: blues && key == home,
                home: key == home,
                ..around[place]
            };
            fill(&mut out[at], symbol, key, chords[at].hint, &around, habits);
        }
        from += length;
    }
    out
}

/// The home key that is taken for the first stretch of a form of which no key is declared; `None`: all of it is
/// declared, or it is silent.
pub fn undeclared_home(chords: &[TimedChord], habits: &Habits) -> Option<Key> {
    let sounding = |chord: &&TimedChord| matches!(chord.harmony, Harmony::Chord(_));
    let sounding: Vec<&TimedChord> = chords.iter().filter(sounding).collect();
    let sounds: Vec<ChordSound> = sounding
        .iter()
        .filter_map(|chord| match &chord.harmony {
            Harmony::Chord(symbol) => Some(ChordSound::of(symbol)),
            Harmony::Silence => None,
        })
        .collect();
    let around = local_key::neighbours(&sounds);
    let from = sounding.iter().position(|chord| chord.declared.is_none())?;
    let length = sounding[from..]
        .iter()
        .take_while(|chord| chord.declared.is_none())
        .count();
    Some(local_key::home(None, &around[from..from + length], habits))
}

/// A chord before anything is known of it; silence stays so.
fn silent(chord: &TimedChord) -> ChordInContext {
    ChordInContext {
        start: chord.start,
        len: chord.len,
        harmony: chord.harmony.clone(),
        key: None,
        function: None,
        scale: None,
        degrees: Vec::new(),
        why: String::new(),
    }
}

/// Puts in what the key, the neighbours and the teacher's hint say.
fn fill(
    out: &mut ChordInContext,
    symbol: &ChordSymbol,
    key: Key,
    hint: Option<ScaleName>,
    around: &Neighbours,
    habits: &Habits,
) {
    let reading = function::read(key, around, habits);
    let scale = hint.unwrap_or_else(|| fitting::fit(symbol, reading.scale));
    let because = match hint {
        Some(_) => "the chart's hint".to_string(),
        None if scale == reading.scale => reading.why.to_string(),
        None => format!("{}; the symbol's own tones override", reading.why),
    };
    out.why = format!("{} in {key}: {scale}: {because}", reading.numeral);
    out.degrees = fitting::degrees(symbol, scale);
    out.key = Some(key);
    out.function = Some(reading.numeral.to_string());
    out.scale = Some(scale);
}
