//! What a voice's generators and modulators come to.

use super::channel::Channel;
use super::generator::{COUNT, id, range};
use super::modulator::{self, Struck};
use super::units::attenuated;
use super::zones::Region;

/// How much of an attenuation generator counts. The standard's centibels are full; the hardware that fonts were made and
/// tuned on gave four tenths of them, and so does what plays them since (common practice, no source).
const ATTENUATION_SHARE: f32 = 0.4;
/// Where a shape ends by which volume, expression or velocity attenuate: what is turned down all the way is silent.
const SILENT_CENTIBELS: f32 = 960.0;
/// Full scale of 16 bits, and half of what is left: the level of the band at its 0 dB.
const FULL_SCALE: f32 = 0.5 / 32_768.0;

/// Everything that moves while a voice sounds, but for its envelopes and oscillators.
#[derive(Debug, Clone)]
pub(super) struct Params {
    pub(super) pitch_cents: f32,
    /// Left, right, reverb, chorus.
    pub(super) gains: [f32; 4],
    pub(super) cutoff_cents: f32,
    pub(super) q_centibels: f32,
    pub(super) mod_lfo_to_pitch: f32,
    pub(super) vib_lfo_to_pitch: f32,
    pub(super) mod_env_to_pitch: f32,
    pub(super) mod_lfo_to_cutoff: f32,
    pub(super) mod_env_to_cutoff: f32,
    pub(super) mod_lfo_to_volume: f32,
}

/// All generators with their modulators, within their ranges.
pub(super) fn sums(region: &Region, note: Struck, channel: &Channel) -> [f32; COUNT] {
    let mut sums = region.amounts.map(f32::from);
    sums[id::ATTENUATION] *= ATTENUATION_SHARE;
    modulator::add(&mut sums, &region.modulators, note, channel);
    for (generator, sum) in sums.iter_mut().enumerate() {
        let (low, high) = range(generator);
        *sum = sum.clamp(low, high);
    }
    sums
}

impl Params {
    pub(super) fn new(
        region: &Region,
        sums: &[f32; COUNT],
        note: Struck,
        channel: &Channel,
    ) -> Params {
        let attenuation = sums[id::ATTENUATION];
        let is_silent = attenuation >= SILENT_CENTIBELS;
        let amount = FULL_SCALE
            * if is_silent {
                0.0
            } else {
                attenuated(attenuation)
            };
        // Equal power: from one side to the other in a quarter turn.
        let turn = (sums[id::PAN] + 500.0) / 1000.0 * std::f32::consts::FRAC_PI_2;
        let gains = [
            turn.cos(),
            turn.sin(),
            sums[id::REVERB_SEND] / 1000.0,
            sums[id::CHORUS_SEND] / 1000.0,
        ];
        Params {
            pitch_cents: pitch_cents(region, sums, note, channel),
            gains: gains.map(|gain| gain * amount),
            cutoff_cents: sums[id::FILTER_CUTOFF],
            q_centibels: sums[id::FILTER_Q],
            mod_lfo_to_pitch: sums[id::MOD_LFO_TO_PITCH],
            vib_lfo_to_pitch: sums[id::VIB_LFO_TO_PITCH],
            mod_env_to_pitch: sums[id::MOD_ENV_TO_PITCH],
            mod_lfo_to_cutoff: sums[id::MOD_LFO_TO_CUTOFF],
            mod_env_to_cutoff: sums[id::MOD_ENV_TO_CUTOFF],
            mod_lfo_to_volume: sums[id::MOD_LFO_TO_VOLUME],
        }
    }

    pub(super) fn moves_pitch(&self) -> bool {
        self.mod_lfo_to_pitch != 0.0 || self.vib_lfo_to_pitch != 0.0 || self.mod_env_to_pitch != 0.0
    }

    pub(super) fn moves_cutoff(&self) -> bool {
        self.mod_lfo_to_cutoff != 0.0 || self.mod_env_to_cutoff != 0.0
    }
}

/// How far from the sample's own pitch.
fn pitch_cents(region: &Region, sums: &[f32; COUNT], note: Struck, channel: &Channel) -> f32 {
    let root = match region.amounts[id::ROOT_KEY] {
        key @ 0..=127 => f32::from(key),
        _ => f32::from(region.wave.root_key),
    };
    (f32::from(note.key) - root) * sums[id::SCALE_TUNING]
        + 100.0 * sums[id::COARSE_TUNE]
        + sums[id::FINE_TUNE]
        + f32::from(region.wave.correction_cents)
        + sums[id::PITCH]
        + channel.tuning_cents()
}
