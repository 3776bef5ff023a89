//! One voice: a region that sounds.

use super::channel::Channel;
use super::envelope::{ModulationEnvelope, VolumeEnvelope};
use super::filter::Filter;
use super::generator::id;
use super::lfo::Lfo;
use super::modulator::Struck;
use super::output::BLOCK_FRAMES;
use super::params::{Params, sums};
use super::units::attenuated;
use super::window::Track;
use super::zones::Region;

/// Below this gain a sound that falls has ended: half a step of 16 bits, for samples of 16 bits.
const INAUDIBLE: f32 = 1.0 / 65_536.0 / 32_768.0;
/// A note is heard for this long, however soon it is let go: a drum machine lets go at once.
const MIN_NOTE_S: f32 = 0.01;
/// The farthest a sample is stretched: about six octaves.
const MAX_RATIO: f32 = 60.0;
/// The least move of the pitch that is heeded.
const ONE_SAMPLE: f32 = 4_294_967_296.0;

/// Who a voice belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Owner {
    pub(super) channel: usize,
    /// The key that was pressed, whatever sounds.
    pub(super) key: u8,
    /// The places of its preset and region.
    pub(super) preset: usize,
    pub(super) region: usize,
    /// Counts the strikes, so that what one began is known.
    pub(super) strike: u32,
}

/// A region that sounds.
#[derive(Debug, Clone)]
pub(super) struct Voice {
    pub(super) owner: Owner,
    pub(super) track: Track,
    pub(super) filter: Filter,
    /// Left, right, reverb, chorus: at the last block's end and at the next one's.
    pub(super) gains: [f32; 4],
    pub(super) target: [f32; 4],
    note: Struck,
    /// What its key's level comes to.
    gain: f32,
    params: Params,
    /// The channel's changes that are in `params`.
    heard: u32,
    volume: VolumeEnvelope,
    modulation: ModulationEnvelope,
    mod_lfo: Lfo,
    vib_lfo: Lfo,
    blocks: u32,
    is_down: bool,
    /// Let go by the hand, held by the pedal.
    is_held: bool,
    released: bool,
    /// Fades out within the next block, and is over.
    gives_way: bool,
    over: bool,
    loops_until_release: bool,
    exclusive: i16,
}

impl Voice {
    pub(super) fn new(
        owner: Owner,
        region: &Region,
        note: Struck,
        channel: &Channel,
        (gain, rate): (f32, f32),
    ) -> Voice {
        let amounts = &region.amounts;
        let or = |amount: i16, other: u8| u8::try_from(amount).map_or(other, |own| own.min(127));
        let note = Struck {
            key: or(amounts[id::KEY], note.key),
            velocity: or(amounts[id::VELOCITY], note.velocity),
        };
        let sums = sums(region, note, channel);
        let params = Params::new(region, &sums, note, channel);
        let mode = amounts[id::SAMPLE_MODES] & 3;
        let filter = Filter::new(params.cutoff_cents, params.q_centibels, rate);
        let mut voice = Voice {
            owner,
            track: Track {
                at: u64::from(region.wave.start) << 32,
                step: 0,
                loops: matches!(mode, 1 | 3) && region.wave.has_loop(),
                wave: region.wave,
            },
            filter,
            gains: [0.0; 4],
            target: [0.0; 4],
            note,
            gain,
            params,
            heard: channel.changes,
            volume: VolumeEnvelope::new(&sums, note.key, rate),
            modulation: ModulationEnvelope::new(&sums, note.key, rate),
            mod_lfo: Lfo::new(sums[id::MOD_LFO_DELAY], sums[id::MOD_LFO_FREQUENCY], rate),
            vib_lfo: Lfo::new(sums[id::VIB_LFO_DELAY], sums[id::VIB_LFO_FREQUENCY], rate),
            blocks: 0,
            is_down: true,
            is_held: false,
            released: false,
            gives_way: false,
            over: false,
            loops_until_release: mode == 3,
            exclusive: amounts[id::EXCLUSIVE_CLASS],
        };
        voice.set_pitch(voice.params.pitch_cents, rate);
        voice
    }

    /// The key goes up; the pedal may hold the sound.
    pub(super) fn let_go(&mut self, pedal: bool) {
        self.is_held = pedal;
        self.is_down = false;
    }

    /// The pedal goes up.
    pub(super) fn pedal_up(&mut self) {
        self.is_held = false;
    }

    /// Whether the key still is down.
    pub(super) fn is_down(&self) -> bool {
        self.is_down
    }

    /// Fades out within a block.
    pub(super) fn give_way(&mut self) {
        self.gives_way = true;
    }

    pub(super) fn is_giving_way(&self) -> bool {
        self.gives_way
    }

    /// Ends soon: another of its class is struck.
    pub(super) fn choke(&mut self, rate: f32) {
        self.is_down = false;
        self.is_held = false;
        self.released = true;
        self.volume.choke(rate);
    }

    /// Whether a strike of this class ends it.
    pub(super) fn excludes(&self, owner: &Owner, class: i16) -> bool {
        class != 0
            && class == self.exclusive
            && (self.owner.channel, self.owner.preset) == (owner.channel, owner.preset)
            && self.owner.strike != owner.strike
    }

    pub(super) fn class(&self) -> i16 {
        self.exclusive
    }

    /// How loud it is; what was just struck counts as full, what was let go as half.
    pub(super) fn loudness(&self) -> f32 {
        let level = if self.volume.is_falling() {
            self.volume.level()
        } else {
            1.0
        };
        let [left, right, ..] = self.params.gains;
        let level = level * left.max(right) * self.gain;
        if self.released || !self.is_down {
            level * 0.5
        } else {
            level
        }
    }

    /// Whether nothing more comes of it.
    pub(super) fn is_over(&self) -> bool {
        self.over
    }

    /// Moves everything to where it is to be at the next block's end.
    pub(super) fn prepare(&mut self, region: &Region, channel: &Channel, rate: f32) {
        let changed = self.heard != channel.changes;
        if changed {
            self.heard = channel.changes;
            self.params = Params::new(
                region,
                &sums(region, self.note, channel),
                self.note,
                channel,
            );
        }
        let lets_go = !self.is_down && !self.is_held && !self.released;
        if lets_go && self.blocks as f32 * BLOCK_FRAMES as f32 >= MIN_NOTE_S * rate {
            self.release();
        }
        self.blocks = self.blocks.saturating_add(1);
        let params = &self.params;
        let uses_mod_lfo = params.mod_lfo_to_pitch != 0.0
            || params.mod_lfo_to_cutoff != 0.0
            || params.mod_lfo_to_volume != 0.0;
        let mod_lfo = if uses_mod_lfo {
            self.mod_lfo.advance()
        } else {
            0.0
        };
        let vib_lfo = if params.vib_lfo_to_pitch != 0.0 {
            self.vib_lfo.advance()
        } else {
            0.0
        };
        let uses_modulation = params.mod_env_to_pitch != 0.0 || params.mod_env_to_cutoff != 0.0;
        let modulation = if uses_modulation {
            self.modulation.advance()
        } else {
            0.0
        };
        if changed || params.moves_cutoff() {
            let moved = params.mod_lfo_to_cutoff * mod_lfo + params.mod_env_to_cutoff * modulation;
            let cutoff = (params.cutoff_cents + moved).clamp(1_500.0, 13_500.0);
            self.filter.aim(cutoff, params.q_centibels, rate);
        }
        let mut level = self.volume.advance();
        if params.mod_lfo_to_volume != 0.0 {
            level *= attenuated(-params.mod_lfo_to_volume * mod_lfo);
        }
        let level = level * self.gain;
        self.target = params.gains.map(|gain| gain * level);
        // A sample that comes late comes whole.
        let (waited, waits) = (self.track.step == 0, self.volume.is_waiting());
        if waits {
            self.track.step = 0;
        } else if changed || waited || params.moves_pitch() {
            let cents = params.pitch_cents
                + params.mod_lfo_to_pitch * mod_lfo
                + params.vib_lfo_to_pitch * vib_lfo
                + params.mod_env_to_pitch * modulation;
            self.set_pitch(cents, rate);
        }
        self.end_soon();
    }

    /// What is over with the next block.
    fn end_soon(&mut self) {
        let [left, right, ..] = self.target;
        let is_inaudible =
            self.volume.is_falling() && left.max(right) < INAUDIBLE && self.fades_for_good();
        if self.gives_way || self.volume.has_ended() || is_inaudible || self.track.has_ended() {
            self.target = [0.0; 4];
            self.over = true;
        }
    }

    /// A sound that is quiet because of its channel may come back.
    fn fades_for_good(&self) -> bool {
        let [left, right, ..] = self.params.gains;
        left.max(right) > INAUDIBLE
    }

    fn release(&mut self) {
        self.released = true;
        self.volume.let_go();
        self.modulation.let_go();
        if self.loops_until_release {
            self.track.loops = false;
        }
    }

    fn set_pitch(&mut self, cents: f32, rate: f32) {
        let ratio =
            f64::from(cents / 1200.0).exp2() * f64::from(self.track.wave.rate_hz) / f64::from(rate);
        self.track.step = (ratio.min(f64::from(MAX_RATIO)) * f64::from(ONE_SAMPLE)) as u64;
    }
}
