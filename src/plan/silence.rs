//! The silences of the band: where a note is to be heard before it is played, and where the player is alone.

use super::pass::Pass;
use crate::chart::{Lap, LapBar};
use crate::drill::TargetSet;
use crate::time::{PPQ, Part, Tick, TimedNote};

/// Lets each chord sound for its first count; then all but the time rests until the last note of its figure is due. A
/// figure that begins within that count has no silence before it, and is left alone.
pub(super) fn keep_silence(
    notes: Vec<TimedNote>,
    lap: &Lap,
    targets: &[TargetSet],
) -> Vec<TimedNote> {
    let window = |(chord, set): (&crate::chart::LapChord, &TargetSet)| {
        let count = lap.bars.get(chord.bar)?.meter.count_ticks();
        let (first, last) = (set.notes.first()?, set.notes.last()?);
        let from = chord.start + count;
        (first.at > from).then_some((from, last.at))
    };
    let silent: Vec<(Tick, Tick)> = lap.chords.iter().zip(targets).filter_map(window).collect();
    let rests = |note: &TimedNote| matches!(note.part, Part::Comping | Part::Bass | Part::Melody);
    let silenced = |note| {
        if rests(&note) {
            outside(note, &silent)
        } else {
            Some(note)
        }
    };
    notes.into_iter().filter_map(silenced).collect()
}

/// What is left of the notes of `pass` where the whole band drops out to trade with the player.
pub(super) fn drop_out(notes: Vec<TimedNote>, pass: &Pass) -> Vec<TimedNote> {
    let bar = |(index, bar): (usize, &LapBar)| {
        let out = (bar.start, bar.start + bar.meter.bar_ticks());
        pass.is_band_out(index).then_some(out)
    };
    let out: Vec<(Tick, Tick)> = pass.lap.bars.iter().enumerate().filter_map(bar).collect();
    let left = notes.into_iter().filter_map(|note| outside(note, &out));
    left.collect()
}

/// People play a little ahead of a place, too: who is so near to a window is in it.
const AHEAD: Tick = Tick(PPQ / 16);

/// What is left of a note where nothing is struck within some windows, and nothing rings on into them.
fn outside(note: TimedNote, windows: &[(Tick, Tick)]) -> Option<TimedNote> {
    let place = note.at + AHEAD;
    let within = |(from, to): &(Tick, Tick)| *from <= place && place < *to;
    if windows.iter().any(within) {
        return None;
    }
    let cut = windows
        .iter()
        .map(|(from, _)| *from)
        .find(|from| place < *from && note.at + note.len > *from);
    let len = cut.map_or(note.len, |from| from - note.at);
    Some(TimedNote { len, ..note })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::LapChord;
    use crate::drill::{Direction, Place, TargetNote};
    use crate::harmony::{Degree, Pitch};
    use crate::time::Meter;

    #[test]
    fn a_chord_sounds_and_then_leaves_room() {
        // Places of the figure in beats from 0; what is left of notes at beats 0, 1, 2 and 3, each a beat and a half.
        for (places, left) in [
            (&[2.0][..], "0:1 2:1.5 3:1.5"),
            (&[3.0], "0:1 3:1.5"),
            (&[2.0, 3.0], "0:1 3:1.5"),
            (&[0.0, 2.0], "0:1.5 1:1.5 2:1.5 3:1.5"),
            (&[1.0], "0:1.5 1:1.5 2:1.5 3:1.5"),
            (&[], "0:1.5 1:1.5 2:1.5 3:1.5"),
        ] {
            let lap = Lap {
                len: Tick(4 * PPQ),
                bars: vec![LapBar {
                    form_bar: 0,
                    start: Tick(0),
                    meter: Meter::COMMON,
                }],
                chords: vec![LapChord {
                    form_chord: 0,
                    start: Tick(0),
                    len: Tick(4 * PPQ),
                    bar: 0,
                }],
            };
            let note = |at: &f64| TargetNote {
                degree: Degree::new(1, 0),
                pitch: "C".parse::<Pitch>().expect("a note"),
                direction: Direction::Free,
                place: Place::counted(1, 0),
                at: Tick::from_quarters(*at),
                len: Tick(PPQ),
                midi: 48,
            };
            let targets = [TargetSet {
                notes: places.iter().map(note).collect(),
                ..TargetSet::default()
            }];
            let struck = |beat: i64| TimedNote {
                at: Tick(beat * PPQ),
                len: Tick(3 * PPQ / 2),
                part: Part::Comping,
                key: 60,
                velocity: 80,
            };
            let kept = keep_silence((0..4).map(struck).collect(), &lap, &targets);
            let text = |note: &TimedNote| format!("{}:{}", note.at.quarters(), note.len.quarters());
            let kept: Vec<String> = kept.iter().map(text).collect();
            assert_eq!(kept.join(" "), left, "{places:?}");
        }
    }
}
