//! How notes are named.

use crate::harmony::{Letter, Pitch};

/// How note names are written and spoken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Names {
    /// C D E F G A B, sharp, flat.
    #[default]
    English,
    /// German: H for B, B for B flat, Cis, Es.
    German,
    /// do re mi fa sol la si.
    Solfege,
}

impl Names {
    /// The name of a note; `sign` is what stands for so many semitones up or down where the name has no ending for it.
    pub fn note(self, pitch: Pitch, sign: impl Fn(i8) -> String) -> String {
        let letter = pitch.letter.as_char();
        match self {
            Names::English => format!("{letter}{}", sign(pitch.alter)),
            Names::German => german(pitch),
            Names::Solfege => {
                let syllable = ["do", "re", "mi", "fa", "sol", "la", "si"][pitch.letter as usize];
                format!("{syllable}{}", sign(pitch.alter))
            }
        }
    }
}

/// German names: B is our B♭, H our B; sharps end in -is, flats in -es, but Es, As, Ases.
fn german(pitch: Pitch) -> String {
    let times = usize::from(pitch.alter.unsigned_abs());
    let letter = match pitch.letter {
        Letter::B if pitch.alter == -1 => return "B".to_string(),
        Letter::B => 'H',
        other => other.as_char(),
    };
    match (letter, pitch.alter) {
        ('A' | 'E', alter) if alter < 0 => format!("{letter}s{}", "es".repeat(times - 1)),
        (_, alter) => format!(
            "{letter}{}",
            if alter < 0 { "es" } else { "is" }.repeat(times)
        ),
    }
}
