//! Tunings, the capo, and where a note lies.

use crate::drill::KeyRange;
use crate::harmony::Pitch;

/// The furthest that a hand reaches from its first finger, in frets, without moving.
pub(super) const REACH: u8 = 4;

/// A place on the neck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct NeckPlace {
    /// The string; 1 is the highest.
    pub string: u8,
    /// The fret, counted from the capo; 0 is open.
    pub fret: u8,
    /// The MIDI key that sounds there.
    pub midi: u8,
}

/// The open strings of an instrument.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tuning {
    /// MIDI keys from string 1 on.
    open: Vec<u8>,
}

/// Why a tuning was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TuningError {
    /// A string is no note with an octave.
    #[error(
        "\"{0}\" is no open string (a note and its octave from -1 to 9, middle C being C4, such as \"E2\" or \"Bb1\")"
    )]
    String(String),
    /// Too few or too many strings.
    #[error("a tuning has 1 to 16 strings, not {0}")]
    Count(usize),
}

impl Default for Tuning {
    /// A guitar in standard tuning: E2 A2 D3 G3 B3 E4.
    fn default() -> Tuning {
        Tuning {
            open: vec![64, 59, 55, 50, 45, 40],
        }
    }
}

impl Tuning {
    /// A tuning from its open strings as players list them: the last string (6 on a guitar) first.
    ///
    /// # Errors
    /// When a string is no note with an octave, or there are none or more than 16.
    pub fn read<'a>(strings: impl IntoIterator<Item = &'a str>) -> Result<Tuning, TuningError> {
        let mut open = strings
            .into_iter()
            .map(key_of)
            .collect::<Result<Vec<u8>, TuningError>>()?;
        if !(1..=16).contains(&open.len()) {
            return Err(TuningError::Count(open.len()));
        }
        open.reverse();
        Ok(Tuning { open })
    }

    /// A tuning from the MIDI keys of its open strings, from string 1 on.
    #[cfg(test)]
    pub(super) fn of_keys(open: &[u8]) -> Tuning {
        Tuning {
            open: open.to_vec(),
        }
    }

    /// The MIDI keys of the open strings, from string 1 on.
    pub fn open_keys(&self) -> &[u8] {
        &self.open
    }
}

/// The MIDI key of a note with its octave: C4 is 60, middle C.
fn key_of(text: &str) -> Result<u8, TuningError> {
    let bad = || TuningError::String(text.to_string());
    let split = text
        .find(|c: char| c.is_ascii_digit() || c == '-')
        .ok_or_else(bad)?;
    let pitch: Pitch = text[..split].parse().map_err(|_| bad())?;
    let octave: i32 = text[split..].parse().map_err(|_| bad())?;
    if !(-1..=9).contains(&octave) {
        return Err(bad());
    }
    // The octave belongs to the letter: Cb4 is the B below middle C.
    let key = 12 * (octave + 1) + pitch.letter.semitones() + i32::from(pitch.alter);
    u8::try_from(key)
        .ok()
        .filter(|key| *key <= 127)
        .ok_or_else(bad)
}

/// A neck as it is played.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Neck {
    pub tuning: Tuning,
    /// The fret of the capo; 0: none.
    pub capo: u8,
    /// How many frets the neck has, from the nut.
    pub frets: u8,
    /// Whether it is drawn for a left-handed player; the places are the same.
    pub left_handed: bool,
}

impl Default for Neck {
    /// A guitar of 22 frets without a capo.
    fn default() -> Neck {
        Neck {
            tuning: Tuning::default(),
            capo: 0,
            frets: 22,
            left_handed: false,
        }
    }
}

impl Neck {
    /// The keys that figures are laid out in: from the lowest string to the twelfth fret of the highest.
    pub fn range(&self) -> KeyRange {
        let open = self.tuning.open_keys();
        let low = open.iter().min().copied().unwrap_or(KeyRange::GUITAR.low);
        let top = open.iter().max().copied().unwrap_or(low);
        let frets = self.frets.saturating_sub(self.capo).min(12);
        KeyRange::new(
            low.saturating_add(self.capo),
            top.saturating_add(self.capo).saturating_add(frets),
        )
    }

    /// Every place where a MIDI key sounds, from string 1 on; none where it lies outside the neck.
    pub fn places(&self, midi: u8) -> Vec<NeckPlace> {
        let strings = (1u8..).zip(self.tuning.open_keys());
        let places = strings.filter_map(|(string, open)| {
            let fret = midi.checked_sub(*open)?.checked_sub(self.capo)?;
            let on_neck = fret <= self.frets.saturating_sub(self.capo);
            on_neck.then_some(NeckPlace { string, fret, midi })
        });
        places.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(neck: &Neck, midi: u8) -> String {
        let places = neck.places(midi);
        let words: Vec<String> = places
            .iter()
            .map(|p| format!("{}:{}", p.string, p.fret))
            .collect();
        words.join(" ")
    }

    #[test]
    fn notes_lie_where_guitarists_find_them() {
        // Common practice, no source: middle C is string 2 fret 1, string 3 fret 5 and so on.
        let neck = Neck::default();
        for (midi, places) in [
            (60, "2:1 3:5 4:10 5:15 6:20"),
            (40, "6:0"),
            (64, "1:0 2:5 3:9 4:14 5:19"),
            (39, ""),
            (86, "1:22"),
            (87, ""),
        ] {
            assert_eq!(told(&neck, midi), places, "{midi}");
        }
    }

    #[test]
    fn frets_count_from_the_capo() {
        let neck = Neck {
            capo: 3,
            ..Neck::default()
        };
        assert_eq!(told(&neck, 43), "6:0");
        assert_eq!(told(&neck, 60), "3:2 4:7 5:12 6:17");
    }

    #[test]
    fn tunings_are_read_from_the_last_string_on() {
        // MIDI keys: 60 is middle C (MIDI 1.0); octave numbers by scientific pitch notation, middle C = C4.
        let read = |text: &str| Tuning::read(text.split(' ')).map(|tuning| tuning.open);
        assert_eq!(read("E2 A2 D3 G3 B3 E4"), Ok(Tuning::default().open));
        assert_eq!(read("D2 A2 D3 F#3 A3 D4"), Ok(vec![62, 57, 54, 50, 45, 38]));
        assert_eq!(
            read("B1 E2 A2 D3 G3 B3 E4"),
            Ok(vec![64, 59, 55, 50, 45, 40, 35])
        );
        assert_eq!(read("G4 C4 E4 A4"), Ok(vec![69, 64, 60, 67]));
        assert_eq!(read("Cb4"), Ok(vec![59]));
        for text in ["", "E", "2", "H2", "E10", "E2.", "e2", "A9"] {
            assert_eq!(
                read(text),
                Err(TuningError::String(text.to_string())),
                "{text}"
            );
        }
        assert_eq!(Tuning::read([]), Err(TuningError::Count(0)));
        assert_eq!(Tuning::read(["E2"; 17]), Err(TuningError::Count(17)));
    }
}
