//! From looks to notes: what began, what it is called, when it changed and when it ended.
//!
//! # Why does a note get its name once and for all?
//!
//! What the player is told must not be taken back, so a rough attack
//! waits for up to 110 ms instead. Readings, for a tuner, come as early as they are clear.

use super::added::Added;
use super::found::{Found, PitchReading};
use super::pending::{Hop, Pending, SoundingNote};
use super::rest::Way;
use super::setup::{EarHabits, Instrument, Setup};
use super::sung::Sung;

/// What was heard so far.
#[derive(Debug)]
pub(super) struct Notes {
    pub(super) a4: f32,
    pub(super) rate: f32,
    hop: f32,
    pub(super) habits: EarHabits,
    pub(super) rare_hz: f32,
    /// In frames; 0 where every note's is short against what is looked at.
    longest_period: f32,
    pub(super) player_db: f32,
    pub(super) pending: Option<Pending>,
    pub(super) changing: Option<Pending>,
    pub(super) sounding: Option<SoundingNote>,
    pub(super) last_onset: u64,
    /// The note that sounded when the last one began, in Hz; 0 for none.
    pub(super) ringing_hz: f32,
    /// A voice's readings, and what may come to be a note without a beginning.
    pub(super) sung: Sung,
    pub(super) swelling: Pending,
    pub(super) last_hz: f32,
    way: Way,
    /// Of the looks that agree.
    best_clarity: f32,
    pub(super) stable_hops: u32,
    pub(super) armed: bool,
    pub(super) powers_db: [f32; DIP_HOPS],
    pub(super) power_at: usize,
}

/// How many powers back a dip is looked for: 30 ms.
pub(super) const DIP_HOPS: usize = 24;
/// A note lies at most this far under the player's usual level: what is softer is the band, or hum.
const GATE_DB: f32 = 28.0;
/// Nothing under this is heard at all.
const SILENCE_DB: f32 = -70.0;
/// The player's level before anything is known of it.
const FIRST_DB: f32 = -50.0;
/// Readings are told down to so far under the player's level.
const READ_DB: f32 = 40.0;
/// A look counts from this clarity on.
const CLEAR: f32 = 0.75;
/// In the first moments of a note a doubtful look waits, if it repeats less well than this.
const SURE: f32 = 0.93;
/// A doubtful look of a note this high waits a hop more: it costs such a note little.
const WAITS_HZ: f32 = 160.0;
/// How long that lasts.
const YOUNG_MS: f32 = 60.0;
/// A look is doubtful if a shorter period comes so near to it, or a longer one repeats better by so much.
const RIVAL: f32 = 0.6;
const BETTER: f32 = 0.04;
/// The newest milliseconds must go on like those before: strictly once a note is old, so that its last moments are not
/// told as the next one.
const BROKEN_YOUNG: f32 = 0.4;
/// ... once it is old.
const BROKEN_OLD: f32 = 0.15;
/// A string's note repeats like this once its attack is over.
const STRING_CLARITY: f32 = 0.97;
/// A pitch that is there for so many hops, and has repeated as well as a string's, is kept in doubt before it has a name.
const HELD_HOPS: u32 = 6;
/// What was struck may move so far while its name is found ...
const MOVES_CENTS: f32 = 12.0;
/// ... and is in doubt so far from any note ...
const BETWEEN_CENTS: f32 = 25.0;
/// ... and what changed without a stroke rests within this, over the time in which it is found.
const RESTS_CENTS: f32 = 7.0;
/// What a pitch goes on to may have died down by so much: a slow bend arrives when its string is nearly silent.
const SOFTER_DB: f32 = 22.0;
/// A note ends when it repeats no better than this, or has fallen so far, for so long.
const END_CLARITY: f32 = 0.7;
const END_DB: f32 = 40.0;
const END_MS: f32 = 40.0;

pub(super) fn cents(a: f32, b: f32) -> f32 {
    if a > 0.0 && b > 0.0 {
        1200.0 * (a / b).log2()
    } else {
        f32::INFINITY
    }
}

impl Notes {
    pub(super) fn new(setup: Setup, hop_frames: usize) -> Notes {
        Notes {
            a4: setup.a4_hz,
            rate: setup.rate as f32,
            hop: hop_frames as f32,
            habits: setup.instrument.habits(),
            rare_hz: setup.rare_hz(),
            longest_period: match setup.instrument {
                Instrument::Bass => setup.rate as f32 / setup.instrument.range_hz().0,
                Instrument::Guitar | Instrument::Voice => 0.0,
            },
            player_db: FIRST_DB,
            pending: None,
            changing: None,
            sounding: None,
            last_onset: 0,
            ringing_hz: 0.0,
            sung: Sung::new(),
            swelling: Pending::new(0, 0),
            last_hz: 0.0,
            way: Way::new(),
            best_clarity: 0.0,
            stable_hops: 0,
            armed: true,
            powers_db: [-120.0; DIP_HOPS],
            power_at: 0,
        }
    }

    /// The power under which nothing counts, for the spectrum.
    pub(super) fn floor(&self) -> f32 {
        10_f32.powf((self.player_db - 40.0) / 10.0)
    }

    /// How many frames ago the last beginning was.
    pub(super) fn age(&self, at: u64) -> u64 {
        at.saturating_sub(self.last_onset)
    }

    /// The pitch that is kept in doubt, in Hz; 0 for none.
    pub(super) fn held_hz(&self) -> f32 {
        match self.sounding {
            Some(note) if self.pending.is_none() => note.hz,
            _ if self.habits.swings => 0.0,
            _ if self.stable_hops >= HELD_HOPS && self.best_clarity > STRING_CLARITY => {
                self.last_hz
            }
            _ => 0.0,
        }
    }

    /// The period of the note that sounds; 0 for none. Of what has no name yet, the longest that may be: within a period of a low
    /// string its spectrum rises, too.
    pub(super) fn period_frames(&self) -> f32 {
        let sounding = self.sounding.map_or(0.0, |note| self.rate / note.hz);
        match self.pending {
            Some(_) => sounding.max(self.longest_period),
            None => sounding,
        }
    }

    /// The note that sounded when the last one began and may ring on, in Hz; 0 for none.
    pub(super) fn ringing_hz(&self) -> f32 {
        self.ringing_hz
    }

    pub(super) fn ms(&self, frames: u64) -> f32 {
        frames as f32 * 1000.0 / self.rate
    }

    pub(super) fn hops(&self, ms: f32) -> u32 {
        (ms * self.rate / (1000.0 * self.hop)) as u32
    }

    pub(super) fn loud_enough(&self, level_db: f32) -> bool {
        level_db > self.player_db - GATE_DB && level_db > SILENCE_DB
    }

    pub(super) fn step(
        &mut self,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) {
        self.begin(hop, added, out);
        self.read(hop, out);
        if self.habits.swings {
            self.follow_voice(hop, added, out);
        } else {
            self.name(hop, added, out);
            self.change(hop, added, out);
        }
        self.end(hop, out);
    }

    fn read(&mut self, hop: &Hop, out: &mut impl FnMut(Found)) {
        let look = &hop.pitch;
        let agrees = look.clarity > CLEAR && cents(look.hz, self.last_hz).abs() < 50.0;
        self.stable_hops = if agrees { self.stable_hops + 1 } else { 0 };
        self.last_hz = if look.clarity > CLEAR { look.hz } else { 0.0 };
        self.way.push(self.last_hz);
        let before = if agrees { self.best_clarity } else { 0.0 };
        self.best_clarity = look.clarity.max(before);
        let told = self.stable_hops >= 1 && self.is_players(hop) && self.is_past_doubt(hop);
        out(Found::Reading(PitchReading {
            at: hop.at,
            hz: told.then_some(look.hz),
            confidence: look.clarity.clamp(0.0, 1.0),
        }));
    }

    /// Whether the player can be what is heard. Softer than a note may be, it can only be one that goes on.
    fn is_players(&self, hop: &Hop) -> bool {
        let loud = hop.power_db > self.player_db - READ_DB && hop.power_db > SILENCE_DB;
        let goes_on = self
            .sounding
            .is_some_and(|note| cents(hop.pitch.hz, note.hz).abs() < self.habits.change_cents);
        let may_begin = self.pending.is_some() || self.loud_enough(hop.power_db);
        loud && (goes_on || may_begin)
    }

    /// Whether a look can be told.
    fn is_past_doubt(&self, hop: &Hop) -> bool {
        let look = &hop.pitch;
        let young = self.ms(self.age(hop.at)) < YOUNG_MS;
        let waited = look.hz < WAITS_HZ || self.stable_hops >= 2;
        let sure = look.clarity > SURE || (look.rival < RIVAL && look.better < BETTER && waited);
        let broken = if young { BROKEN_YOUNG } else { BROKEN_OLD };
        (sure || !young) && look.broken < broken
    }

    fn name(
        &mut self,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) {
        let Some(mut pending) = self.pending else {
            return;
        };
        let look = &hop.pitch;
        pending.loudest_db = pending.loudest_db.max(hop.power_db);
        let unclear = self.stable_hops == 0;
        let clear_away =
            look.clarity > CLEAR && cents(look.hz, pending.hz()).abs() > self.habits.agree_cents;
        if unclear || clear_away {
            if self.name_what_is_over(pending, hop, added, out) {
                self.pending = None;
                return;
            }
            pending.forget();
        }
        if look.clarity > CLEAR {
            pending.add(hop);
        }
        let age_ms = self.ms(hop.at.saturating_sub(pending.onset));
        let agreed = pending.hops >= self.hops(self.habits.name_ms);
        let rests = self.rests(self.habits.name_ms, MOVES_CENTS);
        let settled = look.clarity > STRING_CLARITY && age_ms > self.habits.wait_ms && rests;
        let late = age_ms > self.habits.late_ms;
        let mut of_it = None;
        if agreed && settled && !late && !pending.doubtful {
            let added = added(pending.onset, pending.newest_hz);
            // With time the spectrum gets sharper.
            let other = added.is_doubtful() && !self.is_again(pending.newest_hz);
            pending.doubtful = other || self.is_between(pending.newest_hz);
            of_it = Some(added);
        }
        if agreed && (late || settled && !pending.doubtful) {
            self.pending = None;
            let added = of_it.unwrap_or_else(|| added(pending.onset, pending.newest_hz));
            let struck = self.is_struck(&pending, pending.newest_hz) || added.is_more();
            if struck && !self.give_name(pending, pending.newest_hz, added, hop, out) {
                // The player's note may come out from under it.
                pending.forget();
                self.pending = Some(pending);
                self.forget_nameless(hop.at);
            }
        } else {
            self.pending = Some(pending);
            self.name_by_what_was_added(pending, hop, added, out);
            self.forget_nameless(hop.at);
        }
    }

    pub(super) fn midi_of(&self, hz: f32) -> f32 {
        69.0 + 12.0 * (hz / self.a4).log2()
    }

    /// A note without a stroke of its own: a hammer-on, a slide.
    fn change(
        &mut self,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) {
        let Some(SoundingNote {
            hz,
            level_db,
            common_hz,
            ..
        }) = self.sounding
        else {
            return;
        };
        if self.pending.is_some() {
            return;
        }
        let look = &hop.pitch;
        let away = cents(look.hz, hz).abs() > self.habits.change_cents
            && cents(look.hz, common_hz).abs() > self.habits.change_cents;
        if self.stable_hops < 1 || !away || look.clarity < self.habits.change_clarity {
            self.changing = None;
            return;
        }
        let mut next = self.changing.unwrap_or(Pending::new(hop.at, hop.at));
        if next.hops > 0 && cents(look.hz, next.hz()).abs() > self.habits.agree_cents {
            self.changing = None;
            return;
        }
        next.add(hop);
        next.loudest_db = next.loudest_db.max(hop.power_db);
        let long = self.hops(self.habits.change_ms);
        let rests = self.rests(self.habits.change_ms, RESTS_CENTS);
        let strong = self.loud_enough(next.loudest_db) && next.loudest_db > level_db - SOFTER_DB;
        if next.hops >= long && strong && rests {
            self.changing = None;
            next.known = hop.at;
            let added = added(next.onset, next.newest_hz);
            if self.give_name(next, next.newest_hz, added, hop, out) {
                self.last_onset = next.onset;
            }
        } else {
            self.changing = Some(next);
        }
    }

    /// Whether a pitch lies between two notes: it may be on its way, slid in from the fret below.
    fn is_between(&self, hz: f32) -> bool {
        let midi = self.midi_of(hz);
        (midi - midi.round()).abs() * 100.0 > BETWEEN_CENTS
    }

    fn rests(&self, ms: f32, most_cents: f32) -> bool {
        let way = self.way.cents(self.hops(ms) as usize);
        way.is_some_and(|cents| cents < most_cents)
    }

    fn end(&mut self, hop: &Hop, out: &mut impl FnMut(Found)) {
        let most = self.hops(END_MS);
        let Some(note) = &mut self.sounding else {
            return;
        };
        let unclear = match self.habits.swings {
            true => self.sung.newest().is_none(),
            false => hop.pitch.clarity < END_CLARITY,
        };
        let weak = unclear || hop.power_db < note.level_db - END_DB || hop.power_db < SILENCE_DB;
        note.weak_hops = if weak { note.weak_hops + 1 } else { 0 };
        if note.weak_hops > most {
            self.sounding = None;
            self.changing = None;
            if self.habits.swings {
                // What is over would else swell into a note of its own.
                self.sung.forget();
            }
            out(Found::Ended { off: hop.at });
        }
    }
}

#[cfg(test)]
mod tests;
