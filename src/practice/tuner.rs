//! The page for tuning: what sounds, and how far it is off.

use crate::display::{TuningPage, note_name};
use crate::drill::Names;
use crate::fretboard::Neck;
use crate::harmony::{Letter, Pitch};

/// Readings whose median is shown.
const READINGS: usize = 5;
/// An open string is meant when the pitch is this near to it, in cents.
const NEAR_CENTS: f64 = 150.0;

/// What is heard while tuning.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Tuner {
    /// The newest readings as exact MIDI notes.
    readings: Vec<f64>,
    /// What is shown: the exact note, to a cent.
    shown: Option<i64>,
}

impl Tuner {
    /// Takes a reading; whether what is shown has changed. Where nothing sounds, what sounded last stays.
    pub(super) fn heard(&mut self, hz: Option<f32>, a4_hz: f64) -> bool {
        let Some(hz) = hz.filter(|hz| *hz > 0.0) else {
            self.readings.clear();
            return false;
        };
        let exact = 69.0 + 12.0 * (f64::from(hz) / a4_hz).log2();
        if self
            .readings
            .last()
            .is_some_and(|last| (last - exact).abs() > 0.5)
        {
            self.readings.clear();
        }
        if self.readings.len() == READINGS {
            self.readings.remove(0);
        }
        self.readings.push(exact);
        let mut sorted = self.readings.clone();
        sorted.sort_by(f64::total_cmp);
        let shown = Some((sorted[sorted.len() / 2] * 100.0).round() as i64);
        let changes = self.readings.len() >= 2 && shown != self.shown;
        if changes {
            self.shown = shown;
        }
        changes
    }

    /// The page as it stands.
    pub(super) fn page(&self, neck: &Neck, names: Names) -> TuningPage {
        let Some(shown) = self.shown else {
            return TuningPage::default();
        };
        let exact = shown as f64 / 100.0;
        let open = neck.tuning.open_keys();
        let away = |key: u8| (exact - f64::from(key)) * 100.0;
        let string = (1u8..)
            .zip(open)
            .map(|(string, key)| (string, *key))
            .filter(|(_, key)| away(*key).abs() <= NEAR_CENTS)
            .min_by(|one, other| away(one.1).abs().total_cmp(&away(other.1).abs()));
        let key = string.map_or(exact.round() as u8, |(_, key)| key);
        TuningPage {
            note: note_name(usual(key), names),
            string: string.map(|(string, _)| string),
            cents: Some(away(key).round() as i32),
        }
    }
}

/// How a key is usually called.
fn usual(key: u8) -> Pitch {
    use Letter::{A, B, C, D, E, F, G};
    const USUAL: [(Letter, i8); 12] = [
        (C, 0),
        (C, 1),
        (D, 0),
        (E, -1),
        (E, 0),
        (F, 0),
        (F, 1),
        (G, 0),
        (A, -1),
        (A, 0),
        (B, -1),
        (B, 0),
    ];
    let (letter, alter) = USUAL[usize::from(key % 12)];
    Pitch::new(letter, alter)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_string_is_named_with_what_it_lacks() {
        // Hz (by 440 * 2^((n - 69) / 12)), note, string, cents
        for (hz, note, string, cents) in [
            (82.41, "E", Some(6), 0),
            (108.1, "A", Some(5), -30),
            (331.0, "E", Some(1), 7),
            (155.56, "D", Some(4), 100),
            (440.0, "A", None, 0),
        ] {
            let mut tuning = Tuner::default();
            assert_eq!(
                tuning.page(&Neck::default(), Names::English),
                TuningPage::default()
            );
            for _ in 0..5 {
                tuning.heard(Some(hz), 440.0);
            }
            let page = tuning.page(&Neck::default(), Names::English);
            assert_eq!(
                (page.note.as_str(), page.string, page.cents),
                (note, string, Some(cents)),
                "{hz}"
            );
            // What has died away stays on the page; the same again changes nothing.
            assert!(!tuning.heard(None, 440.0) && !tuning.heard(Some(hz), 440.0));
            assert_eq!(tuning.page(&Neck::default(), Names::English), page);
        }
    }
}
