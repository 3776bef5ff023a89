//! The Roman numeral of a chord in a key.

use super::sound::Neighbours;
use super::{Mode, Quality};

/// By semitones of the root over the tonic: major and minor chords.
const UPPER: [&str; 12] = [
    "I", "bII", "II", "bIII", "III", "IV", "#IV", "V", "bVI", "VI", "bVII", "VII",
];
const LOWER: [&str; 12] = [
    "i", "bii", "ii", "biii", "iii", "iv", "#iv", "v", "bvi", "vi", "bvii", "vii",
];
const HALF_DIMINISHED: [&str; 12] = [
    "i m7b5",
    "bii m7b5",
    "ii m7b5",
    "biii m7b5",
    "iii m7b5",
    "iv m7b5",
    "#iv m7b5",
    "v m7b5",
    "bvi m7b5",
    "vi m7b5",
    "bvii m7b5",
    "vii m7b5",
];
const DIMINISHED: [&str; 12] = [
    "i dim", "#i dim", "ii dim", "#ii dim", "iii dim", "iv dim", "#iv dim", "v dim", "#v dim",
    "vi dim", "#vi dim", "vii dim",
];
const SEVENTHS: [&str; 12] = [
    "I7", "bII7", "II7", "bIII7", "III7", "IV7", "#IV7", "V7", "bVI7", "VI7", "bVII7", "VII7",
];
/// The dominant of the degree a fifth below.
const SECONDARY: [&str; 12] = [
    "V7/IV", "V7/bV", "V7/V", "V7/bVI", "V7/vi", "V7/bVII", "V7/vii", "V7", "V7/bII", "V7/ii",
    "V7/bIII", "V7/iii",
];
/// The same in minor.
const SECONDARY_IN_MINOR: [&str; 12] = [
    "V7/iv", "V7/bV", "V7/V", "V7/bVI", "V7/VI", "V7/bVII", "V7/VII", "V7", "V7/bII", "V7/ii",
    "V7/bIII", "V7/III",
];

/// Whether a major triad on this degree leads a fifth down as a dominant does.
pub(super) fn is_dominant_triad(mode: Mode, degree: u8, around: &Neighbours) -> bool {
    let leads = match mode {
        Mode::Major => matches!(degree, 2 | 4 | 9 | 11),
        Mode::Minor => matches!(degree, 0 | 2 | 4 | 9 | 11),
    };
    let triad = around.chord.quality == Quality::Major;
    triad && (degree == 7 || leads && around.falls_a_fifth().is_some())
}

/// The numeral of a chord whose root is so many semitones over the tonic.
pub(super) fn numeral(mode: Mode, degree: u8, around: &Neighbours) -> &'static str {
    let chord = around.chord;
    let at = usize::from(degree);
    match chord.quality {
        _ if chord.is_dominant() || is_dominant_triad(mode, degree, around) => {
            dominant(mode, degree, around)
        }
        Quality::Suspended if degree == 7 && mode == Mode::Minor => "V7sus",
        Quality::HalfDiminished => HALF_DIMINISHED[at],
        _ if chord.is_diminished() => DIMINISHED[at],
        _ if chord.is_minor() && degree == 7 && around.is_two() => "ii/iv",
        _ if chord.is_minor() => LOWER[at],
        _ => UPPER[at],
    }
}

fn dominant(mode: Mode, degree: u8, around: &Neighbours) -> &'static str {
    let at = usize::from(degree);
    let falls = around.falls_a_fifth().is_some();
    match (mode, degree) {
        (Mode::Major, 7) => "V7",
        (Mode::Minor, 10) => "bVII7",
        (_, 0 | 5) if around.blues => SEVENTHS[at],
        (Mode::Major, _) if falls => SECONDARY[at],
        (Mode::Minor, _) if falls || degree == 7 => SECONDARY_IN_MINOR[at],
        (Mode::Major, 2 | 4 | 9 | 11) => SECONDARY[at],
        _ => SEVENTHS[at],
    }
}
