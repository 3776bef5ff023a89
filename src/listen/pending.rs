//! What is known after a hop, and of what began and sounds.

use super::added::Added;
use super::found::Signs;
use super::pitch::Look;

/// How much a reading counts against those before it.
const NEWEST_WEIGHT: f32 = 0.2;

/// How well a voice repeats of which nothing is known.
const VOICE_CLARITY: f32 = 0.5;

/// What is known after a hop.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hop {
    /// The frame after its newest sample.
    pub(super) at: u64,
    /// The look at the pitch.
    pub(super) pitch: Look,
    /// The power of the newest 10 ms in dB of full scale.
    pub(super) power_db: f32,
    /// By how much the spectrum has risen.
    pub(super) risen_db: f32,
    /// Whether the whole sound has come out of silence.
    pub(super) out_of_silence: bool,
    /// Where the sound began, if it began just now.
    pub(super) began: u64,
    /// Whether a band sounds of which is not known yet whether it is in the sound.
    pub(super) band_open: bool,
}

/// Something that began and has no name yet.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pending {
    pub(super) onset: u64,
    pub(super) known: u64,
    pub(super) loudest_db: f32,
    pub(super) hops: u32,
    pub(super) hz_sum: f32,
    pub(super) newest_hz: f32,
    pub(super) clarity_sum: f32,
    /// The best shorter and longer periods among its looks, and the best multiple (`Look`).
    pub(super) rival: f32,
    pub(super) better: f32,
    pub(super) multiple: f32,
    /// How loud it was when it began, or before if that is less, in dB.
    pub(super) before_db: f32,
    /// Whether the spectrum rose less than it does at a plain stroke.
    pub(super) slight: bool,
    /// Whether it was struck: else the pitch of what sounded has changed.
    pub(super) struck: bool,
    /// Whether what it added does not look like what is heard.
    pub(super) doubtful: bool,
    /// Whether that was looked at because it has no clear pitch.
    pub(super) looked_at: bool,
}

impl Pending {
    pub(super) fn new(onset: u64, known: u64) -> Pending {
        Pending {
            onset,
            known,
            loudest_db: -120.0,
            hops: 0,
            hz_sum: 0.0,
            newest_hz: 0.0,
            clarity_sum: 0.0,
            rival: 0.0,
            better: 0.0,
            multiple: 0.0,
            before_db: -120.0,
            slight: false,
            struck: false,
            doubtful: false,
            looked_at: false,
        }
    }

    pub(super) fn hz(&self) -> f32 {
        self.hz_sum / self.hops.max(1) as f32
    }

    /// Its level goes on, whatever its pitch is.
    pub(super) fn hear(&mut self, hop: &Hop) {
        self.loudest_db = self.loudest_db.max(hop.power_db);
        self.hops += 1;
        self.clarity_sum += hop.pitch.clarity;
    }

    pub(super) fn add(&mut self, hop: &Hop) {
        let look = &hop.pitch;
        self.hops += 1;
        let weight = (1.0 / self.hops as f32).max(NEWEST_WEIGHT);
        self.newest_hz += weight * (look.hz - self.newest_hz);
        self.hz_sum += look.hz;
        self.rival = self.rival.max(look.rival);
        self.better = self.better.max(look.better);
        self.multiple = self.multiple.max(look.multiple);
        self.clarity_sum += look.clarity;
    }

    /// What a name of it rests on, `above_db` over the player's level and after `age_ms`.
    pub(super) fn signs(&self, added: &Added, above_db: f32, age_ms: f32) -> Signs {
        Signs {
            clarity: self.clarity_sum / self.hops.max(1) as f32,
            rival: self.rival,
            better: self.better,
            age_ms,
            above_db,
            slight: self.slight,
            added: added.asked,
            second: added.second,
            explained: added.explained,
            periods: added.periods,
            band: added.band,
        }
    }

    /// How well it repeats, on the average; a voice named without a look that counts is not sure, and not nothing.
    pub(super) fn clarity(&self) -> f32 {
        match self.hops {
            0 => VOICE_CLARITY,
            hops => (self.clarity_sum / hops as f32).clamp(0.0, 1.0),
        }
    }

    pub(super) fn forget(&mut self) {
        (self.hops, self.hz_sum, self.clarity_sum) = (0, 0.0, 0.0);
        (self.rival, self.better, self.multiple) = (0.0, 0.0, 0.0);
    }
}

/// A note that has a name and sounds.
#[derive(Debug, Clone, Copy)]
pub(super) struct SoundingNote {
    pub(super) hz: f32,
    pub(super) level_db: f32,
    pub(super) weak_hops: u32,
    /// A pitch that is heard, and is no note: the common period of several strings; 0 for none.
    pub(super) common_hz: f32,
}
