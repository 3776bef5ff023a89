//! Active sensing: whoever sends it once says something every 300 ms (MIDI 1.0); whose silence lasts longer has lost its
//! cable.

use std::time::Duration;

/// After so long without any byte.
pub(super) const CUT_AFTER: Duration = Duration::from_millis(400);
const ACTIVE_SENSING: u8 = 0xfe;
/// Why a device is not there any more.
pub(super) const CUT: &str = "its active sensing stopped: is the cable out?";

/// Whether a silence means something. Times are of one clock that only goes on.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sensing {
    heard: Duration,
    is_armed: bool,
}

impl Sensing {
    /// Bytes came.
    pub fn heard(&mut self, now: Duration, bytes: &[u8]) {
        self.heard = now;
        self.is_armed |= bytes.contains(&ACTIVE_SENSING);
    }

    /// Whether the cable is gone; told once.
    pub fn is_cut(&mut self, now: Duration) -> bool {
        let is_cut = self.is_armed && now.saturating_sub(self.heard) > CUT_AFTER;
        self.is_armed &= !is_cut;
        is_cut
    }

    /// When to look again; none while silence means nothing.
    #[cfg(feature = "midi-alsa")]
    pub fn look_at(&self) -> Option<Duration> {
        // A little later than the moment itself, at which nothing is known yet.
        let at = self.heard + CUT_AFTER + Duration::from_millis(5);
        self.is_armed.then_some(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_silence_means_something_after_the_first_sensing() {
        // Bytes at times (in ms), when it is asked, and whether the cable is gone then.
        for (bytes, asked, cut) in [
            (&[][..], &[0, 5000][..], "no no"),
            (&[(0, 0xf8)], &[5000], "no"),
            (&[(0, 0xfe)], &[400, 401, 402], "no yes no"),
            (&[(0, 0xfe), (300, 0xf8)], &[700, 701], "no yes"),
            (
                &[(0, 0xfe), (300, 0xfe), (600, 0xfe)],
                &[1000, 1001],
                "no yes",
            ),
        ] {
            let mut sensing = Sensing::default();
            let ms = Duration::from_millis;
            for (at, byte) in bytes {
                sensing.heard(ms(*at), &[*byte]);
            }
            let asked = asked.iter().map(|at| match sensing.is_cut(ms(*at)) {
                true => "yes",
                false => "no",
            });
            assert_eq!(asked.collect::<Vec<_>>().join(" "), cut, "{bytes:?}");
        }
    }

    #[test]
    fn it_comes_back_with_the_next_byte() {
        let mut sensing = Sensing::default();
        sensing.heard(Duration::ZERO, &[0xfe]);
        assert!(sensing.is_cut(Duration::from_secs(1)));
        sensing.heard(Duration::from_secs(2), &[0xfe]);
        assert!(!sensing.is_cut(Duration::from_millis(2100)));
        assert!(sensing.is_cut(Duration::from_millis(2500)));
    }
}
