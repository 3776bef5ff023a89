//! The key's own notes from a chord's root up, the chord's own tones over them.

use super::sound::ChordSound;
use super::{Mode, Quality, ScaleName as Scale, fitting};

/// The natural degrees of a key, semitones over its tonic.
const MAJOR: [u8; 7] = [0, 2, 4, 5, 7, 9, 11];
const MINOR: [u8; 7] = [0, 2, 3, 5, 7, 8, 10];

/// Which degree of the key a root is, from 0. One between two degrees is the lower one raised where it leads up (a
/// diminished chord), else the upper one lowered; in minor the raised third, sixth and seventh are their own degrees.
fn number(mode: Mode, degree: u8, leads_up: bool) -> usize {
    let own = match mode {
        Mode::Major => MAJOR,
        Mode::Minor => MINOR,
    };
    let under = own.iter().rposition(|note| *note <= degree).unwrap_or(0);
    match (mode, degree) {
        _ if own[under] == degree => under,
        (Mode::Minor, 4 | 9 | 11) => under,
        _ if leads_up => under,
        _ => (under + 1) % 7,
    }
}

/// The scale over a chord on a degree (semitones over the tonic) of a key, where nothing but the key speaks.
pub(super) fn own_notes(mode: Mode, degree: u8, chord: ChordSound) -> Scale {
    let leads_up = chord.is_diminished() || chord.quality == Quality::HalfDiminished;
    let number = number(mode, degree, leads_up);
    let own = match mode {
        Mode::Major => MAJOR,
        Mode::Minor => MINOR,
    };
    let own = |step: usize, low: u8, high: u8| {
        let above = (12 + own[(number + step) % 7] - degree) % 12;
        above.clamp(low, high)
    };
    let first = |tones: &[u8]| tones.iter().copied().find(|tone| chord.holds(*tone, chord));
    let second = first(&[1, 2]).unwrap_or(own(1, 1, 2));
    let third = first(&[4, 3]).unwrap_or(own(2, 3, 4));
    let fifth = first(&[7, 6, 8]).unwrap_or(own(4, 6, 8));
    let fourth = match first(&[5, 6]) {
        Some(5) => 5,
        Some(_) if fifth == 7 => 6,
        // Over the leading tone of minor the key's third is a diminished fourth.
        _ if chord.is_diminished() => own(3, 4, 5),
        _ if fifth == 6 => 5,
        _ => own(3, 5, 6),
    };
    let falls_short = chord.quality == Quality::Diminished7 && !chord.holds(10, chord);
    let sixth = match first(&[9, 8]) {
        _ if falls_short => 8,
        _ if fifth == 8 => 9,
        Some(sounding) => sounding,
        None => own(5, 8, 9),
    };
    let seventh = match first(&[11, 10]) {
        Some(sounding) => sounding,
        None if falls_short => 9,
        None if chord.is_diminished()
            && !(mode == Mode::Major && degree == 11 || mode == Mode::Minor && degree == 2) =>
        {
            9
        }
        None if chord.is_diminished() => own(6, 9, 11),
        None => own(6, 10, 11),
    };
    fitting::named(&[0, second, third, fourth, fifth, sixth, seventh], chord)
}
