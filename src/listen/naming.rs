//! What began gets its name, if it may be the player's.

use super::added::Added;
use super::found::{Found, Heard, Signs};
use super::notes::{Notes, cents};
use super::pending::{Hop, Pending, SoundingNote};
use super::sure::chance;

/// What is heard is left of the band where the note was heavier in what was taken out than in what is left.
const OF_BAND: f32 = 1.0;
/// What is less likely to be a note than this is not told: about half as likely as what is told is right on the whole, where it serves best
/// (Z. Lipton and others, "Optimal thresholding of classifiers to maximize F1 measure", 2014, from memory).
const LEAST_CHANCE: f32 = 0.4;
/// While it is open whether the band is in the sound, nothing is surer than this.
const OPEN_CHANCE: f32 = 0.5;

/// What lies under the lowest string needs more to be believed: its odds are these times as high. It is the bass of a band that is not known, or
/// hum, more often than a string that was let down further.
const RARE_ODDS: f32 = 0.25;

/// The chance of what is rare.
fn rare(chance: f32) -> f32 {
    RARE_ODDS * chance / (1.0 - chance * (1.0 - RARE_ODDS))
}

/// So finely a chance is told, and cents: the transforms that they come from round by what each processor has for them, and a
/// recording is to be told the same on all.
const CHANCES: f32 = 10_000.0;
const OF_A_CENT: f32 = 10.0;

/// Without what is finer than so many steps of one.
fn told(value: f32, steps: f32) -> f32 {
    (value * steps).round() / steps
}

impl Notes {
    /// Whether it is the note that rings on, struck again: then what the stroke added tells little.
    pub(super) fn is_again(&self, hz: f32) -> bool {
        cents(hz, self.ringing_hz).abs() < self.habits.change_cents
    }

    /// Names what began, at `hz`, if it is loud enough for the player's and likely to be a note. False where it may come to be one.
    pub(super) fn give_name(
        &mut self,
        note: Pending,
        hz: f32,
        added: Added,
        hop: &Hop,
        out: &mut impl FnMut(Found),
    ) -> bool {
        if !self.loud_enough(note.loudest_db) {
            return true;
        }
        let other = note.struck && added.is_other() && !self.is_again(hz);
        let common_hz = if other { hz } else { 0.0 };
        let (hz, band) = match other {
            true => (added.hz, added.band_first),
            false => (hz, added.band),
        };
        let also = added.beside(hz).filter(|_| note.struck);
        let above = note.loudest_db - self.player_db;
        let signs = Signs {
            band,
            ..note.signs(&added, above, self.ms(hop.at.saturating_sub(note.onset)))
        };
        let sure = match self.habits.swings {
            true => note.clarity(),
            false => chance(&signs, note.struck, also.is_some()),
        };
        let sure = if hz < self.rare_hz { rare(sure) } else { sure };
        if band > OF_BAND || sure < LEAST_CHANCE {
            return false;
        }
        let confidence = if hop.band_open {
            sure.min(OPEN_CHANCE)
        } else {
            sure
        };
        let midi = self.midi_of(hz);
        self.begin_to_sound(&note, hz, common_hz, out);
        out(Found::Named(Heard {
            onset: note.onset,
            onset_known: note.known,
            known: hop.at,
            midi: midi.round().clamp(0.0, 127.0) as u8,
            cents: told((midi - midi.round()) * 100.0, OF_A_CENT),
            confidence: told(confidence, CHANCES),
            level_db: note.loudest_db,
            band_taken_out: false,
            struck: note.struck,
            also: also.map(|hz| self.midi_of(hz).round() as u8),
            signs,
        }));
        true
    }
    /// What sounds from now on; what sounded is over.
    fn begin_to_sound(
        &mut self,
        note: &Pending,
        hz: f32,
        common_hz: f32,
        out: &mut impl FnMut(Found),
    ) {
        if self.sounding.is_some() {
            out(Found::Ended { off: note.onset });
        }
        let above = note.loudest_db - self.player_db;
        // Up at once, down slowly: a soft note does not open the gate for the band.
        self.player_db += if above > 0.0 { above } else { 0.1 * above };
        self.sounding = Some(SoundingNote {
            hz,
            level_db: note.loudest_db,
            weak_hops: 0,
            common_hz,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_rare_is_believed_where_it_is_plain() {
        for (chance, told) in [
            (0.0, 0.0),
            (0.5, 0.2),
            (0.8, 0.5),
            (0.99, 0.961),
            (1.0, 1.0),
        ] {
            assert!((rare(chance) - told).abs() < 0.001, "{chance}");
        }
    }

    /// As a note was told on amd64 and on arm64.
    #[test]
    fn what_processors_round_otherwise_is_told_the_same() {
        assert_eq!(
            told(0.421_193_8, CHANCES).to_bits(),
            told(0.421_193_78, CHANCES).to_bits()
        );
        assert_eq!(
            told(-12.448_12, OF_A_CENT).to_bits(),
            told(-12.448_883, OF_A_CENT).to_bits()
        );
        assert_eq!(told(0.9, CHANCES).to_bits(), 0.9_f32.to_bits());
    }
}
