//! The grid of a bar: the pulses that band and foot feel, and the steps between them.

use crate::time::{Meter, PPQ, Tick};

/// Where the pulses of a bar stand, from its start: quarters in 4/4 and 2/2, dotted quarters in 6/8, groups
/// of two with a longer last one in 7/8.
pub(super) fn pulses(meter: Meter) -> Vec<Tick> {
    let bar = meter.bar_ticks().0;
    let pulse = if meter.is_compound() {
        meter.count_ticks().0
    } else {
        PPQ
    };
    let whole = (bar / pulse).max(1);
    (0..whole).map(|i| Tick(i * pulse)).collect()
}

/// Length of a step: the finest place a part plays on, an eighth (a sixteenth in meters of sixteenths).
pub(super) fn step(meter: Meter) -> Tick {
    Tick(if meter.unit() == 16 { PPQ / 4 } else { PPQ / 2 })
}

/// How many pulses a minute pass at `qpm` quarters.
pub(super) fn pulse_rate(meter: Meter, qpm: f64) -> f64 {
    if meter.is_compound() {
        qpm / meter.count_ticks().quarters()
    } else {
        qpm
    }
}

/// Which pulse answers the first: the third of four, the fourth of five, the second of two; none in three.
pub(super) fn half_way(pulses: usize) -> Option<usize> {
    match pulses {
        0 | 1 | 3 => None,
        2 => Some(1),
        n => Some(n.div_ceil(2)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pulses_are_what_the_foot_taps() {
        // meter, pulses in quarters: common practice, no source
        let cases: [(&str, &[f64]); 9] = [
            ("4/4", &[0.0, 1.0, 2.0, 3.0]),
            ("2/2", &[0.0, 1.0, 2.0, 3.0]),
            ("3/4", &[0.0, 1.0, 2.0]),
            ("5/4", &[0.0, 1.0, 2.0, 3.0, 4.0]),
            ("2/4", &[0.0, 1.0]),
            ("6/8", &[0.0, 1.5]),
            ("12/8", &[0.0, 1.5, 3.0, 4.5]),
            ("7/8", &[0.0, 1.0, 2.0]),
            ("3/8", &[0.0]),
        ];
        for (meter, quarters) in cases {
            let got: Vec<f64> = pulses(meter.parse().unwrap())
                .into_iter()
                .map(Tick::quarters)
                .collect();
            assert_eq!(got, quarters, "{meter}");
        }
        assert_eq!(pulses("1/16".parse().unwrap()), [Tick(0)]);
    }

    #[test]
    fn the_half_of_a_bar() {
        let got: Vec<_> = (1..=6).map(half_way).collect();
        assert_eq!(got, [None, Some(1), None, Some(2), Some(3), Some(3)]);
    }
}
