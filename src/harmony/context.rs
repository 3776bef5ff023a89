//! The chord in context: from the whole chart to each chord's function, key and scale.

use super::certainty::{Certainty, certainty};
use super::function::{by_key, function, read};
use super::habits::Habits;
use super::home::{home, is_blues};
use super::local_key::{KeyPath, path};
use super::neighbours::neighbours;
use super::role::{DegreeRole, Role};
use super::rule::Rule;
use super::sound::{ChordSound, Neighbours};
use super::weights::Weights;
use super::{
    ChordSymbol, Degree, Harmony, Key, KeyDeclaration, Pitch, Quality, ScaleName, fitting,
};
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
    /// What decided its scale.
    pub rule: Option<Rule>,
    /// The scale that the key alone gives it.
    pub by_key: Option<ScaleName>,
    /// How sure its notes are; `None` for silence.
    pub certainty: Option<Certainty>,
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

    /// Semitones from the root to the second that the key alone gives; `None` for silence.
    pub fn second_by_key(&self) -> Option<i32> {
        let symbol = self.symbol()?;
        let degrees = fitting::degrees(symbol, self.by_key?);
        degrees
            .get(1)
            .map(|second| second.degree.semitones().rem_euclid(12))
    }

    /// Whether a note of the scale can be taken for granted: a tone of the chord, or one that no other reading near
    /// enough lacks; a second only where all teachers name the same, too.
    pub fn is_certain_of(&self, pitch: Pitch) -> bool {
        let at = |degree: &DegreeRole| degree.pitch.class() == pitch.class();
        let (Some(sure), Some(at)) = (&self.certainty, self.degrees.iter().position(at)) else {
            return true;
        };
        match self.degrees[at] {
            DegreeRole {
                role: Role::ChordTone,
                ..
            } => true,
            _ if at == 1 => sure.is_certain(),
            _ => sure.is_certain_at(at),
        }
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
    let around = neighbours(&sounds);
    let mut out: Vec<ChordInContext> = chords.iter().map(silent).collect();
    let weights = &habits.trial.weights;
    let mut from = 0;
    while from < places.len() {
        let declared = chords[places[from].0].declared;
        let length = places[from..]
            .iter()
            .take_while(|(at, _)| chords[*at].declared == declared)
            .count();
        let stretch = from..from + length;
        let home = home(declared, &around[stretch.clone()], weights);
        let found = Stretch {
            path: path(home, &around[stretch.clone()], weights),
            around: &around[stretch.clone()],
            blues: is_blues(home, &sounds[stretch.clone()]),
            habits,
        };
        for (place, (at, symbol)) in places[stretch].iter().enumerate() {
            found.fill(&mut out[*at], place, symbol, chords[*at].hint);
        }
        from += length;
    }
    out
}

/// The home key that is taken for the first stretch of a form of which no key is declared; `None`: all of it is
/// declared, or it is silent.
pub fn undeclared_home(chords: &[TimedChord]) -> Option<Key> {
    let sounding = |chord: &&TimedChord| matches!(chord.harmony, Harmony::Chord(_));
    let sounding: Vec<&TimedChord> = chords.iter().filter(sounding).collect();
    let sounds: Vec<ChordSound> = sounding
        .iter()
        .filter_map(|chord| match &chord.harmony {
            Harmony::Chord(symbol) => Some(ChordSound::of(symbol)),
            Harmony::Silence => None,
        })
        .collect();
    let around = neighbours(&sounds);
    let from = sounding.iter().position(|chord| chord.declared.is_none())?;
    let length = sounding[from..]
        .iter()
        .take_while(|chord| chord.declared.is_none())
        .count();
    Some(home(
        None,
        &around[from..from + length],
        &Weights::BY_THEORY,
    ))
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
        rule: None,
        by_key: None,
        certainty: None,
    }
}

/// Chords that share a declared key, with the path of local keys through them.
struct Stretch<'a> {
    path: KeyPath,
    around: &'a [Neighbours],
    /// The home key is a blues.
    blues: bool,
    habits: &'a Habits,
}

impl Stretch<'_> {
    /// The chords around one, as they are when it is read in a key of the path's 24.
    fn around(&self, place: usize, key: usize) -> Neighbours {
        Neighbours {
            blues: self.blues && key == 0,
            home: Some(self.path.keys[0]),
            ..self.around[place]
        }
    }

    /// Puts in what the key, the neighbours and the teacher's hint say.
    fn fill(
        &self,
        out: &mut ChordInContext,
        place: usize,
        symbol: &ChordSymbol,
        hint: Option<ScaleName>,
    ) {
        let chosen = self.path.chosen[place];
        let key = self.path.keys[chosen];
        let around = self.around(place, chosen);
        let reading = read(key, &around, self.habits);
        let numeral = function(key, &around);
        let scale = hint.unwrap_or_else(|| fitting::fit(symbol, reading.scale));
        let rule = hint.map_or(reading.rule, |_| Rule::Hint);
        let because = if hint.is_some() || scale == reading.scale {
            rule.why().to_string()
        } else {
            format!("{}; the symbol's own tones override", rule.why())
        };
        let around = |key| self.around(place, key);
        out.why = format!("{numeral} in {key}: {scale}: {because}");
        out.degrees = fitting::degrees(symbol, scale);
        out.by_key = Some(fitting::fit(symbol, by_key(key, &around(chosen))));
        let sure = certainty(symbol, scale, (&self.path, place), around, self.habits);
        out.certainty = Some(sure);
        out.rule = Some(rule);
        out.key = Some(key);
        out.function = Some(numeral.to_string());
        out.scale = Some(scale);
    }
}
