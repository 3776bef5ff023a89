//! Beginnings: where something new is struck.
//!
//! The spectrum rises. A plain rise is a stroke. Less of a rise may be a soft stroke among strings that ring on, or one of them let go;
//! it is a stroke if what is there afterwards is another note than before, or more of the same: a stroke adds sound. A soft low note has
//! its spectrum in few bands, and the rest of them under what counts: out of silence it is enough that the whole sound rises.

use super::added::Added;
use super::found::Found;
use super::notes::{DIP_HOPS, Notes, cents};
use super::pending::{Hop, Pending};

/// The spectrum must rise by so much for a beginning ...
const RISE_DB: f32 = 3.0;
/// ... or by so much, for one that has to prove itself.
const SLIGHT_DB: f32 = 1.5;
/// Beginnings are at least so far apart.
const APART_MS: f32 = 30.0;
/// A note struck again under itself: the sound dips by so much and comes back by so much.
const DIP_DB: f32 = 8.0;
/// ... and comes back by so much.
const BACK_DB: f32 = 5.0;
/// A reading so near to the note that sounds is a truer one of it.
const READ_CENTS: f32 = 30.0;
/// A name so near to that of the note that sounds is the same.
const SAME_CENTS: f32 = 60.0;
/// After a slight rise the same note is struck if it comes to so much more than before, or than it was when it began.
const MORE_DB: f32 = 1.5;
/// A slight rise so soon after a beginning belongs to it.
const SLIGHT_APART_MS: f32 = 60.0;
/// What dips and comes back without a rise of the spectrum is a beat of two strings.
const BEAT_DB: f32 = 1.5;
/// Out of silence the whole sound rises by so much against what was there 10 to 30 ms before.
const OUT_OF_SILENCE_DB: f32 = 12.0;
/// The newest powers that may have risen already, of those that are kept.
const RISING: usize = DIP_HOPS / 3;
/// With less of a rise nothing begins, but out of silence.
pub(super) const LEAST_RISE_DB: f32 = SLIGHT_DB.min(BEAT_DB);

impl Notes {
    pub(super) fn begin(
        &mut self,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) {
        let (dipped, before_db) = self.struck_again(hop.power_db);
        let again = dipped && hop.risen_db > BEAT_DB || hop.out_of_silence;
        let rise_db = self.least_rise_db(hop.at);
        if hop.risen_db < rise_db * 0.5 && !again {
            self.armed = true;
        }
        let begins = self.armed && (hop.risen_db > rise_db || again);
        let new = hop.began > self.last_onset && self.ms(self.age(hop.at)) > APART_MS;
        if !begins || !new {
            return;
        }
        self.armed = false;
        self.name_what_is_followed(hop, added, out);
        self.ringing_hz = self.rings_on_hz();
        self.last_onset = hop.began;
        self.sung.forget();
        self.pending = Some(Pending {
            before_db: before_db.min(hop.power_db),
            slight: hop.risen_db <= RISE_DB && !again,
            struck: true,
            ..Pending::new(hop.began, hop.at)
        });
        self.changing = None;
        self.stable_hops = 0;
    }

    /// Whether the whole sound, `power_db` now, has just come out of silence. A voice swells.
    pub(super) fn is_out_of_silence(&self, power_db: f32) -> bool {
        let older = (0..DIP_HOPS - RISING).map(|k| self.powers_db[(self.power_at + k) % DIP_HOPS]);
        let before = older.fold(-120.0, f32::max);
        !self.habits.swings && power_db > before + OUT_OF_SILENCE_DB && self.loud_enough(power_db)
    }

    /// A voice swells and has consonants: there only a plain rise counts.
    fn least_rise_db(&self, at: u64) -> f32 {
        if self.habits.swings || self.ms(self.age(at)) < SLIGHT_APART_MS {
            RISE_DB
        } else {
            SLIGHT_DB
        }
    }

    /// Whether what began, now that it has a pitch, was struck: another note than the one that sounds, or more of it.
    pub(super) fn is_struck(&self, begun: &Pending, hz: f32) -> bool {
        let Some(sounding) = self.sounding else {
            return true;
        };
        let same = cents(hz, sounding.hz).abs() < SAME_CENTS;
        !same || !begun.slight || begun.loudest_db > begun.before_db + MORE_DB
    }

    /// The note that sounds, as it was read last, in Hz; 0 for none. A voice has one string.
    fn rings_on_hz(&self) -> f32 {
        match self.sounding {
            Some(note) if !self.habits.swings => {
                let is_read = cents(self.last_hz, note.hz).abs() < READ_CENTS;
                if is_read { self.last_hz } else { note.hz }
            }
            _ => 0.0,
        }
    }

    /// Whether the sound has dipped and come back within 30 ms; and the loudest of these, in dB.
    fn struck_again(&mut self, power_db: f32) -> (bool, f32) {
        self.powers_db[self.power_at] = power_db;
        self.power_at = (self.power_at + 1) % DIP_HOPS;
        let (mut loudest, mut dip, mut low) = (-120.0_f32, 0.0_f32, power_db);
        for k in 0..DIP_HOPS {
            let past = self.powers_db[(self.power_at + k) % DIP_HOPS];
            loudest = loudest.max(past);
            if loudest - past > dip {
                (dip, low) = (loudest - past, past);
            }
        }
        let dipped = dip > DIP_DB && power_db - low > BACK_DB && self.loud_enough(power_db);
        (dipped, loudest)
    }
}
