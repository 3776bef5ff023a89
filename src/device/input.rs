//! What an input is like: plain data, found out by the ear, told by page and command line.

/// Softer than this the lightest strokes come under what an ear takes for silence.
const SOFT_DB: f32 = -40.0;
/// What hums less far under the playing is heard by the player, too; common practice, no source.
const HUM_UNDER_DB: f32 = 40.0;
/// What hisses less far under it comes near to soft strokes.
const NOISE_UNDER_DB: f32 = 30.0;
/// What is plugged in, by what was played on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Strings {
    Guitar,
    Bass,
}

/// The mains as they are heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hum {
    /// 50 or 60.
    pub mains_hz: u32,
    /// All multiples together, in dB of full scale.
    pub level_db: f32,
}

/// What is wrong with an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum InputFault {
    Nothing,
    Clipping,
    TooSoft,
    Hum,
    Noise,
}

/// What was found out so far. Levels are in dB of full scale, as RMS unless it says peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InputReport {
    /// How long it was listened to.
    pub listened_s: f32,
    /// The greatest sample.
    pub peak_db: f32,
    /// The middle of the notes, each by its loudest 10 ms; none while nobody plays.
    pub level_db: Option<f32>,
    /// The pauses; none where nothing but zeros came in.
    pub noise_db: Option<f32>,
    /// The mains in the pauses.
    pub hum: Option<Hum>,
    /// How often the tops of waves were cut off.
    pub clipped: u32,
    /// Notes heard.
    pub notes: usize,
    /// How far the instrument is from concert pitch; none where the notes do not agree.
    pub tuning_cents: Option<f32>,
    /// What seems to be plugged in: guitar or bass.
    pub strings: Option<Strings>,
    /// Whether enough was heard.
    pub is_sure: bool,
}

impl InputReport {
    /// An input that nothing comes from.
    pub fn nothing() -> InputReport {
        InputReport {
            listened_s: 0.0,
            peak_db: -120.0,
            level_db: None,
            noise_db: None,
            hum: None,
            clipped: 0,
            notes: 0,
            tuning_cents: None,
            strings: None,
            is_sure: true,
        }
    }

    /// Whether somebody plays.
    pub fn plays(&self) -> bool {
        self.level_db.is_some()
    }

    /// What is wrong, the worst first; nothing before enough was heard, unless it clips.
    pub fn faults(&self) -> Vec<InputFault> {
        let mut faults = Vec::new();
        let near = |db: Option<f32>, under: f32| {
            db.zip(self.level_db)
                .is_some_and(|(db, level)| db > level - under)
        };
        // Where nobody plays, what hums is told all the same: it is why nobody is heard.
        let hums_alone = !self.plays() && self.hum.is_some();
        if self.is_sure && !self.plays() {
            faults.push(InputFault::Nothing);
        }
        if self.clipped > 0 {
            faults.push(InputFault::Clipping);
        }
        if self.is_sure && self.level_db.is_some_and(|level| level < SOFT_DB) {
            faults.push(InputFault::TooSoft);
        }
        let hum_db = self.hum.map(|hum| hum.level_db);
        let hums = near(hum_db, HUM_UNDER_DB);
        if self.is_sure && (hums_alone || hums) {
            faults.push(InputFault::Hum);
        } else if self.is_sure && near(self.noise_db, NOISE_UNDER_DB) {
            faults.push(InputFault::Noise);
        }
        faults
    }
}
