//! What is over before it was sure: a short note goes silent, or the next one begins.
//!
//! In a band that is not known a note repeats too badly for an early name, and a fast one is over before a late one. What is known
//! of it by then is its pitch, if that was clear for a while, and what its stroke added.

use super::added::Added;
use super::found::Found;
use super::notes::Notes;
use super::pending::{Hop, Pending};

/// A pitch that was clear for so long before it was lost is that of a short note ...
const SHORT_MS: f32 = 30.0;
/// ... not before it is so old: it may be the roughness of the stroke that is over ...
const SHORT_AGE_MS: f32 = 60.0;
/// ... repeats so well ...
const SHORT_CLARITY: f32 = 0.8;
/// ... and not much better at a multiple: then the note below it comes out, of which it was a partial ...
const SHORT_MULTIPLE: f32 = 0.1;
/// ... if it is about the heaviest note of what the stroke added ...
const SHORT_ADDED: f32 = 0.85;
/// ... and that is no noise.
const SHORT_EXPLAINED: f32 = 0.5;
/// What had no clear pitch when the next note begins is named by what it added, if it is so old ...
const FOLLOWED_MS: f32 = 55.0;
/// ... and if that explains so much, over so many periods.
const FOLLOWED_EXPLAINED: f32 = 0.65;
const FOLLOWED_PERIODS: f32 = 3.0;
/// A note that has fallen by so much is over.
const ENDS_DB: f32 = 6.0;

impl Notes {
    /// Names what has lost its pitch before it was sure, if it was a note; whether that is so.
    pub(super) fn name_what_is_over(
        &mut self,
        pending: Pending,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) -> bool {
        let hz = pending.newest_hz;
        if self.is_short(&pending, hop) && self.is_struck(&pending, hz) {
            let added = added(pending.onset, hz);
            let is_it = added.asked > SHORT_ADDED && added.explained > SHORT_EXPLAINED;
            if is_it && self.give_name(pending, hz, added, hop, out) {
                return true;
            }
        }
        if !self.ends_in_doubt(&pending, hop) {
            return false;
        }
        let added = Added {
            band: added(pending.onset, hz).band,
            ..Added::default()
        };
        self.give_name(pending, hz, added, hop, out);
        true
    }

    fn is_short(&self, pending: &Pending, hop: &Hop) -> bool {
        let age_ms = self.ms(hop.at.saturating_sub(pending.onset));
        pending.struck
            && age_ms > SHORT_AGE_MS
            && pending.hops >= self.hops(SHORT_MS)
            && pending.clarity_sum > SHORT_CLARITY * pending.hops as f32
            && pending.multiple < SHORT_MULTIPLE
    }

    /// Whether a note in doubt is over before time could tell: then its pitch is what is known of it.
    fn ends_in_doubt(&self, pending: &Pending, hop: &Hop) -> bool {
        let heard = pending.hops >= self.hops(self.habits.name_ms);
        pending.doubtful && heard && hop.power_db < pending.loudest_db - ENDS_DB
    }

    /// Names what has none when the next note begins, if it was heard long enough, though not long enough to be sure.
    pub(super) fn name_what_is_followed(
        &mut self,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) {
        match self.nearly_named() {
            Some((before, hz)) if self.is_struck(&before, hz) => {
                let added = added(before.onset, hz);
                self.give_name(before, hz, added, hop, out);
            }
            _ => self.name_by_what_it_added(hop, added, out),
        }
    }

    /// A short note of no clear pitch is what its stroke has added by now.
    fn name_by_what_it_added(
        &mut self,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) {
        let Some(mut pending) = self.pending.filter(|pending| {
            let age_ms = self.ms(hop.at.saturating_sub(pending.onset));
            let may_be = !self.habits.swings && pending.struck && !pending.looked_at;
            may_be && age_ms > FOLLOWED_MS
        }) else {
            return;
        };
        let added = added(pending.onset, 0.0);
        let is_tone = added.explained > FOLLOWED_EXPLAINED && added.periods > FOLLOWED_PERIODS;
        if is_tone {
            pending.forget();
            self.give_name(pending, added.hz, added, hop, out);
        }
    }

    /// What began before and has been heard long enough for a name, though not long enough to be sure.
    fn nearly_named(&self) -> Option<(Pending, f32)> {
        let before = self.pending?;
        if self.habits.swings {
            return Some((before, self.hz_of(self.sung.newest()?)));
        }
        let heard = before.hops >= self.hops(self.habits.name_ms);
        heard.then_some((before, before.newest_hz))
    }
}
