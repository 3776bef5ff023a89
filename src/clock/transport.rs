//! A server's transport as a clock: what it says of each cycle, as the messages that a MIDI clock would send.
//!
//! Bars, beats and ticks may be missing for a cycle after the transport was moved; meanwhile the last line goes on.
//! Without ever having seen them there is no tempo and nothing is told.

use super::follower::TICKS_PER_QUARTER;
use super::message::ClockMessage;
use crate::time::Frame;

/// Tempos that are believed, in quarter notes a minute.
const TEMPOS_QPM: std::ops::RangeInclusive<f64> = 18.0..=330.0;
/// Farther from where it was to be than this, in ticks of MIDI clock, the transport was moved.
const MOVED_TICKS: f64 = 0.5;
/// A tick that is over by less than this, in ticks, is the one meant.
const JUST: f64 = 0.02;
/// Ticks of MIDI clock to a sixteenth, the unit of Song Position Pointer (MIDI 1.0).
const TICKS_PER_SIXTEENTH: i64 = TICKS_PER_QUARTER / 4;
/// The farthest Song Position.
const FARTHEST: i64 = 0x3fff;

/// Where a song is at the first frame of a cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SongPlace {
    /// Quarter notes from its beginning.
    pub quarters: f64,
    /// Quarter notes a minute.
    pub qpm: f64,
}

impl SongPlace {
    /// From bar and beat (both from 1), the part of the beat that is over, the meter's beats and their note value, and
    /// beats a minute; as `jack_position_t` of jack.h has them.
    pub fn from_bbt(
        (bar, beat): (u32, u32),
        beat_part: f64,
        (beats_per_bar, beat_type): (f32, f32),
        bpm: f64,
    ) -> SongPlace {
        let bars = f64::from(bar.saturating_sub(1)) * f64::from(beats_per_bar);
        let beats = bars + f64::from(beat.saturating_sub(1)) + beat_part;
        let quarters_a_beat = 4.0 / f64::from(beat_type);
        SongPlace {
            quarters: beats * quarters_a_beat,
            qpm: bpm * quarters_a_beat,
        }
    }

    fn is_sound(&self) -> bool {
        TEMPOS_QPM.contains(&self.qpm) && (0.0..1e7).contains(&self.quarters)
    }
}

/// What the transport says of a cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TransportCycle {
    pub rolls: bool,
    /// Where the song is, if that is known.
    pub song: Option<SongPlace>,
}

/// The line of ticks: this one, a fraction, lies on that frame.
#[derive(Debug, Clone, Copy)]
struct TransportLine {
    tick: f64,
    at: Frame,
    frames_a_tick: f64,
}

impl TransportLine {
    fn tick_at(&self, at: Frame) -> f64 {
        self.tick + (at.0 as f64 - self.at.0 as f64) / self.frames_a_tick
    }

    fn frame_of(&self, tick: i64) -> f64 {
        self.at.0 as f64 + (tick as f64 - self.tick) * self.frames_a_tick
    }
}

/// Follows the transport from cycle to cycle.
#[derive(Debug, Clone, Default)]
pub struct TransportClock {
    /// The line and the next tick to tell; none while it stands.
    running: Option<(TransportLine, i64)>,
}

impl TransportClock {
    /// Takes what the transport says of the `frames` frames from `at` on, `rate` a second, and tells what a MIDI clock
    /// would send in them.
    pub fn cycle(
        &mut self,
        (at, frames): (Frame, u32),
        rate: u32,
        cycle: TransportCycle,
        tell: &mut dyn FnMut(Frame, ClockMessage),
    ) {
        if !cycle.rolls {
            return self.stop(at, tell);
        }
        if let Some(song) = cycle.song.filter(SongPlace::is_sound) {
            let line = TransportLine {
                tick: song.quarters * TICKS_PER_QUARTER as f64,
                at,
                frames_a_tick: 60.0 * f64::from(rate) / (song.qpm * TICKS_PER_QUARTER as f64),
            };
            self.follow(line, at, tell);
        }
        let Some((line, next)) = &mut self.running else {
            return;
        };
        let end = at.0 + u64::from(frames);
        loop {
            let frame = line.frame_of(*next).round().max(at.0 as f64) as u64;
            if frame >= end {
                break;
            }
            tell(Frame(frame), ClockMessage::Tick);
            *next += 1;
        }
    }

    fn follow(
        &mut self,
        line: TransportLine,
        at: Frame,
        tell: &mut dyn FnMut(Frame, ClockMessage),
    ) {
        if let Some((known, next)) = self.running {
            if (known.tick_at(at) - line.tick).abs() <= MOVED_TICKS {
                self.running = Some((line, next));
                return;
            }
            self.stop(at, tell);
        }
        // A song goes on with a sixteenth: the position has no smaller unit.
        let sixteenth = (line.tick / TICKS_PER_SIXTEENTH as f64 - JUST)
            .ceil()
            .max(0.0) as i64;
        if sixteenth == 0 {
            tell(at, ClockMessage::Start);
        } else {
            let position = sixteenth.min(FARTHEST) as u16;
            tell(at, ClockMessage::Position(position));
            tell(at, ClockMessage::Continue);
        }
        self.running = Some((line, sixteenth * TICKS_PER_SIXTEENTH));
    }

    fn stop(&mut self, at: Frame, tell: &mut dyn FnMut(Frame, ClockMessage)) {
        if self.running.take().is_some() {
            tell(at, ClockMessage::Stop);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RATE: u32 = 48_000;

    /// Cycles of 1,000 frames: `-` stopped, `?` rolling without a place, a number of quarters rolling at 120 (24,000
    /// frames a quarter, 1,000 a tick). What is told, by cycle.
    fn told(cycles: &str) -> String {
        let mut clock = TransportClock::default();
        let cycles = cycles.split_whitespace().enumerate().map(|(number, word)| {
            let song = word.parse().ok().map(|quarters| SongPlace {
                quarters,
                qpm: 120.0,
            });
            let at = Frame(number as u64 * 1_000);
            let mut words = Vec::new();
            let cycle = TransportCycle {
                rolls: word != "-",
                song,
            };
            clock.cycle((at, 1_000), RATE, cycle, &mut |frame, message| {
                let word = match message {
                    ClockMessage::Tick => "t".to_string(),
                    ClockMessage::Start => "start".to_string(),
                    ClockMessage::Continue => "go".to_string(),
                    ClockMessage::Stop => "stop".to_string(),
                    ClockMessage::Position(at) => format!("@{at}"),
                };
                words.push(format!("{word}{}", frame.0 - at.0));
            });
            words.join(",")
        });
        cycles.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn the_transport_speaks_as_a_clock_would() {
        for (cycles, said) in [
            ("- - -", "  "),
            ("- 0 0.0416667 0.0833333 -", " start0,t0 t0 t0 stop0"),
            // Bars and beats missing for a cycle, and from the start.
            ("0 ? 0.0833333 ? ?", "start0,t0 t0 t0 t0 t0"),
            ("? ? ?", "  "),
            // Moved while it rolls: to a sixteenth, and between two of them (17/4 is the 17th).
            (
                "0 0.0416667 4 4.0416667",
                "start0,t0 t0 stop0,@160,go0,t0 t0",
            ),
            ("4.2083333 4.25 4.2916667", "@170,go0 t0 t0"),
            // Half a tick on: the next sixteenth is a quarter of a second away.
            ("0.0208333 0.0625 0.1041667", "@10,go0  "),
            // A tempo that nobody plays, and a place that is none.
            ("-3 nan", " "),
        ] {
            assert_eq!(told(cycles), said, "{cycles}");
        }
    }

    #[test]
    fn bars_and_beats_are_quarters_from_the_beginning() {
        // By jack.h: bar and beat from 1, beat_type the note value of a beat.
        for (bar_beat, part, meter, bpm, quarters, qpm) in [
            ((1, 1), 0.0, (4.0, 4.0), 120.0, 0.0, 120.0),
            ((3, 2), 0.5, (4.0, 4.0), 90.0, 9.5, 90.0),
            ((2, 1), 0.0, (3.0, 4.0), 90.0, 3.0, 90.0),
            ((2, 4), 0.0, (6.0, 8.0), 180.0, 4.5, 90.0),
        ] {
            let place = SongPlace::from_bbt(bar_beat, part, meter, bpm);
            assert_eq!(place, SongPlace { quarters, qpm });
        }
    }

    proptest! {
        #[test]
        fn every_tick_is_told_once_and_on_its_frame(
            qpm in 20.0..300.0f64,
            from_sixteenth in 0u32..400,
            frames in prop::sample::select(vec![64u32, 256, 1_000, 1_024, 4_096]),
            missing in prop::collection::vec(prop::bool::weighted(0.2), 60),
        ) {
            let mut clock = TransportClock::default();
            let quarters = f64::from(from_sixteenth) / 4.0;
            let mut ticks = Vec::new();
            for (number, missing) in missing.iter().enumerate() {
                let at = number as u64 * u64::from(frames);
                let place = SongPlace { quarters: quarters + at as f64 / f64::from(RATE) * qpm / 60.0, qpm };
                let cycle = TransportCycle { rolls: true, song: (number == 0 || !missing).then_some(place) };
                clock.cycle((Frame(at), frames), RATE, cycle, &mut |frame, message| {
                    assert!((at..at + u64::from(frames)).contains(&frame.0));
                    if message == ClockMessage::Tick { ticks.push(frame.0) }
                });
            }
            let end = missing.len() as f64 * f64::from(frames);
            let step = 60.0 * f64::from(RATE) / (24.0 * qpm);
            prop_assert!((ticks.len() as f64 - end / step).abs() <= 1.5, "{}", ticks.len());
            for (number, at) in ticks.iter().enumerate() {
                prop_assert!((*at as f64 - number as f64 * step).abs() <= 1.0, "{number}: {at}");
            }
        }
    }
}
