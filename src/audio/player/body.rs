//! What the player is made of.

use crate::audio::bars::Bars;
use crate::audio::clips::Clips;
use crate::audio::command::{Cue, Level};
use crate::audio::cue_level::CueLevel;
use crate::audio::desk::{Buses, Desk};
use crate::audio::following::Following;
use crate::audio::mixer::{Limiter, Ramp, db_to_gain};
use crate::audio::prepared::Prepared;
use crate::audio::queue::{PlayerEnd, Queues, queues};
use crate::audio::synth::{Synth, SynthError, SynthMaker};
use crate::audio::take::Take;
use crate::audio::voices::Voices;
use crate::time::{Frame, Tick};
use arrayvec::ArrayVec;

/// Clock rates that can be played at, in frames a second.
const RATES: std::ops::RangeInclusive<u32> = 8_000..=768_000;
/// Starts and stops that can wait for their frame.
const MOMENTS: usize = 8;
/// Hushes, levels and phrases that can wait for their frame.
const ORDERS: usize = 16;
/// A new player opens from silence in this time.
const OPEN_MS: u32 = 50;

/// What is done at the beginning of the sub-block that its frame falls into.
#[derive(Debug)]
pub(super) enum PlayOrder {
    Hush(std::ops::Range<u32>),
    Level(Level, f32),
    Say(Box<Cue>),
}

/// A take begins, with this tick, or ends.
#[derive(Debug, Clone, Copy)]
pub(super) enum PlayMoment {
    Start(Tick),
    Stop,
}

/// The body of the audio callback.
pub struct Player {
    pub(super) queues: Queues,
    pub(super) desk: Desk,
    pub(super) voices: Voices,
    pub(super) clips: Clips,
    pub(super) take: Option<Take>,
    /// Bars of the take to come.
    pub(super) bars_ahead: Bars,
    pub(super) synth_ahead: Option<Box<Synth>>,
    /// The clock that is followed, and the bars that its Start begins with.
    pub(super) following: Following,
    pub(super) home: Option<Tick>,
    pub(super) home_bars: Bars,
    pub(super) leads: bool,
    /// Starts and stops to come, in order.
    pub(super) moments: ArrayVec<(Frame, PlayMoment), MOMENTS>,
    /// Other things to come, in order.
    pub(super) orders: ArrayVec<(Frame, PlayOrder), ORDERS>,
    pub(super) master: Ramp,
    pub(super) cue: Ramp,
    /// Keeps the cues so much above the band.
    pub(super) cue_level: CueLevel,
    pub(super) opening: Ramp,
    /// The band grows over the count-in.
    pub(super) count_in: Ramp,
    pub(super) band_limiter: Limiter,
    pub(super) cue_limiter: Limiter,
    pub(super) cue_to_outputs: bool,
    /// Whether anybody hears what is made.
    pub(super) is_heard: bool,
    pub(super) rate: u32,
    /// The sub-block made last, and how much of it was handed out.
    pub(super) buses: Buses,
    pub(super) made: usize,
    pub(super) read: usize,
    /// The first frame of the sub-block to come; none before the first call.
    pub(super) next: Option<Frame>,
    /// How much of the sub-block to come lies in a gap.
    pub(super) skip: usize,
    pub(super) panicking: bool,
    pub(super) poisoned: bool,
}

impl Player {
    /// A player and its control side.
    ///
    /// # Errors
    /// When nothing can be played at the rate.
    pub fn new(prepared: Prepared) -> Result<(Player, PlayerEnd), SynthError> {
        let Prepared {
            rate,
            font,
            band,
            levels,
            cue_to_outputs,
        } = prepared;
        if !(RATES.contains(&rate)) {
            return Err(SynthError::Rate(rate));
        }
        let gain_of = |level: Level| {
            let named = levels.iter().rev().find(|(named, _)| *named == level);
            db_to_gain(named.map_or(0.0, |(_, db)| *db))
        };
        let a4_hz = band.a4_hz;
        let maker = SynthMaker::new(font, band, rate)?;
        let (queues, end) = queues(maker);
        let player = Player {
            queues,
            desk: Desk::new(rate, a4_hz, |part| gain_of(Level::Part(part))),
            voices: Voices::default(),
            clips: Clips::new(rate),
            take: None,
            bars_ahead: Bars::default(),
            synth_ahead: None,
            following: Following::new(rate),
            home: None,
            home_bars: Bars::default(),
            leads: false,
            moments: ArrayVec::new(),
            orders: ArrayVec::new(),
            master: Ramp::new(gain_of(Level::Master)),
            cue: Ramp::new(gain_of(Level::Cue)),
            cue_level: CueLevel::new(rate),
            opening: opening(rate),
            count_in: Ramp::new(1.0),
            band_limiter: Limiter::new(rate),
            cue_limiter: Limiter::new(rate),
            cue_to_outputs,
            is_heard: true,
            rate,
            buses: Buses::SILENT,
            made: 0,
            read: 0,
            next: None,
            skip: 0,
            panicking: false,
            poisoned: false,
        };
        Ok((player, end))
    }
}

/// From silence.
pub(super) fn opening(rate: u32) -> Ramp {
    let mut ramp = Ramp::new(0.0);
    ramp.to(1.0, rate * OPEN_MS / 1000);
    ramp
}
