//! The drums by their keys (General MIDI Level 1 percussion map; Level 2 for what it has not).

/// Bass Drum 1.
pub const KICK: u8 = 36;
/// Side Stick.
pub const SIDE_STICK: u8 = 37;
/// Snare Roll (Level 2): a brush that sweeps, and a snare where a SoundFont has no brushes.
pub const BRUSH_SWEEP: u8 = 25;
/// Electric Snare: a brush that taps, and a snare where a SoundFont has no brushes.
pub const BRUSH_TAP: u8 = 40;
/// Acoustic Snare.
pub const SNARE: u8 = 38;
/// Closed Hi-Hat.
pub const CLOSED_HI_HAT: u8 = 42;
/// Pedal Hi-Hat: the foot.
pub const PEDAL_HI_HAT: u8 = 44;
/// Low Tom.
pub const LOW_TOM: u8 = 45;
/// Hi-Mid Tom.
pub const HIGH_TOM: u8 = 48;
/// Crash Cymbal 1.
pub const CRASH: u8 = 49;
/// Ride Cymbal 1.
pub const RIDE: u8 = 51;
/// Hi Wood Block: the first count of a bar.
pub const HIGH_CLICK: u8 = 76;
/// Low Wood Block: the other counts.
pub const LOW_CLICK: u8 = 77;
