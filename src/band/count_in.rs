//! The count before the first bar.

use super::kit::{HIGH_CLICK, LOW_CLICK};
use crate::time::{Meter, PPQ, Part, Tick, TimedNote, UsPerQuarter};

/// Counts a minute from which two bars are counted.
const TWO_BARS_FROM: f64 = 90.0;

/// A bar of the count-in.
#[derive(Debug, Clone, PartialEq)]
pub struct CountInBar {
    pub meter: Meter,
    /// Its clicks, ticks from its own start.
    pub notes: Vec<TimedNote>,
}

/// The count before the first bar. Below 90 counts a minute one bar; else two, "1 - 2 - | 1 2 3 4": in
/// meters of four counts and more only every other count of the first bar. Meters of one or two counts always
/// take two bars. 6/8, 9/8 and 12/8 count in dotted notes. `pickup` is the length of the pickup's sounding
/// part, which replaces the last counts (0 without one); where it would leave less than a bar of counting, a
/// bar is counted before it.
pub fn count_in(meter: Meter, tempo: UsPerQuarter, pickup: Tick) -> Vec<CountInBar> {
    let counts_a_minute = tempo.qpm() / meter.count_ticks().quarters();
    let counts = meter.counts();
    let bar = meter.bar_ticks();
    let pickup = Tick(pickup.0.clamp(0, bar.0));
    // Ninety a minute is no whole number of microseconds: what rounds to it counts as ninety.
    let one = counts_a_minute + 0.001 < TWO_BARS_FROM && counts > 2;
    let mut bars = match (one, counts >= 4) {
        (true, _) => vec![counted(meter, 1)],
        (false, true) => vec![counted(meter, 2), counted(meter, 1)],
        (false, false) => vec![counted(meter, 1), counted(meter, 1)],
    };
    if let Some(last) = bars.last_mut() {
        last.notes.retain(|note| note.at < bar - pickup);
    }
    if one && pickup.0 * 2 > bar.0 {
        bars.insert(0, counted(meter, 1));
    }
    bars
}

/// The same with so many bars (at least one), the last of them with every count; `None`: as the tempo asks for. A long
/// pickup then has its counts alone.
pub fn count_in_bars(
    meter: Meter,
    tempo: UsPerQuarter,
    pickup: Tick,
    bars: Option<u32>,
) -> Vec<CountInBar> {
    let Some(bars) = bars else {
        return count_in(meter, tempo, pickup);
    };
    let every = if meter.counts() >= 4 { 2 } else { 1 };
    let before = (1..bars).map(|_| counted(meter, every));
    let mut bars: Vec<CountInBar> = before.chain([counted(meter, 1)]).collect();
    let bar = meter.bar_ticks();
    if let Some(last) = bars.last_mut() {
        last.notes.retain(|note| note.at < bar - pickup);
    }
    bars
}

/// A bar of counting: every count, or (`every` 2) only the first of each pair, "1 - 2 -"; where the counts do
/// not pair, the first of each half.
fn counted(meter: Meter, every: u8) -> CountInBar {
    let halves = meter.counts().div_ceil(2);
    let sounds = |count: u8| match (every, meter.counts().is_multiple_of(2)) {
        (1, _) => true,
        (_, true) => count.is_multiple_of(every),
        (_, false) => count == 0 || count == halves,
    };
    let notes = (0..meter.counts())
        .filter(|count| sounds(*count))
        .map(|count| TimedNote {
            at: Tick(i64::from(count) * meter.count_ticks().0),
            len: Tick(PPQ / 4),
            part: Part::Click,
            key: if count == 0 { HIGH_CLICK } else { LOW_CLICK },
            velocity: if count == 0 { 104 } else { 92 },
        })
        .collect();
    CountInBar { meter, notes }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Draws the counts: `X` the first, `x` another, `.` silence.
    fn picture(meter: &str, qpm: f64, pickup_quarters: f64) -> String {
        let meter: Meter = meter.parse().unwrap();
        let pickup = Tick::from_quarters(pickup_quarters);
        count_in(meter, UsPerQuarter::from_qpm(qpm), pickup)
            .iter()
            .map(|bar| {
                (0..meter.counts())
                    .map(|count| {
                        let at = Tick(i64::from(count) * meter.count_ticks().0);
                        match bar.notes.iter().find(|note| note.at == at) {
                            Some(note) if note.key == HIGH_CLICK => 'X',
                            Some(_) => 'x',
                            None => '.',
                        }
                    })
                    .collect::<String>()
            })
            .collect::<Vec<_>>()
            .join("|")
    }

    #[test]
    fn counted_as_a_leader_counts() {
        // meter, quarters a minute, pickup in quarters, the counts: common practice, no source
        let cases = [
            ("4/4", 60.0, 0.0, "Xxxx"),
            ("4/4", 89.0, 0.0, "Xxxx"),
            ("4/4", 90.0, 0.0, "X.x.|Xxxx"),
            ("4/4", 240.0, 0.0, "X.x.|Xxxx"),
            ("4/4", 120.0, 1.0, "X.x.|Xxx."),
            ("4/4", 120.0, 1.5, "X.x.|Xxx."),
            ("4/4", 120.0, 2.0, "X.x.|Xx.."),
            ("4/4", 120.0, 4.0, "X.x.|...."),
            ("4/4", 60.0, 1.0, "Xxx."),
            ("4/4", 60.0, 3.0, "Xxxx|X..."),
            ("3/4", 120.0, 0.0, "Xxx|Xxx"),
            ("3/4", 80.0, 0.0, "Xxx"),
            ("3/4", 120.0, 1.0, "Xxx|Xx."),
            ("5/4", 120.0, 0.0, "X..x.|Xxxxx"),
            ("2/4", 70.0, 0.0, "Xx|Xx"),
            ("2/2", 200.0, 0.0, "Xx|Xx"),
            ("6/8", 90.0, 0.0, "Xx|Xx"),
            ("9/8", 120.0, 0.0, "Xxx"),
            ("12/8", 120.0, 0.0, "Xxxx"),
            ("12/8", 150.0, 0.0, "X.x.|Xxxx"),
        ];
        for (meter, qpm, pickup, counts) in cases {
            assert_eq!(
                picture(meter, qpm, pickup),
                counts,
                "{meter} {qpm} {pickup}"
            );
        }
    }
}
