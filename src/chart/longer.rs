//! Longer chords: the same changes at the same tempo, with time to think.
//!
//! # Why do longer chords change the form, and not the laps cut from it?
//!
//! What loops, what is armed, bars back and on, the judge
//! and the page all count in bars of the form. With each bar of it there so many times nothing of that has to know. Only a hard
//! spot is kept in bars as the chart writes them, because it outlives the stage; so is what a player would mean by two bars. The
//! analysis is not made anew: a chord's function does not hang on how long it is held.

use super::{Form, FormBar, FormChord};
use crate::time::Tick;

impl Form {
    /// The same form with every chord `times` as long (at least 1): each bar comes so many times, in its meter and
    /// under its number, and bar `n` of this form becomes bars `n * times` to `n * times + times - 1`. The pickup
    /// stays as it is.
    #[must_use]
    pub fn with_longer_chords(&self, times: u32) -> Form {
        let times = i64::from(times.max(1));
        let copies = |bar: &FormBar| {
            let (bar, len) = (*bar, bar.meter.bar_ticks());
            (0..times).map(move |copy| FormBar {
                start: Tick(bar.start.0 * times + copy * len.0),
                ..bar
            })
        };
        let bars: Vec<FormBar> = self.bars.iter().flat_map(copies).collect();
        let longer = |chord: &FormChord| {
            let mut chord = chord.clone();
            chord.timed.start = Tick(chord.timed.start.0 * times);
            chord.timed.len = Tick(chord.timed.len.0 * times);
            chord.beats *= times as f64;
            let after = bars.partition_point(|bar| bar.start <= chord.timed.start);
            chord.form_bar = after.saturating_sub(1);
            if let Some(bar) = bars.get(chord.form_bar) {
                let within = (chord.timed.start - bar.start).0 as f64;
                chord.beat = 1.0 + within / bar.meter.beat_ticks().0 as f64;
            }
            chord
        };
        let chords = self.chords.iter().map(longer).collect();
        Form {
            route: self.route.longer(times as usize),
            bars,
            chords,
            ..self.clone()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Chart;
    use crate::fault::Source;

    fn form(text: &str) -> Form {
        let text = format!("title = \"x\"\nkey = \"C major\"\n{text}");
        let source = Source {
            name: "x.toml",
            text: &text,
        };
        Form::unroll(&Chart::read(&source).expect("a chart"))
    }

    /// `bar.beat symbol quarters`.
    fn told(form: &Form) -> String {
        let chord = |chord: &FormChord| {
            let (bar, quarters) = (&form.bars[chord.form_bar], chord.timed.len.quarters());
            format!(
                "{}:{}.{} {} {quarters}",
                chord.form_bar, bar.bar, chord.beat, chord.timed.harmony
            )
        };
        form.chords.iter().map(chord).collect::<Vec<_>>().join(", ")
    }

    #[test]
    fn each_chord_lasts_so_many_times_as_long() {
        let four = "time = \"4/4\"\nform = [\"A\"]\n[[section]]\nname = \"A\"\n";
        let cases = [
            ("bars = [\"C\"]", 1, "0:1.1 C 4"),
            ("bars = [\"C\", \"F\"]", 2, "0:1.1 C 8, 2:2.1 F 8"),
            ("bars = [\"C F\"]", 2, "0:1.1 C 4, 1:1.1 F 4"),
            ("bars = [\"C F\"]", 4, "0:1.1 C 8, 2:1.1 F 8"),
            ("bars = [\"C / / F\"]", 2, "0:1.1 C 6, 1:1.3 F 2"),
            ("bars = [\"C\", \"%\"]", 2, "0:1.1 C 8, 2:2.1 C 8"),
        ];
        for (bars, times, wanted) in cases {
            let longer = form(&format!("{four}{bars}")).with_longer_chords(times);
            assert_eq!(told(&longer), wanted, "{bars} {times}");
        }
    }

    #[test]
    fn a_change_of_meter_stays_between_its_bars() {
        let text = "time = \"4/4\"\nform = [\"A\"]\n[[section]]\nname = \"A\"\nbars = [\"C\", \"F\"]\n[[section.change]]\nbar = 2\ntime = \"3/4\"";
        let longer = form(text).with_longer_chords(2);
        let starts: Vec<f64> = longer.bars.iter().map(|bar| bar.start.quarters()).collect();
        assert_eq!(starts, [0.0, 4.0, 8.0, 11.0]);
        assert_eq!(longer.bars[3].end().quarters(), 14.0);
        assert_eq!(told(&longer), "0:1.1 C 8, 2:2.1 F 6");
    }
}
