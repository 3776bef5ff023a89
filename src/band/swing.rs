//! Swing: where the off-beats fall, as a pure formula of the tempo.
//!
//! Anyone can compute the grid again: with `beat_ms` the length of a quarter note in milliseconds, the ride
//! cymbal's ratio of long to short is `clamp((beat_ms - 105) / 105, 1, 2.2)`, and everybody follows the ride: an off-beat
//! of the comping that is straighter by a few dozen ms is a flam, not a feel. An off-beat stands `ratio / (1 + ratio)` of
//! a quarter after its beat, rounded to the nearest of 960 ticks. Only notes written on the half of a quarter are moved;
//! what people do besides is `timing`'s.
//!
//! That the ratio falls as the tempo rises agrees with published measurements of ride cymbals (from memory);
//! the formula and its cap are our own.

use crate::chart::Feel;
use crate::time::{Meter, PPQ, Tick, UsPerQuarter};

/// The ride cymbal's ratio of the long eighth to the short one, 1 (even) to 2.2.
///
/// ```
/// use underfoot::{band::swing_ratio, time::UsPerQuarter};
/// assert_eq!(swing_ratio(UsPerQuarter::from_qpm(120.0)), 2.2);
/// assert_eq!(swing_ratio(UsPerQuarter::from_qpm(300.0)), 1.0);
/// ```
pub fn swing_ratio(tempo: UsPerQuarter) -> f64 {
    let beat_ms = f64::from(tempo.0) / 1000.0;
    ((beat_ms - 105.0) / 105.0).clamp(1.0, 2.2)
}

/// How far after its beat an off-beat falls, in ticks.
pub fn swing_offset(tempo: UsPerQuarter) -> Tick {
    let ratio = swing_ratio(tempo);
    Tick((PPQ as f64 * ratio / (1.0 + ratio)).round() as i64)
}

/// Whether eighths swing: in swing, shuffle, waltz and ballad, where the meter is written in quarters or longer notes.
/// Six-eight and its kind already have their triplets written out.
pub fn swings(feel: Feel, meter: Meter) -> bool {
    let even = matches!(feel, Feel::Straight | Feel::Bossa);
    !even && meter.unit() <= 4
}

/// A written position in its bar as the band plays it: the half of a quarter moves to its swung place, all else stays.
pub fn swung(in_bar: Tick, feel: Feel, meter: Meter, tempo: UsPerQuarter) -> Tick {
    moved(in_bar, swings(feel, meter), swing_offset(tempo))
}

fn moved(in_bar: Tick, swings: bool, offset: Tick) -> Tick {
    if swings && in_bar.0.rem_euclid(PPQ) == PPQ / 2 {
        Tick(in_bar.0 - PPQ / 2 + offset.0)
    } else {
        in_bar
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ratio_falls_from_long_and_short_to_even() {
        // tempo, ratio of the ride to two places: the house's table
        let cases = [
            (30.0, 2.2),
            (120.0, 2.2),
            (170.0, 2.2),
            (200.0, 1.86),
            (220.0, 1.6),
            (240.0, 1.38),
            (260.0, 1.2),
            (290.0, 1.0),
            (300.0, 1.0),
        ];
        for (qpm, ratio) in cases {
            let got = swing_ratio(UsPerQuarter::from_qpm(qpm));
            assert!((got - ratio).abs() < 0.005, "{qpm}: {got}");
        }
    }

    #[test]
    fn off_beats_stand_on_the_nearest_tick() {
        // tempo, place; by hand: 960 * 2.2 / 3.2 = 660; at 200 a minute 195/105 gives 960 * 195 / 300 = 624.
        for (qpm, place) in [(120.0, 660), (200.0, 624), (300.0, 480)] {
            let tempo = UsPerQuarter::from_qpm(qpm);
            assert_eq!(swing_offset(tempo).0, place, "{qpm}");
        }
    }

    #[test]
    fn only_the_half_of_a_quarter_moves_and_only_where_eighths_swing() {
        let slow = UsPerQuarter::from_qpm(120.0);
        // feel, meter, written, as played
        let cases = [
            (Feel::Swing, "4/4", 480, 660),
            (Feel::Swing, "4/4", 960 + 480, 960 + 660),
            (Feel::Swing, "4/4", 960, 960),
            (Feel::Swing, "4/4", 720, 720),
            (Feel::Swing, "2/2", 480, 660),
            (Feel::Waltz, "3/4", 480, 660),
            (Feel::Ballad, "4/4", 480, 660),
            (Feel::Shuffle, "4/4", 480, 660),
            (Feel::Straight, "4/4", 480, 480),
            (Feel::Bossa, "4/4", 480, 480),
            (Feel::Swing, "12/8", 480, 480),
            (Feel::Swing, "7/8", 480, 480),
        ];
        for (feel, meter, written, played) in cases {
            let got = swung(Tick(written), feel, meter.parse().unwrap(), slow);
            assert_eq!(got, Tick(played), "{feel:?} {meter} {written}");
        }
    }
}
