//! What the devices of the foot are set to, whether or not their adapters are built in.

use super::midi::Control;

/// The resistor inside the chip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pull {
    /// To the supply: for a contact to ground.
    Up,
    /// To ground: for a contact to 3.3 V.
    Down,
    /// None: there is one outside.
    None,
}

/// A switch on one of the board's own pins.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GpioSettings {
    /// The switch, from 1.
    pub switch: u8,
    /// The line, by the name that the board gives it, or by the label of a chip and an offset there.
    pub line: String,
    pub pull: Pull,
    /// Whether the contact closes to ground, so that low is down.
    pub to_ground: bool,
    /// How long the kernel waits for the line to be quiet, in ms; 0: not at all.
    pub kernel_debounce_ms: u32,
    /// Whether it is down when no foot is on it.
    pub closed_at_rest: bool,
}

/// A serial line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SerialSettings {
    /// The device: name it by `/dev/serial/by-id/...`, which survives unplugging.
    pub path: String,
    /// Its rate: for MIDI 31,250, or what the board's overlay asks for (38,400 with `midi-uart0`).
    pub baud: u32,
    pub protocol: Protocol,
}

/// How a board on a serial line speaks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Protocol {
    /// Lines `1 down` and `1 up`.
    Board,
    /// Raw MIDI; the controls of the switches.
    Midi(Vec<(u8, Control)>),
}
