//! How long the loop sleeps: until something is due, or may have come that nothing tells of.
//!
//! # Why does it look at all?
//!
//! Switches, keys, clocks of ALSA, screens and the ear wake the loop by what they send. Three things cannot: the callback, which
//! may not call the system, the voice, and a signal. What the callback tells is no news (bars begin when the plan says so), but
//! for messages on `midi_in`: where something is connected to that, they set how long a nap may be. A lost server is seen by the
//! next look.

use super::live::{Live, PUBLISH_EVERY};
use std::time::{Duration, Instant};

/// While something plays, or may begin by a clock: what the voice has ready waits so long, and what the callback tells. A
/// little longer than an ear naps that hears something, which wakes the loop too.
const PLAYING: Duration = Duration::from_millis(30);
/// While nothing plays: what a signal waits.
const AT_REST: Duration = Duration::from_millis(100);
/// While something waits that comes in steps.
const IN_STEPS: Duration = Duration::from_millis(2);
/// A shorter nap is none.
const LEAST: Duration = Duration::from_micros(500);

/// A press counts on its frame where it is known so soon, in seconds (`practice` gives it 10 ms, less what the loop takes).
const MIDI_KNOWN_S: f64 = 0.009;
/// What came in a cycle is seen so long after it began, and no look comes sooner than that after the last.
const CYCLE_SEEN_S: f64 = 0.001;
const LEAST_NAP_S: f64 = 0.002;

/// How long the loop may sleep where messages can come, `since_s` after a cycle of `period_s` began. A message lies for a cycle
/// until the callback has it; after a long cycle it must be seen at once, after a short one there is time.
fn midi_patience(period_s: f64, since_s: f64) -> Duration {
    let left_s = MIDI_KNOWN_S - period_s;
    let wait_s = match left_s > LEAST_NAP_S {
        true => left_s,
        false => period_s + CYCLE_SEEN_S - since_s,
    };
    Duration::from_secs_f64(wait_s.clamp(LEAST_NAP_S, period_s.max(MIDI_KNOWN_S)))
}

impl Live {
    /// How long to wait for an input.
    pub(super) fn patience(&mut self) -> Duration {
        let follows = !self.reloading.config.clock.follow.order.is_empty();
        let longest = match self.rig.core.is_playing() || follows || self.script.is_some() {
            _ if self.rig.is_waiting() => IN_STEPS,
            true => PLAYING,
            false => AT_REST,
        };
        let publishing = PUBLISH_EVERY.saturating_sub(self.published.elapsed());
        let looking = self
            .audio
            .next_try()
            .map(|at| at.saturating_duration_since(Instant::now()));
        let cycle_s = self.audio.midi_cycle_s();
        let naps = [
            Some(publishing),
            looking,
            cycle_s.map(|(period_s, since_s)| midi_patience(period_s, since_s)),
            self.until_due(),
        ];
        let shortest = naps.into_iter().flatten().fold(longest, Duration::min);
        shortest.max(LEAST)
    }

    fn until_due(&mut self) -> Option<Duration> {
        let due = self.rig.core.next_due()?;
        let frames = due.0.saturating_sub(self.audio.now().0);
        Some(Duration::from_secs_f64(
            frames as f64 / f64::from(self.rig.rate()),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_is_looked_for_as_often_as_it_has_to_be() {
        // Length of a cycle, how long ago it began, how long the loop may sleep, in ms.
        for (period, since, wanted) in [
            (1.333, 0.0, 7.667),
            (2.667, 1.0, 6.333),
            (5.333, 2.0, 3.667),
            (10.667, 0.5, 10.667),
            (21.333, 0.0, 21.333),
            (21.333, 10.0, 12.333),
            (21.333, 22.0, 2.0),
        ] {
            let found = midi_patience(period / 1e3, since / 1e3).as_secs_f64() * 1e3;
            assert!((found - wanted).abs() < 0.01, "{period} {since}: {found}");
        }
    }
}
