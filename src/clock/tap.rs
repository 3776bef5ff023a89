//! Tap tempo: a straight line through the last taps.
//!
//! The last interval alone is off by some 20 ms; a least-squares line through up to eight taps is not (a public
//! measurement: mcallegari/qlcplus, pull request 1306). Before the line is drawn each tap is given its number:
//! a missed tap leaves a doubled interval, an accidental one halves it. Of all readings of the taps the one
//! with the fewest missed and accidental taps is taken.

use crate::time::{Frame, Meter, PPQ};
use arrayvec::ArrayVec;

/// The most taps that count.
pub const TAPS: usize = 8;
/// Fewer taps give no tempo.
pub const FEWEST_TAPS: usize = 3;
/// The slowest and the fastest tempo, in taps a minute.
pub const RANGE_PER_MINUTE: std::ops::RangeInclusive<f64> = 30.0..=300.0;
/// How far a tap may lie from its place, as a part of the interval.
const LOOSE: f64 = 0.25;
/// A gap longer than this begins anew, whatever the tempo; seconds.
const PAUSE_S: f64 = 2.0;
/// A gap longer than so many intervals begins anew.
const PAUSE_INTERVALS: f64 = 2.5;
/// Room for an unsteady foot at both ends of the range.
const UNSTEADY: f64 = 1.1;

/// A tempo from taps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tapped {
    /// Taps a minute, 30 to 300. A tap is a count of the meter.
    pub per_minute: f64,
    /// The last tap: where the downbeat is, if nothing else says so.
    pub last: Frame,
}

impl Tapped {
    /// Quarter notes a minute, if the taps were the counts of `meter` (dotted quarters in 6/8).
    pub fn qpm(self, meter: Meter) -> f64 {
        self.per_minute * meter.count_ticks().0 as f64 / PPQ as f64
    }

    /// Whether it may change a tempo of `per_minute` counts while the band plays: it is at most 25 % off.
    pub fn is_near(self, per_minute: f64) -> bool {
        (self.per_minute / per_minute - 1.0).abs() <= LOOSE
    }
}

/// Collects taps.
#[derive(Debug, Clone)]
pub struct TapTempo {
    taps: ArrayVec<Frame, TAPS>,
    rate: u32,
}

/// One way to read the taps: each kept tap with its number.
struct TapReading {
    kept: ArrayVec<(f64, f64), TAPS>,
    /// Taps missed, taps by accident, and double for each that lies nowhere.
    oddities: f64,
    /// How far the taps lie from their places altogether, in intervals.
    off: f64,
}

impl TapTempo {
    /// No taps yet, on a clock of `rate` frames a second.
    pub fn new(rate: u32) -> TapTempo {
        TapTempo {
            taps: ArrayVec::new(),
            rate,
        }
    }

    /// Takes a tap; gives the tempo from the third on. A pause of more than 2 s and of more than two and a half
    /// intervals begins anew; what is faster than 300 a minute is an accident and left out.
    pub fn tap(&mut self, at: Frame) -> Option<Tapped> {
        if let Some(&last) = self.taps.last() {
            let gap = at.0.saturating_sub(last.0) as f64;
            let rate = f64::from(self.rate);
            if gap < rate * 60.0 / (RANGE_PER_MINUTE.end() * UNSTEADY) {
                return None;
            }
            let usual = self.interval().unwrap_or(0.0) * PAUSE_INTERVALS;
            if gap > usual.max(PAUSE_S * rate * UNSTEADY) {
                self.taps.clear();
            }
        }
        if self.taps.is_full() {
            self.taps.remove(0);
        }
        self.taps.push(at);
        if self.taps.len() < FEWEST_TAPS {
            return None;
        }
        let per_minute = 60.0 * f64::from(self.rate) / self.interval()?;
        // The last digit of a fit must not decide whether the fastest tempo can be tapped.
        let rounded = (per_minute * 1000.0).round() / 1000.0;
        RANGE_PER_MINUTE.contains(&rounded).then_some(Tapped {
            per_minute,
            last: at,
        })
    }

    /// The interval of the best reading, in frames.
    fn interval(&self) -> Option<f64> {
        let gaps: ArrayVec<f64, TAPS> = self
            .taps
            .windows(2)
            .map(|pair| (pair[1].0 - pair[0].0) as f64)
            .collect();
        let readings = gaps.iter().map(|&gap| self.read(median_near(&gaps, gap)));
        let best = readings.min_by(|a, b| {
            (a.oddities, a.off)
                .partial_cmp(&(b.oddities, b.off))
                .unwrap_or(std::cmp::Ordering::Equal)
        })?;
        slope(&best.kept)
    }

    /// Numbers the taps by `interval`.
    fn read(&self, interval: f64) -> TapReading {
        let mut reading = TapReading {
            kept: ArrayVec::new(),
            oddities: 0.0,
            off: 0.0,
        };
        let first = self.taps.first().map_or(0, |tap| tap.0);
        for tap in &self.taps {
            let at = (tap.0 - first) as f64;
            let Some(&(number, before)) = reading.kept.last() else {
                reading.kept.push((0.0, at));
                continue;
            };
            let steps = (at - before) / interval;
            if steps < 1.0 - LOOSE {
                reading.oddities += 1.0;
                continue;
            }
            let whole = steps.round();
            let off = (steps - whole).abs();
            reading.off += off;
            reading.oddities += whole - 1.0 + if off > LOOSE { 2.0 } else { 0.0 };
            reading.kept.push((number + whole, at));
        }
        reading
    }
}

/// The median of the gaps that are near `gap`.
fn median_near(gaps: &[f64], gap: f64) -> f64 {
    let mut near: ArrayVec<f64, TAPS> = gaps
        .iter()
        .copied()
        .filter(|other| (other / gap - 1.0).abs() <= LOOSE)
        .collect();
    near.sort_by(f64::total_cmp);
    let middle = near.len() / 2;
    match near.len() % 2 {
        1 => near[middle],
        _ => f64::midpoint(near[middle - 1], near[middle]),
    }
}

/// The slope of the least-squares line through `(number, frame)`.
fn slope(points: &[(f64, f64)]) -> Option<f64> {
    let count = points.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
    let (mean_x, mean_y) = (mean(|point| point.0), mean(|point| point.1));
    let spread: f64 = points.iter().map(|(x, _)| (x - mean_x).powi(2)).sum();
    let joint: f64 = points
        .iter()
        .map(|(x, y)| (x - mean_x) * (y - mean_y))
        .sum();
    (spread > 0.0).then(|| joint / spread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Taps at these ms; the tempo after the last, rounded to tenths.
    fn tapped(ms: &str) -> Option<f64> {
        let mut taps = TapTempo::new(48_000);
        let each = ms.split_whitespace().map(|at| {
            let at: f64 = at.parse().unwrap();
            taps.tap(Frame(0).plus_ms(at, 48_000))
        });
        each.last()
            .flatten()
            .map(|it| (it.per_minute * 10.0).round() / 10.0)
    }

    #[test]
    #[rustfmt::skip]
    fn taps_give_a_tempo() {
        // By arithmetic: 60,000 / interval in ms.
        let cases = [
            ("one tap",                          "0",                                   None),
            ("two taps",                         "0 500",                               None),
            ("three taps",                       "0 500 1000",                          Some(120.0)),
            ("an unsteady foot",                 "0 510 995 1505 2000",                 Some(120.1)),
            ("a missed tap of three",            "0 500 1500",                          Some(120.0)),
            ("a missed tap among many",          "0 500 1000 2000 2500",                Some(120.0)),
            ("two missed taps in a row",         "0 400 800 1200 2400 2800",            Some(150.0)),
            ("an accidental tap half way",       "0 500 1000 1250 1500 2000",           Some(120.0)),
            ("an accidental tap soon after",     "0 500 700 1000 1500",                 Some(120.0)),
            ("a bounce of 20 ms",                "0 20 500 520 1000 1020",              None),
            ("and what counts after it",         "0 20 500 520 1000 1020 1500",         Some(120.0)),
            ("the slowest",                      "0 2000 4000",                         Some(30.0)),
            ("slower than the slowest",          "0 2150 4300",                         None),
            ("the fastest",                      "0 200 400 600",                       Some(300.0)),
            ("faster than the fastest",          "0 190 380 570",                       None),
            ("a pause begins anew",              "0 500 1000 1500 4000",                None),
            ("a pause, then another tempo",      "0 500 1000 4000 4400 4800 5200",      Some(150.0)),
            ("a slow tempo may be slow",         "0 1500 3000 6000",                    Some(40.0)),
            ("only the last eight count",        "0 1000 2000 2600 3200 3800 4400 5000 5600 6200 6800", Some(100.0)),
        ];
        for (what, ms, tempo) in cases {
            assert_eq!(tapped(ms), tempo, "{what}: {ms}");
        }
    }

    #[test]
    fn a_tap_is_a_count_of_the_meter() {
        let tapped = Tapped {
            per_minute: 80.0,
            last: Frame(0),
        };
        for (meter, qpm) in [("4/4", 80.0), ("6/8", 120.0), ("3/4", 80.0), ("2/2", 160.0)] {
            assert_eq!(tapped.qpm(meter.parse().unwrap()), qpm, "{meter}");
        }
        for (playing, near) in [
            (80.0, true),
            (64.0, true),
            (63.9, false),
            (106.6, true),
            (107.0, false),
        ] {
            assert_eq!(tapped.is_near(playing), near, "{playing}");
        }
    }

    proptest! {
        #[test]
        fn a_steady_foot_is_met_within_half_a_percent(
            per_minute in 35.0f64..280.0,
            jitter in prop::collection::vec(-10.0f64..10.0, 8),
            rate in prop::sample::select(vec![44_100u32, 48_000, 96_000]),
            start in 0u64..1_000_000_000,
        ) {
            let mut taps = TapTempo::new(rate);
            let interval = 60_000.0 / per_minute;
            let each = jitter.iter().enumerate().map(|(index, off)| {
                taps.tap(Frame(start).plus_ms(20.0 + interval * index as f64 + off, rate))
            });
            let last = each.last().flatten().expect("eight taps give a tempo");
            // The slope's error of a fit through n = 8 points is at most 10 ms * sum|x| / sum x^2 = 3.8 ms.
            let allowed = 3.9 / interval;
            prop_assert!((last.per_minute / per_minute - 1.0).abs() < allowed.max(0.005) * 1.05);
        }

        #[test]
        fn a_missed_tap_changes_nothing(per_minute in 60.0f64..280.0, missed in 1usize..6) {
            let mut taps = TapTempo::new(48_000);
            let interval = 60_000.0 / per_minute;
            let kept = (0..8).filter(|index| *index != missed);
            let each = kept.map(|index| taps.tap(Frame(0).plus_ms(interval * index as f64, 48_000)));
            let last = each.last().flatten().expect("seven taps give a tempo");
            prop_assert!((last.per_minute - per_minute).abs() < 0.1);
        }

        #[test]
        fn whatever_the_foot_does_the_tempo_is_in_range(gaps in prop::collection::vec(0u64..200_000, 0..60)) {
            let mut taps = TapTempo::new(48_000);
            let mut at = 0;
            for gap in gaps {
                at += gap;
                if let Some(tapped) = taps.tap(Frame(at)) {
                    prop_assert!((29.99..=300.01).contains(&tapped.per_minute));
                }
            }
        }
    }
}
