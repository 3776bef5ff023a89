//! The generators (SoundFont 2.04, section 8.1): their numbers, defaults and ranges.

/// Numbers of the generators that are played, by their names in section 8.1.2.
pub(super) mod id {
    pub(in crate::synth) const START_OFFSET: usize = 0;
    pub(in crate::synth) const END_OFFSET: usize = 1;
    pub(in crate::synth) const LOOP_START_OFFSET: usize = 2;
    pub(in crate::synth) const LOOP_END_OFFSET: usize = 3;
    pub(in crate::synth) const START_COARSE_OFFSET: usize = 4;
    pub(in crate::synth) const MOD_LFO_TO_PITCH: usize = 5;
    pub(in crate::synth) const VIB_LFO_TO_PITCH: usize = 6;
    pub(in crate::synth) const MOD_ENV_TO_PITCH: usize = 7;
    pub(in crate::synth) const FILTER_CUTOFF: usize = 8;
    pub(in crate::synth) const FILTER_Q: usize = 9;
    pub(in crate::synth) const MOD_LFO_TO_CUTOFF: usize = 10;
    pub(in crate::synth) const MOD_ENV_TO_CUTOFF: usize = 11;
    pub(in crate::synth) const END_COARSE_OFFSET: usize = 12;
    pub(in crate::synth) const MOD_LFO_TO_VOLUME: usize = 13;
    pub(in crate::synth) const CHORUS_SEND: usize = 15;
    pub(in crate::synth) const REVERB_SEND: usize = 16;
    pub(in crate::synth) const PAN: usize = 17;
    pub(in crate::synth) const MOD_LFO_DELAY: usize = 21;
    pub(in crate::synth) const MOD_LFO_FREQUENCY: usize = 22;
    pub(in crate::synth) const VIB_LFO_DELAY: usize = 23;
    pub(in crate::synth) const VIB_LFO_FREQUENCY: usize = 24;
    pub(in crate::synth) const MOD_ENV_DELAY: usize = 25;
    pub(in crate::synth) const MOD_ENV_ATTACK: usize = 26;
    pub(in crate::synth) const MOD_ENV_HOLD: usize = 27;
    pub(in crate::synth) const MOD_ENV_DECAY: usize = 28;
    pub(in crate::synth) const MOD_ENV_SUSTAIN: usize = 29;
    pub(in crate::synth) const MOD_ENV_RELEASE: usize = 30;
    pub(in crate::synth) const KEY_TO_MOD_ENV_HOLD: usize = 31;
    pub(in crate::synth) const KEY_TO_MOD_ENV_DECAY: usize = 32;
    pub(in crate::synth) const VOL_ENV_DELAY: usize = 33;
    pub(in crate::synth) const VOL_ENV_ATTACK: usize = 34;
    pub(in crate::synth) const VOL_ENV_HOLD: usize = 35;
    pub(in crate::synth) const VOL_ENV_DECAY: usize = 36;
    pub(in crate::synth) const VOL_ENV_SUSTAIN: usize = 37;
    pub(in crate::synth) const VOL_ENV_RELEASE: usize = 38;
    pub(in crate::synth) const KEY_TO_VOL_ENV_HOLD: usize = 39;
    pub(in crate::synth) const KEY_TO_VOL_ENV_DECAY: usize = 40;
    pub(in crate::synth) const INSTRUMENT: usize = 41;
    pub(in crate::synth) const KEY_RANGE: usize = 43;
    pub(in crate::synth) const VELOCITY_RANGE: usize = 44;
    pub(in crate::synth) const LOOP_START_COARSE_OFFSET: usize = 45;
    pub(in crate::synth) const KEY: usize = 46;
    pub(in crate::synth) const VELOCITY: usize = 47;
    pub(in crate::synth) const ATTENUATION: usize = 48;
    pub(in crate::synth) const LOOP_END_COARSE_OFFSET: usize = 50;
    pub(in crate::synth) const COARSE_TUNE: usize = 51;
    pub(in crate::synth) const FINE_TUNE: usize = 52;
    pub(in crate::synth) const SAMPLE: usize = 53;
    pub(in crate::synth) const SAMPLE_MODES: usize = 54;
    pub(in crate::synth) const SCALE_TUNING: usize = 56;
    pub(in crate::synth) const EXCLUSIVE_CLASS: usize = 57;
    pub(in crate::synth) const ROOT_KEY: usize = 58;
    /// Not in a file: where section 8.4.10 lets the pitch wheel end.
    pub(in crate::synth) const PITCH: usize = 59;
}

/// How many there are.
pub(super) const COUNT: usize = 60;

/// Amounts of all generators.
pub(super) type Amounts = [i16; COUNT];

/// What a generator is where nothing sets it (section 8.1.3).
pub(super) const DEFAULTS: Amounts = {
    let mut amounts = [0; COUNT];
    amounts[id::FILTER_CUTOFF] = 13_500;
    let mut time = id::MOD_LFO_DELAY;
    while time <= id::VOL_ENV_RELEASE {
        amounts[time] = match time {
            id::MOD_LFO_FREQUENCY | id::VIB_LFO_FREQUENCY => 0,
            id::MOD_ENV_SUSTAIN | id::VOL_ENV_SUSTAIN => 0,
            id::KEY_TO_MOD_ENV_HOLD | id::KEY_TO_MOD_ENV_DECAY => 0,
            _ => -12_000,
        };
        time += 1;
    }
    amounts[id::KEY] = -1;
    amounts[id::VELOCITY] = -1;
    amounts[id::SCALE_TUNING] = 100;
    amounts[id::ROOT_KEY] = -1;
    amounts
};

/// The least and the most that a generator may come to with everything added up (section 8.1.3).
pub(super) fn range(generator: usize) -> (f32, f32) {
    match generator {
        id::MOD_LFO_TO_PITCH..=id::MOD_ENV_TO_PITCH => (-12_000.0, 12_000.0),
        id::MOD_LFO_TO_CUTOFF | id::MOD_ENV_TO_CUTOFF => (-12_000.0, 12_000.0),
        id::FILTER_CUTOFF => (1_500.0, 13_500.0),
        id::FILTER_Q => (0.0, 960.0),
        id::MOD_LFO_TO_VOLUME => (-960.0, 960.0),
        id::CHORUS_SEND | id::REVERB_SEND | id::MOD_ENV_SUSTAIN => (0.0, 1_000.0),
        id::PAN => (-500.0, 500.0),
        id::MOD_LFO_FREQUENCY | id::VIB_LFO_FREQUENCY => (-16_000.0, 4_500.0),
        id::MOD_ENV_ATTACK | id::MOD_ENV_DECAY | id::MOD_ENV_RELEASE => (-12_000.0, 8_000.0),
        id::VOL_ENV_ATTACK | id::VOL_ENV_DECAY | id::VOL_ENV_RELEASE => (-12_000.0, 8_000.0),
        id::MOD_LFO_DELAY | id::VIB_LFO_DELAY | id::MOD_ENV_DELAY | id::MOD_ENV_HOLD => {
            (-12_000.0, 5_000.0)
        }
        id::VOL_ENV_DELAY | id::VOL_ENV_HOLD => (-12_000.0, 5_000.0),
        id::VOL_ENV_SUSTAIN | id::ATTENUATION => (0.0, 1_440.0),
        id::KEY_TO_MOD_ENV_HOLD | id::KEY_TO_MOD_ENV_DECAY => (-1_200.0, 1_200.0),
        id::KEY_TO_VOL_ENV_HOLD | id::KEY_TO_VOL_ENV_DECAY => (-1_200.0, 1_200.0),
        id::COARSE_TUNE => (-120.0, 120.0),
        id::SCALE_TUNING => (0.0, 1_200.0),
        _ => (-32_768.0, 32_767.0),
    }
}

/// Whether a preset's zone may add to it (section 8.5: what names samples, keys and modes is the instrument's alone).
pub(super) fn adds_in_preset(generator: usize) -> bool {
    !matches!(
        generator,
        id::START_OFFSET..=id::START_COARSE_OFFSET
            | id::END_COARSE_OFFSET
            | id::INSTRUMENT..=id::VELOCITY
            | id::LOOP_END_COARSE_OFFSET
            | id::SAMPLE
            | id::SAMPLE_MODES
            | id::EXCLUSIVE_CLASS
            | id::ROOT_KEY
    )
}
