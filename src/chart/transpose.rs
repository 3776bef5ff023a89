//! Charts in other keys, spelled as those keys are written.

use super::{Chart, ChartBar, Form, MelodyNote};
use crate::harmony::{ChordSymbol, Habits, Harmony, Key, KeyDeclaration, Mode, Pitch, in_context};
use std::sync::Arc;

/// The most sharps or flats of a key that is chosen here: beyond, its enharmonic twin has fewer.
const MOST_SIGNS: i8 = 6;

impl Chart {
    /// The key the tune stands in: the declared one, else the local key of its last chord, as the analysis
    /// finds it; `None` if there is no chord.
    pub fn home(&self) -> Option<Key> {
        if let Some(KeyDeclaration::Key(key)) = self.key {
            return Some(key);
        }
        let chords = Form::unroll(self).timed_chords();
        let found = in_context(&chords, &self.habits.over(&Habits::default()));
        found.iter().rev().find_map(|chord| chord.key)
    }

    /// The chart moved from its home key to `to`, of the same mode. Sections in other keys move along, into
    /// the plainer spelling of their new key, and their chords are spelled by it. No root or bass gets a
    /// double accidental. The words of hints stay as they are, so teachers write degrees, not notes.
    pub fn transposed(&self, to: Key) -> Chart {
        let from = match self.key {
            Some(KeyDeclaration::Signature(signs)) => Key::of_signature(signs, to.mode),
            _ => self.home().unwrap_or(Key::of_signature(0, to.mode)),
        };
        let shift = PitchShift { from, to };
        let mut chart = self.clone();
        chart.key = self.key.map(|key| shift.declaration(key, self.key));
        let pickup = chart.pickup.iter_mut();
        let sections = Arc::make_mut(&mut chart.sections).iter_mut();
        let sections = sections.flat_map(|section| {
            let endings = section
                .endings
                .iter_mut()
                .flat_map(|ending| &mut ending.bars);
            section.bars.iter_mut().chain(endings)
        });
        for bar in pickup.chain(sections) {
            shift.bar(bar, self.key);
        }
        if let Some(melody) = &mut chart.melody {
            let bars = melody.sections.iter_mut().flatten();
            for note in melody.pickup.iter_mut().chain(bars.flatten()) {
                shift.home().note(note);
            }
        }
        chart
    }
}

/// The whole move, from key to key.
struct PitchShift {
    from: Key,
    to: Key,
}

impl PitchShift {
    /// The move of the home key.
    fn home(&self) -> Move {
        Move::between(self.from.tonic, self.to.tonic)
    }

    /// A declared key after the move; `home` is the chart's own.
    fn declaration(&self, old: KeyDeclaration, home: Option<KeyDeclaration>) -> KeyDeclaration {
        match old {
            KeyDeclaration::Key(key) => {
                let moved = Key::new(self.home().apply(key.tonic), key.mode);
                KeyDeclaration::Key(if Some(old) == home {
                    moved
                } else {
                    plain(moved)
                })
            }
            KeyDeclaration::Signature(signs) => {
                let major = |key: Key| Key::new(key.tonic, Mode::Major).fifths();
                let way = major(self.to) - major(self.from);
                KeyDeclaration::Signature(fewest_signs(signs + way))
            }
        }
    }

    fn bar(&self, bar: &mut ChartBar, home: Option<KeyDeclaration>) {
        let old = bar.key;
        bar.key = old.map(|key| self.declaration(key, home));
        let by = match (old, bar.key) {
            (Some(KeyDeclaration::Key(old)), Some(KeyDeclaration::Key(new))) => {
                Move::between(old.tonic, new.tonic)
            }
            (Some(KeyDeclaration::Signature(old)), Some(KeyDeclaration::Signature(new))) => {
                let tonic = |signs| Key::of_signature(signs, Mode::Major).tonic;
                Move::between(tonic(old), tonic(new))
            }
            _ => self.home(),
        };
        for cell in &mut bar.cells {
            if let Some(Harmony::Chord(symbol)) = &mut cell.harmony {
                *symbol = by.symbol(symbol);
            }
        }
    }
}

/// A move of spelled pitches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Move {
    /// Staff steps up, 0 to 6.
    steps: i32,
    /// Semitones up, 0 to 11.
    semitones: i32,
}

impl Move {
    fn between(from: Pitch, to: Pitch) -> Move {
        Move {
            steps: (to.letter as i32 - from.letter as i32).rem_euclid(7),
            semitones: i32::from(from.up_to(to)),
        }
    }

    /// The pitch after the move; where it would have a double accidental, the next letter has a plain name.
    fn apply(self, pitch: Pitch) -> Pitch {
        let class = (i32::from(pitch.class()) + self.semitones).rem_euclid(12);
        let mut letter = pitch.letter.up(self.steps);
        loop {
            let alter = (class - letter.semitones() + 6).rem_euclid(12) - 6;
            if alter.abs() <= 1 {
                return Pitch::new(letter, alter as i8);
            }
            letter = letter.up(alter.signum());
        }
    }

    /// A note of the melody after the move, by the nearer way up or down.
    fn note(self, note: &mut MelodyNote) {
        let up = if self.semitones > 6 {
            self.semitones - 12
        } else {
            self.semitones
        };
        let place = 12 * i32::from(note.octave)
            + note.pitch.letter.semitones()
            + i32::from(note.pitch.alter)
            + up;
        note.pitch = self.apply(note.pitch);
        let within = note.pitch.letter.semitones() + i32::from(note.pitch.alter);
        note.octave = ((place - within).div_euclid(12)).clamp(-1, 9) as i8;
    }

    fn symbol(self, symbol: &ChordSymbol) -> ChordSymbol {
        let (root, bass) = (self.apply(symbol.root), self.apply(symbol.bass));
        let slash = match has_slash(symbol) {
            true => format!("/{bass}"),
            false => String::new(),
        };
        let mut moved = ChordSymbol {
            text: format!("{root}{}{slash}", suffix(symbol)),
            root,
            bass,
            degrees: symbol.degrees.clone(),
        };
        // The user's own way of writing, unless it now reads as another chord: "F#b5" is not "Cb5" over C.
        if moved.text.parse().as_ref() != Ok(&moved) {
            moved.text = moved.to_string();
        }
        moved
    }
}

/// The text of a symbol without its bass, and whether there is one.
fn parted(symbol: &ChordSymbol) -> (&str, bool) {
    match symbol.text.rsplit_once('/') {
        Some((chord, note)) if note.trim().parse() == Ok(symbol.bass) => (chord, true),
        _ => (symbol.text.as_str(), false),
    }
}

fn has_slash(symbol: &ChordSymbol) -> bool {
    parted(symbol).1
}

/// The text of a symbol between its root and its bass: `m7b5` of `F#m7b5/E`.
pub(crate) fn suffix(symbol: &ChordSymbol) -> &str {
    after_root(parted(symbol).0, symbol.root).trim()
}

/// What stands after the root in the text of a symbol.
fn after_root(chord: &str, root: Pitch) -> &str {
    let mut rest = chord.chars();
    rest.next();
    let mut left = i32::from(root.alter);
    while left != 0 {
        left += match rest.clone().next() {
            Some('b' | '♭') => 1,
            Some('#' | '♯') => -1,
            Some('𝄫') => 2,
            Some('𝄪') => -2,
            _ => break,
        };
        rest.next();
    }
    rest.as_str()
}

/// The signature of the same sound with at most six signs.
fn fewest_signs(signs: i8) -> i8 {
    if signs.abs() <= MOST_SIGNS {
        signs
    } else {
        (signs + MOST_SIGNS).rem_euclid(12) - MOST_SIGNS
    }
}

/// The key in its plainer spelling: Db major for C# major.
fn plain(key: Key) -> Key {
    Key::of_signature(fewest_signs(key.fifths()), key.mode)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(text: &str) -> Key {
        text.parse().unwrap()
    }

    #[test]
    fn symbols_move_by_spelled_intervals() {
        // from, to, symbol, moved: intervals of common practice, no source
        let cases = [
            ("G minor", "C minor", "D7b9", "G7b9"),
            ("G minor", "F# minor", "Ebmaj7", "Dmaj7"),
            ("G minor", "Eb minor", "Abmaj7", "Fbmaj7"),
            ("C major", "Gb major", "F6/9", "Cb6/9"),
            ("C major", "B major", "Dm7/G", "C#m7/F#"),
            ("C major", "C# major", "E7", "E#7"),
            ("F major", "Db major", "Bdim7", "Gdim7"),
            ("F# major", "C major", "F#b5", "C(b5)"),
            ("D major", "Ab major", "F#m7b5", "Cm7b5"),
        ];
        for (from, to, symbol, moved) in cases {
            let (from, to) = (key(from), key(to));
            let symbol: ChordSymbol = symbol.parse().unwrap();
            let by = Move::between(from.tonic, to.tonic);
            assert_eq!(by.symbol(&symbol).text, moved);
        }
    }

    #[test]
    fn keys_take_their_plainer_spelling() {
        // Signatures by the circle of fifths, no source.
        let cases = [
            ("C# major", "Db major"),
            ("Cb major", "B major"),
            ("F# major", "F# major"),
            ("Gb major", "Gb major"),
            ("A# minor", "Bb minor"),
            ("Ab minor", "G# minor"),
            ("D# minor", "D# minor"),
            ("G# major", "Ab major"),
        ];
        for (odd, wanted) in cases {
            assert_eq!(plain(key(odd)), key(wanted), "{odd}");
        }
    }
}
