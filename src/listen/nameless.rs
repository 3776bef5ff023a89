//! What began and has no clear pitch: two strings at once may have no common period that is looked for.

use super::added::Added;
use super::found::Found;
use super::notes::Notes;
use super::pending::{Hop, Pending};

/// What was struck and has no clear pitch after so long is named by what it added, if that explains so much of it.
const NAMELESS_MS: f32 = 130.0;
const EXPLAINED: f32 = 0.6;
/// ... and it still sounds within so much of its loudest.
const STILL_DB: f32 = 15.0;
/// What began is given up after so long without a name.
const GIVE_UP_MS: f32 = 250.0;

impl Notes {
    /// What has no period may be two strings: their notes are in what the stroke added, if that is no noise.
    pub(super) fn name_by_what_was_added(
        &mut self,
        mut pending: Pending,
        hop: &Hop,
        added: &mut impl FnMut(u64, f32) -> Added,
        out: &mut impl FnMut(Found),
    ) {
        let age_ms = self.ms(hop.at.saturating_sub(pending.onset));
        let due = age_ms > NAMELESS_MS && pending.struck;
        if !due || pending.looked_at {
            return;
        }
        pending.looked_at = true;
        let added = added(pending.onset, 0.0);
        let still_sounds = hop.power_db > pending.loudest_db - STILL_DB;
        let is_tone = added.explained > EXPLAINED && added.periods > 3.0 && still_sounds;
        self.pending = (!is_tone).then_some(pending);
        if is_tone {
            pending.forget();
            self.give_name(pending, added.hz, added, hop, out);
        }
    }

    /// What began and found no name is given up.
    pub(super) fn forget_nameless(&mut self, at: u64) {
        let most = GIVE_UP_MS.max(2.0 * self.habits.late_ms);
        let began = self.pending.map(|pending| at.saturating_sub(pending.onset));
        if began.is_some_and(|age| self.ms(age) >= most) {
            self.pending = None;
        }
    }
}
